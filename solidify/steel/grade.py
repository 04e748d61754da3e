"""A steel from its composition: path, phases and properties put together into one curve."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import lru_cache
from typing import Any

import numpy as np

from solidify.errors import InputError, Notice, Problem
from solidify.steel.coefficients import entries
from solidify.steel.composition import carbon_equivalent, checked_composition, ferrite_potential, steel_class
from solidify.steel.curve import TOP, Steel, distinct_kinks, latent_heat, merged_temperatures
from solidify.steel.liquidus import DEFAULT_LIQUIDUS, liquidus_temperature
from solidify.steel.path import LEAST_RANGE, Path, solidification_path
from solidify.steel.properties import (
    alpha_joints,
    conductivity_knots,
    liquid_conductivity,
    phase_density,
    phase_enthalpy,
    pool_factor,
    solid_conductivity,
    stirred_limits,
    stirring_problems,
)
from solidify.steel.provenance import Relations, evidence, notices
from solidify.steel.transformation import SolidState, phase_shares, solid_state

__all__ = ["CONTRADICTION", "default_cooling_rate", "steel_from_composition"]

CONTRADICTION = 8.0
"""Difference from which a given liquidus or solidus is said to contradict the composition [K]."""

FARTHEST = 250.0
"""Neither end of freezing is taken that is further from that of the composition [K]; no source."""


def default_cooling_rate() -> float:
    """Return the nominal cooling rate that is used when none is given.

    Returns
    -------
    float
        [K/s]
    """
    return float(entries("segregation")["cooling_rate"]["value"])


def _placed(
    path: Path, wanted: float, liquidus: float | None, solidus: float | None
) -> tuple[np.ndarray, list[Notice]]:
    """Return the path's temperatures, moved to the relation's liquidus and stretched onto given ends."""
    own = path.temperature + (wanted - path.temperature[0])
    said, problems = [], []
    for name, given, found in (("liquidus", liquidus, own[0]), ("solidus", solidus, own[-1])):
        if given is not None and abs(given - found) > FARTHEST:
            low, high = found - FARTHEST, found + FARTHEST
            allowed = f"{low:.0f} to {high:.0f} degC, around the {found:.1f} degC of the composition"
            do = "correct it or the composition, or drop the composition and give all own numbers"
            problems.append(Problem(name, f"{given:.1f} degC", allowed, do=do))
        if given is not None:
            words = ", which contradicts the composition" if abs(given - found) > CONTRADICTION else ""
            apart = f"{given - found:+.1f} K from the {found:.1f} degC of the composition"
            said.append(Notice(f"the given {name} {given:.1f} degC is {apart}{words}", "steel"))
    if problems:
        raise InputError(problems)
    top = own[0] if liquidus is None else liquidus
    bottom = own[-1] if solidus is None else solidus
    if bottom > top:
        low, high = f"{bottom:.1f} degC", f"{top:.1f} degC"
        raise InputError(Problem("solidus", low, f"at most the liquidus, {high}", do="give both, or neither"))
    if top - bottom < LEAST_RANGE:
        text = f"the freezing range {top - bottom:.2f} K is widened to {LEAST_RANGE} K, below the liquidus"
        said.append(Notice(text, "steel"))
        bottom = top - LEAST_RANGE
    return bottom + (own - own[-1]) * (top - bottom) / (own[0] - own[-1]), said


def _checked(
    factor: float,
    stirred: tuple[float, float] | None,
    cooling_rate: float,
    density: float | None,
    liquidus: float | None,
    solidus: float | None,
) -> None:
    """Raise InputError with every number that cannot be."""
    asked = [
        ("cooling_rate", cooling_rate, 0.001, 1000.0, " K/s"),
        ("density", density, 5000.0, 9000.0, " kg/m3"),
        ("liquidus", liquidus, 1100.0, 1600.0, " degC"),
        ("solidus", solidus, 900.0, 1600.0, " degC"),
    ]
    problems = stirring_problems(factor, stirred)
    problems += [
        Problem(name, f"{value}{unit}", f"{low:g} to {high:g}{unit}")
        for name, value, low, high, unit in asked
        if value is not None and not low <= value <= high
    ]
    if problems:
        raise InputError(problems)


def steel_from_composition(
    composition: Mapping[str, float],
    *,
    liquid_conductivity_factor: float = 5.0,
    stirred_liquid_fraction: tuple[float, float] | None = None,
    liquidus_relation: str = DEFAULT_LIQUIDUS,
    path_model: str = "won_thomas_2001",
    segregation_parameters: str = "phase_lines",
    conductivity_relation: str = "harste_1989",
    cooling_rate: float | None = None,
    liquidus: float | None = None,
    solidus: float | None = None,
    density: float | None = None,
) -> Steel:
    """Return the solidification path and properties of a carbon or low-alloy steel.

    Parameters
    ----------
    composition : mapping of str to float
        Element -> [mass %]; C is needed.
    liquid_conductivity_factor : float
        What stirring multiplies the conductivity of the open pool by, 1 to 50 [1].
    stirred_liquid_fraction : (float, float), optional
        Liquid fraction up to which nothing is stirred, and from which all is [1]; default 0.8 and 1.0.
    liquidus_relation : str
        One of `solidify.steel.liquidus_relations`; the path moves with it.
    path_model : str
        One of `solidify.steel.path_models`: ``"lever"``, ``"no_diffusion"`` or a back-diffusion model.
    segregation_parameters : str
        One of `solidify.steel.parameter_sets`.
    conductivity_relation : str
        One of `solidify.steel.conductivity_relations`.
    cooling_rate : float, optional
        One nominal rate through the freezing range [K/s]; default 1.
    liquidus, solidus : float, optional
        Known better than from the composition [degC]: the path is stretched onto them.
    density : float, optional
        For the march [kg/m3]; default is the solid's at the solidus.

    Returns
    -------
    Steel

    Raises
    ------
    InputError
        With every element or number out of bounds, or an unknown name.

    Notes
    -----
    Enthalpy, conductivity and specific volume are mixed by mass shares of liquid, delta, gamma, ferrite and
    cementite; latent heat falls out of the enthalpies. Between A3 and A1 the share of austenite follows the
    lever rule on Andrews' line, the rest turns to pearlite within 10 K below A1.

    Examples
    --------
    >>> steel = steel_from_composition({"C": 0.45, "Si": 0.25, "Mn": 0.70, "P": 0.015, "S": 0.012})
    >>> round(steel.liquidus), round(steel.solidus), steel.steel_class
    (1494, 1407, 'medium carbon')
    """
    analysis = checked_composition(composition)
    relations = Relations(liquidus_relation, path_model, segregation_parameters, conductivity_relation)
    rate = default_cooling_rate() if cooling_rate is None else cooling_rate
    _checked(liquid_conductivity_factor, stirred_liquid_fraction, rate, density, liquidus, solidus)
    stirred = stirred_limits(stirred_liquid_fraction)
    path = _path(tuple(analysis.items()), path_model, segregation_parameters, rate)
    at, said = _placed(path, liquidus_temperature(analysis, liquidus_relation), liquidus, solidus)
    state = solid_state(analysis, float(at[-1]), float(path.gamma_share[-1]))
    named = _named_temperatures(path, at, state)
    kinks = _kinks(path, at, state, named, conductivity_relation, stirred)
    temperature = merged_temperatures(kinks, np.concatenate((at, state.nodes())), TOP)
    shares = phase_shares(temperature, path, at, state, analysis["C"])
    curves = _curves(temperature, shares, float(at[-1]), analysis["C"], conductivity_relation)
    curves["conductivity"] = curves.pop("solid") + curves.pop("liquid") * pool_factor(
        curves["solid_fraction"], liquid_conductivity_factor, stirred
    )
    if density is not None:
        curves["march_density"] = float(density)
    diffuses = math.isfinite(path.arm_spacing)
    return Steel(
        temperature=temperature,
        **curves,
        kinks=kinks,
        liquidus=float(at[0]),
        solidus=float(at[-1]),
        temperatures=named,
        steel_class=steel_class(analysis),
        composition=analysis,
        carbon_equivalent=carbon_equivalent(analysis),
        ferrite_potential=ferrite_potential(analysis),
        cooling_rate=rate if diffuses else math.nan,
        arm_spacing=path.arm_spacing,
        path_model=f"{path_model}, {segregation_parameters}",
        phases=shares,
        evidence=evidence(analysis, relations),
        notices=(*said, *_path_notices(path, state, rate), *notices(analysis, relations)),
    )


@lru_cache(maxsize=64)
def _path(analysis: tuple[tuple[str, float], ...], model: str, parameters: str, rate: float) -> Path:
    """Return the solidification path, once for steels that differ in what is made of it."""
    return solidification_path(dict(analysis), model=model, parameters=parameters, cooling_rate=rate)


def _curves(
    temperature: np.ndarray, shares: Mapping[str, np.ndarray], solidus: float, carbon: float, relation: str
) -> dict[str, Any]:
    """Return enthalpy, density and the rest of a mixture, conductivity still in its two parts."""
    heat = {p: phase_enthalpy(p, temperature, carbon) for p in ("liquid", "delta", "gamma", "alpha")}
    heat["cementite"] = heat["alpha"]  # the fit of ferrite is one of ferrite with its carbide
    enthalpy = sum((shares[p] * heat[p] for p in shares), np.zeros_like(temperature))
    volume = sum(
        (shares[p] / phase_density(p, temperature, carbon) for p in shares), np.zeros_like(temperature)
    )
    fs = 1.0 - shares["liquid"]
    some = np.maximum(fs, 1e-12)
    solid = {"delta": shares["delta"] / some, "gamma": shares["gamma"] / some}
    solid["alpha"] = (shares["alpha"] + shares["cementite"]) / some
    mushy = (temperature >= solidus) & (np.arange(temperature.size) <= np.argmax(fs <= 0.0))
    at_solidus = float(volume[np.searchsorted(temperature, solidus)])
    return {
        "enthalpy": enthalpy - enthalpy[0],
        "solid_fraction": fs,
        "density": 1.0 / volume,
        "shrinkage": np.cbrt(volume / at_solidus) - 1.0,
        "march_density": 1.0 / at_solidus,
        "latent_heat": latent_heat(
            {p: s[mushy] for p, s in shares.items()}, {p: h[mushy] for p, h in heat.items()}
        ),
        "solid": fs * solid_conductivity(temperature, solid, carbon, relation),
        "liquid": (1.0 - fs) * liquid_conductivity(temperature, relation),
    }


def _named_temperatures(path: Path, at: np.ndarray, state: SolidState) -> dict[str, float]:
    """Return the temperatures a metallurgist asks for [degC]; those that do not exist are left out."""
    hot = entries("segregation")["hot_strength"]
    fractions = {name: fs for name, fs in hot.items() if isinstance(fs, float)}
    named = {name: float(np.interp(fs, path.solid_fraction, at)) for name, fs in fractions.items()}
    for name, before in (
        ("peritectic start", path.peritectic_start),
        ("peritectic end", path.peritectic_end),
    ):
        if math.isfinite(before):
            named[name] = float(np.interp(-before, -path.temperature, at))
    if path.gamma_share[-1] < 1.0:
        named["delta to gamma start"] = named.get("peritectic start", state.delta_start)
        named["delta to gamma end"] = state.delta_end
    return {**named, "A3": state.a3, "A1": state.a1}


def _kinks(
    path: Path,
    at: np.ndarray,
    state: SolidState,
    named: Mapping[str, float],
    conductivity: str,
    stirred: tuple[float, float],
) -> np.ndarray:
    """Return every temperature where a curve breaks its slope, rising [degC]."""
    breaks = [state.a1, state.a3, state.pearlite_end]
    breaks += [named[n] for n in ("peritectic start", "peritectic end") if n in named]
    if path.gamma_share[-1] < 1.0:
        breaks += [state.delta_start, state.delta_end]
    fractions = [1.0 - x for x in stirred]
    if path.capped:
        fractions.append(entries("segregation")["last_liquid"]["from_solid_fraction"])
    breaks += [float(np.interp(fs, path.solid_fraction, at)) for fs in fractions]
    breaks += [float(t) for t in alpha_joints() if t < state.a3]
    breaks += [float(t) for t in conductivity_knots(conductivity)]
    return distinct_kinks(np.array(breaks), (float(at[-1]), float(at[0])))


def _path_notices(path: Path, state: SolidState, rate: float) -> tuple[Notice, ...]:
    """Say where the path or the solid phases had to be bounded."""
    found = []
    low, high = entries("segregation")["arm_spacing"]["valid"]["rate"]
    if math.isfinite(path.arm_spacing) and not low <= rate <= high:
        text = f"cooling rate {rate:g} K/s is outside the range of the arm spacing ({low:g} to {high:g} K/s)"
        found.append(Notice(text, "solidification path"))
    if path.capped:
        cap = entries("segregation")["last_liquid"]
        text = (
            "sulphides and phosphides are not modelled: the last percent of liquid is made to freeze"
            f" within {cap['largest_drop']:g} K, and not below {cap['lowest']:g} degC"
        )
        found.append(Notice(text, "solidification path"))
    if state.held:
        found.append(
            Notice(f"A3 is held at {state.a3:.0f} degC; steels that stay ferritic are not modelled", "A3")
        )
    return tuple(found)
