"""The tundish: level over weight, the slow-down that a shut ladle asks for, and its stirred-tank temperature."""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

__all__ = ["Tundish", "slow_down_factor", "stirred_temperature"]


@dataclass(frozen=True)
class Tundish:
    """A tundish of the plan.

    Parameters
    ----------
    name : str
        Of the file.
    weight, least, start, rest : float
        Steel while casting, the least that is allowed, that at which the strands are opened, and that which stays
        at the end [kg].
    level : tuple of (float, float)
        Rows of weight [kg] and level above the nozzles [m], both rising from 0.
    loss : float
        Heat lost in steady casting [W].
    first_heat : float
        More drop of the stream at the start of the first heat [K].
    fade : float
        Time in which a twentieth of it is left [s].
    lining : float
        Longest time of casting [s]; infinite where it is not given.
    """

    name: str
    weight: float
    least: float
    start: float
    rest: float
    level: tuple[tuple[float, float], ...]
    loss: float
    first_heat: float = 0.0
    fade: float = 750.0
    lining: float = math.inf

    @cached_property
    def _masses(self) -> list[float]:
        return [m for m, _ in self.level]

    def level_at(self, weight: float) -> float:
        """Return the level [m] of a weight [kg]; straight between the rows, and on beyond the last."""
        i = min(max(bisect_right(self._masses, weight), 1), len(self.level) - 1)
        (m0, h0), (m1, h1) = self.level[i - 1], self.level[i]
        return max(h0 + (h1 - h0) * (weight - m0) / (m1 - m0), 0.0)


def slow_down_factor(spare: float, seconds: float, flow: float) -> float:
    r"""Return the largest factor on the speed at which a tundish lasts while the ladle is shut.

    .. math:: f = \min\left(\frac{M - M_{least}}{t \sum \dot m}, 1\right)

    Parameters
    ----------
    spare : float
        Steel above the least weight [kg].
    seconds : float
        The ladle is shut [s].
    flow : float
        What the strands take [kg/s].

    Returns
    -------
    float
        0 to 1 [1].

    Examples
    --------
    >>> round(slow_down_factor(20e3, 300.0, 96.36), 4)
    0.6919
    """
    wanted = seconds * flow
    return 1.0 if wanted <= 0 else min(max(spare / wanted, 0.0), 1.0)


def stirred_temperature(
    seconds: ArrayLike,
    start: float,
    inflow: float,
    fall: float,
    residence: float,
    drop: float = 0.0,
    fading: float = 0.0,
    fade_rate: float = 0.0,
) -> np.ndarray:
    r"""Return the temperature of a stirred tank of constant weight.

    .. math:: \tau \frac{dT}{dt} = T_{in} - r t - F e^{-\lambda t} - \Delta T - T

    Parameters
    ----------
    seconds : array_like
        Times since the start [s].
    start : float
        Temperature then [degC].
    inflow, fall : float
        Temperature of the inflow at the start [degC] and how fast it falls [K/s].
    residence : float
        Weight over flow [s].
    drop : float
        Loss over flow and specific heat [K].
    fading, fade_rate : float
        A further drop of the inflow [K] that fades at this rate [1/s].

    Returns
    -------
    ndarray, shape of `seconds`
        [degC]

    Notes
    -----
    The equation of a perfectly mixed reactor; exact. Where fading and mixing are equally fast the rate is moved by a
    millionth.
    """
    t = np.asarray(seconds, dtype=float)
    if abs(fade_rate * residence - 1.0) < 1e-6:
        fade_rate = (1.0 + 1e-6) / residence
    share = fading / (1.0 - fade_rate * residence)
    base = inflow - drop + fall * residence
    free = start - base + share
    return base - fall * t - share * np.exp(-fade_rate * t) + free * np.exp(-t / residence)
