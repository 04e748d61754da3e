"""Write the reference page and JSON Schema of the case file: ``python -m solidify.case`` in a checkout."""

from __future__ import annotations

from pathlib import Path

from solidify.case.reference import reference_text, schema_text
from solidify.files import write_whole

FILES = {"docs/case-file.md": reference_text, "solidify/data/case.schema.json": schema_text}
"""Where each goes, below the folder of the project."""

if __name__ == "__main__":
    project = Path(__file__).parents[2]
    for name, text in FILES.items():
        write_whole(project / name, text())
        print(name)
