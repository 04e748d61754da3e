"""The sheet of a cast: signals, limits with their worst slice, core end, suspect pieces, cautions."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from solidify.cast.definition import LOGICS, Cast, Event
from solidify.cast.pieces import Piece, cast_limits, pieces
from solidify.report.strand_text import cautions
from solidify.report.text import columns, entries, listed, page, wrapped
from solidify.units import M_PER_MIN, MINUTE, MM

if TYPE_CHECKING:
    from solidify.cast.result import CastResult
    from solidify.cast.stand import StandCurve

__all__ = ["cast_check_text", "cast_text", "logics_text", "stand_text"]

_WORDS = {"kept": "met", "close": "marginal", "breached": "not met", "not judged": "not judged"}
_NOT_MODELLED = (
    "axial conduction and the ends of head and tail; mixing in the liquid pool (superheat is that of the tundish at "
    "birth); mould level; corners; friction; a strand stuck in the mould. Chills and dummy bar cool nothing here: the "
    "crops cover it."
)


def _clock(seconds: float) -> str:
    return "-" if math.isnan(seconds) else f"{seconds / MINUTE:.1f} min"


def cast_check_text(cast: Cast) -> str:
    """Return what a cast file says, with the rows that its events make; nothing is computed.

    Parameters
    ----------
    cast : Cast
        As read.

    Returns
    -------
    str
    """
    rows = [("min", "m/min", "cast m")]
    for t, v, s in zip(cast.clock.time, cast.clock.speed, cast.clock.lengths, strict=True):
        rows.append((f"{t / MINUTE:.2f}", f"{v / M_PER_MIN:.3f}", f"{s:.2f}"))
    return page(
        [
            wrapped(cast.title),
            entries(
                [
                    ("case", cast.case.title),
                    (
                        "clock",
                        f"0 to {cast.end / MINUTE:.1f} min, a slice every {cast.slice_every:g} m of cast",
                    ),
                    ("start", "dummy bar" if cast.dummy_bar else "steady, the machine full of strand"),
                    ("end", "tail" if math.isfinite(cast.feed_ends) else "steady, casting goes on"),
                    ("spray", f"{cast.water.logic}: {LOGICS[cast.water.logic]}"),
                    (
                        "events",
                        "; ".join(f"{e.what} {_clock(e.begin)} to {_clock(e.end)}" for e in cast.events)
                        or "none",
                    ),
                ]
            ),
            ["speed over the clock, straight between the rows", *columns(rows, "r", indent="  ")],
        ]
    )


def _signals(result: CastResult) -> list[str]:
    cast = result.cast
    clock = np.unique(np.append(result.tick, cast.clock.time))
    clock = clock[(clock >= cast.begin) & (clock <= cast.end)]
    speed = cast.clock.speed_at(clock) / M_PER_MIN
    pairs = [
        ("casting speed", f"{speed.min():.2f} to {speed.max():.2f} m/min"),
        ("cast", f"{float(cast.clock.length(min(cast.end, cast.feed_ends))):.1f} m"),
    ]
    superheat = result.columns["superheat"]
    pairs.append(("superheat", f"{superheat.min():.0f} to {superheat.max():.0f} K at birth"))
    if cast.tundish_course is not None:
        weight = cast.tundish_course.weight / 1e3
        low = " - below the least weight" if weight.min() < cast.tundish.least_weight / 1e3 - 1e-6 else ""  # type: ignore[union-attr]
        pairs.append(("tundish", f"{weight.min():.1f} to {weight.max():.1f} t{low}"))
    total = sum(float(np.trapezoid(w.at(clock), clock)) for w in result.layout.water.values())
    per_kg = result.columns["specific_water"]
    pairs.append(
        (
            "spray water",
            f"{total / 1e3:.1f} m³, {np.nanmin(per_kg):.2f} to {np.nanmax(per_kg):.2f} L/kg by slice",
        )
    )
    time, shell = result.mould_exit
    inside = (time >= cast.begin) & (time <= cast.end)
    if inside.any():
        own = np.where(inside, shell, np.inf)
        thin = int(own.argmin())
        pairs.append(("shell at mould exit", f"{shell[thin] / MM:.1f} mm least, {_clock(time[thin])}"))
    core = result.core_end()
    if np.isfinite(core).any():
        near, far = int(np.nanargmin(core)), int(np.nanargmax(core))
        case = cast.case
        pairs.append(
            (
                "liquid end",
                f"{core[near]:.1f} m ({_clock(result.tick[near])}) to {core[far]:.1f} m ({_clock(result.tick[far])}); "
                f"support {case.support_end:.1f} m, cut-off {case.cutoff:.1f} m",
            )
        )
    return entries(pairs)


def _limits(result: CastResult) -> list[str]:
    rows = [("limit", "", "value", "margin", "slice m", "born", "where")]
    for row in result.limits.values():
        f = row.finding
        if row.slice < 0:
            rows.append((f.label, f.hardness, "-", "not judged", "-", "-", f.reason))
            continue
        value = f"{f.value:.2f}" if abs(f.value) < 10 else f"{f.value:.0f}"
        label, born = result.births.label[row.slice], result.births.time[row.slice]
        unit = {"degC": "°C", "1": ""}.get(f.unit, f.unit)
        rows.append(
            (
                f.label,
                f.hardness,
                f"{value} {unit}".strip(),
                f"{_WORDS[f.verdict]}, {f.room}",
                f"{label:.2f}",
                f"{born / MINUTE:.1f}",
                f.where,
            )
        )
    for own in cast_limits(result):
        unit = "°C" if own.unit == "degC" else own.unit
        said = f"{own.value:.1f} {unit}" if own.verdict != "not judged" else "-"
        margin = (
            "not judged"
            if own.verdict == "not judged"
            else f"{own.verdict}, margin {own.margin:.1f} {'K' if own.unit == 'degC' else own.unit}"
        )
        rows.append((own.label, "hard", said, margin, "-", "-", own.note))
    return ["each limit at its worst slice", *columns(rows, "wllwrrw")]


def _piece_line(piece: Piece, result: CastResult) -> str:
    worst: dict[str, tuple[float, float]] = {}
    words = []
    for suspect, first, last in piece.suspect:
        low, high = worst.get(suspect.limit, (first, last))
        worst[suspect.limit] = min(low, first), max(high, last)
    for name, (first, last) in worst.items():
        suspect = next(s for s, _, _ in piece.suspect if s.limit == name)
        where = f", at {suspect.where}" if suspect.where else ""
        text = f"{suspect.label} {suspect.value}, {last - first:.1f} m ({first:.1f}-{last:.1f} m){where}"
        if not math.isnan(suspect.left_at):
            text += f"; left the steady course at {suspect.left_at:.1f} m, {_clock(suspect.left_time)}"
            text += f", {_during(suspect.event, suspect.left_time)}" if suspect.event else ""
        else:
            text += "; in steady casting too"
        words.append(text)
    return (
        f"piece {piece.number}, {piece.first:.1f}-{piece.last:.1f} m, cut {_clock(piece.cut)}: "
        + "; ".join(words)
    )


def _during(event: Event, time: float) -> str:
    return f"{'during' if time <= event.end else 'after'} the {event.what}"


def cast_text(result: CastResult) -> str:
    """Return the sheet of a cast.

    Parameters
    ----------
    result : CastResult
        A cast that was run.

    Returns
    -------
    str
        No line longer than 100 characters.
    """
    cut = pieces(result)
    suspect = [piece for piece in cut if piece.suspect]
    whole = [piece for piece in cut if piece.kind == "piece"]
    crops = sum(piece.last - piece.first for piece in cut if piece.kind != "piece")
    head = f"suspect: {len(suspect)} of {len(whole)} pieces; crops {crops:.1f} m"
    lines = listed(head, [_piece_line(piece, result) for piece in suspect]) or [head]
    c = result.columns
    errors = max(float(c[name].max()) for name in ("flux_error", "recount_error", "table_error"))
    return page(
        [
            wrapped(result.cast.title),
            _signals(result),
            _limits(result),
            lines if cut else [],
            wrapped(
                f"{len(result.births)} slices; largest error of the energy balance of any slice {errors:.1g}"
            ),
            listed("not computed", [_NOT_MODELLED]),
            listed("cautions", [str(c["short"]) for c in cautions() if "short" in c]),
        ]
    )


def stand_text(cast: Cast, curves: Sequence[StandCurve], silent: Sequence[str]) -> str:
    """Return the sheet of the question how long the strand may stand.

    Parameters
    ----------
    cast : Cast
        With the question.
    curves, silent
        From `solidify.cast.stand.longest_stand`.

    Returns
    -------
    str
    """
    ask = cast.stand
    assert ask is not None
    rows = [("water while standing", "longest stand", "limited by", "its slice stood at")]
    for curve in curves:
        if curve.binds:
            at = "-" if math.isnan(curve.stood_at) else f"{curve.stood_at:.2f} m"
            rows.append((curve.practice, f"{curve.longest / MINUTE:.1f} min", ", ".join(curve.binds), at))
        else:
            rows.append(
                (curve.practice, f"{curve.longest / MINUTE:.1f} min or more", "nothing up to there", "-")
            )
    lost = [("water while standing", "stand min", "strand lost m")]
    for curve in curves:
        lost += [
            (curve.practice, f"{s / MINUTE:.1f}", f"{m:.1f}")
            for s, m in zip(curve.stand, curve.lost, strict=True)
        ]
    said = [f"not looked at, steady casting does not meet it either: {label}" for label in silent]
    return page(
        [
            wrapped(cast.title),
            wrapped(
                f"braked from {cast.case.speed / M_PER_MIN:.2f} m/min in {ask.brake:g} s, restarted in "
                f"{ask.start:g} s; all hard limits of the strand, the coldest surface at the straightener and the "
                "liquid core below the mould are to be met"
            ),
            columns(rows, "wrww"),
            columns(lost, "wrr"),
            listed("notes", said),
            listed("not computed", [_NOT_MODELLED]),
            listed("cautions", [str(c["short"]) for c in cautions() if "short" in c]),
        ]
    )


def logics_text(results: Mapping[str, CastResult]) -> str:
    """Return spray logics side by side, a row a logic; nothing is summed into one number.

    Parameters
    ----------
    results : mapping of str to CastResult
        The same cast by each logic.

    Returns
    -------
    str
    """
    first = next(iter(results.values()))
    case = first.cast.case
    points = case.straightener or (case.cutoff,)
    z = points[0]
    head = (
        "logic",
        "least °C",
        "most °C",
        "swing K",
        "rms K",
        "reheat K",
        "liquid end m",
        "m³",
        "L/kg",
        "valves",
        "suspect m",
    )
    rows = [head]
    for name, result in results.items():
        k = int(np.abs(result.place - z).argmin())
        arrival = result.columns["arrival"][:, k]
        seen = (arrival >= result.cast.begin) & (arrival <= result.cast.end)
        surface = result.columns["surface"][seen, 0, k].astype(float)
        course = float(surface[0])
        core, clock = result.core_end(), result.tick
        signals = [w.at(clock) for w in result.layout.water.values()]
        travel = sum(float(np.abs(np.diff(w)).sum() / max(w.mean(), 1e-12)) for w in signals)
        total = sum(float(np.trapezoid(w, clock)) for w in signals) / 1e3
        label = result.births.label
        lost = float(np.gradient(label)[result.hard_breached.any(axis=1)].sum())
        rise = (
            result.limits["reheating_total"].finding.value if "reheating_total" in result.limits else math.nan
        )
        rows.append(
            (
                name,
                f"{surface.min():.0f}",
                f"{surface.max():.0f}",
                f"{np.ptp(surface):.0f}",
                f"{math.sqrt(float(((surface - course) ** 2).mean())):.1f}",
                f"{rise:.0f}",
                f"{np.nanmin(core):.1f}-{np.nanmax(core):.1f}",
                f"{total:.1f}",
                f"{np.nanmean(result.columns['specific_water'][seen]):.2f}",
                f"{travel:.1f}",
                f"{lost:.1f}",
            )
        )
    words = [f"{name}: {LOGICS[name]}" for name in results if name in LOGICS]
    where = "first straightening point" if case.straightener else "cut-off"
    return page(
        [
            wrapped(first.cast.title),
            wrapped(
                f"surface at {z:.2f} m, the {where}, loose side; rms: root mean square off the first slice; valves: "
                "sum of all changes of water over the mean, all zones; suspect: a hard limit is not met"
            ),
            columns(rows, "lr"),
            listed("logics", words),
            listed("cautions", [str(c["short"]) for c in cautions() if "short" in c]),
        ]
    )
