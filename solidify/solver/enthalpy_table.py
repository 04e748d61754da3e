"""The steel as the march reads it: enthalpy over the conduction potential, in bins aligned with every kink."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

__all__ = ["NARROWEST", "SteelTable", "steel_table"]

NARROWEST = 0.2
"""Narrowest freezing range the march accepts [K]; an isothermal release is spread over it."""

REACH = 100.0
"""How far beyond its ends a table is followed along its first and last slope [K]: water and air may be colder than a
curve begins, and a cold start on a coarse grid overshoots."""


@dataclass(frozen=True)
class SteelTable:
    """Piecewise linear H, T and solid fraction over the potential phi = integral of k dT.

    Parameters
    ----------
    hot : ndarray, shape (bins + 1, 5)
        Per bin: first phi [W m-1], enthalpy there [J m-3] less `enthalpy_offset`, slope, first and second integral of
        the enthalpy from a reference in the freezing range; the last row closes the table.
    cold : ndarray, shape (bins + 1, 6)
        Per bin: temperature [degC] and slope, solid fraction and slope, integral of the solid fraction, 0.
    locator : ndarray of int32, shape (cells,)
        Bin at the start of each of equally wide cells of phi.
    first, inverse : float
        First phi [W m-1] and cells per phi [m W-1] of the locator.
    low, high : float
        Range of phi the table speaks for [W m-1].
    enthalpy_offset : float
        Added to the enthalpies of `hot` [J m-3].
    scale : float
        Potential that counts as one kelvin of error [W m-1].
    capacity : float
        Largest dH/dphi outside the freezing range [s m-2]; sets the first step.
    latent_heat : float
        Enthalpy between the ends of the solid fraction's path [J m-3]; a thousandth of all if nothing freezes.
    steepest : float
        Width that the latent heat would take at the steepest enthalpy [W m-1], infinite if nothing freezes; Newton
        must resolve it.
    steep : tuple of float
        Ends of the stretch that freezes steepest [W m-1], infinite if nothing freezes.
    """

    hot: np.ndarray
    cold: np.ndarray
    locator: np.ndarray
    first: float
    inverse: float
    low: float
    high: float
    enthalpy_offset: float
    scale: float
    capacity: float
    latent_heat: float
    steepest: float
    steep: tuple[float, float]

    @property
    def bins(self) -> int:
        """Number of bins."""
        return len(self.hot) - 1

    @property
    def reach(self) -> tuple[float, float]:
        """Lowest and highest potential that a march may come to [W m-1]."""
        return self.low - REACH / float(self.cold[0, 1]), self.high + REACH / float(self.cold[-2, 1])

    @property
    def mushy(self) -> tuple[float, float]:
        """Potentials up to which all is solid and from which all is liquid [W m-1]."""
        solid, liquid = self.cold[:-1, 2] >= 1.0, self.cold[:-1, 2] <= 0.0
        return (
            self.level(1.0) if solid.any() else -np.inf,
            float(self.hot[int(np.argmax(liquid)), 0]) if liquid.any() else np.inf,
        )

    def _bin(self, phi: np.ndarray) -> np.ndarray:
        return self.hot[1:-1, 0].searchsorted(phi, side="right")

    def _read(self, phi: np.ndarray | float, array: np.ndarray, *columns: int) -> list[np.ndarray]:
        p = np.asarray(phi, dtype=float)
        b = self._bin(p)
        beyond = p - self.hot[:, 0].take(b)
        return [array[:, c].take(b) + array[:, c + 1].take(b) * beyond for c in columns]

    def temperature(self, phi: np.ndarray | float) -> np.ndarray:
        """Return the temperature [degC] at potentials [W m-1] of any shape."""
        return self._read(phi, self.cold, 0)[0]

    def solid_fraction(self, phi: np.ndarray | float) -> np.ndarray:
        """Return the solid fraction [1] at potentials [W m-1] of any shape."""
        return self.state(phi)[1]

    def state(self, phi: np.ndarray | float) -> tuple[np.ndarray, np.ndarray]:
        """Return temperature [degC] and solid fraction [1] at potentials [W m-1] of any shape."""
        temperature, fraction = self._read(phi, self.cold, 0, 2)
        return temperature, np.minimum(np.maximum(fraction, 0.0), 1.0)

    def enthalpy(self, phi: np.ndarray | float) -> np.ndarray:
        """Return the enthalpy [J m-3] at potentials [W m-1] of any shape."""
        return self._read(phi, self.hot, 1)[0] + self.enthalpy_offset

    def potential(self, temperature: np.ndarray | float) -> np.ndarray:
        """Return the potential [W m-1] at temperatures [degC] of any shape."""
        t = np.asarray(temperature, dtype=float)
        b = self.cold[1:-1, 0].searchsorted(t, side="right")
        return self.hot[b, 0] + (t - self.cold[b, 0]) / self.cold[b, 1]

    def level(self, fraction: float) -> float:
        """Return the potential [W m-1] at which the solid fraction is `fraction`, from the liquid side.

        At 1.0 this is the solidus: the hottest potential that is all solid.
        """
        edge = np.append(self.hot[:-1, 0], self.high)
        value = np.append(self.cold[:-1, 2], self.solid_fraction(self.high))
        reached = np.nonzero(value >= fraction - 1e-12)[0]
        if len(reached) == 0:
            return float(edge[0])
        i = int(reached[-1])
        if i == len(edge) - 1:
            return float(edge[-1])
        f0, f1 = value[i], value[i + 1]
        return float(edge[i] + (edge[i + 1] - edge[i]) * (min(max((f0 - fraction) / (f0 - f1), 0.0), 1.0)))


def _spread(
    t: np.ndarray, h: np.ndarray, k: np.ndarray, f: np.ndarray, width: float
) -> tuple[np.ndarray, ...]:
    """Give every isothermal release (equal temperatures, different enthalpies) a range of `width`.

    The curves go straight through the range, whatever knots lay in it.
    """
    for middle in np.unique(t[:-1][(np.diff(t) == 0) & (np.diff(h) > 0)]):
        low, high = max(middle - 0.5 * width, t[0]), min(middle + 0.5 * width, t[-1])
        below, above = t <= low, t >= high
        t, h, k, f = (
            np.concatenate([a[below], np.interp([low, high], t, a), a[above]]) if low < middle < high else a
            for a in (t, h, k, f)
        )
    return t, h, k, f


def _fine(t: np.ndarray, h: np.ndarray, k: np.ndarray, f: np.ndarray) -> tuple[np.ndarray, ...]:
    """Points along the curve, H and f linear in T and k linear in T between knots: phi, T, H, f and knot numbers."""
    inside = max(1, min(64, 4000 // len(t)))
    t0, t1, k0, k1 = t[:-1], t[1:], k[:-1], k[1:]
    keep = t1 > t0
    width = 0.5 * (t1 - t0) * (k0 + k1)
    start = np.concatenate([[0.0], np.cumsum(np.where(keep, width, 0.0))])
    s = np.arange(inside) / inside
    part = s[None, :] * width[:, None]
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = np.where(keep, (k1 - k0) / np.where(keep, t1 - t0, 1.0), 0.0)[:, None]
    # root of k0 x + slope x^2 / 2 = part, in the form that does not cancel
    rise = 2 * part / (k0[:, None] + np.sqrt(np.maximum(k0[:, None] ** 2 + 2 * slope * part, 0.0)))
    u = rise / np.where(keep, t1 - t0, 1.0)[:, None]

    def along(a: np.ndarray) -> np.ndarray:
        values = a[:-1, None] + (a[1:] - a[:-1])[:, None] * u
        return np.append(values[keep].ravel(), a[-1])

    phi = np.append((start[:-1, None] + part)[keep].ravel(), start[-1])
    return phi, along(t), along(h), along(f), start


def _bins(phi: np.ndarray, t: np.ndarray, h: np.ndarray, edges: np.ndarray, accuracy: float) -> np.ndarray:
    """Split the stretches between kinks into equal bins until straight pieces follow T and H closely enough."""
    limit_t = 1e-5 * accuracy * (t[-1] - t[0])
    limit_h = 3e-5 * accuracy * (h[-1] - h[0])
    pieces = []
    for a, b in itertools.pairwise(edges):
        i, j = np.searchsorted(phi, a), np.searchsorted(phi, b)
        n = 1
        while n < 256:
            cut = np.linspace(a, b, n + 1)
            p = phi[i : j + 1]
            off_t = np.abs(np.interp(p, cut, np.interp(cut, phi, t)) - t[i : j + 1]).max(initial=0.0)
            off_h = np.abs(np.interp(p, cut, np.interp(cut, phi, h)) - h[i : j + 1]).max(initial=0.0)
            worst = max(off_t / limit_t, off_h / limit_h)
            if worst <= 1:
                break
            n = max(n + 1, min(4 * n, int(np.ceil(n * np.sqrt(worst)))))
        pieces.append(np.linspace(a, b, n + 1)[:-1])
    return np.append(np.concatenate(pieces), edges[-1])


def steel_table(
    temperature: np.ndarray,
    enthalpy: np.ndarray,
    conductivity: np.ndarray,
    solid_fraction: np.ndarray,
    *,
    kinks: np.ndarray | None = None,
    narrowest: float = NARROWEST,
    accuracy: float = 1.0,
) -> SteelTable:
    """Build the table of the march from property curves, linear in temperature between their knots.

    Parameters
    ----------
    temperature : array, shape (n,)
        Knots [degC], not decreasing. A repeated temperature with two conductivities is a jump of the conductivity;
        with two enthalpies it is an isothermal release, spread over `narrowest`.
    enthalpy : array, shape (n,)
        [J m-3], strictly increasing between different temperatures.
    conductivity : array, shape (n,)
        [W m-1 K-1], positive.
    solid_fraction : array, shape (n,)
        [1], not increasing.
    kinks : array, optional
        Temperatures where a slope breaks [degC]; bins end there. Every knot by default.
    narrowest : float
        Range given to an isothermal release [K].
    accuracy : float
        Smaller makes more bins: 1 follows the temperature to 1e-5 of its range.

    Returns
    -------
    SteelTable

    Raises
    ------
    ValueError
        If the curves are not as described.
    """
    t, h, k, f = (np.asarray(a, dtype=float) for a in (temperature, enthalpy, conductivity, solid_fraction))
    if not (t.shape == h.shape == k.shape == f.shape) or t.ndim != 1 or len(t) < 2:
        raise ValueError("steel table: four curves of one length, two knots or more, are needed")
    if not all(np.all(np.isfinite(a)) for a in (t, h, k, f)):
        raise ValueError("steel table: a value is not finite")
    if np.any(np.diff(t) < 0) or np.any(np.diff(h) < 0) or np.any(k <= 0) or np.any(np.diff(f) > 1e-12):
        raise ValueError(
            "steel table: temperature and enthalpy must rise, conductivity be positive, solid fraction fall"
        )
    t, h, k, f = _spread(t, h, k, f, narrowest)
    if np.any((np.diff(t) > 0) & (np.diff(h) <= 0)) or np.any(np.diff(t) < 0):
        raise ValueError("steel table: the enthalpy must rise with the temperature")
    phi, tt, hh, ff, knots = _fine(t, h, k, f)
    if kinks is None:
        edges = np.unique(knots)
    else:
        inner = np.asarray(kinks, dtype=float)
        inner = inner[(inner > t[0]) & (inner < t[-1])]
        edges = np.unique(np.concatenate([[phi[0]], np.interp(inner, tt, phi), [phi[-1]]]))
    edges = edges[np.concatenate([[True], np.diff(edges) > 1e-9 * (edges[-1] - edges[0])])]
    edges[-1] = phi[-1]
    cut = _bins(phi, tt, hh, edges, accuracy)
    return _assemble(cut, np.interp(cut, phi, tt), np.interp(cut, phi, hh), np.interp(cut, phi, ff), t, k)


def _assemble(
    p: np.ndarray, tt: np.ndarray, hh: np.ndarray, ff: np.ndarray, t: np.ndarray, k: np.ndarray
) -> SteelTable:
    """Fill the rows of the table from values at the bin edges."""
    width = np.diff(p)
    slope = np.diff(hh) / width
    m = len(width)
    reference = int(np.argmax(slope))
    offset = hh[reference]
    h0 = hh - offset
    g = np.concatenate([[0.0], np.cumsum(width * 0.5 * (h0[:-1] + h0[1:]))])
    g -= g[reference]
    gg = np.concatenate([[0.0], np.cumsum(width * (g[:-1] + width * (h0[:-1] / 2 + slope * width / 6)))])
    gg -= gg[reference]
    s = np.concatenate([[0.0], np.cumsum(width * 0.5 * (ff[:-1] + ff[1:]))])
    hot = np.zeros((m + 1, 5))
    cold = np.zeros((m + 1, 6))
    hot[:, 0], hot[:, 1], hot[:-1, 2], hot[:, 3], hot[:, 4] = p, h0, slope, g, gg
    cold[:, 0], cold[:-1, 1], cold[:, 2], cold[:-1, 3], cold[:, 4] = (
        tt,
        np.diff(tt) / width,
        ff,
        np.diff(ff) / width,
        s,
    )
    hot[m, 0] = np.inf
    cells = int(np.clip(np.ceil((p[-1] - p[0]) / width.min()), 8, 4096))
    locator = np.clip(
        np.searchsorted(p, p[0] + (p[-1] - p[0]) / cells * np.arange(cells), side="right") - 1, 0, m - 1
    )
    freezing = np.diff(ff) < 0
    sensible = slope[~freezing].max() if np.any(~freezing) else slope.max()
    latent = (
        float(hh[1:][freezing].max() - hh[:-1][freezing].min())
        if np.any(freezing)
        else sensible * width.sum() * 1e-3
    )
    scale = float(np.median(k)) * (t[-1] - t[0]) / 1600.0
    return SteelTable(
        hot,
        cold,
        locator.astype(np.int32),
        float(p[0]),
        cells / float(p[-1] - p[0]),
        float(p[0]),
        float(p[-1]),
        float(offset),
        scale,
        float(sensible),
        latent,
        latent / float(slope[freezing].max()) if np.any(freezing) else np.inf,
        _steep(p, np.diff(hh) / np.diff(tt)) if np.any(freezing) else (np.inf, np.inf),
    )


def _steep(p: np.ndarray, slope: np.ndarray) -> tuple[float, float]:
    """Return the ends of the stretch around the steepest bin where the slope is at least half of it."""
    top = int(np.argmax(slope))
    flat = np.nonzero(slope < 0.5 * slope[top])[0]
    first = flat[flat < top].max(initial=-1) + 1
    last = flat[flat > top].min(initial=len(slope))
    return float(p[first]), float(p[last])
