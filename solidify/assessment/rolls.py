"""The rolls of slabs: shell and bulging between them while the core is liquid, and what both strain."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from solidify.assessment import strain
from solidify.strand.profiles import read_along
from solidify.strand.result_batch import Results, Segment
from solidify.units import MM

__all__ = ["OnRolls", "bulging_at", "on_rolls", "roll_strain", "roll_strains", "slab_rolls", "solid_shell"]


@dataclass(frozen=True)
class OnRolls:
    """Places that bear on rolls: the points of each zone with rolls above a liquid core, and the last liquid itself.

    Parameters
    ----------
    place, pitch : ndarray, shape (strand, place)
        From the meniscus, and the roll pitch there [m].
    shell : ndarray, shape (strand, place)
        Solid shell, loose side [m].
    deflection : ndarray, shape (strand, place)
        Bulging half-way between two rolls [m]; NaN where there is no liquid core or no shell.
    error : float
        One roll out of line [m].
    """

    place: np.ndarray
    pitch: np.ndarray
    shell: np.ndarray
    deflection: np.ndarray
    error: float

    @property
    def strains(self) -> tuple[np.ndarray, np.ndarray]:
        """Strain at the freezing front from bulging and from one roll out of line [1], NaN as `deflection`."""
        return _strains(self.deflection, self.pitch, self.shell, self.error)


def slab_rolls(results: Results) -> list[tuple[Segment, float]]:
    """Return the zones of a slab that give their roll pitch [m].

    Parameters
    ----------
    results : Results
        Marched strands.

    Returns
    -------
    list of Segment and float
    """
    if results.case.section.shape != "slab":
        return []
    zones = [z for z in results.zones if z.kind == "zone"]
    pitches = [z.roll_pitch_m for z in results.case.zone]
    return [(z, p) for z, p in zip(zones, pitches, strict=True) if p is not None]


def on_rolls(results: Results) -> OnRolls | None:
    """Return what the rolls of a slab bear.

    Parameters
    ----------
    results : Results
        Marched strands.

    Returns
    -------
    OnRolls or None
        None where no zone gives its roll pitch.
    """
    rolls = slab_rolls(results)
    if not rolls:
        return None
    length = results.last_liquid[:, None]
    place, pitch, ends = _points(results.distance.tobytes(), tuple((z.start, z.end, p) for z, p in rolls))
    some = int(place.searchsorted(length.max(), "right"))
    place, pitch, ends = place[:some], pitch[:some], ends[:some]
    last = np.where(np.isinf(length), 0.0, length)
    own = np.full(last.shape, math.nan)
    for zone, p in rolls:
        own[(zone.start < last) & (last < zone.end)] = p
    parts = [_borne(results, place, pitch), _borne(results, last, own)]
    shell, deflection = (np.concatenate(pair, axis=1) for pair in zip(*parts, strict=True))
    deflection[:, :some][np.where(ends, place > length, place >= length)] = math.nan
    shape = len(results), some
    return OnRolls(
        np.concatenate((np.broadcast_to(place, shape), last), axis=1),
        np.concatenate((np.broadcast_to(pitch, shape), own), axis=1),
        shell,
        deflection,
        roll_error(results),
    )


@lru_cache(maxsize=64)
def _points(
    distance: bytes, rolls: tuple[tuple[float, float, float], ...]
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return the points of zones with rolls, both ends of each included, the pitch there, and which ends a zone."""
    z, places, counts = np.frombuffer(distance), [], []
    for start, end, _ in rolls:
        inner = z[z.searchsorted(start, "right") : z.searchsorted(end)]
        places.append(np.array([start, *inner, end]))
        counts.append(len(inner) + 2)
    ends = np.zeros(sum(counts), dtype=bool)
    ends[np.cumsum(counts) - 1] = True
    return np.concatenate(places), np.repeat([p for _, _, p in rolls], counts), ends


def _borne(results: Results, place: np.ndarray, pitch: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return solid shell and bulging at some places (strand, place) [m]; no bulging without a shell: NaN."""
    pressure = strain.ferrostatic_pressure(strain.head(place, *results.course))
    surface = read_along(results.distance, results.surface_temperature[:, 0], place)
    shell = solid_shell(results, place)
    solidus, speed = results.steel.solidus, results.roll_speed(place, pitch)
    bare = np.where(shell > 0, shell, math.nan)
    return shell, strain.bulging(pressure, pitch, bare, surface, solidus, speed)


def roll_error(results: Results) -> float:
    """Return by how much one roll is out of line [m]."""
    return results.case.machine.roll_gap_tolerance_mm * MM


def _strains(
    deflection: np.ndarray, pitch: np.ndarray, shell: np.ndarray, error: float
) -> tuple[np.ndarray, np.ndarray]:
    misaligned = strain.misalignment_strain(error, pitch, shell)
    return strain.bulging_strain(deflection, pitch, shell), np.where(np.isnan(deflection), np.nan, misaligned)


def bulging_at(results: Results, place: np.ndarray, pitch: np.ndarray) -> np.ndarray:
    """Return the bulging at some places.

    Parameters
    ----------
    results : Results
        Marched strands.
    place, pitch : ndarray, shape (place,)
        From the meniscus, and roll to roll [m].

    Returns
    -------
    ndarray, shape (strand, place)
        Loose side [m]; NaN without a solid shell.
    """
    return _borne(results, place, pitch)[1]


def roll_strain(results: Results, place: np.ndarray, pitch: np.ndarray) -> np.ndarray:
    """Return the strain at the freezing front from bulging and one roll out of line together.

    Parameters
    ----------
    results, place, pitch
        As for `bulging_at`.

    Returns
    -------
    ndarray, shape (strand, place)
        [1]; NaN without a solid shell.
    """
    bulged, misaligned = roll_strains(results, place, pitch)
    return bulged + misaligned


def roll_strains(results: Results, place: np.ndarray, pitch: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return the strains at the freezing front from bulging and from one roll out of line.

    Parameters
    ----------
    results, place, pitch
        As for `bulging_at`.

    Returns
    -------
    bulged, misaligned : ndarray, shape (strand, place)
        [1]; NaN without a solid shell.
    """
    shell, deflection = _borne(results, place, pitch)
    return _strains(deflection, pitch, shell, roll_error(results))


def solid_shell(results: Results, place: np.ndarray) -> np.ndarray:
    """Return the solid shell (solid fraction 1.0) at some places.

    Parameters
    ----------
    results : Results
        Marched strands.
    place : ndarray, shape (place,) or (strand, place)
        From the meniscus [m].

    Returns
    -------
    ndarray, shape (strand, place)
        Loose side [m].
    """
    shell = results.shell_thickness[:, 0, results.fraction_index(1.0)]
    return read_along(results.distance, shell, place)
