"""Primary cooling: the mould of a case, its flux law, panel, copper, oscillation and taper."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np

from solidify.case import Case
from solidify.errors import Notice
from solidify.heat import mould
from solidify.solver.boundary import BoundaryCondition
from solidify.sources import load_data
from solidify.steel import Steel
from solidify.strand.result import MouldResult
from solidify.strand.stacking import Number, plain, renewed, stack_numbers, uniform
from solidify.units import KW, L_PER_MIN, MINUTE, MM, MW

__all__ = ["MouldLaw", "stack_laws", "mould_faces", "mould_law", "mould_result", "with_taper"]

_NUMBERS = (
    "mean_flux",
    "exit_flux",
    "dwell",
    "expected_mean_flux",
    "water_rise",
    "water_velocity",
    "copper_hot_face",
    "negative_strip_time",
    "negative_strip_ratio",
    "mould_speed_ratio",
    "mark_pitch",
)
"""Fields of a mould result that moulds side by side may differ in."""

_root_law = lru_cache(maxsize=256)(mould.law_from_mean)
_decay_law = lru_cache(maxsize=256)(mould.decay_from_mean)
_fitted_law = lru_cache(maxsize=256)(mould.decay_from_means)
_measured = lru_cache(maxsize=256)(mould.mean_flux_from_water)


@dataclass(frozen=True)
class MouldLaw:
    """The flux law of a mould and what to say of it.

    Parameters
    ----------
    law : FluxLaw
        What acts, the factor included.
    origin : str
        As in `solidify.strand.result.MouldResult`.
    notices : tuple of Notice
        What a reader should know of its origin.
    sources : tuple of str
        Bibliography keys of the relations used.
    normal : FluxLaw, optional
        The law at the mean flux that the plant calls normal.
    """

    law: mould.FluxLaw
    origin: str
    notices: tuple[Notice, ...]
    sources: tuple[str, ...]
    normal: mould.FluxLaw | None = None


def mould_law(case: Case, steel: Steel) -> MouldLaw:
    """Find the mould's law in time.

    Parameters
    ----------
    case : Case
        A checked case.
    steel : Steel
        Its steel, for the carbon factor of the handbook relation.

    Returns
    -------
    MouldLaw

    Raises
    ------
    InputError
        If no law can have the mean flux.
    """
    given = case.mould
    if given.heat_flux_law is not None:
        a, b = given.heat_flux_law.a_kW_per_m2, given.heat_flux_law.b_kW_per_m2_per_sqrt_s
        found = MouldLaw(mould.law_from_coefficients(a * KW, b * KW), "law", (), ("savage_pritchard_1954",))
    else:
        found = _found(case, steel)
    expected, normal = given.expected_mean_heat_flux_MW_per_m2, None
    if expected is not None:
        ratio, _ = _carried_to_steel(case, steel)
        n = float(found.law.exponent) if given.mean_heat_flux_at_speed else None
        mean = expected * MW * ratio
        normal = _law_of(case, steel, mean, _dwell_measured(case), n, "expected mean mould heat flux")
    return replace(found, law=found.law.scaled(given.heat_flux_factor), normal=normal)


def _found(case: Case, steel: Steel) -> MouldLaw:
    """Find the law over age from what is known of the mould's heat."""
    given = case.mould
    notices: list[Notice] = []
    used = _DECAY_SOURCES if given.profile == "decay" else ("savage_pritchard_1954",)
    if given.mean_heat_flux_at_speed is not None:
        ratio, told = _carried_to_steel(case, steel)
        law, difference = _law_of_means(case, steel, ratio)
        text = (
            f"flux decays with the age to the power of {law.exponent:.2f}, fitted to the means over the speed"
        )
        if given.decay_exponent is not None:
            text = f"means over the speed fitted with the power {law.exponent:.2f} given"
        text += f"; largest difference from a mean {100.0 * difference:.0f} %"
        low, high = given.mean_heat_flux_at_speed[0][0], given.mean_heat_flux_at_speed[-1][0]
        if not low <= case.casting.speed_m_per_min <= high:
            text += f"; carried beyond the {low:g} to {high:g} m/min of the means by the same law over age"
        return MouldLaw(law, "means over speed", (Notice(text, "mould"), *told), used)
    if given.mean_heat_flux_MW_per_m2 is not None:
        mean, origin = given.mean_heat_flux_MW_per_m2 * MW, "mean flux"
    elif given.water_rise_K is not None:
        mean, origin = _panel_flux(case, given.water_rise_K), "panel"
    elif given.face_water_rise_K is not None:
        fluxes = _face_fluxes(case)
        mean, origin = 0.5 * (fluxes["loose"] + fluxes["fixed"]), "panel"
        uneven = abs(fluxes["loose"] - fluxes["fixed"]) / mean
        if uneven > load_data("mould.toml")["panel"]["uneven"]:
            text = (
                f"the fluxes of the two wide faces differ by {100 * uneven:.0f} %; the slice takes their mean"
            )
            notices.append(Notice(text, "mould"))
    else:
        return _of_handbook(case, steel)
    ratio, told = _carried_to_steel(case, steel)
    measured, speed = given.measured_at_speed_m_per_min, case.casting.speed_m_per_min
    law = _law_of(case, steel, mean * ratio, _dwell_measured(case))
    if measured is not None and abs(measured / speed - 1.0) > _CARRIED:
        text = (
            f"mean heat flux measured at {measured:g} m/min, carried to this speed by the same law over age"
        )
        notices.append(Notice(text, "mould"))
    return MouldLaw(law, origin, (*notices, *told), used)


def _of_handbook(case: Case, steel: Steel) -> MouldLaw:
    """Find the law that has the mean of a handbook relation at the speed of the case."""
    given, dwell = case.mould, case.working_length / case.speed
    name = given.handbook_relation or mould.default_relation(case.section.shape, given.lubricant)
    powder = {
        "viscosity": given.powder_viscosity_Pa_s,
        "melting_temperature": given.powder_melting_temperature_C,
    }
    mean = float(mould.handbook_mean_flux(dwell, given.lubricant, name, speed=case.speed, **powder))
    notices = mould.handbook_notices(dwell, given.lubricant, name, speed=case.speed)
    peak, least = None, mean / load_data("mould.toml")["decay"]["room"]
    if given.peak_heat_flux_MW_per_m2 is None and given.profile == "decay" and least > _peak(case):
        peak = least
        text = f"the mean of the handbook relation needs a peak of {peak / MW:.2f} MW/m2 below the meniscus"
        notices = (*notices, Notice(text, "mould"))
    mean *= _carbon_factor(steel.carbon_equivalent, given.lubricant)
    law = _law_of(case, steel, mean, dwell, mould.handbook_exponent(name), peak=peak)
    used: tuple[str, ...] = (str(load_data("mould.toml")["mean"][name]["source"]),)
    used += _DECAY_SOURCES[1:] if given.profile == "decay" else ()
    return MouldLaw(law, "handbook", notices, used)


_DECAY_SOURCES = ("wolf_mean_flux", "mould_peak_flux")
"""What a power of the age and its peak rest on."""

_CARRIED = 1e-9
"""Relative difference of two speeds from which a flux counts as carried from one to the other [1]."""

_SAME_STEEL = 1e-9
"""Difference of the equivalent carbon from which two steels count as different [mass %]."""


def _carbon_factor(carbon: float, lubricant: str) -> float:
    """Return the factor of the peritectic dip; 1 where the equivalent carbon is not known."""
    return float(mould.carbon_factor(carbon, lubricant)) if math.isfinite(carbon) else 1.0


def _carried_to_steel(case: Case, steel: Steel) -> tuple[float, tuple[Notice, ...]]:
    """Return the factor that carries a measured flux to the steel of the case, and what is said of it."""
    then, now = case.mould.measured_at_carbon_equivalent_percent, steel.carbon_equivalent
    if then is None or not math.isfinite(now) or abs(now - then) < _SAME_STEEL:
        return 1.0, ()
    ratio = _carbon_factor(now, case.mould.lubricant) / _carbon_factor(then, case.mould.lubricant)
    if abs(ratio - 1.0) < 0.5e-3:
        return ratio, ()
    text = (
        f"mean heat flux measured on a steel of {then:.3f} % equivalent carbon, carried to {now:.3f} % by the "
        f"carbon factor: times {ratio:.3f}"
    )
    return ratio, (Notice(text, "mould"),)


def _peak(case: Case) -> float:
    """Return the local flux that is not exceeded [W m-2]."""
    given = case.mould.peak_heat_flux_MW_per_m2
    return (
        mould.default_peak(case.section.shape, case.thickness, case.mould.lubricant)
        if given is None
        else given * MW
    )


def _form(case: Case, steel: Steel) -> tuple[float, float]:
    """Return carbon factor and early share of the dip, as the laws take them."""
    share = case.mould.peritectic_early_share
    early = load_data("mould.toml")["dip"]["early_share"] if share is None else share
    return _carbon_factor(steel.carbon_equivalent, case.mould.lubricant), early


def _law_of(
    case: Case,
    steel: Steel,
    mean: float,
    dwell: float,
    exponent: float | None = None,
    where: str = "mean mould heat flux",
    peak: float | None = None,
) -> mould.FluxLaw:
    """Return the law with a mean [W m-2] over a dwell time [s], in the form that the case asks for."""
    given = case.mould
    if given.profile == "root":
        return _root_law(mean, dwell, given.lubricant)
    n = load_data("mould.toml")["decay"]["exponent"] if exponent is None else exponent
    n = n if given.decay_exponent is None else given.decay_exponent
    return _decay_law(mean, dwell, _peak(case) if peak is None else peak, n, *_form(case, steel), where)


def _law_of_means(case: Case, steel: Steel, ratio: float) -> tuple[mould.FluxLaw, float]:
    """Return the law fitted to means over the speed, times a ratio, and the largest relative difference [1]."""
    rows = case.mould.mean_heat_flux_at_speed or ()
    dwells = tuple(case.working_length / (speed / MINUTE) for speed, _ in rows)
    means = tuple(mean * MW * ratio for _, mean in rows)
    dwell = case.working_length / case.speed
    return _fitted_law(dwells, means, dwell, _peak(case), case.mould.decay_exponent, *_form(case, steel))


def stack_laws(laws: Sequence[mould.FluxLaw]) -> mould.FluxLaw:
    """Put laws of one kind side by side.

    Parameters
    ----------
    laws : sequence of FluxLaw
        One for each strand.

    Returns
    -------
    FluxLaw
        With arrays of shape (strand,) for the numbers in which they differ.
    """
    if len(laws) == 1:
        return laws[0]
    names = ("a", "b", "c", "exponent", "floor", "cap", "dip")
    return replace(laws[0], **{name: stack_numbers([getattr(law, name) for law in laws]) for name in names})


def mould_faces(law: mould.FluxLaw, end: float | np.ndarray) -> list[BoundaryCondition]:
    """Give the law its stretches: one, or several with borders where it bends.

    Parameters
    ----------
    law : FluxLaw
        What acts.
    end : float or ndarray, shape (strand,)
        Age at mould exit [s].

    Returns
    -------
    list of BoundaryCondition
    """
    ends: list[float | np.ndarray] = []
    for bend in (law.kink, *(mould.dip_times() if uniform(law.dip > 0) else ())):
        if uniform((bend > 0) & (bend < end)) and not any(uniform(bend == earlier) for earlier in ends):
            ends.insert(sum(uniform(bend > earlier) for earlier in ends), bend)
    ends.append(end)
    if law.kind == "root":
        span = (law.floor, np.inf)
        return [
            BoundaryCondition(t, flux=law.a, flux_times_sqrt_time=-law.b, flux_range=span, mechanism="mould")
            for t in ends
        ]
    faces: list[BoundaryCondition] = []
    before: float | np.ndarray = 0.0
    for t in ends:
        first, last = (plain(1.0 - law.dip * mould.fading(age)) for age in (before, t))
        face = _decaying(law, t, first)
        faces.append(replace(face, ramps_to=_decaying(law, t, last)) if uniform(first != last) else face)
        before = t
    return faces


def _decaying(law: mould.FluxLaw, end: float | np.ndarray, share: float | np.ndarray) -> BoundaryCondition:
    """Let a share of a decay law act until an age [s]."""
    under = (-np.inf, law.cap * share)
    return BoundaryCondition(
        end, flux_decay=law.c * share, decay_exponent=law.exponent, flux_range=under, mechanism="mould"
    )


def mould_result(case: Case, found: MouldLaw, dwell: float | np.ndarray) -> MouldResult:
    """Put the mould into numbers that a shift compares with its panel.

    Parameters
    ----------
    case : Case
        A checked case, or cases side by side.
    found : MouldLaw
        Its law.
    dwell : float or ndarray, shape (strand,)
        Time in the mould [s].

    Returns
    -------
    MouldResult
        Without what follows from the march, and without the words of the law; of strands side by side with arrays of
        shape (strand,) where they differ.
    """
    law, mean = found.law, found.law.mean(dwell)
    fluxes = _face_fluxes(case)
    if fluxes:
        scale = mean / (0.5 * (fluxes["loose"] + fluxes["fixed"]))
        fluxes = {face: flux * scale for face, flux in fluxes.items()}
    made: dict[str, Any] = {
        "mean_flux": mean,
        "exit_flux": law.flux(dwell),
        "origin": found.origin,
        "law": "",
        "dwell": dwell,
        "working_length": case.working_length,
        "expected_mean_flux": math.nan if found.normal is None else found.normal.mean(dwell),
        "face": tuple(fluxes),
        "face_flux": np.stack([*fluxes.values()], axis=-1) if fluxes else np.empty(0),
    }
    hottest = load_data("mould.toml")["copper"]["hottest"]
    made |= _of_water(case, mean, fluxes, law.flux(hottest / case.speed))
    return MouldResult(**made, **_of_oscillation(case))


def of_mould(made: MouldResult, change: Callable[[Any, int], Any]) -> MouldResult:
    """Change the numbers of a mould, or of moulds side by side.

    Parameters
    ----------
    made : MouldResult
        The mould so far.
    change : callable
        Called with each number and the axes that it has in one mould.

    Returns
    -------
    MouldResult
    """
    own = {name: change(getattr(made, name), 0) for name in _NUMBERS}
    return renewed(made, own | {"face_flux": change(made.face_flux, 1)})


def with_taper(
    made: MouldResult, case: Case, steel: Steel, distance: np.ndarray, surface: np.ndarray
) -> MouldResult:
    """Add the taper that follows the free shrinkage of the shell.

    Parameters
    ----------
    made : MouldResult
        The mould so far.
    case : Case
        A checked case.
    steel : Steel
        Its steel, with its shrinkage.
    distance : ndarray, shape (distance,)
        From the meniscus [m].
    surface : ndarray, shape (side, distance)
        Surface temperature [degC].

    Returns
    -------
    MouldResult
        As it was when the shrinkage of the steel is not known.
    """
    z = distance[: distance.searchsorted(made.working_length * (1 + 1e-9), "right")]
    strain = np.interp(surface[:, : len(z)].mean(axis=0), steel.temperature, steel.shrinkage)
    if len(z) < 3 or not np.isfinite(strain).all():
        return made
    given = case.mould.taper_percent_per_m
    single = None if given is None else given / 100
    profile = mould.taper_profile(z, np.minimum(strain, 0.0), case.width, single)
    return replace(
        made,
        taper_distance=z,
        taper=profile.taper,
        taper_gap=profile.gap,
        mean_taper=float(profile.contraction[-1] / (case.width * z[-1])),
        single_taper=math.nan if single is None else single,
    )


def _dwell_measured(case: Case) -> float:
    """Return the dwell at the speed at which the flux was measured [s]."""
    measured = case.mould.measured_at_speed_m_per_min
    return case.working_length / (case.speed if measured is None else measured / MINUTE)


def _around(case: Case) -> float:
    """Return the width of all strand faces that the one mould-water flow cools [m]."""
    if case.section.shape == "round":
        return math.pi * case.thickness
    return case.width if case.mould.water_faces == "one wide" else 2 * (case.thickness + case.width)


def _panel_flux(case: Case, rise: float) -> float:
    flow = float(case.mould.water_flow_L_per_min or 0.0) * L_PER_MIN
    area = _around(case) * case.working_length
    return float(_measured(flow, rise, area, case.mould.water_inlet_C))


def _panel_faces(case: Case) -> dict[str, tuple[Number, Number, float]]:
    """Return flow [m3 s-1], rise [K] and area [m2] of each face of a panel that shows them apart."""
    flows, rises = case.mould.face_water_flow_L_per_min, case.mould.face_water_rise_K
    if flows is None or rises is None:
        return {}
    found = {}
    for face, flow in flows:
        if flow is not None:
            side = case.width if face in ("loose", "fixed") else case.thickness
            found[face] = (flow * L_PER_MIN, getattr(rises, face), side * case.working_length)
    return found


def _face_fluxes(case: Case) -> dict[str, np.ndarray]:
    """Return the mean flux of each face of the panel, as measured [W m-2]."""
    inlet = case.mould.water_inlet_C
    return {face: mould.mean_flux_from_water(*row, inlet) for face, row in _panel_faces(case).items()}


def _of_water(
    case: Case, mean: np.ndarray, fluxes: Mapping[str, np.ndarray], peak: np.ndarray
) -> dict[str, Any]:
    """Return what the water does: its rise at this flux, its velocity, and the copper's hot face."""
    given, faces = case.mould, _panel_faces(case)
    if faces:
        flow = sum(row[0] for row in faces.values())
        heat = sum(fluxes[face] * row[2] for face, row in faces.items())
    elif given.water_flow_L_per_min is not None:
        flow = given.water_flow_L_per_min * L_PER_MIN
        heat = mean * _around(case) * case.working_length
    else:
        return {}
    rise = mould.water_rise(heat, 1.0, flow, given.water_inlet_C)
    slot = _slot_area(case)
    if uniform(np.isnan(slot)):
        return {"water_rise": rise}
    velocity = mould.slot_velocity(flow, slot)
    found = {"water_rise": rise, "water_velocity": velocity}
    if given.copper_wall_mm is None or given.water_gap_mm is None:
        return found
    outlet = given.water_inlet_C + rise
    film = mould.water_film_coefficient(velocity, 2 * given.water_gap_mm * MM, outlet)
    return found | {"copper_hot_face": mould.copper_hot_face(peak, given.copper_wall_mm * MM, film, outlet)}


def _slot_area(case: Case) -> Number:
    """Return the cross-section that the mould water passes [m2]; NaN when it is not known."""
    given = case.mould
    if given.water_slot_mm2 is not None:
        return given.water_slot_mm2 * MM**2
    if given.water_gap_mm is None or case.section.shape == "slab":
        return math.nan
    gap = given.water_gap_mm * MM
    if given.water_faces == "one wide":
        return gap * case.width
    known = given.copper_wall_mm
    wall = load_data("mould.toml")["copper"]["tube_wall"] if known is None else known * MM
    slot = mould.tube_slot_area(case.width, case.thickness, wall, gap)
    return slot * math.pi / 4 if case.section.shape == "round" else slot


def _of_oscillation(case: Case) -> dict[str, Any]:
    """Return the numbers of the oscillation, where it is given."""
    given = case.mould
    if given.oscillation_cycles_per_min is None or given.oscillation_stroke_mm is None:
        return {}
    frequency, stroke = given.oscillation_cycles_per_min / MINUTE, given.oscillation_stroke_mm * MM
    return {
        "negative_strip_time": mould.negative_strip_time(case.speed, frequency, stroke),
        "negative_strip_ratio": mould.negative_strip_ratio(case.speed, frequency, stroke),
        "mould_speed_ratio": mould.mould_speed_ratio(case.speed, frequency, stroke),
        "mark_pitch": mould.mark_pitch(case.speed, frequency),
    }
