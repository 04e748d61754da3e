"""Enthalpy, conductivity and density of the phases of steel, and how a mixture has them.

All functions take temperatures in degC and carbon in mass %, vectorised; coefficients, units, sources and
evidence stand in ``data/steel``.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

import numpy as np

from solidify.errors import Problem
from solidify.steel.coefficients import choice, entries
from solidify.units import KJ, ZERO_CELSIUS

__all__ = [
    "PHASES",
    "alpha_joints",
    "conductivity_knots",
    "conductivity_relations",
    "liquid_conductivity",
    "phase_conductivity",
    "phase_density",
    "phase_enthalpy",
    "pool_factor",
    "solid_conductivity",
    "stirred_limits",
    "stirring_problems",
]

LEAST_FADE = 0.05
"""Least width of the liquid fraction over which the stirring of the pool fades [1]."""

PHASES = ("liquid", "delta", "gamma", "alpha", "cementite")
"""The phases of a mixture; mass shares, summing to 1."""


@cache
def _alpha_pieces() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return upper bounds [K], coefficients and the moves [kJ/kg] that close the joints."""
    entry = entries("enthalpy")["alpha"]
    bounds, pieces = np.array(entry["upto"]), np.array(entry["pieces"])
    moves = np.zeros(len(bounds))
    for i in range(len(bounds) - 2, -1, -1):
        moves[i] = moves[i + 1] + _polynomial(pieces[i + 1], bounds[i]) - _polynomial(pieces[i], bounds[i])
    return bounds, pieces, moves


def _polynomial(c: np.ndarray, t: np.ndarray | float) -> np.ndarray:
    return c[..., 0] / t + c[..., 1] + t * (c[..., 2] + t * (c[..., 3] + t * c[..., 4]))


def alpha_joints() -> np.ndarray:
    """Return the temperatures where the enthalpy of ferrite changes its formula.

    Returns
    -------
    ndarray
        [degC]
    """
    return _alpha_pieces()[0][:-1] - ZERO_CELSIUS


def phase_enthalpy(phase: str, temperature: np.ndarray | float, carbon: float = 0.0) -> np.ndarray:
    """Return the enthalpy of one phase, on one zero for all phases.

    Parameters
    ----------
    phase : str
        ``"liquid"``, ``"delta"``, ``"gamma"`` or ``"alpha"`` (with its cementite).
    temperature : float or ndarray
        [degC]
    carbon : float
        [mass %]

    Returns
    -------
    ndarray
        [J/kg]

    Notes
    -----
    The five pieces of ferrite miss one another by up to 1.3 kJ/kg; the lower ones are moved so that they
    meet, the one that borders on austenite stays.

    Of the alloying elements carbon alone is in the enthalpy of the phases. Manganese has no effect on the heat of
    austenite turning to pearlite here (81.7 kJ/kg at 727 degC); measured are 82.0 kJ/kg in eutectoid carbon steel
    and 75.3 with 1.85 % Mn, 5 % either way (W. C. Hagel, G. M. Pound, R. F. Mehl, Acta Metallurgica 1956, abstract
    read).

    References
    ----------
    K. Harste, thesis, Clausthal 1989 (from memory); differences between the phases agree with the JANAF
    tables within 1.5 kJ/kg.

    Examples
    --------
    >>> round(float(phase_enthalpy("liquid", 1536.0) - phase_enthalpy("delta", 1536.0)) / 1000, 1)
    248.4
    """
    t = np.asarray(temperature, dtype=float) + ZERO_CELSIUS
    if phase == "alpha":
        bounds, pieces, moves = _alpha_pieces()
        i = np.minimum(np.searchsorted(bounds, t), len(bounds) - 1)
        return KJ * (_polynomial(pieces[i], t) + moves[i])
    entry = entries("enthalpy")[choice(phase, ("liquid", "delta", "gamma", "alpha"), "phase")]
    value = sum(c * t**power for power, c in enumerate(entry["terms"]))
    if "carbon" in entry:
        p, q, r, s = entry["carbon"]
        value = value + (p * carbon + q * carbon**2) / (r * carbon + s)
    return KJ * np.asarray(value)


def phase_density(phase: str, temperature: np.ndarray | float, carbon: float = 0.0) -> np.ndarray:
    """Return the density of one phase.

    Parameters
    ----------
    phase : str
        One of `PHASES`.
    temperature : float or ndarray
        [degC]
    carbon : float
        [mass %]

    Returns
    -------
    ndarray
        [kg/m3]

    References
    ----------
    Solid: A. Jablonka, K. Harste, K. Schwerdtfeger, Steel Research 62 (1991) 24 (from memory). Liquid iron:
    M. J. Assael et al., J. Phys. Chem. Ref. Data 35 (2006) 285 (from memory, 0.8 %); carbon in it: I. Jimbo,
    A. W. Cramb, Metall. Trans. B 24B (1993) 5 (abstract with the equation read, +-1.5 %).

    Examples
    --------
    >>> round(float(phase_density("liquid", 1550.0, 0.2)))
    7009
    """
    t = np.asarray(temperature, dtype=float)
    entry = entries("density")[choice(phase, PHASES, "phase")]
    if phase == "liquid":
        a, b, c, d = entry["terms"]
        kelvin = t + ZERO_CELSIUS - entry["reference_K"]
        return 1000.0 * ((a + b * carbon) - (c + d * carbon) * 1e-4 * kelvin)
    value = np.asarray(sum(c * t**power for power, c in enumerate(entry["terms"])))
    if "carbon" in entry:
        value = 100.0 * value / ((100.0 - carbon) * (1.0 + entry["carbon"] * carbon) ** 3)
    return value


def conductivity_relations() -> tuple[str, ...]:
    """Return the names of the conductivity relations.

    Returns
    -------
    tuple of str
    """
    return tuple(name for name, entry in entries("conductivity").items() if "kind" in entry)


def conductivity_knots(relation: str) -> np.ndarray:
    """Return the temperatures where a conductivity relation breaks its slope.

    Parameters
    ----------
    relation : str
        One of `conductivity_relations`.

    Returns
    -------
    ndarray
        [degC]; empty for a relation that is smooth in each phase.
    """
    return np.array(entries("conductivity")[relation].get("temperature", []))


def phase_conductivity(phase: str, temperature: np.ndarray | float, carbon: float = 0.0) -> np.ndarray:
    """Return the thermal conductivity of one solid phase.

    Parameters
    ----------
    phase : str
        ``"delta"``, ``"gamma"`` or ``"alpha"`` (with its cementite).
    temperature : float or ndarray
        [degC]
    carbon : float
        [mass %]

    Returns
    -------
    ndarray
        [W/(m K)]

    References
    ----------
    K. Harste, thesis, Clausthal 1989 (from memory); about 10 % from other sources between 900 and 1200 degC.

    Examples
    --------
    >>> round(float(phase_conductivity("gamma", 1000.0)), 2)
    29.95
    """
    t = np.asarray(temperature, dtype=float)
    entry = entries("conductivity")["harste_1989"]
    if choice(phase, ("delta", "gamma", "alpha"), "phase") != "alpha":
        return entry[phase][0] + entry[phase][1] * t
    a = entry["alpha"]
    iron = a["p"] + t * (a["q"] + a["r"] * t)
    if carbon <= 0.0:
        return iron
    return iron * (1.0 - np.maximum(a["a10"] + a["a11"] * t, 0.0) * carbon ** (a["a20"] + a["a21"] * t))


def solid_conductivity(
    temperature: np.ndarray, shares: Mapping[str, np.ndarray], carbon: float, relation: str = "harste_1989"
) -> np.ndarray:
    """Return the conductivity of the solid, mixed by its phases where the relation knows them.

    Parameters
    ----------
    temperature : ndarray, shape (n,)
        [degC]
    shares : mapping of str to ndarray, shape (n,)
        Share of each phase in the solid, ``"alpha"`` with its cementite [1].
    carbon : float
        [mass %]
    relation : str
        One of `conductivity_relations`.

    Returns
    -------
    ndarray, shape (n,)
        [W/(m K)]

    Raises
    ------
    InputError
        If there is no such relation.
    """
    entry = entries("conductivity")[choice(relation, conductivity_relations(), "conductivity relation")]
    if entry["kind"] == "by phase":
        return sum(
            shares[p] * phase_conductivity(p, temperature, carbon) for p in ("delta", "gamma", "alpha")
        )
    knots = np.array(
        [np.interp(carbon, entry["carbon"], column) for column in zip(*entry["value"], strict=True)]
    )
    return np.interp(temperature, entry["temperature"], knots)


def liquid_conductivity(temperature: np.ndarray | float, relation: str = "harste_1989") -> np.ndarray:
    """Return the conductivity of the liquid at rest.

    Parameters
    ----------
    temperature : float or ndarray
        [degC]
    relation : str
        One of `conductivity_relations`.

    Returns
    -------
    ndarray
        [W/(m K)]
    """
    entry = entries("conductivity")[choice(relation, conductivity_relations(), "conductivity relation")]
    return entry["liquid"][0] + entry["liquid"][1] * np.asarray(temperature, dtype=float)


def stirring_problems(factor: float, limits: tuple[float, float] | None) -> list[Problem]:
    """Return what is wrong with the stirring of the pool.

    Parameters
    ----------
    factor : float
        As for `pool_factor` [1].
    limits : (float, float) or None
        As for `pool_factor` [1].

    Returns
    -------
    list of Problem
    """
    found = []
    if not (isinstance(factor, int | float | np.number) and 1.0 <= factor <= 50.0):
        found.append(Problem("liquid_conductivity_factor", f"{factor}", "1 to 50"))
    if limits is not None:
        low, high = limits
        if not (low >= 0.0 and low + LEAST_FADE <= high + 1e-9 and high <= 1.0):
            allowed = f"two rising liquid fractions from 0 to 1, {LEAST_FADE:g} apart or more"
            found.append(Problem("stirred_liquid_fraction", f"{low:g} and {high:g}", allowed))
    return found


def stirred_limits(limits: tuple[float, float] | None = None) -> tuple[float, float]:
    """Return the liquid fractions between which the stirring of the pool fades: those given, or those of the data."""
    low, high = entries("conductivity")["pool"]["liquid_fraction"] if limits is None else limits
    return float(low), float(high)


def pool_factor(
    solid_fraction: np.ndarray | float, factor: float, limits: tuple[float, float] | None = None
) -> np.ndarray:
    """Return what the conductivity of the liquid is multiplied by, for the stirring of the pool.

    Parameters
    ----------
    solid_fraction : float or ndarray
        [1]
    factor : float
        Value in the open pool, 1 for a liquid at rest [1].
    limits : (float, float), optional
        Liquid fraction up to which nothing is stirred, and from which all is [1]; default 0.8 and 1.0: the stirring
        ends at the tips of the dendrites.

    Returns
    -------
    ndarray
        1 + (factor - 1) r [1], r = 0 up to the lower limit and linear to 1 at the upper one.

    References
    ----------
    The factor: E. A. Mizikar, Trans. AIME 239 (1967) 1747 (from memory). The limits are ours.

    Examples
    --------
    >>> pool_factor([1.0, 0.2, 0.1, 0.0], 5.0).round(6).tolist()
    [1.0, 1.0, 3.0, 5.0]
    """
    low, high = stirred_limits(limits)
    ramp = np.clip((1.0 - np.asarray(solid_fraction, dtype=float) - low) / (high - low), 0.0, 1.0)
    return 1.0 + (factor - 1.0) * ramp
