"""Solidification of steel in continuous casting: a slice of the strand, marched from meniscus to cut-off.

>>> import solidify
>>> result = solidify.solve(solidify.read_case("bloom.toml"))  # doctest: +SKIP
>>> result.summary["metallurgical_length"]  # doctest: +SKIP

Each name below is loaded when it is first used, so that importing the package costs nothing.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from solidify.assessment.error_bands import error_bands
    from solidify.assessment.judge import Judgement, judge
    from solidify.case import Case, parse_case, read_case
    from solidify.errors import FileFormatError, InputError, MarchError, SolidifyError
    from solidify.report.strand_text import summary_text
    from solidify.section.result import SectionResult
    from solidify.section.solve import solve_section
    from solidify.section.store import load_section, save_section
    from solidify.steel import Steel, steel_from_composition, steel_from_file, steel_from_numbers
    from solidify.storage.result_file import load, load_judgement, save
    from solidify.storage.study_file import load_study
    from solidify.strand.result import Result
    from solidify.strand.solve import solve, solve_many
    from solidify.study.definition import make_study, read_study
    from solidify.study.run import run_study

__all__ = [
    "Case",
    "FileFormatError",
    "InputError",
    "Judgement",
    "MarchError",
    "Result",
    "SectionResult",
    "SolidifyError",
    "Steel",
    "judge",
    "load",
    "load_judgement",
    "load_section",
    "load_study",
    "make_study",
    "error_bands",
    "parse_case",
    "read_case",
    "read_study",
    "run_study",
    "save",
    "save_section",
    "solve",
    "solve_many",
    "solve_section",
    "steel_from_composition",
    "steel_from_file",
    "steel_from_numbers",
    "summary_text",
]

__version__ = "0.1.0"

_MODULES = {
    "case": ("Case", "parse_case", "read_case"),
    "errors": ("FileFormatError", "InputError", "MarchError", "SolidifyError"),
    "assessment.judge": ("Judgement", "judge"),
    "strand.solve": ("solve", "solve_many"),
    "report.strand_text": ("summary_text",),
    "strand.result": ("Result",),
    "section.result": ("SectionResult",),
    "section.solve": ("solve_section",),
    "section.store": ("load_section", "save_section"),
    "steel": ("Steel", "steel_from_composition", "steel_from_file", "steel_from_numbers"),
    "storage.result_file": ("load", "load_judgement", "save"),
    "assessment.error_bands": ("error_bands",),
    "study.definition": ("make_study", "read_study"),
    "study.run": ("run_study",),
    "storage.study_file": ("load_study",),
}
_HOME = {name: module for module, names in _MODULES.items() for name in names}


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(importlib.import_module(f"{__name__}.{_HOME[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
