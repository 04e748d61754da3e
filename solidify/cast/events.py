"""Events in words, and the speed over the clock that they make."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from solidify.cast.definition import Event

__all__ = ["EVENTS", "STANDS", "Told", "as_events", "overlaps", "speed_rows"]

EVENTS = ("slow-down", "speed-up", "ladle change", "stop", "tundish change")
"""What an event may be."""

STANDS = ("stop", "tundish change")
"""Events in which the strand stands."""


@dataclass(frozen=True)
class Told:
    """An event in the words of a cast file.

    Parameters
    ----------
    what : str
        One of `EVENTS`.
    at : float
        Clock at which the speed begins to change [s].
    speed : float
        Speed that is gone to [m s-1]; 0 of a stand.
    down, hold, back : float
        Seconds to that speed, at it, and from it; an infinite hold stays.
    after : float
        Speed that is gone back to [m s-1].
    """

    what: str
    at: float
    speed: float
    down: float
    hold: float
    back: float
    after: float

    @property
    def end(self) -> float:
        """Clock at which the speed has settled again [s]."""
        return self.at + self.down + (self.hold + self.back if self.hold < float("inf") else 0.0)


def speed_rows(first: float, told: Sequence[Told], begin: float) -> list[tuple[float, float]]:
    """Return the rows that events make of a steady speed.

    Parameters
    ----------
    first : float
        Speed before the first event [m s-1].
    told : sequence of Told
        In the order of the clock, none overlapping.
    begin : float
        Clock of the first row [s].

    Returns
    -------
    list of (float, float)
        Clock [s] and speed [m s-1].
    """
    rows, now = [(begin, first)], first
    for event in told:
        marks = [(event.at, now), (event.at + event.down, event.speed)]
        now = event.speed
        if event.hold < float("inf"):
            marks += [(event.at + event.down + event.hold, event.speed), (event.end, event.after)]
            now = event.after
        rows += [mark for mark in marks if mark[0] > rows[-1][0]]
    return rows


def overlaps(told: Sequence[Told]) -> list[tuple[Told, Told]]:
    """Return neighbouring events of which the second begins before the first has ended."""
    return [(a, b) for a, b in pairwise(told) if b.at < a.end - 1e-9]


def as_events(told: Sequence[Told]) -> tuple[Event, ...]:
    """Return the events for what is asked of a result."""
    return tuple(Event(each.what, each.at, each.end) for each in told)
