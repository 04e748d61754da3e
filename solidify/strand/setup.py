"""The strand a case describes, before anything cools it: steel, temperatures, section and how a slice stands for it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import PurePath

import numpy as np

from solidify.case import Case
from solidify.case.model import STEEL_RELATIONS, SteelInput
from solidify.case.treatment import treatment_band
from solidify.errors import InputError, Notice, Problem
from solidify.solver.grid import SectionWeight, section_weight, usual_nodes
from solidify.steel import Steel, steel_from_composition, steel_from_numbers, steel_from_text
from solidify.units import KJ

__all__ = [
    "CUTOFF_MEAN_TEMPERATURE",
    "TREATMENTS",
    "Temperatures",
    "case_steel",
    "cast_density",
    "shape_notices",
    "shape_treatment",
    "shape_weight",
    "strand_nodes",
    "temperatures",
    "throughput",
]

TREATMENTS = {"slab": "flat (one-way)", "rectangle": "rectangle, mid-face", "round": "round"}
"""How a slice stands for each shape of section, as printed."""

CUTOFF_MEAN_TEMPERATURE = 1000.0
"""Mean temperature of the section at the cut-off with which the steel cast is counted [degC]; common practice."""

_FLAT_UNTIL = 1.8
"""Width over thickness below which a flat slice misleads."""


@dataclass(frozen=True)
class Temperatures:
    """What the steel arrives with.

    Parameters
    ----------
    tundish, pouring : float
        In the tundish and at the meniscus [degC].
    superheat : float
        Tundish over the liquidus [K].
    """

    tundish: float
    pouring: float
    superheat: float


def case_steel(case: Case) -> Steel:
    """Build the steel of a case: from its composition, its own numbers or its property file.

    Parameters
    ----------
    case : Case
        A checked case.

    Returns
    -------
    Steel
        The same value for cases with equal steel.

    Raises
    ------
    InputError
        If the numbers contradict one another.
    """
    given, file = case.steel, case.steel.property_file
    if given.conductivity_factor != 1.0:
        plain = replace(case, steel=given.model_copy(update={"conductivity_factor": 1.0}))
        return _conducting(case_steel(plain), given.conductivity_factor)
    if file is not None:
        stirring = given.liquid_conductivity_factor, given.stirred_liquid_fraction
        return _own_steel(case.property_text, PurePath(file).name, *stirring)
    return _steel(given)


@lru_cache(maxsize=64)
def _conducting(steel: Steel, factor: float) -> Steel:
    """Multiply the conductivity of the solid; between solidus and liquidus by as much as is solid."""
    conductivity = steel.conductivity * (1.0 + (factor - 1.0) * steel.solid_fraction)
    return replace(steel, conductivity=conductivity)


@lru_cache(maxsize=64)
def _own_steel(text: str, name: str, factor: float, stirred: tuple[float, float]) -> Steel:
    return steel_from_text(text, name, liquid_conductivity_factor=factor, stirred_liquid_fraction=stirred)


@lru_cache(maxsize=64)
def _steel(given: SteelInput) -> Steel:
    factor, stirred = given.liquid_conductivity_factor, given.stirred_liquid_fraction
    if given.composition is not None:
        relations = {key: name for key in STEEL_RELATIONS if (name := getattr(given, key)) is not None}
        return steel_from_composition(
            given.composition.mass_percent(),
            liquid_conductivity_factor=factor,
            stirred_liquid_fraction=stirred,
            liquidus=given.liquidus_C,
            solidus=given.solidus_C,
            density=given.density_kg_per_m3,
            cooling_rate=given.cooling_rate_K_per_s,
            **relations,
        )
    numbers = {
        "liquidus": given.liquidus_C,
        "solidus": given.solidus_C,
        "density": given.density_kg_per_m3,
        "specific_heat": given.specific_heat_J_per_kgK,
        "conductivity": given.conductivity_W_per_mK,
    }
    assert given.latent_heat_kJ_per_kg is not None
    return steel_from_numbers(
        latent_heat=given.latent_heat_kJ_per_kg * KJ,
        liquid_specific_heat=given.liquid_specific_heat_J_per_kgK,
        liquid_conductivity=given.liquid_conductivity_W_per_mK,
        liquid_conductivity_factor=factor,
        stirred_liquid_fraction=stirred,
        **numbers,  # type: ignore[arg-type]
    )


def strand_nodes(case: Case, steel: Steel) -> int:
    """Return the nodes from the surface to the centre: as many as asked for, or as thickness and steel want.

    Parameters
    ----------
    case : Case
        A checked case.
    steel : Steel
        Its steel.

    Returns
    -------
    int
    """
    return case.steps.nodes or usual_nodes(case.half_thickness, _upper_range(steel))


@lru_cache(maxsize=64)
def _upper_range(steel: Steel) -> float:
    return steel.liquidus - steel.temperature_at_solid_fraction(0.7)


def temperatures(case: Case, steel: Steel) -> Temperatures:
    """Find tundish and meniscus temperature and the superheat.

    Parameters
    ----------
    case : Case
        A checked case.
    steel : Steel
        Its steel.

    Returns
    -------
    Temperatures

    Raises
    ------
    InputError
        If the steel would reach the meniscus below its liquidus.
    """
    casting = case.casting
    if casting.tundish_temperature_C is not None:
        tundish = casting.tundish_temperature_C
    else:
        tundish = steel.liquidus + float(casting.superheat_K or 0.0)
    pouring = tundish - casting.meniscus_drop_K
    if pouring < steel.liquidus - 1e-9:
        raise InputError(
            Problem(
                "[casting] temperature at the meniscus",
                f"{pouring:.1f} °C, {steel.liquidus - pouring:.1f} K below the liquidus of {steel.liquidus:.1f} °C",
                f"{steel.liquidus:.1f} °C or more",
                do="raise superheat_K or tundish_temperature_C, lower meniscus_drop_K, or check the steel",
            )
        )
    return Temperatures(tundish, pouring, tundish - steel.liquidus)


def shape_treatment(case: Case) -> str:
    """Name how the slice stands for the section; one of `TREATMENTS`."""
    return TREATMENTS[case.section.shape]


def shape_weight(case: Case) -> SectionWeight | None:
    """Return the numbers of the weight of a rectangle's slice; None for the other shapes, which have none to choose."""
    if case.section.shape != "rectangle":
        return None
    return section_weight(case.thickness / case.width, case.half_thickness)


def shape_notices(case: Case) -> tuple[Notice, ...]:
    """Say where a one-dimensional slice of this section cannot be trusted.

    Parameters
    ----------
    case : Case
        A checked case.

    Returns
    -------
    tuple of Notice
    """
    if case.section.shape == "slab" and case.width / case.thickness < _FLAT_UNTIL:
        ratio = case.width / case.thickness
        until = "a quarter" if ratio < 1.05 else "0.4"
        text = (
            f"a flat slice of a section only {ratio:.2f} times as wide as thick holds until the shell is about "
            f'{until} of the half thickness; the end of solidification comes out too late. Take shape = "rectangle"'
        )
        return (Notice(text, "section"),)
    if case.section.shape == "rectangle":
        band = treatment_band(case.section.shape, case.thickness)
        (slow, late), (thin, thick), (cold, hot) = band.end, band.shell, band.surface
        text = (
            "mid-face slice, the narrow faces counted by a weight: against two-dimensional sections with even cooling "
            f"the end of solidification lies within {slow:+d} to {late:+d} %, "
            f"the shell within {thin:+d} to {thick:+d} % of the half thickness until it is three quarters of it, "
            "and the surface, from mould exit to twice the time of solidification, within "
            f"{cold:+d} to {hot:+d} K; corners are not represented"
        )
        return (Notice(text, "section"),)
    return ()


def cast_density(case: Case, steel: Steel) -> float:
    """Return the density with which the steel cast is counted.

    Parameters
    ----------
    case : Case
        Gives the density, if it does.
    steel : Steel
        Its steel.

    Returns
    -------
    float
        The density given, or that of the steel at `CUTOFF_MEAN_TEMPERATURE` [kg m-3].
    """
    if case.steel.density_kg_per_m3 is not None:
        return steel.march_density
    return float(np.interp(CUTOFF_MEAN_TEMPERATURE, steel.temperature, steel.density))


def throughput(case: Case, steel: Steel) -> float:
    """Return the steel cast on one strand: density x section x speed.

    Parameters
    ----------
    case : Case
        Gives section and speed.
    steel : Steel
        Gives the density.

    Returns
    -------
    float
        [kg s-1]; NaN where one of them is not finite.

    Notes
    -----
    The section is that of the case, hot; the density is that of the solid at 1000 degC, a usual mean temperature of the
    section at the cut-off (common practice, no source). 100 K more or less there move it by 0.7 %. The temperature is
    the same for every strand, so that the mass cast, and water by the kilogram, are known before anything is computed
    and do not follow the sprays. The density of the march, that at the solidus, is 2 to 3 % lower.
    """
    value = cast_density(case, steel) * case.section_area * case.speed
    return value if math.isfinite(value) else math.nan
