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
    from solidify.case import Case, parse_case, read_case
    from solidify.errors import FileFormatError, InputError, MarchError, SolidifyError
    from solidify.findings import Judgement, judge
    from solidify.marching import solve, solve_many
    from solidify.report import summary_text
    from solidify.result import Result
    from solidify.steel import Steel, steel_from_composition, steel_from_file, steel_from_numbers
    from solidify.store import load, load_judgement, save
    from solidify.studies.margins import margins
    from solidify.studies.study_file import make_study, read_study
    from solidify.studies.sweep import run_study
    from solidify.study_store import load_study

__all__ = [
    "Case",
    "FileFormatError",
    "InputError",
    "Judgement",
    "MarchError",
    "Result",
    "SolidifyError",
    "Steel",
    "judge",
    "load",
    "load_judgement",
    "load_study",
    "make_study",
    "margins",
    "parse_case",
    "read_case",
    "read_study",
    "run_study",
    "save",
    "solve",
    "solve_many",
    "steel_from_composition",
    "steel_from_file",
    "steel_from_numbers",
    "summary_text",
]

__version__ = "0.1.0"

_MODULES = {
    "case": ("Case", "parse_case", "read_case"),
    "errors": ("FileFormatError", "InputError", "MarchError", "SolidifyError"),
    "findings": ("Judgement", "judge"),
    "marching": ("solve", "solve_many"),
    "report": ("summary_text",),
    "result": ("Result",),
    "steel": ("Steel", "steel_from_composition", "steel_from_file", "steel_from_numbers"),
    "store": ("load", "load_judgement", "save"),
    "studies.margins": ("margins",),
    "studies.study_file": ("make_study", "read_study"),
    "studies.sweep": ("run_study",),
    "study_store": ("load_study",),
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
