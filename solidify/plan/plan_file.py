"""Reading a plan file: every mistake said at once, with its line, and what was not given kept with its spread."""

from __future__ import annotations

import copy
import math
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import Any

from solidify.case import Case, parse_case, read_case
from solidify.case.lines import key_lines
from solidify.case.values import is_number, shown
from solidify.errors import InputError, Problem, closest
from solidify.files import read_words
from solidify.plan.cut import Cut, tracking_error
from solidify.plan.cut_table import CUT_FIGURES, read_cut
from solidify.plan.figures import Figure, figure, ladle_cooling
from solidify.plan.ladle import Ladle
from solidify.plan.nozzle import KINDS, Nozzle
from solidify.plan.page import Page
from solidify.plan.page import Path as KeyPath
from solidify.plan.plan import Assumed, Band, Plan, PlannedStrand
from solidify.plan.tundish import Tundish
from solidify.strand.setup import case_steel
from solidify.study.reading import toml_tables
from solidify.units import KW, M_PER_MIN, MINUTE, MM

__all__ = ["parse_plan", "read_plan", "shifted_plan"]

TONNE = 1000.0
"""One tonne [kg]."""

MOST_STRANDS, MOST_TUNDISHES, MOST_LADLES = 8, 2, 60
"""A plan holds no more."""

LONGEST_NAME = 16
"""Characters of the name of a strand or tundish."""

LIQUIDUS_APART = 2.0
"""One ladle is one steel: the liquidus of its strands may differ by this [K]."""

_KEYS = ("title", "ladle", "tundish", "strand", "sequence", "cut")
_LADLE = ("weight_t", "stays_t", "temperature_C", "cooling_K_per_min", "stream_drop_K", "gate_most_t_per_min")
_TUNDISH = (
    "name",
    "weight_t",
    "least_weight_t",
    "start_weight_t",
    "rest_t",
    "level_at_weight",
    "area_m2",
    "loss_kW",
    "first_heat_K",
    "first_heat_fades_min",
    "lining_min",
)
_STRAND = ("name", "case", "tundish", "speed_m_per_min", "keep_speed", "nozzle", "cut")
_NOZZLE = ("kind", "bore_mm", "coefficient", "clog_percent_per_heat", "wear_mm_per_h", "drop_to_mould_mm")
_SEQUENCE = ("heats", "shut_min", "arrive_every_min", "at_min", "finish_in_min", "superheat_K")
_BAND = ("least", "aim", "most")


def read_plan(path: str | os.PathLike[str]) -> Plan:
    """Read a plan file.

    Parameters
    ----------
    path : str or path-like
        TOML in UTF-8. Cases that it names are looked for from its folder.

    Returns
    -------
    Plan

    Raises
    ------
    InputError
        If the file or a case cannot be read or holds what it may not; all problems at once.
    """
    text = read_words(path, "plan file")
    return parse_plan(text, str(path), folder=Path(path).parent)


def parse_plan(
    text: str,
    name: str = "plan",
    *,
    folder: str | os.PathLike[str] = ".",
    cases: Mapping[str, str] | None = None,
) -> Plan:
    """Make a plan from the text of a plan file.

    Parameters
    ----------
    text : str
        TOML.
    name : str
        Of the file, for messages.
    folder : path-like
        Where the cases are looked for.
    cases : mapping of str to str, optional
        Texts of cases by the name the plan gives them; those are not looked for.

    Returns
    -------
    Plan

    Raises
    ------
    InputError
        As `read_plan`.
    """
    data = toml_tables(text, name, "correct the line; docs/heat-plan.md shows a plan file")
    if "casting" in data and "strand" not in data:
        do = f"solidify run {name} solves a case; a plan names it in [[strand]]"
        raise InputError(Problem(f"{name}:", "a case file", "a plan file", do=do))
    if "length_m" in data and "ladle" not in data:
        raise InputError(
            Problem(f"{name}:", "a cut file", "a plan file", do=f"solidify cut {name} works it out")
        )
    found: dict[str, Case] = {}
    page = Page(name, key_lines(text))
    for i, row in enumerate(page.tables(data, "strand")):
        _case_of(page, row, i, Path(folder), cases or {}, found)
    return _plan(page, data, found, text)


def shifted_plan(plan: Plan, assumed: Assumed, times: float = 1.0) -> Plan:
    """Return the plan with a number that was not given moved by its standard deviation.

    Parameters
    ----------
    plan : Plan
        As read.
    assumed : Assumed
        One of `Plan.assumed`.
    times : float
        How many standard deviations.

    Returns
    -------
    Plan

    Raises
    ------
    InputError
        If the moved number cannot be.
    """
    data = copy.deepcopy(dict(plan.data))
    for path, value, sd in assumed.settings:
        at: Any = data
        for key in path[:-1]:
            at = at.setdefault(key, {}) if isinstance(at, dict) else at[key]
        at[path[-1]] = max(value + times * sd, 0.0)
    cases = {row["case"]: strand.case for row, strand in zip(data["strand"], plan.strands, strict=True)}
    return _plan(Page(plan.name), data, cases, plan.text)


def _case_of(
    page: Page, row: Mapping[str, Any], i: int, folder: Path, texts: Mapping[str, str], found: dict[str, Case]
) -> None:
    """Read the case of a strand, each once; what is wrong with it is said with its own lines."""
    name = row.get("case")
    if not isinstance(name, str) or not name or name in found:
        return  # told with the strand
    try:
        found[name] = parse_case(texts[name], name) if name in texts else read_case(folder / name)
    except InputError as error:
        page.bad(("strand", i, "case"), f"= {shown(name)} cannot be taken", do="see below")
        page.problems += error.problems


@dataclass
class _Taken:
    """What the file did not give, gathered by what it is."""

    rows: dict[str, list[tuple[KeyPath, float, float]]] = field(default_factory=dict)
    about: dict[str, tuple[str, str]] = field(default_factory=dict)

    def take(self, label: str, path: KeyPath, value: float, own: Figure, sd: float | None = None) -> float:
        """Take a figure for a key, in the unit of the key."""
        self.rows.setdefault(label, []).append((path, value, own.sd if sd is None else sd))
        self.about[label] = (str(path[-1]), own.origin)
        return value

    def list(self, units: Mapping[str, str]) -> tuple[Assumed, ...]:
        found = []
        for label, rows in self.rows.items():
            key, origin = self.about[label]
            found.append(Assumed(label, rows[0][1], rows[0][2], units.get(key, ""), origin, tuple(rows)))
        return tuple(found)


_UNITS = {
    "stays_t": "t",
    "cooling_K_per_min": "K/min",
    "stream_drop_K": "K",
    "gate_most_t_per_min": "t/min",
    "least_weight_t": "t",
    "start_weight_t": "t",
    "rest_t": "t",
    "loss_kW": "kW",
    "first_heat_K": "K",
    "first_heat_fades_min": "min",
    "coefficient": "",
    "clog_percent_per_heat": "% a heat",
    "wear_mm_per_h": "mm/h",
    "shut_min": "min",
    "superheat_K": "K",
    "kerf_mm": "mm",
    "hot_factor": "",
    "head_crop_m": "m",
    "tail_crop_m": "m",
    "join_crop_m": "m",
    "scale_percent": "%",
}


def _plan(page: Page, data: Mapping[str, Any], cases: Mapping[str, Case], text: str) -> Plan:
    """Check everything and make the plan."""
    page.known(data, _KEYS, ())
    taken = _Taken()
    notices: list[str] = []
    title = data.get("title", Path(page.name).stem)
    if not isinstance(title, str) or not title.strip() or not title.isprintable():
        page.bad(("title",), f"= {shown(title)}", "one line of text in quotes", do="correct it")
        title = ""
    rows = page.tables(data, "tundish")
    names = _names(page, "tundish", rows, MOST_TUNDISHES)
    strands = _strands(page, data, cases, names, taken, notices)
    takes = sum(s.mass_per_metre * s.speed.aim for s in strands)
    needs_level = {s.tundish for s in strands if s.nozzle is not None}
    sums = [sum(s.mass_per_metre * s.speed.aim for s in strands if s.tundish == k) for k in range(len(rows))]
    heat = figure("liquid_heat").value
    tundishes = [
        _tundish(page, row, k, names[k], k in needs_level, sums[k] * heat, taken)
        for k, row in enumerate(rows)
    ]
    for k, name in enumerate(names):
        if strands and not any(s.tundish == k for s in strands) and not page.problems:
            page.bad(
                ("tundish", k), "feeds no strand", do=f'name it in a strand, tundish = "{name}", or drop it'
            )
    sequence = page.table(data, "sequence")
    page.known(sequence, _SEQUENCE, ("sequence",))
    ladle = page.table(data, "ladle")
    page.known(ladle, _LADLE, ("ladle",))
    ladles = _ladles(page, ladle, sequence, taken)
    gate_figure = figure("ladle", "gate_most")
    tonnes = takes * MINUTE / TONNE
    gate = page.number(ladle, "gate_most_t_per_min", ("ladle",), 0.05, 100.0, "t/min")
    if "gate_most_t_per_min" not in ladle and not math.isnan(tonnes):
        path = ("ladle", "gate_most_t_per_min")
        gate = taken.take(
            "most flow of the ladle gate",
            path,
            gate_figure.value * tonnes,
            gate_figure,
            gate_figure.sd * tonnes,
        )
    elif gate <= tonnes:
        page.bad(
            ("ladle", "gate_most_t_per_min"),
            f"= {gate:g}",
            f"more than the strands take at their aim speeds, {tonnes:.3g} t/min",
            do="open the gate wider",
        )
    shut = page.number(sequence, "shut_min", ("sequence",), 0.0, 60.0, "min")
    if "shut_min" not in sequence:
        own = figure("sequence", "shut")
        shut = taken.take("ladle gate shut at a change", ("sequence", "shut_min"), own.value, own)
    finish = page.number(sequence, "finish_in_min", ("sequence",), 1.0, 600.0, "min")
    superheat = _superheat(page, sequence, strands, taken)
    scale = _scale(page, data, taken)
    _one_steel(page, strands)
    for i, one in enumerate(ladles[:1]):
        start = sum(t.start for t in tundishes)
        if one.poured < start:
            said = (
                f"pours {one.poured / TONNE:g} t, less than the tundishes need to start, {start / TONNE:g} t"
            )
            page.bad(
                ("ladle", "weight_t"),
                said,
                do="give more steel or smaller start weights",
                said=f"[ladle] {i + 1}",
            )
    page.end()
    return Plan(
        title=title,
        name=Path(page.name).name,
        ladles=tuple(ladles),
        gate_most=gate * TONNE / MINUTE,
        tundishes=tuple(tundishes),
        strands=tuple(strands),
        shut=shut * MINUTE,
        finish=finish * MINUTE,
        superheat=superheat,
        liquid_density=figure("liquid_density").value,
        liquid_heat=heat,
        scale=scale,
        assumed=taken.list(_UNITS),
        notices=tuple(notices),
        text=text,
        data=data,
    )


def _names(page: Page, kind: str, rows: Sequence[Mapping[str, Any]], most: int) -> list[str]:
    """Return the names of tables, each given once; a lone table may go without."""
    if not 1 <= len(rows) <= most:
        said = "is missing" if not rows else f"stands {len(rows)} times"
        page.bad(
            (kind,),
            said,
            f"1 to {most}",
            do=f"write [[{kind}]]" if not rows else "drop some",
            said=f"[[{kind}]]",
        )
    found: list[str] = []
    for i, row in enumerate(rows):
        name = row.get("name", kind if len(rows) == 1 else None)
        if (
            not isinstance(name, str)
            or not name.strip()
            or not name.isprintable()
            or len(name) > LONGEST_NAME
        ):
            said = "is missing" if name is None else f"= {shown(name)}"
            page.bad(
                (kind, i, "name"),
                said,
                f"one line, up to {LONGEST_NAME} characters",
                do=f'name = "{chr(65 + i % 26)}"',
            )
            name = f"{kind} {i + 1}"
        elif name in found:
            page.bad((kind, i, "name"), f"= {shown(name)} stands twice", do="give each its own")
        found.append(name)
    return found


def _band(page: Page, given: Any, path: KeyPath, low: float, high: float, unit: str, usual: float) -> Band:
    """Read least, aim and most; a number alone stands for all three."""
    if given is None or is_number(given):
        one = usual if given is None else page.value(given, path, low, high, unit)
        return Band(one, one, one)
    if not isinstance(given, Mapping):
        page.bad(path, f"= {shown(given)}", "a number, or { least, aim, most }", do="correct it")
        return Band(math.nan, math.nan, math.nan)
    page.known(given, _BAND, path)
    aim = page.number(given, "aim", path, low, high, unit, usual)
    least = page.number(given, "least", path, low, high, unit, aim)
    most = page.number(given, "most", path, low, high, unit, aim)
    if least > aim or aim > most:
        page.bad(path, f"= {shown(given)}", "least, aim and most in rising order", do="correct one")
    return Band(least, aim, most)


def _strands(
    page: Page,
    data: Mapping[str, Any],
    cases: Mapping[str, Case],
    tundishes: Sequence[str],
    taken: _Taken,
    notices: list[str],
) -> list[PlannedStrand]:
    rows = page.tables(data, "strand")
    names = _names(page, "strand", rows, MOST_STRANDS)
    common = page.table(data, "cut") if "cut" in data else None
    found = []
    for i, row in enumerate(rows):
        at: KeyPath = ("strand", i)
        page.known(row, _STRAND, at)
        name = row.get("case")
        if not isinstance(name, str) or not name:
            said = "is missing" if name is None else f"= {shown(name)} is no name of a file"
            page.bad((*at, "case"), said, do='name the case of the strand: case = "bloom.toml"')
        case = cases.get(name) if isinstance(name, str) else None
        place = _tundish_of(page, row, at, tundishes)
        keep = page.flag(row, "keep_speed", at)
        nozzle = _nozzle(page, row, at, names[i], taken)
        usual = math.nan if case is None else case.casting.speed_m_per_min
        speed = _band(page, row.get("speed_m_per_min"), (*at, "speed_m_per_min"), 0.05, 12.0, "m/min", usual)
        cut = _cut(page, common, row, at, case, speed.aim, taken)
        if case is None or math.isnan(speed.aim):
            continue
        notices += _speed_notices(case, names[i], speed)
        metres = Band(*(v * M_PER_MIN for v in (speed.least, speed.aim, speed.most)))
        found.append(PlannedStrand(names[i], case, place, metres, keep, nozzle, cut))
    return found


def _tundish_of(page: Page, row: Mapping[str, Any], at: KeyPath, names: Sequence[str]) -> int:
    name = row.get("tundish", names[0] if len(names) == 1 else None)
    if name in names:
        return names.index(name)
    said = "is missing" if name is None else f"= {shown(name)}: no such tundish"
    near = closest(name, names) if isinstance(name, str) else ""
    page.bad((*at, "tundish"), said, ", ".join(names), near, "name a tundish of the plan")
    return 0


def _speed_notices(case: Case, name: str, speed: Band) -> list[str]:
    """Say where the water tables of a case do not reach as far as the speeds."""
    found = []
    for zone in case.zone:
        for rows in zone.tables().values():
            low, high = rows[0][0], rows[-1][0]
            if speed.least < low or speed.most > high:
                found.append(
                    f"strand {name}: speeds of {speed.least:g} to {speed.most:g} m/min, but the water of "
                    f"{zone.name} is tabled from {low:g} to {high:g} m/min only; the nearest row is taken beyond"
                )
    return found[:1]


def _nozzle(page: Page, row: Mapping[str, Any], at: KeyPath, name: str, taken: _Taken) -> Nozzle | None:
    if "nozzle" not in row:
        return None
    path: KeyPath = (*at, "nozzle")
    table = page.table(row, "nozzle", at)
    page.known(table, _NOZZLE, path)
    kind = page.word(table, "kind", path, KINDS)
    submerged = kind in KINDS[1:]
    coefficient = page.number(table, "coefficient", path, 0.3, 1.0, "")
    if "coefficient" not in table and kind:
        own = figure("nozzle", kind)
        coefficient = taken.take(
            f"discharge coefficient, {kind} nozzles", (*path, "coefficient"), own.value, own
        )
    clog = page.number(table, "clog_percent_per_heat", path, -5.0, 30.0, "%")
    if "clog_percent_per_heat" not in table:
        own = figure("nozzle", "clog")
        clog = taken.take("clogging of the nozzles", (*path, "clog_percent_per_heat"), own.value, own)
    wear = page.number(table, "wear_mm_per_h", path, 0.0, 3.0, "mm/h", 0.0)
    if "wear_mm_per_h" not in table and kind == "metering":
        own = figure("nozzle", "wear")
        wear = taken.take("wear of metering nozzles", (*path, "wear_mm_per_h"), own.value, own)
    drop = page.number(table, "drop_to_mould_mm", path, 0.0, 3000.0, "mm", 0.0)
    if submerged and "drop_to_mould_mm" not in table:
        page.bad(
            (*path, "drop_to_mould_mm"),
            "is missing",
            "the tundish floor above the mould level, 0 to 3000 mm",
            do="drop_to_mould_mm = 700",
        )
    elif kind == "metering" and "drop_to_mould_mm" in table:
        page.bad(
            (*path, "drop_to_mould_mm"),
            "has no effect on a free stream: the level above the outlet drives it",
            do="drop it",
        )
    bore = page.number(table, "bore_mm", path, 5.0, 150.0, "mm")
    return Nozzle(kind or "metering", coefficient, bore * MM, clog / 100.0, wear * MM / 3600.0, drop * MM)


def _cut(
    page: Page,
    common: Mapping[str, Any] | None,
    row: Mapping[str, Any],
    at: KeyPath,
    case: Case | None,
    speed: float,
    taken: _Taken,
) -> Cut | None:
    """Read how a strand is cut: its own keys before those of all strands."""
    own = page.table(row, "cut", at) if "cut" in row else {}
    if common is None and not own:
        return None
    table = {**(common or {}), **own}
    path: KeyPath = (*at, "cut") if own else ("cut",)
    margin = 0.0 if case is None else tracking_error(case.uncertainty.speed_percent, case.cutoff)
    before = len(page.problems)
    cut = read_cut(page, table, path, speed=speed * M_PER_MIN, margin=margin)
    if not own:  # a mistake in the cut of all strands is told once
        told = set(page.problems[:before])
        page.problems[before:] = [p for p in page.problems[before:] if p not in told]
    for key, name in CUT_FIGURES.items():
        if key not in table and key != "scale_percent":
            what = figure("cut", name)
            taken.take(_CUT_WORDS[key], (*path, key), what.value, what)
    return cut


_CUT_WORDS = {
    "kerf_mm": "kerf",
    "hot_factor": "hot over cold length of a piece",
    "head_crop_m": "head crop",
    "tail_crop_m": "tail crop",
    "join_crop_m": "crop about a join",
}


def _scale(page: Page, data: Mapping[str, Any], taken: _Taken) -> float:
    table = data.get("cut")
    if not isinstance(table, Mapping):
        return 0.0
    own = figure("cut", "scale")
    if "scale_percent" not in table:
        return taken.take("scale", ("cut", "scale_percent"), own.value, own) / 100.0
    return float(table["scale_percent"]) / 100.0 if is_number(table["scale_percent"]) else math.nan


def _tundish(
    page: Page, row: Mapping[str, Any], k: int, name: str, needs_level: bool, heat_flow: float, taken: _Taken
) -> Tundish:
    """Read a tundish; `heat_flow` is flow times specific heat at the aim speeds [W/K]."""
    at: KeyPath = ("tundish", k)
    page.known(row, _TUNDISH, at)
    weight = page.wanted(row, "weight_t", at, 0.5, 120.0, "t", "weight_t = 8")

    def part(key: str, name: str, words: str) -> float:
        value = page.number(row, key, at, 0.0, 120.0, "t")
        if key in row or math.isnan(weight):
            return value
        own = figure("tundish", name)
        return taken.take(words, (*at, key), own.value * weight, own, own.sd * weight)

    least = part("least_weight_t", "least_weight", "least weight of a tundish")
    start = part("start_weight_t", "start_weight", "weight at which strands are opened")
    rest = part("rest_t", "rest", "rest in a tundish at the end")
    for key, value, words in (
        ("least_weight_t", least, "the tundish would run below its least"),
        ("start_weight_t", start, "the strands would never be opened"),
        ("rest_t", rest, "nothing would be cast"),
    ):
        if value >= weight and not (key == "start_weight_t" and value == weight):
            page.bad(
                (*at, key),
                f"= {value:g}: {words}",
                f"below weight_t, {weight:g} t",
                do="correct one of the two",
            )
    own = figure("tundish", "loss")
    loss = page.number(row, "loss_kW", at, 0.0, 5000.0, "kW")
    if "loss_kW" not in row and heat_flow > 0:
        loss = taken.take(
            "heat lost by a tundish",
            (*at, "loss_kW"),
            own.value * heat_flow / KW,
            own,
            own.sd * heat_flow / KW,
        )
    own = figure("tundish", "first_heat")
    first = page.number(row, "first_heat_K", at, 0.0, 100.0, "K")
    if "first_heat_K" not in row:
        first = taken.take("additional drop in the first heat", (*at, "first_heat_K"), own.value, own)
    own = figure("tundish", "first_heat_fades")
    fade = page.number(row, "first_heat_fades_min", at, 0.5, 120.0, "min")
    if "first_heat_fades_min" not in row:
        fade = taken.take(
            "time in which the drop of the first heat fades", (*at, "first_heat_fades_min"), own.value, own
        )
    lining = page.number(row, "lining_min", at, 1.0, 10000.0, "min", math.inf)
    level = _level(page, row, at, weight, needs_level)
    return Tundish(
        name,
        weight * TONNE,
        least * TONNE,
        start * TONNE,
        rest * TONNE,
        level,
        loss * KW,
        first,
        fade * MINUTE,
        lining * MINUTE,
    )


def _level(
    page: Page, row: Mapping[str, Any], at: KeyPath, weight: float, needed: bool
) -> tuple[tuple[float, float], ...]:
    """Read the level over the weight, from rows or from an area."""
    density = figure("liquid_density").value
    usual = ((0.0, 0.0), (1.0, 0.0))
    if "level_at_weight" in row and "area_m2" in row:
        page.bad((*at, "area_m2"), "stands beside level_at_weight", "one of the two", do="keep one")
        return usual
    if "area_m2" in row:
        area = page.number(row, "area_m2", at, 0.1, 60.0, "m2")
        return ((0.0, 0.0), (weight * TONNE, weight * TONNE / (density * area)))
    if "level_at_weight" not in row:
        if needed:
            do = "level_at_weight = [[0, 0], [8, 800]] in t and mm, or area_m2"
            page.bad((*at, "level_at_weight"), "is missing: nozzles need the level", do=do)
        return usual
    given = row["level_at_weight"]
    path = (*at, "level_at_weight")
    good = isinstance(given, list | tuple) and len(given) >= 2
    good = good and all(
        isinstance(pair, list | tuple) and len(pair) == 2 and all(map(is_number, pair)) for pair in given
    )
    if not good:
        page.bad(path, f"= {shown(given)}", "two rows or more of [t, mm]", do="[[0, 0], [4, 420], [8, 800]]")
        return usual
    rows = [(float(m) * TONNE, float(h) * MM) for m, h in given]
    if any(not (b[0] > a[0] and b[1] > a[1]) for a, b in pairwise(rows)):
        page.bad(
            path,
            f"= {shown(given)}",
            "a level that rises with the weight, row by row",
            do="sort or correct the rows",
        )
        return usual
    if rows[0] != (0.0, 0.0):
        page.bad(path, f"begins at {shown(given[0])}", "[0, 0], the empty tundish", do="add this row")
        return usual
    if rows[-1][0] < weight * TONNE - 1e-9:
        page.bad(path, f"ends at {given[-1][0]:g} t", f"weight_t, {weight:g} t, or more", do="add a row")
    return tuple(rows)


def _ladles(page: Page, table: Mapping[str, Any], sequence: Mapping[str, Any], taken: _Taken) -> list[Ladle]:
    """Read the ladles of the sequence: numbers for all of them, or lists with one for each."""
    at: KeyPath = ("ladle",)
    heats = sequence.get("heats", 0)
    if heats != 0 and (
        not isinstance(heats, int) or isinstance(heats, bool) or not 1 <= heats <= MOST_LADLES
    ):
        page.bad(
            ("sequence", "heats"),
            f"= {shown(heats)}",
            f"a whole number from 1 to {MOST_LADLES}",
            do="correct it",
        )
        heats = 0
    lists = {key: len(table[key]) for key in _LADLE[:-1] if isinstance(table.get(key), list | tuple)}
    count = heats or max(lists.values(), default=1)
    for key, length in lists.items():
        if length != count:
            page.bad(
                (*at, key), f"has {length} entries", f"one for each of {count} heats", do="complete the list"
            )
    if "weight_t" not in table:
        page.bad((*at, "weight_t"), "is missing", "a number from 1 to 400 t, or a list", do="weight_t = 80")
    limits = {
        "weight_t": (1.0, 400.0, "t"),
        "stays_t": (0.0, 100.0, "t"),
        "temperature_C": (1300.0, 1800.0, "°C"),
        "cooling_K_per_min": (0.0, 10.0, "K/min"),
        "stream_drop_K": (0.0, 100.0, "K"),
    }

    def column(key: str) -> list[float]:
        given = table.get(key)
        if given is None:
            return [math.nan] * count
        if not isinstance(given, list | tuple):
            return [page.value(given, (*at, key), *limits[key])] * count
        values = [page.value(v, (*at, key, i), *limits[key]) for i, v in enumerate(given)]
        return (values + [math.nan] * count)[:count]

    columns = {key: column(key) for key in limits}
    weights = columns["weight_t"]
    mean = sum(weights) / len(weights)
    if "stays_t" not in table and not math.isnan(mean):
        own = figure("ladle", "stays")
        columns["stays_t"] = [
            taken.take(
                "steel that stays in the ladle", (*at, "stays_t"), own.value * mean, own, own.sd * mean
            )
        ] * count
    if "cooling_K_per_min" not in table and not math.isnan(mean):
        own = ladle_cooling(mean)
        columns["cooling_K_per_min"] = [
            taken.take("cooling of the ladle", (*at, "cooling_K_per_min"), own.value, own)
        ] * count
    if "stream_drop_K" not in table:
        own = figure("ladle", "stream_drop")
        columns["stream_drop_K"] = [
            taken.take("drop from ladle to tundish", (*at, "stream_drop_K"), own.value, own)
        ] * count
    for i, (w, s) in enumerate(zip(weights, columns["stays_t"], strict=True)):
        if s >= w:
            page.bad(
                (*at, "stays_t"),
                f"= {s:g}: ladle {i + 1} holds {w:g} t",
                f"below {w:g} t",
                do="correct one of the two",
            )
            break
    arrivals = _arrivals(page, sequence, count)
    return [
        Ladle(w * TONNE, s * TONNE, t, r / MINUTE, d, a)
        for w, s, t, r, d, a in zip(*(columns[key] for key in limits), arrivals, strict=True)
    ]


def _arrivals(page: Page, sequence: Mapping[str, Any], count: int) -> list[float]:
    """Return the earliest opening of each ladle [s]."""
    at: KeyPath = ("sequence",)
    if "arrive_every_min" in sequence and "at_min" in sequence:
        page.bad((*at, "at_min"), "stands beside arrive_every_min", "one of the two", do="keep one")
    elif "arrive_every_min" in sequence:
        every = page.number(sequence, "arrive_every_min", at, 1.0, 600.0, "min")
        return [n * every * MINUTE for n in range(count)]
    elif "at_min" in sequence:
        given, path = sequence["at_min"], (*at, "at_min")
        if not isinstance(given, list | tuple) or len(given) != count or not all(map(is_number, given)):
            said = f"= {shown(given)}"
            page.bad(path, said, f"a list of {count} times, one for each heat", do="at_min = [0, 50, 104]")
        elif given[0] != 0 or any(not b > a for a, b in pairwise(given)):
            page.bad(path, f"= {shown(given)}", "rising times that begin at 0", do="sort them")
        else:
            return [float(v) * MINUTE for v in given]
    return [0.0] * count


def _superheat(
    page: Page, sequence: Mapping[str, Any], strands: Sequence[PlannedStrand], taken: _Taken
) -> Band:
    """Read the band of superheat in the tundish; about the cases' own by default [K]."""
    path: KeyPath = ("sequence", "superheat_K")
    half = figure("sequence", "superheat_half_band")
    usual = math.nan
    if strands:
        casting = strands[0].case.casting
        usual = casting.superheat_K if casting.superheat_K is not None else math.nan
        if casting.tundish_temperature_C is not None:
            usual = casting.tundish_temperature_C - case_steel(strands[0].case).liquidus
    given = sequence.get("superheat_K")
    if isinstance(given, Mapping):
        band = _band(page, given, path, 0.0, 150.0, "K", usual)
        if set(_BAND) <= set(given):
            return band
        least = band.least if "least" in given else max(band.aim - half.value, 0.0)
        most = band.most if "most" in given else band.aim + half.value
    else:
        aim = _band(page, given, path, 0.0, 150.0, "K", usual).aim
        least, band, most = max(aim - half.value, 0.0), Band(aim, aim, aim), aim + half.value
    words = (
        "half width of the superheat band" if given is not None else "superheat band about that of the case"
    )
    if not math.isnan(band.aim):
        taken.rows[words] = []
        taken.about[words] = ("superheat_K", half.origin)
        taken.rows[words].append((path, half.value, 0.0))
    return Band(least, band.aim, most)


def _one_steel(page: Page, strands: Sequence[PlannedStrand]) -> None:
    """Refuse strands of steels that cannot come from one ladle."""
    try:
        found = [(case_steel(s.case).liquidus, s.name) for s in strands]
    except InputError as error:
        page.problems += error.problems
        return
    if not found:
        return
    (low, cold), (high, hot) = min(found), max(found)
    if high - low > LIQUIDUS_APART:
        page.bad(
            ("strand",),
            f"{cold} has a liquidus of {low:.1f} °C, {hot} of {high:.1f} °C",
            f"at most {LIQUIDUS_APART:g} K apart: one ladle is one steel",
            do="give the strands cases of the same steel",
            said="[[strand]]",
        )
