"""The printed sheet of a tuned spray table, and the table as a file for the plant."""

from __future__ import annotations

import csv
import io
import math
import os
import re
import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from solidify.studies.tune import Holding, Reach, Row, Tuning

__all__ = ["case_text", "tune_csv", "tune_text"]

_UNITS = {"degC": " K", "% strain": " %", "1": ""}
"""Unit of a relief for print, where it is not that of the limit."""

_AMOUNTS = {"1": 0.01, "% strain": 0.01, "mm": 0.1, "m": 0.1, "MW/m²": 0.01, "L/kg": 0.01}
"""Relief that a price is told for, where one whole unit is too much."""

_AIMS = {
    "least": "least water",
    "nearest": "nearest to the wanted surface",
    "flattest": "flattest surface",
    "shortest": "shortest liquid core",
}


_REACHES = 12
"""Points out of reach that are told one by one."""


def tune_text(tuning: Tuning, width: int = 100) -> str:
    """Write what a tuning prints.

    Parameters
    ----------
    tuning : Tuning
        Of `solidify.studies.tune`.
    width : int
        Longest line of running text [characters].

    Returns
    -------
    str
        Lines without trailing blanks.
    """
    blocks = [
        textwrap.wrap(tuning.case.title, width),
        _head(tuning, width),
        _reach(tuning, width),
        _table(tuning),
        *[_row(tuning, i, width) for i in range(len(tuning.rows))],
        _between(tuning, width),
        _assumed(tuning, width),
        _notices(tuning, width),
        textwrap.wrap(
            "Estimates from a simplified slice: no measurement and no permission. Water on molten steel kills; the "
            "plant's own rules come first. Bring a new table in zone by zone and look at the strand.",
            width,
        ),
    ]
    return "\n\n".join("\n".join(line.rstrip() for line in block) for block in blocks if block)


def tune_csv(tuning: Tuning) -> str:
    """Return the table for the plant: one line a speed, water by zone [L/min], specific water, what it keeps.

    Parameters
    ----------
    tuning : Tuning
        Of `solidify.studies.tune`.

    Returns
    -------
    str
        CSV with a header.
    """
    page = io.StringIO()
    out = csv.writer(page, lineterminator="\n")
    zones = [f"{name} L/min" for name in tuning.zones]
    out.writerow(["speed_m_per_min", *zones, "total L/min", "L/kg", "not met", "only on paper"])
    for row in tuning.rows:
        waters = ["" if math.isnan(w) else f"{w:.1f}" for w in row.water]
        missed = [f.name for f in row.breached] + [f"surface at {z:g} m" for z in _outside(tuning, row)]
        paper = [f.name for f in row.on_paper]
        kilogram = float(row.result.summary["specific_water"])
        last = ["" if math.isnan(kilogram) else f"{kilogram:.3f}", "; ".join(missed), "; ".join(paper)]
        out.writerow([f"{row.speed:g}", *waters, f"{np.nansum(row.water):.1f}", *last])
    return page.getvalue()


def case_text(tuning: Tuning, folder: str | os.PathLike[str]) -> str:
    """Return the case with the new table as a case file.

    Parameters
    ----------
    tuning : Tuning
        Of `solidify.studies.tune`.
    folder : path-like
        Where it will stand: a property file of the steel is named from there.

    Returns
    -------
    str
        TOML that `solidify.read_case` reads; the remarks of the given file are not in it.
    """
    case = tuning.tuned_case
    if case.property_path is not None:
        case = case.replace({"steel.property_file": os.path.relpath(case.property_path, folder)})
    source, target = tuning.case.name, os.path.basename(tuning.target.name)
    return f"# {source} with the spray water table tuned by {target}.\n{case.text}"


def _outside(tuning: Tuning, row: Row) -> list[float]:
    pairs = zip(tuning.target.points, row.off, strict=True)
    return [p.distance for p, off in pairs if abs(off) > p.band * (1 + 1e-3)]


def _head(tuning: Tuning, width: int) -> list[str]:
    target = tuning.target
    keeps = "hard and soft limits" if target.soft else "hard limits alone"
    words = f"Spray water table. Aim: {_AIMS[target.aim]}; keeps {keeps}"
    words += (
        f", {len(target.points)} surface point{'s' if len(target.points) > 1 else ''}"
        if target.points
        else ""
    )
    words += f", with {target.room:g} close widths of room" if target.room else ""
    return textwrap.wrap(f"{words}; {tuning.marches} strands marched.", width)


def _reach(tuning: Tuning, width: int) -> list[str]:
    lines = ["Out of reach of these valves"] if tuning.reach else []
    for r in tuning.reach[:_REACHES]:
        lines += textwrap.wrap(_reach_text(r), width, initial_indent="  ", subsequent_indent="    ")
    if len(tuning.reach) > _REACHES:
        lines.append(f"  and {len(tuning.reach) - _REACHES} more")
    return lines


def _reach_text(r: Reach) -> str:
    cold = r.nearest > r.wanted
    words = (
        f"{r.speed:g} m/min, {r.distance:.2f} m: {r.wanted:.0f} ± {r.band:g} °C is wanted, the surface comes "
        f"{'down' if cold else 'up'} to {r.nearest:.0f} °C, {r.beyond:.0f} K short, with every valve at its "
        f"{'most' if cold else 'least'}"
    )
    if not r.zone:
        return f"{words}; no zone above it may change: free one, or move the point"
    if math.isnan(r.needed):
        help_ = "wish for less" if cold else "wish for less heat, or change a zone that is fixed"
        return f"{words}; {r.zone} alone cannot mend it: {help_}"
    valve = f"its valve {'gives' if cold else 'holds'} {r.end:g}"
    return f"{words}; {r.zone} would need about {r.needed:.0f} L/min, {valve}"


def _table(tuning: Tuning) -> list[str]:
    speeds = [f"{row.speed:g}" for row in tuning.rows]
    cells = [["zone", "", *speeds]]
    for i, zone in enumerate(tuning.zones):
        today = [_litres(row.water[i]) for row in tuning.today]
        new = [_litres(row.water[i]) for row in tuning.rows]
        if tuning.tuned[i]:
            cells += [[zone, "new", *new], ["", "today", *today]]
        else:
            cells.append([zone, "kept", *new])
    for words, table in (("new", tuning.rows), ("today", tuning.today)):
        name = "L/kg" if words == "new" else ""
        cells.append([name, words, *[_kilogram(row) for row in table]])
    cells.append(["not met", "new", *[str(len(r.breached) + len(_outside(tuning, r))) for r in tuning.rows]])
    cells.append(["", "today", *[str(len(r.breached) + len(_outside(tuning, r))) for r in tuning.today]])
    return ["Water, L/min on one strand, by casting speed in m/min", *_columns(cells)]


def _columns(cells: Sequence[Sequence[str]]) -> list[str]:
    widths = [max(len(row[i]) for row in cells) for i in range(len(cells[0]))]
    return [
        "  "
        + "  ".join(
            c.ljust(w) if i < 2 else c.rjust(w) for i, (c, w) in enumerate(zip(row, widths, strict=True))
        )
        for row in cells
    ]


def _litres(value: float) -> str:
    return "–" if math.isnan(value) else f"{value:.1f}"


def _kilogram(row: Row) -> str:
    value = float(row.result.summary["specific_water"])
    return "–" if math.isnan(value) else f"{value:.2f}"


def _row(tuning: Tuning, i: int, width: int) -> list[str]:
    row, today = tuning.rows[i], tuning.today[i]
    lines = [f"{row.speed:g} m/min"]
    entries = [
        ("limits", _limits(row, "as computed every limit is met")),
        ("today", _limits(today, "every limit is met")),
    ]
    if tuning.target.points:
        entries.append(("surface", _points(tuning, row)))
    if row.on_paper:
        said = "; ".join(
            f"{f.label} {f.value_text} ({f.band_text}), limit {f.limit_text}" for f in row.on_paper
        )
        entries.append(("only on paper", f"with the plant's input errors these are crossed: {said}"))
    if row.holding:
        entries.append(("held by", "; ".join(_holding(tuning, h) for h in row.holding[:3])))
    ends = [h.what for h in row.holding if h.kind == "valve"]
    if ends and (row.breached or _outside(tuning, row)):
        entries.append(("would help", f"a valve that goes further: {'; '.join(ends)}"))
    changes = [f"{c.zone} {_litres(c.before)} -> {_litres(c.after)} ({c.reason})" for c in row.changes]
    entries.append(("changes", "; ".join(changes) or "none"))
    for name, words in entries:
        lead = f"  {name:<14}"
        lines += textwrap.wrap(words, width, initial_indent=lead, subsequent_indent=" " * len(lead))
    return lines


def _limits(row: Row, met: str) -> str:
    if not row.breached:
        return met
    return "breached: " + "; ".join(f"{f.label}, {f.room} ({f.hardness})" for f in row.breached)


def _points(tuning: Tuning, row: Row) -> str:
    pairs = list(zip(tuning.target.points, row.off, strict=True))
    outside = _outside(tuning, row)
    words = [f"{p.distance:g} m {p.temperature + off:.0f} °C ({off:+.0f} K)" for p, off in pairs]
    count = f"{len(pairs) - len(outside)} of {len(pairs)} inside their bands: "
    return count + "; ".join(words)


def _holding(tuning: Tuning, h: Holding) -> str:
    if tuning.target.aim == "nearest" or math.isnan(h.price):
        return h.what
    amount, unit = _AMOUNTS.get(h.unit, 1.0), _UNITS.get(h.unit, f" {h.unit}")
    return f"{h.what} ({amount:g}{unit} of relief saves {_figure(amount * h.price)} {h.aim_unit})"


def _figure(value: float) -> str:
    if value >= 100:
        return f"{value:.0f}"
    return f"{value:.2g}" if value >= 0.01 else "less than 0.01"


def _between(tuning: Tuning, width: int) -> list[str]:
    if not tuning.between:
        return []
    said = []
    for i, row in enumerate(tuning.between):
        near = {f.name for r in tuning.rows[i : i + 2] for f in r.breached}
        places = {z for r in tuning.rows[i : i + 2] for z in _outside(tuning, r)}
        new = [f"{f.label}, {f.room}" for f in row.breached if f.name not in near]
        new += [f"surface at {z:g} m" for z in _outside(tuning, row) if z not in places]
        if new:
            said.append(f"{row.speed:g} m/min does not keep what both its neighbours keep: {'; '.join(new)}")
    count = len(tuning.between)
    words = "; ".join(said) if said else "each keeps what both its neighbours keep"
    words = f"Half-way between the rows, {count} marched with the water that lies there: {words}."
    if said:
        words += " A row at that speed mends it."
    return textwrap.wrap(words, width)


def _assumed(tuning: Tuning, width: int) -> list[str]:
    """Say what was taken for want of better."""
    lines = []
    plain = [z.name for z in tuning.case.zone if z.water_L_per_min is not None]
    if plain and len(tuning.rows) > 1:
        words = f"Water given in plain L/min counts as today's at every speed: {', '.join(plain)}."
        lines += textwrap.wrap(words, width)
    pairs = zip(tuning.target.valves, tuning.tuned, strict=True)
    names = [f"{v.zone} {v.high:.0f}" for v, tuned in pairs if v.assumed and tuned]
    if names:
        words = "Nothing says what these valves give; three times the most of today was taken, L/min: "
        lines += textwrap.wrap(f"{words}{', '.join(names)}.", width)
    return lines


def _notices(tuning: Tuning, width: int) -> list[str]:
    """Say once what is said of a zone, whatever its numbers, and at how many speeds."""
    found: dict[tuple[str, str], list[str]] = {}
    for row in tuning.rows:
        said = {(n.where, re.sub(r"[0-9.]+", "", n.text)): n.text for n in row.result.notices}
        for key, text in said.items():
            if key[0].startswith("zone"):
                found.setdefault(key, []).append(text)
    lines = ["Said of the zones"] if found else []
    for (where, _), texts in found.items():
        n = len(texts)
        at = (
            "" if n == len(tuning.rows) == 1 else f" (at {n} of {len(tuning.rows)} speeds; this is the first)"
        )
        lines += textwrap.wrap(
            f"{where}: {texts[0]}{at}", width, initial_indent="  ", subsequent_indent="    "
        )
    return lines
