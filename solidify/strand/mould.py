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
from solidify.strand.stacking import Number, renewed, stack_numbers, uniform
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

_law = lru_cache(maxsize=256)(mould.law_from_mean)
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
    notices: list[Notice] = []
    used: list[str] = []
    if given.heat_flux_law is not None:
        origin = "law"
        a, b = given.heat_flux_law.a_kW_per_m2, given.heat_flux_law.b_kW_per_m2_per_sqrt_s
        law = mould.law_from_coefficients(a * KW, b * KW)
    else:
        dwell = _dwell_measured(case)
        if given.mean_heat_flux_MW_per_m2 is not None:
            mean, origin = given.mean_heat_flux_MW_per_m2 * MW, "mean flux"
        elif given.water_rise_K is not None:
            mean, origin = _panel_flux(case, given.water_rise_K), "panel"
        elif given.face_water_rise_K is not None:
            fluxes = _face_fluxes(case)
            mean, origin = 0.5 * (fluxes["loose"] + fluxes["fixed"]), "panel"
            uneven = abs(fluxes["loose"] - fluxes["fixed"]) / mean
            if uneven > load_data("mould.toml")["panel"]["uneven"]:
                text = f"the fluxes of the two wide faces differ by {100 * uneven:.0f} %; the slice takes their mean"
                notices.append(Notice(text, "mould"))
        else:
            dwell, carbon = case.working_length / case.speed, steel.carbon_equivalent
            factor = float(mould.carbon_factor(carbon, given.lubricant)) if np.isfinite(carbon) else 1.0
            mean, origin = float(mould.handbook_mean_flux(dwell, given.lubricant)) * factor, "handbook"
            notices += mould.handbook_notices(dwell, given.lubricant)
            used.append("wolf_mean_flux")
        law = _law(mean, dwell, given.lubricant)
        if law.kind == "root":
            used.append("savage_pritchard_1954")
    law = law.scaled(given.heat_flux_factor)
    expected, normal = given.expected_mean_heat_flux_MW_per_m2, None
    if expected is not None:
        normal = _law(expected * MW, _dwell_measured(case), given.lubricant)
    return MouldLaw(law, origin, tuple(notices), tuple(used), normal)


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
    names = ("a", "b", "c", "floor", "cap")
    return replace(laws[0], **{name: stack_numbers([getattr(law, name) for law in laws]) for name in names})


def mould_faces(law: mould.FluxLaw, end: float | np.ndarray) -> list[BoundaryCondition]:
    """Give the law its stretches: one, or two with the border where its clip sets in.

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
    ends = [law.kink, end] if uniform((law.kink > 0) & (law.kink < end)) else [end]
    if law.kind == "root":
        span = (law.floor, np.inf)
        return [
            BoundaryCondition(t, flux=law.a, flux_times_sqrt_time=-law.b, flux_range=span, mechanism="mould")
            for t in ends
        ]
    under = (-np.inf, law.cap)
    return [
        BoundaryCondition(t, flux_over_sqrt_time=law.c, flux_range=under, mechanism="mould") for t in ends
    ]


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
