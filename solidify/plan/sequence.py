"""The sequence minute by minute: ladles, tundish weight and temperature, and what every strand takes.

Where nothing changes but the temperature, weights stand still and the stirred tank is exact. Elsewhere masses, heat and
the share of new steel go by the classical Runge-Kutta scheme of fourth order with the masses as unknowns, so that no
steel is made or lost.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from solidify.errors import SolidifyError
from solidify.plan.ladle import Ladle
from solidify.plan.nozzle import GRAVITY, Nozzle
from solidify.plan.tundish import Tundish, slow_down_factor, stirred_temperature

__all__ = ["Event", "Feed", "Layout", "Trace", "lasting", "run_sequence"]

_STEP, _STEADY = 10.0, 30.0
"""Longest steps where weights change, and where they stand still [s]."""

_SMALL = 1e-3
"""A weight is reached within this [kg]."""

_MOST_STEPS = 200_000
"""No sequence takes more."""


@dataclass(frozen=True)
class Feed:
    """What one strand takes.

    Parameters
    ----------
    tundish : int
        Place of its tundish.
    flow, least : float
        At the planned and at the least speed [kg/s].
    nozzle : Nozzle or None
        With its bore; None where nothing but the speed sets the flow.
    """

    tundish: int
    flow: float
    least: float
    nozzle: Nozzle | None = None

    @property
    def free(self) -> bool:
        """Whether level and bore set the flow."""
        return self.nozzle is not None and self.nozzle.sets_speed


@dataclass(frozen=True)
class Layout:
    """What the sequence is made of.

    Parameters
    ----------
    ladles : tuple of Ladle
        In order.
    gate_most : float
        Most flow of the gate [kg/s].
    shut : float
        From the end of a ladle to the opening of the next, at least [s].
    tundishes : tuple of Tundish
        One or more.
    feeds : tuple of Feed
        The strands.
    density, heat : float
        Of the liquid [kg/m3], [J/(kg K)].
    """

    ladles: tuple[Ladle, ...]
    gate_most: float
    shut: float
    tundishes: tuple[Tundish, ...]
    feeds: tuple[Feed, ...]
    density: float
    heat: float


@dataclass(frozen=True)
class Event:
    """Something that happens.

    Parameters
    ----------
    time : float
        From the opening of the first ladle [s].
    what : str
        ``"ladle opened"``, ``"ladle empty"``, ``"strands opened"``, ``"slow-down"``, ``"stop"``, ``"restart"`` or
        ``"strands end"``.
    place : int
        Of the ladle or of the tundish.
    factor : float
        On the speeds, of a slow-down [1].
    """

    time: float
    what: str
    place: int
    factor: float = math.nan


@dataclass(frozen=True)
class Trace:
    """The sequence over time.

    Parameters
    ----------
    time : ndarray, shape (n,)
        From the opening of the first ladle [s].
    ladle : ndarray, shape (n,)
        Steel left to pour in the open ladle [kg].
    heat : ndarray of int, shape (n,)
        Place of the ladle opened last.
    weight : ndarray, shape (tundish, n)
        [kg]
    offset : ndarray, shape (tundish, n)
        Temperature less that of the ladles at opening, as if they were alike [K].
    share : ndarray, shape (tundish, n)
        Steel of the ladle opened last [1].
    flow, cast : ndarray, shape (strand, n)
        What each strand takes [kg/s], and has taken [kg].
    events : tuple of Event
        In order.
    """

    time: np.ndarray
    ladle: np.ndarray
    heat: np.ndarray
    weight: np.ndarray
    offset: np.ndarray
    share: np.ndarray
    flow: np.ndarray
    cast: np.ndarray
    events: tuple[Event, ...]

    def first(self, what: str, place: int) -> float:
        """Return the time of the first event of a kind at a place [s]; NaN where there is none."""
        return next((e.time for e in self.events if (e.what, e.place) == (what, place)), math.nan)

    def temperature(self, tundish: int, ladles: Sequence[float]) -> np.ndarray:
        """Return the temperature of a tundish for ladle temperatures at opening.

        Parameters
        ----------
        tundish : int
            Its place.
        ladles : sequence of float
            One for each ladle [degC].

        Returns
        -------
        ndarray, shape (n,)
            [degC]
        """
        found = np.empty(self.time.size)
        before = ladles[0]
        for place, own in enumerate(ladles):
            at = np.flatnonzero(self.heat == place)
            if not at.size:
                continue
            y = self.share[tundish, at]
            found[at] = self.offset[tundish, at] + y * own + (1 - y) * before
            before = y[-1] * own + (1 - y[-1]) * before
        return found


def run_sequence(layout: Layout) -> Trace:
    """Go through the sequence from the opening of the first ladle to the end of the last strand.

    Parameters
    ----------
    layout : Layout
        Ladles, tundishes and strands.

    Returns
    -------
    Trace

    Raises
    ------
    SolidifyError
        If the sequence does not come to an end.
    """
    return _Run(layout).go()


def lasting(tundish: Tundish, feeds: Sequence[Feed], density: float, factor: float = 1.0) -> float:
    """Return how long a full tundish lasts without a ladle until its least weight [s].

    Parameters
    ----------
    tundish : Tundish
        At its working weight.
    feeds : sequence of Feed
        Its strands.
    density : float
        Of the liquid [kg/m3].
    factor : float
        On the speeds of those that can be slowed down, not below their least [1].

    Returns
    -------
    float
        [s]
    """
    outs = [_outflow(f, density) for f in feeds]
    m, t = tundish.weight, 0.0
    while m - tundish.least > _SMALL and t < 1e6:
        rate = sum(out(tundish.level_at(m), factor) for out in outs)
        if rate <= 0:
            return math.inf
        h = min(_STEP, max((m - tundish.least) / rate, 1e-3))
        m, t = _dip(tundish, outs, m, h, factor), t + h
    return t


_Outflow = Callable[[float, float], float]
"""Flow of a strand [kg/s] over level [m] and factor on the speed [1]."""


def _outflow(feed: Feed, density: float) -> _Outflow:
    """Return the flow of a strand as a function of level [m] and factor on the speed [kg/s]."""
    nozzle, flow, least = feed.nozzle, feed.flow, min(feed.least, feed.flow)
    if nozzle is None:
        return lambda level, factor: max(factor * flow, least)
    one = nozzle.coefficient * density * math.pi / 4 * nozzle.bore**2 * math.sqrt(2 * GRAVITY)
    if nozzle.sets_speed:
        return lambda level, factor: one * math.sqrt(level)
    drop = nozzle.drop
    return lambda level, factor: min(max(factor * flow, least), one * math.sqrt(level + drop))


def _dip(tundish: Tundish, outs: Sequence[_Outflow], mass: float, seconds: float, factor: float) -> float:
    """Return the weight after a time without inflow [kg]."""
    steps = max(math.ceil(seconds / _STEP - 1e-9), 1)
    h = seconds / steps

    def rate(m: float) -> float:
        level = tundish.level_at(max(m, 0.0))
        return -sum(out(level, factor) for out in outs)

    for _ in range(steps):
        a = rate(mass)
        b = rate(mass + h / 2 * a)
        c = rate(mass + h / 2 * b)
        d = rate(mass + h * c)
        mass += h / 6 * (a + 2 * b + 2 * c + d)
    return mass


@dataclass
class _Run:
    """The march through one sequence: the state is a flat list, three numbers a tundish, one a strand, the ladle."""

    layout: Layout
    t: float = 0.0
    heat: int = 0
    opened: float = 0.0
    pouring: bool = True
    events: list[Event] = field(default_factory=list)

    def __post_init__(self) -> None:
        own = self.layout
        self.tanks = len(own.tundishes)
        self.of = [[i for i, f in enumerate(own.feeds) if f.tundish == k] for k in range(self.tanks)]
        self.state = ["closed"] * self.tanks
        self.factor = [1.0] * self.tanks
        self.y = [0.0] * (3 * self.tanks + len(own.feeds)) + [own.ladles[0].poured]
        self.started = [math.nan] * self.tanks
        self.rows: list[tuple[float, int, list[float], list[float]]] = []
        self.flows_used()

    def flows_used(self) -> None:
        """Take the nozzles as they are at the opening of a ladle."""
        own = self.layout
        self.outs = []
        for feed in own.feeds:
            since = self.t - self.started[feed.tundish]
            nozzle = feed.nozzle and feed.nozzle.used(self.heat, 0.0 if math.isnan(since) else since)
            self.outs.append(_outflow(Feed(feed.tundish, feed.flow, feed.least, nozzle), own.density))

    def note(self, what: str, place: int, factor: float = math.nan) -> None:
        self.events.append(Event(self.t, what, place, factor))

    def flows(self, y: Sequence[float]) -> list[float]:
        """Return what each strand takes [kg/s]."""
        found = [0.0] * len(self.layout.feeds)
        for k in range(self.tanks):
            if self.state[k] == "open":
                level = self.layout.tundishes[k].level_at(max(y[3 * k], 0.0))
                factor = self.factor[k]
                for i in self.of[k]:
                    found[i] = self.outs[i](level, factor)
        return found

    def missing(self, y: Sequence[float]) -> list[float]:
        """Return what each tundish lacks of its weight [kg]."""
        return [
            max(tundish.weight - y[3 * k], 0.0) if self.state[k] != "ended" else 0.0
            for k, tundish in enumerate(self.layout.tundishes)
        ]

    def inflows(self, y: Sequence[float], out: Sequence[float]) -> list[float]:
        """Return what each tundish is given: what its strands take, and its part of the rest of the gate [kg/s]."""
        if not self.pouring:
            return [0.0] * self.tanks
        lack = self.missing(y)
        total = sum(lack)
        if total < _SMALL:
            return list(out)
        spare = self.layout.gate_most - sum(out)
        return [own + spare * part / total for own, part in zip(out, lack, strict=True)]

    def rates(self, t: float, y: Sequence[float]) -> list[float]:
        """Return the derivative of the state."""
        own, ladle = self.layout, self.layout.ladles[self.heat]
        flows = self.flows(y)
        out = [sum(flows[i] for i in self.of[k]) for k in range(self.tanks)]
        ins = self.inflows(y, out)
        found = []
        for k, tundish in enumerate(own.tundishes):
            m, e, n = y[3 * k : 3 * k + 3]
            arriving = self.arriving(t, tundish, ladle) if self.pouring else 0.0
            part = out[k] / m if m > _SMALL else 0.0
            lost = tundish.loss / own.heat if m > _SMALL or ins[k] > 0 else 0.0
            found += [ins[k] - out[k], ins[k] * arriving - part * e - lost, ins[k] - part * n]
        return [*found, *flows, -sum(ins)]

    def arriving(self, t: float, tundish: Tundish, ladle: Ladle) -> float:
        """Return the temperature of the stream less that of the ladle at opening [K]."""
        first = tundish.first_heat * math.exp(-3.0 * t / tundish.fade) if tundish.first_heat else 0.0
        return -ladle.stream_drop - ladle.cooling * (t - self.opened) - first

    def step(self, h: float) -> None:
        y, t = self.y, self.t
        a = self.rates(t, y)
        b = self.rates(t + h / 2, [v + h / 2 * r for v, r in zip(y, a, strict=True)])
        c = self.rates(t + h / 2, [v + h / 2 * r for v, r in zip(y, b, strict=True)])
        d = self.rates(t + h, [v + h * r for v, r in zip(y, c, strict=True)])
        self.y = [v + h / 6 * (p + 2 * q + 2 * r + s) for v, p, q, r, s in zip(y, a, b, c, d, strict=True)]
        self.t += h

    def keep(self) -> None:
        """Note the state as it is now."""
        self.rows.append((self.t, self.heat, list(self.y), self.flows(self.y)))

    def next_event(self) -> float:
        """Return the time to the next event, were the rates to stay [s]."""
        rates, found = self.rates(self.t, self.y), [math.inf]
        for k, tundish in enumerate(self.layout.tundishes):
            m, rate = self.y[3 * k], rates[3 * k]
            if self.state[k] == "closed" and rate > 0:
                found.append((tundish.start - m) / rate)
            if self.state[k] == "open" and not self.pouring and rate < 0:
                target = tundish.rest if self.last else tundish.least
                found.append((m - target) / -rate)
        if self.pouring:
            lack = sum(self.missing(self.y))
            spare = self.layout.gate_most - sum(rates[3 * self.tanks : -1])
            if lack >= _SMALL and spare > 0:
                found.append(lack / spare)
            found.append(self.y[-1] / -rates[-1] if rates[-1] < 0 else math.inf)
        elif not self.last:
            found.append(self.opens - self.t)
        return max(min(found), 1e-5)

    @property
    def last(self) -> bool:
        """Whether no ladle follows."""
        return self.heat + 1 == len(self.layout.ladles)

    def go(self) -> Trace:
        """Go to the end."""
        self.note("ladle opened", 0)
        self.keep()
        for _ in range(_MOST_STEPS):
            if all(state == "ended" for state in self.state):
                return self.trace()
            if self.pouring and "closed" not in self.state and sum(self.missing(self.y)) < _SMALL:
                self.steady()
            else:
                self.step(min(_STEP, self.next_event()))
                self.keep()
            self.act()
        raise SolidifyError(f"the sequence does not end within {_MOST_STEPS} steps")

    def steady(self) -> None:
        """Go to the end of the ladle with standing weights."""
        own, ladle, y = self.layout, self.layout.ladles[self.heat], self.y
        flows = self.flows(y)
        out = [sum(flows[i] for i in self.of[k]) for k in range(self.tanks)]
        span = y[-1] / sum(out)
        times = np.linspace(0.0, span, max(math.ceil(span / _STEADY), 1) + 1)[1:]
        columns = np.empty((times.size, len(y)))
        for k, tundish in enumerate(own.tundishes):
            m, e, n = y[3 * k : 3 * k + 3]
            tau = m / out[k]
            inflow = -ladle.stream_drop - ladle.cooling * (self.t - self.opened)
            first = tundish.first_heat * math.exp(-3.0 * self.t / tundish.fade)
            drop = tundish.loss / (out[k] * own.heat)
            warm = stirred_temperature(
                times, e / m, inflow, ladle.cooling, tau, drop, first, 3.0 / tundish.fade
            )
            fresh = m - (m - n) * np.exp(-times / tau)
            columns[:, 3 * k : 3 * k + 3] = np.stack([np.full(times.size, m), m * warm, fresh], axis=1)
        for i, flow in enumerate(flows):
            columns[:, 3 * self.tanks + i] = y[3 * self.tanks + i] + flow * times
        columns[:, -1] = y[-1] - sum(out) * times
        begin = self.t
        for dt, row in zip(times.tolist(), columns.tolist(), strict=True):
            self.rows.append((begin + dt, self.heat, row, flows))
        self.t, self.y = begin + span, columns[-1].tolist()

    def act(self) -> None:
        """Do what the state asks for."""
        before = len(self.events)
        if self.pouring and self.y[-1] <= _SMALL:
            self.empty()
        if not self.pouring and not self.last and self.t >= self.opens - 1e-6:
            self.open_next()
        for k, tundish in enumerate(self.layout.tundishes):
            m = self.y[3 * k]
            if self.state[k] == "closed" and m >= tundish.start - _SMALL:
                self.state[k], self.started[k] = "open", self.t
                self.note("strands opened", k)
            elif self.state[k] == "open" and not self.pouring:
                if self.last and m <= tundish.rest + _SMALL:
                    self.state[k] = "ended"
                    self.note("strands end", k)
                elif not self.last and m <= tundish.least + _SMALL and self.opens - self.t > 1.0:
                    self.state[k] = "stopped"
                    self.note("stop", k)
            elif self.state[k] == "closed" and self.last and not self.pouring:
                self.state[k] = "ended"
        if len(self.events) > before:
            self.keep()

    def empty(self) -> None:
        """The ladle has run out: shut it and slow the strands down as far as the tundish asks for."""
        self.pouring = False
        self.note("ladle empty", self.heat)
        if self.last:
            return
        own = self.layout
        self.opens = max(self.t + own.shut, own.ladles[self.heat + 1].arrival)
        for k, tundish in enumerate(own.tundishes):
            factor = self.slow_down(k, tundish, self.opens - self.t)
            if factor < 1.0:
                self.factor[k] = factor
                self.note("slow-down", k, factor)

    def slow_down(self, k: int, tundish: Tundish, gap: float) -> float:
        """Return the factor on the speeds that holds the least weight until the next ladle [1]."""
        mass, outs = self.y[3 * k], [self.outs[i] for i in self.of[k]]
        feeds = [self.layout.feeds[i] for i in self.of[k]]
        if self.state[k] != "open" or _dip(tundish, outs, mass, gap, 1.0) >= tundish.least:
            return 1.0
        if all(feed.free for feed in feeds):
            return 1.0  # nothing can be slowed down
        if not any(feed.free for feed in feeds):
            return slow_down_factor(mass - tundish.least, gap, sum(feed.flow for feed in feeds))
        low, high = 0.0, 1.0
        for _ in range(24):
            middle = 0.5 * (low + high)
            holds = _dip(tundish, outs, mass, gap, middle) >= tundish.least
            low, high = (middle, high) if holds else (low, middle)
        return low

    def open_next(self) -> None:
        """Open the next ladle; strands go back to their speeds."""
        self.heat += 1
        self.pouring, self.opened = True, self.t
        self.y[-1] = self.layout.ladles[self.heat].poured
        for k in range(self.tanks):
            self.y[3 * k + 2] = 0.0
            self.factor[k] = 1.0
        self.flows_used()
        self.note("ladle opened", self.heat)
        for k in range(self.tanks):
            if self.state[k] == "stopped":
                self.state[k] = "open"
                self.note("restart", k)

    def trace(self) -> Trace:
        """Return what was noted."""
        state = np.array([row for _, _, row, _ in self.rows]).T
        n = self.tanks
        weight = state[0 : 3 * n : 3]
        held = np.where(weight > _SMALL, weight, np.inf)
        offset, share = state[1 : 3 * n : 3] / held, state[2 : 3 * n : 3] / held
        first = self.layout.ladles[0]
        for k, tundish in enumerate(self.layout.tundishes):  # the first drop of steel
            offset[k, weight[k] <= _SMALL] = -first.stream_drop - tundish.first_heat
            share[k, weight[k] <= _SMALL] = 1.0
        return Trace(
            time=np.array([t for t, *_ in self.rows]),
            ladle=np.maximum(state[-1], 0.0),
            heat=np.array([heat for _, heat, *_ in self.rows]),
            weight=weight,
            offset=offset,
            share=share,
            flow=np.array([flows for *_, flows in self.rows]).T,
            cast=state[3 * n : -1],
            events=tuple(self.events),
        )
