"""Limits of a whole cast, and the pieces that it is cut into: which are suspect, where, and since which event."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from solidify.cast.definition import Event
from solidify.cast.result import CastResult
from solidify.units import MINUTE

__all__ = [
    "COLD",
    "CORE",
    "CastLimit",
    "Piece",
    "Suspect",
    "cast_limits",
    "pieces",
    "straightener_coldest",
    "suspects",
]

OFF_COURSE = 10.0
"""Difference from the steady surface at which a slice has left its course [K]."""

COLD, CORE = "cold_strand", "core_below_mould"
_COLD = "coldest surface at the straightener"


@dataclass(frozen=True)
class CastLimit:
    """A limit that only a cast has.

    Parameters
    ----------
    name, label, unit : str
        ``"cold_strand"`` or ``"core_below_mould"``, words for print, plant unit.
    value, limit : float
        Least value over the cast, and the least that it may be.
    time : float
        Clock of the least value [s]; NaN where there is none.
    note : str
        Where, or why it is not judged.
    """

    name: str
    label: str
    unit: str
    value: float
    limit: float
    time: float
    note: str

    @property
    def verdict(self) -> str:
        """``"met"``, ``"not met"`` or ``"not judged"``."""
        if math.isnan(self.value):
            return "not judged"
        return "met" if self.value >= self.limit else "not met"

    @property
    def margin(self) -> float:
        """Value less limit, in the unit."""
        return self.value - self.limit


@dataclass(frozen=True)
class Suspect:
    """A stretch of the strand that does not meet a hard limit.

    Parameters
    ----------
    limit, label : str
        Name of the limit, and words for print.
    first, last : float
        Labels between which it lies, without margin [m].
    value : str
        Worst value with unit, and by how much.
    where : str
        Where on the strand.
    left_at, left_time : float
        Where [m] and when [s] its worst slice left the steady course; NaN where the steady strand does no better.
    event : Event or None
        What was going on then.
    """

    limit: str
    label: str
    first: float
    last: float
    value: str
    where: str
    left_at: float
    left_time: float
    event: Event | None


@dataclass(frozen=True)
class Piece:
    """A piece cut from the strand.

    Parameters
    ----------
    number : int
        From 1, as they are cut.
    first, last : float
        Its labels: cast metres [m].
    kind : str
        ``"piece"``, ``"head crop"``, ``"tail crop"`` or ``"join crop"``.
    cut : float
        Clock at which its end passes the cut-off [s].
    suspect : tuple of (Suspect, float, float)
        Each suspect stretch in it and where it lies, margin included [m].
    """

    number: int
    first: float
    last: float
    kind: str
    cut: float
    suspect: tuple[tuple[Suspect, float, float], ...] = ()


def straightener_coldest(result: CastResult) -> tuple[np.ndarray, np.ndarray]:
    """Return the coldest loose surface of each slice at a straightening point [degC], and the place row it has."""
    points = result.cast.case.straightener
    rows = np.array([int(np.abs(result.place - p).argmin()) for p in points], dtype=int)
    if not len(rows):
        none = np.full(len(result.births), np.nan)
        return none, np.zeros(len(none), dtype=int)
    own = result.columns["surface"][:, 0, rows].astype(float)
    return own.min(axis=1), rows[own.argmin(axis=1)]


def cast_limits(result: CastResult) -> tuple[CastLimit, ...]:
    """Return the limits that only a cast has.

    Parameters
    ----------
    result : CastResult
        A cast that was run.

    Returns
    -------
    tuple of CastLimit
        The coldest surface at the straightener, and the liquid core below the mould while the strand stands. Both
        are hard; their values are common practice, no source.
    """
    cast = result.cast
    cold, rows = straightener_coldest(result)
    if np.isnan(cold).all():
        first = CastLimit(
            COLD, _COLD, "degC", math.nan, cast.cold_strand, math.nan, "no straightening points are given"
        )
    else:
        i = int(cold.argmin())
        place = result.place[rows[i]]
        when = float(result.columns["arrival"][i, rows[i]])
        note = f"{place:.2f} m, slice of {result.births.label[i]:.2f} m of cast"
        first = CastLimit(COLD, _COLD, "degC", float(cold[i]), cast.cold_strand, when, note)
    label = "liquid core below the mould while standing"
    standing = np.zeros(len(result.tick), dtype=bool)
    for begin, end, _ in cast.clock.stands:
        if (
            begin >= cast.begin
            and end > begin + 1.0
            and (cast.dummy_bar is None or begin > cast.dummy_bar.fill)
        ):
            standing |= (result.tick >= begin) & (result.tick <= end)
    if not standing.any() or (
        cast.feed_ends < math.inf and not (standing & (result.tick < cast.feed_ends)).any()
    ):
        return first, CastLimit(
            CORE, label, "m", math.nan, cast.core_below_mould, math.nan, "the strand does not stand"
        )
    standing &= result.tick < cast.feed_ends
    core = np.where(standing, np.nan_to_num(result.core_end(), nan=0.0), np.inf) - cast.case.working_length
    k = int(core.argmin())
    return first, CastLimit(
        CORE,
        label,
        "m",
        float(core[k]),
        cast.core_below_mould,
        float(result.tick[k]),
        "end of solidification less mould exit",
    )


def _stretches(bad: np.ndarray) -> list[tuple[int, int]]:
    """Return first and last row of each run of true."""
    edge = np.diff(np.concatenate([[0], bad.astype(int), [0]]))
    return [
        (int(a), int(b) - 1) for a, b in zip(np.flatnonzero(edge > 0), np.flatnonzero(edge < 0), strict=True)
    ]


def suspects(result: CastResult, first: float = -math.inf, last: float = math.inf) -> tuple[Suspect, ...]:
    """Return every stretch that does not meet a hard limit, by label and limit.

    Parameters
    ----------
    result : CastResult
        A cast that was run.
    first, last : float
        Labels between which is looked [m]; all of the cast by default.

    Returns
    -------
    tuple of Suspect
    """
    found: list[Suspect] = []
    columns, label = result.columns, result.births.label
    edges = np.concatenate([[label[0]], 0.5 * (label[1:] + label[:-1]), [label[-1]]])
    inside = (edges[1:] > first) & (edges[:-1] < last)
    cold, rows = straightener_coldest(result)
    margins = {
        row.name: (
            row.finding.label,
            row.finding.unit,
            row.finding.sense,
            columns["margin"][:, row.row],
            row.row,
        )
        for row in result.limits.values()
        if row.finding.hardness == "hard"
    }
    checks = [
        (name, words, unit, sense, columns["value"][:, k], margin, result.hard_breached[:, k])
        for name, (words, unit, sense, margin, k) in margins.items()
    ]
    short = cold - result.cast.cold_strand
    checks.append((COLD, _COLD, "degC", "at least", cold, short, np.nan_to_num(short, nan=1.0) < 0))
    for name, words, unit, sense, values, margin, bad in checks:
        for begin, end in _stretches(bad & inside):
            worst = begin + int(np.nan_to_num(margin[begin : end + 1], nan=np.inf).argmin())
            at, time, event = _cause(result, worst)
            value = _said(float(values[worst]), float(abs(margin[worst])), unit, sense)
            span = float(edges[begin]), float(edges[end + 1])
            where = _where(result, name, worst, rows)
            found.append(Suspect(name, words, *span, value, where, at, time, event))
    return tuple(sorted(found, key=lambda s: (s.first, s.limit)))


def _cause(result: CastResult, slice_: int) -> tuple[float, float, Event | None]:
    """Return where [m] and when [s] a slice first lay off the steady course below the mould, and the event then."""
    surface = result.columns["surface"][slice_, 0].astype(float)
    below = result.place >= max(result.cast.case.working_length - 1e-9, result.births.place[slice_])
    off = np.flatnonzero((np.abs(surface - result.course) >= OFF_COURSE) & below)
    if not len(off):
        return math.nan, math.nan, None
    time = float(result.columns["arrival"][slice_, off[0]])
    before = [event for event in result.cast.events if event.begin <= time]
    return float(result.place[off[0]]), time, before[-1] if before else None


def _where(result: CastResult, name: str, slice_: int, rows: np.ndarray) -> str:
    """Return where and when a slice met what it is judged by."""
    if name in ("straightener_surface", COLD):
        k = rows[slice_]
    elif name in ("shell_floor", "strength_floor", "hot_strength", "face_strength"):
        k = int(np.abs(result.place - result.cast.case.working_length).argmin())
    else:
        return ""
    return f"{result.place[k]:.2f} m, {result.columns['arrival'][slice_, k] / MINUTE:.1f} min"


_DIGITS = {
    "degC": (0, "°C", "K"),
    "K": (0, "K", "K"),
    "mm": (1, "mm", "mm"),
    "m": (1, "m", "m"),
    "1": (2, "", ""),
    "%": (1, "%", "%"),
}


_SENSES = {"at least": "short by ", "at most": "over by "}


def _said(value: float, over: float, unit: str, sense: str) -> str:
    """Return a value and how far it is from what is allowed, in words."""
    digits, own, difference = _DIGITS.get(unit, (2, unit, unit))
    off = f"{over:.{digits}f} {difference}".strip()
    return (
        f"{value:.{digits}f} {own}".strip()
        + ", "
        + (f"{_SENSES[sense]}{off}" if sense in _SENSES else f"{off} beyond")
    )


def pieces(result: CastResult) -> tuple[Piece, ...]:
    """Return the pieces that the strand is cut into, crops among them.

    Parameters
    ----------
    result : CastResult
        A cast that was run, with ``[pieces]``.

    Returns
    -------
    tuple of Piece
        In the order of the labels; together they are all that was cast. Empty without ``[pieces]``.

    Notes
    -----
    A suspect stretch is widened at both ends by the margin: by default the error of the speed times the way to the
    cut-off.
    """
    cast = result.cast
    plan, clock = cast.pieces, cast.clock
    if plan is None:
        return ()
    cutoff, bar = cast.case.cutoff, cast.dummy_bar
    first = -bar.head_below_level if bar else (0.0 if plan.head_crop else float(result.births.label[0]))
    last = (
        float(clock.length(cast.feed_ends))
        if math.isfinite(cast.feed_ends)
        else float(clock.length(cast.end)) - cutoff
    )
    crops = []
    if plan.head_crop or bar:
        crops.append(("head crop", first, max(first + plan.head_crop, 0.0)))
    for join in cast.joins:
        at = float(clock.length(join))
        crops.append(("join crop", max(at - plan.join_crop, first), min(at + plan.join_crop, last)))
    if math.isfinite(cast.feed_ends) and plan.tail_crop:
        crops.append(("tail crop", max(last - plan.tail_crop, first), last))
    cuts: list[tuple[str, float, float]] = []
    now = first
    for kind, begin, end in sorted(crops, key=lambda crop: crop[1]):
        begin = max(begin, now)
        cuts += _cut(now, begin, plan.length, ends=True)
        if end > begin:
            cuts.append((kind, begin, end))
        now = max(now, end)
    cuts += _cut(now, last, plan.length, ends=math.isfinite(cast.feed_ends))
    found = []
    for number, (kind, begin, end) in enumerate(cuts, 1):
        own = []
        near = suspects(result, begin - plan.margin, end + plan.margin) if kind == "piece" else ()
        for suspect in near:
            a, b = suspect.first - plan.margin, suspect.last + plan.margin
            if a < end and b > begin:
                own.append((suspect, max(a, begin), min(b, end)))
        found.append(Piece(number, begin, end, kind, float(clock.when(end + cutoff)), tuple(own)))
    return tuple(found)


def _cut(begin: float, end: float, length: float, *, ends: bool) -> list[tuple[str, float, float]]:
    """Return pieces of one length between two labels; the last one shorter where the strand ends or is cropped."""
    whole = int((end - begin) / length + 1e-9)
    found = [("piece", begin + k * length, begin + (k + 1) * length) for k in range(max(whole, 0))]
    rest = begin + max(whole, 0) * length
    if ends and end - rest > 1e-9:
        found.append(("piece", rest, end))
    return found
