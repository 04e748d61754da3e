"""What a march gives: profiles along the strand, the section, the zones, the heat, and figures drawn from it.

A `Result` is a value; it holds arrays and knows nothing of files, limits or pictures. Sides come first in
every array that has them: one row for ``"both"`` (equal cooling) or two for ``"loose"`` and ``"fixed"``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, fields, is_dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from solidify.errors import InputError, Notice, Problem
from solidify.strand.profiles import read_at

if TYPE_CHECKING:
    from solidify.case import Case
    from solidify.solver.grid import SectionWeight
    from solidify.steel import Steel

__all__ = ["ADDED", "ADDED_WORDS", "MECHANISMS", "SUMMARY", "Balance", "MouldResult", "Result", "ZoneResult"]

MECHANISMS = ("mould", "water", "radiation", "convection", "rolls", "prescribed")
"""What takes heat from the surface, in the order of every array with a mechanism axis."""

SUMMARY = {
    "shell_at_mould_exit": ("m", "shell thickness at mould exit, by solid fraction"),
    "surface_at_mould_exit": ("degC", "surface temperature at mould exit"),
    "mean_mould_heat_flux": ("W m-2", "mean heat flux over the working length of the mould"),
    "metallurgical_length": ("m", "end of solidification, m from the meniscus"),
    "solidification_time": ("s", "time from the meniscus to the end of solidification"),
    "length_at_solid_fraction_0_3": ("m", "distance from the meniscus where the centre is 0.3 solid"),
    "length_at_solid_fraction_0_7": ("m", "distance from the meniscus where the centre is 0.7 solid"),
    "length_at_solid_fraction_0_9": ("m", "distance from the meniscus where the centre is 0.9 solid"),
    "length_at_solid_fraction_0_99": ("m", "distance from the meniscus where the centre is 0.99 solid"),
    "meeting_depth": ("m", "depth from the loose-side surface where the two shells met at solid fraction 1"),
    "k_mould_exit": (
        "mm min-1/2",
        "K at mould exit, s = K sqrt(t), s from one side at the headline solid fraction",
    ),
    "k_mould_exit_at_solid_fraction_0_3": (
        "mm min-1/2",
        "K at mould exit of the shell at solid fraction 0.3",
    ),
    "k_mould_exit_at_solid_fraction_0_7": (
        "mm min-1/2",
        "K at mould exit of the shell at solid fraction 0.7",
    ),
    "k_mould_exit_equivalent": (
        "mm min-1/2",
        "K at mould exit of the equivalent solid, the integral of the solid fraction over the depth",
    ),
    "k_whole_machine": (
        "mm min-1/2",
        "K of the whole machine, half thickness over sqrt(solidification time)",
    ),
    "surface_at_straightener_in": ("degC", "surface temperature at the first straightening point"),
    "surface_at_straightener_out": ("degC", "surface temperature at the last straightening point"),
    "centre_solid_fraction_at_straightener_in": (
        "1",
        "centre solid fraction at the first straightening point",
    ),
    "surface_at_cutoff": ("degC", "surface temperature at the cut-off"),
    "centre_at_cutoff": ("degC", "centre temperature at the cut-off"),
    "specific_water": ("kg kg-1", "spray water per mass of steel (L/kg)"),
    "throughput": ("kg s-1", "steel cast on one strand, hot section at the density of 1000 degC"),
    "largest_reheating": ("K", "largest rise of the surface below the mould, local minimum to next maximum"),
    "largest_reheating_rate": ("K m-1", "largest rise of the surface over any 0.5 m wholly below the mould"),
    "largest_cooling_rate": (
        "K m-1",
        "largest fall of the surface over any 0.5 m wholly below the first zone",
    ),
}
"""Name -> (unit, meaning) of every figure in `Result.summary`; a figure that does not exist is NaN."""

ADDED = (
    *(f"length_at_solid_fraction_0_{digit}" for digit in (3, 7, 9)),
    *(f"k_mould_exit_{shell}" for shell in ("at_solid_fraction_0_3", "at_solid_fraction_0_7", "equivalent")),
)
"""Figures that older files of the same format do not hold; read from one, they are NaN."""

ADDED_WORDS = {"part": "input"}
"""Columns of words that older files of the same format do not hold, and what they would say in each row."""


@dataclass(frozen=True)
class ZoneResult:
    """One stretch of the strand: the mould, a cooling zone, or the open strand after the last zone.

    Parameters
    ----------
    name : str
        ``"mould"``, the zone's name, or ``"after the last zone"``.
    kind : str
        ``"mould"``, ``"zone"`` or ``"open"``.
    start, end : float
        Distances from the meniscus [m].
    water : float
        All water of the zone on one strand [kg s-1]; 0 when dry, NaN when only a coefficient or flux was
        given.
    water_flux : ndarray, shape (side,)
        Zone-mean water on the sprayed area [kg m-2 s-1]; NaN when not known.
    mean_flux : ndarray, shape (side,)
        Mean heat flux over the stretch [W m-2].
    heat_removed : ndarray, shape (side,)
        Heat taken from the slice [J m-2 of slice surface].
    surface_in, surface_out : ndarray, shape (side,)
        Surface temperature where the slice enters and leaves [degC].
    """

    name: str
    kind: str
    start: float
    end: float
    water: float
    water_flux: np.ndarray
    mean_flux: np.ndarray
    heat_removed: np.ndarray
    surface_in: np.ndarray
    surface_out: np.ndarray


@dataclass(frozen=True)
class MouldResult:
    """What the mould was taken to do.

    Parameters
    ----------
    mean_flux : float
        Mean heat flux over the dwell, after the factor [W m-2].
    exit_flux : float
        Flux at mould exit [W m-2].
    origin : str
        ``"panel"`` (water flow and rise), ``"mean flux"``, ``"means over speed"``, ``"law"`` or ``"handbook"`` (flux
        not measured).
    law : str
        The law in words, e.g. ``"q = 4.192 / √t MW/m2 (t in s), not above 2.6"``.
    dwell : float
        Working length over speed [s].
    working_length : float
        Meniscus to mould exit [m].
    expected_mean_flux : float
        What the plant calls normal, carried to this speed by the law in time [W m-2]; NaN when not given.
    water_rise : float
        Rise of the mould water that this flux means [K]; NaN without a flow.
    water_velocity : float
        Of the mould water in its gap or slots [m s-1]; NaN when their cross-section is not known.
    copper_hot_face : float
        Estimate of the copper's hot face, with the law's flux 60 mm below the meniscus [degC]; NaN without wall and
        gap.
    face : tuple of str
        Faces that the panel shows apart: ``"loose"``, ``"fixed"``, ``"left"``, ``"right"``; empty otherwise.
    face_flux : ndarray, shape (face,)
        Mean flux of each [W m-2].
    negative_strip_time : float
        In each cycle of the oscillation [s]; NaN when it is not given.
    negative_strip_ratio : float
        Mean speed of the mould over the casting speed, less 1 [1].
    mould_speed_ratio : float
        Peak speed of the mould over the casting speed [1].
    mark_pitch : float
        From oscillation mark to oscillation mark [m].
    taper_distance : ndarray, shape (n,)
        Places of the taper, from the meniscus [m]; empty when the shrinkage of the steel is not known.
    taper : ndarray, shape (n,)
        Taper that follows the free shrinkage of the shell, of the width, both sides together [m-1] (0.01 is
        1 %/m).
    taper_gap : ndarray, shape (n,)
        Gap on each side under the straight taper, or under `mean_taper` when none is given [m]; negative where
        the mould presses on the shell.
    mean_taper : float
        Straight taper that meets the free shrinkage at mould exit [m-1].
    single_taper : float
        Straight taper of the mould [m-1]; NaN when not given.
    """

    mean_flux: float
    exit_flux: float
    origin: str
    law: str
    dwell: float
    working_length: float
    expected_mean_flux: float = float("nan")
    water_rise: float = float("nan")
    water_velocity: float = float("nan")
    copper_hot_face: float = float("nan")
    face: tuple[str, ...] = ()
    face_flux: np.ndarray = field(default_factory=lambda: np.empty(0))
    negative_strip_time: float = float("nan")
    negative_strip_ratio: float = float("nan")
    mould_speed_ratio: float = float("nan")
    mark_pitch: float = float("nan")
    taper_distance: np.ndarray = field(default_factory=lambda: np.empty(0))
    taper: np.ndarray = field(default_factory=lambda: np.empty(0))
    taper_gap: np.ndarray = field(default_factory=lambda: np.empty(0))
    mean_taper: float = float("nan")
    single_taper: float = float("nan")

    @property
    def measured(self) -> bool:
        """Whether the flux is the plant's own; False where it is that of a handbook relation."""
        return self.origin != "handbook"


@dataclass(frozen=True)
class Balance:
    """Where the heat went, and three independent errors of the account.

    Parameters
    ----------
    heat : ndarray, shape (side, zone, mechanism)
        Heat removed [J m-2 of slice surface], mechanisms as in `MECHANISMS`.
    flux_error : float
        Flux sum against marched enthalpy lost, relative to the heat removed [1].
    table_error : float
        Largest difference of marched enthalpy and enthalpy read back from the table, over latent heat [1].
    recount_error : float
        Heat recounted from the final temperatures against the flux sum, relative [1].
    steps, rejected, iterations, nodes : int
        What the march took.
    handed : ndarray, shape (side, zone)
        Of the heat removed, what the slice of a rectangle had lost through parts of its cross-section that it gave up
        when its weight turned [J m-2 of slice surface]; the rest is what it has lost as it stands at the cut-off. 0 for
        other shapes, NaN from a file that does not hold it.
    """

    heat: np.ndarray
    flux_error: float
    table_error: float
    recount_error: float
    steps: int = 0
    rejected: int = 0
    iterations: int = 0
    nodes: int = 0
    handed: np.ndarray = None  # type: ignore[assignment]

    def __post_init__(self) -> None:
        if self.handed is None:
            object.__setattr__(self, "handed", np.full(self.heat.shape[:2], np.nan))

    @property
    def worst(self) -> float:
        """Worst of the three errors [1]."""
        return max(self.flux_error, self.table_error, self.recount_error)

    def share(self, mechanism: str) -> float:
        """Share of one mechanism in all heat removed [1], both sides together."""
        return float(self.heat[:, :, MECHANISMS.index(mechanism)].sum() / self.heat.sum())


def _sealed(value: Any) -> Any:
    """Return a value in which no array can be written to: what is handed out may be what others compute from."""
    if isinstance(value, np.ndarray):
        value = value.view()
        value.flags.writeable = False
    elif isinstance(value, dict):
        value = {key: _sealed(below) for key, below in value.items()}
    elif isinstance(value, ZoneResult | MouldResult | Balance):
        value = replace(value, **{f.name: _sealed(getattr(value, f.name)) for f in fields(value)})
    elif isinstance(value, tuple):
        value = tuple(map(_sealed, value))
    return value


def _alike(one: Any, other: Any) -> bool:
    """Whether two values hold the same, NaN like NaN."""
    if isinstance(one, np.ndarray) or isinstance(other, np.ndarray):
        one, other = np.asarray(one), np.asarray(other)
        return one.dtype.kind == other.dtype.kind and np.array_equal(
            one, other, equal_nan=one.dtype.kind == "f"
        )
    if isinstance(one, float) and isinstance(other, float):
        return one == other or (one != one and other != other)
    if type(one) is not type(other):
        return False
    if isinstance(one, tuple):
        return len(one) == len(other) and all(map(_alike, one, other))
    if isinstance(one, dict):
        return one.keys() == other.keys() and all(_alike(one[key], other[key]) for key in one)
    if is_dataclass(one) and any(isinstance(value, np.ndarray) for value in vars(one).values()):
        return all(_alike(getattr(one, f.name), getattr(other, f.name)) for f in fields(one) if f.compare)
    return bool(one == other)


@dataclass(frozen=True, eq=False)
class Result:
    """A strand, marched from the meniscus to the cut-off.

    Parameters
    ----------
    case : Case
        What was asked.
    steel : Steel
        The properties used.
    shape_treatment : str
        ``"flat (one-way)"``, ``"rectangle, mid-face"`` or ``"round"``.
    sides : tuple of str
        ``("both",)`` or ``("loose", "fixed")``.
    solid_fractions : ndarray, shape (fraction,)
        0.3, 0.7, 1.0 and the headline fraction if it is another [1].
    distance, time : ndarray, shape (distance,)
        From the meniscus [m] and [s].
    surface_temperature : ndarray, shape (side, distance)
        [degC].
    shell_thickness : ndarray, shape (side, fraction, distance)
        Depth of each solid fraction; the half thickness once it has reached the centre [m].
    equivalent_shell : ndarray, shape (side, distance)
        Integral of the solid fraction over the depth [m].
    centre_temperature, centre_solid_fraction : ndarray, shape (distance,)
        [degC] and [1].
    heat_flux, heat_transfer_coefficient : ndarray, shape (side, distance)
        [W m-2] and, against the water or ambient temperature, [W m-2 K-1].
    section_distance : ndarray, shape (section,)
        Where the whole section was kept [m].
    depth : ndarray, shape (depth,)
        From the (loose-side) surface [m].
    section_temperature, section_solid_fraction : ndarray, shape (section, depth)
        [degC] and [1].
    zones : tuple of ZoneResult
        The mould, each zone, and the open strand after the last.
    mould : MouldResult
        The mould in numbers.
    pouring_temperature, tundish_temperature, superheat : float
        At the meniscus [degC], in the tundish [degC] and over the liquidus in the tundish [K].
    half_thickness, thickness, width : float
        Hot, at mould exit [m]; a round has the diameter twice.
    balance : Balance
        The heat account.
    summary : dict of str to float or ndarray
        The figures of `SUMMARY`.
    sources : tuple of str
        Bibliography keys of the cooling relations used; the steel keeps its own.
    notices : tuple of Notice
        Warnings kept.
    created_by, created_at : str
        Version that made it, and when (ISO 8601).
    headline : float
        The headline solid fraction of the case [1].
    weight : SectionWeight or None
        Numbers of the weight of a rectangle's slice; None for other shapes and from a file that does not hold them.
    """

    case: Case
    steel: Steel
    shape_treatment: str
    sides: tuple[str, ...]
    solid_fractions: np.ndarray
    distance: np.ndarray
    time: np.ndarray
    surface_temperature: np.ndarray
    shell_thickness: np.ndarray
    equivalent_shell: np.ndarray
    centre_temperature: np.ndarray
    centre_solid_fraction: np.ndarray
    heat_flux: np.ndarray
    heat_transfer_coefficient: np.ndarray
    section_distance: np.ndarray
    depth: np.ndarray
    section_temperature: np.ndarray
    section_solid_fraction: np.ndarray
    zones: tuple[ZoneResult, ...]
    mould: MouldResult
    pouring_temperature: float
    tundish_temperature: float
    superheat: float
    half_thickness: float
    thickness: float
    width: float
    balance: Balance
    summary: dict[str, float | np.ndarray]
    sources: tuple[str, ...] = ()
    notices: tuple[Notice, ...] = ()
    created_by: str = ""
    created_at: str = ""
    headline: float = 0.7
    weight: SectionWeight | None = None

    def __post_init__(self) -> None:
        """Seal every array."""
        for f in fields(self):
            if f.name not in ("case", "steel", "notices"):
                object.__setattr__(self, f.name, _sealed(getattr(self, f.name)))

    def __eq__(self, other: object) -> bool:
        """Whether another result holds the same, but for when and by which version it was made."""
        if not isinstance(other, Result):
            return NotImplemented
        made = ("created_at", "created_by")
        return all(
            _alike(getattr(self, f.name), getattr(other, f.name)) for f in fields(self) if f.name not in made
        )

    __hash__ = None  # type: ignore[assignment]

    def at(self, values: np.ndarray, distance: float | Sequence[float]) -> np.ndarray:
        """Read a profile at one distance, or at several, by linear interpolation along its last axis.

        Parameters
        ----------
        values : ndarray, shape (..., distance)
            A profile of this result.
        distance : float or sequence of float, shape (m,)
            From the meniscus [m].

        Returns
        -------
        ndarray, shape (...) or (..., m)

        Raises
        ------
        InputError
            If a distance is not on the strand.
        """
        places = np.asarray(distance, dtype=float)
        end = float(self.distance[-1])
        if (places < -1e-9).any() or (places > end * (1 + 1e-9)).any():
            given = f"{places.min():g} to {places.max():g} m" if places.size > 1 else f"{float(places):g} m"
            raise InputError(Problem("distance from the meniscus", given, f"0 to {end:g} m"))
        return read_at(self.distance, values, distance)

    def fraction_index(self, fraction: float) -> int:
        """Return the row of a solid fraction in `shell_thickness`."""
        return int(abs(self.solid_fractions - fraction).argmin())
