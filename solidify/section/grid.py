"""Where the nodes of a section lie: fine at both faces, on the surfaces and on the planes of symmetry."""

from __future__ import annotations

import math

import numpy as np

from solidify.solver.grid import usual_nodes

__all__ = ["section_nodes", "usual_section_nodes"]

_SHARE = 0.8
"""Nodes over the half thickness, of those that a slice takes."""

_FIRST, _MIDDLE = 0.2, 0.5
"""Spacing at a surface and at the middle of the section, of the widest."""

_GROWTH = 0.07
"""How the spacing grows with the distance from either [1]."""

_AWAY, _FAR_GROWTH = 1.2, 0.15
"""Beyond so many half thicknesses from the narrow face heat flows one way; there the spacing may grow faster [1]."""

_POINTS = 4001


def usual_section_nodes(half_thickness: float, freezing: float = math.inf) -> int:
    """Return how many nodes a section has over its half thickness unless its case says otherwise.

    Parameters
    ----------
    half_thickness : float
        Wide face to centre [m].
    freezing : float
        From the liquidus down to a solid fraction of 0.7 [K].

    Returns
    -------
    int
        At least 32.

    Examples
    --------
    >>> usual_section_nodes(0.125), usual_section_nodes(0.065)
    (46, 34)
    """
    return max(round(_SHARE * usual_nodes(half_thickness, freezing)), 32)


def section_nodes(
    half_thickness: float, half_width: float, nodes: int, whole: bool = False
) -> tuple[np.ndarray, np.ndarray]:
    """Lay the nodes of a quarter section, or of a half where the two wide faces differ.

    The spacing is the least of the widest, a fifth of it + 0.07 x, and half of it + 0.07 of the distance from the
    middle, along both directions; away from the narrow face of a slab it grows on.

    Parameters
    ----------
    half_thickness, half_width : float
        Surface to centre [m].
    nodes : int
        From the wide face to the centre, both ends counted; at least 8.
    whole : bool
        Whether the nodes go from one wide face to the other.

    Returns
    -------
    depth : ndarray
        Below the (loose-side) wide face [m].
    along : ndarray
        From the narrow face to the middle of the wide one [m].

    Examples
    --------
    >>> depth, along = section_nodes(0.1, 0.1, 32)
    >>> bool((depth == along).all()), len(depth)
    (True, 32)
    """
    low, high = half_thickness / nodes * 0.2, half_thickness / nodes * 20
    for _ in range(60):
        widest = math.sqrt(low * high)
        cells = _cells(half_thickness, half_thickness, widest)[1][-1]
        low, high = (widest, high) if cells > nodes - 1 else (low, widest)
    depth = _placed(half_thickness, half_thickness, widest, nodes)
    count = max(round(float(_cells(half_width, half_thickness, widest)[1][-1])) + 1, 8)
    along = depth if half_width == half_thickness else _placed(half_width, half_thickness, widest, count)
    if whole:
        depth = np.concatenate([depth, 2.0 * half_thickness - depth[-2::-1]])
    return depth, along


def _cells(length: float, half_thickness: float, widest: float) -> tuple[np.ndarray, np.ndarray]:
    """Return places [m] and how many cells lie before each."""
    x = np.linspace(0.0, length, _POINTS)
    spacing = np.minimum(widest, _FIRST * widest + _GROWTH * x)
    if length < 2.0 * half_thickness:
        spacing = np.minimum(spacing, _MIDDLE * widest + _GROWTH * (length - x))
    else:
        beyond = np.maximum(x - _AWAY * half_thickness, 0.0)
        spacing = np.minimum(spacing + _FAR_GROWTH * beyond, 0.5 * half_thickness)
    per = 1.0 / spacing
    return x, np.append(0.0, np.cumsum(0.5 * (per[1:] + per[:-1]) * np.diff(x)))


def _placed(length: float, half_thickness: float, widest: float, nodes: int) -> np.ndarray:
    """Return as many places, a cell apart [m]."""
    x, cells = _cells(length, half_thickness, widest)
    found = np.interp(np.linspace(0.0, cells[-1], nodes), cells, x)
    found[0], found[-1] = 0.0, length
    return found
