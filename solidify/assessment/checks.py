"""What each limit is compared with, from strands side by side: one function a limit, in the limit's plant unit."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise

import numpy as np

from solidify.assessment import strain, strength
from solidify.assessment.ductility import case_ductility, outside_trough
from solidify.assessment.limits import Limit, Setting, strand_setting
from solidify.assessment.rolls import OnRolls, on_rolls, roll_strains, slab_rolls, solid_shell
from solidify.strand.profiles import crossing, highest, largest_rise, read_at
from solidify.strand.result import Result
from solidify.strand.result_batch import Results
from solidify.units import MM, MW

__all__ = [
    "MEASURES",
    "Measure",
    "Resolve",
    "Words",
    "mould_exit_profiles",
    "reserve_rule",
    "setting_of",
    "straightening_radii",
]

Resolve = Callable[..., Limit]
"""Returns the limit as it applies, ``resolve(place="")``."""

ZONE_MEAN = "zone mean; rolls and jets swing more"
"""What is to be known of a swing of the surface that was computed with the mean cooling of each zone."""

Words = str | Callable[[int], str]
"""What is said of each strand: the same of all, or what the function returns for one of them by its number."""


@dataclass(frozen=True)
class Measure:
    """What was found for one limit; words are put together only for a strand that is looked at.

    Parameters
    ----------
    value : ndarray, shape (strand,)
        In the unit of the limit; NaN when not known, infinite when the strand never gets there.
    where : Words
        Where on the strand.
    reason : str
        Why the value of a strand is NaN, if that can be said.
    note : Words
        What the value rests on.
    margin : ndarray, shape (strand,), optional
        Signed room, where it is not the plain difference to the limit; NaN where it is.
    room : Words
        The room in words, where they are not those of the margin.
    rules : tuple of Limit
        Where the limit depends on the place: those that it can be.
    rule : ndarray of int, shape (strand,), optional
        Which of several `rules` holds for each strand.
    optional : bool
        Whether a strand without a value is one that the limit does not apply to.
    """

    value: np.ndarray
    where: Words = ""
    reason: str = ""
    note: Words = ""
    margin: np.ndarray | None = None
    room: Words = ""
    rules: tuple[Limit, ...] = ()
    rule: np.ndarray | None = None
    optional: bool = False


def setting_of(strand: Result | Results) -> Setting:
    """Return what the limits of a strand, or of strands side by side, depend on.

    Parameters
    ----------
    strand : Result or Results
        What was marched.

    Returns
    -------
    Setting
    """
    given = strand.case.section
    section = given.shape, strand.thickness, strand.width
    return strand_setting(section, strand.steel, strand.case.mould.lubricant, given.product)


def _unknown(results: Results, reason: str, where: Words = "", rules: tuple[Limit, ...] = ()) -> Measure:
    """Return that nothing is known of any strand, and why."""
    return Measure(np.full(len(results), math.nan), where, reason, rules=rules)


def _exit(results: Results) -> str:
    return f"{results.working_length:.2f} m, mould exit"


def _side(results: Results, side: int) -> str:
    """Name the side when there are two."""
    return f", {results.sides[side]} side" if len(results.sides) > 1 else ""


def _place(results: Results, start: float, end: float | None = None, side: int = 0) -> str:
    """Say where: distances, the stretch, the side when there are two."""
    zone = next((z for z in results.zones if z.start - 1e-9 <= start < z.end), results.zones[-1])
    span = f"{start:.2f} m" if end is None else f"{start:.2f}-{end:.2f} m"
    return f"{span}, {zone.name}{_side(results, side)}"


def _point(results: Results, i: int) -> str:
    """Name a straightening point."""
    points = results.straightener
    return f"{points[i]:.2f} m, straightening point {i + 1} of {len(points)}"


def _of_side(values: np.ndarray, side: np.ndarray) -> np.ndarray:
    """Return what belongs to one side of each strand, of an array (strand, side)."""
    return values[np.arange(len(values)), side]


def _mean_shell(results: Results) -> tuple[np.ndarray, Words]:
    """Return the mean shell at mould exit at solid fraction 0.7, thinner side [mm], and where."""
    shells = results.exit_shells[..., results.fraction_index(0.7)]
    thin = shells.argmin(axis=1)
    return shells.min(axis=1) / MM, lambda i: _exit(results) + _side(results, thin[i])


def shell_floor(results: Results, resolve: Resolve) -> Measure:
    """Mean shell at mould exit [mm]."""
    return Measure(*_mean_shell(results))


def strength_floor(results: Results, resolve: Resolve) -> Measure:
    """Thinnest shell at mould exit, mean times unevenness [mm]."""
    shell, where = _mean_shell(results)
    factor = resolve().factor
    return Measure(
        shell * factor,
        where,
        note=lambda i: f"{shell[i]:.1f} mm mean × {factor:g} for an uneven shell (practice)",
    )


def hot_strength(results: Results, resolve: Resolve) -> Measure:
    """Tension that the thinnest shell at mould exit carries, over the pull of the liquid's head [1]."""
    found = _exit_strength(results, strength.TENSION_RATE)
    if found is None:
        return _unknown(results, _WANTS_PHASES, _exit(results))
    tension, side = found[0].min(axis=1), found[0].argmin(axis=1)
    pressure, note = _exit_pressure(results, factor := resolve().factor)
    shape = results.case.section.shape
    span = results.width if shape == "rectangle" else results.thickness
    return Measure(
        strength.tension_safety(factor * tension, pressure, span),
        lambda i: _exit(results) + _side(results, side[i]),
        note=note,
    )


def face_strength(results: Results, resolve: Resolve) -> Measure | None:
    """Pressure that the flat faces at mould exit carry, over that of the liquid [1]; nothing for a round."""
    shape, factor = results.case.section.shape, resolve().factor
    if shape == "round":
        return None
    found = _exit_strength(results, strength.BENDING_RATE)
    if found is None:
        return _unknown(results, _WANTS_PHASES, _exit(results))
    tension, moment = (values.min(axis=1) for values in found)
    pressure, note = _exit_pressure(results, factor)
    thinned, width, pitch = factor**2 * moment, results.width, results.case.zone[0].roll_pitch_m
    rolls = None if pitch is None else strength.bending_safety(thinned, thinned, pressure, pitch)
    if shape == "slab":
        pulled = strength.tension_safety(factor * tension, pressure, width)
        ways = {"narrow face, in tension": pulled}
        ways |= {} if rolls is None else {"wide face, between the foot rolls": rolls}
        note += "; wide face: no roll_pitch_m in the first zone, no support known" if rolls is None else ""
    else:
        corners = strength.bending_safety(thinned, moment, pressure, width)
        held = corners if rolls is None else np.maximum(corners, rolls)
        ways = {f"face of {width / MM:.0f} mm, between its corners": held}
    values = np.array(list(ways.values()))
    worst = values.argmin(axis=0)
    return Measure(values.min(axis=0), lambda i: f"{_exit(results)}, {list(ways)[worst[i]]}", note=note)


_WANTS_PHASES = "the hot strength wants a composition"


def _exit_strength(results: Results, rate: float) -> tuple[np.ndarray, np.ndarray] | None:
    """Return tension [N/m] and moment [N] of the mean shell at mould exit, (strand, side); None without phases."""
    steel = results.steel
    carbon, delta = steel.composition.get("C", math.nan), steel.phases.get("delta")
    if math.isnan(carbon) or delta is None:
        return None
    hot = strength.hot_strength(steel.temperature, steel.solid_fraction, delta, carbon, rate)
    sides = [strength.shell_strength(x, t, hot) for x, t in mould_exit_profiles(results)]
    tension, moment = (np.stack(values, axis=1) for values in zip(*sides, strict=True))
    return tension, moment


def _exit_pressure(results: Results, factor: float) -> tuple[float, str]:
    """Return the pressure of the liquid at mould exit [Pa], and what the strength rests on."""
    head = float(strain.head(results.working_length, *results.course))
    pressure = float(strain.ferrostatic_pressure(head))
    basis = f"mean × {factor:g} for an uneven shell (practice), delta ferrite from memory"
    return pressure, f"{head:.2f} m of liquid steel, {pressure / 1e3:.0f} kPa; {basis}"


def mould_exit_profiles(results: Results) -> list[tuple[np.ndarray, np.ndarray]]:
    """Return depth from its surface [m] and temperatures at mould exit (strand, depth) [degC], a side at a time."""
    depth, temperature = results.depth, results.exit_temperature
    if len(results.sides) == 1:
        return [(depth, temperature)]
    near = depth <= results.half_thickness * (1 + 1e-9)
    return [
        (depth[near], temperature[:, near]),
        (results.thickness - depth[~near][::-1], temperature[:, ~near][:, ::-1]),
    ]


def last_liquid_support(results: Results, resolve: Resolve) -> Measure | None:
    """End of solidification over the distance to the last support [%]; nothing where a strand supports itself."""
    if resolve().reason:
        return None
    length, support = results.last_liquid, results.case.support_end

    def where(i: int) -> str:
        last = f"{support:.1f} m"
        return f"{last}, last support" if np.isinf(length[i]) else f"{length[i]:.1f} m, last support {last}"

    slab = results.case.section.shape == "slab"
    return Measure(100.0 * length / support, where, note=_OFF_CENTRE if slab else "", room=_beyond(length))


_OFF_CENTRE = (
    "mid-face: nails showed longer pools at 1/8 and 1/4 of the width of a slab, which the room has to cover"
)


def last_liquid_cutoff(results: Results, resolve: Resolve) -> Measure:
    """Solid length before the cut-off [m]."""
    length, cutoff = results.last_liquid, results.case.cutoff

    def where(i: int) -> str:
        last = f"{cutoff:.1f} m"
        return f"{last}, cut-off" if np.isinf(length[i]) else f"{length[i]:.1f} m, cut-off {last}"

    return Measure(cutoff - length, where, room=_beyond(length))


def cutoff_reserve(results: Results, resolve: Resolve) -> Measure:
    """Solid length before the cut-off [m], against a length or a share of the distance to the cut-off."""
    rule = reserve_rule(resolve(), results.case.cutoff)
    return replace(last_liquid_cutoff(results, resolve), rules=(rule,))


def reserve_rule(rule: Limit, cutoff: float) -> Limit:
    """Return a limit that is a share of the distance to the cut-off at the least.

    Parameters
    ----------
    rule : Limit
        As it ships, or the user's own, which has no share.
    cutoff : float
        From the meniscus [m].

    Returns
    -------
    Limit
    """
    return replace(rule, lower=max(rule.lower, round(0.01 * rule.cutoff_percent * cutoff, 1)))


def _beyond(length: np.ndarray) -> Words:
    return lambda i: "beyond the cut-off" if np.isinf(length[i]) else ""


def straightener_surface(results: Results, resolve: Resolve) -> Measure:
    """Loose-side surface over the straightening points, all of it to lie outside the ductility trough [degC].

    The lowest counts where the strand is straightened hot, above the trough; the highest where it is wholly below.
    """
    trough = case_ductility(results.case, setting_of(results), results.steel.composition)
    rule = outside_trough(resolve(), trough)
    points = results.straightener
    if not points:
        return _unknown(results, "no straightening points are given", rules=(rule,))
    surfaces = read_at(results.distance, results.surface_temperature[:, 0], points)
    worst, margin = surfaces.argmin(axis=1), None
    if rule.sense == "outside":
        above, below = surfaces.min(axis=1) - rule.upper, rule.lower - surfaces.max(axis=1)
        margin = np.maximum(above, below)
        worst = np.where(above >= below, worst, surfaces.argmax(axis=1))
    return Measure(
        _of_side(surfaces, worst),
        lambda i: _point(results, worst[i]) + ", loose side",
        margin=margin,
        rules=(rule,),
    )


def mould_flux_window(results: Results, resolve: Resolve) -> Measure:
    """Mean mould heat flux [MW/m2]."""
    measured = results.flux_measured
    return Measure(
        results.mould["mean_flux"] / MW, "mould", note=lambda i: "" if measured[i] else "flux not measured"
    )


def mould_flux_deviation(results: Results, resolve: Resolve) -> Measure:
    """Mean mould heat flux against normal [%]."""
    normal = results.mould["expected_mean_flux"]
    return Measure(
        100.0 * (results.mould["mean_flux"] / normal - 1.0),
        "mould",
        "what this plant calls normal is not given",
        lambda i: "" if np.isnan(normal[i]) else f"normal {normal[i] / MW:.2f} MW/m²",
    )


def mould_exit_surface(results: Results, resolve: Resolve) -> Measure:
    """Surface at mould exit, the hotter side [degC]."""
    surfaces = read_at(results.distance, results.surface_temperature, results.working_length)
    side, most, value = surfaces.argmax(axis=1), resolve().upper, surfaces.max(axis=1)
    flux = np.where(results.flux_measured, "the flux given", "the handbook flux")
    return Measure(
        value,
        lambda i: _exit(results) + _side(results, side[i]),
        note=lambda i: f"{flux[i]} is hard to believe" if value[i] > most else "",
    )


def mould_reheating(results: Results, resolve: Resolve) -> Measure:
    """Largest rise of the surface inside the mould [K]."""
    rises, low, high = largest_rise(
        results.distance, results.surface_temperature, 0.0, results.working_length
    )
    side, most = rises.argmax(axis=1), resolve().upper
    rise, low, high = (_of_side(values, side) for values in (rises, low, high))

    def where(i: int) -> str:
        return f"{low[i]:.2f}-{high[i]:.2f} m, mould{_side(results, side[i])}" if rise[i] > 0 else "mould"

    return Measure(
        rise, where, note=lambda i: "the flux given falls too fast towards the exit" if rise[i] > most else ""
    )


def mould_water_rise(results: Results, resolve: Resolve) -> Measure:
    """Rise of the mould water [K]; nothing when it is not given."""
    return Measure(results.mould["water_rise"], "mould", optional=True)


def mould_water_velocity(results: Results, resolve: Resolve) -> Measure:
    """Velocity of the mould water in its gap or slots [m/s]; nothing where their cross-section is not known."""
    return Measure(results.mould["water_velocity"], "mould", optional=True)


def copper_hot_face(results: Results, resolve: Resolve) -> Measure:
    """Hot face of the copper [degC], an estimate; nothing without wall, gap and flow."""
    face = results.mould["copper_hot_face"]
    return Measure(face, "mould, near the meniscus", note="estimate for a clean wall", optional=True)


def negative_strip(results: Results, resolve: Resolve) -> Measure:
    """Negative strip time [ms]; nothing without an oscillation."""
    return Measure(1e3 * results.mould["negative_strip_time"], "mould", optional=True)


def superheat_window(results: Results, resolve: Resolve) -> Measure:
    """Superheat in the tundish [K]."""
    return Measure(results.superheat, "tundish")


def dwell(results: Results, resolve: Resolve) -> Measure:
    """Time in the mould [s]."""
    return Measure(results.mould["dwell"], "mould")


def liquid_core_straightener(results: Results, resolve: Resolve) -> Measure:
    """Centre solid fraction at the first straightening point [1].

    A solid centre cannot be more than solid, so its room is counted along the strand: the close width stands
    for the stretch over which the centre froze through the last of it.
    """
    if not results.straightener:
        return _unknown(results, "no straightening points are given")
    point, where = results.straightener[0], _point(results, 0)
    value = read_at(results.distance, results.centre_solid_fraction, point)
    rule, length = resolve(), results.last_liquid
    if rule.lower != 1.0:
        return Measure(value, where)
    solid = length <= point
    stretch = length - crossing(results.distance, results.centre_solid_fraction, 1.0 - rule.close)
    room = np.where(solid, rule.close * (point - length), math.nan)
    margin = np.where(solid & ~(stretch > 0), math.inf, room / np.where(stretch > 0, stretch, 1.0))
    return Measure(
        np.where(solid, 1.0, value),
        where,
        margin=margin,
        room=lambda i: f"{point - length[i]:.1f} m room" if solid[i] else "",
    )


def reheating_rate(results: Results, resolve: Resolve) -> Measure:
    """Steepest rise of the surface over 0.5 m below the mould [K/m]."""
    return _steepest(results, *results.steepest_rise)


def cooling_rate(results: Results, resolve: Resolve) -> Measure:
    """Steepest fall of the surface over 0.5 m below the foot rolls [K/m]."""
    points = results.straightener
    if resolve().until == "straightener" and points:
        return _steepest(results, *results.steepest_fall_to(points[0]))
    return _steepest(results, *results.steepest_fall)


def _steepest(results: Results, rates: np.ndarray, places: np.ndarray) -> Measure:
    side = rates.argmax(axis=1)
    start = _of_side(places, side)
    return Measure(
        np.maximum(_of_side(rates, side), 0.0),
        lambda i: "" if np.isnan(start[i]) else _place(results, start[i], start[i] + 0.5, side[i]),
        "no 0.5 m of strand to look at",
        ZONE_MEAN,
    )


def reheating_total(results: Results, resolve: Resolve) -> Measure:
    """Largest rise of the surface from a local minimum to the next maximum below the mould [K]."""
    rises, low, high = results.largest_rise
    side = rises.argmax(axis=1)
    rise, low, high = (_of_side(values, side) for values in (rises, low, high))
    return Measure(
        rise,
        lambda i: _place(results, low[i], high[i], side[i]) if rise[i] > 0 else "nowhere",
        note=ZONE_MEAN,
    )


def surface_ceiling(results: Results, resolve: Resolve) -> Measure:
    """Highest surface below the foot rolls [degC]."""
    start, end = results.foot_rolls_end, results.case.cutoff
    values, places = highest(results.distance, results.surface_temperature, start, end)
    side = values.argmax(axis=1)
    place = _of_side(places, side)
    return Measure(_of_side(values, side), lambda i: _place(results, place[i], side=side[i]))


def zone_jump(results: Results, resolve: Resolve) -> Measure:
    """Ratio of the mean heat fluxes of two neighbouring zones, the pair with the least room [1]."""
    rules = resolve("first zone"), resolve()
    pairs = _pairs(tuple(z.kind for z in results.zones))
    if not len(pairs):
        return _unknown(results, _NO_PAIR)
    flux = results.mean_flux.transpose(0, 2, 1)  # (strand, zone, side): the worst is sought pair by pair
    q0, q1 = flux[:, pairs[:, 0]], flux[:, pairs[:, 1]]
    known = (q0 > 0) & (q1 > 0)
    q0, q1 = np.where(known, q0, 1.0), np.where(known, q1, 1.0)
    ratio = np.maximum(q0 / q1, q1 / q0)
    most = np.full((len(pairs), 1), rules[1].upper)
    most[0] = rules[0].upper
    room = np.where(known, most - ratio, math.inf).reshape(len(results), -1)
    worst = room.argmin(axis=1)
    found = np.where(np.isinf(room.min(axis=1)), math.nan, _of_side(ratio.reshape(room.shape), worst))

    def where(i: int) -> str:
        if np.isnan(found[i]):
            return ""
        pair, side = divmod(int(worst[i]), len(results.sides))
        before, after = (results.zones[k] for k in pairs[pair])
        return f"{before.end:.2f} m, {before.name} to {after.name}{_side(results, side)}"

    later = (worst >= len(results.sides)) | np.isnan(found)
    return Measure(found, where, _NO_PAIR, ZONE_MEAN, rules=rules, rule=later.astype(int))


@lru_cache(maxsize=64)
def _pairs(kinds: tuple[str, ...]) -> np.ndarray:
    """Return each two neighbouring zones, shape (pair, 2)."""
    return np.array(list(pairwise(i for i, kind in enumerate(kinds) if kind == "zone")))


_NO_PAIR = "there are no two zones to compare"


def bulging(results: Results, resolve: Resolve) -> Measure:
    """Largest bulging between rolls above a liquid core [mm]; nothing but for a slab with roll pitches."""
    rolls = results.once(on_rolls)
    if rolls is None:
        return Measure(np.full(len(results), math.nan), optional=True)
    worst = _worst(rolls.deflection)
    deflection, place = (
        _of_side(values, worst) / unit for values, unit in ((rolls.deflection, MM), (rolls.place, 1))
    )
    reach = resolve().reach

    def note(i: int) -> str:
        if deflection[i] > reach:
            return _on_rolls_words(results, rolls, i, worst[i])
        return f"formula from memory, good to a factor of 2: {deflection[i] / 2:.2f} to {deflection[i] * 2:.2f} mm"

    return Measure(deflection, lambda i: _place(results, place[i]), note=note, optional=True)


def _worst(values: np.ndarray) -> np.ndarray:
    """Return where the largest value of each strand stands on its rolls; the first where there is none."""
    return np.where(np.isnan(values), -math.inf, values).argmax(axis=1)


def _on_rolls_words(results: Results, rolls: OnRolls, i: int, k: int) -> str:
    """Say what in the input takes a strand out of the model at one place on its rolls."""
    head = float(strain.head(rolls.place[i, k], *results.course))
    return (
        f"outside the model: {rolls.shell[i, k] / MM:.1f} mm of solid shell between rolls "
        f"{rolls.pitch[i, k]:g} m apart (roll_pitch_m) under {head:.1f} m of steel"
    )


def straightening_radii(results: Results) -> np.ndarray:
    """Return each straightening point, and the radius of the neutral axis before and after it [m], shape (3, point)."""
    machine = results.case.machine
    return _radii(results.straightener, machine.radius_m, machine.radius_after_m, results.half_thickness)


@lru_cache(maxsize=64)
def _radii(
    points: tuple[float, ...], radius: float | None, after: tuple[float, ...] | None, half: float
) -> np.ndarray:
    if radius is None or after is None:
        return np.empty((3, 0))
    radii = [r - half for r in (radius, *after)]
    return np.array([(z, *pair) for z, pair in zip(points, pairwise(radii), strict=True)]).reshape(-1, 3).T


def strain_front(results: Results, resolve: Resolve) -> Measure | None:
    """Largest strain at the freezing front [%]; nothing without the radius after each straightening point.

    It is the sum of unbending, bulging and misalignment, which are told apart in the note.
    """
    z, before, after = straightening_radii(results)
    if not len(z):
        return None
    rolls, length = slab_rolls(results), results.last_liquid
    bent = strain.straightening_strain(results.half_thickness - solid_shell(results, z), before, after)
    pressed = [np.zeros_like(bent)] * 2
    if rolls:
        own = [next((p for zone, p in rolls if zone.start <= at < zone.end), math.nan) for at in z]
        pressed = [np.nan_to_num(part) for part in roll_strains(results, z, np.array(own))]
    at_points = [np.where(z < length[:, None], bent + sum(pressed), math.nan), bent, *pressed]
    none = np.zeros(len(results))
    kinds, place = [np.zeros((4, len(results))), _largest(at_points)], none
    borne = results.once(on_rolls)
    if borne is not None:
        bulged, misaligned = borne.strains
        kinds.insert(1, _largest([bulged + misaligned, np.zeros_like(bulged), bulged, misaligned]))
        worst = _worst(bulged + misaligned)
        place = _of_side(borne.place, worst)
    point = _worst(at_points[0])
    found = 100.0 * np.array(kinds)
    kind = found[:, 0].argmax(axis=0)
    value, *apart = found[kind, :, np.arange(len(results))].T
    reach = resolve().reach

    def where(i: int) -> str:
        if kind[i] == 0:
            return "nowhere, solid before the straightener"
        return _point(results, int(point[i])) if kind[i] == len(kinds) - 1 else _place(results, place[i])

    def note(i: int) -> str:
        if kind[i] == 0:
            return ""
        if value[i] > reach and borne is not None and kind[i] == 1:
            return _on_rolls_words(results, borne, i, int(worst[i]))
        unbent, bulged, misaligned = (part[i] for part in apart)
        said = f"unbending {unbent:.2f} %, bulging {bulged:.2f} %, misalignment {misaligned:.2f} %"
        if not rolls:
            return f"{said}; straightening alone: no roll pitch of a slab is given"
        low, high = value[i] - 0.5 * bulged, value[i] + bulged
        return f"{said}; formulas from memory, bulging good to a factor of 2: {low:.2f} to {high:.2f} %"

    return Measure(value, where, note=note)


def _largest(strains: Sequence[np.ndarray]) -> np.ndarray:
    """Return the largest of the first of several strains (strand, place), and the others at that place."""
    worst = _worst(strains[0])
    found = np.array([_of_side(part, worst) for part in strains])
    return np.where(np.isnan(found[0]), -math.inf, found)


def strain_surface(results: Results, resolve: Resolve) -> Measure | None:
    """Largest strain of the surface at one straightening point [%]; nothing without the radii."""
    z, before, after = straightening_radii(results)
    if not len(z):
        return None
    strains = strain.straightening_strain(results.half_thickness, before, after)
    worst = int(strains.argmax())
    return Measure(np.full(len(results), 100.0 * strains[worst]), _point(results, worst))


def specific_water(results: Results, resolve: Resolve) -> Measure:
    """Spray water per mass of steel [L/kg]."""
    return Measure(results.summary["specific_water"], "all zones", "the water of a zone is not given")


MEASURES: dict[str, Callable[[Results, Resolve], Measure | None]] = {
    f.__name__: f
    for f in (
        shell_floor,
        strength_floor,
        hot_strength,
        face_strength,
        last_liquid_support,
        last_liquid_cutoff,
        cutoff_reserve,
        straightener_surface,
        mould_flux_window,
        mould_flux_deviation,
        mould_exit_surface,
        mould_reheating,
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
