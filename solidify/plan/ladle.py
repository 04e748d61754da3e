"""Ladles: what they hold, how they cool, and the temperatures at opening that keep the tundish in its band."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

__all__ = ["Ladle", "Window", "temperature_window"]


@dataclass(frozen=True)
class Ladle:
    """One ladle of the sequence.

    Parameters
    ----------
    weight, stays : float
        Steel in it, and what is not poured [kg].
    temperature : float
        At opening [degC]; NaN where the plan asks for it.
    cooling : float
        How fast it falls [K/s].
    stream_drop : float
        From ladle to tundish [K].
    arrival : float
        Earliest time it can be opened, from the opening of the first [s].
    """

    weight: float
    stays: float
    temperature: float
    cooling: float
    stream_drop: float
    arrival: float = 0.0

    @property
    def poured(self) -> float:
        """Steel that leaves it [kg]."""
        return self.weight - self.stays


@dataclass(frozen=True)
class Window:
    """Temperatures of a ladle at opening that keep the tundish in its band of superheat.

    Parameters
    ----------
    least, most : float
        Both ends [degC]; the window is empty where the least is above the most.
    least_at, most_at : float
        Times from the opening of the ladle that set them [s].
    aim : float
        Temperature at which the mean superheat is the one aimed at, or the nearest in the window [degC].
    """

    least: float
    most: float
    least_at: float
    most_at: float
    aim: float

    @property
    def width(self) -> float:
        """Most less least [K]; negative where the window is empty."""
        return self.most - self.least


def temperature_window(
    seconds: np.ndarray, offset: np.ndarray, share: np.ndarray, low: float, aim: float, high: float
) -> Window:
    """Find the temperatures of a ladle that keep the tundish between two temperatures.

    The tundish is linear in the ladle's temperature, T = offset + share x T_ladle, so that both ends are exact at the
    given times.

    Parameters
    ----------
    seconds : ndarray, shape (n,)
        From the opening of the ladle [s]; those of several tundishes one after the other.
    offset : ndarray, shape (n,)
        What does not depend on the ladle's temperature [K].
    share : ndarray, shape (n,)
        What does: 1 where all the steel in the tundish came at this temperature [1].
    low, aim, high : float
        Of the tundish [degC].

    Returns
    -------
    Window

    Notes
    -----
    Times at which no steel of the ladle has arrived yet (share below a millionth) say nothing.
    """
    t, a, b = (np.asarray(x, dtype=float) for x in (seconds, offset, share))
    counts = b > 1e-6
    t, a, b = t[counts], a[counts], b[counts]
    least, most = (low - a) / b, (high - a) / b
    i, j = int(np.argmax(least)), int(np.argmin(most))
    lowest, highest = float(least[i]), float(most[j])
    steps = np.maximum(np.diff(t, prepend=t[0]), 0.0)
    steps = steps if steps.any() else np.ones(t.size)
    mean_a, mean_b = float((a * steps).sum() / steps.sum()), float((b * steps).sum() / steps.sum())
    wanted = (aim - mean_a) / mean_b
    wanted = min(max(wanted, lowest), highest) if lowest <= highest else 0.5 * (lowest + highest)
    return Window(lowest, highest, float(t[i]), float(t[j]), wanted if math.isfinite(wanted) else math.nan)
