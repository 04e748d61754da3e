"""The cross-section of a strand in two dimensions: a quarter, or a half where loose and fixed side differ.

`solve_section` marches that of a case; `march_section` takes numbers: a steel table, what acts on wide and narrow face,
and nodes from `section_nodes`.
"""

from solidify.section.faces import section_faces
from solidify.section.grid import section_nodes, usual_section_nodes
from solidify.section.march import SectionMarch, Side, Strip, march_section
from solidify.section.result import SectionResult
from solidify.section.solve import solve_section
from solidify.section.steel import section_table

__all__ = [
    "SectionMarch",
    "SectionResult",
    "Side",
    "Strip",
    "march_section",
    "section_faces",
    "section_nodes",
    "section_table",
    "solve_section",
    "usual_section_nodes",
]
