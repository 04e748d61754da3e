"""What the march of a section gives along the machine, and how the slice of the same case compares with it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from solidify.errors import Notice
from solidify.strand.profiles import read_at

if TYPE_CHECKING:
    from solidify.case import Case

__all__ = [
    "BELOW_MOULD",
    "Map",
    "PointCheck",
    "SectionBalance",
    "SectionResult",
    "SectionZone",
    "SliceComparison",
]

BELOW_MOULD = 0.5
"""From so far below the mould on, surfaces of slice and section are compared [m]."""


@dataclass(frozen=True)
class SectionZone:
    """A stretch of the strand and the heat that the whole strand gives up in it.

    Parameters
    ----------
    name, kind : str
        As in `solidify.strand.result.ZoneResult`.
    start, end : float
        From the meniscus [m].
    water : float
        All water on one strand [kg s-1]; 0 when dry, NaN when not given.
    """

    name: str
    kind: str
    start: float
    end: float
    water: float


@dataclass(frozen=True)
class Map:
    """The temperature over a quarter (or half) section at one place.

    Parameters
    ----------
    name : str
        ``"mould exit"``, ``"first straightening point"`` or ``"cut-off"``.
    distance : float
        From the meniscus [m].
    temperature, solid_fraction : ndarray, shape (along, depth)
        [degC], [1].
    """

    name: str
    distance: float
    temperature: np.ndarray
    solid_fraction: np.ndarray


@dataclass(frozen=True)
class PointCheck:
    """A point of the surface at the straightener against the ductility criterion of the case.

    Parameters
    ----------
    point : str
        ``"middle of the wide face"``, ``"middle of the narrow face"`` or ``"corner"``.
    value : float
        Surface temperature that counts [degC].
    limit : str
        What the criterion asks of it, e.g. ``"≥ 900 °C"``.
    margin : float
        Signed room to the limit, positive where it is met [K]; NaN when not judged.
    margin_text : str
        The margin in words, e.g. ``"margin 20 K"`` or ``"short by 12 K"``.
    verdict : str
        ``"met"``, ``"marginal"``, ``"not met"`` or ``"not judged"``.
    where, note : str
        Where along the strand, and which case of the limit applies or why it is not judged.
    """

    point: str
    value: float
    limit: str
    margin: float
    margin_text: str
    verdict: str
    where: str
    note: str


@dataclass(frozen=True)
class SliceComparison:
    """The one-dimensional slice of the same case less the section, at the middle of the wide (loose-side) face.

    Parameters
    ----------
    slice_length : float
        End of solidification of the slice [m]; NaN when it does not get there.
    slice_shell : float
        Its shell at mould exit, headline solid fraction, loose side [m].
    length_percent : float
        End of solidification, of that of the section [%].
    shell : float
        Shell at mould exit [m].
    straightener_in, straightener_out : float
        Surface at the first and at the last straightening point [K]; NaN without them.
    largest, largest_at : float
        Largest difference of the surfaces from 0.5 m below the mould to the cut-off, signed [K], and where [m].
    slice_surface : ndarray, shape (side, distance)
        Surface temperature of the slice [degC].
    slice_centre : ndarray, shape (distance,)
        Its centre [degC].
    """

    slice_length: float
    slice_shell: float
    length_percent: float
    shell: float
    straightener_in: float
    straightener_out: float
    largest: float
    largest_at: float
    slice_surface: np.ndarray
    slice_centre: np.ndarray


@dataclass(frozen=True)
class SectionBalance:
    """Where the heat of the whole strand went, and three independent errors of the account.

    Parameters
    ----------
    heat : ndarray, shape (face, zone, mechanism)
        Heat removed from a metre of strand [J m-1]; faces as in `SectionResult.faces`, mechanisms as in
        `solidify.strand.result.MECHANISMS`.
    flux_error, table_error, recount_error : float
        As in `solidify.strand.result.Balance`.
    steps, rejected, iterations, nodes : int
        What the march took.
    """

    heat: np.ndarray
    flux_error: float
    table_error: float
    recount_error: float
    steps: int
    rejected: int
    iterations: int
    nodes: int

    @property
    def worst(self) -> float:
        """Worst of the three errors [1]."""
        return max(self.flux_error, self.table_error, self.recount_error)


@dataclass(frozen=True)
class SectionResult:
    """A section, marched from the meniscus to the cut-off.

    Parameters
    ----------
    case : Case
        What was asked.
    sides : tuple of str
        ``("both",)``, or ``("loose", "fixed")`` where the two wide faces differ and a half section was marched.
    solid_fractions : ndarray, shape (fraction,)
        0.3, 0.7, 1.0 and the headline fraction if it is another [1].
    headline : float
        The headline solid fraction of the case [1].
    distance, time : ndarray, shape (distance,)
        From the meniscus [m] and [s].
    wide_temperature, corner_temperature : ndarray, shape (side, distance)
        Surface at the middle of the wide face, and at the corner [degC].
    narrow_temperature, centre_temperature, hottest_temperature : ndarray, shape (distance,)
        Surface at the middle of the narrow face, middle of the section, and its hottest point [degC].
    wide_heat_flux, narrow_heat_flux : ndarray, shape (side, distance), (distance,)
        At the mid-faces [W m-2].
    wide_shell, narrow_shell : ndarray, shape (side, fraction, distance), (fraction, distance)
        Depth of each solid fraction under the mid-faces [m].
    equivalent_solid : ndarray, shape (distance,)
        Integral of the solid fraction over the section, by its area [1].
    depth, along : ndarray, shape (depth,), (along,)
        Nodes below the (loose-side) wide face, and from the narrow face [m].
    maps : tuple of Map
        At mould exit, at the first straightening point where there is one, at the cut-off.
    metallurgical_length, solidification_time : float
        End of solidification: the last point of the section is solid [m], [s]; NaN when not by the cut-off.
    zones : tuple of SectionZone
        The mould, each zone, and the open strand after the last.
    balance : SectionBalance
        The heat account.
    comparison : SliceComparison
        The slice of the same case beside it.
    checks : tuple of PointCheck
        Mid-faces and corner at the straightener; empty without straightening points.
    liquidus, solidus : float
        Of the steel [degC].
    superheat : float
        In the tundish [K].
    notices : tuple of Notice
        What a reader should know.
    created_by, created_at : str
        Version that made it, and when (ISO 8601).
    """

    case: Case
    sides: tuple[str, ...]
    solid_fractions: np.ndarray
    headline: float
    distance: np.ndarray
    time: np.ndarray
    wide_temperature: np.ndarray
    corner_temperature: np.ndarray
    narrow_temperature: np.ndarray
    centre_temperature: np.ndarray
    hottest_temperature: np.ndarray
    wide_heat_flux: np.ndarray
    narrow_heat_flux: np.ndarray
    wide_shell: np.ndarray
    narrow_shell: np.ndarray
    equivalent_solid: np.ndarray
    depth: np.ndarray
    along: np.ndarray
    maps: tuple[Map, ...]
    metallurgical_length: float
    solidification_time: float
    zones: tuple[SectionZone, ...]
    balance: SectionBalance
    comparison: SliceComparison
    checks: tuple[PointCheck, ...]
    liquidus: float
    solidus: float
    superheat: float
    notices: tuple[Notice, ...] = ()
    created_by: str = ""
    created_at: str = ""

    @property
    def faces(self) -> tuple[str, ...]:
        """Faces of the heat account: wide and narrow, or loose, narrow and fixed."""
        return ("wide", "narrow") if len(self.sides) == 1 else ("loose", "narrow", "fixed")

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
        """
        return read_at(self.distance, values, distance)

    def fraction_index(self, fraction: float) -> int:
        """Return the row of a solid fraction in the shells."""
        return int(abs(self.solid_fractions - fraction).argmin())
