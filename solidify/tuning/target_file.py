"""Reading a target file: every mistake said at once, with its table and key."""

from __future__ import annotations

import math
import os
from collections.abc import Collection, Mapping, Sequence
from itertools import pairwise
from typing import Any

from solidify.case import Case, Zone
from solidify.case.synonyms import SYNONYMS, canonical_value
from solidify.case.values import is_number, shown
from solidify.errors import closest
from solidify.files import read_words
from solidify.study.reading import Reading, toml_tables
from solidify.tuning.target import AIMS, ROOM, Loop, SurfacePoint, Target, Valve, sides_at, water_at

__all__ = ["parse_target", "read_target"]

_KEYS = ("speeds_m_per_min", "surface", "aim", "valve", "loop")
_AIM_KEYS = (*AIMS, "keep", "room", "rising_with_speed")
_POINT_KEYS = ("distance_m", "temperature_C", "band_K", "side")
_POINT_SIDES = ("loose", "fixed", "both")
_VALVE_KEYS = ("min_L_per_min", "max_L_per_min", "fixed", "tied_to", "ratio", "side_shares")
_LOOP_KEYS = ("feeds", "min_L_per_min", "max_L_per_min")
_SIDES = ("loose", "fixed", "narrow")
_SLACK = 0.002
"""What shares may miss of 1, as in the case file."""

_OPEN = 3.0
"""A valve without a given most is taken to give this many times the water of today."""


def read_target(path: str | os.PathLike[str], case: Case) -> Target:
    """Read a target file.

    Parameters
    ----------
    path : str or path-like
        The file, TOML in UTF-8.
    case : Case
        Whose zones, speeds and distances it must fit.

    Returns
    -------
    Target

    Raises
    ------
    InputError
        If it cannot be read or holds anything that it may not; all problems at once.
    """
    return parse_target(read_words(path, "target file"), case, str(path))


def parse_target(text: str, case: Case, name: str = "target") -> Target:
    """Make a target from the text of a target file; as `read_target`.

    Parameters
    ----------
    text : str
        TOML.
    case : Case
        Whose zones, speeds and distances it must fit.
    name : str
        Of the file, for messages.

    Returns
    -------
    Target

    Raises
    ------
    InputError
        If the text is not TOML or holds anything that a target may not; all problems at once.
    """
    data = toml_tables(text, name, "correct the line")
    if isinstance(data.get("valve"), dict):  # the names of zones stay as they are
        data["valve"] = {zone: canonical_value(own) for zone, own in data["valve"].items()}
    page = _Page(name)
    page.known(data, _KEYS, "")
    speeds = _speeds(page, data)
    points = _points(page, data.get("surface", []), case)
    aim, options = _aim(page, data.get("aim"), bool(points))
    valves = _valves(page, data.get("valve", {}), case, speeds)
    loops = _loops(page, data.get("loop", {}), case, valves)
    page.end()
    return Target(speeds, points, aim, valves, name=name, loops=loops, text=text, **options)


class _Page(Reading):
    """A reading with the rules that a target has."""

    def known(self, table: Mapping[str, Any], keys: Collection[str], where: str) -> None:
        """Refuse keys that a table does not have."""
        for key, near in self.unknown(table, keys):
            allowed = "" if near else ", ".join(keys)
            place = f"{where} {key}".strip()
            self.wrong(place, "is not a known key", allowed, near, "correct or drop it")

    def number(self, value: Any, where: str, low: float, high: float, unit: str) -> float:
        """Return a number inside a range; NaN and a problem for anything else."""
        if is_number(value) and low <= value <= high:
            return float(value)
        allowed = f"a number from {low:g} to {high:g} {unit}".strip()
        self.wrong(where, f"= {shown(value)}", allowed, do="correct it")
        return math.nan

    def table(self, value: Any, where: str) -> dict[str, Any]:
        if isinstance(value, dict):
            return value
        self.wrong(where, f"= {shown(value)} is no table", do="write it as a table of keys")
        return {}


def _speeds(page: _Page, data: Mapping[str, Any]) -> tuple[float, ...]:
    given = data.get("speeds_m_per_min")
    if not isinstance(given, list) or not given:
        said = "is missing" if given is None else f"= {shown(given)}"
        page.wrong(
            "speeds_m_per_min",
            said,
            "a list of one or more speeds [m/min]",
            do="speeds_m_per_min = [0.6, 0.8]",
        )
        return ()
    speeds = tuple(page.number(v, "speeds_m_per_min", 0.05, 12, "m/min") for v in given)
    if any(not b > a for a, b in pairwise(speeds)) and not any(map(math.isnan, speeds)):
        page.wrong("speeds_m_per_min", f"= {shown(given)}", "rising speeds, each once", do="sort them")
    return speeds


def _points(page: _Page, given: Any, case: Case) -> tuple[SurfacePoint, ...]:
    if not isinstance(given, list) or not all(isinstance(row, dict) for row in given):
        page.wrong(
            "surface", "is no list of tables", do="write [[surface]], in two brackets, once for each point"
        )
        return ()
    found, low = [], case.working_length + case.datum
    for i, row in enumerate(given, 1):
        where = f"[[surface]] {i}"
        page.known(row, _POINT_KEYS, where)
        missing = [key for key in _POINT_KEYS[:2] if key not in row]
        if missing:
            page.wrong(where, f"{' and '.join(missing)} missing", do="add it")
            continue
        span = "m, mould exit to cut-off"
        span += ", from the mould top as in the case" if case.datum else ""
        z = page.number(row["distance_m"], f"{where} distance_m", low, case.cutoff + case.datum, span)
        t = page.number(row["temperature_C"], f"{where} temperature_C", 300, 1500, "°C")
        band = page.number(row.get("band_K", 15.0), f"{where} band_K", 0.1, 500, "K")
        if z <= low:
            page.wrong(
                f"{where} distance_m", f"= {z:g} m is mould exit", "below it", do="sprays act below the mould"
            )
        side = row.get("side", "loose")
        side = SYNONYMS.get(side, side) if isinstance(side, str) else side
        if side not in _POINT_SIDES:
            near = closest(str(side), _POINT_SIDES)
            page.wrong(f"{where} side", f"= {shown(side)}", ", ".join(_POINT_SIDES), near, "correct it")
        found += [
            SurfacePoint(z - case.datum, t, band, each) for each in _POINT_SIDES[:2] if side in (each, "both")
        ]
    return tuple(sorted(found, key=lambda p: p.distance))


def _aim(page: _Page, given: Any, pointed: bool) -> tuple[str, dict[str, Any]]:
    table = {} if given is None else page.table(given, "[aim]")
    page.known(table, _AIM_KEYS, "[aim]")
    aims = [key for key in AIMS if key in table]
    for key in aims:
        if table[key] != AIMS[key]:
            near = closest(str(table[key]), [AIMS[key]])
            page.wrong(f"[aim] {key}", f"= {shown(table[key])}", f'"{AIMS[key]}"', near, "correct it")
    if len(aims) > 1:
        page.wrong(f"[aim] {aims[1]}", f"stands beside {aims[0]}", "one aim", do="keep one")
    aim = aims[0] if aims else "nearest" if pointed else "least"
    if aim == "nearest" and not pointed:
        page.wrong("[aim] nearest", "has no [[surface]] to come near to", do="add points or take another aim")
    keep, rising = table.get("keep", "all"), table.get("rising_with_speed", True)
    if keep not in ("all", "hard"):
        page.wrong(
            "[aim] keep",
            f"= {shown(keep)}",
            '"all" limits or "hard" ones',
            closest(str(keep), ("all", "hard")),
        )
    if not isinstance(rising, bool):
        page.wrong("[aim] rising_with_speed", f"= {shown(rising)}", "true or false", do="correct it")
    room = page.number(table.get("room", ROOM), "[aim] room", 0, 5, "close widths")
    return aim, {"soft": keep == "all", "rising": bool(rising), "room": room}


def _valves(page: _Page, given: Any, case: Case, speeds: tuple[float, ...]) -> tuple[Valve, ...]:
    tables = page.table(given, "[valve]")
    zones = [zone.name for zone in case.zone]
    for name in tables:
        if name not in zones:
            near = closest(name, zones)
            page.wrong(f'[valve."{name}"]', "no such zone", ", ".join(zones), near, "take a name of the case")
    usable = [v for v in speeds if math.isfinite(v)] or [case.casting.speed_m_per_min]
    today = [water_at(case.replace({"casting.speed_m_per_min": v})) for v in usable]
    valves = []
    for i, zone in enumerate(case.zone):
        where = f'[valve."{zone.name}"]'
        table = page.table(tables.get(zone.name, {}), where)
        page.known(table, _VALVE_KEYS, where)
        valves.append(_valve(page, where, table, zone, [row[i] for row in today]))
    _ties(page, valves)
    if not any(not v.fixed and not v.tied_to for v in valves) and not page.problems:
        page.wrong("[valve]", "every zone is fixed", "one or more that may change", do="free a zone")
    return tuple(valves)


def _valve(page: _Page, where: str, table: Mapping[str, Any], zone: Any, today: list[float]) -> Valve:
    fixed, tied = table.get("fixed", False), table.get("tied_to", "")
    if not isinstance(fixed, bool):
        page.wrong(
            f"{where} fixed", f"= {shown(fixed)}", "true (the water stays as today) or false", do="correct it"
        )
    limits = dict.fromkeys(("min_L_per_min", "max_L_per_min"), math.nan)
    for key in limits:
        own = getattr(zone, f"water_{key}")
        value = table.get(key, own)
        if value is not None:
            limits[key] = page.number(value, f"{where} {key}", 0, 50000, "L/min")
    low, high = limits.values()
    low = 0.0 if math.isnan(low) else low
    most = max(today)
    assumed = math.isnan(high)
    high = _OPEN * most if assumed else high
    if low > high:
        said = f"= {low:g} L/min is above the most, {high:g} L/min"
        page.wrong(f"{where} min_L_per_min", said, do="exchange the two, or give max_L_per_min")
    if math.isnan(most) or zone.nozzles is not None:
        if table and fixed is not True:
            said = f"the zone is cooled by {zone.kind}"
            page.wrong(where, said, "water of one total", do="give it one total in the case, or fixed = true")
        return Valve(zone.name, low, high, fixed=True)
    if tied and fixed:
        page.wrong(f"{where} tied_to", "stands beside fixed", "one of the two", do="keep one")
    ratio = math.nan
    if tied and "ratio" not in table:
        page.wrong(f"{where} ratio", "is missing", "its water over that of the zone it follows", do="add it")
    elif tied:
        ratio = page.number(table["ratio"], f"{where} ratio", 0.01, 100, "")
    elif "ratio" in table:
        page.wrong(f"{where} ratio", "has no effect without tied_to", do="add tied_to or drop it")
    shares = (
        _shares(page, f"{where} side_shares", table["side_shares"], zone) if "side_shares" in table else ()
    )
    if shares and fixed:
        page.wrong(f"{where} side_shares", "stands beside fixed", "one of the two", do="keep one")
    elif shares and tied and any(lo < hi for _, lo, hi in shares):
        page.wrong(
            f"{where} side_shares",
            "has a range, but the zone is tied",
            "one number a side for a tied zone",
            do="give numbers, or tie no more",
        )
    return Valve(zone.name, low, high, bool(fixed) or high <= 0, str(tied), ratio, assumed, shares)


def _shares(page: _Page, where: str, given: Any, zone: Zone) -> tuple[tuple[str, float, float], ...]:
    """Read the share of each side: a number, or least and most."""
    table = page.table(given, where)
    page.known(table, _SIDES, where)
    wanted = _SIDES if zone.sprayed_faces == "all" else _SIDES[:2]
    if zone.sprayed_width_mm is None:
        page.wrong(where, "does not fit a round, which is cooled alike all round", do="drop it")
        return ()
    for side in wanted:
        if side not in table:
            page.wrong(f"{where} {side}", "is missing", do=f"add it, 0 when {_SAID[side]} dry")
    found, sound = [], True
    for side in _SIDES:
        if side not in table:
            continue
        value = table[side]
        ends = value if isinstance(value, list) else [value, value]
        if len(ends) != 2:
            page.wrong(f"{where} {side}", f"= {shown(value)}", "a number, or [least, most]", do="correct it")
            sound = False
            continue
        low, high = (page.number(end, f"{where} {side}", 0, 1, "") for end in ends)
        if low > high:
            page.wrong(f"{where} {side}", f"= {shown(value)}", "[least, most]", do="exchange the two")
        sound = sound and low <= high
        found.append((side, low, high))
    lows, highs = sum(row[1] for row in found), sum(row[2] for row in found)
    complete = sound and all(side in table for side in wanted)
    if complete and (lows > 1.0 + _SLACK or highs < 1.0 - _SLACK):
        said = f"adds up to {lows:g}" if lows == highs else f"adds up to between {lows:g} and {highs:g}"
        page.wrong(where, said, "1", do="correct a share")
        return ()
    if complete and lows == highs:
        found = [(side, low / lows, high / lows) for side, low, high in found]
    return tuple(found)


_SAID = {"loose": "that side is", "fixed": "that side is", "narrow": "the narrow faces stay"}


def _loops(page: _Page, given: Any, case: Case, valves: Sequence[Valve]) -> tuple[Loop, ...]:
    tables = page.table(given, "[loop]")
    sides = {
        v.zone: tuple(side for side, *_ in v.shares) or tuple(now)
        for v, now in zip(valves, sides_at(case), strict=True)
    }
    names = [name for zone, own in sides.items() for name in (zone, *(f"{zone} {side}" for side in own))]
    loops: list[Loop] = []
    fed: dict[tuple[str, str], str] = {}
    for name, value in tables.items():
        where = f'[loop."{name}"]'
        table = page.table(value, where)
        page.known(table, _LOOP_KEYS, where)
        feeds: list[tuple[str, str]] = []
        entries = table.get("feeds")
        if not isinstance(entries, list) or not entries:
            said = "is missing" if entries is None else f"= {shown(entries)}"
            page.wrong(
                f"{where} feeds", said, "a list of zones, or of their sides", do=f'feeds = ["{names[0]}"]'
            )
            entries = []
        for entry in entries:
            feed = _feed(page, f"{where} feeds", entry, sides, names)
            if feed is None:
                continue
            other = next((fed[key] for key in fed if key[0] == feed[0] and "" in (key[1], feed[1])), None)
            other = fed.get(feed, other)
            if other is not None:
                page.wrong(f"{where} feeds", f'"{entry}" is fed by "{other}" already', do="name it once")
            fed.setdefault(feed, name)
            feeds.append(feed)
        low = page.number(table.get("min_L_per_min", 0.0), f"{where} min_L_per_min", 0, 50000, "L/min")
        high = math.inf
        if "max_L_per_min" in table:
            high = page.number(table["max_L_per_min"], f"{where} max_L_per_min", 0, 50000, "L/min")
        if low > high:
            said = f"= {low:g} L/min is above the most, {high:g} L/min"
            page.wrong(f"{where} min_L_per_min", said, do="exchange the two")
        loops.append(Loop(name, tuple(feeds), low, high))
    return tuple(loops)


def _feed(
    page: _Page, where: str, entry: Any, sides: Mapping[str, tuple[str, ...]], names: Sequence[str]
) -> tuple[str, str] | None:
    """Read what a loop feeds: a zone, or a zone and a side."""
    if isinstance(entry, str) and entry in sides:
        return entry, ""
    zone, _, side = entry.rpartition(" ") if isinstance(entry, str) else ("", "", "")
    if zone in sides and side in _SIDES:
        if side in sides[zone]:
            return zone, side
        page.wrong(
            where,
            f'"{entry}": nothing tells the water of {zone} on that side',
            do=f'give side_shares in [valve."{zone}"], or in the case',
        )
        return None
    page.wrong(
        where, f"{shown(entry)}: no such zone", ", ".join(names), closest(str(entry), names), "correct it"
    )
    return None


def _ties(page: _Page, valves: list[Valve]) -> None:
    by_name = {v.zone: v for v in valves}
    for v in valves:
        if not v.tied_to:
            continue
        where, names = f'[valve."{v.zone}"] tied_to', [n for n in by_name if n != v.zone]
        if v.tied_to not in names:
            page.wrong(
                where, f'= "{v.tied_to}"', ", ".join(names), closest(v.tied_to, names), "name another zone"
            )
            continue
        leader = by_name[v.tied_to]
        if leader.tied_to:
            page.wrong(
                where, f'= "{leader.zone}", which is itself tied', "a zone that is not", do="tie both to one"
            )
        elif max(v.low, v.ratio * leader.low) > min(v.high, v.ratio * leader.high):
            said = f"its valve takes {v.low:g} to {v.high:g} L/min"
            span = f"{v.ratio * leader.low:g} to {v.ratio * leader.high:g} L/min"
            page.wrong(
                where,
                said,
                f"{span}, {v.ratio:g} times that of {leader.zone}",
                do="widen one or change the ratio",
            )
