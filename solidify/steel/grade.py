"""A steel from its composition: path, phases and properties put together into one curve."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from solidify.errors import InputError, Notice, Problem
from solidify.steel.coefficients import choice, entries, outside, recalled
from solidify.steel.composition import (
    ae1_andrews,
    ae3_andrews,
    carbon_equivalent,
    checked_composition,
    ferrite_potential,
    steel_class,
)
from solidify.steel.curve import TOP, Steel, latent_heat, merged_temperatures
from solidify.steel.liquidus import DEFAULT_LIQUIDUS, disagreement, liquidus_temperature
from solidify.steel.path import BACK_DIFFUSION, LEAST_RANGE, Path, solidification_path
from solidify.steel.properties import (
    alpha_joints,
    conductivity_relations,
    liquid_conductivity,
    phase_density,
    phase_enthalpy,
    pool_factor,
    solid_conductivity,
)

__all__ = ["CONTRADICTION", "default_cooling_rate", "steel_from_composition"]

CONTRADICTION = 8.0
"""Difference from which a given liquidus or solidus is said to contradict the composition [K]."""

_LEVER = 12


def default_cooling_rate() -> float:
    """Return the nominal cooling rate that is used when none is given.

    Returns
    -------
    float
        [K/s]
    """
    return float(entries("segregation")["cooling_rate"]["value"])


@dataclass(frozen=True)
class _Boundaries:
    """Solid-state boundaries of one steel [degC]."""

    delta_end: float
    delta_start: float
    a3: float
    a1: float
    pearlite_end: float
    gamma_at_a1: float
    lever_base: float
    lever_carbon: float
    closed: bool

    def gamma_share(self, temperature: np.ndarray) -> np.ndarray:
        """Return the share of austenite in ferrite plus austenite below A3 [1]."""
        slope = entries("transformation")["ae3"]["root_carbon"]
        distance = np.maximum(self.lever_base - temperature, 1e-9)
        lever = np.clip(self.lever_carbon * (slope / distance) ** 2, 0.0, 1.0)
        rest = np.clip((temperature - self.pearlite_end) / (self.a1 - self.pearlite_end), 0.0, 1.0)
        return np.where(
            temperature >= self.a3, 1.0, np.where(temperature >= self.a1, lever, self.gamma_at_a1 * rest)
        )

    def lever_nodes(self) -> np.ndarray:
        """Return temperatures at even steps of the austenite share [degC]."""
        shares = np.linspace(max(self.gamma_at_a1, 1e-3), 1.0, _LEVER)
        nodes = self.lever_base + entries("transformation")["ae3"]["root_carbon"] * np.sqrt(
            self.lever_carbon / shares
        )
        return nodes[(nodes > self.a1) & (nodes < self.a3)]


def _boundaries(composition: Mapping[str, float], solidus: float, gamma_at_solidus: float) -> _Boundaries:
    data = entries("transformation")
    carbon = composition["C"]
    a4 = data["a4"]
    shift = a4["base"] + sum(slope * composition.get(e, 0.0) for e, slope in a4["slopes"].items())
    within = min(carbon, a4["valid"]["C"][1])
    start = min(shift + within * (a4["delta"][0] + a4["delta"][1] * within), solidus)
    if gamma_at_solidus > 0.0:
        start = solidus
    end = min(shift + within * (a4["gamma"][0] + a4["gamma"][1] * within), start - a4["least_interval"])

    limits = data["austenite_range"]
    lever_carbon = max(carbon, limits["least_carbon"])
    a1 = ae1_andrews(composition)
    wanted = ae3_andrews({**composition, "C": lever_carbon})
    a3 = max(min(wanted, limits["highest_a3"], end - 10.0), a1)
    base = a3 - data["ae3"]["root_carbon"] * math.sqrt(lever_carbon)
    at_a1 = min(1.0, lever_carbon * (data["ae3"]["root_carbon"] / (base - a1)) ** 2)
    closed = wanted > min(limits["highest_a3"], end - 10.0)
    return _Boundaries(
        end, start, a3, a1, a1 - data["pearlite"]["interval"], at_a1, base, lever_carbon, closed
    )


def _shares(
    temperature: np.ndarray, path: Path, at: np.ndarray, lines: _Boundaries, carbon: float
) -> dict[str, np.ndarray]:
    """Return the mass shares of all phases; `at` are the temperatures of the path."""
    fs = np.interp(temperature, at[::-1], path.solid_fraction[::-1])
    gamma = np.interp(temperature, at[::-1], path.gamma_share[::-1])
    done = np.clip((lines.delta_start - temperature) / (lines.delta_start - lines.delta_end), 0.0, 1.0)
    gamma = np.where(temperature < at[-1], gamma + (1.0 - gamma) * done, gamma)
    austenite = lines.gamma_share(temperature)
    ferrite = fs * gamma * (1.0 - austenite)
    pearlite = entries("transformation")["pearlite"]
    richest = max(carbon - pearlite["carbon_in_ferrite"], 0.0) / (
        pearlite["carbon_in_cementite"] - pearlite["carbon_in_ferrite"]
    )
    formed = np.where(temperature < lines.a1, 1.0 - austenite / lines.gamma_at_a1, 0.0)
    return {
        "liquid": 1.0 - fs,
        "delta": fs * (1.0 - gamma),
        "gamma": fs * gamma * austenite,
        "alpha": ferrite * (1.0 - richest * formed),
        "cementite": ferrite * richest * formed,
    }


def _placed(
    path: Path, wanted: float, liquidus: float | None, solidus: float | None
) -> tuple[np.ndarray, list[Notice]]:
    """Return the path's temperatures moved onto the relation's liquidus and stretched onto given ends."""
    own = path.temperature + (wanted - path.temperature[0])
    notices = []
    for name, given, found in (("liquidus", liquidus, own[0]), ("solidus", solidus, own[-1])):
        if given is not None:
            apart = given - found
            words = " and contradicts it" if abs(apart) > CONTRADICTION else ""
            text = (
                f"{name} {given:.1f} degC is given, the composition says {found:.1f} ({apart:+.1f} K){words}"
            )
            notices.append(Notice(text, "steel"))
    top = own[0] if liquidus is None else liquidus
    bottom = own[-1] if solidus is None else solidus
    if top - bottom < LEAST_RANGE and top >= bottom:
        notices.append(
            Notice(f"the freezing range {top - bottom:.2f} K is widened to {LEAST_RANGE} K", "steel")
        )
        bottom = top - LEAST_RANGE
    return bottom + (own - own[-1]) * (top - bottom) / (own[0] - own[-1]), notices


def _checked(
    factor: float, cooling_rate: float, density: float | None, liquidus: float | None, solidus: float | None
) -> None:
    """Raise InputError with every number that cannot be."""
    asked = [
        ("liquid_conductivity_factor", factor, 1.0, 50.0, ""),
        ("cooling_rate", cooling_rate, 0.001, 1000.0, " K/s"),
        ("density", density, 5000.0, 9000.0, " kg/m3"),
        ("liquidus", liquidus, 1100.0, 1600.0, " degC"),
        ("solidus", solidus, 900.0, 1600.0, " degC"),
    ]
    problems = [
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
    liquidus_relation : str
        A name of `solidify.steel.liquidus_relations`; the path moves with it.
    path_model : str
        Back-diffusion model: ``"won_thomas_2001"``, ``"lever"``, ``"no_diffusion"`` and others.
    segregation_parameters : str
        Partition set: ``"phase_lines"`` or ``"ueshima_1986"``.
    conductivity_relation : str
        ``"harste_1989"``, ``"en_1993_1_2"`` or ``"bisra_1953"``.
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
    rate = default_cooling_rate() if cooling_rate is None else cooling_rate
    _checked(liquid_conductivity_factor, rate, density, liquidus, solidus)
    choice(conductivity_relation, conductivity_relations(), "conductivity relation")
    wanted = liquidus_temperature(analysis, liquidus_relation)
    path = solidification_path(
        analysis, model=path_model, parameters=segregation_parameters, cooling_rate=rate
    )
    at, notices = _placed(path, wanted, liquidus, solidus)
    if not at[0] > at[-1]:
        raise InputError(Problem("liquidus", f"{at[0]:.1f} degC", f"above the solidus, {at[-1]:.1f} degC"))
    lines = _boundaries(analysis, float(at[-1]), float(path.gamma_share[-1]))
    named, kinks = _named_temperatures(path, at, lines)

    temperature = merged_temperatures(np.concatenate((at, kinks, lines.lever_nodes())), TOP)
    shares = _shares(temperature, path, at, lines, analysis["C"])
    carbon = analysis["C"]
    enthalpies = {p: phase_enthalpy(p, temperature, carbon) for p in ("liquid", "delta", "gamma", "alpha")}
    enthalpies["cementite"] = enthalpies["alpha"]
    enthalpy = sum(shares[p] * enthalpies[p] for p in shares)
    fs = 1.0 - shares["liquid"]
    solid = {p: shares[p] / np.maximum(fs, 1e-12) for p in ("delta", "gamma")}
    solid["alpha"] = (shares["alpha"] + shares["cementite"]) / np.maximum(fs, 1e-12)
    still = liquid_conductivity(temperature, conductivity_relation)
    conductivity = fs * solid_conductivity(temperature, solid, carbon, conductivity_relation)
    conductivity = conductivity + (1.0 - fs) * still * pool_factor(fs, liquid_conductivity_factor)
    volume = sum(shares[p] / phase_density(p, temperature, carbon) for p in shares)
    freezing = (temperature >= at[-1]) & (temperature <= at[0])
    at_solidus = float(volume[np.searchsorted(temperature, at[-1])])
    return Steel(
        temperature=temperature,
        enthalpy=enthalpy - enthalpy[0],
        conductivity=conductivity,
        solid_fraction=fs,
        density=1.0 / volume,
        shrinkage=np.cbrt(volume / at_solidus) - 1.0,
        kinks=kinks,
        liquidus=float(at[0]),
        solidus=float(at[-1]),
        march_density=1.0 / at_solidus if density is None else float(density),
        latent_heat=latent_heat(
            {p: s[freezing] for p, s in shares.items()}, {p: h[freezing] for p, h in enthalpies.items()}
        ),
        temperatures=named,
        steel_class=steel_class(analysis),
        composition=analysis,
        carbon_equivalent=carbon_equivalent(analysis),
        ferrite_potential=ferrite_potential(analysis),
        cooling_rate=rate if math.isfinite(path.arm_spacing) else math.nan,
        arm_spacing=path.arm_spacing,
        path_model=f"{path_model}, {segregation_parameters}",
        phases=shares,
        evidence=_evidence(
            analysis, liquidus_relation, path_model, segregation_parameters, conductivity_relation
        ),
        notices=(
            *notices,
            *_notices(
                analysis, path, lines, liquidus_relation, segregation_parameters, conductivity_relation
            ),
        ),
    )


def _named_temperatures(
    path: Path, at: np.ndarray, lines: _Boundaries
) -> tuple[dict[str, float], np.ndarray]:
    """Return the named temperatures and every kink of the curves [degC]."""
    hot = entries("segregation")["hot_strength"]
    strength = {name: fs for name, fs in hot.items() if isinstance(fs, float)}
    named = {name: float(np.interp(fs, path.solid_fraction, at)) for name, fs in strength.items()}
    kinks = [at[0], at[-1], lines.a1, lines.a3, lines.pearlite_end]
    for name, old in (("peritectic start", path.peritectic_start), ("peritectic end", path.peritectic_end)):
        if math.isfinite(old):
            named[name] = float(np.interp(-old, -path.temperature, at))
            kinks.append(named[name])
    if path.gamma_share[-1] < 1.0:
        named["delta to gamma start"] = named.get("peritectic start", lines.delta_start)
        named["delta to gamma end"] = lines.delta_end
        kinks += [lines.delta_start, lines.delta_end]
    named["A3"], named["A1"] = lines.a3, lines.a1
    pool = entries("conductivity")["pool"]["liquid_fraction"]
    kinks += [float(np.interp(1.0 - x, path.solid_fraction, at)) for x in pool]
    if path.capped:
        begin = entries("segregation")["last_liquid"]["from_solid_fraction"]
        kinks.append(float(np.interp(begin, path.solid_fraction, at)))
    kinks += [float(t) for t in alpha_joints() if t < lines.a3]
    return named, np.unique(np.array(kinks))


def _evidence(
    composition: Mapping[str, float],
    liquidus_relation: str,
    path_model: str,
    parameters: str,
    conductivity: str,
) -> dict[str, tuple[str, str]]:
    """Return quantity -> source key and how well it is known."""
    segregation, other = entries("segregation"), entries("transformation")
    used = {
        "liquidus": entries("liquidus")[liquidus_relation],
        "partition": segregation[parameters],
        "hot-strength temperatures": segregation["hot_strength"],
        "delta to gamma": other["a4"],
        "A1": other["ae1"],
        "A3": other["ae3"],
        "ferrite potential": entries("composition")["ferrite_potential"],
        "enthalpy": entries("enthalpy")["alpha"],
        "conductivity": entries("conductivity")[conductivity],
        "stirring of the pool": entries("conductivity")["pool"],
        "density of the solid": entries("density")["gamma"],
        "density of the liquid": entries("density")["liquid"],
    }
    if path_model not in ("lever", "no_diffusion"):
        used["diffusion in the solid"] = segregation["diffusion"]
        used["arm spacing"] = segregation["arm_spacing"]
    known = {name: (entry["source"], recalled(entry, composition)) for name, entry in used.items()}
    known["back-diffusion"] = (BACK_DIFFUSION[path_model][0], recalled({"evidence": "recalled"}))
    return known


def _notices(
    composition: Mapping[str, float],
    path: Path,
    lines: _Boundaries,
    relation: str,
    parameters: str,
    conductivity: str,
) -> tuple[Notice, ...]:
    """Return what the user should know about this steel."""
    other = entries("transformation")
    found = list(disagreement(composition, relation))
    found += outside(entries("liquidus")[relation], composition, f"the liquidus relation {relation}")
    found += outside(entries("segregation")[parameters], composition, f"the segregation set {parameters}")
    found += outside(entries("segregation")["arm_spacing"], composition, "the arm spacing")
    found += outside(other["ae3"], composition, "Andrews' A1 and A3")
    found += outside(entries("conductivity")[conductivity], composition, f"the conductivity {conductivity}")
    if path.capped:
        drop = entries("segregation")["last_liquid"]["largest_drop"]
        text = f"sulphides are not modelled: the last percent of liquid is made to freeze within {drop:g} K"
        found.append(Notice(text, "solidification path"))
    if lines.closed:
        found.append(
            Notice(f"A3 is held at {lines.a3:.0f} degC; a steel that stays ferritic is not modelled", "A3")
        )
    unused = _unused(composition, relation)
    if unused:
        found.append(Notice(f"no relation in use takes {', '.join(unused)}", "steel composition"))
    return tuple(found)


def _unused(composition: Mapping[str, float], relation: str) -> list[str]:
    liquidus = entries("liquidus")[relation]
    taken = {"C", *entries("composition")["ferrite_potential"]["slopes"]}
    for table in (
        liquidus,
        liquidus.get("delta", {}),
        *(entries("transformation")[k] for k in ("ae1", "ae3")),
    ):
        taken |= set(table.get("slopes", {}))
    return [e for e, value in composition.items() if value > 0.0 and e not in taken]
