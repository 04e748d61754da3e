"""The slices of a cast, laid out for the march: when each was born, where it is when, and what then acts on it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from solidify.case import Case
from solidify.case.model import Zone
from solidify.cast.clock import CastClock, Signal, thinned
from solidify.cast.definition import Cast
from solidify.cast.water import LEAST_ROLL_SPEED, at_speed, zone_water
from solidify.heat.mould import FluxLaw
from solidify.solver.boundary import LAW, BoundaryCondition, LawBook
from solidify.solver.driver import Slices
from solidify.strand.batch import Batch, batches
from solidify.strand.cooling import RAMP, CoolingPaths, steady
from solidify.strand.mould import mould_faces, mould_law, mould_result, of_mould
from solidify.strand.setup import Temperatures
from solidify.strand.solve import raise_first
from solidify.strand.stacking import renewed, spread
from solidify.strand.zones import bare_strand, zone_cooling
from solidify.units import M_PER_MIN

__all__ = ["Births", "CastLayout", "SliceBatch", "births", "panel_factor", "panel_mean"]

JOIN = 1e-3
"""How far the two slices at the join of a stand stand from it [m]."""

_STOOD_EVERY = 10.0
"""Between two readings of a slice that stands [s]."""


@dataclass(frozen=True)
class Births:
    """Where and when the slices of a cast begin.

    Parameters
    ----------
    label : ndarray, shape (slice,)
        Length cast before each [m], rising; below 0 for what was cast before the clock and for the head.
    time : ndarray, shape (slice,)
        Clock at its birth [s].
    place : ndarray, shape (slice,)
        Where it is born, from the meniscus [m]; 0 but for the head on a dummy bar.
    """

    label: np.ndarray
    time: np.ndarray
    place: np.ndarray

    def __len__(self) -> int:
        return len(self.label)

    def of(self, rows: np.ndarray) -> Births:
        """Return some of them."""
        return Births(self.label[rows], self.time[rows], self.place[rows])


def births(cast: Cast, extra: np.ndarray | None = None) -> Births:
    """Return the slices of a cast: one for each step of cast length, and two at the join of each stand.

    Parameters
    ----------
    cast : Cast
        A cast.
    extra : ndarray, optional
        More labels [m].

    Returns
    -------
    Births
    """
    clock, step, cutoff = cast.clock, cast.slice_every, cast.case.cutoff
    bar = cast.dummy_bar
    first = -bar.head_below_level if bar else float(clock.length(cast.begin)) - cutoff
    last = float(clock.length(min(cast.end, cast.feed_ends)))
    numbers = np.arange(math.ceil(first / step - 1e-9), math.floor(last / step + 1e-9) + 1)
    label = numbers * step
    for begin, _, stood in clock.stands:
        if begin < min(cast.end, cast.feed_ends) or math.isclose(stood, last):
            label = label[np.abs(label - stood) > JOIN * (1 + 1e-9)]
            label = np.append(label, [stood - JOIN, stood + JOIN])
    more = np.empty(0) if extra is None else extra
    label = np.unique(np.concatenate([label, more]))
    label = label[(label >= first - 1e-12) & (label <= last + 1e-12)]
    time = clock.when(label)
    place = np.zeros(len(label))
    if bar:
        head = label < 0
        place[head] = -label[head]
        time[head] = clock.time[0] + bar.fill * (1.0 + label[head] / bar.head_below_level)
        time[~head] = clock.when(label[~head], leaving=True)
    return Births(label, time, place)


def panel_factor(cast: Cast, law: FluxLaw) -> Signal:
    """Return what the flux law is multiplied by over the clock [1].

    Parameters
    ----------
    cast : Cast
        A cast.
    law : FluxLaw
        Flux over the age.

    Returns
    -------
    Signal
        1 where the flux follows the age; else the flux of the panel over the mean of the law over what is in the mould.
    """
    mould, clock = cast.mould, cast.clock
    if mould.follows != "panel" or mould.panel_flux is None:
        return Signal.level(1.0)
    shown = mould.panel_flux
    grid = [np.arange(t, t + 1200.0, 5.0) for t in clock.bends()]
    time = np.unique(np.concatenate([*grid, clock.time, shown.time - mould.lag, [cast.begin, cast.end]]))
    value = np.array(
        [float(shown.at(t + mould.lag)) / panel_mean(clock, law, cast.case.working_length, t) for t in time]
    )
    return thinned(time, value, 1e-3 * float(np.abs(value).max()))


def panel_mean(clock: CastClock, law: FluxLaw, length: float, time: float) -> float:
    """Return the mean of a flux law over what is in the mould.

    Parameters
    ----------
    clock : CastClock
        Of the cast.
    law : FluxLaw
        Flux over the age.
    length : float
        Working length of the mould [m].
    time : float
        Clock [s].

    Returns
    -------
    float
        [W m-2]; over the length of the mould, as its water shows it.
    """
    oldest = float(clock.when(clock.length(time) - length))
    inner = clock.time[(clock.time > oldest) & (clock.time < time)]
    born = np.unique(np.concatenate([np.linspace(oldest, time, 129), inner]))[::-1]
    age = time - born
    z = clock.length(time) - clock.length(born)
    heat = np.asarray(law.heat(age))
    spans = np.diff(age)
    return float((np.diff(heat) / spans * np.diff(z)).sum() / (z[-1] - z[0]))


_Faces = Callable[[float], tuple[BoundaryCondition, BoundaryCondition]]


@dataclass(frozen=True)
class _Programme:
    """What acts in one zone over the clock.

    Parameters
    ----------
    cuts : ndarray, shape (m,)
        Clock times between which the laws are straight [s].
    laws : ndarray, shape (m + 1, 2, 2, law)
        Before the first, between each two and after the last: for both faces what acts, and what it turns into.
    starts, rates : ndarray, shape (m + 1,)
        When each begins to turn [s], and the share a second [s-1]; 0 where it does not.
    """

    cuts: np.ndarray
    laws: np.ndarray
    starts: np.ndarray
    rates: np.ndarray


@dataclass(frozen=True)
class SliceBatch:
    """Slices made ready for the march.

    Parameters
    ----------
    births : Births
        Of these slices.
    batch : Batch
        For `solidify.strand.assemble.assemble`; its samples are at its distances alone.
    marched : tuple of Slices
        What is marched: samples at the distances, and after them while the slices stand.
    order : ndarray or None, shape (slice, sample)
        Where each wanted sample stands among those marched; None where they stand as wanted.
    stood_time : ndarray, shape (slice, stand, reading)
        Clock of the readings of each stand [s]; NaN where the slice was not in the machine.
    stood_place : ndarray, shape (slice, stand)
        Where it stood [m]; NaN where it was not in the machine.
    stay : ndarray, shape (slice, stretch)
        Time in each stretch [s].
    """

    births: Births
    batch: Batch
    marched: tuple[Slices, ...]
    order: np.ndarray | None
    stood_time: np.ndarray
    stood_place: np.ndarray
    stay: np.ndarray


class CastLayout:
    """Everything that the slices of a cast share; a steady strand is the cast of one slice.

    Parameters
    ----------
    cast : Cast
        A cast.
    """

    def __init__(self, cast: Cast) -> None:
        self.cast, case = cast, cast.case
        made_ready, wrong = batches([case], sections=False)
        raise_first(wrong, 1)
        base = made_ready[0]
        self.base: Batch = base
        self.case: Case = case
        self.steel = base.steels[0]
        self.found = mould_law(case, self.steel)
        self.factor = panel_factor(cast, self.found.law)
        self.water: dict[str, Signal] = {
            zone.name: water for zone in case.zone if (water := zone_water(cast, zone)) is not None
        }
        self.book = LawBook()
        self.nothing = LawBook.insulated()
        self.ends = np.array([s.end for s in base.paths.stretches])
        made = [self._zone(zone, *bounds) for zone, bounds in zip(case.zone, case.zone_bounds, strict=True)]
        self.sides = base.sides
        self.programmes = made
        if len(self.ends) > 1 + len(made):
            open_ = bare_strand(case, self.ends[-2], case.cutoff).faces
            self.programmes.append(self._still(open_))
        self._moulds: dict[tuple[float, float], list[tuple[float, np.ndarray]]] = {}
        self.temperature = cast.temperature()

    # what acts

    def _pair(self, face: BoundaryCondition, then: BoundaryCondition | None = None) -> np.ndarray:
        """Return what acts on a face and what it turns into, shape (2, law)."""
        return np.stack([self.book.row(face), self.nothing if then is None else self.book.row(then)])

    def _acting(
        self,
        faces: tuple[BoundaryCondition, BoundaryCondition],
        then: tuple[BoundaryCondition, BoundaryCondition] | None = None,
    ) -> np.ndarray:
        """Return what acts on both faces, shape (2, 2, law)."""
        return np.stack([self._pair(f, then and then[k]) for k, f in enumerate(faces)])

    def _still(self, faces: tuple[BoundaryCondition, BoundaryCondition]) -> _Programme:
        return _Programme(np.empty(0), self._acting(faces)[None], np.zeros(1), np.zeros(1))

    def _zone(self, zone: Zone, start: float, end: float) -> _Programme:
        """Return what acts in a zone over the clock: its water, and its rolls where they depend on the speed."""
        case, clock = self.case, self.cast.clock
        water = self.water.get(zone.name)
        moving = bool(zone.tables()) or case.cooling_in(zone).roll_contact_relation is not None
        reference = self.base.throughputs[0] / case.speed

        def faces(time: float) -> tuple[BoundaryCondition, BoundaryCondition]:
            speed = max(float(clock.speed_at(time)), LEAST_ROLL_SPEED) if moving else case.speed
            own = math.nan if water is None else float(water.at(time))
            rate = reference * speed
            return zone_cooling(at_speed(case, speed), zone, start, end, rate, own).faces

        times = np.concatenate(
            [
                [] if water is None or not water.changes else water.time,
                thinned(clock.time, clock.speed, 1e-9 * case.speed).time
                if moving and np.ptp(clock.speed)
                else [],
            ]
        )
        if not len(times):
            return self._still(faces(self.cast.begin))
        times = np.unique(times)
        scale = max(float(_level(f).max()) for t in times for f in faces(t))
        cuts = [float(times[0])]
        for a, b in zip(times[:-1].tolist(), times[1:].tolist(), strict=True):
            cuts += _straight(faces, a, b, RAMP * max(scale, 1e-9))
        acting = [faces(t) for t in cuts]
        laws, starts, rates = [self._acting(acting[0])], [0.0], [0.0]
        for i in range(len(cuts) - 1):
            same = all(_equal(a, b) for a, b in zip(acting[i], acting[i + 1], strict=True))
            laws.append(self._acting(acting[i], None if same else acting[i + 1]))
            starts.append(cuts[i])
            rates.append(0.0 if same else 1.0 / (cuts[i + 1] - cuts[i]))
        laws.append(self._acting(acting[-1]))
        return _Programme(np.array(cuts), np.array(laws), np.array([*starts, 0.0]), np.array([*rates, 0.0]))

    def _mould(self, dwell: float, born: float) -> list[tuple[float, np.ndarray]]:
        """Return the sections of a slice in the mould: where each ends [s], and its pair of laws (2, law)."""
        bent = self.factor.changes and bool(
            np.ptp(self.factor.at([born, born + dwell, *self.factor.time[self._inside(born, dwell)]]))
        )
        if not bent:
            key = (dwell, float(self.factor.at(born)))
            if key not in self._moulds:
                self._moulds[key] = self._mould_sections(dwell, born, np.empty(0))
            return self._moulds[key]
        return self._mould_sections(dwell, born, self.factor.time[self._inside(born, dwell)] - born)

    def _inside(self, born: float, dwell: float) -> np.ndarray:
        return (self.factor.time > born + 1e-9) & (self.factor.time < born + dwell - 1e-9)

    def _mould_sections(self, dwell: float, born: float, cuts: np.ndarray) -> list[tuple[float, np.ndarray]]:
        faces = mould_faces(self.found.law, dwell)
        found, begin = [], 0.0
        floor = self.cast.mould.floor
        for face in faces:
            pair = self._pair(face, face.ramps_to)
            end = float(face.end)
            rate = 0.0 if face.ramps_to is None else 1.0 / (end - begin)
            pair[0, LAW["turn_start"]], pair[0, LAW["turn_rate"]] = (begin, rate) if rate else (0.0, 0.0)
            if math.isfinite(floor):
                pair[:, LAW["lowest"]] = np.maximum(pair[:, LAW["lowest"]], floor)
            inner = cuts[(cuts > begin) & (cuts < end)]
            marks = [begin, *inner.tolist(), end]
            for a, b in pairwise(marks):
                found.append((b, self._scaled(pair, a, b, born, bool(rate))))
            begin = end
        return found

    def _scaled(self, pair: np.ndarray, a: float, b: float, born: float, turns: bool) -> np.ndarray:
        """Return a pair of laws times the factor of the panel from age `a` to age `b` [s]."""
        first, last = (float(f) for f in self.factor.at([born + a, born + b]))
        if first == last == 1.0:
            return pair
        columns = [LAW[name] for name in ("constant", "root", "decay", "lowest", "highest")]

        def times(law: np.ndarray, factor: float) -> np.ndarray:
            own = law.copy()
            own[columns] *= factor
            return own

        if first == last:
            scaled = np.stack([times(law, first) for law in pair])
            if not turns:
                scaled[1] = pair[1]
            return scaled
        law = [pair[0], pair[0]]
        if turns:  # both ends of the law itself, then of the factor
            start, rate = pair[0, LAW["turn_start"]], pair[0, LAW["turn_rate"]]
            law = [_between(pair, (age - start) * rate, columns) for age in (a, b)]
        scaled = np.stack([times(law[0], first), times(law[1], last)])
        scaled[0, LAW["turn_start"]], scaled[0, LAW["turn_rate"]] = a, 1.0 / (b - a)
        return scaled

    # slices

    def ages(self, own: Births, places: np.ndarray) -> np.ndarray:
        """Return the age at which slices first reach places [s], shape (slice, place)."""
        clock = self.cast.clock
        when = clock.when(own.label[:, None] + places) - own.time[:, None]
        found = np.where(places <= own.place[:, None], 0.0, np.maximum(when, 0.0))
        leave = clock.when(own.label + self.case.cutoff)
        still = clock.steady(own.time, leave) & (own.place == 0.0)
        speeds = clock.speed_at(own.time)
        for speed in np.unique(speeds[still]):
            found[still & (speeds == speed)] = steady(float(speed), self.case.cutoff).age(places)
        return found

    def lay(self, own: Births, *, sections: bool = False) -> SliceBatch:
        """Make slices ready for the march.

        Parameters
        ----------
        own : Births
            Which.
        sections : bool
            Whether to keep the field over the section all along the strand; else only at mould exit.

        Returns
        -------
        SliceBatch
        """
        base, case, count = self.base, self.case, len(own)
        borders = self.ages(own, self.ends)
        ends, laws = self._sections(own, borders)
        distance = base.distance
        kept = base.section_distance
        if sections:
            kept = np.unique(np.append(np.linspace(0.0, case.cutoff, 101), case.working_length))
        times, kept_times = self.ages(own, distance), self.ages(own, kept)
        stood_time, stood_place = self._stood(own)
        extra = (stood_time - own.time[:, None, None]).reshape(count, -1)
        order, every = None, times
        if extra.size and not np.isnan(extra).all():
            every = np.concatenate([times, np.where(np.isnan(extra), times[:, -1:], extra)], axis=1)
            sorting = np.argsort(every, axis=1, kind="stable")
            order = np.argsort(sorting, axis=1, kind="stable")
            every = np.take_along_axis(every, sorting, axis=1)
        heats = self._heats(own)
        table = base.slices[0].tables[0]
        poured = table.potential(np.array([heat.pouring for heat in heats]))
        faces = [(0, 1)] if base.slices[0].sides == 2 else [(k,) for k in range(len(self.sides))]
        slices, marched = [], []
        for block, which in zip(base.slices, faces, strict=True):
            acting = laws.copy() if len(faces) > 1 else laws
            if which == (1,):
                acting[:, :, 0] = laws[:, :, 1]
            if len(which) == 1:
                acting[:, :, 1] = self.nothing
            plan = self.book.schedule(ends, acting)
            initial = np.repeat(poured[:, None], block.grid.nodes, axis=1)
            made = replace(
                block,
                tables=(table,) * count,
                schedule=plan,
                initial=initial,
                times=times,
                profile_times=kept_times,
            )
            slices.append(made)
            marched.append(made if order is None else replace(made, times=every))
        batch = replace(
            base,
            places=tuple(range(count)),
            cases=(case,) * count,
            steels=(self.steel,) * count,
            heats=heats,
            throughputs=np.repeat(base.throughputs, count),
            paths=self._paths(own, borders),
            slices=tuple(slices),
            section_distance=kept,
            times=times,
            section_times=kept_times,
        )
        stay = np.diff(borders, axis=1, prepend=0.0)
        return SliceBatch(own, batch, tuple(marched), order, stood_time, stood_place, stay)

    def _heats(self, own: Births) -> tuple[Temperatures, ...]:
        """Return what each slice is born with; never below the liquidus."""
        if self.temperature is None:
            return self.base.heats * len(own)
        liquidus, drop = self.steel.liquidus, self.case.casting.meniscus_drop_K
        tundish = self.temperature.at(own.time)
        return tuple(
            Temperatures(float(t), max(float(t) - drop, liquidus), float(t) - liquidus) for t in tundish
        )

    def _stood(self, own: Births) -> tuple[np.ndarray, np.ndarray]:
        """Return clock of the readings (slice, stand, reading) [s], and where each slice stood (slice, stand) [m]."""
        stands = self.cast.clock.stands
        most = max((int((e - b) / _STOOD_EVERY) + 2 for b, e, _ in stands), default=0)
        time = np.full((len(own), len(stands), most), np.nan)
        place = np.full((len(own), len(stands)), np.nan)
        for k, (begin, end, length) in enumerate(stands):
            z = length - own.label
            inside = (own.time < end - 1e-9) & (z >= -1e-9) & (z < self.case.cutoff)
            grid = np.append(np.arange(begin, end, _STOOD_EVERY), end)
            readings = np.append(grid, np.full(most - len(grid), end))
            time[inside, k] = np.maximum(readings, own.time[inside, None])
            place[inside, k] = np.maximum(z[inside], 0.0)
        return time, place

    def _sections(self, own: Births, borders: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return ends (slice, section) [s] and laws (slice, section, 2, 2, law) of the schedule."""
        count = len(own)
        moulds = [
            self._mould(dwell, born)
            for dwell, born in zip(borders[:, 0].tolist(), own.time.tolist(), strict=True)
        ]
        most = max(map(len, moulds))
        first_ends = np.empty((count, most))
        first_laws = np.empty((count, most, 2, 2, len(LAW)))
        for i, mould in enumerate(moulds):
            full = mould + [mould[-1]] * (most - len(mould))
            first_ends[i] = [end for end, _ in full]
            first_laws[i] = np.stack([pair for _, pair in full])[:, None]
        ends, laws = [first_ends], [first_laws]
        for k, programme in enumerate(self.programmes):
            begin, end = own.time + borders[:, k], own.time + borders[:, k + 1]
            first = programme.cuts.searchsorted(begin + 1e-9, side="right")
            last = np.maximum(programme.cuts.searchsorted(end - 1e-9, side="left"), first)
            width = int((last - first).max()) + 1
            rows = np.minimum(first[:, None] + np.arange(width), last[:, None])
            own_ends = np.repeat(borders[:, k + 1 : k + 2], width, axis=1)
            inner = rows < last[:, None]
            if inner.any():
                cut = programme.cuts[np.minimum(rows, len(programme.cuts) - 1)] - own.time[:, None]
                own_ends = np.where(inner, cut, own_ends)
            own_laws = programme.laws[rows]
            rates = programme.rates[rows]
            if rates.any():
                turn = np.where(rates > 0, programme.starts[rows] - own.time[:, None], 0.0)
                own_laws[..., 0, LAW["turn_start"]] = turn[..., None]
                own_laws[..., 0, LAW["turn_rate"]] = rates[..., None]
            ends.append(own_ends)
            laws.append(own_laws)
        return np.concatenate(ends, axis=1), np.concatenate(laws, axis=1)

    def _paths(self, own: Births, borders: np.ndarray) -> CoolingPaths:
        """Return what cools the slices, in numbers."""
        base, case, count = self.base.paths, self.case, len(own)
        stretches = []
        for k, stretch in enumerate(base.stretches):
            made = stretch.each(lambda value, rank: np.repeat(spread(value, 1, rank), count, axis=0))
            water = self.water.get(stretch.name)
            if water is not None and water.changes and stretch.kind == "zone":
                mean = self.mean_over(water, own.time + borders[:, k - 1], own.time + borders[:, k])
                usual = float(np.asarray(stretch.water)[0])
                ratio = mean / usual if usual > 0 else np.ones(count)
                made = renewed(made, {"water": mean, "water_flux": made.water_flux * ratio[:, None]})
            stretches.append(made)
        dwell = np.maximum(borders[:, 0], 1e-3)
        speeds = np.maximum(self.cast.clock.speed_at(own.time), LEAST_ROLL_SPEED)
        stacked = case
        if np.ptp(speeds) or speeds[0] != case.speed:
            given = case.casting.model_copy(update={"speed_m_per_min": speeds / M_PER_MIN})
            stacked = replace(case, casting=given)
        mould = of_mould(
            mould_result(stacked, self.found, dwell), lambda value, rank: spread(value, count, rank)
        )
        return replace(
            base,
            stretches=tuple(stretches),
            faces=((),) * len(base.sides),
            ages=borders,
            mould=mould,
            notices=base.notices * count,
            laws=base.laws * count,
        )

    @staticmethod
    def mean_over(signal: Signal, begin: np.ndarray, end: np.ndarray) -> np.ndarray:
        """Return the mean of a signal between clock times [s]; its value where they are the same."""
        t, v = signal.time, signal.value
        sums = np.append(0.0, np.cumsum(0.5 * (v[1:] + v[:-1]) * np.diff(t)))

        def integral(at: np.ndarray) -> np.ndarray:
            i = np.clip(np.searchsorted(t, at, side="right") - 1, 0, len(t) - 1)
            return sums[i] + (at - t[i]) * 0.5 * (v[i] + np.interp(at, t, v))

        span = end - begin
        return np.where(
            span > 1e-9, (integral(end) - integral(begin)) / np.maximum(span, 1e-9), signal.at(begin)
        )


def _level(face: BoundaryCondition) -> np.ndarray:
    """Coefficient of the water and the rolls, over surface temperature where it depends on it [W m-2 K-1]."""
    parts = [np.asarray(h[1] if isinstance(h, tuple) else h) for h in (face.htc, face.roll_htc)]
    return np.atleast_1d(parts[0] + parts[1])


def _straight(faces: _Faces, a: float, b: float, within: float, deep: int = 10) -> list[float]:
    """Return clock times until `b` between which every coefficient may go straight [s]."""
    middle = 0.5 * (a + b)
    low, mid, high = faces(a), faces(middle), faces(b)
    off = max(
        float(np.abs(_level(m) - 0.5 * (_level(x) + _level(y))).max())
        for x, m, y in zip(low, mid, high, strict=True)
    )
    if off <= within or deep == 0:
        return [b]
    return _straight(faces, a, middle, within, deep - 1) + _straight(faces, middle, b, within, deep - 1)


def _equal(a: BoundaryCondition, b: BoundaryCondition) -> bool:
    return bool(np.array_equal(_level(a), _level(b)))


def _between(pair: np.ndarray, share: float, columns: list[int]) -> np.ndarray:
    """Return the law that one law has turned into another by a share."""
    own = pair[0].copy()
    finite = [c for c in columns if np.isfinite(pair[:, c]).all()]
    own[finite] = (1.0 - share) * pair[0, finite] + share * pair[1, finite]
    own[[LAW["turn_start"], LAW["turn_rate"]]] = 0.0
    return own
