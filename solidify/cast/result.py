"""What came of a cast: surface over clock and distance, core end, shell at mould exit, limits by slice."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from solidify.assessment.finding import BREACHED, Finding
from solidify.cast.definition import Cast
from solidify.cast.layout import Births, CastLayout
from solidify.cast.march import solve_slice
from solidify.strand.profiles import read_at
from solidify.strand.result import Result
from solidify.strand.solve import solve

__all__ = ["CastResult", "LimitRow"]

TICK = 10.0
"""Between two clock times at which the strand is looked at [s]."""


@dataclass(frozen=True)
class LimitRow:
    """A limit over all slices.

    Parameters
    ----------
    name : str
        Of the limit.
    row : int
        Its column in the arrays of a `CastResult`.
    slice : int
        The slice with the least margin; -1 where none is judged.
    finding : Finding
        Of that slice.
    """

    name: str
    row: int
    slice: int
    finding: Finding


@dataclass(frozen=True, eq=False)
class CastResult:
    """A cast that was run.

    Parameters
    ----------
    cast : Cast
        What was run.
    layout : CastLayout
        What the slices share.
    births : Births
        Of all slices, in the order of their labels.
    place : ndarray, shape (place,)
        Distances at which the strand was kept [m].
    columns : mapping of str to ndarray
        Slices along the first axis: ``arrival`` (slice, place) clock [s]; ``surface`` (slice, side, place) [degC] and
        ``centre_solid`` (slice, place) [1] on arrival; ``shell_at_mould_exit`` [m]; ``solid_at``, ``solid_07_at`` clock
        at which the centre is solid and 70 % solid [s]; ``superheat`` [K]; ``speed_at_birth`` [m s-1];
        ``specific_water`` [L kg-1]; the energy errors [1]; ``stood_place``, ``stood_time``,
        ``stood_surface`` of each stand; ``value``, ``margin``, ``verdict`` (slice, limit).
    limits : mapping of str to LimitRow
        Each limit with its worst slice.
    """

    cast: Cast
    layout: CastLayout
    births: Births
    place: np.ndarray
    columns: Mapping[str, np.ndarray]
    limits: Mapping[str, LimitRow]

    @cached_property
    def tick(self) -> np.ndarray:
        """Clock times at which the strand is looked at [s], shape (tick,)."""
        return np.unique(np.append(np.arange(self.cast.begin, self.cast.end, TICK), self.cast.end))

    @property
    def distance(self) -> np.ndarray:
        """Distances of `field` [m], shape (place,)."""
        return self.place

    def field(self, name: str = "surface_temperature", side: int = 0) -> np.ndarray:
        """Return a quantity over clock and distance.

        Parameters
        ----------
        name : str
            ``"surface_temperature"`` or ``"centre_solid_fraction"``.
        side : int
            Of the surface: 0 the loose side, 1 the fixed one.

        Returns
        -------
        ndarray, shape (tick, place)
            [degC] or [1]; NaN where no steel is.
        """
        if name == "surface_temperature":
            own = self.columns["surface"][:, side]
        elif name == "centre_solid_fraction":
            own = self.columns["centre_solid"]
        else:
            raise ValueError("name: surface_temperature or centre_solid_fraction")
        label, cast = self.births.label, np.asarray(self.cast.clock.length(self.tick))
        found = np.empty((len(self.tick), len(self.place)))
        first, last = label[0], self._last_label()
        for k, z in enumerate(self.place):
            wanted = cast - z
            found[:, k] = np.interp(wanted, label, own[:, k])
            found[(wanted < first - 1e-9) | (wanted > last + 1e-9), k] = np.nan
        found[~self._born()] = np.nan
        if name == "surface_temperature":
            self._standing(found, side)
        return found

    def _last_label(self) -> np.ndarray:
        """Return the newest label in the machine at each tick [m]."""
        return np.asarray(self.cast.clock.length(np.minimum(self.tick, self.cast.feed_ends)))

    def _born(self) -> np.ndarray:
        """Tell where steel is at each tick, shape (tick, place); the head rises on its dummy bar."""
        cast = np.asarray(self.cast.clock.length(self.tick))
        label = cast[:, None] - self.place
        if self.cast.dummy_bar is None:
            return np.ones(label.shape, dtype=bool)
        born = np.interp(label, self.births.label, self.births.time)
        return (born <= self.tick[:, None] + 1e-6) | (label >= 0)

    def _standing(self, found: np.ndarray, side: int) -> None:
        """Put the readings of slices that stand into a field of the surface."""
        for k, (begin, end, _) in enumerate(self.cast.clock.stands):
            rows = np.flatnonzero((self.tick > begin) & (self.tick <= end))
            inside = np.flatnonzero(~np.isnan(self.columns["stood_place"][:, k]))
            if not len(inside) or not len(rows):
                continue
            z = self.columns["stood_place"][inside, k][::-1]
            readings = self.columns["stood_surface"][inside, side, k][::-1]
            clock = self.columns["stood_time"][inside, k][::-1]
            for row in rows:
                now = [np.interp(self.tick[row], t, v) for t, v in zip(clock, readings, strict=True)]
                there = ~np.isnan(found[row]) & (self.place >= z[0] - 1e-9) & (self.place <= z[-1] + 1e-9)
                found[row, there] = np.interp(self.place[there], z, now)

    def core_end(self, fraction: float = 1.0) -> np.ndarray:
        """Return the end of the liquid core over the clock.

        Parameters
        ----------
        fraction : float
            1.0, or 0.7 of the core that can still flow.

        Returns
        -------
        ndarray, shape (tick,)
            From the meniscus [m]; the cut-off where the core reaches it, NaN where no liquid is in the machine.
        """
        name = "solid_at" if fraction == 1.0 else "solid_07_at"
        label = self.births.label
        solid = np.where(np.isnan(self.columns[name]), np.inf, self.columns[name])
        cast, newest = np.asarray(self.cast.clock.length(self.tick)), self._last_label()
        cutoff, found = self.cast.case.cutoff, np.full(len(self.tick), np.nan)
        for i, now in enumerate(self.tick):
            inside = (label >= cast[i] - cutoff - 1e-9) & (label <= newest[i] + 1e-9)
            rows = np.flatnonzero(inside & (self.births.time <= now) & (solid > now))
            if not len(rows):
                continue
            first = int(rows[0])
            z = cast[i] - label[first]
            if first and inside[first - 1] and np.isfinite(solid[first]) and solid[first - 1] <= now:
                share = (now - solid[first - 1]) / (solid[first] - solid[first - 1])
                z += (1.0 - share) * (label[first] - label[first - 1])
            found[i] = min(z, cutoff)
        return found

    @property
    def mould_exit(self) -> tuple[np.ndarray, np.ndarray]:
        """Clock at which each slice leaves the mould [s], and its mean shell at solid fraction 0.7 there [m]."""
        k = int(np.abs(self.place - self.cast.case.working_length).argmin())
        return self.columns["arrival"][:, k], self.columns["shell_at_mould_exit"]

    def slice(self, label: float) -> Result:
        """March the slice of one label again, with everything that a `Result` holds.

        Parameters
        ----------
        label : float
            Length cast before it [m].

        Returns
        -------
        Result
        """
        return solve_slice(self.cast, label)

    @cached_property
    def course(self) -> np.ndarray:
        """Loose surface of the steady strand of the case at the places [degC], shape (place,)."""
        steady = solve(self.cast.case)
        return read_at(steady.distance, steady.surface_temperature[0], self.place.tolist())

    @property
    def worst_balance(self) -> float:
        """Largest of the three energy errors of all slices [1]."""
        return float(self.columns["balance_error"].max())

    @cached_property
    def hard_breached(self) -> np.ndarray:
        """Slices that do not meet a hard limit, shape (slice, limit)."""
        hard = np.array(
            [row.row for row in self.limits.values() if row.finding.hardness == "hard"], dtype=int
        )
        found = np.zeros(self.columns["verdict"].shape, dtype=bool)
        found[:, hard] = self.columns["verdict"][:, hard] == BREACHED
        return found
