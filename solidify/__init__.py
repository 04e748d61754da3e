"""Solidification of steel in continuous casting: a slice of the strand, marched from meniscus to cut-off.

>>> import solidify
>>> result = solidify.solve(solidify.read_case("bloom.toml"))  # doctest: +SKIP
>>> result.summary["metallurgical_length"]  # doctest: +SKIP

Each name below is loaded when it is first used, so that importing the package costs nothing.
"""

from __future__ import annotations

import importlib
import warnings
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from solidify.assessment.error_bands import error_bands
    from solidify.assessment.judge import Judgement, judge
    from solidify.case import Case, demo_case, parse_case, read_case
    from solidify.cast.cast_file import read_cast
    from solidify.cast.result import CastResult
    from solidify.cast.run import run_cast
    from solidify.errors import FileFormatError, InputError, MarchError, SolidifyError
    from solidify.plan.cut_plan import cut_plan
    from solidify.plan.heat_plan import HeatPlan, heat_plan
    from solidify.plan.plan_file import read_plan
    from solidify.plots.answers import draw_answers
    from solidify.report.strand_text import summary_text
    from solidify.section.result import SectionResult
    from solidify.section.solve import solve_section
    from solidify.steel import Steel, steel_from_composition, steel_from_file, steel_from_numbers
    from solidify.storage.result_file import load, load_judgement, save
    from solidify.storage.section_file import load_section, save_section
    from solidify.storage.study_file import load_study
    from solidify.strand.cooling import History
    from solidify.strand.result import Result
    from solidify.strand.solve import solve, solve_many
    from solidify.study.answers.operating_window import operating_window
    from solidify.study.answers.quantities import quantity
    from solidify.study.answers.sensitivity import effects, sobol_shares
    from solidify.study.answers.violations import violations
    from solidify.study.cluster import cluster
    from solidify.study.definition import make_study, read_study
    from solidify.study.run import run_study
    from solidify.tuning.target_file import parse_target, read_target
    from solidify.tuning.tune import tune

__all__ = [
    "Case",
    "CastResult",
    "FileFormatError",
    "HeatPlan",
    "History",
    "InputError",
    "Judgement",
    "MarchError",
    "Result",
    "SectionResult",
    "SolidifyError",
    "Steel",
    "cluster",
    "cut_plan",
    "demo_case",
    "draw_answers",
    "effects",
    "error_bands",
    "heat_plan",
    "judge",
    "load",
    "load_judgement",
    "load_section",
    "load_study",
    "make_study",
    "operating_window",
    "parse_case",
    "parse_target",
    "quantity",
    "read_case",
    "read_cast",
    "read_plan",
    "read_study",
    "read_target",
    "run_cast",
    "run_study",
    "save",
    "save_section",
    "sobol_shares",
    "solve",
    "solve_many",
    "solve_section",
    "steel_from_composition",
    "steel_from_file",
    "steel_from_numbers",
    "summary_text",
    "tune",
    "violations",
]

__version__ = "0.1.0"

_MODULES = {
    "assessment.error_bands": ("error_bands",),
    "assessment.judge": (
        "Judgement",
        "judge",
    ),
    "case": (
        "Case",
        "demo_case",
        "parse_case",
        "read_case",
    ),
    "cast.cast_file": ("read_cast",),
    "cast.result": ("CastResult",),
    "cast.run": ("run_cast",),
    "errors": (
        "FileFormatError",
        "InputError",
        "MarchError",
        "SolidifyError",
    ),
    "plan.cut_plan": ("cut_plan",),
    "plan.heat_plan": (
        "HeatPlan",
        "heat_plan",
    ),
    "plan.plan_file": ("read_plan",),
    "plots.answers": ("draw_answers",),
    "report.strand_text": ("summary_text",),
    "section.result": ("SectionResult",),
    "section.solve": ("solve_section",),
    "steel": (
        "Steel",
        "steel_from_composition",
        "steel_from_file",
        "steel_from_numbers",
    ),
    "storage.result_file": (
        "load",
        "load_judgement",
        "save",
    ),
    "storage.section_file": (
        "load_section",
        "save_section",
    ),
    "storage.study_file": ("load_study",),
    "strand.cooling": ("History",),
    "strand.result": ("Result",),
    "strand.solve": (
        "solve",
        "solve_many",
    ),
    "study.answers.operating_window": ("operating_window",),
    "study.answers.quantities": ("quantity",),
    "study.answers.sensitivity": (
        "effects",
        "sobol_shares",
    ),
    "study.answers.violations": ("violations",),
    "study.cluster": ("cluster",),
    "study.definition": (
        "make_study",
        "read_study",
    ),
    "study.run": ("run_study",),
    "tuning.target_file": (
        "parse_target",
        "read_target",
    ),
    "tuning.tune": ("tune",),
}
_HOME = {name: module for module, names in _MODULES.items() for name in names}
_RENAMED = {"margins": "error_bands"}
"""Old names, kept for this release: what replaces each."""


def __getattr__(name: str) -> Any:
    if name in _RENAMED:
        new = _RENAMED[name]
        warnings.warn(f"solidify.{name} is now solidify.{new}", DeprecationWarning, stacklevel=2)
        return __getattr__(new)
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(importlib.import_module(f"{__name__}.{_HOME[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
