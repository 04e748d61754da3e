"""What a cast is made of: the case, the clock, and what acts on the strand over it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from solidify.case import Case
from solidify.cast.clock import CastClock, Signal
from solidify.cast.tundish import Tundish, TundishCourse
from solidify.strand.setup import case_steel, cast_density

__all__ = ["LOGICS", "Cast", "DummyBar", "Event", "MouldHeat", "Pieces", "StandQuestion", "Valve", "Water"]

LOGICS = {
    "constant": "the water of the aim speed, whatever the speed",
    "speed": "the water table at the present speed",
    "lagged": "the water table at the present speed, each zone with a delay of its own",
    "age": "the water table at the mean speed with which the strand in the zone came there",
    "rows": "the water given over the clock",
}
"""What decides the water of a zone over the clock."""


@dataclass(frozen=True)
class Event:
    """Something that happens during a cast.

    Parameters
    ----------
    what : str
        One of `solidify.cast.events.EVENTS`, ``"start"`` or ``"tail"``.
    begin, end : float
        Clock [s]; the end is when the speed is that of before again, or has settled.
    """

    what: str
    begin: float
    end: float


@dataclass(frozen=True)
class DummyBar:
    """A start on a dummy bar.

    Parameters
    ----------
    head_below_level : float
        From the steel level down to the head of the dummy bar [m].
    fill, wait : float
        Time in which the mould is filled, and until the strand is drawn [s].
    chills : float
        Mass of the chills [kg]; printed, not computed.
    """

    head_below_level: float
    fill: float
    wait: float
    chills: float = 0.0


@dataclass(frozen=True)
class MouldHeat:
    """How the mould flux goes over the clock.

    Parameters
    ----------
    follows : str
        ``"age"``: the flux law over the age of a slice. ``"panel"``: the same law times what brings the heat of all
        that is in the mould to the flux of the panel.
    panel_flux : Signal, optional
        Mean flux by the mould water [W m-2].
    lag : float
        By which the panel shows late [s].
    floor : float
        Least local flux [W m-2]; minus infinity without one.
    """

    follows: str = "age"
    panel_flux: Signal | None = None
    lag: float = 0.0
    floor: float = -math.inf


@dataclass(frozen=True)
class Valve:
    """How the water of a zone follows what is wanted.

    Parameters
    ----------
    rate : float
        Largest change of the water [kg s-2]; infinite where it follows at once.
    dead : float
        Dead time [s].
    """

    rate: float = math.inf
    dead: float = 0.0


@dataclass(frozen=True)
class Water:
    """What decides the spray water.

    Parameters
    ----------
    logic : str
        One of `LOGICS`.
    at_speed : float
        Speed of the logic ``"constant"`` [m s-1].
    lag_share : float
        Delay of a zone by the logic ``"lagged"``, over the time from the meniscus to its middle at the aim speed [1].
    rows : mapping of str to Signal
        Water of a zone over the clock [kg s-1]; it goes before the logic.
    valves : mapping of str to Valve
        Valves that do not follow at once.
    """

    logic: str = "speed"
    at_speed: float = math.nan
    lag_share: float = 0.5
    rows: Mapping[str, Signal] = field(default_factory=dict)
    valves: Mapping[str, Valve] = field(default_factory=dict)


@dataclass(frozen=True)
class Pieces:
    """How the strand is cut.

    Parameters
    ----------
    length : float
        Of a piece, hot [m].
    head_crop, tail_crop, join_crop : float
        Left out at the start, at the tail, and on either side of a join [m].
    margin : float
        By which a suspect stretch is widened at both ends [m].
    """

    length: float
    head_crop: float = 0.0
    tail_crop: float = 0.0
    join_crop: float = 0.5
    margin: float = 0.0


@dataclass(frozen=True)
class StandQuestion:
    """How long the strand may stand.

    Parameters
    ----------
    at : float
        Clock at which it is braked [s].
    brake, start : float
        Seconds to the stand and from it [s].
    longest : float
        Longest stand that is looked at [s].
    water : tuple of (str, mapping)
        Water practices by name: zone to water while standing [kg s-1]; a zone that is not named keeps its logic.
    after : tuple of float
        When each practice begins after the stop [s].
    """

    at: float
    brake: float
    start: float
    longest: float
    water: tuple[tuple[str, Mapping[str, float]], ...]
    after: tuple[float, ...]


@dataclass(frozen=True)
class Cast:
    """A cast: one strand of a case over a clock.

    Parameters
    ----------
    case : Case
        The machine, the steel and the practice at the aim speed.
    clock : CastClock
        Speed over the clock.
    begin, end : float
        Clock between which the cast is looked at [s].
    title, name, text : str
        Of the cast; the file's name; the file.
    slice_every : float
        Cast length from slice to slice [m].
    dummy_bar : DummyBar, optional
        Given where the cast starts on a dummy bar; else the machine is full of strand at the first speed.
    feed_ends : float
        Clock at which the last steel is poured [s]; infinite where casting goes on.
    tundish_temperature : Signal, optional
        Temperatures measured in the tundish [degC].
    tundish : Tundish, optional
        The tundish as a stirred tank, where no temperatures were measured.
    mould, water, pieces, stand
        See there.
    events : tuple of Event
        In the order of the clock.
    joins : tuple of float
        Clock of each tundish change, and of each stop of more than a minute [s].
    core_below_mould, cold_strand : float
        Limits of a cast: least length of liquid core below the mould [m], least loose surface at the straightener
        [degC].
    """

    case: Case
    clock: CastClock
    begin: float
    end: float
    title: str = ""
    name: str = "cast"
    text: str = ""
    slice_every: float = 0.25
    dummy_bar: DummyBar | None = None
    feed_ends: float = math.inf
    tundish_temperature: Signal | None = None
    tundish: Tundish | None = None
    mould: MouldHeat = field(default_factory=MouldHeat)
    water: Water = field(default_factory=Water)
    pieces: Pieces | None = None
    stand: StandQuestion | None = None
    events: tuple[Event, ...] = ()
    joins: tuple[float, ...] = ()
    core_below_mould: float = 1.0
    cold_strand: float = 700.0

    @cached_property
    def tundish_course(self) -> TundishCourse | None:
        """What the tundish does, where it is computed as a tank."""
        if self.tundish is None:
            return None
        steel = case_steel(self.case)
        rate = cast_density(self.case, steel) * self.case.section_area * self.tundish.strands
        step = 5.0
        time = np.unique(
            np.concatenate(
                [np.arange(self.begin, self.end + step, step), self.clock.time, self.tundish.times()]
            )
        )
        time = time[(time >= self.begin) & (time <= max(self.end, self.begin + step))]
        poured = np.where(time <= self.feed_ends, self.clock.speed_at(time), 0.0)
        return self.tundish.course(time, rate * poured)

    def temperature(self) -> Signal | None:
        """Return the temperature in the tundish over the clock [degC]; None where that of the case stays."""
        if self.tundish_temperature is not None:
            return self.tundish_temperature
        course = self.tundish_course
        return None if course is None else Signal(course.time, course.temperature)
