"""Words for the ductility trough at the straightener: what is asked of the surface, by which criterion, how known."""

from __future__ import annotations

import math
from collections.abc import Mapping

from solidify.assessment.checks import setting_of
from solidify.assessment.ductility import LIMIT, Ductility, case_ductility, criteria, ductility
from solidify.assessment.limits import Limit, Setting, limit, strand_setting
from solidify.sources import EVIDENCE
from solidify.steel import Steel
from solidify.strand.result import Result

__all__ = ["criteria_rows", "part_rows", "result_ductility", "trough_text"]


def result_ductility(result: Result) -> Ductility:
    """Return the ductility trough that the case of a result selects.

    Parameters
    ----------
    result : Result
        A marched strand.

    Returns
    -------
    Ductility
    """
    return case_ductility(result.case, setting_of(result), result.steel.composition)


def trough_text(trough: Ductility, setting: Setting, limits: Mapping[str, object]) -> str:
    """Say what is asked of the surface at the straightener, by what, and how well that is known.

    Parameters
    ----------
    trough : Ductility
        By the case's criterion.
    setting : Setting
        Of the strand.
    limits : mapping
        What stands under ``[limits]``.

    Returns
    -------
    str
    """
    said = f"not judged by {trough.label}: {trough.reason}"
    if not trough.reason:
        notes = [trough.note] if trough.note else []
        said = f"{trough.text} by {trough.label} ({'; '.join([*notes, EVIDENCE[trough.evidence]])})"
    own = limits.get(LIMIT)
    if isinstance(own, int | float):
        rule: Limit = limit(LIMIT, setting, own)
        said = f"≥ {rule.lower:g} °C, your own limit, in place of {said}"
    return f"surface at the straightener {said}"


def criteria_rows(steel: Steel) -> list[tuple[str, str, str]]:
    """Return what each criterion asks of a steel at the straightener, for print.

    Parameters
    ----------
    steel : Steel
        Its class and composition.

    Returns
    -------
    list of tuple of str
        Name of the criterion, what it asks, and for which steel and how well known, or why it does not speak.
    """
    setting = strand_setting(("slab", 0.2, 1.0), steel, "powder")  # the product does not matter here
    rows = []
    for name in criteria():
        trough = ductility(setting, steel.composition, name)
        known = "; ".join(t for t in (trough.note, EVIDENCE[trough.evidence]) if t)
        rows.append((name, trough.text, trough.reason or known))
    return rows


def part_rows(trough: Ductility) -> list[tuple[str, str, str, str]]:
    """Return what a trough is made of: words, edges, evidence and source key.

    Parameters
    ----------
    trough : Ductility
        Of a steel.

    Returns
    -------
    list of tuple of str
    """
    return [(p.words, _edges(p.low, p.high), EVIDENCE[p.evidence], p.source) for p in trough.parts]


def _edges(low: float, high: float) -> str:
    if math.isnan(low) and math.isnan(high):
        return "–"
    if math.isnan(low):
        return f"up to {high:.0f}"
    return f"from {low:.0f} on" if math.isnan(high) else f"{low:.0f} to {high:.0f}"
