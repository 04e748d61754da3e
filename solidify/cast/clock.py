"""The clock of a cast: signals over time, and the length cast, which says where every metre stands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

__all__ = ["CastClock", "Signal", "thinned"]

SNAP = 1e-9
"""Lengths nearer to a stand than this count as at it [m]."""


@dataclass(frozen=True)
class Signal:
    """A number over the clock: straight between its rows, level before the first and after the last.

    Parameters
    ----------
    time : ndarray, shape (n,)
        Clock [s], rising.
    value : ndarray, shape (n,)
        In SI units.
    """

    time: np.ndarray
    value: np.ndarray

    @classmethod
    def level(cls, value: float) -> Signal:
        """Return a signal that does not change."""
        return cls(np.zeros(1), np.array([float(value)]))

    def at(self, time: ArrayLike) -> np.ndarray:
        """Return the value at clock times [s]."""
        return np.asarray(np.interp(np.asarray(time, dtype=float), self.time, self.value))

    @property
    def changes(self) -> bool:
        """Whether it is not the same throughout."""
        return bool(np.ptp(self.value) != 0)


def thinned(time: np.ndarray, value: np.ndarray, within: float) -> Signal:
    """Return a signal with as few of its rows as keep it within a difference.

    Parameters
    ----------
    time, value : ndarray, shape (n,)
        Rows of a signal, as in `Signal`.
    within : float
        Largest difference at a row left out, in the unit of the value.

    Returns
    -------
    Signal
        It begins and ends with the rows given.
    """
    keep = np.zeros(len(time), dtype=bool)
    keep[[0, -1]] = True
    open_ = [(0, len(time) - 1)]
    while open_:
        a, b = open_.pop()
        if b - a < 2:
            continue
        line = np.interp(time[a + 1 : b], time[[a, b]], value[[a, b]])
        off = np.abs(value[a + 1 : b] - line)
        worst = int(off.argmax())
        if off[worst] > within:
            middle = a + 1 + worst
            keep[middle] = True
            open_ += [(a, middle), (middle, b)]
    return Signal(time[keep], value[keep])


@dataclass(frozen=True)
class CastClock:
    r"""How fast the strand moves, and so how much of it has been cast.

    Parameters
    ----------
    time : ndarray, shape (n,)
        Clock [s], rising.
    speed : ndarray, shape (n,)
        Casting speed [m s-1], 0 or more: straight between the times, level before the first and after the last.

    Notes
    -----
    The cast length is the integral of the speed, and 0 at the first time.

    .. math:: S(t) = \int_{t_0}^{t} v \, \mathrm{d}t
    """

    time: np.ndarray
    speed: np.ndarray

    @cached_property
    def lengths(self) -> np.ndarray:
        """Cast length at each time [m], shape (n,)."""
        steps = 0.5 * (self.speed[1:] + self.speed[:-1]) * np.diff(self.time)
        return np.append(0.0, np.cumsum(steps))

    @cached_property
    def stands(self) -> tuple[tuple[float, float, float], ...]:
        """Each stand: clock at which it begins and ends [s], and the length cast by then [m]."""
        still = (self.speed[1:] == 0) & (self.speed[:-1] == 0)
        found: list[tuple[float, float, float]] = []
        for i in np.flatnonzero(still):
            if found and found[-1][1] == self.time[i]:
                found[-1] = (found[-1][0], float(self.time[i + 1]), found[-1][2])
            else:
                found.append((float(self.time[i]), float(self.time[i + 1]), float(self.lengths[i])))
        return tuple(found)

    def speed_at(self, time: np.ndarray | float) -> np.ndarray:
        """Return the casting speed at clock times [m s-1]."""
        return np.interp(time, self.time, self.speed)

    def length(self, time: np.ndarray | float) -> np.ndarray:
        """Return the length cast by clock times [s], below 0 before the first [m]."""
        t = np.asarray(time, dtype=float)
        i = np.clip(np.searchsorted(self.time, t, side="right") - 1, 0, len(self.time) - 1)
        gone = t - self.time[i]
        inside = (t > self.time[0]) & (t < self.time[-1])
        j = np.minimum(i + 1, len(self.time) - 1)
        span = np.where(j > i, self.time[j] - self.time[i], 1.0)
        gain = np.where(inside, (self.speed[j] - self.speed[i]) / span, 0.0)
        return self.lengths[i] + gone * (self.speed[i] + 0.5 * gain * gone)

    def when(self, length: np.ndarray | float, *, leaving: bool = False) -> np.ndarray:
        """Return the clock at which cast lengths are reached.

        Parameters
        ----------
        length : array_like
            [m].
        leaving : bool
            The last moment at that length in place of the first; they differ where the strand stands.

        Returns
        -------
        ndarray
            [s]; of a length that is never reached the first or the last time.
        """
        wanted = np.asarray(length, dtype=float)
        for _, _, stood in self.stands:
            wanted = np.where(np.abs(wanted - stood) < SNAP, stood, wanted)
        t, v, s = self.time, self.speed, self.lengths
        side: Literal["left", "right"] = "right" if leaving else "left"
        i = np.clip(np.searchsorted(s, wanted, side=side) - 1, 0, max(len(t) - 2, 0))
        j = np.minimum(i + 1, len(t) - 1)
        gone = wanted - s[i]
        span = np.where(j > i, t[j] - t[i], 1.0)
        gain = (v[j] - v[i]) / span
        root = v[i] + np.sqrt(np.maximum(v[i] ** 2 + 2.0 * gain * gone, 0.0))
        found = t[i] + np.where(gone > 0, 2.0 * gone / np.where(root > 0, root, 1.0), 0.0)
        outside = (wanted < s[0], wanted > s[-1])
        for out, k in zip(outside, (0, -1), strict=True):
            pace = v[k] if v[k] > 0 else np.inf
            found = np.where(out, t[k] + (wanted - s[k]) / pace, found)
        if leaving and v[-1] > 0:
            found = np.where(wanted == s[-1], t[-1], found)
        return np.asarray(found)

    def steady(self, begin: np.ndarray, end: np.ndarray) -> np.ndarray:
        """Tell between which clock times the speed is the same throughout, shape as given."""
        bends = np.append(0, np.cumsum(np.diff(self.speed) != 0))
        first = np.clip(np.searchsorted(self.time, begin, side="right") - 1, 0, len(bends) - 1)
        last = np.clip(np.searchsorted(self.time, end, side="left"), 0, len(bends) - 1)
        return np.asarray(bends[first] == bends[last])

    def bends(self) -> Sequence[float]:
        """Return the clock times at which the speed begins or ends to change [s]."""
        slope = np.concatenate([[0.0], np.diff(self.speed) / np.diff(self.time), [0.0]])
        return [float(t) for t, a, b in zip(self.time, slope[:-1], slope[1:], strict=True) if a != b]
