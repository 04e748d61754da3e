"""Casting speeds as a table to hand on: CSV, words for a terminal, and one page of HTML for the shift."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Sequence
from datetime import UTC, datetime
from importlib.metadata import version
from typing import TYPE_CHECKING, Any

from solidify.analysis.compare import value_text
from solidify.assessment.shifted import input_errors
from solidify.case import Case, Zone
from solidify.case.width import left_behind
from solidify.errors import InputError, Notice
from solidify.report.document import page_text
from solidify.report.spreadsheet import table_text
from solidify.report.study_text import outside_text
from solidify.report.text import columns, page, wrapped

if TYPE_CHECKING:
    from solidify.study.speed_range import Ceiling, Interval

__all__ = ["ceiling_csv", "ceiling_page", "ceiling_text"]

_SURE = ("lowest_with_errors_m_per_min", "reached_below", "highest_with_errors_m_per_min", "reached_above")
_MEANING = (
    "with the plant's input errors: no hard limit is reached by its error band either, one standard deviation of the "
    "inputs, within which about two strands in three lie"
)


def _names(ceilings: Sequence[Ceiling]) -> list[str]:
    return list(dict.fromkeys(name for c in ceilings for name in c.inputs))


def _low(speed: float) -> float:
    """Round a lowest speed to its safe side."""
    return math.ceil(speed * 1e3 - 1e-6) / 1e3


def _high(speed: float) -> float:
    """Round a highest speed to its safe side."""
    return math.floor(speed * 1e3 + 1e-6) / 1e3


def _sure_cells(interval: Interval | None) -> list[Any]:
    sure = interval.sure if interval is not None else None
    if sure is None:
        return ["none", "", "none", ""]
    return [_low(sure.lowest), "; ".join(sure.below), _high(sure.highest), "; ".join(sure.above)]


def ceiling_csv(ceilings: Sequence[Ceiling]) -> str:
    """Write ceilings as a table.

    Parameters
    ----------
    ceilings : sequence of Ceiling
        From `solidify.study.speed_range.speed_ceilings` or `with_bands`.

    Returns
    -------
    str
        CSV: a line an interval, and one for a row without any. A border without a limit is where the scan ended.
        Borders are rounded to the safe side, to 0.001 m/min.
    """
    inputs = _names(ceilings)
    banded = any(c.banded for c in ceilings)
    own = ("lowest_m_per_min", "binds_below", "highest_m_per_min", "binds_above")
    table: list[Sequence[object]] = []
    table.append([*inputs, *own, *(_SURE if banded else ()), "not_judged", "cannot_be_solved_because"])
    for c in ceilings:
        lead, silent = (
            [c.inputs.get(name, "") for name in inputs],
            ["; ".join(c.not_judged), " | ".join(c.why)],
        )
        for i in c.intervals:
            cells = [_low(i.lowest), "; ".join(i.below), _high(i.highest), "; ".join(i.above)]
            table.append([*lead, *cells, *(_sure_cells(i) if banded else ()), *silent])
        if not c.intervals:
            cells = ["none", "; ".join(c.everywhere), "none", ""]
            table.append([*lead, *cells, *(_sure_cells(None) if banded else ()), *silent])
    return table_text(table)


def ceiling_text(ceilings: Sequence[Ceiling], case: Case) -> str:
    """Write ceilings for a terminal.

    Parameters
    ----------
    ceilings : sequence of Ceiling
        As for `ceiling_csv`.
    case : Case
        The base case.

    Returns
    -------
    str
    """
    names = _names(ceilings)
    banded = any(c.banded for c in ceilings)
    head = [name.rsplit(".", 1)[-1] for name in names]
    zones = [_zone(name) for name in names]
    last = ("",) * (5 if banded else 4)
    rows = [(*zones, *last)] if any(zones) else []
    rows += [
        (*head, "lowest", "binds below", "highest", "binds above", *(("with errors",) if banded else ()))
    ]
    for c in ceilings:
        lead = [value_text(c.inputs.get(name)) for name in names]
        for i in c.intervals:
            below, above = "; ".join(i.below) or "–", "; ".join(i.above) or "–"
            cells = [f"{_low(i.lowest):.3f}", below, f"{_high(i.highest):.3f}", above]
            rows.append((*lead, *cells, *((_span(i.sure),) if banded else ())))
        if not c.intervals:
            cells = ["none", "; ".join(c.everywhere), "none", "–"]
            rows.append((*lead, *cells, *(("none",) if banded else ())))
    align = "r" * len(names) + "rwrw" + "r"
    notes = [line for text in _notes(ceilings, case) for line in wrapped(text)]
    return page([["casting speeds [m/min] at which no hard limit is breached"], columns(rows, align), notes])


def _zone(name: str) -> str:
    """Return the zone of a key path, e.g. ``"spray 1"``; empty for a key of another table."""
    found = re.fullmatch(r'zone\.(?:"((?:[^"\\]|\\.)*)"|([^.]+))\..*', name)
    return found[1] or found[2] if found else ""


def _span(interval: Interval | None) -> str:
    return "none" if interval is None else f"{_low(interval.lowest):.3f}–{_high(interval.highest):.3f}"


def _notes(ceilings: Sequence[Ceiling], case: Case) -> list[str]:
    notes: list[str] = []
    banded = any(c.banded for c in ceilings)
    if banded:
        notes.append(_MEANING)
    for c in ceilings:
        row = ", ".join(value_text(value) for value in c.inputs.values()) or "the case"
        notes += [f"row {row}: cannot be solved at some or all speeds: {why}" for why in c.why]
    silent = sorted({label for c in ceilings for label in c.not_judged})
    if silent:
        notes.append(f"not judged at some speed, and so not counted: {', '.join(silent)}")
    notes += [f"roll contact assumed: {case.rolls_text}"] if case.rolls_text else []
    outside = sum((Counter(c.outside) for c in ceilings), Counter())
    runs = sum(c.runs for c in ceilings)
    notes += [outside_text(name, times, runs) for name, times in sorted(outside.items())]
    fixed = [zone.name for zone in case.zone if not _follows_speed(zone)]
    if fixed:
        notes.append(f"the water does not follow the speed in: {', '.join(fixed)}")
    notes.append(_of_the_mould(case, _names(ceilings)))
    stays = {str(n) for c in ceilings for n in _left_behind(c, case)}
    notes += sorted(stays)
    bands = "" if banded else " without error bands"
    notes.append(f"estimates of a simplified slice{bands}; a speed is set by those who answer for it")
    return notes


def _of_the_mould(case: Case, names: Sequence[str]) -> str:
    """Say how the mould heat flux goes to other speeds, and to other steels where they differ among the rows."""
    given = case.mould
    if given.heat_flux_law is not None:
        return "the mould heat flux is the law given, over the age of the steel at every speed"
    if given.mean_heat_flux_at_speed is not None:
        text = "the mould heat flux goes to every speed by the law fitted to the means over the speed"
    elif (
        given.mean_heat_flux_MW_per_m2 is None
        and given.water_rise_K is None
        and given.face_water_rise_K is None
    ):
        return "mould heat flux not measured: that of the handbook relation at every speed"
    else:
        speed = f"{given.measured_at_speed_m_per_min:g} m/min"
        text = f"the mould heat flux measured at {speed} goes to other speeds by the same law over the age of the steel"
    if any(name.startswith("steel.") for name in names):
        text += ", to other steels by the ratio of their carbon factors"
    return text


def _left_behind(ceiling: Ceiling, case: Case) -> tuple[Notice, ...]:
    """Return what the section or the steel of a row leaves as it was measured or set for those of the case."""
    try:
        changed = case.replace(ceiling.inputs)
    except InputError:
        return ()
    return tuple(left_behind(changed))


def _follows_speed(zone: Zone) -> bool:
    tables = (zone.water_at_speed, zone.water_loose_at_speed, zone.water_L_per_kg)
    return any(own is not None for own in tables) or zone.water_L_per_min == 0


def ceiling_page(
    ceilings: Sequence[Ceiling], case: Case, speeds: Sequence[float], made_at: str | None = None
) -> str:
    """Write ceilings as one page for the shift.

    Parameters
    ----------
    ceilings : sequence of Ceiling
        As for `ceiling_csv`.
    case : Case
        The base case.
    speeds : sequence of float
        Of the scan [m/min].
    made_at : str, optional
        ISO 8601; now by default.

    Returns
    -------
    str
        One HTML file that fetches nothing; it prints on A4.
    """
    names = _names(ceilings)
    about = {name: case.about(name) for name in names}
    head = [_heading(name, about[name].get("unit", "")) for name in names]
    step = speeds[1] - speeds[0]
    return page_text(
        "ceiling.html.j2",
        f"Casting speeds: {case.title}",
        [
            f"{len(ceilings)} rows",
            f"looked at from {speeds[0]:g} to {speeds[-1]:g} m/min in steps of {step:.3g} m/min",
            "sizes hot",
        ],
        f"solidify {version('solidify')}",
        made_at or datetime.now(UTC).isoformat(timespec="seconds"),
        head=head,
        rows=[([value_text(c.inputs.get(name)) for name in names], c, _lines(c)) for c in ceilings],
        banded=any(c.banded for c in ceilings),
        errors=", ".join(effect.text for effect in input_errors(case)),
        notes=_notes(ceilings, case)[:-1],
        case_name=case.name,
        case_text=case.text.rstrip("\n"),
    )


def _heading(name: str, unit: str) -> str:
    """Return a key path as a short heading with its unit, e.g. ``"thickness, mm"``, ``"spray 1: water, L/min"``."""
    key = name.rsplit(".", 1)[-1]
    end = "_" + unit.replace("°", "").replace("/", "_per_").replace("²", "2").replace("%", "percent")
    words = key.removesuffix(end).replace("_", " ") if unit else key.replace("_", " ")
    zone = _zone(name)
    words = f"{zone}: {words}" if zone else words
    return f"{words}, {unit}" if unit not in ("", "1") else words


def _lines(ceiling: Ceiling) -> list[dict[str, str]]:
    """Return what the page says of each interval of a row."""
    return [
        {
            "speeds": _span(i),
            "below": ", ".join(i.below),
            "above": ", ".join(i.above),
            "sure": _span(i.sure),
            "reached_below": ", ".join(i.sure.below) if i.sure else "",
            "reached_above": ", ".join(i.sure.above) if i.sure else "",
        }
        for i in ceiling.intervals
    ]
