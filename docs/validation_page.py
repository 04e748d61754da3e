"""Write ``validation.md``: the model beside what was measured.

Run ``python docs/validation_page.py`` after a change of the model or of ``tests/validation/data``; a test compares
the page with what this would write.
"""

import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "tests"))

from validation.page import page  # noqa: E402  (the tests are no part of the package)

if __name__ == "__main__":
    (ROOT / "docs" / "validation.md").write_text(page(), encoding="utf-8")
