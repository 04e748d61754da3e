"""From a case to what acts along the strand: the mould's flux law, each zone's water, coefficients and losses."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from solidify.case import Case
from solidify.errors import InputError, Notice, Problem
from solidify.primary import mould_faces, mould_law, mould_result
from solidify.result import MouldResult
from solidify.schedule import Face
from solidify.secondary import Stretch, bare_strand, zone_cooling
from solidify.steel import Steel
from solidify.strand import throughput

__all__ = ["CoolingPath", "Stretch", "Travel", "cooling_path", "steady"]


@dataclass(frozen=True)
class Travel:
    """Where a slice is at each age: piecewise linear, never backwards.

    Parameters
    ----------
    time, distance : ndarray, shape (n,)
        Age [s], increasing from 0, and distance from the meniscus [m], not decreasing from 0.
    """

    time: np.ndarray
    distance: np.ndarray

    def __post_init__(self) -> None:
        """Check the order of the points."""
        t, z = np.asarray(self.time, dtype=float), np.asarray(self.distance, dtype=float)
        if t.shape != z.shape or len(t) < 2 or t[0] != 0 or z[0] != 0:
            raise InputError(
                Problem("travel of the slice", do="two or more points, the first at age 0 and 0 m")
            )
        if (t[1:] <= t[:-1]).any() or (z[1:] < z[:-1]).any() or not np.isfinite(t + z).all():
            raise InputError(Problem("travel of the slice", do="ages must rise and distances must not fall"))

    def age(self, distance: np.ndarray | float) -> np.ndarray:
        """Return the age [s] at which the slice first reaches distances [m]."""
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
        i = self.distance[1:-1].searchsorted(z) + 1 if len(self.distance) > 2 else 1
        z0, z1 = self.distance[i - 1], self.distance[i]
        share = np.maximum(z - z0, 0.0) / (z1 - z0 + (z1 <= z0))
        return self.time[i - 1] + np.minimum(share, 1.0) * (self.time[i] - self.time[i - 1])


def steady(speed: float, length: float) -> Travel:
    """Return the travel of a slice at constant speed.

    Parameters
    ----------
    speed : float
        [m s-1].
    length : float
        How far [m].

    Returns
    -------
    Travel
    """
    return Travel(np.array([0.0, length / speed]), np.array([0.0, length]))


@dataclass(frozen=True)
class CoolingPath:
    """Everything that acts on a slice from the meniscus to the cut-off.

    Parameters
    ----------
    sides : tuple of str
        ``("both",)`` or ``("loose", "fixed")``.
    stretches : tuple of Stretch
        The mould, each zone, the open strand.
    faces : tuple of tuple of Face
        Per side, in the order of time.
    ages : ndarray, shape (stretch,)
        Age at which each stretch ends [s].
    mould : MouldResult
        The mould in numbers.
    travel : Travel
        Where the slice is when.
    sources : tuple of str
        Bibliography keys of the relations used.
    notices : tuple of Notice
        What a reader should know.
    """

    sides: tuple[str, ...]
    stretches: tuple[Stretch, ...]
    faces: tuple[tuple[Face, ...], ...]
    ages: np.ndarray
    mould: MouldResult
    travel: Travel
    sources: tuple[str, ...]
    notices: tuple[Notice, ...]


def _check_order(case: Case) -> None:
    if case.section.shape == "round":
        for zone in case.zone:
            if zone.water_loose_L_per_min != zone.water_fixed_L_per_min:
                raise InputError(
                    Problem(f'zone "{zone.name}"', "loose and fixed side differ", "equal sides for a round")
                )


def cooling_path(case: Case, steel: Steel, travel: Travel | None = None) -> CoolingPath:
    """Lay out what acts on a slice along the strand.

    Parameters
    ----------
    case : Case
        A checked case.
    steel : Steel
        Its steel, for the carbon factor of the handbook mould flux.
    travel : Travel, optional
        Where the slice is when; steady casting at the case's speed by default.

    Returns
    -------
    CoolingPath

    Raises
    ------
    InputError
        If no mould law can have the mean flux, a spray relation is unknown, or the travel ends early.
    """
    _check_order(case)
    travel = steady(case.speed, case.cutoff) if travel is None else travel
    found = mould_law(case, steel)
    dwell = float(travel.age(case.working_length))
    rate = throughput(case, steel)
    bounds = zip(case.zone, case.zone_bounds, strict=True)
    below = [zone_cooling(case, zone, start, end, rate) for zone, (start, end) in bounds]
    last = below[-1].stretch.end
    if last < case.cutoff:
        below.append(bare_strand(case, last, case.cutoff))
    unequal = any(made.unequal for made in below)
    sides = ("loose", "fixed") if unequal else ("both",)
    inlet, none = case.mould.water_inlet_C, np.full(1, np.nan)
    stretches = [
        Stretch("mould", "mould", 0.0, case.working_length, inlet, inlet, water_flux=none, coefficient=none)
    ]
    stretches += [made.stretch for made in below]
    ages = travel.age(np.array([s.end for s in stretches]))
    path = []
    for side in range(len(sides)):
        rows = mould_faces(found.law, dwell)
        rows += [replace(made.faces[side], end=float(age)) for made, age in zip(below, ages[1:], strict=True)]
        path.append(tuple(rows))
    notices = [*case.notices, *found.notices, *(n for made in below for n in made.notices)]
    if unequal and case.section.shape == "rectangle":
        text = "loose and fixed side differ: each half was marched by itself to the middle, so heat does not cross it"
        notices.append(Notice(text, "section"))
    return CoolingPath(
        sides,
        tuple(map(_two_sided, stretches) if unequal else stretches),
        tuple(path),
        ages,
        mould_result(case, found, dwell),
        travel,
        tuple(dict.fromkeys([*found.sources, *(key for made in below for key in made.sources)])),
        tuple(notices),
    )


def _two_sided(s: Stretch) -> Stretch:
    """Give both sides their own value where they are equal here but not everywhere."""
    if len(s.water_flux) > 1:
        return s
    return replace(s, water_flux=np.repeat(s.water_flux, 2), coefficient=np.repeat(s.coefficient, 2))
