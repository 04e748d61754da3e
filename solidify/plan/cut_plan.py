"""The cut plan that loses least: exact, by a table of best values over the positions of the strand."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from solidify.errors import InputError, Problem
from solidify.plan.cut import KINDS, Cut, Stretch
from solidify.plan.cut_table import parse_cut

__all__ = ["GRID", "CutPlan", "Piece", "cut_plan"]

GRID = 0.010
"""Largest step of the positions of a cut [m]."""

_A_CUT = 1e-4
"""What a cut costs, in metres of good length: of two plans of equal worth the one with fewer cuts wins."""

_OFF_AIM = 1e-7
"""What a square metre off the aim costs: of two such plans the one nearer to the aim wins."""

_BLOCK = 24_000
"""Pieces compared at once: few enough to stay in the cache."""

_MOST_CELLS = 2_000_000
"""No strand is longer, in steps of the grid."""


@dataclass(frozen=True)
class Piece:
    """One piece of a cut plan, or one that is scrapped.

    Parameters
    ----------
    start, end : float
        From the head of the cast, hot; the kerf behind it is not counted [m].
    kind : str
        ``"good"``, ``"soft"``, ``"mixed"``, ``"suspect"`` (a piece of good length that is scrapped), ``"scrap"``,
        ``"head crop"``, ``"tail crop"``.
    cold : float
        Length when cold [m].
    worth : float
        Of the piece [m of good length].
    reason : str
        Why it is worth less; empty for a good one.
    made : bool
        Whether it is cut already.
    """

    start: float
    end: float
    kind: str
    cold: float
    worth: float
    reason: str = ""
    made: bool = False

    @property
    def sold(self) -> bool:
        """Whether it is worth anything."""
        return self.worth > 0


@dataclass(frozen=True)
class CutPlan:
    """A strand divided into pieces.

    Parameters
    ----------
    length : float
        Cast metres, hot [m].
    cut : Cut
        What was asked for.
    pieces : tuple of Piece
        From head to tail.
    stretches : tuple of Stretch
        Those given, with their margins.
    plain : CutPlan or None
        The plan that cuts at the aim throughout, whatever lies there; None of that plan itself.
    mass_per_metre : float
        Of the hot strand [kg/m]; NaN where no case tells it.
    """

    length: float
    cut: Cut
    pieces: tuple[Piece, ...]
    stretches: tuple[Stretch, ...] = ()
    plain: CutPlan | None = field(default=None, repr=False)
    mass_per_metre: float = math.nan

    @property
    def worth(self) -> float:
        """Sum of the worths [m of good length]."""
        return sum(piece.worth for piece in self.pieces)

    @property
    def against_plain(self) -> float:
        """Worth beyond that of the plain plan [m of good length]."""
        return self.worth - self.plain.worth if self.plain else 0.0

    @cached_property
    def metres(self) -> dict[str, float]:
        """Hot metres of good, soft and mixed pieces, scrap (suspect ones included), crops and kerfs [m]."""
        found = dict.fromkeys(("good", "soft", "mixed", "scrap", "crops", "kerfs"), 0.0)
        names = {"suspect": "scrap", "head crop": "crops", "tail crop": "crops"}
        for piece in self.pieces:
            found[names.get(piece.kind, piece.kind)] += piece.end - piece.start
        found["kerfs"] = self.length - sum(found.values())
        return found


def cut_plan(
    length: float,
    cut: Cut | Mapping[str, Any],
    stretches: Iterable[Stretch | Sequence[Any]] = (),
    *,
    made: Sequence[float] = (),
    mass_per_metre: float = math.nan,
) -> CutPlan:
    """Divide a strand into the pieces that lose least.

    A piece is worth the least worth of its metres times its length; the plan has the most worth, then the fewest
    cuts, then lengths nearest to the aim. Scrap may have any length that the table carries.

    Parameters
    ----------
    length : float
        Cast metres, hot [m].
    cut : Cut or mapping
        How to cut; a mapping has the keys of ``[cut]`` in a cut file, e.g. ``{"lengths_m": [8, 12]}``.
    stretches : iterable of Stretch or (start, end, kind[, reason])
        Metres that are worth less; kind is one of ``"suspect"``, ``"join"``, ``"mixed"``, ``"soft"``.
    made : sequence of float
        Positions of the cuts that are made already [m].
    mass_per_metre : float
        Of the hot strand, for tonnes [kg/m].

    Returns
    -------
    CutPlan
        With the plain plan beside it.

    Raises
    ------
    InputError
        If a number cannot be; all problems at once.

    Notes
    -----
    Dynamic programming on a grid of 10 mm or less, of which the shortest piece is a whole multiple.

    Examples
    --------
    >>> plan = cut_plan(40.0, {"lengths_m": [6, 12], "length_step_m": 1, "kerf_mm": 0, "hot_factor": 1,
    ...     "head_crop_m": 0, "tail_crop_m": 0, "aim_m": 8}, [(13.2, 14.1, "suspect"), (27.0, 27.4, "suspect")])
    >>> round(plan.worth, 6), round(plan.plain.worth, 6)
    (37.0, 24.0)
    """
    how = cut if isinstance(cut, Cut) else parse_cut(cut)
    given = [s if isinstance(s, Stretch) else Stretch(*s) for s in stretches]
    _check(length, how, given, made)
    wide = tuple(_widened(s, how, length) for s in given)
    first = tuple(_made_pieces(made, how, wide, length))
    begin = made[-1] if made else 0.0
    best = first + tuple(_best(begin, length, how, wide))
    plain = CutPlan(length, how, first + tuple(_plain(begin, length, how, wide)), wide, None, mass_per_metre)
    return CutPlan(length, how, best, wide, plain, mass_per_metre)


def _check(length: float, cut: Cut, stretches: Sequence[Stretch], made: Sequence[float]) -> None:
    """Raise InputError with everything that cannot be."""
    problems = []
    if not (0 < length <= _MOST_CELLS * GRID):
        problems.append(Problem("length", f"{length:g} m", f"above 0, up to {_MOST_CELLS * GRID:g} m"))
    for s in stretches:
        where = f"stretch {s.start:g} to {s.end:g} m"
        if s.kind not in KINDS:
            problems.append(Problem(where, f"kind {s.kind!r}", ", ".join(KINDS)))
        if not (0 <= s.start <= s.end <= length and (s.start < s.end or s.kind == "join")):
            problems.append(Problem(where, "", f"rising, within 0 to {length:g} m", do="correct both ends"))
    ends = [0.0, *made, length]
    if any(not a < b for a, b in pairwise(ends)) and made and not problems:
        given = ", ".join(f"{m:g}" for m in made)
        problems.append(Problem("cuts made", f"{given} m", f"rising, between 0 and {length:g} m"))
    if problems:
        raise InputError(problems)


def _widened(stretch: Stretch, cut: Cut, length: float) -> Stretch:
    margin = cut.join if stretch.kind == "join" else cut.margin
    return Stretch(
        max(stretch.start - margin, 0.0), min(stretch.end + margin, length), stretch.kind, stretch.reason
    )


def _worst(start: float, end: float, stretches: Iterable[Stretch]) -> tuple[str, str]:
    """Return the worst kind of stretch that metres touch, and its reason; "good" where there is none."""
    found = [s for s in stretches if s.start < end - 1e-9 and s.end > start + 1e-9]
    order = list(KINDS)
    worst = min(found, key=lambda s: order.index(s.kind), default=None)
    return (worst.kind, worst.reason or KINDS[worst.kind]) if worst else ("good", "")


def _piece(start: float, end: float, cut: Cut, stretches: Iterable[Stretch], made: bool = False) -> Piece:
    """Make a piece of good length."""
    kind, reason = _worst(start, end, stretches)
    cold = (end - start) / cut.hot_factor
    kind = "suspect" if kind == "join" else kind
    return Piece(start, end, kind, cold, cold * cut.worth(kind), reason, made)


def _scrap(start: float, end: float, length: float, cut: Cut, stretches: Iterable[Stretch]) -> list[Piece]:
    """Divide scrap into crops and the rest; one cut ends all of it."""
    low, high = max(start, min(cut.head, end)), min(end, max(length - cut.tail, start))
    if high - low < GRID and end > high:  # what the grid leaves before the tail crop
        high = low
    borders = [(start, low, "head crop", "head of the cast")]
    reason = _worst(low, high, stretches)[1] if high > low else ""
    borders.append((low, high, "scrap", reason or "fits no length"))
    borders.append((max(high, low), end, "tail crop", "tail of the cast"))
    return [
        Piece(a, b, kind, (b - a) / cut.hot_factor, 0.0, why) for a, b, kind, why in borders if b - a > 1e-9
    ]


def _made_pieces(
    made: Sequence[float], cut: Cut, stretches: Sequence[Stretch], length: float
) -> Iterable[Piece]:
    """Give what is cut already."""
    for start, cut_at in zip((0.0, *made), made, strict=False):
        end = max(cut_at - cut.kerf, start)
        cold = (end - start) / cut.hot_factor
        if start < cut.head - 1e-9 or not cut.least - 0.01 <= cold <= cut.most + 0.01:
            for piece in _scrap(start, end, length, cut, stretches):
                yield Piece(piece.start, piece.end, piece.kind, piece.cold, 0.0, piece.reason, True)
        else:
            yield _piece(start, end, cut, stretches, made=True)


def _plain(begin: float, length: float, cut: Cut, stretches: Sequence[Stretch]) -> list[Piece]:
    """Cut at the aim throughout."""
    at, span = max(begin, cut.head), cut.span(cut.aim)
    pieces = _scrap(begin, at, length, cut, stretches) if at > begin else []
    while at + span <= length - cut.tail + 1e-9:
        pieces.append(_piece(at, at + span - cut.kerf, cut, stretches))
        at += span
    return pieces + (_scrap(at, length, length, cut, stretches) if length - at > 1e-9 else [])


def _best(begin: float, length: float, cut: Cut, stretches: Sequence[Stretch]) -> list[Piece]:
    """Find the best division of the metres that are not cut yet, between the crops."""
    low, high = max(begin, cut.head), length - cut.tail
    shortest = cut.span(cut.least)
    steps = math.ceil(shortest / GRID - 1e-9)
    g = shortest / steps
    count = math.floor((high - low) / g + 1e-9)
    if count < steps:
        return _scrap(begin, length, length, cut, stretches)
    levels, runs = _clear_runs(low, g, count, cut, stretches)
    table = _table(count, _spans(cut, g, steps), levels, runs, g, cut, low > begin)
    last = table.last_piece if cut.tail > 0 else count
    pieces: list[Piece] = []
    scrap_end = length
    for p, q in table.pieces(last):
        start, end = low + p * g, low + q * g
        if scrap_end - end > 1e-9:
            pieces += reversed(_scrap(end, scrap_end, length, cut, stretches))
        pieces.append(_piece(start, end - cut.kerf, cut, stretches))
        scrap_end = start
    if scrap_end - begin > 1e-9:
        pieces += reversed(_scrap(begin, scrap_end, length, cut, stretches))
    return pieces[::-1]


def _spans(cut: Cut, g: float, steps: int) -> np.ndarray:
    """Return the spans of pieces that may be cut, in steps of the grid, rising."""
    if cut.step:
        lengths = np.arange(cut.least, cut.most + 1e-9, cut.step)
        found = np.ceil((lengths * cut.hot_factor + cut.kerf) / g - 1e-6).astype(int)
        return np.unique(found)
    return np.arange(steps, max(math.floor(cut.span(cut.most) / g + 1e-6), steps) + 1)


def _clear_runs(
    begin: float, g: float, count: int, cut: Cut, stretches: Sequence[Stretch]
) -> tuple[list[float], list[np.ndarray]]:
    """Return the levels of worth above 0, the best first, and how many steps before a position are worth each."""
    worth = np.ones(count)
    for s in stretches:
        start, end, value = s.start, s.end, cut.worth(s.kind)
        a = max(math.floor((start - begin) / g + 1e-6), 0)
        b = min(math.ceil((end - begin) / g - 1e-6), count)
        if end > start and b > a:
            worth[a:b] = np.minimum(worth[a:b], value)
    levels = sorted({float(v) for v in worth if v > 0}, reverse=True)
    place = np.arange(count + 1)
    runs = []
    for level in levels:
        short = np.append(0, np.where(worth < level - 1e-12, place[1:], 0))
        runs.append(place - np.maximum.accumulate(short))
    return levels, runs


@dataclass(frozen=True)
class _Table:
    """Where the piece that ends at each position begins (-1 for none), and the scrap where that is better."""

    piece_from: np.ndarray
    scrap_from: np.ndarray
    last_piece: int

    def pieces(self, q: int) -> Iterable[tuple[int, int]]:
        """Go back from a position: begin and end of each piece, the last first."""
        while q > 0:
            if self.scrap_from[q] >= 0:
                q = int(self.scrap_from[q])
            elif self.piece_from[q] >= 0:
                p = int(self.piece_from[q])
                yield p, q
                q = p
            else:  # shorter than the table carries
                return


def _table(
    count: int,
    spans: np.ndarray,
    levels: Sequence[float],
    runs: Sequence[np.ndarray],
    g: float,
    cut: Cut,
    cropped: bool,
) -> _Table:
    """Fill the table of best values, a block of positions at once: pieces that end in one begin before it.

    `cropped` says that the positions begin behind a crop, so that scrap there needs no cut of its own.
    """
    first, widest = int(spans[0]), int(spans[-1])
    down = spans[::-1]  # the widest first: positions of the table in rising order
    cold = (down * g - cut.kerf) / cut.hot_factor
    cost = _A_CUT + _OFF_AIM * (cold - cut.aim) ** 2
    columns: Any = widest - down if cut.step else slice(0, widest - first + 1)
    least = max(math.ceil(cut.shortest / g - 1e-9), 1)
    best = np.full(
        widest + count + 1, -np.inf
    )  # shifted by the widest span, so that no piece begins before it
    best[widest] = 0.0
    piece_from, scrap_from = np.full(count + 1, -1), np.full(count + 1, -1)
    top, top_at = (
        np.full(count + 1, -np.inf),
        np.zeros(count + 1, dtype=int),
    )  # best end of a piece so far, and where
    top[0] = 0.0
    size = max(min(first, _BLOCK // down.size), 1)
    for a in range(1, count + 1, size):
        b = min(a + size, count + 1)
        q = np.arange(a, b)
        value = sliding_window_view(best[a : b + widest], widest + 1)[: b - a, columns]
        value = value + (_gains(levels, [own[a:b] for own in runs], down, cold) - cost)
        at = value.argmax(axis=1)
        good = value[np.arange(b - a), at]
        piece_from[a:b] = np.where(np.isfinite(good), q - down[at], -1)
        high = np.maximum.accumulate(np.append(top[a - 1], good))
        top[a:b] = high[1:]
        top_at[a:b] = np.maximum.accumulate(np.append(top_at[a - 1], np.where(good > high[:-1], q, 0)))[1:]
        back = np.maximum(q - least, 0)
        scrap = np.where(q >= least, top[back] - _A_CUT, -np.inf)
        behind = np.where(q >= least, top_at[back], 0)
        if cropped:
            behind, scrap = np.where(scrap > 0.0, behind, 0), np.maximum(scrap, 0.0)
        take = scrap > good
        scrap_from[a:b] = np.where(take, behind, -1)
        best[widest + a : widest + b] = np.where(take, scrap, good)
    return _Table(piece_from, scrap_from, int(top_at[count]))


def _gains(
    levels: Sequence[float], runs: Sequence[np.ndarray], down: np.ndarray, cold: np.ndarray
) -> np.ndarray:
    """Return the worth of each piece that ends at each position of a block; minus infinity where it has none."""
    if not levels:
        return np.full((1, down.size), -np.inf)
    if (runs[0] >= down[0]).all():
        return levels[0] * cold[None]
    gains = np.broadcast_to(levels[0] * cold, (runs[0].size, down.size)).copy()
    mixed = np.flatnonzero(runs[0] < down[0])
    part = np.full((mixed.size, down.size), -np.inf)
    for level, own in zip(reversed(levels), reversed(runs), strict=True):
        np.copyto(part, level * cold, where=down <= own[mixed, None])
    gains[mixed] = part
    return gains
