"""Mould oscillation: negative strip and the pitch of the marks."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "mark_pitch",
    "mould_speed_ratio",
    "negative_strip_ratio",
    "negative_strip_time",
]

Array = NDArray[np.float64]


def negative_strip_time(speed: ArrayLike, frequency: ArrayLike, stroke: ArrayLike) -> Array:
    """Return the time in each cycle during which the mould goes down faster than the strand.

    Parameters
    ----------
    speed : array_like
        Casting speed, above 0 [m s-1].
    frequency : array_like
        Of a sinusoidal oscillation [Hz].
    stroke : array_like
        Full stroke, twice the amplitude [m].

    Returns
    -------
    ndarray
        Negative strip time [s]; zero where the mould never outruns the strand.

    Notes
    -----
    ``t_N = arccos(v / (pi f s)) / (pi f)``: follows from the sinusoid; common practice as a measure.

    Examples
    --------
    >>> round(float(negative_strip_time(1.2 / 60, 150 / 60, 6e-3)), 3)
    0.144
    """
    f = np.asarray(frequency, dtype=float)
    ratio = np.asarray(speed, dtype=float) / (math.pi * f * np.asarray(stroke, dtype=float))
    return np.arccos(np.minimum(ratio, 1.0)) / (math.pi * f)


def negative_strip_ratio(speed: ArrayLike, frequency: ArrayLike, stroke: ArrayLike) -> Array:
    """Return by how much the mean speed of the mould exceeds the casting speed.

    Parameters
    ----------
    speed, frequency, stroke : array_like
        As in `negative_strip_time`.

    Returns
    -------
    ndarray
        ``2 f s / v - 1`` [1]; positive when the mould is the faster. Some plants print it with the
        other sign.

    Examples
    --------
    >>> round(float(negative_strip_ratio(1.2 / 60, 150 / 60, 6e-3)), 2)
    0.5
    """
    return 2.0 * np.asarray(frequency, dtype=float) * np.asarray(stroke) / np.asarray(speed) - 1.0


def mould_speed_ratio(speed: ArrayLike, frequency: ArrayLike, stroke: ArrayLike) -> Array:
    """Return the peak speed of the mould over the casting speed; above 1 there is a negative strip.

    Parameters
    ----------
    speed, frequency, stroke : array_like
        As in `negative_strip_time`.

    Returns
    -------
    ndarray
        ``pi f s / v`` [1].

    Examples
    --------
    >>> round(float(mould_speed_ratio(1.2 / 60, 150 / 60, 6e-3)), 2)
    2.36
    """
    return math.pi * np.asarray(frequency, dtype=float) * np.asarray(stroke) / np.asarray(speed)


def mark_pitch(speed: ArrayLike, frequency: ArrayLike) -> Array:
    """Return the distance between oscillation marks [m] from speed [m s-1] and frequency [Hz].

    Parameters
    ----------
    speed : array_like
        Casting speed [m s-1].
    frequency : array_like
        Of the mould [Hz].

    Returns
    -------
    ndarray, shapes broadcast
        [m].

    Examples
    --------
    >>> round(float(mark_pitch(1.2 / 60, 150 / 60)) * 1e3, 6)
    8.0
    """
    return np.asarray(speed, dtype=float) / np.asarray(frequency)
