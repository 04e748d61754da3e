"""Free shrinkage of the shell in the mould, and the taper that follows it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "TaperProfile",
    "taper_profile",
]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class TaperProfile:
    """How the strand would shrink freely in the mould, and what a straight taper leaves open.

    Parameters
    ----------
    distance : ndarray (n,)
        From the meniscus [m].
    contraction : ndarray (n,)
        Of the whole size, free [m].
    taper : ndarray (n,)
        Local taper that follows the free contraction, of the whole size, so that it counts both sides together [m-1]
        (0.01 is 1 %/m).
    single_taper : float
        The straight taper compared with [m-1].
    gap : ndarray (n,)
        On each of the two sides under the straight taper [m]; negative where the mould presses on the shell.
    """

    distance: Array
    contraction: Array
    taper: Array
    single_taper: float
    gap: Array


def taper_profile(
    distance: ArrayLike, strain: ArrayLike, size: float, single_taper: float | None = None
) -> TaperProfile:
    """Return the taper that follows the free shrinkage of the shell, against one straight taper.

    Parameters
    ----------
    distance : array_like (n,)
        From the meniscus, increasing, at least two [m].
    strain : array_like (n,)
        Free linear thermal strain of the surface against the solidus [1], negative where it has shrunk; zero
        while the surface is not solid.
    size : float
        Width or thickness of the strand [m].
    single_taper : float, optional
        Straight taper of the mould [m-1]; default: the one that meets the free contraction at the last
        distance.

    Returns
    -------
    TaperProfile

    Notes
    -----
    The shell is taken as unstressed, without creep, and as cold as its surface: an upper estimate. Where the surface
    warms up again the local taper is negative: then there is no taper to follow, and the flux should be looked at.

    Examples
    --------
    >>> profile = taper_profile([0.0, 0.35, 0.7], [0.0, -0.0045, -0.0066], 0.130)
    >>> round(profile.single_taper * 100, 2), round(float(profile.contraction[-1]) * 1e3, 2)
    (0.94, 0.86)
    """
    z, e = np.asarray(distance, dtype=float), np.asarray(strain, dtype=float)
    contraction = -size * e
    straight = contraction[-1] / (size * z[-1]) if single_taper is None else single_taper
    taper = np.gradient(contraction, z) / size
    return TaperProfile(z, contraction, taper, float(straight), 0.5 * (contraction - straight * size * z))
