"""The printed sheets of back-tracing: one depth in full, or the table of depth, distance, time and zone."""

from __future__ import annotations

import math
from collections.abc import Sequence

from solidify.analysis.backtrace import FREEZING, FrontPass, Trace, cold_depth, front_table, trace_depth
from solidify.errors import InputError
from solidify.report.strand_text import fraction_text
from solidify.report.text import columns, page, wrapped
from solidify.strand.result import Result
from solidify.units import MINUTE, MM

__all__ = ["front_text", "trace_text"]

AFTER = "after the last zone"
"""The stretch that has no zone, as results name it."""


def trace_text(
    result: Result, depths: Sequence[float], *, between: Sequence[float] = FREEZING, side: str | None = None
) -> str:
    """Write when and where depths froze.

    Parameters
    ----------
    result : Result
        A marched strand.
    depths : sequence of float
        From the surface, hot [m].
    between : (float, float)
        Solid fractions [1].
    side : str, optional
        ``"loose"`` or ``"fixed"``.

    Returns
    -------
    str

    Raises
    ------
    InputError
        As `solidify.analysis.backtrace.trace_depth`, the problems of all depths together.
    """
    traces, problems = [], []
    for depth in depths:
        try:
            traces.append(trace_depth(result, depth, between=between, side=side))
        except InputError as error:
            problems += [p for p in error.problems if p not in problems]
    if problems:
        raise InputError(problems)
    blocks = [_head(result), *(_trace(result, t) for t in traces), _foot(result)]
    return page(blocks)


def front_text(result: Result, *, side: str | None = None) -> str:
    """Write the table of depth, distance, time and zone.

    Parameters
    ----------
    result : Result
        A marched strand.
    side : str, optional
        ``"loose"`` or ``"fixed"``.

    Returns
    -------
    str

    Raises
    ------
    InputError
        For a side the result does not have.
    """
    rows = front_table(result, side=side)
    heads = [f"{fraction_text(f)} solid" for f in result.solid_fractions]
    last = f"where {fraction_text(result.solid_fractions[-1])} solid"
    cells = [["depth mm", *heads, "min", "surface °C", last]]
    for row in rows:
        end = row[-1]
        known = not math.isnan(end.distance)
        cells.append(
            [
                f"{end.depth / MM:.1f}",
                *(_metres(p) for p in row),
                f"{end.time / MINUTE:.2f}" if known else "–",
                f"{end.surface_temperature:.0f}" if known else "–",
                end.zone,
            ]
        )
    name = f", {side or result.sides[0]} side" if len(result.sides) > 1 else ""
    intro = f"Where the freezing front stands{name}: distance from the meniscus in m by solid fraction"
    table = columns(cells, "r" * (len(cells[0]) - 1) + "w")
    return page([[*_head(result), intro], table, _foot(result)])


def _metres(front: FrontPass) -> str:
    return "–" if math.isnan(front.distance) else f"{front.distance:.2f} m"


def _head(result: Result) -> list[str]:
    return wrapped(f"{result.case.title}; {result.shape_treatment}")


def _foot(result: Result) -> list[str]:
    ten = cold_depth(result, 0.1)
    cold = "" if math.isnan(ten) else f" A cold sample reads {100 * (1 - ten / 0.1):.1f} % less."
    text = (
        f"Depths are as cast, at mid-face.{cold} Computed for a simplified slice: it says where a mark could form, "
        "not what made it."
    )
    return wrapped(text)


def _trace(result: Result, t: Trace) -> list[str]:
    name = f" from the {t.side} side" if t.side != "both" else ""
    lines = [f"Depth {t.depth / MM:.1f} mm{name}"]
    for label, front in (("from", t.start), ("to", t.end)):
        lines.append(f"  {label:<5}{fraction_text(front.solid_fraction)} solid  {_passed(front)}")
    if t.zones:
        inside = [name for name in t.zones if name != AFTER]
        places = [f"in {', '.join(inside)}"] if inside else []
        lines.append(f"  freezing {', '.join([*places, *(name for name in t.zones if name == AFTER)])}")
    if t.met:
        lines += wrapped(f"  on the way: {', '.join(t.met)}", hang="    ")
    surface = []
    if not math.isnan(t.steepest_rise):
        if t.steepest_rise > 0:
            rate = f"rises by up to {t.steepest_rise:.0f} K/m (from {t.steepest_rise_at:.2f} m)"
        else:
            rate = "does not rise"
        falls = t.steepest_fall >= 0.5
        fall = f"falls by up to {t.steepest_fall:.0f} K/m" if falls else "does not fall"
        surface.append(f"{rate} and {fall} over 0.5 m")
    if not math.isnan(t.coldest_surface):
        surface.append(
            f"until then coldest {t.coldest_surface:.0f} °C at {t.coldest_at:.2f} m, "
            f"largest rise {t.largest_rise:.0f} K"
        )
    if surface:
        lines += wrapped(f"  surface {'; '.join(surface)}", hang="    ")
    else:
        lines.append("  frozen inside the mould")
    return lines


def _passed(front: FrontPass) -> str:
    if math.isnan(front.distance):
        return "not before the cut-off"
    return (
        f"{front.distance:.2f} m, {front.time / MINUTE:.2f} min, {front.zone}, "
        f"surface {front.surface_temperature:.0f} °C"
    )
