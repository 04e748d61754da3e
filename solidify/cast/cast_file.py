"""Reading a cast file: every mistake said at once, with its table and key."""

from __future__ import annotations

import math
import os
from collections.abc import Collection, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from solidify.case import Case, demo_case, read_case
from solidify.case.values import is_number, shown
from solidify.cast.clock import CastClock, Signal
from solidify.cast.definition import (
    LOGICS,
    Cast,
    DummyBar,
    Event,
    MouldHeat,
    Pieces,
    StandQuestion,
    Valve,
    Water,
)
from solidify.cast.events import EVENTS, STANDS, Told, as_events, overlaps, speed_rows
from solidify.cast.tundish import Ladle, Tundish
from solidify.errors import InputError, closest
from solidify.files import read_words
from solidify.study.reading import Reading, toml_tables
from solidify.units import L_PER_MIN, M_PER_MIN, MINUTE, MM, MW, WATER_LITRE_KG

__all__ = ["parse_cast", "read_cast"]

_LITRE = L_PER_MIN * 1e3 * WATER_LITRE_KG
_TONNE, _KW = 1e3, 1e3
_KEYS = (
    "case",
    "title",
    "start",
    "end",
    "to_min",
    "slice_every_m",
    "speed_at_time",
    "event",
    "dummy_bar",
    "tail",
    "tundish",
    "tundish_temperature_at_time",
    "mould_heat",
    "spray",
    "valve",
    "water",
    "pieces",
    "stand",
    "limits",
)
_EVENT_KEYS = (
    "what",
    "at_min",
    "to_m_per_min",
    "ramp_s",
    "for_min",
    "back_ramp_s",
    "then_m_per_min",
    "shut_min",
    "ladle_temperature_C",
    "ladle_cooling_K_per_min",
)
_TUNDISH_KEYS = (
    "weight_t",
    "least_weight_t",
    "temperature_C",
    "ladle_temperature_C",
    "ladle_cooling_K_per_min",
    "refill_t_per_min",
    "loss_kW",
    "strands",
    "plug_share",
    "dead_share",
)
_WORDS = {"start": ("steady", "dummy bar"), "end": ("steady", "tail")}
_PRACTICES = ("table", "least")
_LATEST = 10_000.0
"""Latest clock of a cast file [min]."""

MOST_SPEED = 12.0
"""Highest casting speed that a cast file may hold [m/min]."""


def read_cast(path: str | os.PathLike[str]) -> Cast:
    """Read a cast file.

    Parameters
    ----------
    path : str or path-like
        The file, TOML in UTF-8. Its case is looked for beside it; ``demo:slab`` names a case that ships.

    Returns
    -------
    Cast

    Raises
    ------
    InputError
        If it, or its case, cannot be read or holds anything that it may not; all problems at once.
    """
    return parse_cast(read_words(path, "cast file"), str(path), Path(path).parent)


def parse_cast(text: str, name: str = "cast", folder: Path | None = None, case: Case | None = None) -> Cast:
    """Make a cast from the text of a cast file; as `read_cast`.

    Parameters
    ----------
    text : str
        TOML.
    name : str
        Of the file, for messages.
    folder : Path, optional
        Where the case is looked for.
    case : Case, optional
        Taken in place of the case that the text names.

    Returns
    -------
    Cast

    Raises
    ------
    InputError
        If the text is not TOML or holds anything that a cast may not; all problems at once.
    """
    data = toml_tables(text, name, "correct the line")
    page = _Page(name)
    page.known(data, _KEYS, "")
    case = case or _case(page, data.get("case"), folder or Path())
    words = {key: page.word(data.get(key, "steady"), key, allowed) for key, allowed in _WORDS.items()}
    if case is None:
        page.end()
        raise AssertionError("a case that could not be read is a problem")
    cast = _Parts(page, data, case, words)
    made = cast.make(text, name)
    page.end()
    return made


class _Page(Reading):
    """A reading with the rules that a cast has."""

    def known(self, table: Mapping[str, Any], keys: Collection[str], where: str) -> None:
        """Refuse keys that a table does not have."""
        for key, near in self.unknown(table, keys):
            allowed = "" if near else ", ".join(keys)
            self.wrong(f"{where} {key}".strip(), "is not a known key", allowed, near, "correct or drop it")

    def number(
        self, table: Mapping[str, Any], key: str, where: str, low: float, high: float, **more: Any
    ) -> float:
        """Return a number of a table inside a range; its default, or NaN and a problem."""
        unit, default = more.get("unit", ""), more.get("default", math.nan)
        if key not in table:
            if "default" not in more:
                self.wrong(
                    f"{where} {key}".strip(),
                    "is missing",
                    f"a number from {low:g} to {high:g} {unit}".strip(),
                )
            return float(default)
        value = table[key]
        if is_number(value) and low <= value <= high:
            return float(value)
        allowed = f"a number from {low:g} to {high:g} {unit}".strip()
        self.wrong(f"{where} {key}".strip(), f"= {shown(value)}", allowed, do="correct it")
        return math.nan

    def word(self, value: Any, where: str, allowed: Collection[str]) -> str:
        """Return one of some words; the first of them and a problem for anything else."""
        if value in allowed:
            return str(value)
        near = closest(str(value), allowed)
        self.wrong(where, f"= {shown(value)}", ", ".join(allowed), near, "correct it")
        return next(iter(allowed))

    def table(self, value: Any, where: str) -> dict[str, Any]:
        """Return a table; an empty one and a problem for anything else."""
        if isinstance(value, dict):
            return value
        self.wrong(where, f"= {shown(value)} is no table", do="write it as a table of keys")
        return {}

    def rows(self, value: Any, where: str, low: float, high: float, unit: str) -> Signal | None:
        """Return rows of [min, value] as a signal of seconds and the unit of the file."""
        allowed = f"rows [min, {unit}] whose times rise, e.g. [[0, 1.2], [20, 1.2]]"
        pairs = (
            isinstance(value, list)
            and value
            and all(isinstance(row, list) and len(row) == 2 and all(map(is_number, row)) for row in value)
        )
        if not pairs:
            self.wrong(where, f"= {shown(value)}", allowed, do="correct the rows")
            return None
        time, own = np.array(value, dtype=float).T
        sound = True
        for i in np.flatnonzero(np.abs(time) > _LATEST):
            self.wrong(
                f"{where} row {i + 1}",
                f"{time[i]:g} min",
                f"-{_LATEST:g} to {_LATEST:g} min",
                do="correct it",
            )
            sound = False
        for i in np.flatnonzero(np.diff(time) <= 0):
            self.wrong(
                f"{where} row {i + 2}",
                f"{time[i + 1]:g} min after {time[i]:g} min",
                "rising times",
                do="sort the rows",
            )
            sound = False
        for i in np.flatnonzero((own < low) | (own > high)):
            self.wrong(
                f"{where} row {i + 1}", f"{own[i]:g} {unit}", f"{low:g} to {high:g} {unit}", do="correct it"
            )
            sound = False
        return Signal(time * MINUTE, own) if sound else None


def _case(page: _Page, given: Any, folder: Path) -> Case | None:
    if not isinstance(given, str):
        said = "is missing" if given is None else f"= {shown(given)}"
        page.wrong("case", said, "the name of a case file", do='case = "slab.toml"')
        return None
    try:
        return (
            demo_case(given.removeprefix("demo:")) if given.startswith("demo:") else read_case(folder / given)
        )
    except InputError as error:
        page.problems += error.problems
        return None


class _Parts:
    """The tables of a cast file, one after the other."""

    def __init__(self, page: _Page, data: Mapping[str, Any], case: Case, words: Mapping[str, str]) -> None:
        self.page, self.data, self.case, self.words = page, data, case, words
        self.zones = [zone.name for zone in case.zone]

    def make(self, text: str, name: str) -> Cast:
        """Return the cast; what is wrong stands on the page."""
        page, data, case = self.page, self.data, self.case
        bar = self._bar()
        begin = bar.fill + bar.wait if bar else 0.0
        told, ladles = self._events(begin)
        rows, events = self._speed(told, bar, begin)
        rows, feed_ends, events = self._tail(rows, events)
        to = page.number(data, "to_min", "", 0.1, 10_000, unit="min", default=math.nan) * MINUTE
        step = page.number(data, "slice_every_m", "", 0.02, 2.0, unit="m", default=0.25)
        tundish = self._tundish(ladles)
        temperature = self._temperature(tundish)
        mould, water = self._mould(), self._water()
        pieces, stand, limits = self._pieces(), self._stand(), self._limits()
        page.end()
        time, speed = np.array(rows).T
        if time[0] > 0:
            time, speed = np.append(0.0, time), np.append(0.0 if bar else speed[0], speed)
        clock = CastClock(time, speed)
        if not speed[-1] > 0:
            page.wrong(
                "speed_at_time",
                "ends with a strand that stands",
                "a last speed above 0 m/min",
                do="add the restart",
            )
            page.end()
        last = float(events[-1].end if events else time[-1])
        gone = float(clock.length(min(last, feed_ends)))
        end = float(clock.when(gone + case.cutoff)) if math.isnan(to) else to
        page.end()
        joins = [e.begin for e in events if e.what == "tundish change"]
        joins += [b for b, e, _ in clock.stands if e - b > MINUTE and begin <= b < feed_ends]
        title = data.get("title", "")
        return Cast(
            case,
            clock,
            0.0,
            end,
            title=str(title) or case.title,
            name=Path(name).stem,
            text=text,
            slice_every=step,
            dummy_bar=bar,
            feed_ends=feed_ends,
            tundish_temperature=temperature,
            tundish=tundish,
            mould=mould,
            water=water,
            pieces=pieces,
            stand=stand,
            events=tuple(events),
            joins=tuple(sorted(set(joins))),
            **limits,
        )

    def _bar(self) -> DummyBar | None:
        page, where = self.page, "[dummy_bar]"
        if self.words["start"] != "dummy bar":
            if "dummy_bar" in self.data:
                page.wrong(
                    where, 'has no effect while start = "steady"', do='write start = "dummy bar", or drop it'
                )
            return None
        table = page.table(self.data.get("dummy_bar", {}), where)
        page.known(table, ("head_below_level_mm", "fill_s", "wait_s", "ramp_at_time", "chills_kg"), where)
        most = self.case.working_length / MM
        return DummyBar(
            page.number(table, "head_below_level_mm", where, 50, most, unit="mm, inside the mould") * MM,
            page.number(table, "fill_s", where, 5, 600, unit="s"),
            page.number(table, "wait_s", where, 0, 600, unit="s", default=0.0),
            page.number(table, "chills_kg", where, 0, 5000, unit="kg", default=0.0),
        )

    def _events(self, begin: float) -> tuple[list[Told], list[Ladle]]:
        page, given, aim = self.page, self.data.get("event", []), self.case.casting.speed_m_per_min
        if not isinstance(given, list) or not all(isinstance(row, dict) for row in given):
            page.wrong(
                "event", "is no list of tables", do="write [[event]], in two brackets, once for each event"
            )
            return [], []
        found, ladles, told = [], [], "speed_at_time" in self.data
        for i, table in enumerate(given, 1):
            where = f"[[event]] {i}"
            page.known(table, _EVENT_KEYS, where)
            what = page.word(table.get("what"), f"{where} what", EVENTS)
            at = page.number(table, "at_min", where, 0, 10_000, unit="min") * MINUTE
            stands = what in STANDS
            if told and "to_m_per_min" in table:
                page.wrong(
                    f"{where} to_m_per_min",
                    "stands beside speed_at_time",
                    "speeds in one place",
                    do="keep one",
                )
            speed = 0.0
            if not stands:
                slow = {"default": 0.6 * aim} if what == "ladle change" or told else {}
                speed = page.number(table, "to_m_per_min", where, 0.05, MOST_SPEED, unit="m/min", **slow)
            shut = page.number(
                table, "shut_min", where, 0, 30, unit="min", default=2.0 if what == "ladle change" else 0.0
            )
            hold = {"default": 2.0 * shut} if what == "ladle change" else {"default": math.inf}
            hold = {} if stands else hold
            span = page.number(table, "for_min", where, 0, 10_000, unit="min", **hold) * MINUTE
            down = page.number(table, "ramp_s", where, 0.1, 3600, unit="s", default=10.0 if stands else 30.0)
            back = page.number(table, "back_ramp_s", where, 0.1, 3600, unit="s", default=60.0)
            then = page.number(table, "then_m_per_min", where, 0.05, MOST_SPEED, unit="m/min", default=aim)
            found.append(Told(what, at, speed * M_PER_MIN, down, span, back, then * M_PER_MIN))
            if what in ("ladle change", "tundish change"):
                steel = page.number(
                    table, "ladle_temperature_C", where, 1300, 1700, unit="°C", default=math.nan
                )
                cooling = page.number(
                    table, "ladle_cooling_K_per_min", where, 0, 5, unit="K/min", default=0.0
                )
                ladles.append(
                    Ladle(
                        at + shut * MINUTE, steel, cooling / MINUTE, shut * MINUTE, what == "tundish change"
                    )
                )
        found.sort(key=lambda event: event.at)
        for a, b in overlaps(found) if not told else []:
            said = f"{b.what} at {b.at / MINUTE:g} min begins before the {a.what} has ended ({a.end / MINUTE:g} min)"
            page.wrong(
                "[[event]]", said, "events that follow one another", do="move one, or write speed_at_time"
            )
        return found, ladles

    def _speed(
        self, told: Sequence[Told], bar: DummyBar | None, begin: float
    ) -> tuple[list[tuple[float, float]], list[Event]]:
        page, aim = self.page, self.case.speed
        events = list(as_events(told))
        ramp = page.table(self.data.get("dummy_bar", {}), "[dummy_bar]").get("ramp_at_time") if bar else None
        if "speed_at_time" in self.data:
            if ramp is not None:
                page.wrong(
                    "[dummy_bar] ramp_at_time", "stands beside speed_at_time", "one of the two", do="keep one"
                )
            signal = page.rows(self.data["speed_at_time"], "speed_at_time", 0, MOST_SPEED, "m/min")
            rows = (
                []
                if signal is None
                else list(zip(signal.time.tolist(), (signal.value * M_PER_MIN).tolist(), strict=True))
            )
            if bar and rows and rows[0][0] < begin:
                page.wrong(
                    "speed_at_time",
                    f"begins at {rows[0][0] / MINUTE:g} min",
                    f"{begin / MINUTE:g} min or later, once the mould is filled",
                )
            settled = [
                Event(e.what, e.begin, e.end if math.isfinite(e.end) and told else e.begin) for e in events
            ]
            events = [self._settled(e, rows) for e in settled]
        else:
            first = aim
            lead: list[tuple[float, float]] = []
            if ramp is not None:
                signal = page.rows(ramp, "[dummy_bar] ramp_at_time", 0, MOST_SPEED, "m/min")
                if signal is not None:
                    lead = [
                        (t + begin, v)
                        for t, v in zip(
                            signal.time.tolist(), (signal.value * M_PER_MIN).tolist(), strict=True
                        )
                    ]
                    first = lead[-1][1]
            elif bar:
                lead = [(begin, 0.3 * aim), (begin + 2 * MINUTE, aim)]
            start = lead[-1][0] if lead else 0.0
            if told and told[0].at < start:
                page.wrong(
                    "[[event]]",
                    f"{told[0].what} at {told[0].at / MINUTE:g} min",
                    f"after the start, {start / MINUTE:g} min",
                )
            rows = [*lead[:-1], *speed_rows(first, told, start)]
        if bar and rows:
            rows = [(0.0, 0.0), (begin - 1e-3, 0.0), *[(max(t, begin), v) for t, v in rows]]
            aimed = rows[-1][0] if len(rows) < 5 and not told else self._aim_time(rows)
            events = [Event("start", 0.0, aimed), *events]
        return rows, events

    def _aim_time(self, rows: Sequence[tuple[float, float]]) -> float:
        """Return when the speed first is that of the case [s]."""
        return next((t for t, v in rows if v >= self.case.speed * (1 - 1e-9)), rows[-1][0])

    @staticmethod
    def _settled(event: Event, rows: Sequence[tuple[float, float]]) -> Event:
        """Return an event beside rows of speed, until the speed of before is there again."""
        before = next((v for t, v in reversed(rows) if t <= event.begin), rows[0][1] if rows else 0.0)
        end = next((t for t, v in rows if t > event.begin + 60.0 and abs(v - before) < 1e-9), event.end)
        return Event(event.what, event.begin, max(end, event.begin))

    def _tail(
        self, rows: list[tuple[float, float]], events: list[Event]
    ) -> tuple[list[tuple[float, float]], float, list[Event]]:
        page, where = self.page, "[tail]"
        if self.words["end"] != "tail":
            if "tail" in self.data:
                page.wrong(where, 'has no effect while end = "steady"', do='write end = "tail", or drop it')
            return rows, math.inf, events
        table = page.table(self.data.get("tail", {}), where)
        page.known(table, ("feed_ends_min", "wait_min", "brake_s", "to_m_per_min", "ramp_s"), where)
        ends = page.number(table, "feed_ends_min", where, 0, 10_000, unit="min") * MINUTE
        wait = page.number(table, "wait_min", where, 0, 30, unit="min", default=0.0) * MINUTE
        brake = page.number(table, "brake_s", where, 1, 600, unit="s", default=10.0)
        ramp = page.number(table, "ramp_s", where, 1, 3600, unit="s", default=60.0)
        aim = self.case.casting.speed_m_per_min
        speed = (
            page.number(table, "to_m_per_min", where, 0.05, MOST_SPEED, unit="m/min", default=aim) * M_PER_MIN
        )
        late = [e for e in events if math.isfinite(e.end) and e.end > ends] + [
            e for e in events if e.begin > ends
        ]
        for event in late[:1]:
            page.wrong(
                f"{where} feed_ends_min",
                f"= {ends / MINUTE:g} min lies before the end of the {event.what}",
                "after the last event",
            )
        if not rows or math.isnan(ends):
            return rows, ends, events
        time, speeds = np.array(rows).T
        now = float(np.interp(ends, time, speeds))
        rows = [row for row in rows if row[0] < ends - 1e-9] + [(ends, now)]
        if wait > 0:
            rows += [(ends + brake, 0.0), (ends + brake + wait, 0.0), (ends + brake + wait + ramp, speed)]
        elif abs(speed - now) > 0:
            rows.append((ends + ramp, speed))
        # fed until the strand stands: what is born while it is braked is the last
        feed = ends + (brake if wait > 0 else 0.0)
        return rows, feed, [*events, Event("tail", ends, rows[-1][0])]

    def _tundish(self, ladles: list[Ladle]) -> Tundish | None:
        page, where = self.page, "[tundish]"
        if "tundish" not in self.data:
            for ladle in ladles:
                if not math.isnan(ladle.temperature):
                    page.wrong(
                        "[[event]] ladle_temperature_C",
                        "has no effect without [tundish]",
                        do="add it, or drop the key",
                    )
            return None
        table = page.table(self.data["tundish"], where)
        page.known(table, _TUNDISH_KEYS, where)
        weight = page.number(table, "weight_t", where, 0.5, 200, unit="t")
        least = page.number(
            table, "least_weight_t", where, 0, weight if weight == weight else 200, unit="t", default=0.0
        )
        temperature = page.number(table, "temperature_C", where, 1300, 1700, unit="°C")
        first = page.number(table, "ladle_temperature_C", where, 1300, 1700, unit="°C", default=temperature)
        cooling = (
            page.number(table, "ladle_cooling_K_per_min", where, 0, 5, unit="K/min", default=0.0) / MINUTE
        )
        count = page.number(table, "strands", where, 1, 8, default=1.0)
        strands = 1 if math.isnan(count) else round(count)
        plug = page.number(table, "plug_share", where, 0, 0.6, default=0.0)
        dead = page.number(table, "dead_share", where, 0, 0.6, default=0.0)
        if plug + dead > 0.9:
            page.wrong(f"{where} plug_share and dead_share", f"add up to {plug + dead:g}", "0.9 or less")
        poured = [
            ladle
            if not math.isnan(ladle.temperature)
            else Ladle(ladle.opened, first, cooling, ladle.shut, ladle.new_tundish)
            for ladle in ladles
        ]
        return Tundish(
            weight * _TONNE,
            temperature,
            least * _TONNE,
            page.number(table, "refill_t_per_min", where, 0.1, 60, unit="t/min", default=math.inf)
            * _TONNE
            / MINUTE,
            page.number(table, "loss_kW", where, 0, 5000, unit="kW", default=0.0) * _KW,
            strands,
            plug,
            dead,
            (Ladle(-1.0, first, cooling), *poured),
        )

    def _temperature(self, tundish: Tundish | None) -> Signal | None:
        given = self.data.get("tundish_temperature_at_time")
        if given is None:
            return None
        if tundish is not None:
            self.page.wrong(
                "tundish_temperature_at_time", "stands beside [tundish]", "one of the two", do="keep one"
            )
        return self.page.rows(given, "tundish_temperature_at_time", 1300, 1700, "°C")

    def _mould(self) -> MouldHeat:
        page, where = self.page, "[mould_heat]"
        table = page.table(self.data.get("mould_heat", {}), where)
        page.known(table, ("follows", "panel_flux_at_time", "lag_s", "floor_MW_per_m2"), where)
        follows = page.word(table.get("follows", "age"), f"{where} follows", ("age", "panel"))
        flux = None
        if "panel_flux_at_time" in table:
            flux = page.rows(table["panel_flux_at_time"], f"{where} panel_flux_at_time", 0.05, 8, "MW/m²")
            flux = flux and Signal(flux.time, flux.value * MW)
        if (follows == "panel") != ("panel_flux_at_time" in table):
            said = "is missing" if follows == "panel" else 'has no effect while follows = "age"'
            page.wrong(f"{where} panel_flux_at_time", said, do="add it, or change follows")
        lag = page.number(table, "lag_s", where, 0, 60, unit="s", default=0.0)
        floor = page.number(table, "floor_MW_per_m2", where, 0, 3, unit="MW/m²", default=-math.inf)
        return MouldHeat(follows, flux, lag, floor * MW)

    def _water(self) -> Water:
        page, where = self.page, "[spray]"
        table = page.table(self.data.get("spray", {}), where)
        page.known(table, ("logic", "at_m_per_min", "lag_share"), where)
        logic = page.word(table.get("logic", "speed"), f"{where} logic", tuple(LOGICS))
        at = (
            page.number(table, "at_m_per_min", where, 0.05, MOST_SPEED, unit="m/min", default=math.nan)
            * M_PER_MIN
        )
        lag = page.number(table, "lag_share", where, 0.01, 2, default=0.5)
        rows: dict[str, Signal] = {}
        valves: dict[str, Valve] = {}
        for key, keys in (("water", ("at_time",)), ("valve", ("rate_L_per_min_per_s", "dead_s"))):
            for name, value in page.table(self.data.get(key, {}), f"[{key}]").items():
                place = f'[{key}."{name}"]'
                if name not in self.zones:
                    near = closest(name, self.zones)
                    page.wrong(place, "no such zone", ", ".join(self.zones), near, "take a name of the case")
                own = page.table(value, place)
                page.known(own, keys, place)
                if key == "water":
                    signal = page.rows(own.get("at_time"), f"{place} at_time", 0, 50_000, "L/min")
                    if signal is not None:
                        rows[name] = Signal(signal.time, signal.value * _LITRE)
                else:
                    rate = page.number(
                        own, "rate_L_per_min_per_s", place, 0.01, 10_000, unit="L/min per s", default=math.inf
                    )
                    valves[name] = Valve(
                        rate * _LITRE, page.number(own, "dead_s", place, 0, 120, unit="s", default=0.0)
                    )
        if logic == "rows" and not rows:
            page.wrong(
                f"{where} logic", '= "rows" without [water."ZONE"] rows', do="add them, or take another logic"
            )
        return Water(logic, at, lag, rows, valves)

    def _pieces(self) -> Pieces | None:
        page, where = self.page, "[pieces]"
        if "pieces" not in self.data:
            return None
        table = page.table(self.data["pieces"], where)
        page.known(table, ("length_m", "head_crop_m", "tail_crop_m", "join_crop_m", "margin_m"), where)
        usual = self.case.uncertainty.speed_percent / 100 * self.case.cutoff
        head, tail, join = (
            page.number(table, f"{key}_crop_m", where, 0, 20, unit="m", default=default)
            for key, default in (("head", 0.0), ("tail", 0.0), ("join", 0.5))
        )
        length = page.number(table, "length_m", where, 0.5, 30, unit="m")
        margin = page.number(table, "margin_m", where, 0, 10, unit="m", default=usual)
        return Pieces(length, head, tail, join, margin)

    def _stand(self) -> StandQuestion | None:
        page, where = self.page, "[stand]"
        if "stand" not in self.data:
            return None
        table = page.table(self.data["stand"], where)
        page.known(table, ("at_min", "brake_s", "start_s", "longest_min", "water"), where)
        at = page.number(table, "at_min", where, 0, 10_000, unit="min", default=20.0) * MINUTE
        brake = page.number(table, "brake_s", where, 0.1, 600, unit="s", default=10.0)
        start = page.number(table, "start_s", where, 0.1, 3600, unit="s", default=60.0)
        longest = page.number(table, "longest_min", where, 1, 120, unit="min", default=20.0) * MINUTE
        names: list[tuple[str, Mapping[str, float]]] = []
        after: list[float] = []
        given = table.get("water", ["table"])
        if not isinstance(given, list) or not given:
            page.wrong(
                f"{where} water", f"= {shown(given)}", 'a list, e.g. ["table", "least"]', do="correct it"
            )
            given = []
        for k, practice in enumerate(given, 1):
            place = f"{where} water {k}"
            if isinstance(practice, dict):
                page.known(practice, ("after_s", "others", *self.zones), place)
                wait = page.number(practice, "after_s", place, 0, 3600, unit="s", default=0.0)
                rest = page.word(practice.get("others", "table"), f"{place} others", _PRACTICES)
                own = {
                    zone: page.number(practice, zone, place, 0, 50_000, unit="L/min") * _LITRE
                    for zone in self.zones
                    if zone in practice
                }
                least = self._least() if rest == "least" else {}
                said = ", ".join(f"{zone} {w / _LITRE:g} L/min" for zone, w in own.items())
                names.append(
                    (f"{said}, others {rest}" + (f", after {wait:g} s" if wait else ""), least | own)
                )
                after.append(wait)
            else:
                word = page.word(practice, place, _PRACTICES)
                names.append((word, self._least() if word == "least" else {}))
                after.append(0.0)
        return StandQuestion(at, brake, start, longest, tuple(names), tuple(after))

    def _least(self) -> dict[str, float]:
        """Return the least water of each zone [kg/s]: that of its valve, else the first row of its table."""
        found = {}
        for zone in self.case.zone:
            if zone.water_min_L_per_min is not None:
                found[zone.name] = zone.water_min_L_per_min * _LITRE
            elif zone.water_at_speed is not None:
                found[zone.name] = min(w for _, w in zone.water_at_speed) * _LITRE
        return found

    def _limits(self) -> dict[str, float]:
        page, where = self.page, "[limits]"
        table = page.table(self.data.get("limits", {}), where)
        page.known(table, ("core_below_mould_m", "cold_strand_C"), where)
        return {
            "core_below_mould": page.number(table, "core_below_mould_m", where, 0, 20, unit="m", default=1.0),
            "cold_strand": page.number(table, "cold_strand_C", where, 300, 1200, unit="°C", default=700.0),
        }
