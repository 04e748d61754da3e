"""Margins: how far every finding of a strand may be off: for its inputs, its grid and its section treatment.

Two strands an input, with one standard deviation more and less of it, one on a coarser grid and one with longer steps
are marched beside the strand itself. What the section treatment is off by is known from trial sections. Up and down
excursions are added as independent errors, root of the sum of squares, each way by itself: a value that can only rise,
or that no longer freezes before the cut-off, keeps its lopsided band. docs/uncertainty.md says what each number rests
on.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from solidify.assessment.bands import Band, Bands, Effect
from solidify.assessment.judge import judged
from solidify.assessment.shifted import COARSER, INPUTS, coarse, error_range, error_size, with_errors
from solidify.case import Case
from solidify.sources import load_data
from solidify.strand.result import Result
from solidify.strand.result_batch import Results
from solidify.strand.solve import raise_first, solve_stacked

__all__ = ["bands_of", "error_bands", "shifted_cases"]

_DATA = load_data("uncertainty.toml")

SECTION, GRID = "section treatment", "grid and time step"
"""What moves a finding beside the inputs, as printed."""

NOISE = 1e-7
"""A finding that moves by less than this, relative, is not moved by an input [1]."""

SAFETY = 1.25 / 1.15
"""From the difference of two grids to a standard deviation [1]: a safety factor of 1.25 for an interval of 95 %
(Roache 1994), over 1.15 (ASME V&V 20; both from memory)."""

_CHECKED_TO = 0.75
"""Shell over half thickness at which its treatment error was found largest [1]; a thinner one has its part of it."""


def error_bands(case: Case, result: Result | None = None) -> Bands:
    """Estimate the error band of every finding from the ``[uncertainty]`` of the case.

    Parameters
    ----------
    case : Case
        A checked case.
    result : Result, optional
        Its strand if it has been marched already.

    Returns
    -------
    Bands
        To be given to `solidify.judge`. One standard deviation either way: about two strands in three lie
        inside for a finding that follows its inputs smoothly. Findings that nothing moves have no band.

    Raises
    ------
    InputError, MarchError
        If a shifted strand cannot be marched.
    """
    shifted = shifted_cases(case)
    cases = shifted if result is not None else [case, *shifted]
    groups, wrong = solve_stacked(cases, sections=False)
    raise_first(wrong, len(cases))
    found: dict[int, dict[str, float]] = {}
    for group in groups:
        judgements = judged(group.results)
        found |= {place: judgements.values(i) for i, place in enumerate(group.places)}
    values = [found[place] for place in range(len(cases))]
    own = values.pop(0) if result is None else judged(Results.of(result)).values(0)
    return bands_of(case, own, values)


def shifted_cases(case: Case) -> list[Case]:
    """Return the case with one standard deviation more and less of each input, and those for the numerical error.

    Parameters
    ----------
    case : Case
        A checked case.

    Returns
    -------
    list of Case
        Two for each input that has an error, more before less; the two of `solidify.assessment.shifted.coarse` last.
    """
    found = [with_errors(case, {name: e}) for name, pair in error_range(case).items() for e in pair]
    return [*found, *coarse(case)]


def bands_of(
    case: Case, values: Mapping[str, float], shifted: Sequence[Mapping[str, float]]
) -> dict[str, Band]:
    """Return the error bands of a strand from those marched beside it.

    Parameters
    ----------
    case : Case
        A checked case.
    values : mapping of str to float
        What was found for each limit of its strand, as `solidify.assessment.judge.Judgements.values`.
    shifted : sequence of mapping of str to float
        The same of the strands of `shifted_cases`.

    Returns
    -------
    dict of str to Band
        As of `error_bands`.
    """
    errors = error_range(case)
    bands = {}
    for name, value in values.items():
        *moved, fewer, longer = [v.get(name, math.nan) for v in shifted]
        pairs = dict(zip(errors, zip(moved[::2], moved[1::2], strict=True), strict=True))
        others = [
            _Move(GRID, 1.0, "", "numerical", *_both_ways(_grid_error(value, fewer, longer))),
            _Move(SECTION, *_treatment(case, name, value)),
        ]
        band = _band(value, _moves(value, pairs, errors, case), others, [*moved, fewer, longer])
        if band is not None:
            bands[name] = band
    return bands


def _grid_error(value: float, *coarser: float) -> float:
    """Estimate one standard deviation of the numerical error, of second order in spacing and in step."""
    off = [abs(other - value) for other in coarser if math.isfinite(other - value)]
    return SAFETY * math.hypot(*off) / (COARSER**2 - 1.0)


def _treatment(case: Case, name: str, value: float) -> tuple[float, str, str, float, float, float]:
    """Return what the section treatment does to a finding: its error and unit, the part, rise, fall and change."""
    sure, kind = case.uncertainty, _DATA["moved"].get(name)
    error, unit, off = 0.0, "%", 0.0
    if kind == "length":
        error = float(sure.section_length_percent or 0.0)
        length = case.cutoff - value if name == "last_liquid_cutoff" else value
        off = abs(length) * error / 100.0
    elif kind == "shell":
        error = float(sure.section_shell_percent or 0.0)
        off = abs(value) * error / 100.0 / _CHECKED_TO
    elif kind == "surface":
        error, unit = float(sure.section_surface_K or 0.0), "K"
        off = error
    return error, unit, "model", *_both_ways(off if math.isfinite(off) else 0.0)


def _both_ways(off: float) -> tuple[float, float, float]:
    return off, -off, off


class _Move(NamedTuple):
    """What one error does: its name, size and unit, its part of `PARTS`, and what it does to a value."""

    input: str
    error: float
    unit: str
    part: str
    rise: float
    fall: float
    change: float

    @property
    def spread(self) -> float:
        """From the lowest to the highest value."""
        return self.rise - self.fall


def _moves(
    value: float,
    pairs: Mapping[str, tuple[float, float]],
    errors: Mapping[str, tuple[float, float]],
    case: Case,
) -> list[_Move]:
    """Return what each input does, from the values found with more and with less of it."""
    found = []
    for name, (more, less) in pairs.items():
        changes = [0.0 if math.isnan(v) else v - value for v in (more, less)]
        up, down = errors[name]
        change = (changes[0] - changes[1]) / (up - down) * max(up, -down)
        rise, fall = max(*changes, 0.0), min(*changes, 0.0)
        found.append(_Move(name, error_size(case, name), INPUTS[name][1], "input", rise, fall, change))
    return found


def _band(
    value: float, moves: Sequence[_Move], others: Sequence[_Move] = (), seen: Sequence[float] = ()
) -> Band | None:
    """Combine what the inputs and all else do to a value; None where nothing moves it."""
    if math.isnan(value):
        return None
    if math.isinf(value):
        known = [v for v in seen if not math.isnan(v)]
        return Band(min([value, *known]), max([value, *known])) if any(v != value for v in known) else None
    found = [m for m in (*moves, *others) if m.spread > NOISE * max(abs(value), 1.0)]
    if not found:
        return None
    spreads = _shares([m.spread for m in found])
    effects = [
        Effect(m.input, m.error, m.unit, m.change, share, m.part)
        for m, share in zip(found, spreads, strict=True)
    ]
    effects.sort(key=lambda e: -e.share)
    rise, fall = math.hypot(*(m.rise for m in found)), math.hypot(*(m.fall for m in found))
    return Band(value - fall, value + rise, tuple(effects))


def _shares(spreads: Sequence[float]) -> list[float]:
    """Return each share of the variance; spreads without bound share it alone."""
    if any(map(math.isinf, spreads)):
        spreads = [float(math.isinf(s)) for s in spreads]
    total = math.fsum(s**2 for s in spreads)
    return [s**2 / total for s in spreads]
