"""The printed sheet of a tuned spray table, and the table as a file for the plant."""

from __future__ import annotations

import math
import os
import re
from typing import TYPE_CHECKING

import numpy as np

from solidify.report.spreadsheet import table_text
from solidify.report.text import WIDTH, columns, entries, listed, page, wrapped
from solidify.tuning.tune import points_outside

if TYPE_CHECKING:
    from solidify.tuning.explain import ActiveConstraint, Reach
    from solidify.tuning.target import Loop
    from solidify.tuning.tune import Row, Tuning

__all__ = [
    "CAUTION",
    "aim_text",
    "assumed_texts",
    "between_text",
    "case_text",
    "holding_parts",
    "holding_text",
    "kilogram",
    "limits_text",
    "litres",
    "loop_rows",
    "notice_texts",
    "parted_loops",
    "reach_text",
    "row_entries",
    "tune_csv",
    "tune_text",
]

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


CAUTION = (
    "Estimates from a simplified slice: no measurement and no permission. Water on molten steel kills; the plant's own "
    "rules come first. Bring a new table in zone by zone and look at the strand."
)

_REACHES = 12
"""Points out of reach that are told one by one."""


def tune_text(tuning: Tuning, width: int = WIDTH) -> str:
    """Write what a tuning prints.

    Parameters
    ----------
    tuning : Tuning
        Of `solidify.tuning.tune`.
    width : int
        Longest line of running text [characters].

    Returns
    -------
    str
        Lines without trailing blanks.
    """
    blocks = [
        wrapped(tuning.case.title, width),
        wrapped(aim_text(tuning), width),
        _reach(tuning, width),
        _table(tuning),
        _loops(tuning),
        *[_row(tuning, i, width) for i in range(len(tuning.rows))],
        wrapped(between_text(tuning), width),
        *[wrapped(text, width) for text in assumed_texts(tuning)],
        listed("Said of the zones", notice_texts(tuning), width),
        wrapped(CAUTION, width),
    ]
    return page(blocks)


def tune_csv(tuning: Tuning) -> str:
    """Return the table for the plant: one line a speed, water by zone and loop [L/min], L/kg, what it keeps.

    Parameters
    ----------
    tuning : Tuning
        Of `solidify.tuning.tune`.

    Returns
    -------
    str
        CSV with a header.
    """
    out: list[list[str]] = []
    zones, loops = [f"{name} L/min" for name in tuning.zones], parted_loops(tuning)
    pipes = [f"loop {loop.name} L/min" for loop in loops]
    out.append(["speed_m_per_min", *zones, *pipes, "total L/min", "L/kg", "not met", "only on paper"])
    for row in tuning.rows:
        waters = ["" if math.isnan(w) else f"{w:.1f}" for w in row.water]
        waters += [f"{tuning.loop_water(row, loop):.1f}" for loop in loops]
        missed = [f.name for f in row.breached] + [
            f"surface at {place}" for place in points_outside(tuning, row)
        ]
        paper = [f.name for f in row.on_paper]
        kilogram = float(row.result.summary["specific_water"])
        last = ["" if math.isnan(kilogram) else f"{kilogram:.3f}", "; ".join(missed), "; ".join(paper)]
        out.append([f"{row.speed:g}", *waters, f"{np.nansum(row.water):.1f}", *last])
    return table_text(out)


def case_text(tuning: Tuning, folder: str | os.PathLike[str]) -> str:
    """Return the case with the new table as a case file.

    Parameters
    ----------
    tuning : Tuning
        Of `solidify.tuning.tune`.
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
    return f"# {source} with the spray water table tuned by {target}.\n{_tight(case.text)}"


_NUMBERS = re.compile(r"\[\s*((?:-?[\w.+]+,\s*)+)\]")
_TABLE = re.compile(r"\[\s*((?:\[[^\[\]]*\],\s*)+)\]")


def _tight(text: str) -> str:
    """Set lists of numbers in one line, and tables of them with a row a line where they are long."""

    def row(found: re.Match[str]) -> str:
        return "[" + ", ".join(found[1].replace(",", " ").split()) + "]"

    def table(found: re.Match[str]) -> str:
        rows = re.findall(r"\[[^\[\]]*\]", found[1])
        line = "[" + ", ".join(rows) + "]"
        return line if len(line) < 80 else "[\n" + "".join(f"    {r},\n" for r in rows) + "]"

    return _TABLE.sub(table, _NUMBERS.sub(row, text))


def aim_text(tuning: Tuning) -> str:
    """Say what was asked, and what it took."""
    target, n = tuning.target, len(tuning.target.points)
    words = f"Spray water table. Aim: {_AIMS[target.aim]}; keeps "
    words += "hard and soft limits" if target.soft else "hard limits alone"
    words += f", {n} surface point{'s' if n > 1 else ''}" if n else ""
    words += f", with {target.room:g} close widths of room" if target.room else ""
    return f"{words}; {tuning.marches} strands marched."


def _reach(tuning: Tuning, width: int) -> list[str]:
    texts = [reach_text(r) for r in tuning.reach]
    more = [f"and {len(texts) - _REACHES} more"] if len(texts) > _REACHES else []
    return listed("Out of reach of these valves", texts[:_REACHES] + more, width)


def reach_text(r: Reach) -> str:
    """Say why a point is out of reach, and what would mend it."""
    cold = r.nearest > r.wanted
    words = (
        f"{r.speed:g} m/min, {r.place}: {r.wanted:.0f} ± {r.band:g} °C is wanted, the surface comes "
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
        today = [litres(row.water[i]) for row in tuning.today]
        new = [litres(row.water[i]) for row in tuning.rows]
        if tuning.tuned[i]:
            cells += [[zone, "new", *new], ["", "today", *today]]
        else:
            cells.append([zone, "kept", *new])
    for words, table in (("new", tuning.rows), ("today", tuning.today)):
        name = "L/kg" if words == "new" else ""
        cells.append([name, words, *[kilogram(row) for row in table]])
    for name, words, table in (("not met", "new", tuning.rows), ("", "today", tuning.today)):
        cells.append([name, words, *[str(len(r.breached) + len(points_outside(tuning, r))) for r in table]])
    title = "Water, L/min on one strand, by casting speed in m/min"
    return [title, *columns(cells, "wlr", indent="  ")]


def parted_loops(tuning: Tuning) -> tuple[Loop, ...]:
    """Return the loops where they are not the zones themselves, else nothing."""
    loops = tuning.loops
    return loops if any(len(loop.feeds) > 1 or loop.feeds[0] != (loop.name, "") for loop in loops) else ()


def loop_rows(tuning: Tuning) -> list[tuple[str, ...]]:
    """Return name, what it feeds and the water of each loop at each speed; nothing where loops are the zones."""
    rows = []
    for loop in parted_loops(tuning):
        feeds = ", ".join(" ".join(feed).strip() for feed in loop.feeds)
        waters = [f"{tuning.loop_water(row, loop):.1f}" for row in tuning.rows]
        rows.append((loop.name, "" if feeds == loop.name else feeds, *waters))
    return rows


def _loops(tuning: Tuning) -> list[str]:
    rows = loop_rows(tuning)
    if not rows:
        return []
    head = ("loop", "feeds", *[f"{row.speed:g}" for row in tuning.rows])
    return ["The same by loop, L/min", *columns([head, *rows], "lwr", indent="  ")]


def litres(value: float) -> str:
    """Write a water; a dash where there is none."""
    return "–" if math.isnan(value) else f"{value:.1f}"


def kilogram(row: Row) -> str:
    """Write the specific water of a row [L/kg]."""
    value = float(row.result.summary["specific_water"])
    return "–" if math.isnan(value) else f"{value:.2f}"


def _row(tuning: Tuning, i: int, width: int) -> list[str]:
    return [f"{tuning.rows[i].speed:g} m/min", *entries(row_entries(tuning, i), width, "  ")]


def row_entries(tuning: Tuning, i: int) -> list[tuple[str, str]]:
    """Return what is said of a row: limits, surface, what holds on paper alone, what holds it and what changed."""
    row, today = tuning.rows[i], tuning.today[i]
    said = [
        ("limits", limits_text(row, "as computed every limit is met")),
        ("today", limits_text(today, "every limit is met")),
    ]
    if tuning.target.points:
        said.append(("surface", _points(tuning, row)))
    if row.on_paper:
        found = (f"{f.label} {f.value_text} ({f.band_text}), limit {f.limit_text}" for f in row.on_paper)
        words = "with the plant's input errors these are crossed: "
        said.append(("only on paper", words + "; ".join(found)))
    if row.holding:
        said.append(("held by", "; ".join(holding_text(tuning, h) for h in row.holding[:3])))
    ends = [h.what for h in row.holding if h.kind in ("valve", "loop")]
    if ends and (row.breached or points_outside(tuning, row)):
        said.append(("would help", f"a valve that goes further: {'; '.join(ends)}"))
    changes = [f"{c.zone} {litres(c.before)} -> {litres(c.after)} ({c.reason})" for c in row.changes]
    return [*said, ("changes", "; ".join(changes) or "none")]


def limits_text(row: Row, met: str) -> str:
    """Say what a row does not keep.

    Parameters
    ----------
    row : Row
        A row.
    met : str
        To say where it keeps everything.

    Returns
    -------
    str
        Each limit that is breached with its room and hardness.
    """
    if not row.breached:
        return met
    said = []
    for f in row.breached:
        still = row.moved and f.name not in row.moved
        said.append(f"{f.label}, {f.room} ({f.hardness}{'; no water moves it' if still else ''})")
    return "breached: " + "; ".join(said)


def _points(tuning: Tuning, row: Row) -> str:
    pairs = list(zip(tuning.target.points, row.off, strict=True))
    words = [f"{p.place} {p.temperature + off:.0f} °C ({off:+.0f} K)" for p, off in pairs]
    return f"{len(pairs) - len(points_outside(tuning, row))} of {len(pairs)} inside their bands: {'; '.join(words)}"


def holding_text(tuning: Tuning, h: ActiveConstraint) -> str:
    """Say what holds a row, and what relief of it would save."""
    what, relief, saves = holding_parts(tuning, h)
    return what if saves == "–" else f"{what} ({relief} of relief saves {saves})"


def holding_parts(tuning: Tuning, h: ActiveConstraint) -> tuple[str, str, str]:
    """Return what holds a row, for print.

    Parameters
    ----------
    tuning : Tuning
        What was tuned.
    h : ActiveConstraint
        A limit, band, valve or loop that holds a row of it.

    Returns
    -------
    what : str
        What holds it.
    relief : str
        How much looser it is taken to be, with its unit; a dash without a price.
    saved : str
        What that saves, with its unit; a dash without a price.
    """
    if tuning.target.aim == "nearest" or math.isnan(h.price):
        return h.what, "–", "–"
    amount, unit = _AMOUNTS.get(h.unit, 1.0), _UNITS.get(h.unit, f" {h.unit}")
    return h.what, f"{amount:g}{unit}", f"{_figure(amount * h.price)} {h.aim_unit}"


def _figure(value: float) -> str:
    if value >= 100:
        return f"{value:.0f}"
    return f"{value:.2g}" if value >= 0.01 else "less than 0.01"


def between_text(tuning: Tuning) -> str:
    """Say how the speeds half-way between the rows stand; nothing for one row."""
    if not tuning.between:
        return ""
    said = []
    for i, row in enumerate(tuning.between):
        pair = tuning.rows[i : i + 2]
        near = {f.name for r in pair for f in r.breached}
        places = {place for r in pair for place in points_outside(tuning, r)}
        new = [f"{f.label}, {f.room}" for f in row.breached if f.name not in near]
        new += [f"surface at {place}" for place in points_outside(tuning, row) if place not in places]
        if new:
            said.append(f"{row.speed:g} m/min does not keep what both its neighbours keep: {'; '.join(new)}")
    words = "; ".join(said) if said else "each keeps what both its neighbours keep"
    words = (
        f"Half-way between the rows, {len(tuning.between)} marched with the water that lies there: {words}."
    )
    return f"{words} A row at that speed mends it." if said else words


def assumed_texts(tuning: Tuning) -> list[str]:
    """Say what was taken for want of better."""
    rolls = tuning.case.rolls_text
    texts = [f"Roll contact assumed: {rolls}."] if rolls else []
    plain = [z.name for z in tuning.case.zone if z.water_L_per_min is not None]
    if plain and len(tuning.rows) > 1:
        texts.append(f"Water given in plain L/min counts as today's at every speed: {', '.join(plain)}.")
    pairs = zip(tuning.target.valves, tuning.tuned, strict=True)
    names = [f"{v.zone} {v.high:.0f}" for v, tuned in pairs if v.assumed and tuned]
    if names:
        words = "Nothing says what these valves give; three times the most of today was taken, L/min: "
        texts.append(f"{words}{', '.join(names)}.")
    dry = _dry(tuning)
    if dry:
        words = "Shut sprays leave rolls and nozzles uncooled, and right below the mould a thin shell; "
        how = "min_L_per_min of a valve keeps it open."
        texts.append(f"Dry in the new table, but not today: {', '.join(dry)}. {words}{how}")
    return texts


def _dry(tuning: Tuning) -> list[str]:
    """Return the zones that get no water in some row, though they have some today, with the speeds."""
    found = []
    for i, zone in enumerate(tuning.zones):
        pairs = zip(tuning.rows, tuning.today, strict=True)
        speeds = [f"{new.speed:g}" for new, old in pairs if new.water[i] == 0.0 < old.water[i]]
        if speeds:
            found.append(f"{zone} (at {', '.join(speeds)} m/min)")
    return found


def notice_texts(tuning: Tuning) -> list[str]:
    """Say once what is said of a zone or a spray relation, whatever the numbers, and at how many speeds."""
    found: dict[tuple[str, str], list[str]] = {}
    for row in tuning.rows:
        relations = {
            (n.where, ""): n.text for n in row.result.notices if n.where.startswith("spray relation")
        }
        zones = [n for n in row.result.notices if n.where.startswith("zone")]
        said = {(n.where, re.sub(r"[0-9.]+", "", n.text)): n.text for n in zones}
        for key, text in {**relations, **said}.items():
            found.setdefault(key, []).append(text)
    count = len(tuning.rows)
    texts = []
    for (where, _), same in found.items():
        at = f" (at {len(same)} of {count} speeds; this is the first)" if count > 1 else ""
        texts.append(f"{where}: {same[0]}{at}")
    return texts
