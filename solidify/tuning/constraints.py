"""What a strand is asked to meet, as rows that a solver can weigh: limits in close widths, points in bands.

A limit that looks at the worst place of the strand is asked place by place here, stretch by stretch: mending one
place must not hide the next.

Some findings jump. A rise of the surface in two steps counts as one as soon as the dip between them vanishes; a zone
with its own roll pitch counts as soon as the liquid core reaches it. Such a limit is met in one of two ways, by a
small value or by staying clear of the jump, and its room here is the larger of the two: of the same sign as that of
the finding, but without the jump, so that a solver can walk along it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from solidify.assessment.checks import MEASURES, Resolve, reserve_rule, straightening_radii
from solidify.assessment.judge import limits_of
from solidify.assessment.limits import Limit
from solidify.assessment.rolls import bulging_at, roll_strain, slab_rolls, solid_shell
from solidify.assessment.strain import straightening_strain
from solidify.strand.profiles import RIPPLE, highest, read_at, steepest, turning_points
from solidify.strand.result import Result
from solidify.strand.result_batch import Results, Segment
from solidify.tuning.target import SurfacePoint
from solidify.units import MM

__all__ = ["AMPLE", "Constraint", "core_length", "constraints", "deviations", "slopes"]

AMPLE = 20.0
"""Room beyond this counts no more: neither does what a strand of this case has no place for [close widths]."""


@dataclass(frozen=True)
class Constraint:
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


def constraints(result: Result) -> dict[tuple[str, str], Constraint]:
    """Return every judged limit of a strand, those of the worst place stretch by stretch.

    Parameters
    ----------
    result : Result
        A marched strand.

    Returns
    -------
    dict of (name, where) to Constraint
    """
    found, strand = {}, Results.of(result)
    for name, resolve in limits_of(result).items():
        rule, measure = resolve(), None
        if name not in _BY_PLACE or name in _OWN_RULE:
            measure = MEASURES[name](strand, resolve)
            if measure is None or np.isnan(measure.value[0]):
                continue
            rule = measure.rules[0] if measure.rules else rule
        if rule.reason:
            continue
        if name in _BY_PLACE:
            if rule.close_percent:
                rule = replace(rule, close=abs(rule.upper) * rule.close_percent / 100.0)
            rooms = _BY_PLACE[name](strand, rule, resolve)
        elif measure is not None:
            room, close = _room(rule, float(measure.value[0]))
            rule = replace(rule, close=close)
            own = math.nan if measure.margin is None else float(measure.margin[0])
            rooms = [("", room if math.isnan(own) else own / _width(rule))]
        for where, room in rooms:
            hard, width = rule.hardness == "hard", _width(rule)
            found[name, where] = Constraint(name, rule.label, where, hard, width, rule.unit, min(room, AMPLE))
    return found


def _room(rule: Limit, value: float) -> tuple[float, float]:
    """Return the room to the side of a limit with fewer close widths of it, and that width."""
    rooms = []
    for room, bound in ((value - rule.lower, rule.lower), (rule.upper - value, rule.upper)):
        if math.isfinite(bound):
            close = abs(bound) * rule.close_percent / 100.0 if rule.close_percent else rule.close
            rooms.append((room / (close if close > 0 else 1.0), close))
    return min(rooms)


def _width(rule: Limit) -> float:
    return rule.close if rule.close > 0 else 1.0


Rooms = list[tuple[str, float]]


def _below(strand: Results) -> list[Segment]:
    return [z for z in strand.zones if z.kind != "mould"]


def _last_liquid_support(strand: Results, rule: Limit, resolve: Resolve) -> Rooms:
    """Count a strand that is still liquid at the cut-off by how liquid it is there."""
    share = 100.0 * core_length(strand) / strand.case.support_end
    return [("", (rule.upper - share) / _width(rule))]


def _last_liquid_cutoff(strand: Results, rule: Limit, resolve: Resolve) -> Rooms:
    solid = strand.case.cutoff - core_length(strand)
    return [("", (solid - rule.lower) / _width(rule))]


def _cutoff_reserve(strand: Results, rule: Limit, resolve: Resolve) -> Rooms:
    return _last_liquid_cutoff(strand, reserve_rule(rule, strand.case.cutoff), resolve)


def _steep(strand: Results, rule: Limit, sign: float, skip: int, end: float) -> Rooms:
    """Ask for the steepest half metre that begins in each stretch."""
    rooms = []
    for zone in _below(strand)[skip:]:
        last = min(zone.end + 0.5, end)
        rates, _ = steepest(strand.distance, sign * strand.surface_temperature, zone.start, last)
        worst = float(np.fmax(rates, 0.0).max())  # 0 where there is no room for half a metre
        rooms.append((zone.name, (rule.upper - worst) / _width(rule)))
    return rooms


def _reheating_rate(strand: Results, rule: Limit, resolve: Resolve) -> Rooms:
    return _steep(strand, rule, 1.0, 0, strand.case.cutoff)


def _cooling_rate(strand: Results, rule: Limit, resolve: Resolve) -> Rooms:
    points = strand.case.straightener
    end = points[0] if rule.until == "straightener" and points else strand.case.cutoff
    return _steep(strand, rule, -1.0, 1, end)


def _reheating_total(strand: Results, rule: Limit, resolve: Resolve) -> Rooms:
    """Ask for the rises that begin in each stretch: each is small, or a dip parts it."""
    width, rooms = _width(rule), []
    for surface in strand.surface_temperature[0]:
        place, value = turning_points(strand.distance, surface, strand.working_length, strand.case.cutoff)
        own = np.empty(len(value))
        for i in range(len(value)):
            rise = value[i:] - value[i]
            dip = np.maximum.accumulate(np.maximum.accumulate(value[i:]) - value[i:])
            own[i] = np.max([(rule.upper - rise) / width, (dip - RIPPLE) / width], axis=0).min()
        rooms.append((place, own))
    return [
        (zone.name, float(min(_lowest(own, place, zone) for place, own in rooms))) for zone in _below(strand)
    ]


def _lowest(rooms: np.ndarray, place: np.ndarray, zone: Segment) -> float:
    here = rooms[(place >= zone.start) & (place < zone.end)]
    return float(here.min(initial=AMPLE))


def _zone_jump(strand: Results, rule: Limit, resolve: Resolve) -> Rooms:
    """Ask for each pair of neighbouring zones."""
    rooms = []
    fluxes = strand.mean_flux[0].T.tolist()
    sprays = [(z, flux) for z, flux in zip(strand.zones, fluxes, strict=True) if z.kind == "zone"]
    for i, ((before, q0), (after, q1)) in enumerate(pairwise(sprays)):
        own = resolve("first zone" if i == 0 else "")
        pairs = zip(q0, q1, strict=True)
        ratios = [max(a / b, b / a) for a, b in pairs if a > 0 and b > 0]
        worst = max(ratios, default=1.0)
        rooms.append((f"{before.name} to {after.name}", (own.upper - float(worst)) / _width(own)))
    return rooms


def _surface_ceiling(strand: Results, rule: Limit, resolve: Resolve) -> Rooms:
    """Ask for the hottest place of each stretch below the first zone."""
    rooms = []
    for zone in _below(strand)[1:]:
        hottest = highest(strand.distance, strand.surface_temperature, zone.start, zone.end)[0].max()
        rooms.append((zone.name, float(rule.upper - hottest) / _width(rule)))
    return rooms


def _straightener_surface(strand: Results, rule: Limit, resolve: Resolve) -> Rooms:
    """Ask for each straightening point, loose side; of a trough, for the edge that is nearer to them all."""
    at = strand.case.straightener
    surface = read_at(strand.distance, strand.surface_temperature[0, 0], at)
    rooms = np.minimum(surface - rule.lower, rule.upper - surface)
    if rule.sense == "outside":
        above, below = surface - rule.upper, rule.lower - surface
        rooms = above if above.min(initial=AMPLE) >= below.min(initial=AMPLE) else below
    return [(f"{z:.2f} m", room / _width(rule)) for z, room in zip(at, rooms.tolist(), strict=True)]


def _bulging(strand: Results, rule: Limit, resolve: Resolve) -> Rooms:
    return _on_rolls(strand, rule, bulging_at, 1.0 / MM)


def _on_rolls(
    strand: Results,
    rule: Limit,
    measure: Callable[[Results, np.ndarray, np.ndarray], np.ndarray],
    unit: float,
) -> Rooms:
    """Ask for each zone with rolls: a small value, or solid before it."""
    core, z, rolls = core_length(strand), strand.distance, slab_rolls(strand)
    places = []
    for zone, _ in rolls:
        end = min(zone.end, max(core, zone.start))
        inner = z[z.searchsorted(zone.start, "right") : z.searchsorted(end)]
        places.append(np.concatenate(([zone.start], inner, [end])))
    if not places:
        return []
    counts = [len(p) for p in places]
    place, pitch = np.concatenate(places), np.repeat([p for _, p in rolls], counts)
    values = np.nan_to_num(unit * measure(strand, place, pitch)[0])  # 0 where there is no shell
    worst = np.maximum.reduceat(values, np.cumsum([0, *counts[:-1]])).tolist()
    return [
        (zone.name, _either(rule, value, zone.start, core))
        for (zone, _), value in zip(rolls, worst, strict=True)
    ]


def _either(rule: Limit, value: float, place: float, core: float) -> float:
    """Return the room of a value that counts where the core is liquid only: it is small, or solid before there."""
    return max((rule.upper - value) / _width(rule), (place - core) / _CLEAR)


def _strain_front(strand: Results, rule: Limit, resolve: Resolve) -> Rooms:
    """Ask for each zone with rolls, and for each straightening point: a small strain, or solid before it."""
    z, before, after = straightening_radii(strand)
    if not len(z):
        return []
    rooms, core = _on_rolls(strand, rule, roll_strain, 100.0), core_length(strand)
    strains = straightening_strain(strand.half_thickness - solid_shell(strand, z)[0], before, after)
    own = [next((p for zone, p in slab_rolls(strand) if zone.start <= at < zone.end), math.nan) for at in z]
    here = np.isfinite(own)
    if np.any(here):
        strains[here] += np.nan_to_num(roll_strain(strand, z[here], np.array(own)[here])[0])
    pairs = zip(z.tolist(), (100.0 * strains).tolist(), strict=True)
    return rooms + [(f"{at:.2f} m", _either(rule, value, at, core)) for at, value in pairs]


_OWN_RULE = ("straightener_surface",)
"""Limits whose measure tells which rule holds."""

_CLEAR = 1.0
"""Length between the end of solidification and what must not meet a liquid core that counts as close [m]."""

_BY_PLACE: dict[str, Callable[[Results, Limit, Resolve], Rooms]] = {
    "last_liquid_support": _last_liquid_support,
    "last_liquid_cutoff": _last_liquid_cutoff,
    "cutoff_reserve": _cutoff_reserve,
    "reheating_rate": _reheating_rate,
    "reheating_total": _reheating_total,
    "cooling_rate": _cooling_rate,
    "straightener_surface": _straightener_surface,
    "surface_ceiling": _surface_ceiling,
    "zone_jump": _zone_jump,
    "bulging": _bulging,
    "strain_front": _strain_front,
}


def deviations(result: Result, points: Sequence[SurfacePoint]) -> np.ndarray:
    """Return how far the surface is above each wanted point.

    Parameters
    ----------
    result : Result
        A march.
    points : sequence of SurfacePoint
        Wanted temperatures; one of both sides is held to the first side of the result.

    Returns
    -------
    ndarray, shape (point,)
        In bands of the point [1]: 1 at the upper edge, -1 at the lower.
    """
    surfaces = dict(zip(result.sides, result.surface_temperature, strict=True))
    both = result.surface_temperature[0]
    return np.array(
        [(float(result.at(surfaces.get(p.side, both), p.distance)) - p.temperature) / p.band for p in points]
    )


def slopes(result: Result) -> np.ndarray:
    """Return the steepest rise and fall of the surface in each stretch below the first zone.

    Parameters
    ----------
    result : Result
        A march.

    Returns
    -------
    ndarray, shape (2 stretches,)
        Over 0.5 m, rise and fall of a stretch behind one another, neither below zero [K/m].
    """
    found = []
    for zone in _below(Results.of(result))[1:]:
        last = min(zone.end + 0.5, result.case.cutoff)
        for sign in (1.0, -1.0):
            rates, _ = steepest(result.distance, sign * result.surface_temperature, zone.start, last)
            found.append(float(np.nan_to_num(rates).max()))
    return np.array(found)


def core_length(strand: Results) -> float:
    """Return the end of solidification [m]; of a strand still liquid at the cut-off, beyond it by what is not shell.

    There the mean of the shells at solid fractions 0.7 and 1.0 tells how much is missing: the one grows fast where the
    other, or the solid fraction of the centre, stands nearly still.
    """
    length, cutoff = float(strand.summary["metallurgical_length"][0]), strand.case.cutoff
    if not math.isnan(length):
        return length
    rows = [strand.fraction_index(f) for f in (0.7, 1.0)]
    shell = float(strand.shell_thickness[0][:, rows, -1].mean(axis=1).min())
    return cutoff * (2.0 - shell / strand.half_thickness)
