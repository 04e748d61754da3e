"""The target of a spray table: speeds, wanted surface temperatures, what to aim for, and what each valve can do."""

from __future__ import annotations

import math
import os
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from solidify.case import Case
from solidify.cooling import cooling_path
from solidify.errors import InputError, Problem, closest
from solidify.files import check_readable
from solidify.strand import case_steel
from solidify.units import MINUTE, WATER_LITRE_KG

__all__ = ["AIMS", "SurfacePoint", "Target", "Valve", "parse_target", "read_target", "water_at"]

AIMS = {"nearest": "target", "least": "water", "flattest": "surface", "shortest": "liquid core"}
"""Key of ``[aim]`` and the word it takes; exactly one of them, ``nearest`` by default where there are points."""

_ROOM = 0.2
_KEYS = ("speeds_m_per_min", "surface", "aim", "valve")
_AIM_KEYS = (*AIMS, "keep", "room", "rising_with_speed")
_POINT_KEYS = ("distance_m", "temperature_C", "band_K")
_VALVE_KEYS = ("min_L_per_min", "max_L_per_min", "fixed", "tied_to", "ratio")
_APART = ("water_loose_L_per_min", "nozzles")
"""Ways of cooling that one table of water over speed would not carry on whole."""

_OPEN = 3.0
"""A valve without a given most is taken to give this many times the water of today."""


@dataclass(frozen=True)
class SurfacePoint:
    """A wanted surface temperature, loose side.

    Parameters
    ----------
    distance : float
        From the meniscus [m].
    temperature, band : float
        Wanted [degC], and how far off either way is still met [K].
    """

    distance: float
    temperature: float
    band: float


@dataclass(frozen=True)
class Valve:
    """What may be done to the water of one zone.

    Parameters
    ----------
    zone : str
        Its name.
    low, high : float
        Least and most water [L/min].
    fixed : bool
        Whether the water stays as it is today.
    tied_to : str
        Zone whose water it follows; empty for none.
    ratio : float
        Its water over that of the zone it follows [1].
    assumed : bool
        Whether `high` was given by nobody and is taken as three times the most of today.
    """

    zone: str
    low: float
    high: float
    fixed: bool = False
    tied_to: str = ""
    ratio: float = math.nan
    assumed: bool = False


@dataclass(frozen=True)
class Target:
    """What a spray table should do.

    Parameters
    ----------
    speeds : tuple of float
        Rows of the table, rising [m/min].
    points : tuple of SurfacePoint
        May be empty: then the limits of the case alone are kept.
    aim : str
        A key of `AIMS`.
    valves : tuple of Valve
        One a zone, in casting order.
    soft : bool
        Whether soft limits are kept too, where they can be.
    room : float
        Room kept to every limit, in its close width [1].
    rising : bool
        Whether the water of a zone never falls from one speed to the next.
    name : str
        Of the file.
    """

    speeds: tuple[float, ...]
    points: tuple[SurfacePoint, ...]
    aim: str
    valves: tuple[Valve, ...]
    soft: bool = True
    room: float = _ROOM
    rising: bool = True
    name: str = "target"


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
    file = check_readable(path, "target file")
    try:
        text = file.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError(
            Problem(f"{path}:", "is not text in UTF-8", "a target file (TOML)", do="name a target file")
        ) from None
    return parse_target(text, case, str(path))


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
    try:
        data = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise InputError(Problem(f"{name}:", f"not TOML: {error}", do="correct the line")) from None
    page = _Page(name)
    page.known(data, _KEYS, "")
    speeds = _speeds(page, data)
    points = _points(page, data.get("surface", []), case)
    aim, options = _aim(page, data.get("aim"), bool(points))
    valves = _valves(page, data.get("valve", {}), case, speeds)
    if page.problems:
        raise InputError(page.problems)
    return Target(speeds, points, aim, valves, name=name, **options)


def water_at(case: Case) -> tuple[float, ...]:
    """Return the water of each zone of a case at its speed [L/min]; NaN where only a coefficient or flux is given.

    Parameters
    ----------
    case : Case
        A checked case.

    Returns
    -------
    tuple of float
    """
    path = cooling_path(case, case_steel(case))
    return tuple(round(s.water * MINUTE / WATER_LITRE_KG, 9) for s in path.stretches if s.kind == "zone")


class _Page:
    """Collects what is wrong with one file."""

    def __init__(self, name: str) -> None:
        self.name, self.problems = name, list[Problem]()

    def wrong(self, where: str, given: str = "", allowed: str = "", near: str = "", do: str = "") -> None:
        self.problems.append(Problem(f"{self.name}: {where}", given, allowed, near, do))

    def known(self, table: Mapping[str, Any], keys: Iterable[str], where: str) -> None:
        """Refuse keys that a table does not have."""
        for key in table:
            if key not in keys:
                place = f"{where} {key}".strip()
                near = closest(key, keys)
                self.wrong(
                    place, "is not a known key", "" if near else ", ".join(keys), near, "correct or drop it"
                )

    def number(self, value: Any, where: str, low: float, high: float, unit: str) -> float:
        """Return a number inside a range; NaN and a problem for anything else."""
        if isinstance(value, int | float) and not isinstance(value, bool) and low <= value <= high:
            return float(value)
        self.wrong(
            where, f"= {value!r}", f"a number from {low:g} to {high:g} {unit}".strip(), do="correct it"
        )
        return math.nan

    def table(self, value: Any, where: str) -> dict[str, Any]:
        if isinstance(value, dict):
            return value
        self.wrong(where, f"= {value!r} is no table", do="write it as a table of keys")
        return {}


def _speeds(page: _Page, data: Mapping[str, Any]) -> tuple[float, ...]:
    given = data.get("speeds_m_per_min")
    if not isinstance(given, list) or not given:
        said = "is missing" if given is None else f"= {given!r}"
        page.wrong(
            "speeds_m_per_min",
            said,
            "a list of one or more speeds [m/min]",
            do="speeds_m_per_min = [0.6, 0.8]",
        )
        return ()
    speeds = tuple(page.number(v, "speeds_m_per_min", 0.05, 12, "m/min") for v in given)
    if any(not b > a for a, b in pairwise(speeds)) and not any(map(math.isnan, speeds)):
        page.wrong("speeds_m_per_min", f"= {given!r}", "rising speeds, each once", do="sort them")
    return speeds


def _points(page: _Page, given: Any, case: Case) -> tuple[SurfacePoint, ...]:
    if not isinstance(given, list) or not all(isinstance(row, dict) for row in given):
        page.wrong(
            "surface", "is no list of tables", do="write [[surface]], in two brackets, once for each point"
        )
        return ()
    found, low = [], case.working_length
    for i, row in enumerate(given, 1):
        where = f"[[surface]] {i}"
        page.known(row, _POINT_KEYS, where)
        missing = [key for key in _POINT_KEYS[:2] if key not in row]
        if missing:
            page.wrong(where, f"{' and '.join(missing)} missing", do="add it")
            continue
        z = page.number(
            row["distance_m"], f"{where} distance_m", low, case.cutoff, "m, mould exit to cut-off"
        )
        t = page.number(row["temperature_C"], f"{where} temperature_C", 300, 1500, "°C")
        band = page.number(row.get("band_K", 15.0), f"{where} band_K", 0.1, 500, "K")
        if z <= low:
            page.wrong(
                f"{where} distance_m", f"= {z:g} m is mould exit", "below it", do="sprays act below the mould"
            )
        found.append(SurfacePoint(z, t, band))
    return tuple(sorted(found, key=lambda p: p.distance))


def _aim(page: _Page, given: Any, pointed: bool) -> tuple[str, dict[str, Any]]:
    table = {} if given is None else page.table(given, "[aim]")
    page.known(table, _AIM_KEYS, "[aim]")
    aims = [key for key in AIMS if key in table]
    for key in aims:
        if table[key] != AIMS[key]:
            near = closest(str(table[key]), [AIMS[key]])
            page.wrong(f"[aim] {key}", f"= {table[key]!r}", f'"{AIMS[key]}"', near, "correct it")
    if len(aims) > 1:
        page.wrong(f"[aim] {aims[1]}", f"stands beside {aims[0]}", "one aim", do="keep one")
    aim = aims[0] if aims else "nearest" if pointed else "least"
    if aim == "nearest" and not pointed:
        page.wrong("[aim] nearest", "has no [[surface]] to come near to", do="add points or take another aim")
    keep, rising = table.get("keep", "all"), table.get("rising_with_speed", True)
    if keep not in ("all", "hard"):
        page.wrong(
            "[aim] keep", f"= {keep!r}", '"all" limits or "hard" ones', closest(str(keep), ("all", "hard"))
        )
    if not isinstance(rising, bool):
        page.wrong("[aim] rising_with_speed", f"= {rising!r}", "true or false", do="correct it")
    room = page.number(table.get("room", _ROOM), "[aim] room", 0, 5, "close widths")
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
            f"{where} fixed", f"= {fixed!r}", "true (the water stays as today) or false", do="correct it"
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
    if math.isnan(most) or any(getattr(zone, key) is not None for key in _APART):
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
    return Valve(zone.name, low, high, bool(fixed) or high <= 0, str(tied), ratio, assumed)


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
