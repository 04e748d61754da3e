"""Limits of the slices of a cast: as for a strand, but what a stand does is not taken for a rate along the strand."""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cached_property

import numpy as np

from solidify.cast.layout import SliceBatch
from solidify.strand.profiles import read_along, read_at, steepest
from solidify.strand.result_batch import Results

__all__ = ["SliceResults", "slice_results"]

_SPAN = 0.5
"""Length over which a rate along the strand is taken [m]."""

_SAME = 1e-9
"""Relative difference below which a slice has what the strand has in steady casting [1]."""


@dataclass(frozen=True)
class SliceResults(Results):
    """Slices of a cast side by side.

    Parameters
    ----------
    age : ndarray, shape (slice, distance)
        When each slice first reached the distances [s].
    stood : ndarray, shape (slice, stand)
        Where it stood [m]; NaN where it was not in the machine.

    Notes
    -----
    Half a metre in which the slice stood is left out of the rates along the strand: what happened there took minutes,
    not half a metre of travel.
    """

    age: np.ndarray
    stood: np.ndarray

    @cached_property
    def steepest_rise(self) -> tuple[np.ndarray, np.ndarray]:
        """As in `Results`, stretches with a stand left out."""
        return _moving(self, self.surface_temperature, self.working_length, self.case.cutoff)

    def steepest_fall_to(self, end: float) -> tuple[np.ndarray, np.ndarray]:
        """As in `Results`, stretches with a stand left out."""
        return _moving(self, -self.surface_temperature, self.foot_rolls_end, end)

    def roll_speed(self, place: np.ndarray, pitch: np.ndarray) -> np.ndarray:
        """Return the mean speed over a roll pitch to places, stands included, shape (slice, place) [m s-1]."""
        place = np.broadcast_to(place, (len(self), place.shape[-1]))
        before = np.maximum(place - np.nan_to_num(pitch, nan=0.5), 0.0)
        ages = [read_along(self.distance, self.age, z) for z in (before, place)]
        span = ages[1] - ages[0]
        own = self.speed[:, None]
        found = np.where(span > 0, (place - before) / np.where(span > 0, span, 1.0), own)
        return np.where(np.abs(found - own) < _SAME * own, own, found)


def _moving(
    results: SliceResults, values: np.ndarray, start: float, end: float
) -> tuple[np.ndarray, np.ndarray]:
    """Return the steepest rise between two places as `steepest`, of slices that stood on either side of the stand."""
    z = results.distance
    rates, places = (np.array(found) for found in steepest(z, values, start, end))
    own = np.flatnonzero(~np.isnan(results.stood).all(axis=1))
    if not len(own) or np.isnan(rates).all():
        return rates, places
    inner = z[(z > start) & (z < end)]
    marks = np.concatenate([[start], inner, [end]])
    begins = np.concatenate(
        [marks[marks + _SPAN <= end + 1e-12], marks[marks - _SPAN >= start - 1e-12] - _SPAN]
    )
    ahead, here = ((begins + _SPAN).tolist(), begins.tolist())
    rise = read_at(z, values[own], ahead) - read_at(z, values[own], here)
    # the reading at a place where it stood is that of its arrival, the next one is from after the stand
    k = np.searchsorted(z, results.stood[own] - 1e-9)
    low, high = z[np.clip(k - 1, 0, len(z) - 1)], z[np.clip(k + 1, 0, len(z) - 1)]
    inside = (begins + _SPAN > low[..., None] + 1e-9) & (begins < high[..., None] - 1e-9)
    inside = np.logical_and(inside, ~np.isnan(results.stood[own])[..., None])
    stood = np.logical_or.reduce(inside, axis=1)
    rise[np.broadcast_to(stood[:, None], rise.shape)] = -np.inf
    best = rise.argmax(axis=-1)
    most = rise.max(axis=-1) / _SPAN
    rates[own] = np.where(np.isinf(most), np.nan, most)
    places[own] = np.where(np.isinf(most), np.nan, begins[best])
    return rates, places


def slice_results(results: Results, made: SliceBatch, speed: np.ndarray) -> SliceResults:
    """Return results of slices that know when they were where.

    Parameters
    ----------
    results : Results
        From `solidify.strand.assemble.assemble`.
    made : SliceBatch
        What was marched.
    speed : ndarray, shape (slice,)
        Casting speed at birth [m s-1].

    Returns
    -------
    SliceResults
        With the rates and the specific water of the summary taken anew.
    """
    own = {f.name: getattr(results, f.name) for f in fields(Results)} | {"speed": speed}
    found = SliceResults(**own, age=made.batch.times, stood=made.stood_place)
    stretches = made.batch.paths.stretches
    per_metre = made.batch.throughputs[0] / results.case.speed
    zones = [k for k, s in enumerate(stretches) if s.kind == "zone"]
    metres = {k: stretches[k].end - stretches[k].start for k in zones}
    water = sum(np.asarray(stretches[k].water) * made.stay[:, k] / metres[k] for k in zones)
    usual = found.summary["specific_water"]
    found.summary["specific_water"] = np.where(
        np.abs(water / per_metre - usual) < _SAME * usual, usual, water / per_metre
    )
    found.summary["largest_reheating_rate"] = found.steepest_rise[0].max(axis=1)
    found.summary["largest_cooling_rate"] = found.steepest_fall[0].max(axis=1)
    return found
