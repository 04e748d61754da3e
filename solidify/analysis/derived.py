"""Facts of a strand that no limit judges: for soft reduction, for the sprays, for hot charging."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from solidify.analysis.handbook import KWindow, k_window
from solidify.assessment.checks import mould_exit_profiles
from solidify.strand.profiles import crossing
from solidify.strand.result import Result
from solidify.strand.result_batch import Results

__all__ = [
    "CENTRE_FRACTIONS",
    "CentrePass",
    "HotCharge",
    "centre_passes",
    "cooled_girth",
    "exit_constants",
    "heat_rate",
    "hot_charge",
    "product_window",
    "water_split",
    "zero_strength_shell",
]

CENTRE_FRACTIONS = (0.1, 0.3, 0.5, 0.7, 0.9, 1.0)
"""Solid fractions at which soft reduction and final stirring are usually placed [1]; common practice, no source."""


WIDE_FREEZING_PERCENT_C = 0.6
"""Carbon from which a freezing range is wide, for the windows of K [mass %]; common practice, no source."""


@dataclass(frozen=True)
class CentrePass:
    """Where the centre passes a solid fraction.

    Parameters
    ----------
    solid_fraction : float
        [1].
    distance, time : float
        From the meniscus [m] and [s]; NaN when it does not before the cut-off.
    """

    solid_fraction: float
    distance: float
    time: float


@dataclass(frozen=True)
class HotCharge:
    """What heat a piece takes along from the cut-off.

    Parameters
    ----------
    enthalpy : float
        Mean over the section, from the heat removed; 0 where the steel's table has it [J/kg].
    mean_temperature : float
        Temperature the section would settle at if it lost nothing more [degC].
    surface, centre : float
        At the cut-off, the surface of the colder side [degC].
    """

    enthalpy: float
    mean_temperature: float
    surface: float
    centre: float


def exit_constants(result: Result) -> dict[str, float]:
    """Return K at mould exit by what counts as shell, of the thinner side.

    Parameters
    ----------
    result : Result
        A marched strand, also one read from a file that does not hold these figures.

    Returns
    -------
    dict of str to float
        ``"0.3"``, ``"0.7"`` and ``"equivalent"`` solid [m s-1/2].
    """
    place, root = result.mould.working_length, math.sqrt(result.mould.dwell)
    shells = result.at(result.shell_thickness, place).min(axis=0)
    found = {f"{fs:g}": float(shells[result.fraction_index(fs)]) / root for fs in (0.3, 0.7)}
    return found | {"equivalent": float(result.at(result.equivalent_shell, place).min()) / root}


def product_window(result: Result, where: str) -> KWindow:
    """Return the window of K that is common practice for a strand.

    Parameters
    ----------
    result : Result
        A marched strand.
    where : str
        ``"mould exit"`` or ``"whole machine"``.

    Returns
    -------
    KWindow
    """
    shape = result.case.section.shape
    square = shape == "rectangle" and math.isclose(result.thickness, result.width, rel_tol=0.02)
    wide = result.steel.composition.get("C", 0.0) >= WIDE_FREEZING_PERCENT_C
    return k_window("square" if square else shape, where, wide_freezing_range=wide)


def zero_strength_shell(result: Result) -> float:
    """Return the shell that carries anything at mould exit, to the zero-strength temperature, thinner side.

    Parameters
    ----------
    result : Result
        A marched strand.

    Returns
    -------
    float
        [m]; NaN where the steel does not say its zero-strength temperature.
    """
    level = result.steel.temperatures.get("zero strength", math.nan)
    if math.isnan(level):
        return math.nan
    found = []
    for depth, temperature in mould_exit_profiles(Results.of(result)):
        at = float(crossing(depth, temperature[0], level))
        found.append(result.half_thickness if math.isnan(at) else at)
    return min(found)


def centre_passes(result: Result, fractions: Sequence[float] = CENTRE_FRACTIONS) -> tuple[CentrePass, ...]:
    """Find where the centre passes solid fractions, for soft reduction and final stirring.

    Parameters
    ----------
    result : Result
        A marched strand.
    fractions : sequence of float
        Above 0, not above 1 [1].

    Returns
    -------
    tuple of CentrePass
        The last liquid (1.0) is that of the summary, found inside a step of the march.
    """
    passes = []
    for fraction in fractions:
        if fraction == 1.0:
            distance = float(result.summary["metallurgical_length"])
        else:
            distance = float(crossing(result.distance, result.centre_solid_fraction, fraction))
        time = math.nan if math.isnan(distance) else float(result.at(result.time, distance))
        passes.append(CentrePass(fraction, distance, time))
    return tuple(passes)


def water_split(result: Result, length: float = 1.0) -> float:
    """Return the share of all spray water that falls within the first metre below the mould.

    Parameters
    ----------
    result : Result
        A marched strand.
    length : float
        Another length below the mould [m].

    Returns
    -------
    float
        Even over each zone [1]; NaN when the water of a zone is not known or there is none.
    """
    sprays = [z for z in result.zones if z.kind == "zone"]
    total = math.fsum(z.water for z in sprays)
    end = result.mould.working_length + length
    first = math.fsum(z.water * np.clip((end - z.start) / (z.end - z.start), 0.0, 1.0) for z in sprays)
    return first / total if total > 0 else math.nan


def cooled_girth(result: Result) -> float:
    """Return the width of face round the strand that the slice speaks for.

    Parameters
    ----------
    result : Result
        A marched strand.

    Returns
    -------
    float
        Both wide faces of a slab, whose narrow faces are not counted, or the circumference of a round [m]; NaN for a
        rectangle: the heat of the middle of a face times the girth is an eighth to a fifth more
        than the strand's.
    """
    shape = result.case.section.shape
    return {"slab": 2.0 * result.width, "round": math.pi * result.thickness}.get(shape, math.nan)


def heat_rate(result: Result) -> np.ndarray:
    """Return the heat that crosses the face in each stretch, by what takes it.

    Parameters
    ----------
    result : Result
        A marched strand.

    Returns
    -------
    ndarray, shape (zones, mechanisms)
        Per metre of face width or circumference, mean of the sides [W/m].
    """
    speed = float(result.distance[-1] / result.time[-1])
    return result.balance.heat.mean(axis=0) * speed


def hot_charge(result: Result) -> HotCharge | None:
    """Return the heat that a piece holds at the cut-off.

    Parameters
    ----------
    result : Result
        A marched strand.

    Returns
    -------
    HotCharge or None
        None for a rectangle: the mid-face slice does not speak for the heat of the whole section.
    """
    shape, steel = result.case.section.shape, result.steel
    if shape == "rectangle":
        return None
    # volume of the slice for each area of face that the heat is counted on
    volume = {"round": 0.5 * result.half_thickness, "slab": result.half_thickness * len(result.sides)}[shape]
    removed = float(result.balance.heat.sum()) / (volume * steel.march_density)
    poured = float(np.interp(result.pouring_temperature, steel.temperature, steel.enthalpy))
    enthalpy = poured - removed
    return HotCharge(
        enthalpy,
        float(np.interp(enthalpy, steel.enthalpy, steel.temperature)),
        float(result.surface_temperature[:, -1].min()),
        float(result.centre_temperature[-1]),
    )
