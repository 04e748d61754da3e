"""Margins: how far every finding of a strand moves for the plant's own input errors.

Two strands an input, with one standard deviation more and less of it, are marched as one batch beside the strand
itself. Up and down excursions are added as independent errors, root of the sum of squares, each way by itself:
a value that can only rise, or that no longer freezes before the cut-off, keeps its lopsided band.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from solidify.assessment.bands import Band, Bands, Effect
from solidify.assessment.judge import judged
from solidify.case import Case
from solidify.strand.result import Result
from solidify.strand.result_batch import Results
from solidify.strand.setup import case_steel, temperatures
from solidify.strand.solve import raise_first, solve_stacked

__all__ = ["INPUTS", "bands_of", "error_bands", "shifted_cases", "with_errors"]

INPUTS = {
    "superheat": ("superheat_K", "K"),
    "mould heat flux": ("heat_flux_percent", "%"),
    "spray heat transfer": ("spray_percent", "%"),
    "casting speed": ("speed_percent", "%"),
}
"""Input -> (its key under ``[uncertainty]``, unit of its error)."""

NOISE = 1e-7
"""A finding that moves by less than this, relative, is not moved by an input [1]."""

_SPEED, _FLUX_FACTOR, _SPRAY_FACTOR = (0.05, 12.0), (0.1, 3.0), (0.0, 10.0)
"""Ranges of the case file that a shifted case stays within."""


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
        inside for a finding that follows its inputs smoothly. Findings that no input moves have no band.

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
    """Return the case with one standard deviation more and less of each input that has an error.

    Parameters
    ----------
    case : Case
        A checked case.

    Returns
    -------
    list of Case
        Two for each input, more before less.

    Raises
    ------
    InputError
        If one of them is no case.
    """
    return [with_errors(case, {name: e}) for name, pair in _errors(case).items() for e in pair]


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
    errors = _errors(case)
    bands = {}
    for name, value in values.items():
        moved = [v.get(name, math.nan) for v in shifted]
        pairs = dict(zip(errors, zip(moved[::2], moved[1::2], strict=True), strict=True))
        band = _band(value, pairs, errors)
        if band is not None:
            bands[name] = band
    return bands


def with_errors(case: Case, errors: Mapping[str, float]) -> Case:
    """Return the case as it truly is when the plant's readings are off.

    A speed that is truly higher is so where the mould flux was measured too, and valves that follow the speed
    follow its reading. The spray error holds in every zone alike, and for a given whole flux as well. What
    would leave the range of the case file, or freeze the meniscus, stays at its edge.

    Parameters
    ----------
    case : Case
        As read on the panel.
    errors : mapping of str to float
        True less read, by input: ``"superheat"`` [K], ``"mould heat flux"``, ``"spray heat transfer"``,
        ``"casting speed"`` [%].

    Returns
    -------
    Case
    """
    changes: dict[str, object] = {}
    for name, error in errors.items():
        changes |= _CHANGES[name](case, error)
    return case.replace(changes)


def _errors(case: Case) -> dict[str, tuple[float, float]]:
    """Return the error up and down of each input that has one, as far down as the input goes."""
    found = {}
    for name, (key, _) in INPUTS.items():
        error = float(getattr(case.uncertainty, key))
        down = min(error, _superheat_left(case)) if name == "superheat" else error
        if error > 0:
            found[name] = (error, -down)
    return found


def _superheat_left(case: Case) -> float:
    steel = case_steel(case)
    return max(temperatures(case, steel).pouring - steel.liquidus, 0.0)


def _superheat(case: Case, error: float) -> dict[str, object]:
    error = max(error, -_superheat_left(case))
    casting = case.casting
    if casting.tundish_temperature_C is not None:
        return {"casting.tundish_temperature_C": casting.tundish_temperature_C + error}
    return {"casting.superheat_K": (casting.superheat_K or 0.0) + error}


def _flux(case: Case, error: float) -> dict[str, object]:
    return {"mould.heat_flux_factor": _times(case.mould.heat_flux_factor, error, *_FLUX_FACTOR)}


def _spray(case: Case, error: float) -> dict[str, object]:
    changes: dict[str, object] = {}
    for zone in case.zone:
        path = f"zone.{_quoted(zone.name)}"
        if zone.heat_flux_kW_per_m2 is not None:
            changes[f"{path}.heat_flux_kW_per_m2"] = _times(zone.heat_flux_kW_per_m2, error, 0.0, 20000.0)
        else:
            changes[f"{path}.spray_factor"] = _times(zone.spray_factor, error, *_SPRAY_FACTOR)
    return changes


def _speed(case: Case, error: float) -> dict[str, object]:
    changes: dict[str, object] = {
        "casting.speed_m_per_min": _times(case.casting.speed_m_per_min, error, *_SPEED)
    }
    measured = case.mould.measured_at_speed_m_per_min
    if measured is not None:
        changes["mould.measured_at_speed_m_per_min"] = _times(measured, error, *_SPEED)
    for zone in case.zone:
        path = f"zone.{_quoted(zone.name)}"
        for key, table in zone.tables().items():
            speeds, waters = np.array(table).T
            water = float(np.interp(case.casting.speed_m_per_min, speeds, waters))
            changes |= {f"{path}.{key}": None, f"{path}.{key.replace('at_speed', 'L_per_min')}": water}
    return changes


_CHANGES = {
    "superheat": _superheat,
    "mould heat flux": _flux,
    "spray heat transfer": _spray,
    "casting speed": _speed,
}


def _times(value: float, percent: float, low: float, high: float) -> float:
    return min(max(value * (1.0 + percent / 100.0), low), high)


def _quoted(name: str) -> str:
    escaped = name.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'


def _band(
    value: float,
    pairs: Mapping[str, tuple[float, float]],
    errors: Mapping[str, tuple[float, float]],
) -> Band | None:
    """Combine the values found with more and less of each input; None where none moves the finding."""
    if math.isnan(value):
        return None
    if math.isinf(value):
        seen = [v for pair in pairs.values() for v in pair if not math.isnan(v)]
        return Band(min([value, *seen]), max([value, *seen])) if any(v != value for v in seen) else None
    found = []
    for name, (more, less) in pairs.items():
        changes = [0.0 if math.isnan(v) else v - value for v in (more, less)]
        rise, fall = max(*changes, 0.0), min(*changes, 0.0)
        if rise - fall > NOISE * max(abs(value), 1.0):
            up, down = errors[name]
            found.append((name, rise, fall, (changes[0] - changes[1]) / (up - down) * up))
    if not found:
        return None
    spreads = _shares([rise - fall for _, rise, fall, _ in found])
    effects = [
        Effect(name, errors[name][0], INPUTS[name][1], change, share)
        for (name, _, _, change), share in zip(found, spreads, strict=True)
    ]
    effects.sort(key=lambda e: -e.share)
    rise, fall = math.hypot(*(f[1] for f in found)), math.hypot(*(f[2] for f in found))
    return Band(value - fall, value + rise, tuple(effects))


def _shares(spreads: Sequence[float]) -> list[float]:
    """Return each share of the variance; spreads without bound share it alone."""
    if any(map(math.isinf, spreads)):
        spreads = [float(math.isinf(s)) for s in spreads]
    total = math.fsum(s**2 for s in spreads)
    return [s**2 / total for s in spreads]
