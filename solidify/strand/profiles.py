"""What a limit needs from profiles along the strand: the steepest stretch, the largest rise, a crossing.

Profiles have the distance along their last axis, the same for all of them; what is found has the axes before it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise

import numpy as np

__all__ = [
    "RIPPLE",
    "Places",
    "crossing",
    "highest",
    "largest_rise",
    "read_along",
    "read_at",
    "steepest",
    "turning_points",
]

RIPPLE = 1.0
"""A fall of the surface up to this much does not end a rise [K]."""

_BLOCK = 16
"""Profiles that are looked along at once: so few that what is computed of them stays in the cache."""


def read_at(distance: np.ndarray, values: np.ndarray, place: float | Sequence[float]) -> np.ndarray:
    """Read profiles at a place or at several, straight between their points and level beyond their ends.

    Parameters
    ----------
    distance : ndarray, shape (n,)
        Increasing [m].
    values : ndarray, shape (..., n)
        One profile or several.
    place : float or sequence of float, shape (m,)
        [m].

    Returns
    -------
    ndarray, shape (...) or (..., m)

    Examples
    --------
    >>> float(read_at(np.array([0.0, 1.0, 2.0]), np.array([0.0, 10.0, 30.0]), 1.5))
    20.0
    """
    at = np.asarray(place, dtype=float)
    i = np.minimum(np.maximum(distance.searchsorted(at) - 1, 0), len(distance) - 2)
    begin = distance[i]
    share = np.minimum(np.maximum((at - begin) / (distance[i + 1] - begin), 0.0), 1.0)
    return values[..., i] * (1 - share) + values[..., i + 1] * share


def read_along(distance: np.ndarray, values: np.ndarray, places: np.ndarray) -> np.ndarray:
    """Read profiles at many places, each as `numpy.interp` does.

    Parameters
    ----------
    distance : ndarray, shape (n,)
        Increasing [m].
    values : ndarray, shape (..., n)
        One profile or several.
    places : ndarray, shape (m,) or (..., m)
        The same for all, or those of each profile [m].

    Returns
    -------
    ndarray, shape (..., m)

    Examples
    --------
    >>> z = np.array([0.0, 1.0, 2.0])
    >>> read_along(z, np.array([[0.0, 10.0, 30.0], [5.0, 5.0, 1.0]]), np.array([0.5, 1.5, 9.0]))
    array([[ 5., 20., 30.],
           [ 5.,  3.,  1.]])
    """
    return Places(distance, places).of(values)


class Places:
    """Places to be read at, looked up once for any number of profiles.

    Parameters
    ----------
    distance : ndarray, shape (n,)
        Increasing [m].
    places : ndarray, shape (m,) or (..., m)
        As for `read_along` [m].
    """

    def __init__(self, distance: np.ndarray, places: np.ndarray) -> None:
        i = np.minimum(np.maximum(distance.searchsorted(places, "right") - 1, 0), len(distance) - 2)
        begin = distance[i]
        self.index, self.width, self.beyond = i, distance[i + 1] - begin, places - begin
        self.before, self.behind = places < distance[0], places >= distance[-1]
        self.outside = bool(self.before.any() or self.behind.any())

    def of(self, values: np.ndarray) -> np.ndarray:
        """Read profiles, as `read_along`; in place, as large arrays that come and go cost more than the sums."""
        if self.index.ndim == 1:
            low, found = values.take(self.index, axis=-1), values.take(self.index + 1, axis=-1)
        else:
            low, found = (np.take_along_axis(values, i, -1) for i in (self.index, self.index + 1))
        found -= low
        found /= self.width
        found *= self.beyond
        found += low
        if self.outside:
            found = np.where(self.before, values[..., :1], np.where(self.behind, values[..., -1:], found))
        return found


def _between(
    distance: np.ndarray, values: np.ndarray, start: float, end: float
) -> tuple[np.ndarray, np.ndarray]:
    """Return the points of profiles from one place to another, read between their points at both."""
    i, j = distance.searchsorted((start, end)).tolist()
    if j < len(distance) and distance[i] == start and distance[j] == end:
        return distance[i : j + 1], values[..., i : j + 1]
    inner = slice(distance.searchsorted(start, "right"), j)
    ends = read_along(distance, values, np.array([start, end]))
    return (
        np.concatenate(((start,), distance[inner], (end,))),
        np.concatenate((ends[..., :1], values[..., inner], ends[..., 1:]), axis=-1),
    )


def steepest(
    distance: np.ndarray, values: np.ndarray, start: float, end: float, span: float = 0.5
) -> tuple[np.ndarray, np.ndarray]:
    """Find the stretch of one length over which a profile rises most; pass the negative for a fall.

    The profile is taken as straight between its points, so the answer is exact for it: the largest difference
    over a moving stretch has one of its ends on a point.

    Parameters
    ----------
    distance : ndarray, shape (n,)
        Increasing [m].
    values : ndarray, shape (..., n)
        One profile or several, e.g. [degC].
    start, end : float
        The stretch lies wholly between them [m].
    span : float
        Length of the stretch [m].

    Returns
    -------
    rate : ndarray, shape (...)
        Rise per metre, e.g. [K/m]; NaN when there is no room for a stretch.
    place : ndarray, shape (...)
        Where the stretch starts [m].

    Examples
    --------
    >>> z = np.array([0.0, 1.0, 2.0, 4.0])
    >>> rate, place = steepest(z, np.array([900.0, 900.0, 980.0, 900.0]), 0.0, 4.0)
    >>> float(rate), float(place)
    (80.0, 1.0)
    """
    if end - span < start - 1e-12:
        none = np.full(values.shape[:-1], math.nan)
        return none, none
    _, v = _between(distance, values, start, end)
    begins, ahead_of, ends, behind_of = _moving(distance.tobytes(), start, end, span)
    rows, inner = values.reshape(-1, len(distance)), v.reshape(-1, v.shape[-1])
    found = []
    for k in range(0, len(rows), _BLOCK):
        ahead, behind = (places.of(rows[k : k + _BLOCK]) for places in (ahead_of, behind_of))
        ahead -= inner[k : k + _BLOCK, : len(begins)]
        np.subtract(inner[k : k + _BLOCK, -len(ends) :], behind, out=behind)
        i, j = ahead.argmax(axis=-1), behind.argmax(axis=-1)
        found.append([ahead.max(axis=-1), begins[i], behind.max(axis=-1), ends[j] - span])
    shape = 4, *values.shape[:-1]
    first, place, second, other = np.concatenate(found, axis=-1).reshape(shape)
    sooner = (first > second) | ((first == second) & (place <= other))
    return np.where(sooner, first, second) / span, np.where(sooner, place, other)


@lru_cache(maxsize=64)
def _moving(
    distance: bytes, start: float, end: float, span: float
) -> tuple[np.ndarray, Places, np.ndarray, Places]:
    """Return where a moving stretch begins on a point, with its ends, and where it ends on one, with its beginnings."""
    own = np.frombuffer(distance)
    z, _ = _between(own, own, start, end)
    begins = z[: max(int(z.searchsorted(end - span, "right")), 1)]
    ends = z[min(int(z.searchsorted(start + span)), len(z) - 1) :]
    return begins, Places(own, begins + span), ends, Places(own, ends - span)


def largest_rise(
    distance: np.ndarray, values: np.ndarray, start: float, end: float, ripple: float = RIPPLE
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Find the largest rise from a local minimum to the next maximum.

    Parameters
    ----------
    distance : ndarray, shape (n,)
        Increasing [m].
    values : ndarray, shape (..., n)
        One profile or several, e.g. [degC].
    start, end : float
        Where to look [m].
    ripple : float
        A fall smaller than this does not end a rise, in the unit of the profile.

    Returns
    -------
    rise : ndarray, shape (...)
        0 for a profile that never rises.
    low, high : ndarray, shape (...)
        Where the rise begins and ends [m]; NaN without a rise.

    Examples
    --------
    >>> z = np.arange(5.0)
    >>> found = largest_rise(z, np.array([1000.0, 900.0, 960.0, 910.0, 940.0]), 0.0, 4.0)
    >>> [float(x) for x in found]
    [60.0, 1.0, 2.0]
    """
    z, v = _between(distance, values, start, end)
    rows = v.reshape(-1, len(z))
    row, column = _turning(rows).nonzero()
    places, turns = z[column].tolist(), rows[row, column].tolist()
    borders = row.searchsorted(np.arange(len(rows) + 1)).tolist()
    found = np.array([_rise(places[a:b], turns[a:b], ripple) for a, b in pairwise(borders)])
    rise, low, high = found.T.reshape(3, *v.shape[:-1])
    return rise, low, high


def _rise(places: Sequence[float], values: Sequence[float], ripple: float) -> tuple[float, float, float]:
    """Find the largest rise on the way through the turning points of one profile."""
    best = (0.0, math.nan, math.nan)
    bottom, top, low = math.inf, -math.inf, math.nan
    for place, value in zip(places, values, strict=True):
        if value < bottom or value < top - ripple:
            bottom, top, low = value, value, place
        elif value > top:
            top = value
            if top - bottom > best[0]:
                best = (top - bottom, low, place)
    return best


def turning_points(
    distance: np.ndarray, values: np.ndarray, start: float, end: float
) -> tuple[np.ndarray, np.ndarray]:
    """Find where a profile turns from rising to falling or level, and the other way round; its ends count.

    Parameters
    ----------
    distance, values : ndarray, shape (n,)
        The profile over its distance [m].
    start, end : float
        Where to look [m].

    Returns
    -------
    places, values : ndarray, shape (m,)
        Distances [m], and the profile there.

    Examples
    --------
    >>> z = np.arange(5.0)
    >>> turning_points(z, np.array([1000.0, 900.0, 930.0, 960.0, 910.0]), 0.0, 4.0)[0]
    array([0., 1., 3., 4.])
    """
    z, v = _between(distance, values, start, end)
    turning = _turning(v)
    return z[turning], v[turning]


def _turning(values: np.ndarray) -> np.ndarray:
    """Tell of each point of each row whether the profile turns there."""
    rising, falling = values[..., 1:] > values[..., :-1], values[..., 1:] < values[..., :-1]
    turning = np.ones(values.shape, dtype=bool)
    turning[..., 1:-1] = (rising[..., 1:] != rising[..., :-1]) | (falling[..., 1:] != falling[..., :-1])
    return turning


def highest(
    distance: np.ndarray, values: np.ndarray, start: float, end: float
) -> tuple[np.ndarray, np.ndarray]:
    """Find the largest value of a profile between two places, both included.

    Parameters
    ----------
    distance : ndarray, shape (n,)
        Increasing [m].
    values : ndarray, shape (..., n)
        One profile or several.
    start, end : float
        Where to look [m].

    Returns
    -------
    value, place : ndarray, shape (...)
        The largest value and where it stands [m].

    Examples
    --------
    >>> value, place = highest(np.array([0.0, 1.0, 2.0]), np.array([1100.0, 1000.0, 900.0]), 0.5, 2.0)
    >>> float(value), float(place)
    (1050.0, 0.5)
    """
    z, v = _between(distance, values, start, end)
    return v.max(axis=-1), z[v.argmax(axis=-1)]


def crossing(distance: np.ndarray, values: np.ndarray, level: float | Sequence[float]) -> np.ndarray:
    """Find where a profile first reaches a level, or several, from below.

    Parameters
    ----------
    distance : ndarray, shape (n,)
        Increasing [m].
    values : ndarray, shape (..., n)
        One profile or several.
    level : float or sequence of float, shape (m,)
        In the unit of the profile.

    Returns
    -------
    ndarray, shape (...) or (..., m)
        Distance [m]; NaN when the level is never reached.

    Examples
    --------
    >>> float(crossing(np.array([0.0, 1.0, 2.0]), np.array([0.0, 0.5, 1.0]), 0.75))
    1.5
    """
    levels = np.atleast_1d(np.asarray(level, dtype=float))
    i = np.maximum(np.stack([(values >= own).argmax(axis=-1) for own in levels], axis=-1), 1)
    below, above = (np.take_along_axis(values, at, -1) for at in (i - 1, i))
    rise = np.where(above > below, above - below, 1.0)
    found = distance[i - 1] + (levels - below) / rise * (distance[i] - distance[i - 1])
    found = np.where(above >= levels, found, math.nan)
    found = np.where(values[..., :1] >= levels, distance[0], found)
    return found if np.ndim(level) else found[..., 0]
