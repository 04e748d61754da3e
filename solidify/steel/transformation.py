"""What the solid does below the solidus: delta to gamma, gamma to ferrite, the rest to pearlite."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from solidify.steel.coefficients import entries
from solidify.steel.composition import ae1_andrews, ae3_andrews
from solidify.steel.path import Path

__all__ = ["SolidState", "phase_shares", "solid_state"]

_NODES = 12
"""Temperatures that trace the lever rule between A1 and A3."""


@dataclass(frozen=True)
class SolidState:
    """Boundaries of the solid phases of one steel.

    Parameters
    ----------
    delta_start, delta_end : float
        Where delta begins and ends to turn into austenite below the solidus [degC].
    a3, a1 : float
        Where ferrite begins to form, and where the rest of the austenite begins to turn to pearlite [degC].
    pearlite_end : float
        Where no austenite is left [degC].
    gamma_at_a1 : float
        Share of austenite at A1 [1].
    lever_base : float
        Where the ferrite line meets zero carbon [degC].
    lever_carbon : float
        Carbon that the lever rule is used with [mass %].
    held : bool
        Whether A3 had to be held below the end of what the fits can do.
    """

    delta_start: float
    delta_end: float
    a3: float
    a1: float
    pearlite_end: float
    gamma_at_a1: float
    lever_base: float
    lever_carbon: float
    held: bool

    def austenite(self, temperature: np.ndarray) -> np.ndarray:
        """Return the share of austenite in austenite, ferrite and pearlite.

        Parameters
        ----------
        temperature : ndarray
            [degC]

        Returns
        -------
        ndarray
            1 from A3 up, 0 below the end of pearlite [1].
        """
        distance = np.maximum(self.lever_base - temperature, 1e-9)
        lever = np.clip(self.lever_carbon * (_root_carbon() / distance) ** 2, 0.0, 1.0)
        left = np.clip((temperature - self.pearlite_end) / (self.a1 - self.pearlite_end), 0.0, 1.0)
        below = np.where(temperature >= self.a1, lever, self.gamma_at_a1 * left)
        return np.where(temperature >= self.a3, 1.0, below)

    def pearlite(self, temperature: np.ndarray) -> np.ndarray:
        """Return how much of the austenite at A1 has turned to pearlite.

        Parameters
        ----------
        temperature : ndarray
            [degC]

        Returns
        -------
        ndarray
            0 at A1 to 1 at its end [1].
        """
        return np.clip((self.a1 - temperature) / (self.a1 - self.pearlite_end), 0.0, 1.0)

    def nodes(self) -> np.ndarray:
        """Return temperatures at even steps of austenite between A1 and A3.

        Returns
        -------
        ndarray
            [degC]
        """
        shares = np.linspace(max(self.gamma_at_a1, 1e-3), 1.0, _NODES)
        nodes = self.lever_base + _root_carbon() * np.sqrt(self.lever_carbon / shares)
        return nodes[(nodes > self.a1) & (nodes < self.a3)]


def _root_carbon() -> float:
    return float(entries("transformation")["ae3"]["root_carbon"])


def solid_state(composition: Mapping[str, float], solidus: float, gamma_at_solidus: float) -> SolidState:
    """Return where the solid phases of a steel change.

    Parameters
    ----------
    composition : mapping of str to float
        Element -> [mass %].
    solidus : float
        [degC]
    gamma_at_solidus : float
        Share of austenite in the solid at the end of freezing [1].

    Returns
    -------
    SolidState

    Notes
    -----
    Delta turns between the two Fe-C lines, moved by Si, Mn, P and S, or from the solidus on if the reaction
    had begun with liquid. A3 and A1 are Andrews' equilibrium lines; a strand surface that cools fast lies
    below them.

    Examples
    --------
    >>> state = solid_state({"C": 0.20}, 1489.0, 1.0)
    >>> round(state.a3, 1), round(state.a1, 1), round(state.gamma_at_a1, 2)
    (819.2, 723.0, 0.24)
    """
    data = entries("transformation")
    carbon, a4 = composition["C"], data["a4"]
    base = a4["base"] + sum(slope * composition.get(e, 0.0) for e, slope in a4["slopes"].items())
    within = min(carbon, a4["valid"]["C"][1])
    begin, finish = (base + within * (line[0] + line[1] * within) for line in (a4["delta"], a4["gamma"]))
    start = solidus if gamma_at_solidus > 0.0 else min(begin, solidus)
    end = min(finish, start - a4["least_interval"])

    limits = data["austenite_range"]
    lever_carbon = max(carbon, limits["least_carbon"])
    a1 = ae1_andrews(composition)
    wanted = ae3_andrews({**composition, "C": lever_carbon})
    highest = min(limits["highest_a3"], end - 10.0)
    a3 = max(min(wanted, highest), a1)
    lever_base = a3 - _root_carbon() * math.sqrt(lever_carbon)
    at_a1 = min(1.0, lever_carbon * (_root_carbon() / (lever_base - a1)) ** 2)
    pearlite_end = a1 - data["pearlite"]["interval"]
    return SolidState(start, end, a3, a1, pearlite_end, at_a1, lever_base, lever_carbon, wanted > highest)


def phase_shares(
    temperature: np.ndarray, path: Path, at: np.ndarray, state: SolidState, carbon: float
) -> dict[str, np.ndarray]:
    """Return the mass shares of all phases.

    Parameters
    ----------
    temperature : ndarray, shape (n,)
        [degC]
    path : Path
        Solid fraction and austenite share of the freezing range.
    at : ndarray
        The temperatures of the path's points, falling [degC].
    state : SolidState
        Boundaries below the solidus.
    carbon : float
        [mass %]

    Returns
    -------
    dict of str to ndarray, shape (n,)
        ``"liquid"``, ``"delta"``, ``"gamma"``, ``"alpha"``, ``"cementite"``, summing to 1 [1].
    """
    fs = np.interp(temperature, at[::-1], path.solid_fraction[::-1])
    gamma = np.interp(temperature, at[::-1], path.gamma_share[::-1])
    turned = np.clip((state.delta_start - temperature) / (state.delta_start - state.delta_end), 0.0, 1.0)
    gamma = np.where(temperature < at[-1], gamma + (1.0 - gamma) * turned, gamma)
    austenite = state.austenite(temperature)
    ferrite = fs * gamma * (1.0 - austenite)
    pearlite = entries("transformation")["pearlite"]
    low, high = pearlite["carbon_in_ferrite"], pearlite["carbon_in_cementite"]
    carbide = max(carbon - low, 0.0) / (high - low) * state.pearlite(temperature)
    return {
        "liquid": 1.0 - fs,
        "delta": fs * (1.0 - gamma),
        "gamma": fs * gamma * austenite,
        "alpha": ferrite * (1.0 - carbide),
        "cementite": ferrite * carbide,
    }
