"""Strands side by side: what a `Result` holds, with a leading strand axis, and readings that several judge by."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

import numpy as np

from solidify.errors import Notice
from solidify.strand.profiles import largest_rise, read_at, steepest
from solidify.strand.result import Result

if TYPE_CHECKING:
    from solidify.case import Case
    from solidify.steel import Steel

T = TypeVar("T")

__all__ = ["MOULD_FIGURES", "Segment", "Results"]

MOULD_FIGURES = (
    "mean_flux",
    "dwell",
    "expected_mean_flux",
    "water_rise",
    "water_velocity",
    "copper_hot_face",
    "negative_strip_time",
)
"""Figures of `solidify.strand.result.MouldResult` that limits and the summary look at."""


class Segment(NamedTuple):
    """A stretch of the strand: its name, its kind as in `solidify.strand.result.ZoneResult`, and where it lies [m]."""

    name: str
    kind: str
    start: float
    end: float


@dataclass(frozen=True)
class Results:
    """Strands that are laid out, made of the same steel and judged alike, side by side.

    Parameters
    ----------
    case : Case
        That of the first strand: what is read from it is the same for all.
    steel : Steel
        Of all of them.
    sides, solid_fractions, headline, distance, depth
        As in `solidify.strand.result.Result`.
    zones : tuple of Segment
        The mould, each zone, and the open strand after the last.
    working_length, thickness, width : float
        Meniscus to mould exit, and the hot section [m]; the width of a slab is that of the first.
    speed, superheat : ndarray, shape (strand,)
        [m s-1] and [K].
    surface_temperature, heat_flux : ndarray, shape (strand, side, distance)
        [degC] and [W m-2].
    shell_thickness : ndarray, shape (strand, side, fraction, distance)
        [m].
    centre_temperature, centre_solid_fraction : ndarray, shape (strand, distance)
        [degC] and [1].
    exit_temperature : ndarray, shape (strand, depth)
        Over the section at mould exit [degC].
    mean_flux : ndarray, shape (strand, side, zone)
        Mean heat flux over each stretch [W m-2].
    mould : mapping of str to ndarray, shape (strand,)
        The `MOULD_FIGURES`.
    flux_measured : ndarray of bool, shape (strand,)
        False where the mould flux is a handbook relation.
    balance_error : ndarray, shape (strand,)
        Worst of the three errors of the heat account [1].
    notices : tuple of tuple of Notice
        Warnings kept of each strand.
    summary : dict of str to ndarray, shape (strand,)
        The figures of `solidify.strand.result.SUMMARY`; of the shell at mould exit (strand, fraction).
    """

    case: Case
    steel: Steel
    sides: tuple[str, ...]
    solid_fractions: np.ndarray
    headline: float
    distance: np.ndarray
    depth: np.ndarray
    zones: tuple[Segment, ...]
    working_length: float
    thickness: float
    width: float
    speed: np.ndarray
    superheat: np.ndarray
    surface_temperature: np.ndarray
    heat_flux: np.ndarray
    shell_thickness: np.ndarray
    centre_temperature: np.ndarray
    centre_solid_fraction: np.ndarray
    exit_temperature: np.ndarray
    mean_flux: np.ndarray
    mould: Mapping[str, np.ndarray]
    flux_measured: np.ndarray
    balance_error: np.ndarray
    notices: tuple[tuple[Notice, ...], ...]
    summary: dict[str, np.ndarray]

    @classmethod
    def of(cls, result: Result) -> Results:
        """Return one strand by itself.

        Parameters
        ----------
        result : Result
            A marched strand.

        Returns
        -------
        Results
        """
        mould = result.mould
        row = int(abs(result.section_distance - mould.working_length).argmin())
        return cls(
            case=result.case,
            steel=result.steel,
            sides=result.sides,
            solid_fractions=result.solid_fractions,
            headline=result.headline,
            distance=result.distance,
            depth=result.depth,
            zones=tuple(Segment(z.name, z.kind, z.start, z.end) for z in result.zones),
            working_length=mould.working_length,
            thickness=result.thickness,
            width=result.width,
            speed=np.array([result.case.speed]),
            superheat=np.array([result.superheat]),
            surface_temperature=result.surface_temperature[None],
            heat_flux=result.heat_flux[None],
            shell_thickness=result.shell_thickness[None],
            centre_temperature=result.centre_temperature[None],
            centre_solid_fraction=result.centre_solid_fraction[None],
            exit_temperature=result.section_temperature[row : row + 1].astype(float),
            mean_flux=np.array([z.mean_flux for z in result.zones]).T[None],
            mould={name: np.array([getattr(mould, name)]) for name in MOULD_FIGURES},
            flux_measured=np.array([mould.measured]),
            balance_error=np.array([result.balance.worst]),
            notices=(result.notices,),
            summary={name: np.array([value]) for name, value in result.summary.items()},
        )

    def __len__(self) -> int:
        return len(self.speed)

    def fraction_index(self, fraction: float) -> int:
        """Return the row of a solid fraction in `shell_thickness`."""
        return int(abs(self.solid_fractions - fraction).argmin())

    @property
    def half_thickness(self) -> float:
        """Surface to centre [m]."""
        return 0.5 * self.thickness

    @cached_property
    def straightener(self) -> tuple[float, ...]:
        """Straightening points from the meniscus [m]."""
        return self.case.straightener

    @property
    def course(self) -> tuple[float, float | None, tuple[float, ...], tuple[float, ...] | None]:
        """The way the strand runs, as `solidify.assessment.strain.head` takes it."""
        machine = self.case.machine
        return self.case.vertical_length, machine.radius_m, self.straightener, machine.radius_after_m

    @cached_property
    def _readings(self) -> dict[Callable[[Results], Any], Any]:
        return {}

    def once(self, reading: Callable[[Results], T]) -> T:
        """Return a reading of these strands, computed the first time it is asked for.

        Parameters
        ----------
        reading : callable
            Takes these strands; its result depends on nothing else.

        Returns
        -------
        object
            What `reading` returned.
        """
        if reading not in self._readings:
            self._readings[reading] = reading(self)
        return self._readings[reading]

    @cached_property
    def last_liquid(self) -> np.ndarray:
        """End of solidification [m], infinite when the centre is not solid by the cut-off, shape (strand,)."""
        length = self.summary["metallurgical_length"]
        return np.where(np.isnan(length), math.inf, length)

    @cached_property
    def foot_rolls_end(self) -> float:
        """End of the first zone, taken as the foot rolls; of a strand without zones, mould exit [m]."""
        return next((z.end for z in self.zones if z.kind == "zone"), self.working_length)

    @cached_property
    def exit_shells(self) -> np.ndarray:
        """Shell at mould exit [m], shape (strand, side, fraction)."""
        return read_at(self.distance, self.shell_thickness, self.working_length)

    @cached_property
    def steepest_rise(self) -> tuple[np.ndarray, np.ndarray]:
        """Steepest rise of the surface over 0.5 m below the mould [K m-1] and where it begins [m], (strand, side)."""
        return steepest(self.distance, self.surface_temperature, self.working_length, self.case.cutoff)

    @cached_property
    def steepest_fall(self) -> tuple[np.ndarray, np.ndarray]:
        """Steepest fall below the foot rolls; as `steepest_rise`."""
        return self.steepest_fall_to(self.case.cutoff)

    def steepest_fall_to(self, end: float) -> tuple[np.ndarray, np.ndarray]:
        """Return the steepest fall between the foot rolls and a place [m]; as `steepest_rise`."""
        return steepest(self.distance, -self.surface_temperature, self.foot_rolls_end, end)

    @cached_property
    def largest_rise(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Largest rise of the surface below the mould [K], and where it begins and ends [m], (strand, side)."""
        return largest_rise(self.distance, self.surface_temperature, self.working_length, self.case.cutoff)

    def roll_speed(self, place: np.ndarray, pitch: np.ndarray) -> np.ndarray:
        """Return the speed with which a strand passes from roll to roll at places [m s-1], here everywhere the same."""
        return self.speed[:, None]

    def rise_below_mould(self, length: float = 1.0) -> np.ndarray:
        """Return the largest rise of the surface within a length [m] below the mould [K], shape (strand,)."""
        end = min(self.working_length + length, self.case.cutoff)
        rises, _, _ = largest_rise(self.distance, self.surface_temperature, self.working_length, end)
        return rises.max(axis=1)
