"""Layout of a study file: its columns, and what their numbers stand for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from solidify.assessment.breakout import WORDS
from solidify.assessment.judge import VERDICTS
from solidify.case import Case
from solidify.case.limit_rules import shipped_limits
from solidify.strand.result import SUMMARY

__all__ = [
    "BREAKOUT",
    "FILE_TYPE",
    "FORMAT",
    "SAMPLED",
    "STATUS",
    "VERDICT",
    "Column",
    "columns",
    "finding_names",
    "input_column",
    "unit_in_print",
]

FILE_TYPE = "solidify study"
"""Root attribute that tells a study from a result."""

FORMAT = 1
"""Number of the layout."""

SAMPLED = {
    "grid": "every combination",
    "latin": "Latin hypercube",
    "sobol": "Sobol sequence",
    "sobol indices": "Sobol sequence in pairs",
    "table": "rows of a table",
}
"""How the runs were chosen, in words."""

STATUS = {"done": 0, "failed": 1}
"""Of a run."""

VERDICT = {"no such limit": -1, **{word: i for i, word in enumerate(VERDICTS)}}
"""Number of each verdict; -1 where the run failed or its case has no such limit."""

BREAKOUT = {"not known": -1, **{word: i for i, word in enumerate(WORDS)}}
"""Number of each breakout risk."""

_UDUNITS = {
    "°C": "degC", "%": "percent", "°": "degree", "m/min": "m min-1", "m/s": "m s-1", "K/s": "K s-1", "K/m": "K m-1",
    "L/min": "L min-1", "L/kg": "L kg-1", "L/(m² s)": "L m-2 s-1", "L/(m² min)": "L m-2 min-1", "kJ/kg": "kJ kg-1",
    "W/(m K)": "W m-1 K-1", "W/(m² K)": "W m-2 K-1", "kW/m²": "kW m-2", "MW/m²": "MW m-2", "kg/m³": "kg m-3",
    "J/(kg K)": "J kg-1 K-1", "mm²": "mm2", "%/m": "percent m-1", "cycles/min": "min-1",
}  # fmt: skip
_AS_THEY_ARE = {"1", "m", "mm", "s", "ms", "K", "bar"}


@dataclass(frozen=True)
class Column:
    """One dataset of a study file, with the runs along its first axis.

    Parameters
    ----------
    dims : tuple of str
        Names of the other axes.
    units : str
        In the spelling of UDUNITS; empty for words and where `note` stands.
    long_name : str
        What it is.
    kind : str
        A numpy type code, or ``"text"``.
    flags : mapping of str to int, optional
        Meaning of its numbers.
    note : str
        Stands in place of units.
    """

    dims: tuple[str, ...]
    units: str
    long_name: str
    kind: str = "f8"
    flags: Mapping[str, int] | None = None
    note: str = ""


def finding_names() -> tuple[str, ...]:
    """Return the limits along the axis ``finding``.

    Returns
    -------
    tuple of str
    """
    return tuple(shipped_limits())


def columns(keep: Sequence[str]) -> dict[str, Column]:
    """Return what is computed for each run, name by name.

    Parameters
    ----------
    keep : sequence of str
        Of ``"summary"``, ``"findings"``, ``"profiles"``.

    Returns
    -------
    dict of str to Column
    """
    found = {
        "status": Column((), "", "what became of the run", "i1", STATUS),
        "reason": Column((), "", "why the run failed", "text"),
        "warning": Column((), "", "warnings of the run that the base case does not have", "text"),
        "outside_range": Column((), "", "spray relations that the run uses outside their range", "text"),
    }
    if "summary" in keep:
        for name, (units, meaning) in SUMMARY.items():
            dims = ("solid_fraction",) if name == "shell_at_mould_exit" else ()
            half_power = "/" in units
            found[name] = Column(dims, "" if half_power else units, meaning, note=units if half_power else "")
        found["balance_error"] = Column((), "1", "worst of the three errors of the heat account")
    if "findings" in keep:
        own, by_row = ("finding",), "see unit, finding by finding"
        risk = "breakout risk, from a computed mid-face slice"
        found |= {
            "breakout_risk": Column((), "", risk, "i1", BREAKOUT),
            "verdict": Column(own, "", "verdict, without error bands", "i1", VERDICT),
            "value": Column(own, "", "value found", note=by_row),
            "margin": Column(own, "", "room to the limit; negative is beyond it", note=by_row),
            "limit": Column(
                (*own, "bound"), "", "limit: the least and the largest value that keep it", note=by_row
            ),
        }
    if "profiles" in keep:
        along = ("side", "distance")
        found |= {
            "surface_temperature": Column(along, "degC", "surface temperature, middle of the face", "f4"),
            "heat_flux": Column(along, "W m-2", "heat flux out of the surface", "f4"),
            "shell_thickness": Column(along, "m", "shell thickness at the headline solid fraction", "f4"),
            "centre_temperature": Column(("distance",), "degC", "centre temperature", "f4"),
            "centre_solid_fraction": Column(("distance",), "1", "solid fraction at the centre", "f4"),
        }
    return found


def input_column(case: Case, name: str) -> Column:
    """Return the column of one input: numbers as numbers, anything else as it stands in a case file.

    Parameters
    ----------
    case : Case
        The base case.
    name : str
        Key path.

    Returns
    -------
    Column
    """
    about = case.about(name)
    meaning = about.get("description", name)
    if about.get("type") not in ("number", "integer"):
        return Column((), "", meaning, "text")
    unit = about.get("unit", "1")
    units = _UDUNITS.get(unit, unit if unit in _AS_THEY_ARE else "")
    return Column((), units, meaning, note="" if units else unit)


def unit_in_print(units: str) -> str:
    """Return a unit of an input as it prints, ``"m min-1"`` as ``"m/min"``.

    Parameters
    ----------
    units : str
        In the spelling of the file.

    Returns
    -------
    str
    """
    return {spelt: unit for unit, spelt in _UDUNITS.items()}.get(units, units)
