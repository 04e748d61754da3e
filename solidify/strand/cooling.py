"""From a case to what acts along the strand: the mould's flux law, each zone's water, coefficients and losses."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, partial

import numpy as np

from solidify.case import Case
from solidify.errors import InputError, Notice, Problem, closest
from solidify.heat.mould import FluxLaw, doubtful, law_notices
from solidify.heat.spray_range import use_notices
from solidify.solver.boundary import BoundaryCondition
from solidify.steel import Steel
from solidify.strand.mould import MouldLaw, mould_faces, mould_law, mould_result, of_mould, stack_laws
from solidify.strand.result import MouldResult
from solidify.strand.setup import throughput
from solidify.strand.stacking import (
    Notices,
    merge_notices,
    notices_of,
    plain,
    renewed,
    row,
    spread,
    stack_cases,
    stack_numbers,
)
from solidify.strand.zones import CoolingSegment, Spraying, ZoneCooling, bare_strand, zone_cooling

__all__ = [
    "CoolingPath",
    "CoolingPaths",
    "History",
    "CoolingSegment",
    "Travel",
    "check_travel",
    "cooling_path",
    "cooling_paths",
    "steady",
]

RAMP = 0.005
"""How far a coefficient may be off while water changes linearly, as a share of the largest on the way [1]."""


@dataclass(frozen=True)
class Travel:
    """Where a slice is at each age: piecewise linear, never backwards.

    Parameters
    ----------
    time, distance : ndarray, shape (n,)
        Age [s], increasing from 0, and distance from the meniscus [m], not decreasing from 0. Of strands side by side
        the ages may have the shape (strand, n).
    """

    time: np.ndarray
    distance: np.ndarray

    def __post_init__(self) -> None:
        """Check the order of the points."""
        t, z = np.asarray(self.time, dtype=float), np.asarray(self.distance, dtype=float)
        if t.shape[-1:] != z.shape or len(z) < 2 or t[..., 0].any() or z[0] != 0:
            raise InputError(
                Problem("travel of the slice", do="two or more points, the first at age 0 and 0 m")
            )
        if (t[..., 1:] <= t[..., :-1]).any() or (z[1:] < z[:-1]).any() or not np.isfinite(t + z).all():
            raise InputError(Problem("travel of the slice", do="ages must rise and distances must not fall"))

    def age(self, distance: np.ndarray | float) -> np.ndarray:
        """Return the age [s] at which the slice first reaches distances [m], of each strand side by side."""
        z = np.asarray(distance, dtype=float)
        if z.size and float(z.max()) > self.distance[-1] * (1 + 1e-12):
            raise InputError(
                Problem(
                    "travel of the slice",
                    f"ends at {self.distance[-1]:g} m",
                    f"{float(z.max()):g} m or more",
                    do="let the slice travel to the cut-off",
                )
            )
        i = self.distance[1:-1].searchsorted(z) + 1 if len(self.distance) > 2 else np.ones((), dtype=int)
        z0, z1 = self.distance[i - 1], self.distance[i]
        share = np.maximum(z - z0, 0.0) / (z1 - z0 + (z1 <= z0))
        first, last = self.time[..., i - 1], self.time[..., i]
        if self.time.ndim > 1 and i.ndim < z.ndim:
            first, last = first[..., None], last[..., None]
        return first + np.minimum(share, 1.0) * (last - first)


def steady(speed: float | np.ndarray, length: float) -> Travel:
    """Return the travel of a slice at constant speed.

    Parameters
    ----------
    speed : float or ndarray, shape (strand,)
        [m s-1].
    length : float
        How far [m].

    Returns
    -------
    Travel
    """
    age = np.asarray(length / speed)
    return Travel(np.stack([np.zeros_like(age), age], axis=-1), np.array([0.0, length]))


@dataclass(frozen=True)
class History:
    """Speed and water while one slice comes down, piecewise linear in time.

    Parameters
    ----------
    time : ndarray, shape (n,)
        Clock time [s], rising.
    speed : ndarray, shape (n,)
        Casting speed [m s-1], 0 while the strand stands still.
    water : mapping of str to ndarray, shape (n,)
        All water on one strand [kg s-1] of each zone named; the others keep what their case says, and the sides
        their shares.
    born : float
        Clock time at which the slice leaves the meniscus [s].
    """

    time: np.ndarray
    speed: np.ndarray
    water: Mapping[str, np.ndarray] = field(default_factory=dict)
    born: float = 0.0

    def __post_init__(self) -> None:
        """Check all that can be without a case, and say all at once."""
        t, wrong = np.asarray(self.time, dtype=float), []
        rising = t.ndim == 1 and len(t) > 1 and bool(np.all(np.isfinite(t)) and np.all(np.diff(t) > 0))
        if not rising:
            given = ", ".join(f"{x:g}" for x in t.flat[:8]) + (", ... s" if t.size > 8 else " s")
            wrong.append(Problem("history: time", given, do="give two or more finite times that rise"))
        rows = {"speed": (self.speed, "m/s")} | {
            f'water of zone "{k}"': (w, "kg/s") for k, w in self.water.items()
        }
        for name, (values, unit) in rows.items():
            v = np.asarray(values, dtype=float)
            if v.shape != t.shape:
                given, allowed = f"{v.size} values", f"{t.size}, one for each time"
                wrong.append(Problem(f"history: {name}", given, allowed))
            elif not np.all(np.isfinite(v)) or np.any(v < 0):
                at = int(np.argmax(~(np.isfinite(v) & (v >= 0))))
                given = f"{v.flat[at]:g} {unit} at {t.flat[at]:g} s"
                wrong.append(Problem(f"history: {name}", given, f"finite, 0 {unit} or more"))
        if rising and not t[0] <= self.born < t[-1]:
            allowed = f"{t[0]:g} s or more, before {t[-1]:g} s"
            wrong.append(Problem("history: born", f"{self.born:g} s", allowed))
        if wrong:
            raise InputError(wrong)

    @cached_property
    def knots(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Age [s], speed [m s-1] and distance [m] of the slice where the speed bends."""
        t, v = np.asarray(self.time, dtype=float), np.asarray(self.speed, dtype=float)
        later = t > self.born
        ages = np.append(0.0, t[later] - self.born)
        speeds = np.append(np.interp(self.born, t, v), v[later])
        return ages, speeds, np.append(0.0, np.cumsum(0.5 * (speeds[1:] + speeds[:-1]) * np.diff(ages)))

    def age(self, distance: np.ndarray | float) -> np.ndarray:
        """Return the age [s] at which the slice first reaches distances [m]."""
        ages, speeds, z = self.knots
        i = np.clip(np.searchsorted(z, distance, side="left"), 1, len(z) - 1)
        gone = np.asarray(distance, dtype=float) - z[i - 1]
        gain = (speeds[i] - speeds[i - 1]) / (ages[i] - ages[i - 1])
        root = speeds[i - 1] + np.sqrt(np.maximum(speeds[i - 1] ** 2 + 2.0 * gain * gone, 0.0))
        return ages[i - 1] + np.where(gone > 0, 2.0 * gone / np.where(root > 0, root, 1.0), 0.0)

    def way(self, length: float) -> Travel | History:
        """Return where the slice is when, as far as `length` [m]; plain travel while the speed is steady."""
        _, speeds, z = self.knots
        if z[-1] < length * (1 - 1e-12):
            given, allowed = (
                f"the slice comes {z[-1]:g} m far by {self.time[-1]:g} s",
                f"{length:g} m, the cut-off",
            )
            raise InputError(
                Problem("history", given, allowed, do="let it go on for longer, or move the slice")
            )
        return steady(float(speeds[0]), length) if np.ptp(speeds) == 0 else self

    def water_of(self, zone: str, begin: float, end: float) -> tuple[np.ndarray, np.ndarray]:
        """Return ages [s] from `begin` to `end` between which the water of a zone is linear, and the water [kg s-1]."""
        t, w = np.asarray(self.time, dtype=float) - self.born, np.asarray(self.water[zone], dtype=float)
        ages = np.concatenate([[begin], t[(t > begin) & (t < end)], [end]])
        water = np.interp(ages, t, w)
        level = (water[1:-1] == water[:-2]) & (water[1:-1] == water[2:])
        keep = np.concatenate([[True], ~level, [True]])
        return ages[keep], water[keep]


@dataclass(frozen=True)
class CoolingPath:
    """Everything that acts on a slice from the meniscus to the cut-off.

    Parameters
    ----------
    sides : tuple of str
        ``("both",)`` or ``("loose", "fixed")``.
    stretches : tuple of CoolingSegment
        The mould, each zone, the open strand.
    faces : tuple of tuple of BoundaryCondition
        Per side, in the order of time.
    ages : ndarray, shape (stretch,)
        Age at which each stretch ends [s].
    mould : MouldResult
        The mould in numbers.
    travel : Travel or History
        Where the slice is when.
    sources : tuple of str
        Bibliography keys of the relations used.
    notices : tuple of Notice
        What a reader should know.
    """

    sides: tuple[str, ...]
    stretches: tuple[CoolingSegment, ...]
    faces: tuple[tuple[BoundaryCondition, ...], ...]
    ages: np.ndarray
    mould: MouldResult
    travel: Travel | History
    sources: tuple[str, ...]
    notices: tuple[Notice, ...]


def _check_order(case: Case) -> None:
    if case.section.shape == "round":
        for zone in case.zone:
            if zone.water_loose_L_per_min != zone.water_fixed_L_per_min:
                raise InputError(
                    Problem(f'zone "{zone.name}"', "loose and fixed side differ", "equal sides for a round")
                )


def _check_history(case: Case, history: History) -> None:
    """Refuse water for zones that the case does not have or does not cool by water."""
    zones, wrong = {zone.name: zone for zone in case.zone}, []
    for name in history.water:
        where = f'history: water of zone "{name}"'
        if name not in zones:
            near = closest(name, zones)
            wrong.append(Problem(where, "no such zone", ", ".join(zones), near))
        elif zones[name].heat_flux_kW_per_m2 is not None or zones[name].heat_transfer_W_per_m2K is not None:
            given = "its cooling is given as a number, whatever the water"
            wrong.append(Problem(where, given, "a zone with water", do="give the zone water in the case"))
    if wrong:
        raise InputError(wrong)


_Made = Callable[[float], ZoneCooling]


def _watered(
    history: History, name: str, make: _Made, begin: float, end: float
) -> tuple[ZoneCooling, list[tuple[BoundaryCondition, ...]]]:
    """Return a zone with the water it has on average, and what acts on both sides while the slice is in it."""
    ages, water = history.water_of(name, begin, end)
    mean = float(np.trapezoid(water, ages) / (end - begin)) if np.ptp(water) else float(water[0])
    several = [make(float(w)) for w in (mean, water.min(), water.max())]
    said = tuple(dict.fromkeys(notice for each in several for notice in each.notices[0]))
    sprays = tuple(own for each in several for own in each.sprays)
    return replace(several[0], notices=(said,), sprays=sprays), _changing(make, ages, water)


def _split(make: _Made, first: float, last: float, scale: float, deep: int = 12) -> list[float]:
    """Waters between which every coefficient may go straight: halved until the middle is near enough the law's."""
    low, middle, high = (make(w).faces for w in (first, 0.5 * (first + last), last))
    off = max(
        float(np.abs(_level(m) - 0.5 * (_level(a) + _level(b))).max())
        for a, m, b in zip(low, middle, high, strict=True)
    )
    if off <= RAMP * scale or deep == 0:
        return [last]
    half = 0.5 * (first + last)
    return _split(make, first, half, scale, deep - 1) + _split(make, half, last, scale, deep - 1)


def _level(face: BoundaryCondition) -> np.ndarray:
    """Coefficient of the water, over surface temperature where it depends on it [W m-2 K-1]."""
    return np.atleast_1d(face.htc[1] if isinstance(face.htc, tuple) else face.htc)


def _changing(make: _Made, ages: np.ndarray, water: np.ndarray) -> list[tuple[BoundaryCondition, ...]]:
    """What acts on the loose and on the fixed side while the water of a zone changes, stretch by stretch."""
    found = []
    scale = max(float(_level(face).max()) for w in set(water.tolist()) for face in make(w).faces)
    for i in range(len(ages) - 1):
        before, span = float(water[i]), float(water[i + 1] - water[i])
        for w in _split(make, before, float(water[i + 1]), scale) if span != 0 else [before]:
            end = (
                float(ages[i + 1]) if span == 0 else ages[i] + (w - water[i]) / span * (ages[i + 1] - ages[i])
            )
            then = make(w).faces if w != before else (None, None)
            found.append(
                tuple(
                    replace(f, end=float(end), ramps_to=b)
                    for f, b in zip(make(before).faces, then, strict=True)
                )
            )
            before = w
    return found


@dataclass(frozen=True)
class CoolingPaths:
    """What acts on the slices of strands that stand side by side.

    Parameters
    ----------
    sides : tuple of str
        ``("both",)`` or ``("loose", "fixed")``.
    stretches : tuple of CoolingSegment
        The mould, each zone, the open strand; every number but `start` and `end` with a leading strand axis: `water`
        and both temperatures (strand,), `water_flux` and `coefficient` (strand, side).
    faces : tuple of tuple of BoundaryCondition
        Per side, in the order of time; a number is of all the strands or an array of shape (strand,), see
        `solidify.solver.boundary.BoundaryCondition`.
    ages : ndarray, shape (strand, stretch)
        Age at which each stretch ends [s].
    mould : MouldResult
        The moulds in numbers, every one an array of shape (strand,), `face_flux` (strand, face); without `law`.
    travel : Travel or History
        Where the slices are when; `age` gives the shape (strand, distance) or, where all travel alike, (distance,).
    sources : tuple of str
        Bibliography keys of the relations used.
    notices : tuple of tuple of Notice
        What a reader should know of each strand.
    laws : tuple of FluxLaw
        What acts in the mould of each.
    """

    sides: tuple[str, ...]
    stretches: tuple[CoolingSegment, ...]
    faces: tuple[tuple[BoundaryCondition, ...], ...]
    ages: np.ndarray
    mould: MouldResult
    travel: Travel | History
    sources: tuple[str, ...]
    notices: tuple[tuple[Notice, ...], ...]
    laws: tuple[FluxLaw, ...]

    def __len__(self) -> int:
        return len(self.laws)

    def __getitem__(self, i: int) -> CoolingPath:
        travel = self.travel
        if isinstance(travel, Travel) and travel.time.ndim > 1:
            travel = Travel(travel.time[i], travel.distance)
        return CoolingPath(
            self.sides,
            tuple(s.each(lambda value, rank: row(value, i, rank)) for s in self.stretches),
            tuple(tuple(face.of(i) for face in side) for side in self.faces),
            self.ages[i],
            renewed(of_mould(self.mould, lambda x, rank: row(x, i, rank)), {"law": self.laws[i].words()}),
            travel,
            self.sources,
            self.notices[i],
        )


def cooling_path(case: Case, steel: Steel, travel: Travel | History | None = None) -> CoolingPath:
    """Lay out what acts on a slice along the strand.

    Parameters
    ----------
    case : Case
        A checked case.
    steel : Steel
        Its steel, for the carbon factor of the handbook mould flux.
    travel : Travel or History, optional
        Where the slice is when, and what water the zones then have; steady casting as in the case by default.

    Returns
    -------
    CoolingPath

    Raises
    ------
    InputError
        If no mould law can have the mean flux, a spray relation is unknown, the travel ends early, or a history
        waters zones that cannot be.
    """
    check_travel(case, travel)
    return cooling_paths([case], [mould_law(case, steel)], [throughput(case, steel)], travel)[0]


def check_travel(case: Case, travel: Travel | History | None) -> None:
    """Refuse a round that is cooled unevenly, and a history that does not fit the case.

    Parameters
    ----------
    case : Case
        A checked case.
    travel : Travel or History, optional
        As for `cooling_path`.

    Raises
    ------
    InputError
        If it does not fit.
    """
    _check_order(case)
    if isinstance(travel, History):
        _check_history(case, travel)
        travel.way(case.cutoff)


def cooling_paths(
    cases: Sequence[Case],
    found: Sequence[MouldLaw],
    throughputs: Sequence[float],
    travel: Travel | History | None = None,
) -> CoolingPaths:
    """Lay out what acts on the slices of strands that stand side by side.

    Parameters
    ----------
    cases : sequence of Case
        Checked cases of one layout: zones, section, machine and how each zone is cooled are the same, only the numbers
        of `solidify.strand.stacking.NUMBERS` differ.
    found : sequence of MouldLaw
        The law of each mould, of one kind and origin.
    throughputs : sequence of float
        Steel cast on each strand [kg s-1].
    travel : Travel or History, optional
        As for `cooling_path`; if a history changes the water of a zone, of one strand alone.

    Returns
    -------
    CoolingPaths

    Raises
    ------
    InputError
        If something is wrong with one of them.
    DivergentBatch
        If they go different ways, and so cannot stand side by side.
    """
    strands, case = len(cases), stack_cases(cases)
    history = travel if isinstance(travel, History) else None
    if history is not None:
        travel = history.way(case.cutoff)
    travel = steady(case.speed, case.cutoff) if travel is None else travel
    bounds = case.zone_bounds
    ends = [case.working_length, *(end for _, end in bounds)]
    ends += [case.cutoff] if ends[-1] < case.cutoff else []
    ages = travel.age(np.array(ends))
    dwell, rate = plain(ages[..., 0]), stack_numbers(throughputs)
    below: list[ZoneCooling] = []
    acting: list[list[tuple[BoundaryCondition, ...]]] = []  # a list for each zone, its stretches in time
    for i, (zone, (start, end)) in enumerate(zip(case.zone, bounds, strict=True)):
        if history is not None and zone.name in history.water:
            make = partial(zone_cooling, case, zone, start, end, rate)
            made, faces = _watered(history, zone.name, make, float(ages[i]), float(ages[i + 1]))
        else:
            made = zone_cooling(case, zone, start, end, rate)
            faces = [_until(plain(ages[..., i + 1]), *made.faces)]
        below.append(made)
        acting.append(faces)
    if len(ends) > 1 + len(bounds):
        below.append(bare_strand(case, ends[-2], case.cutoff))
        acting.append([_until(plain(ages[..., -1]), *below[-1].faces)])
    unequal = any(made.unequal for made in below)
    sides = ("loose", "fixed") if unequal else ("both",)
    inlet, none = case.mould.water_inlet_C, np.full(1, np.nan)
    stretches = [
        CoolingSegment(
            "mould", "mould", 0.0, case.working_length, inlet, inlet, water_flux=none, coefficient=none
        )
    ]
    stretches += [made.stretch for made in below]
    law = replace(
        found[0],
        law=stack_laws([each.law for each in found]),
        normal=None
        if found[0].normal is None
        else stack_laws([each.normal for each in found if each.normal]),
    )
    path = [
        tuple([*mould_faces(law.law, dwell), *(faces[side] for zone in acting for faces in zone)])
        for side in range(len(sides))
    ]
    said = []
    if history is not None:
        text = (
            "speed and water followed a history; what is judged by a casting speed takes the one of the case"
        )
        said.append(Notice(text, "history"))
    if unequal and case.section.shape == "rectangle":
        text = "loose and fixed side differ: each half was marched by itself to the middle, so heat does not cross it"
        said.append(Notice(text, "section"))
    now = case.working_length / case.speed
    notices = merge_notices(
        tuple([each.notices for each in cases]),
        tuple([each.notices for each in found]),
        notices_of(doubtful(law.law, now), lambda i: law_notices(found[i].law, row(now, i))),
        *(made.notices for made in below),
        *_spray_notices(below),
        (tuple(said),),
    )
    return CoolingPaths(
        sides,
        tuple(_full(s, strands, len(sides)) for s in stretches),
        tuple(path),
        spread(ages, strands, 1),
        of_mould(mould_result(case, law, dwell), lambda value, rank: spread(value, strands, rank)),
        travel,
        tuple(dict.fromkeys([*found[0].sources, *(key for made in below for key in made.sources)])),
        notices,
        tuple(each.law for each in found),
    )


def _spray_notices(below: Sequence[ZoneCooling]) -> list[Notices]:
    """Return what is said of the spray relations, each of them once a strand."""
    sprays = [(own, i == 0) for i, made in enumerate(below) for own in made.sprays]
    found = []
    for name in dict.fromkeys(own.relation for own, _ in sprays):
        mine = [(own, first) for own, first in sprays if own.relation == name]
        special = np.zeros((), dtype=bool)
        for own, first in mine:
            special = special | own.outside | (own.foot_roll_water & first)
        found.append(notices_of(np.asarray(special), partial(_said_of_relation, name, mine)))
    return found


def _said_of_relation(name: str, sprays: Sequence[tuple[Spraying, bool]], strand: int) -> tuple[Notice, ...]:
    return use_notices(name, [own.use(strand, first) for own, first in sprays])


def _until(
    end: float | np.ndarray, loose: BoundaryCondition, fixed: BoundaryCondition
) -> tuple[BoundaryCondition, BoundaryCondition]:
    """Let what acts on both sides end at an age."""
    first = renewed(loose, {"end": end})
    return first, first if fixed is loose else renewed(fixed, {"end": end})


def _full(s: CoolingSegment, strands: int, sides: int) -> CoolingSegment:
    """Give every strand and, where they are equal here but not everywhere, both sides a value of their own."""

    def full(value: np.ndarray, rank: int) -> np.ndarray:
        if rank and sides > value.shape[-1]:
            value = np.repeat(value, sides, axis=-1)
        return spread(value, strands, rank)

    return s.each(full)
