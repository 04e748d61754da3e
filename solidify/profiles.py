"""What a limit needs from a profile along the strand: the steepest stretch, the largest rise, a crossing."""

from __future__ import annotations

import math

import numpy as np

__all__ = ["RIPPLE", "crossing", "highest", "largest_rise", "read_at", "steepest", "turning_points"]

RIPPLE = 1.0
"""A fall of the surface up to this much does not end a rise [K]."""


def read_at(distance: np.ndarray, values: np.ndarray, place: float) -> np.ndarray:
    """Read profiles at one place, straight between their points and level beyond their ends.

    Parameters
    ----------
    distance : ndarray, shape (n,)
        Increasing [m].
    values : ndarray, shape (..., n)
        One profile or several.
    place : float
        [m].

    Returns
    -------
    ndarray, shape (...)

    Examples
    --------
    >>> float(read_at(np.array([0.0, 1.0, 2.0]), np.array([0.0, 10.0, 30.0]), 1.5))
    20.0
    """
    i = min(max(int(distance.searchsorted(place)) - 1, 0), len(distance) - 2)
    begin, end = float(distance[i]), float(distance[i + 1])
    share = min(max((place - begin) / (end - begin), 0.0), 1.0)
    return values[..., i] * (1 - share) + values[..., i + 1] * share


def _between(
    distance: np.ndarray, values: np.ndarray, start: float, end: float
) -> tuple[np.ndarray, np.ndarray]:
    """Return the points of a profile from one place to another, read between its points at both."""
    inner = slice(distance.searchsorted(start, "right"), distance.searchsorted(end))
    first, last = np.interp((start, end), distance, values)
    return (
        np.concatenate(((start,), distance[inner], (end,))),
        np.concatenate(((first,), values[inner], (last,))),
    )


def steepest(
    distance: np.ndarray, values: np.ndarray, start: float, end: float, span: float = 0.5
) -> tuple[float, float]:
    """Find the stretch of one length over which a profile rises most; pass the negative for a fall.

    The profile is taken as straight between its points, so the answer is exact for it: the largest difference
    over a moving stretch has one of its ends on a point.

    Parameters
    ----------
    distance : ndarray, shape (n,)
        Increasing [m].
    values : ndarray, shape (n,)
        The profile, e.g. [degC].
    start, end : float
        The stretch lies wholly between them [m].
    span : float
        Length of the stretch [m].

    Returns
    -------
    rate : float
        Rise per metre, e.g. [K/m]; NaN when there is no room for a stretch.
    place : float
        Where the stretch starts [m].

    Examples
    --------
    >>> z = np.array([0.0, 1.0, 2.0, 4.0])
    >>> steepest(z, np.array([900.0, 900.0, 980.0, 900.0]), 0.0, 4.0)
    (80.0, 1.0)
    """
    if end - span < start - 1e-12:
        return math.nan, math.nan
    z, v = _between(distance, values, start, end)
    begins = z[: max(int(z.searchsorted(end - span, "right")), 1)]
    ends = z[min(int(z.searchsorted(start + span)), len(z) - 1) :]
    ahead = np.interp(begins + span, distance, values) - v[: len(begins)]
    behind = v[len(z) - len(ends) :] - np.interp(ends - span, distance, values)
    i, j = int(ahead.argmax()), int(behind.argmax())
    rise, place = max((float(ahead[i]), -float(begins[i])), (float(behind[j]), span - float(ends[j])))
    return rise / span, -place


def largest_rise(
    distance: np.ndarray, values: np.ndarray, start: float, end: float, ripple: float = RIPPLE
) -> tuple[float, float, float]:
    """Find the largest rise from a local minimum to the next maximum.

    Parameters
    ----------
    distance : ndarray, shape (n,)
        Increasing [m].
    values : ndarray, shape (n,)
        The profile, e.g. [degC].
    start, end : float
        Where to look [m].
    ripple : float
        A fall smaller than this does not end a rise, in the unit of the profile.

    Returns
    -------
    rise : float
        0 for a profile that never rises.
    low, high : float
        Where the rise begins and ends [m]; NaN without a rise.

    Examples
    --------
    >>> z = np.arange(5.0)
    >>> largest_rise(z, np.array([1000.0, 900.0, 960.0, 910.0, 940.0]), 0.0, 4.0)
    (60.0, 1.0, 2.0)
    """
    places, turns = turning_points(distance, values, start, end)
    best = (0.0, math.nan, math.nan)
    bottom, top, low = math.inf, -math.inf, math.nan
    for place, value in zip(places.tolist(), turns.tolist(), strict=True):
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
    rising, falling = v[1:] > v[:-1], v[1:] < v[:-1]
    turning = np.ones(len(z), dtype=bool)
    turning[1:-1] = (rising[1:] != rising[:-1]) | (falling[1:] != falling[:-1])
    return z[turning], v[turning]


def highest(distance: np.ndarray, values: np.ndarray, start: float, end: float) -> tuple[float, float]:
    """Find the largest value of a profile between two places, both included.

    Parameters
    ----------
    distance, values : ndarray, shape (n,)
        The profile over its distance [m].
    start, end : float
        Where to look [m].

    Returns
    -------
    value, place : float
        The largest value and where it stands [m].

    Examples
    --------
    >>> highest(np.array([0.0, 1.0, 2.0]), np.array([1100.0, 1000.0, 900.0]), 0.5, 2.0)
    (1050.0, 0.5)
    """
    z, v = _between(distance, values, start, end)
    i = int(v.argmax())
    return float(v[i]), float(z[i])


def crossing(distance: np.ndarray, values: np.ndarray, level: float) -> float:
    """Find where a profile first reaches a level from below.

    Parameters
    ----------
    distance, values : ndarray, shape (n,)
        The profile over its distance [m].
    level : float
        In the unit of the profile.

    Returns
    -------
    float
        Distance [m]; NaN when the level is never reached.

    Examples
    --------
    >>> crossing(np.array([0.0, 1.0, 2.0]), np.array([0.0, 0.5, 1.0]), 0.75)
    1.5
    """
    reached = np.flatnonzero(values >= level)
    if not len(reached):
        return math.nan
    i = int(reached[0])
    if i == 0:
        return float(distance[0])
    share = (level - values[i - 1]) / (values[i] - values[i - 1])
    return float(distance[i - 1] + share * (distance[i] - distance[i - 1]))
