"""What each limit is compared with, taken from a result: one function a limit, in the limit's plant unit."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from solidify import strain, strength
from solidify.ductility import case_ductility, outside_trough
from solidify.limits import Limit, Setting, strand_setting
from solidify.profiles import crossing, highest, largest_rise, steepest
from solidify.result import Result, ZoneResult
from solidify.units import MM, MW

__all__ = [
    "MEASURES",
    "Measure",
    "Resolve",
    "bulging_at",
    "mould_exit_profiles",
    "rise_below_mould",
    "roll_strain",
    "setting_of",
    "slab_rolls",
    "solid_shell",
    "straightening_radii",
]

Resolve = Callable[..., Limit]
"""Returns the limit as it applies, ``resolve(place="")``."""

ROLL_ERROR = 0.5e-3
"""One roll out of line, as counted in the strain at the front [m]; common practice, no source."""


@dataclass(frozen=True)
class Measure:
    """What was found for one limit.

    Parameters
    ----------
    value : float
        In the unit of the limit; NaN when not known, infinite when the strand never gets there.
    where : str
        Where on the strand.
    reason : str
        Why it cannot be judged, else empty.
    note : str
        What the value rests on.
    margin : float, optional
        Signed room, where it is not the plain difference to the limit.
    room : str
        The room in words, where they are not those of the margin.
    limit : Limit, optional
        Where the limit depends on the place.
    """

    value: float
    where: str = ""
    reason: str = ""
    note: str = ""
    margin: float | None = None
    room: str = ""
    limit: Limit | None = None


def setting_of(result: Result) -> Setting:
    """Return what the limits of a strand depend on.

    Parameters
    ----------
    result : Result
        A marched strand.

    Returns
    -------
    Setting
    """
    section = result.case.section.shape, result.thickness, result.width
    return strand_setting(section, result.steel, result.case.mould.lubricant)


def _exit(result: Result) -> str:
    return f"{result.mould.working_length:.2f} m, mould exit"


def _place(result: Result, start: float, end: float | None = None, side: int = 0) -> str:
    """Say where: distances, the stretch, the side when there are two."""
    zone = next((z for z in result.zones if z.start - 1e-9 <= start < z.end), result.zones[-1])
    span = f"{start:.2f} m" if end is None else f"{start:.2f}-{end:.2f} m"
    sides = f", {result.sides[side]} side" if len(result.sides) > 1 else ""
    return f"{span}, {zone.name}{sides}"


def _sprays(result: Result) -> list[ZoneResult]:
    return [z for z in result.zones if z.kind == "zone"]


def _below_foot_rolls(result: Result) -> float:
    """Return the end of the first zone [m], taken as the foot rolls."""
    zones = _sprays(result)
    return zones[0].end if zones else result.mould.working_length


def _mean_shell(result: Result) -> tuple[float, str]:
    """Return the mean shell at mould exit at solid fraction 0.7, thinner side [mm], and where."""
    shells = result.at(result.shell_thickness[:, result.fraction_index(0.7)], result.mould.working_length)
    thin = int(np.argmin(shells))
    side = f", {result.sides[thin]} side" if len(result.sides) > 1 else ""
    return float(shells[thin]) / MM, _exit(result) + side


def shell_floor(result: Result, resolve: Resolve) -> Measure:
    """Mean shell at mould exit [mm]."""
    return Measure(*_mean_shell(result))


def strength_floor(result: Result, resolve: Resolve) -> Measure:
    """Thinnest shell at mould exit, mean times unevenness [mm]."""
    shell, where = _mean_shell(result)
    factor = resolve().factor
    return Measure(shell * factor, where, note=f"{shell:.1f} mm mean × {factor:g} for an uneven shell")


def hot_strength(result: Result, resolve: Resolve) -> Measure:
    """Tension that the thinnest shell at mould exit carries, over the pull of the liquid's head [1]."""
    steel, exit_ = result.steel, result.mould.working_length
    carbon, zero = (
        steel.composition.get("C", math.nan),
        steel.temperatures.get("zero strength", steel.solidus),
    )
    if math.isnan(carbon):
        return Measure(math.nan, _exit(result), reason="the hot strength wants a composition")
    factor = resolve().factor
    carried = [factor * strength.carried_tension(x, t, carbon, zero) for x, t in mould_exit_profiles(result)]
    side = int(np.argmin(carried))
    head = float(strain.head(exit_, *_arcs(result)))
    pressure = float(strain.ferrostatic_pressure(head))
    ratio = carried[side] / strength.pull_of_head(pressure, result.thickness)
    label = f", {result.sides[side]} side" if len(result.sides) > 1 else ""
    note = f"{head:.2f} m of liquid steel, {pressure / 1e3:.0f} kPa; mean × {factor:g} for an uneven shell"
    return Measure(ratio, _exit(result) + label, note=note)


def mould_exit_profiles(result: Result) -> list[tuple[np.ndarray, np.ndarray]]:
    """Return depth from its surface [m] and temperature [degC] at mould exit, for each side to the middle."""
    row = int(abs(result.section_distance - result.mould.working_length).argmin())
    depth, temperature = result.depth, result.section_temperature[row].astype(float)
    if len(result.sides) == 1:
        return [(depth, temperature)]
    near = depth <= result.half_thickness * (1 + 1e-9)
    return [
        (depth[near], temperature[near]),
        (result.thickness - depth[~near][::-1], temperature[~near][::-1]),
    ]


def _arcs(result: Result) -> tuple[float, float | None, tuple[float, ...], tuple[float, ...] | None]:
    """Return the course of the strand, as `solidify.strain.head` takes it."""
    case, machine = result.case, result.case.machine
    return case.vertical_length, machine.radius_m, case.straightener, machine.radius_after_m


def last_liquid_support(result: Result, resolve: Resolve) -> Measure:
    """End of solidification over the distance to the last support [%]."""
    length, support = _last_liquid(result), result.case.support_end
    if math.isinf(length):
        return Measure(math.inf, f"{support:.1f} m, last support", room="beyond the cut-off")
    return Measure(100.0 * length / support, f"{length:.1f} m, last support {support:.1f} m")


def last_liquid_cutoff(result: Result, resolve: Resolve) -> Measure:
    """Solid length before the cut-off [m]."""
    length, cutoff = _last_liquid(result), result.case.cutoff
    if math.isinf(length):
        return Measure(-math.inf, f"{cutoff:.1f} m, cut-off", room="beyond the cut-off")
    return Measure(cutoff - length, f"{length:.1f} m, cut-off {cutoff:.1f} m")


def _last_liquid(result: Result) -> float:
    """Return the end of solidification [m], infinite when the centre is not solid by the cut-off."""
    length = float(result.summary["metallurgical_length"])
    return math.inf if math.isnan(length) else length


def straightener_surface(result: Result, resolve: Resolve) -> Measure:
    """Loose-side surface over the straightening points, all of it to lie outside the ductility trough [degC].

    The lowest counts where the strand is straightened hot, above the trough; the highest where it is wholly below.
    """
    trough = case_ductility(result.case, setting_of(result), result.steel.composition)
    rule = outside_trough(resolve(), trough)
    points = result.case.straightener
    if not points:
        return Measure(math.nan, reason="no straightening points are given", limit=rule)
    surfaces = [float(result.at(result.surface_temperature[0], z)) for z in points]
    worst, margin = int(np.argmin(surfaces)), None
    if rule.sense == "outside":
        above, below = min(surfaces) - rule.upper, rule.lower - max(surfaces)
        margin = max(above, below)
        worst = worst if above >= below else int(np.argmax(surfaces))
    place = f"{points[worst]:.2f} m, straightening point {worst + 1} of {len(points)}, loose side"
    return Measure(surfaces[worst], place, margin=margin, limit=rule)


def mould_flux_window(result: Result, resolve: Resolve) -> Measure:
    """Mean mould heat flux [MW/m2]."""
    note = "flux not measured" if result.mould.origin == "handbook" else ""
    return Measure(result.mould.mean_flux / MW, "mould", note=note)


def mould_flux_deviation(result: Result, resolve: Resolve) -> Measure:
    """Mean mould heat flux against normal [%]."""
    expected = result.mould.expected_mean_flux
    if math.isnan(expected):
        return Measure(math.nan, "mould", reason="what this plant calls normal is not given")
    note = f"normal {expected / MW:.2f} MW/m²"
    return Measure(100.0 * (result.mould.mean_flux / expected - 1.0), "mould", note=note)


def mould_water_rise(result: Result, resolve: Resolve) -> Measure | None:
    """Rise of the mould water [K]; nothing when it is not given."""
    rise = result.mould.water_rise
    return None if math.isnan(rise) else Measure(rise, "mould")


def mould_water_velocity(result: Result, resolve: Resolve) -> Measure | None:
    """Velocity of the mould water in its gap or slots [m/s]; nothing where their cross-section is not known."""
    velocity = result.mould.water_velocity
    return None if math.isnan(velocity) else Measure(velocity, "mould")


def copper_hot_face(result: Result, resolve: Resolve) -> Measure | None:
    """Hot face of the copper [degC], an estimate; nothing without wall, gap and flow."""
    face = result.mould.copper_hot_face
    note = "estimate for a clean wall"
    return None if math.isnan(face) else Measure(face, "mould, near the meniscus", note=note)


def negative_strip(result: Result, resolve: Resolve) -> Measure | None:
    """Negative strip time [ms]; nothing without an oscillation."""
    time = result.mould.negative_strip_time
    return None if math.isnan(time) else Measure(1e3 * time, "mould")


def superheat_window(result: Result, resolve: Resolve) -> Measure:
    """Superheat in the tundish [K]."""
    return Measure(result.superheat, "tundish")


def dwell(result: Result, resolve: Resolve) -> Measure:
    """Time in the mould [s]."""
    return Measure(result.mould.dwell, "mould")


def liquid_core_straightener(result: Result, resolve: Resolve) -> Measure:
    """Centre solid fraction at the first straightening point [1].

    A solid centre cannot be more than solid, so its room is counted along the strand: the close width stands
    for the stretch over which the centre froze through the last of it.
    """
    if not result.case.straightener:
        return Measure(math.nan, reason="no straightening points are given")
    point = result.case.straightener[0]
    value = float(result.at(result.centre_solid_fraction, point))
    where = f"{point:.2f} m, straightening point 1 of {len(result.case.straightener)}"
    rule, length = resolve(), _last_liquid(result)
    if rule.lower != 1.0 or length > point:
        return Measure(value, where)
    stretch = length - float(crossing(result.distance, result.centre_solid_fraction, 1.0 - rule.close))
    room = f"{point - length:.1f} m room"
    margin = rule.close * (point - length) / stretch if stretch > 0 else math.inf
    return Measure(1.0, where, margin=margin, room=room)


def reheating_rate(result: Result, resolve: Resolve) -> Measure:
    """Steepest rise of the surface over 0.5 m below the mould [K/m]."""
    return _steepest(result, result.mould.working_length, result.case.cutoff, 1.0)


def cooling_rate(result: Result, resolve: Resolve) -> Measure:
    """Steepest fall of the surface over 0.5 m below the foot rolls [K/m]."""
    end = result.case.cutoff
    if resolve().until == "straightener" and result.case.straightener:
        end = result.case.straightener[0]
    return _steepest(result, _below_foot_rolls(result), end, -1.0)


def _steepest(result: Result, start: float, end: float, sign: float) -> Measure:
    rates, places = steepest(result.distance, sign * result.surface_temperature, start, end)
    side = int(rates.argmax())
    rate, place = float(rates[side]), float(places[side])
    if math.isnan(rate):
        return Measure(math.nan, reason="no 0.5 m of strand to look at")
    return Measure(max(rate, 0.0), _place(result, place, place + 0.5, side))


def reheating_total(result: Result, resolve: Resolve) -> Measure:
    """Largest rise of the surface from a local minimum to the next maximum below the mould [K]."""
    start, end = result.mould.working_length, result.case.cutoff
    found = np.array(largest_rise(result.distance, result.surface_temperature, start, end))
    side = int(found[0].argmax())
    rise, low, high = found[:, side].tolist()
    return Measure(rise, _place(result, low, high, side) if rise > 0 else "nowhere")


def rise_below_mould(result: Result, length: float = 1.0) -> float:
    """Return the largest rise of the surface within a length [m] below the mould [K]."""
    start = result.mould.working_length
    end = min(start + length, result.case.cutoff)
    return float(largest_rise(result.distance, result.surface_temperature, start, end)[0].max())


def surface_ceiling(result: Result, resolve: Resolve) -> Measure:
    """Highest surface below the foot rolls [degC]."""
    start, end = _below_foot_rolls(result), result.case.cutoff
    values, places = highest(result.distance, result.surface_temperature, start, end)
    side = int(values.argmax())
    value, place = float(values[side]), float(places[side])
    return Measure(value, _place(result, place, side=side))


def zone_jump(result: Result, resolve: Resolve) -> Measure:
    """Ratio of the mean heat fluxes of two neighbouring zones, the pair with the least room [1]."""
    zones = _sprays(result)
    worst: tuple[float, Measure] | None = None
    for i, (before, after) in enumerate(pairwise(zones)):
        rule = resolve("first zone" if i == 0 else "")
        for side, (q0, q1) in enumerate(zip(before.mean_flux, after.mean_flux, strict=True)):
            if q0 <= 0 or q1 <= 0:
                continue
            ratio = float(max(q0 / q1, q1 / q0))
            label = f", {result.sides[side]} side" if len(result.sides) > 1 else ""
            place = f"{before.end:.2f} m, {before.name} to {after.name}{label}"
            if worst is None or rule.margin(ratio)[0] < worst[0]:
                worst = rule.margin(ratio)[0], Measure(ratio, place, limit=rule)
    return worst[1] if worst else Measure(math.nan, reason="there are no two zones to compare")


def slab_rolls(result: Result) -> list[tuple[ZoneResult, float]]:
    """Return the zones of a slab that give their roll pitch [m]."""
    if result.case.section.shape != "slab":
        return []
    pitches = [z.roll_pitch_m for z in result.case.zone]
    return [(z, p) for z, p in zip(_sprays(result), pitches, strict=True) if p is not None]


def _on_rolls(result: Result) -> tuple[np.ndarray, np.ndarray]:
    """Return the places of a slab with rolls, a shell and a liquid core [m], and the roll pitch there [m]."""
    z, length = result.distance, _last_liquid(result)
    places, pitches = [np.empty(0)], [np.empty(0)]
    for zone, pitch in slab_rolls(result):
        end = min(zone.end, length)
        if end > zone.start:
            inner = z[z.searchsorted(zone.start, "right") : z.searchsorted(end)]
            places += [np.array([zone.start]), inner, np.array([end])]
            pitches.append(np.full(len(inner) + 2, pitch))
    place, pitch_there = np.concatenate(places), np.concatenate(pitches)
    shell = solid_shell(result, place) > 0
    return place[shell], pitch_there[shell]


def bulging_at(result: Result, place: np.ndarray, pitch: np.ndarray) -> np.ndarray:
    """Return the bulging at some places, loose side [m]."""
    pressure = strain.ferrostatic_pressure(strain.head(place, *_arcs(result)))
    surface = np.interp(place, result.distance, result.surface_temperature[0])
    return strain.bulging(
        pressure, pitch, solid_shell(result, place), surface, result.steel.solidus, result.case.speed
    )


def solid_shell(result: Result, place: np.ndarray) -> np.ndarray:
    """Return the solid shell (solid fraction 1.0) at some places, loose side [m]."""
    return np.interp(place, result.distance, result.shell_thickness[0, result.fraction_index(1.0)])


def bulging(result: Result, resolve: Resolve) -> Measure | None:
    """Largest bulging between rolls above a liquid core [mm]; nothing but for a slab with roll pitches."""
    place, pitch = _on_rolls(result)
    if not len(place):
        return None
    deflection = bulging_at(result, place, pitch)
    i = int(np.argmax(deflection))
    return Measure(float(deflection[i]) / MM, _place(result, float(place[i])), note="formula from memory")


def straightening_radii(result: Result) -> list[tuple[float, float, float]]:
    """Return each straightening point and the radius of the neutral axis before and after it [m]."""
    machine, half = result.case.machine, result.half_thickness
    if machine.radius_m is None or machine.radius_after_m is None:
        return []
    radii = [r - half for r in (machine.radius_m, *machine.radius_after_m)]
    return [(z, *pair) for z, pair in zip(result.case.straightener, pairwise(radii), strict=True)]


def strain_front(result: Result, resolve: Resolve) -> Measure | None:
    """Largest strain at the freezing front [%]; nothing without the radius after each straightening point."""
    points = straightening_radii(result)
    if not points:
        return None
    rolls, length = slab_rolls(result), _last_liquid(result)
    found = [(0.0, "nowhere, solid before the straightener")]
    place, pitch = _on_rolls(result)
    if len(place):
        strains = roll_strain(result, place, pitch)
        i = int(np.argmax(strains))
        found.append((float(strains[i]), _place(result, float(place[i]))))
    soft = [point for point in points if point[0] < length]
    if soft:
        z, before, after = np.array(soft).T
        strains = strain.straightening_strain(result.half_thickness - solid_shell(result, z), before, after)
        if rolls:
            own = [next((p for zone, p in rolls if zone.start <= at < zone.end), math.nan) for at in z]
            strains = strains + np.nan_to_num(roll_strain(result, z, np.array(own)))
        i = int(np.argmax(strains))
        found.append((float(strains[i]), f"{z[i]:.2f} m, straightening point {i + 1} of {len(points)}"))
    value, where = max(found, key=lambda f: f[0])
    note = "formulas from memory" if rolls else "straightening alone: no roll pitch of a slab is given"
    return Measure(100.0 * value, where, note=note)


def roll_strain(result: Result, place: np.ndarray, pitch: np.ndarray) -> np.ndarray:
    """Return the strain at the front from bulging and one roll out of line [1]."""
    shell = solid_shell(result, place)
    bulged = strain.bulging_strain(bulging_at(result, place, pitch), pitch, shell)
    return bulged + strain.misalignment_strain(ROLL_ERROR, pitch, shell)


def strain_surface(result: Result, resolve: Resolve) -> Measure | None:
    """Largest strain of the surface at one straightening point [%]; nothing without the radii."""
    points = straightening_radii(result)
    if not points:
        return None
    z, before, after = np.array(points).T
    strains = strain.straightening_strain(result.half_thickness, before, after)
    i = int(strains.argmax())
    return Measure(100.0 * float(strains[i]), f"{z[i]:.2f} m, straightening point {i + 1} of {len(points)}")


def specific_water(result: Result, resolve: Resolve) -> Measure:
    """Spray water per mass of steel [L/kg]."""
    value = float(result.summary["specific_water"])
    reason = "the water of a zone is not given" if math.isnan(value) else ""
    return Measure(value, "all zones", reason=reason)


MEASURES: dict[str, Callable[[Result, Resolve], Measure | None]] = {
    f.__name__: f
    for f in (
        shell_floor,
        strength_floor,
        hot_strength,
        last_liquid_support,
        last_liquid_cutoff,
        straightener_surface,
        mould_flux_window,
        mould_flux_deviation,
        mould_water_rise,
        mould_water_velocity,
        copper_hot_face,
        negative_strip,
        superheat_window,
        dwell,
        liquid_core_straightener,
        reheating_rate,
        reheating_total,
        cooling_rate,
        surface_ceiling,
        zone_jump,
        bulging,
        strain_front,
        strain_surface,
        specific_water,
    )
}
"""Limit name to the function that measures it; a function that returns nothing means: does not apply here."""
