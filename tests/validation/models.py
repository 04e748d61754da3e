"""What the program says of each measured quantity of steel, in the unit of its series."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from solidify.steel import liquidus_temperature, steel_from_composition
from solidify.steel.properties import phase_enthalpy
from solidify.units import KJ

ATOMIC_MASS = {"Fe": 55.845, "Mn": 54.938, "Cr": 51.996, "Cu": 63.546, "V": 50.942}
"""Standard atomic weights of IUPAC (from memory) [g/mol]."""


def mass_percent(element: str, atomic_percent: float) -> float:
    """Return the mass % of an element in a binary alloy of iron from its atomic %."""
    mass = atomic_percent * ATOMIC_MASS[element]
    return 100.0 * mass / (mass + (100.0 - atomic_percent) * ATOMIC_MASS["Fe"])


def heat_of_fusion(**composition: float) -> float:
    """Return the latent heat by the lever rule, without sensible heat [kJ/kg]."""
    return steel_from_composition(composition, path_model="lever").latent_heat / KJ


def heat_of_transformation(hot: str, cold: str, at: float, C: float, **others: float) -> float:
    """Return the difference of two phases at a temperature [degC], [kJ/kg]; only carbon has an effect."""
    return float(phase_enthalpy(hot, at, C) - phase_enthalpy(cold, at, C)) / KJ


def liquid_specific_heat(**span: float) -> float:
    """Return the mean specific heat of liquid iron between two temperatures [degC], [J/(kg K)]."""
    low, high = span["from"], span["to"]
    return float(phase_enthalpy("liquid", high) - phase_enthalpy("liquid", low)) / (high - low)


def liquidus_fall(element: str, lean: float, rich: float) -> float:
    """Return how far the liquidus falls between two binary alloys [atomic %], [K]."""
    low, high = ({"C": 0.0, element: mass_percent(element, x)} for x in (lean, rich))
    return liquidus_temperature(low) - liquidus_temperature(high)


def freezing_range(element: str, share: float) -> float:
    """Return liquidus less solidus of a binary alloy [atomic %] by the lever rule [K]."""
    steel = steel_from_composition({"C": 0.0, element: mass_percent(element, share)}, path_model="lever")
    return steel.liquidus - steel.solidus


MODELS: Mapping[str, Callable[..., float]] = {
    f.__name__: f
    for f in (
        heat_of_fusion,
        heat_of_transformation,
        liquid_specific_heat,
        liquidus_fall,
        freezing_range,
    )
}
"""By the name a series gives."""

CALORIE = 4.184
"""Thermochemical calorie (definition) [J]."""

UNITS: Mapping[tuple[str, str], float] = {
    ("cal/g", "kJ/kg"): CALORIE,
    ("kJ/mol Fe", "kJ/kg"): 1000.0 / ATOMIC_MASS["Fe"],
    ("J/(g K)", "J/(kg K)"): 1000.0,
    ("K", "K"): 1.0,
}
"""Factors from the unit of a source to that of its series."""


def value_of(model: str, given: Mapping[str, Any]) -> float:
    """Return what a model says for the input of a point."""
    return MODELS[model](**given)
