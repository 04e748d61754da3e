"""A tuned spray table as one page of HTML that needs nothing else: for a phone, a screen and A4.

Words, figures and tables are put together here; `data/pages/table.html.j2` lays them out.
"""

from __future__ import annotations

import math
import os
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from solidify.plots.embedded import narrow_sheet, svg_address
from solidify.plots.tuning import draw_tuning
from solidify.report.basis import assumptions, basis, recalled
from solidify.report.document import PageTable, Picture, page_text
from solidify.report.strand_tables import own_limits
from solidify.report.tuning_text import (
    CAUTION,
    aim_text,
    assumed_texts,
    between_text,
    case_text,
    holding_parts,
    kilogram,
    litres,
    notice_texts,
    parted_loops,
    reach_text,
    row_entries,
)
from solidify.tuning.tune import row_verdict, verdict_text

if TYPE_CHECKING:
    from solidify.tuning.target import Valve
    from solidify.tuning.tune import Row, Tuning

__all__ = ["tuning_page"]

_MARKS = {"kept": "kept", "on paper": "close", "not met": "breached"}
_WORDS = {"kept": "met", "on paper": "on paper", "not met": "not met"}


@dataclass(frozen=True)
class _Cell:
    """A figure or name, what stands small below it, and a mark before it."""

    text: str
    small: str = ""
    mark: str = ""


@dataclass(frozen=True)
class _BySpeed:
    """A table with a column a speed."""

    caption: str
    corner: str
    head: tuple[_Cell, ...]
    rows: tuple[tuple[_Cell, tuple[_Cell, ...]], ...]
    note: str = ""

    def chunks(self, most: int) -> list[tuple[tuple[_Cell, ...], list[tuple[_Cell, tuple[_Cell, ...]]]]]:
        """Part the table into ones of so many speeds at most, of nearly equal width."""
        count = math.ceil(len(self.head) / most)
        ends = [round(i * len(self.head) / count) for i in range(count + 1)]
        spans = [slice(a, b) for a, b in pairwise(ends)]
        return [(self.head[span], [(name, cells[span]) for name, cells in self.rows]) for span in spans]


def tuning_page(tuning: Tuning, folder: str | os.PathLike[str] = ".") -> str:
    """Write the page of a tuned spray table.

    Parameters
    ----------
    tuning : Tuning
        Of `solidify.tuning.tune`.
    folder : path-like
        Where the case with the new table will stand.

    Returns
    -------
    str
        One HTML file with its pictures inside; the same for the same table.
    """
    last = tuning.rows[-1]
    found = [row_verdict(tuning, row) for row in tuning.rows]
    worst = next(v for v in ("not met", "on paper", "kept") if v in found)
    words = verdict_text(tuning)
    return page_text(
        "table.html.j2",
        tuning.case.title,
        _lead(tuning),
        last.result.created_by,
        last.result.created_at,
        worst=_MARKS[worst],
        verdict=f"{words[:1].upper()}{words[1:]}{'; on paper alone in places' if worst == 'on paper' else ''}",
        aim=aim_text(tuning),
        caution=CAUTION,
        short=_short(tuning, found),
        water=_water(tuning),
        loops=_loops(tuning),
        between=between_text(tuning),
        reach=[reach_text(r) for r in tuning.reach],
        drawn=_picture(tuning),
        surfaces=_surfaces(tuning),
        holding=_holding(tuning),
        rows=[_row(tuning, i) for i in range(len(tuning.rows))],
        valves=_valves(tuning),
        pipes=_pipes(tuning),
        assumed=assumed_texts(tuning),
        notices=notice_texts(tuning),
        assumptions=assumptions(last.result),
        own=own_limits(last.result, last.judgement),
        recalled=recalled(last.result, last.judgement),
        basis=basis(last.result, last.judgement),
        target_name=os.path.basename(tuning.target.name),
        target_text=tuning.target.text.strip("\n"),
        case_text=case_text(tuning, folder).rstrip("\n"),
    )


def _lead(tuning: Tuning) -> list[str]:
    speeds = [row.speed for row in tuning.rows]
    across = f"{speeds[0]:g} m/min" if len(speeds) == 1 else f"{speeds[0]:g} to {speeds[-1]:g} m/min"
    result = tuning.rows[-1].result
    return [
        "spray water table",
        across,
        f"{sum(tuning.tuned)} of {len(tuning.zones)} zones tuned",
        f"section treatment: {result.shape_treatment}",
        f"superheat {result.superheat:.0f} K",
        f"steel class: {result.steel.steel_class}",
    ]


def _short(tuning: Tuning, found: Sequence[str]) -> list[tuple[str, str, str]]:
    n = len(found)
    met, paper = n - found.count("not met"), found.count("on paper")
    rows = [
        ("Rows that meet everything", f"{met} of {n}", "as computed"),
        ("Of these on paper alone", f"{paper}", "crossed within the plant’s input errors"),
    ]
    for words, table in (("Spray water", tuning.rows), ("Spray water today", tuning.today)):
        kilograms = [float(row.result.summary["specific_water"]) for row in table]
        if not any(map(math.isnan, kilograms)):
            low, high = min(kilograms), max(kilograms)
            figure = f"{low:.2f} L/kg" if f"{low:.2f}" == f"{high:.2f}" else f"{low:.2f} to {high:.2f} L/kg"
            rows.append((words, figure, "over all rows"))
    return rows


def _heads(tuning: Tuning) -> tuple[_Cell, ...]:
    found = [row_verdict(tuning, row) for row in tuning.rows]
    return tuple(
        _Cell(f"{row.speed:g}", _WORDS[verdict], _MARKS[verdict])
        for row, verdict in zip(tuning.rows, found, strict=True)
    )


def _water(tuning: Tuning) -> _BySpeed:
    rows = []
    for i, zone in enumerate(tuning.zones):
        cells = []
        for new, today in zip(tuning.rows, tuning.today, strict=True):
            small = litres(today.water[i]) if tuning.tuned[i] else ""
            cells.append(_Cell(litres(new.water[i]), small))
        rows.append((_Cell(zone, "" if tuning.tuned[i] else "kept as it is"), tuple(cells)))
    totals = [
        _Cell(f"{np.nansum(a.water):.0f}", f"{np.nansum(b.water):.0f}")
        for a, b in zip(tuning.rows, tuning.today, strict=True)
    ]
    specific = [_Cell(kilogram(a), kilogram(b)) for a, b in zip(tuning.rows, tuning.today, strict=True)]
    rows += [(_Cell("all zones"), tuple(totals)), (_Cell("L/kg"), tuple(specific))]
    note = "L/min on one strand, by casting speed in m/min. Small, below: today."
    return _BySpeed("Water of each zone", "zone", _heads(tuning), tuple(rows), note)


def _loops(tuning: Tuning) -> _BySpeed | None:
    rows = []
    for loop in parted_loops(tuning):
        feeds = ", ".join(" ".join(feed).strip() for feed in loop.feeds)
        cells = tuple(_Cell(f"{tuning.loop_water(row, loop):.1f}") for row in tuning.rows)
        rows.append((_Cell(loop.name, "" if feeds == loop.name else feeds), cells))
    if not rows:
        return None
    return _BySpeed(
        "The same by loop", "loop", _heads(tuning), tuple(rows), "L/min, by casting speed in m/min."
    )


def _surfaces(tuning: Tuning) -> _BySpeed | None:
    rows = []
    for i, point in enumerate(tuning.target.points):
        name = _Cell(point.place, f"wanted {point.temperature:g} ± {point.band:g} °C")
        cells = tuple(
            _Cell(f"{point.temperature + row.off[i]:.0f}", f"{row.off[i]:+.0f} K") for row in tuning.rows
        )
        rows.append((name, cells))
    if not rows:
        return None
    note = "°C, by casting speed in m/min. Small, below: above or below what is wanted."
    return _BySpeed("Surface at the wanted points", "point", _heads(tuning), tuple(rows), note)


def _holding(tuning: Tuning) -> PageTable | None:
    """Return the binding limits, bands and valves of each row and their price."""
    rows = []
    for row in tuning.rows:
        for h in row.holding[:4]:
            rows.append((f"{row.speed:g}", *holding_parts(tuning, h)))
    if not rows:
        return None
    if all(row[2] == "–" for row in rows):
        return PageTable(
            "What holds each row, the dearest first", ("m/min", "held by"), tuple(r[:2] for r in rows)
        )
    note = (
        "What relief of one unit would save, by the slope at the table as it is; good for small relief. No price is "
        "told where a row does not meet everything, nor for the nearness to points."
    )
    head = ("m/min", "held by", "relief", "saves")
    return PageTable("What holds each row, the dearest first", head, tuple(rows), note=note)


def _row(tuning: Tuning, i: int) -> PageTable:
    row = tuning.rows[i]
    caption = f"{row.speed:g} m/min: {_WORDS[row_verdict(tuning, row)]}"
    said = tuple((name, words.replace(" -> ", "\xa0→ ")) for name, words in row_entries(tuning, i))
    return PageTable(caption, ("what", "in words"), said, "said")


def _valves(tuning: Tuning) -> PageTable:
    rows = [
        (valve.zone, *_ends(valve, tuned), _said(valve))
        for valve, tuned in zip(tuning.target.valves, tuning.tuned, strict=True)
    ]
    return PageTable("Valves, L/min", ("zone", "least", "most", "besides"), tuple(rows))


def _ends(valve: Valve, tuned: bool) -> tuple[str, str]:
    if valve.fixed or not tuned:
        return "–", "–"
    return f"{valve.low:g}", f"{valve.high:.4g}{' (assumed)' if valve.assumed else ''}"


def _said(valve: Valve) -> str:
    words = ["fixed"] if valve.fixed else []
    if valve.tied_to:
        words.append(f"{valve.ratio:g} times that of {valve.tied_to}")
    for side, low, high in valve.shares:
        span = f"{low:.3g}" if low == high else f"{low:.3g} to {high:.3g}"
        words.append(f"{side} share {span}")
    return "; ".join(words) or "–"


def _pipes(tuning: Tuning) -> PageTable | None:
    rows = []
    for loop in tuning.target.loops:
        feeds = ", ".join(" ".join(feed).strip() for feed in loop.feeds)
        most = f"{loop.high:g}" if math.isfinite(loop.high) else "–"
        rows.append((loop.name, feeds, f"{loop.low:g}", most))
    return PageTable("Loops, L/min", ("loop", "feeds", "least", "most"), tuple(rows)) if rows else None


def _picture(tuning: Tuning) -> Picture:
    first, last = tuning.rows[0], tuning.rows[-1]
    alt = (
        "Surface temperature along the strand at every speed of the table, and the water of every tuned zone over "
        f"the speed, today's thin beside it. At the cut-off the surface is at {_exit(first):.0f} °C at "
        f"{first.speed:g} m/min and at {_exit(last):.0f} °C at {last.speed:g} m/min. The tables hold the figures."
    )
    words = (
        "Above, the surface at all speeds, the fixed side thin where the two differ, and the wanted points. Below, "
        "the water of each zone; thin grey is today."
    )
    narrow = narrow_sheet(last.result)
    return Picture(words, alt, svg_address(draw_tuning(tuning)), svg_address(draw_tuning(tuning, narrow)))


def _exit(row: Row) -> float:
    return float(row.result.surface_temperature[0, -1])
