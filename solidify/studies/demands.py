"""What a strand is asked to meet, as rows that a solver can weigh: limits in close widths, points in bands.

A limit that looks at the worst place of the strand is asked place by place here, stretch by stretch: mending one
place must not hide the next.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from solidify.findings import Finding, Judgement, judge, setting_of
from solidify.limits import limit
from solidify.profiles import highest, largest_rise, steepest
from solidify.result import Result, ZoneResult
from solidify.studies.target import SurfacePoint

__all__ = ["AMPLE", "Demand", "core_length", "demands", "deviations", "slopes"]

AMPLE = 20.0
"""Room beyond this counts no more: neither does what a strand of this case has no place for [close widths]."""


@dataclass(frozen=True)
class Demand:
    """A limit at one place.

    Parameters
    ----------
    name, label, where : str
        Of the limit, in words for print, and the stretch it is asked in; empty for the whole strand.
    hard : bool
        Whether tuning may not cross it.
    width : float
        What counts as close, in `unit`.
    unit : str
        Plant unit of the limit.
    room : float
        To the limit, in `width`; negative beyond it, `AMPLE` at most [1].
    """

    name: str
    label: str
    where: str
    hard: bool
    width: float
    unit: str
    room: float


def demands(result: Result, judgement: Judgement | None = None) -> dict[tuple[str, str], Demand]:
    """Return every judged limit of a strand, those of the worst place stretch by stretch.

    Parameters
    ----------
    result : Result
        A marched strand.
    judgement : Judgement, optional
        If it was judged already.

    Returns
    -------
    dict of (name, where) to Demand
    """
    found = {}
    for finding in (judgement or judge(result)).findings:
        if not finding.judged:
            continue
        split = _BY_PLACE.get(finding.name)
        rooms = split(result, finding) if split else [("", _room(result, finding))]
        for where, room in rooms:
            found[finding.name, where] = Demand(
                finding.name,
                finding.label,
                where,
                finding.hardness == "hard",
                _width(finding),
                finding.unit,
                min(room, AMPLE),
            )
    return found


def _width(finding: Finding) -> float:
    return finding.close if finding.close > 0 else 1.0


def _room(result: Result, finding: Finding) -> float:
    """Return the room in close widths; a strand still liquid at the cut-off is told by how liquid it is there."""
    if finding.margin == -math.inf:
        return -10.0 - 10.0 * (1.0 - float(result.centre_solid_fraction[-1]))
    return finding.margin / _width(finding)


def _below(result: Result) -> list[ZoneResult]:
    return [z for z in result.zones if z.kind != "mould"]


def _steep(result: Result, finding: Finding, sign: float, skip: int, end: float) -> list[tuple[str, float]]:
    """Ask for the steepest half metre that begins in each stretch."""
    rooms = []
    for zone in _below(result)[skip:]:
        last = min(zone.end + 0.5, end)
        rates = [steepest(result.distance, sign * t, zone.start, last)[0] for t in result.surface_temperature]
        worst = max((r for r in rates if not math.isnan(r)), default=-math.inf)
        rooms.append((zone.name, (finding.upper - max(worst, 0.0)) / _width(finding)))
    return rooms


def _reheating_rate(result: Result, finding: Finding) -> list[tuple[str, float]]:
    return _steep(result, finding, 1.0, 0, result.case.cutoff)


def _cooling_rate(result: Result, finding: Finding) -> list[tuple[str, float]]:
    own = result.case.limits.get(finding.name)
    rule = limit(finding.name, setting_of(result), own)
    points = result.case.straightener
    end = points[0] if rule.until == "straightener" and points else result.case.cutoff
    return _steep(result, finding, -1.0, 1, end)


def _reheating_total(result: Result, finding: Finding) -> list[tuple[str, float]]:
    """Ask for the largest rise that begins in each stretch or after it."""
    rooms = []
    for zone in _below(result):
        rises = [
            largest_rise(result.distance, t, zone.start, result.case.cutoff)[0]
            for t in result.surface_temperature
        ]
        rooms.append((zone.name, (finding.upper - max(rises)) / _width(finding)))
    return rooms


def _zone_jump(result: Result, finding: Finding) -> list[tuple[str, float]]:
    """Ask for each pair of neighbouring zones."""
    rooms = []
    own = result.case.limits.get(finding.name)
    sprays = [z for z in result.zones if z.kind == "zone"]
    for i, (before, after) in enumerate(pairwise(sprays)):
        rule = limit(finding.name, setting_of(result), own, "first zone" if i == 0 else "")
        pairs = zip(before.mean_flux, after.mean_flux, strict=True)
        ratios = [max(a / b, b / a) for a, b in pairs if a > 0 and b > 0]
        worst = max(ratios, default=1.0)
        rooms.append((f"{before.name} to {after.name}", (rule.upper - float(worst)) / _width(finding)))
    return rooms


def _surface_ceiling(result: Result, finding: Finding) -> list[tuple[str, float]]:
    """Ask for the hottest place of each stretch below the first zone."""
    rooms = []
    for zone in _below(result)[1:]:
        hottest = max(
            highest(result.distance, t, zone.start, zone.end)[0] for t in result.surface_temperature
        )
        rooms.append((zone.name, (finding.upper - hottest) / _width(finding)))
    return rooms


def _straightener_surface(result: Result, finding: Finding) -> list[tuple[str, float]]:
    """Ask for each straightening point, loose side; of a trough, for the edge that is nearer to them all."""
    surface, rooms = result.surface_temperature[0], []
    for z in result.case.straightener:
        t = float(result.at(surface, z))
        rooms.append((f"{z:.2f} m", min(t - finding.lower, finding.upper - t) / _width(finding)))
    return rooms


_BY_PLACE: dict[str, Callable[[Result, Finding], list[tuple[str, float]]]] = {
    "reheating_rate": _reheating_rate,
    "reheating_total": _reheating_total,
    "cooling_rate": _cooling_rate,
    "straightener_surface": _straightener_surface,
    "surface_ceiling": _surface_ceiling,
    "zone_jump": _zone_jump,
}


def deviations(result: Result, points: Sequence[SurfacePoint]) -> np.ndarray:
    """Return how far the surface is above each wanted point, loose side, in its band [1]."""
    surface = result.surface_temperature[0]
    return np.array([(float(result.at(surface, p.distance)) - p.temperature) / p.band for p in points])


def slopes(result: Result) -> np.ndarray:
    """Return the steepest rise and fall over 0.5 m in each stretch below the first zone [K/m]."""
    found = []
    for zone in _below(result)[1:]:
        last = min(zone.end + 0.5, result.case.cutoff)
        for sign in (1.0, -1.0):
            rates = [
                steepest(result.distance, sign * t, zone.start, last)[0] for t in result.surface_temperature
            ]
            found.append(max((r for r in rates if not math.isnan(r)), default=0.0))
    return np.array(found)


def core_length(result: Result) -> float:
    """Return the end of solidification [m]; of a strand still liquid at the cut-off, beyond it by how liquid it is."""
    length = float(result.summary["metallurgical_length"])
    if math.isnan(length):
        return result.case.cutoff * (2.0 - float(result.centre_solid_fraction[-1]))
    return length
