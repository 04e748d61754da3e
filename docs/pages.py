"""Write every generated page of the manual again: ``python docs/pages.py`` in a checkout, some ten seconds.

Pages that take minutes have programs of their own: docs/accuracy.md (benchmarks/accuracy.py) and
docs/section-treatment.md (benchmarks/section.py).
"""

import subprocess
import sys
from pathlib import Path

DOCS = Path(__file__).parent
WRITERS = (
    ("-m", "solidify.case"),  # case-file.md and the JSON Schema
    ("-m", "solidify.storage.schema"),  # result-file.md
    ("-m", "solidify.report.limits"),  # limits.md
    (str(DOCS / "steel_checks.py"),),  # steel-checks.md
    (str(DOCS / "mould_law.py"),),  # mould.md and its picture
    (str(DOCS / "validation_page.py"),),  # validation.md
)

if __name__ == "__main__":
    for writer in WRITERS:
        subprocess.run([sys.executable, *writer], check=True, cwd=DOCS.parent)
