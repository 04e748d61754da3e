"""A steel as the march needs it: one fine curve of every property against temperature."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from solidify.errors import InputError, Notice, Problem
from solidify.sources import EVIDENCE

__all__ = ["BOTTOM", "TOP", "Steel", "distinct_kinks", "latent_heat", "merged_temperatures"]

BOTTOM, TOP = 20.0, 1700.0
"""Ends of every curve [degC]; enthalpy counts from the lower one. A high liquidus moves the upper one up."""

DISTINCT = 1e-6
"""Temperatures closer than this are one [K]."""


@dataclass(frozen=True, eq=False)
class Steel:
    """One steel: property curves over temperature, its temperatures, class, sources and notices.

    Parameters
    ----------
    temperature : ndarray, shape (n,)
        Strictly rising, 20 to 1700, every kink among them [degC].
    enthalpy : ndarray, shape (n,)
        Strictly rising, 0 at 20 degC, latent heat included [J/kg].
    conductivity : ndarray, shape (n,)
        Effective: the stirring of the pool is in it [W/(m K)].
    solid_fraction : ndarray, shape (n,)
        1 up to the solidus, 0 from the liquidus [1].
    density : ndarray, shape (n,)
        For reports; the march takes `march_density` [kg/m3].
    shrinkage : ndarray, shape (n,)
        Free linear thermal strain against the solidus, negative where colder [1]; NaN if unknown.
    kinks : ndarray, shape (m,)
        Temperatures where a slope breaks, rising, all in `temperature` [degC].
    liquidus, solidus : float
        Ends of the freezing range [degC].
    march_density : float
        The one density of the march [kg/m3].
    latent_heat : float
        Heat of freezing without the sensible heat of the range [J/kg].
    temperatures : mapping of str to float
        Named temperatures, e.g. ``"zero strength"``, ``"A3"`` [degC]; those that do not exist are absent.
    steel_class : str
        Class in casting practice, ``"unknown"`` without a composition.
    composition : mapping of str to float
        Element -> [mass %]; empty for own numbers.
    carbon_equivalent, ferrite_potential : float
        [mass %] and [1]; NaN without a composition.
    cooling_rate : float
        Nominal rate of the path [K/s]; NaN if it plays no part.
    arm_spacing : float
        Secondary dendrite arm spacing [m]; NaN if it plays no part.
    path_model : str
        How the solid fraction was found.
    phases : mapping of str to ndarray, shape (n,)
        Mass shares of liquid, delta, gamma, alpha and cementite [1]; empty for own numbers.
    evidence : mapping of str to (str, str)
        Quantity -> source key and how well it is known.
    notices : tuple of Notice
        What the user should know.
    """

    temperature: np.ndarray
    enthalpy: np.ndarray
    conductivity: np.ndarray
    solid_fraction: np.ndarray
    density: np.ndarray
    shrinkage: np.ndarray
    kinks: np.ndarray
    liquidus: float
    solidus: float
    march_density: float
    latent_heat: float
    temperatures: Mapping[str, float]
    steel_class: str = "unknown"
    composition: Mapping[str, float] = field(default_factory=dict)
    carbon_equivalent: float = float("nan")
    ferrite_potential: float = float("nan")
    cooling_rate: float = float("nan")
    arm_spacing: float = float("nan")
    path_model: str = "linear"
    phases: Mapping[str, np.ndarray] = field(default_factory=dict)
    evidence: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    notices: tuple[Notice, ...] = ()

    def __post_init__(self) -> None:
        curves = [self.temperature, self.enthalpy, self.conductivity, self.solid_fraction, self.density]
        for curve in (*curves, self.shrinkage, self.kinks, *self.phases.values()):
            curve.setflags(write=False)

    @property
    def sources(self) -> tuple[str, ...]:
        """Keys of the bibliography that were used, in order of first use."""
        return tuple(dict.fromkeys(key for key, _ in self.evidence.values()))

    @property
    def recalled(self) -> tuple[str, ...]:
        """Quantities that rest on memory alone."""
        words = EVIDENCE["recalled"]
        return tuple(quantity for quantity, (_, known) in self.evidence.items() if words in known)

    def temperature_at_solid_fraction(self, solid_fraction: float) -> float:
        """Return where the solid fraction passes a value.

        Parameters
        ----------
        solid_fraction : float
            0 to 1 [1]; 1 gives the solidus, 0 the liquidus.

        Returns
        -------
        float
            [degC]

        Raises
        ------
        InputError
            If the fraction is not within 0 and 1.
        """
        if not 0.0 <= solid_fraction <= 1.0:
            raise InputError(Problem("solid fraction", f"{solid_fraction}", "0 to 1"))
        inside = (self.temperature >= self.solidus) & (self.temperature <= self.liquidus)
        return float(np.interp(-solid_fraction, -self.solid_fraction[inside], self.temperature[inside]))

    def heat_between(self, hot: float, cold: float) -> float:
        """Return the heat to remove between two temperatures.

        Parameters
        ----------
        hot, cold : float
            [degC]

        Returns
        -------
        float
            [J/kg]
        """
        above, below = np.interp([hot, cold], self.temperature, self.enthalpy)
        return float(above - below)


def merged_temperatures(kinks: np.ndarray, others: np.ndarray, top: float, step: float = 5.0) -> np.ndarray:
    """Return a rising grid from 20 degC to `top` that holds every kink exactly.

    Parameters
    ----------
    kinks : ndarray
        Temperatures that must be nodes, rising and distinct [degC].
    others : ndarray
        Further nodes [degC]; those within a millionth of a kelvin of a kink or of one another are dropped.
    top : float
        Upper end [degC].
    step : float
        Largest spacing [K].

    Returns
    -------
    ndarray

    Examples
    --------
    >>> merged_temperatures(np.array([23.0]), np.array([23.0 + 1e-9, 26.0]), 30.0).tolist()
    [20.0, 23.0, 25.0, 26.0, 30.0]
    """
    fixed = np.unique(np.concatenate((kinks[(kinks > BOTTOM) & (kinks < top)], [BOTTOM, top])))
    others = np.unique(others[(others > BOTTOM) & (others < top)])
    fine = np.concatenate((fixed, _apart(others, fixed, DISTINCT)))
    plain = np.arange(BOTTOM, top, step)
    return np.sort(np.concatenate((fine, _apart(plain, np.sort(fine), 1e-3))))


def _apart(values: np.ndarray, fixed: np.ndarray, distance: float) -> np.ndarray:
    """Return the rising values that keep a distance from the fixed ones and from the value before."""
    place = np.searchsorted(fixed, values)
    below, above = fixed[np.maximum(place - 1, 0)], fixed[np.minimum(place, fixed.size - 1)]
    clear = np.minimum(np.abs(values - below), np.abs(values - above)) > distance
    return values[clear & (np.diff(values, prepend=-np.inf) > distance)]


def distinct_kinks(kinks: np.ndarray, ends: tuple[float, float]) -> np.ndarray:
    """Return kinks in rising order, each more than a millionth of a kelvin from the next.

    Parameters
    ----------
    kinks : ndarray
        [degC], in any order.
    ends : (float, float)
        Solidus and liquidus [degC], which stay as they are.

    Returns
    -------
    ndarray

    Examples
    --------
    >>> distinct_kinks(np.array([723.0, 723.0 + 1e-9]), (1450.0, 1500.0)).tolist()
    [723.0, 1450.0, 1500.0]
    """
    fixed = np.array(sorted(ends))
    return np.sort(np.concatenate((fixed, _apart(np.unique(kinks), fixed, DISTINCT))))


def latent_heat(shares: Mapping[str, np.ndarray], enthalpies: Mapping[str, np.ndarray]) -> float:
    """Return the heat set free by the change of phases along a curve.

    Parameters
    ----------
    shares : mapping of str to ndarray, shape (n,)
        Phase -> mass share, from solidus to liquidus [1].
    enthalpies : mapping of str to ndarray, shape (n,)
        Phase -> enthalpy at the same temperatures [J/kg].

    Returns
    -------
    float
        Sum of h df over the phases [J/kg]; the rest of the enthalpy difference is sensible heat.

    Examples
    --------
    >>> liquid = np.array([0.0, 1.0])
    >>> h = {"liquid": np.array([250.0, 250.0]), "delta": np.zeros(2)}
    >>> latent_heat({"liquid": liquid, "delta": 1.0 - liquid}, h)
    250.0
    """
    heat = 0.0
    for phase, share in shares.items():
        h = enthalpies[phase]
        heat += float(np.sum(0.5 * (h[1:] + h[:-1]) * np.diff(share)))
    return heat
