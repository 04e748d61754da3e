"""The run of a cast: all slices marched, chunk by chunk, and what they say over clock and distance."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from solidify.assessment.finding import BREACHED, CLOSE, KEPT
from solidify.assessment.judge import Judgements, judged
from solidify.cast.definition import Cast
from solidify.cast.findings import SliceResults
from solidify.cast.layout import CastLayout, SliceBatch, births
from solidify.cast.march import march_slices_of
from solidify.cast.result import CastResult, LimitRow
from solidify.strand.assemble import AssembledBatch
from solidify.strand.profiles import read_at

__all__ = ["run_cast"]

CHUNK = 128
"""Slices marched together."""

PLACE_STEP = 0.25
"""Between two places at which the surface is kept [m]."""


def run_cast(
    cast: Cast, progress: Callable[[int, int], object] | None = None, chunk: int = CHUNK
) -> CastResult:
    """March every slice of a cast.

    Parameters
    ----------
    cast : Cast
        A cast.
    progress : callable, optional
        Called with the slices done and all of them, after each chunk.
    chunk : int
        Slices marched together; only one chunk is held in memory. Results do not depend on it.

    Returns
    -------
    CastResult

    Raises
    ------
    InputError
        If steel, mould and practice contradict one another.
    MarchError
        If a slice does not finish.
    """
    layout, own = CastLayout(cast), births(cast)
    marks = _places(layout)
    parts: dict[str, list[np.ndarray]] = {}
    rows: dict[str, LimitRow] = {}
    for first in range(0, len(own), chunk):
        some = own.of(np.arange(first, min(first + chunk, len(own))))
        made, drawn, results, stood = march_slices_of(layout, some)
        found = judged(results)
        _keep(parts, made, drawn, results, stood, found, marks)
        _worst(rows, found, first)
        if progress is not None:
            progress(first + len(some), len(own))
    whole = {name: np.concatenate(values) for name, values in parts.items()}
    return CastResult(cast, layout, own, layout.base.distance[marks], whole, rows)


def _places(layout: CastLayout) -> np.ndarray:
    """Return the rows of the output distances that are kept: an even step, borders, straightener, mould exit."""
    z, case = layout.base.distance, layout.case
    wanted = np.concatenate(
        [
            np.arange(0.0, case.cutoff + 1e-9, PLACE_STEP),
            layout.ends,
            [p for p in (*case.straightener, case.support_end, case.cutoff) if p <= case.cutoff],
        ]
    )
    return np.unique(np.abs(z[:, None] - wanted).argmin(axis=0))


def _keep(
    parts: dict[str, list[np.ndarray]],
    made: SliceBatch,
    drawn: AssembledBatch,
    results: SliceResults,
    stood: np.ndarray,
    found: Judgements,
    marks: np.ndarray,
) -> None:
    """Keep of a chunk what is asked for later, slices along the first axis."""
    march = drawn.march
    births_ = made.births.time[:, None]
    solid, seven = results.fraction_index(1.0), results.fraction_index(0.7)
    exit_at = results.working_length
    own = {
        "arrival": births_ + made.batch.times[:, marks],
        "surface": results.surface_temperature[:, :, marks].astype(np.float32),
        "centre_solid": results.centre_solid_fraction[:, marks].astype(np.float32),
        "shell_at_mould_exit": read_at(results.distance, results.shell_thickness[:, :, seven], exit_at).min(
            axis=1
        ),
        "solid_at": births_[:, 0] + march.centre_solidified[:, solid],
        "solid_07_at": births_[:, 0] + march.centre_solidified[:, seven],
        "superheat": results.superheat,
        "speed_at_birth": results.speed,
        "specific_water": results.summary["specific_water"],
        "metallurgical_length": results.last_liquid,
        "balance_error": results.balance_error,
        "flux_error": np.asarray(march.flux_error),
        "recount_error": np.asarray(march.recount_error),
        "table_error": np.asarray(march.table_error),
        "stood_place": made.stood_place,
        "stood_time": made.stood_time,
        "stood_surface": np.moveaxis(stood, 0, 1).astype(np.float32),
        "steps": np.asarray(march.steps),
        "value": found.value.T,
        "margin": found.margin.T,
        "verdict": found.verdict.T,
    }
    for name, value in own.items():
        parts.setdefault(name, []).append(value)


_RANK = {BREACHED: 3, CLOSE: 2, KEPT: 1}


def _worst(rows: dict[str, LimitRow], found: Judgements, first: int) -> None:
    """Keep of each limit the slice with the least margin, in words."""
    for k, name in enumerate(found.measures):
        verdict, margin = found.verdict[k], found.margin[k]
        known = np.isin(verdict, list(_RANK))
        if not known.any():
            if name not in rows and (verdict != -1).any():
                finding = found[int((verdict != -1).argmax())]
                said = next((f for f in finding.findings if f.name == name), None)
                if said is not None:
                    rows[name] = LimitRow(name, k, -1, said)
            continue
        worst = int(np.where(known, margin, np.inf).argmin())
        held = rows.get(name)
        if held is None or held.slice < 0 or margin[worst] < held.finding.margin:
            rows[name] = LimitRow(name, k, first + worst, found[worst][name])
