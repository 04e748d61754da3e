"""The heat plan: speeds, bores, the sequence over time, the ladle's window, heats until the tundish ends, yield."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from solidify.errors import InputError, Problem
from solidify.plan.cut import CleanCut, clean_cut
from solidify.plan.figures import figure
from solidify.plan.ladle import Window, temperature_window
from solidify.plan.limits import heats_by_clogging, heats_by_lining, heats_by_speed
from solidify.plan.nozzle import Nozzle, bore_for, neighbour_bores
from solidify.plan.plan import Plan, PlannedStrand
from solidify.plan.sequence import Feed, Layout, Trace, lasting, run_sequence
from solidify.plan.speeds import Share, cast_time, end_range, finish_factor
from solidify.plan.tundish import Tundish
from solidify.plan.yields import Yield
from solidify.units import MINUTE

__all__ = ["Budget", "Change", "EndLimit", "HeatPlan", "Minutes", "StrandPlan", "heat_plan"]

LATE = (0.0, 2.0, 5.0, 10.0, 15.0, 20.0)
"""Minutes that a ladle comes late, in the table of changes."""

JOIN_STOP = MINUTE
"""A longer stop leaves a join that is cropped [s]; common practice, no source."""


@dataclass(frozen=True)
class StrandPlan:
    """One strand, planned.

    Parameters
    ----------
    strand : PlannedStrand
        As given.
    speed : float
        Planned, at the working weight of the tundish with new nozzles [m/s].
    flow : float
        Then [kg/s].
    nozzle : Nozzle or None
        With the bore that is given or wanted.
    neighbours : tuple of (float, float)
        The next smaller and the next larger bore in steps of half a millimetre [m], each with the speed [m/s] or,
        for a throttled nozzle, the reserve [1] that it gives.
    reserve, last_reserve : float
        Full-open flow over the wanted one when new at the working weight, and in the last heat at the least weight;
        NaN for a metering nozzle or none [1].
    heat_metres : float
        Cast from the mean ladle [m].
    metres : float
        Cast in the sequence [m].
    joins : tuple of float
        Cast metres at stops that leave a join [m].
    lowest, highest : float
        Speeds while the ladles pour and change, without the last emptying [m/s].
    pieces : tuple of CleanCut
        Between joins; empty where no pieces are asked for.
    """

    strand: PlannedStrand
    speed: float
    flow: float
    nozzle: Nozzle | None
    neighbours: tuple[tuple[float, float], ...]
    reserve: float
    last_reserve: float
    heat_metres: float
    metres: float
    joins: tuple[float, ...]
    lowest: float
    highest: float
    pieces: tuple[CleanCut, ...]

    @property
    def count(self) -> int:
        """Pieces of the sequence."""
        return sum(own.pieces for own in self.pieces)

    @property
    def rest(self) -> float:
        """Metres that make no piece [m]."""
        return sum(own.rest for own in self.pieces)


@dataclass(frozen=True)
class Change:
    """What a ladle change asks of a tundish.

    Parameters
    ----------
    late : float
        The ladle comes this much later than it could be opened [s].
    shut : float
        Without a ladle [s].
    factor : float
        Largest factor on the speeds that holds the least weight [1].
    stop : float
        Stop that is needed where even the least speeds do not [s].
    slowed : bool
        Whether any strand can be slowed down at all.
    """

    late: float
    shut: float
    factor: float
    stop: float
    slowed: bool = True


@dataclass(frozen=True)
class EndLimit:
    """What ends the sequence of a tundish.

    Parameters
    ----------
    heats : int
        Whole heats that are possible.
    what : str
        In words.
    """

    heats: int
    what: str


@dataclass(frozen=True)
class Budget:
    """The temperature of a ladle at opening, as the sum of what is used up until its end.

    Parameters
    ----------
    ladle : int
        Its place in the sequence.
    rows : tuple of (str, float)
        Words and [K] (the first row [degC]); the rows add up to `temperature`.
    temperature : float
        At opening [degC].
    """

    ladle: int
    rows: tuple[tuple[str, float], ...]
    temperature: float


@dataclass(frozen=True)
class Minutes:
    """The sequence at every full minute and at its end.

    Parameters
    ----------
    time : ndarray, shape (n,)
        From the opening of the first ladle [s].
    heat : ndarray of int, shape (n,)
        Place of the ladle opened last.
    ladle : ndarray, shape (n,)
        Steel left to pour [kg].
    weight, temperature, share : ndarray, shape (tundish, n)
        Steel in the tundish [kg], its temperature [degC] and the part of it of the ladle opened last [1].
    speed, metres : ndarray, shape (strand, n)
        Casting speed [m/s] and cast metres [m].
    """

    time: np.ndarray
    heat: np.ndarray
    ladle: np.ndarray
    weight: np.ndarray
    temperature: np.ndarray
    share: np.ndarray
    speed: np.ndarray
    metres: np.ndarray


@dataclass(frozen=True)
class HeatPlan:
    """What a plan gives; made by `solidify.heat_plan`.

    Parameters
    ----------
    plan : Plan
        As given.
    factor : float
        On the aim speeds [1].
    strands : tuple of StrandPlan
        In the order of the file.
    trace : Trace
        Weights, temperatures, flows over time.
    layout : Layout
        What was run.
    windows : tuple of Window
        For each ladle, were all ladles alike.
    temperatures : tuple of float
        Of the ladles at opening, given or found [degC].
    """

    plan: Plan
    factor: float
    strands: tuple[StrandPlan, ...]
    trace: Trace = field(repr=False)
    layout: Layout = field(repr=False)
    windows: tuple[Window, ...]
    temperatures: tuple[float, ...]

    __hash__ = None  # type: ignore[assignment]

    @property
    def flow(self) -> float:
        """What all strands take at the planned speeds [kg/s]."""
        return sum(s.flow for s in self.strands)

    @property
    def ladle_time(self) -> float:
        """Casting time of the mean ladle at the planned speeds [s]."""
        return self.plan.poured / self.flow

    @property
    def range(self) -> tuple[float, float]:
        """Shortest and longest casting time of the mean ladle within the speed ranges [s]."""
        return end_range(self.plan.poured, [_share(s.strand, self.plan) for s in self.strands])

    @property
    def end(self) -> float:
        """End of the last strand, from the opening of the first ladle [s]."""
        return max(e.time for e in self.trace.events if e.what == "strands end")

    @property
    def window(self) -> Window:
        """Of a ladle in mid-sequence; of the last one where there are two or fewer [degC]."""
        return self.windows[1 if len(self.windows) > 2 else -1]

    def superheat(self, tundish: int) -> np.ndarray:
        """Return the superheat in a tundish, shape of `Trace.time` [K]."""
        return self.trace.temperature(tundish, self.temperatures) - self.plan.liquidus

    def casting(self, tundish: int, heat: int | None = None) -> np.ndarray:
        """Return where in the trace the strands of a tundish are open, in one heat or in all of them."""
        begin = self.trace.first("strands opened", tundish)
        end = self.trace.first("strands end", tundish)
        at = (self.trace.time >= begin) & (self.trace.time <= end)
        if heat is not None:
            at &= self.trace.heat == heat
        return np.flatnonzero(at)

    def residence(self, tundish: int) -> float:
        """Return weight over flow of a tundish [s]."""
        own = self.plan.tundishes[tundish]
        return own.weight / sum(s.flow for s in self.strands if s.strand.tundish == tundish)

    @cached_property
    def minutes(self) -> Minutes:
        """The sequence minute by minute."""
        trace = self.trace
        at = np.append(np.arange(math.ceil(self.end / MINUTE)) * MINUTE, self.end)
        step = np.minimum(np.searchsorted(trace.time, at, side="right") - 1, trace.time.size - 1)
        per_metre = np.array([[s.strand.mass_per_metre] for s in self.strands])

        def read(rows: np.ndarray) -> np.ndarray:
            return np.array([np.interp(at, trace.time, row) for row in rows])

        warm = np.array([trace.temperature(k, self.temperatures) for k in range(len(self.plan.tundishes))])
        return Minutes(
            time=at,
            heat=trace.heat[step],
            ladle=np.interp(at, trace.time, trace.ladle),
            weight=read(trace.weight),
            temperature=read(warm),
            share=read(trace.share),
            speed=trace.flow[:, step] / per_metre,
            metres=read(trace.cast) / per_metre,
        )

    @property
    def heats(self) -> int | None:
        """Heats that the tundish lasts; None where nothing that ends it was given."""
        return self.end_limits[0].heats if self.end_limits else None

    @property
    def shares(self) -> tuple[float, ...]:
        """Share of the ladle that each tundish must get for its strands to end with the others [1]."""
        own = [
            sum(s.flow for s in self.strands if s.strand.tundish == k)
            for k in range(len(self.plan.tundishes))
        ]
        return tuple(flow / sum(own) for flow in own)

    @property
    def ends_apart(self) -> float:
        """How far apart the tundishes would end were the ladle divided equally [s]; 0 for one tundish."""
        count = len(self.plan.tundishes)
        times = [self.plan.poured / count / (share * self.flow) for share in self.shares]
        return max(times) - min(times)

    @cached_property
    def budget(self) -> Budget:
        """Of the ladle whose window is `window`."""
        place = 1 if len(self.windows) > 2 else len(self.windows) - 1
        return _budget(self, place)

    def changes(self, tundish: int) -> tuple[Change, ...]:
        """Return what a ladle change asks of a tundish, by how late the ladle comes.

        Parameters
        ----------
        tundish : int
            Its place.

        Returns
        -------
        tuple of Change
            For 0, 2, 5, 10, 15 and 20 min late, the tundish being at its working weight before.
        """
        own = self.plan.tundishes[tundish]
        feeds = [self.layout.feeds[i] for i in self.plan.of_tundish(tundish)]
        density = self.layout.density
        fast, slow = lasting(own, feeds, density), lasting(own, feeds, density, 0.0)
        found = []
        for minutes in LATE:
            late = minutes * MINUTE
            shut = self.plan.shut + late
            stop = max(shut - slow, 0.0)
            factor = 1.0
            if shut > fast:
                factor = 0.0 if stop else _slowest(own, feeds, density, shut)
            found.append(Change(late, shut, factor, stop, not all(feed.free for feed in feeds)))
        return tuple(found)

    @cached_property
    def end_limits(self) -> tuple[EndLimit, ...]:
        """What ends the sequence, the fewest heats first; what was not given does not stand there."""
        found = []
        time = self.ladle_time
        for own in self.plan.tundishes:
            if math.isfinite(own.lining):
                words = f"lining of {own.name}, {own.lining / MINUTE:g} min"
                found.append(EndLimit(heats_by_lining(own.lining, time), words))
        for s in self.strands:
            if s.nozzle is None:
                continue
            if s.nozzle.sets_speed:
                band = s.strand.speed
                count, why = heats_by_speed(s.nozzle, s.speed, band.least, band.most, time)
                if why:
                    beyond = "above its most speed" if why == "wear" else "below its least speed"
                    found.append(EndLimit(count, f"{why} of the nozzle of strand {s.strand.name}, {beyond}"))
            elif s.nozzle.clog > 0:
                words = f"clogging of the nozzle of strand {s.strand.name}, reserve {s.reserve:.2f} when new"
                found.append(EndLimit(heats_by_clogging(s.reserve, s.nozzle.clog), words))
        return tuple(sorted(found, key=lambda limit: limit.heats))

    @cached_property
    def yields(self) -> Yield:
        """Where the steel goes; without cuts, pieces count as endless."""
        tundish_rest = float(self.trace.weight[:, -1].sum())
        head = tail = joins = kerf = rest = 0.0
        for s in self.strands:
            cut, per_metre = s.strand.cut, s.strand.mass_per_metre
            if cut is None:
                continue
            crops = min(cut.head + cut.tail, s.metres)
            head += per_metre * crops * cut.head / max(cut.head + cut.tail, 1e-12)
            tail += per_metre * crops * cut.tail / max(cut.head + cut.tail, 1e-12)
            joins += per_metre * 2 * cut.join * len(s.joins)
            kerf += per_metre * cut.kerf * s.count
            rest += per_metre * s.rest
        return Yield(
            tapped=sum(ladle.weight for ladle in self.plan.ladles),
            ladle_rest=sum(ladle.stays for ladle in self.plan.ladles),
            tundish_rest=tundish_rest,
            head=head,
            tail=tail,
            joins=joins,
            kerf=kerf,
            rest=rest,
            scale_share=self.plan.scale,
        )


def heat_plan(plan: Plan) -> HeatPlan:
    """Work out a plan: speeds, bores, the sequence over time, the ladle's window, pieces.

    Parameters
    ----------
    plan : Plan
        From `solidify.read_plan`.

    Returns
    -------
    HeatPlan

    Raises
    ------
    InputError
        If the wanted end cannot be met within the speed ranges, or the gate cannot feed the strands.

    Notes
    -----
    Mass: speed times hot section times the density used for the strand. Temperature: each tundish is a stirred tank.
    """
    strands = [_with_bore_speed(plan, s) for s in plan.strands]
    shares = [_share(s, plan) for s in strands]
    try:
        factor = 1.0 if math.isnan(plan.finish) else finish_factor(plan.poured, shares, plan.finish)
    except InputError as error:
        at = plan.line("sequence", "finish_in_min")
        raise InputError([replace(p, where=f"{at} {p.where}") for p in error.problems]) from None
    speeds = [share.speed(factor) for share in shares]
    flows = [share.mass_per_metre * v for share, v in zip(shares, speeds, strict=True)]
    if sum(flows) >= plan.gate_most:
        raise InputError(
            Problem(
                f"{plan.line('ladle', 'gate_most_t_per_min')} [ladle] gate_most_t_per_min",
                f"= {_t_per_min(plan.gate_most)}",
                f"more than the strands take, {_t_per_min(sum(flows))} t/min",
                do="open the gate wider or lower the speeds: the tundish would never fill",
            )
        )
    seconds = cast_time(plan.poured, shares, factor)
    nozzles = [_nozzle(plan, s, flow, seconds) for s, flow in zip(strands, flows, strict=True)]
    feeds = tuple(
        Feed(s.tundish, flow, share.mass_per_metre * min(share.least, v), nozzle)
        for s, flow, share, v, nozzle in zip(strands, flows, shares, speeds, nozzles, strict=True)
    )
    layout = Layout(
        plan.ladles, plan.gate_most, plan.shut, plan.tundishes, feeds, plan.liquid_density, plan.liquid_heat
    )
    trace = run_sequence(layout)
    windows = tuple(_window(plan, trace, place) for place in range(len(plan.ladles)))
    temperatures = tuple(
        w.aim if math.isnan(ladle.temperature) else ladle.temperature
        for w, ladle in zip(windows, plan.ladles, strict=True)
    )
    planned = tuple(
        _planned(plan, s, i, speeds[i], flows[i], nozzles[i], seconds, trace) for i, s in enumerate(strands)
    )
    return HeatPlan(plan, factor, planned, trace, layout, windows, temperatures)


def _t_per_min(flow: float) -> str:
    return f"{flow * MINUTE / 1e3:.3g}"


def _share(strand: PlannedStrand, plan: Plan) -> Share:
    own = _with_bore_speed(plan, strand)
    return Share(own.mass_per_metre, own.speed.least, own.speed.aim, own.speed.most, own.bound)


def _with_bore_speed(plan: Plan, strand: PlannedStrand) -> PlannedStrand:
    """Give a strand with a metering nozzle of known bore the speed that follows from it."""
    nozzle = strand.nozzle
    if nozzle is None or not nozzle.sets_speed or math.isnan(nozzle.bore):
        return strand
    tundish = plan.tundishes[strand.tundish]
    flow = nozzle.full_flow(tundish.level_at(tundish.weight), plan.liquid_density)
    return replace(strand, speed=replace(strand.speed, aim=flow / strand.mass_per_metre))


def _nozzle(plan: Plan, strand: PlannedStrand, flow: float, seconds: float) -> Nozzle | None:
    """Return the nozzle with its bore: as given, or as the flow wants it."""
    nozzle = strand.nozzle
    if nozzle is None or not math.isnan(nozzle.bore):
        return nozzle
    tundish = plan.tundishes[strand.tundish]
    level, wanted, coefficient = tundish.level_at(tundish.weight), flow, nozzle.coefficient
    if not nozzle.sets_speed:  # the reserve must still stand in the last heat at the least weight
        heats = len(plan.ladles)
        level = tundish.level_at(tundish.least)
        coefficient = nozzle.used(heats, heats * seconds).coefficient
        wanted = flow * figure("nozzle", "reserve").value
    return replace(nozzle, bore=bore_for(wanted, coefficient, nozzle.head(level), plan.liquid_density))


def _planned(
    plan: Plan,
    strand: PlannedStrand,
    place: int,
    speed: float,
    flow: float,
    nozzle: Nozzle | None,
    seconds: float,
    trace: Trace,
) -> StrandPlan:
    tundish, per_metre = plan.tundishes[strand.tundish], strand.mass_per_metre
    reserve = last = math.nan
    neighbours: tuple[tuple[float, float], ...] = ()
    if nozzle is not None:
        level = tundish.level_at(tundish.weight)
        full = nozzle.full_flow(level, plan.liquid_density)
        bores = neighbour_bores(nozzle.bore)
        if nozzle.sets_speed:
            neighbours = tuple((d, speed * (d / nozzle.bore) ** 2) for d in bores)
        else:
            heats = len(plan.ladles)
            used = nozzle.used(heats, heats * seconds)
            reserve = full / flow
            last = used.full_flow(tundish.level_at(tundish.least), plan.liquid_density) / flow
            neighbours = tuple((d, reserve * (d / nozzle.bore) ** 2) for d in bores)
    metres = float(trace.cast[place, -1]) / per_metre
    joins = tuple(_joins(trace, strand.tundish, trace.cast[place] / per_metre))
    begin, end = (
        trace.first("strands opened", strand.tundish),
        trace.first("ladle empty", len(plan.ladles) - 1),
    )
    running = (trace.time >= begin) & (trace.time <= end) & (trace.flow[place] > 0)
    rates = trace.flow[place][running] / per_metre if running.any() else np.full(1, speed)
    pieces: tuple[CleanCut, ...] = ()
    if strand.cut is not None:
        ends = [0.0, *joins, metres]
        crops = [strand.cut.head, *[strand.cut.join] * len(joins)]
        tails = [*[strand.cut.join] * len(joins), strand.cut.tail]
        pieces = tuple(
            clean_cut(b - a, strand.cut, head, tail)
            for a, b, head, tail in zip(ends, ends[1:], crops, tails, strict=False)
        )
    return StrandPlan(
        strand,
        speed,
        flow,
        nozzle,
        neighbours,
        reserve,
        last,
        flow * seconds / per_metre,
        metres,
        joins,
        float(rates.min()),
        float(rates.max()),
        pieces,
    )


def _joins(trace: Trace, tundish: int, metres: np.ndarray) -> list[float]:
    """Return the cast metres at stops that leave a join [m]."""
    stops = [e.time for e in trace.events if (e.what, e.place) == ("stop", tundish)]
    starts = [e.time for e in trace.events if (e.what, e.place) == ("restart", tundish)]
    return [
        float(np.interp(a, trace.time, metres))
        for a, b in zip(stops, starts, strict=False)
        if b - a > JOIN_STOP
    ]


def _slowest(tundish: Tundish, feeds: Sequence[Feed], density: float, shut: float) -> float:
    """Return the largest factor with which a tundish lasts for a time [1]."""
    low, high = 0.0, 1.0
    for _ in range(30):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if lasting(tundish, feeds, density, middle) >= shut else (low, middle)
    return low


def _window(plan: Plan, trace: Trace, place: int) -> Window:
    """Return the window of a ladle, were all ladles alike, from its opening until the next one opens or it runs out."""
    band, liquidus = plan.superheat, plan.liquidus
    times, offsets = [], []
    opened = trace.first("ladle opened", place)
    for k in range(len(plan.tundishes)):
        begin, end = trace.first("strands opened", k), trace.first("ladle empty", len(plan.ladles) - 1)
        at = np.flatnonzero((trace.heat == place) & (trace.time >= begin) & (trace.time <= end))
        times.append(trace.time[at] - opened)
        offsets.append(trace.offset[k, at])
    t, a = np.concatenate(times), np.concatenate(offsets)
    if not t.size:
        raise InputError(
            Problem(
                f"ladle {place + 1}",
                "is empty before any strand is opened",
                do="give the ladle more steel, or the tundish a smaller start_weight_t",
            )
        )
    low, aim, high = (liquidus + own for own in (band.least, band.aim, band.most))
    return temperature_window(t, a, np.ones(a.size), low, aim, high)


def _budget(found: HeatPlan, place: int) -> Budget:
    """Divide the temperature of a ladle into what stands behind it at the moment that it runs out."""
    plan, trace = found.plan, found.trace
    ladle, temperature = plan.ladles[place], found.temperatures[place]
    ends = trace.first("ladle empty", place)
    span = ends - trace.first("ladle opened", place)
    at = int(np.flatnonzero((trace.time <= ends) & (trace.heat == place))[-1])
    tanks = range(len(plan.tundishes))
    coldest = min(tanks, key=lambda k: trace.temperature(k, found.temperatures)[at])
    tundish = plan.tundishes[coldest]
    flow = found.shares[coldest] * found.flow
    tau = tundish.weight / flow
    where = f" {tundish.name}" if len(plan.tundishes) > 1 else ""
    rows = [
        ("liquidus", plan.liquidus),
        ("superheat in the tundish when the ladle runs out", float(found.superheat(coldest)[at])),
        (f"heat lost by the tundish{where}", tundish.loss / (flow * plan.liquid_heat)),
        ("stream from ladle to tundish", ladle.stream_drop),
        (
            f"ladle cooling, {span / MINUTE:.1f} min less {tau / MINUTE:.1f} min in the tundish",
            ladle.cooling * (span - tau),
        ),
    ]
    rest = temperature - sum(value for _, value in rows)
    rows.append(("left of the opening: steel of the ladle before, cold lining", rest))
    return Budget(place, tuple(rows), temperature)
