"""Where the nodes of a slice lie and what cross-section belongs to each.

The first node lies on the cooled (loose-side) surface, the last on the centre or on the other surface, so
nothing is ever extrapolated. The weight A(x) is the area through which heat flows at depth x, relative to the
surface. It may turn into another one while the slice solidifies.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

__all__ = [
    "Grid",
    "SectionWeight",
    "annulus",
    "cylinder",
    "graded_depth",
    "mid_face",
    "plate",
    "section_weight",
    "uniform_depth",
    "usual_nodes",
    "weighted",
]

_WIDE = 30.0
"""From the liquidus to a solid fraction of 0.7: from here on a front passes nodes enough [K]."""

_HALF_SCALE = 0.1
"""Half thickness to which that of a rectangle is compared [m]."""

_FITTED = (0.05, 0.2)
"""Half thicknesses within which the weight of a rectangle depends on them [m]."""

_LEAST_TURN = 0.04
"""Least range of the solid fraction within which the weight of a rectangle turns [1]."""

_GAUSS = np.polynomial.legendre.leggauss(8)


@dataclass(frozen=True)
class Grid:
    """Nodes, face conductances and half-cell weights, ready for the march.

    Parameters
    ----------
    depth : ndarray, shape (n,)
        Node depths from the first face [m], increasing.
    conductance : ndarray, shape (n,)
        Weight at the middle between nodes over their spacing [m-1]; the last entry is unused.
    weights : ndarray, shape (4, n)
        For the half cells right of node i (rows 0, 1) and left of node i + 1 (rows 2, 3): the two
        coefficients of
        ``w0 mean(H) + w1 mean(s H)`` that integrate A H exactly for A linear along the half cell [m].
    areas : ndarray, shape (2,)
        Weight at the first and at the last node [1].
    curved : bool
        Whether the weight varies at all.
    volume : ndarray, shape (n,)
        Integral of the weight over each node's cell [m].
    becomes : Grid, optional
        Weights on the same nodes, with the same areas at both faces, that these turn into.
    turns : tuple of float
        Equivalent solid fraction of the whole depth at which they begin to turn, and at which they have turned; linear
        between, and never back [1].
    """

    depth: np.ndarray
    conductance: np.ndarray
    weights: np.ndarray
    areas: np.ndarray
    curved: bool
    volume: np.ndarray
    becomes: Grid | None = None
    turns: tuple[float, float] = (0.0, 1.0)

    @property
    def nodes(self) -> int:
        """Number of nodes."""
        return len(self.depth)


def weighted(depth: np.ndarray, area: Callable[[np.ndarray], np.ndarray]) -> Grid:
    """Build a grid for any cross-section weight.

    Parameters
    ----------
    depth : ndarray, shape (n,)
        Node depths [m], strictly increasing, at least three.
    area : callable
        Weight A(x) of a depth array [1], not negative.

    Returns
    -------
    Grid

    Raises
    ------
    ValueError
        If the depths do not increase or the weight is negative or vanishes within.
    """
    x = np.ascontiguousarray(depth, dtype=float)
    if x.ndim != 1 or len(x) < 3 or not np.all(np.diff(x) > 0):
        raise ValueError("depth: at least three strictly increasing node depths are needed")
    n = len(x)
    h = np.diff(x)
    middle = 0.5 * (x[:-1] + x[1:])
    conductance = np.zeros(n)
    conductance[:-1] = area(middle) / h
    if np.any(conductance[:-1] <= 0) or np.any(np.asarray(area(x)) < -1e-12):
        raise ValueError("area: the weight must be positive between the faces")
    weights = np.zeros((4, n))
    nodes, shares = 0.5 * (_GAUSS[0] + 1), 0.5 * _GAUSS[1]
    for row, begin in ((0, x[:-1]), (2, middle)):
        length = 0.5 * h
        a = area((begin[:, None] + length[:, None] * nodes).ravel()).reshape(n - 1, -1)
        volume = length * (a @ shares)
        moment = length * (a @ (shares * nodes))
        weights[row + 1, :-1] = 12 * (moment - 0.5 * volume)
        weights[row, :-1] = volume - 0.5 * weights[row + 1, :-1]
    curved = bool(np.any(np.abs(weights[1::2]) > 1e-13 * x[-1]))
    if not curved:
        weights[1::2] = 0.0
    volume = np.zeros(n)
    volume[:-1] += weights[0, :-1] + 0.5 * weights[1, :-1]
    volume[1:] += weights[2, :-1] + 0.5 * weights[3, :-1]
    areas = np.asarray(area(x[[0, -1]]), dtype=float)
    return Grid(x, conductance, weights, areas, curved, volume)


def plate(depth: np.ndarray) -> Grid:
    """Build a flat grid: heat flows one way.

    Parameters
    ----------
    depth : ndarray, shape (n,)
        Node depths [m].

    Returns
    -------
    Grid

    Examples
    --------
    >>> float(plate(uniform_depth(0.1, 11)).volume.sum())
    0.1
    """
    return weighted(depth, np.ones_like)


def cylinder(depth: np.ndarray) -> Grid:
    """Build the grid of a round section, cooled outside; the last depth is the radius.

    Parameters
    ----------
    depth : ndarray, shape (n,)
        Node depths from the surface [m].

    Returns
    -------
    Grid
    """
    radius = depth[-1]
    return weighted(depth, lambda x: 1 - np.asarray(x) / radius)


def annulus(depth: np.ndarray, inner_radius: float, outward: bool = True) -> Grid:
    """Build the grid of a hollow round; the first face is the inner one unless `outward` is false.

    Parameters
    ----------
    depth : ndarray, shape (n,)
        Node depths from the first face [m].
    inner_radius : float
        Radius of the hollow [m].
    outward : bool
        Whether depth grows with the radius.

    Returns
    -------
    Grid
        Areas relative to the first face.
    """
    first = inner_radius if outward else inner_radius + depth[-1]
    sign = 1.0 if outward else -1.0
    return weighted(depth, lambda x: 1 + sign * np.asarray(x) / first)


@dataclass(frozen=True)
class SectionWeight:
    """Numbers of the weight that stands for a rectangle at the middle of its wide face.

    Parameters
    ----------
    tube : float
        Exponent alpha of the weight at birth, ``(r/R)^alpha exp(alpha (1 - (r/R)^2) / 2)`` [1].
    power : float
        Exponent beta of the weight once it has turned, ``(r/R)^beta`` [1].
    begins, ends : float
        Equivalent solid fraction of the half thickness between which it turns, at most 1 [1].
    """

    tube: float
    power: float
    begins: float
    ends: float


def section_weight(ratio: float, half_thickness: float) -> SectionWeight:
    r"""Return the numbers of the weight of a rectangle.

    .. math::

        \alpha = 0.66\, k^{3.5} \sqrt{R_0 / R}, \quad \beta = k^{1.5} \min(1, 4 k^2)

    with the ratio k, the half thickness R and R_0 = 100 mm. In a solid rectangle that loses the same heat flux all
    round, the potential is a parabola along either axis, with curvatures in the ratio of thickness to width: beta = k.
    With faces at one temperature, far below that of the core, beta = k squared. 1.5 lies between the two; for a square
    beta is 1 whatever its faces do, and heat is conserved. In a section more than twice as wide as thick the cold of
    the narrow faces has not reached the middle by then, and beta is less. The other numbers are fitted to
    two-dimensional sections, on the manual's page on section treatment: the weight turns later the wider and the
    thicker the section is. Half thicknesses below 50 mm and above 200 mm count as these.

    Parameters
    ----------
    ratio : float
        Thickness over width, above 0 and at most 1 [1].
    half_thickness : float
        Surface to centre [m].

    Returns
    -------
    SectionWeight

    Examples
    --------
    >>> section_weight(1.0, 0.1)
    SectionWeight(tube=0.66, power=1.0, begins=0.4, ends=0.82)
    """
    thick = min(max(half_thickness, _FITTED[0]), _FITTED[1]) / _HALF_SCALE
    ends = min(0.82 + 0.36 * (1.0 - ratio) + 0.11 * math.log(thick), 1.0)
    begins = min(0.4 + (1.0 - ratio), ends - _LEAST_TURN)
    power = ratio**1.5 * min(1.0, 4.0 * ratio**2)
    return SectionWeight(0.66 * ratio**3.5 / math.sqrt(thick), power, begins, ends)


def mid_face(depth: np.ndarray, ratio: float, weight: SectionWeight | None = None) -> Grid:
    r"""Build the grid of a rectangle's wide mid-face, a tube of heat that narrows towards the centre.

    At birth

    .. math:: A = (r/R)^\alpha \exp(\alpha (1 - (r/R)^2) / 2)

    with r = R - x and R the half thickness: flat at the surface, since A'/A = (alpha/r)(1 - (r/R)^2) inwards, and like
    a power of r at the centre. Once solid

    .. math:: A = (r/R)^\beta

    and between them a weighted mean of both, linear in the equivalent solid fraction. The numbers are those of
    `section_weight`; the manual's page on section treatment compares the slice with two-dimensional quarter sections.

    Parameters
    ----------
    depth : ndarray, shape (n,)
        Node depths from the surface to the centre [m].
    ratio : float
        Thickness over width, above 0 and at most 1 [1].
    weight : SectionWeight, optional
        Other numbers than those of `section_weight`, e.g. fitted to the section's own two-dimensional march.

    Returns
    -------
    Grid
        It turns.
    """
    half = depth[-1]
    numbers = weight or section_weight(ratio, half)

    def share(x: np.ndarray) -> np.ndarray:
        return np.maximum(1 - np.asarray(x) / half, 0.0)

    def tube(x: np.ndarray) -> np.ndarray:
        r = share(x)
        return np.asarray(r**numbers.tube * np.exp(0.5 * numbers.tube * (1 - r * r)))

    later = weighted(depth, lambda x: share(x) ** numbers.power)
    return replace(weighted(depth, tube), becomes=later, turns=(numbers.begins, numbers.ends))


def uniform_depth(length: float, nodes: int) -> np.ndarray:
    """Return equally spaced node depths.

    Parameters
    ----------
    length : float
        Depth of the last node [m].
    nodes : int
        How many, both ends counted.

    Returns
    -------
    ndarray, shape (nodes,)
    """
    return np.linspace(0.0, length, nodes)


def usual_nodes(half_thickness: float, freezing: float = math.inf) -> int:
    """Return how many nodes a strand is marched with unless its case says otherwise: 5.2 per root of a millimetre.

    A front that is passed on from node to node wavers where the steel about it freezes within a few kelvin: the fewer
    nodes lie between liquidus and front, the more. It grows with the square of the spacing and falls with that range,
    so that below 30 K there are more nodes by the root of 30 K over the range, in whole eights. A stirred pool, which
    conducts several times better than what freezes at its edge, makes it waver in twice the range that a calm one does.

    With them shells at a solid fraction of 0.7 stay within 0.1 mm and surfaces within 2 K of a far finer march on the
    strands of tests/verification/test_class.py.

    Parameters
    ----------
    half_thickness : float
        Surface to centre [m].
    freezing : float
        From the liquidus down to a solid fraction of 0.7 [K].

    Returns
    -------
    int
        At least 30, at most 200.

    Examples
    --------
    >>> usual_nodes(0.125), usual_nodes(0.065), usual_nodes(0.02)
    (58, 42, 30)
    >>> usual_nodes(0.035, 6.6), usual_nodes(0.125, 6.6)
    (72, 128)
    """
    nodes = 5.2 * math.sqrt(1e3 * half_thickness)
    if freezing < _WIDE:
        nodes = 8 * math.ceil(nodes * math.sqrt(_WIDE / max(freezing, 0.1)) / 8)
    return min(max(round(nodes), 30), 200)


def graded_depth(length: float, nodes: int, both_ends: bool = False) -> np.ndarray:
    """Return node depths: fine at the surface, widening to a cap, somewhat finer at the centre where fronts run.

    The spacing is the least of the cap, an eighth of it + 0.14 x, and half of it + 0.07 (length - x). So the grid
    follows one shape at every number of nodes and errors fall with its square.

    Parameters
    ----------
    length : float
        Depth of the last node [m].
    nodes : int
        How many, both ends counted; at least 8.
    both_ends : bool
        Whether the last node lies on another surface, the centre halfway.

    Returns
    -------
    ndarray, shape (nodes,)
    """
    if both_ends:
        half = graded_depth(0.5 * length, (nodes + 1) // 2)
        return np.concatenate([half, length - half[-2::-1]])
    low, high = length / nodes * 0.5, length / nodes * 50
    for _ in range(80):
        cap = math.sqrt(low * high)
        # from the surface to `near` and from `far` to the centre the spacing grows, between them it is the cap
        meet = min(((0.5 - 0.125) * cap + 0.07 * length) / (0.14 + 0.07), length)
        near, far = min(0.875 / 0.14 * cap, meet), max(length - 0.5 / 0.07 * cap, meet)
        first = math.log1p(0.14 * near / (0.125 * cap)) / 0.14
        last = math.log1p(0.07 * (length - far) / (0.5 * cap)) / 0.07
        cells = first + (far - near) / cap + last
        low, high = (cap, high) if cells > nodes - 1 else (low, cap)
    u = np.linspace(0.0, cells, nodes)
    x = np.where(
        u < first,
        0.125 * cap / 0.14 * np.expm1(0.14 * np.minimum(u, first)),
        np.where(
            u > cells - last,
            length - 0.5 * cap / 0.07 * np.expm1(0.07 * np.minimum(cells - u, last)),
            near + (u - first) * cap,
        ),
    )
    x[0], x[-1] = 0.0, length
    return np.asarray(x)
