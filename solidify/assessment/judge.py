"""Findings: a strand judged against the limits of the trade or the user's own, with verdict and margin."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property, lru_cache, partial
from typing import Any

import numpy as np

from solidify.assessment.bands import Band
from solidify.assessment.breakout import STATEMENT, BreakoutRisk, Reason, breakout_risk, risk_of, weigh
from solidify.assessment.checks import MEASURES, Measure, Resolve, Words, setting_of
from solidify.assessment.finding import NO_LIMIT, NOT_JUDGED, VERDICTS, Finding, room_words, verdicts
from solidify.assessment.limits import Limit, Setting, limit, names, room_to
from solidify.strand.result import Result
from solidify.strand.result_batch import Results

__all__ = [
    "STATEMENT",
    "VERDICTS",
    "BreakoutRisk",
    "Finding",
    "Judgement",
    "Judgements",
    "Reason",
    "judge",
    "judged",
    "limits_of",
    "setting_of",
]


_NO_BAND = Band(math.nan, math.nan)


@dataclass(frozen=True)
class Judgement:
    """A strand judged.

    Parameters
    ----------
    findings : tuple of Finding
        Hard ones first.
    breakout : BreakoutRisk
        What a mid-face slice can say about it.
    """

    findings: tuple[Finding, ...]
    breakout: BreakoutRisk

    def __getitem__(self, name: str) -> Finding:
        """Return a finding by name."""
        for finding in self.findings:
            if finding.name == name:
                return finding
        raise KeyError(name)

    @property
    def worst(self) -> str:
        """Worst verdict of all findings."""
        found = {f.verdict for f in self.findings}
        return next((v for v in ("breached", "close", "kept") if v in found), "not judged")

    @property
    def binding(self) -> Finding | None:
        """The hard limit with the least room, see `Finding.widths_of_room`; None when none is judged."""
        return self._least("hard")

    @property
    def binding_soft(self) -> Finding | None:
        """The soft limit with the least room, see `Finding.widths_of_room`; None when none is judged."""
        return self._least("soft")

    def _least(self, hardness: str) -> Finding | None:
        found = [f for f in self.findings if f.judged and f.hardness == hardness]
        return min(found, key=lambda f: f.widths_of_room, default=None)


@dataclass(frozen=True)
class Judgements:
    """Strands side by side judged: a row for each limit, a column for each strand, in the unit of the limit.

    Parameters
    ----------
    measures : mapping of str to Measure
        What was found for each limit.
    rules : mapping of str to tuple of Limit
        The limit itself; where it depends on the place, those that it can be, as in `Measure.rule`.
    value, margin, close : ndarray, shape (limit, strand)
        What was found, its room and the close width; the last two NaN where nothing is judged.
    numbers : sequence of ndarray, shape (limit, strand)
        As `solidify.assessment.limits.Limit.numbers`.
    rise : ndarray, shape (strand,)
        Largest rise of the surface within the first metre below the mould [K].
    flux_measured : ndarray of bool, shape (strand,)
        False where the mould flux is a handbook relation.
    factor : float
        Unevenness of the shell, thinnest over mean [1].
    bands : sequence of mapping of str to Band
        Error bands of each strand; empty while none are known. `dataclasses.replace` gives others.
    """

    measures: Mapping[str, Measure]
    rules: Mapping[str, tuple[Limit, ...]]
    value: np.ndarray
    margin: np.ndarray
    close: np.ndarray
    numbers: Sequence[np.ndarray]
    rise: np.ndarray
    flux_measured: np.ndarray
    factor: float
    bands: Sequence[Mapping[str, Band]] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the limits, in the order of the rows."""
        return tuple(self.measures)

    @cached_property
    def band(self) -> np.ndarray:
        """Ends of the error bands, shape (2, limit, strand); NaN where none is known."""
        ends = np.full((2, *self.value.shape), math.nan)
        rows = {name: k for k, name in enumerate(self.measures)}
        for i, own in enumerate(self.bands):
            for name in own.keys() & rows.keys():
                ends[:, rows[name], i] = own[name].low, own[name].high
        return ends

    @cached_property
    def verdict(self) -> np.ndarray:
        """Places in `VERDICTS`, shape (limit, strand); `NO_LIMIT` where the limit does not apply."""
        found = verdicts(self.margin, self.close, *self.band, *self.numbers)
        found[np.isnan(self.margin)] = NOT_JUDGED
        optional = [k for k, measure in enumerate(self.measures.values()) if measure.optional]
        found[optional] = np.where(np.isnan(self.value[optional]), NO_LIMIT, found[optional])
        return found

    @cached_property
    def weights(self) -> dict[str, np.ndarray]:
        """Weight of each reason for a breakout, as `solidify.assessment.breakout.weigh`."""
        told = dict(zip(self.measures, self.verdict, strict=True))
        return weigh(told, self.hard, self.rise, self.rules["reheating_total"][0].upper)

    @cached_property
    def risk(self) -> np.ndarray:
        """Place in `solidify.assessment.breakout.WORDS`, shape (strand,)."""
        return risk_of(self.weights)

    @property
    def limit(self) -> np.ndarray:
        """The least and the largest value that keep each limit, (2, limit, strand); NaN where there is none."""
        bounds = np.array(self.numbers[:2])
        bounds[np.isinf(bounds) | (self.verdict == NO_LIMIT)] = math.nan
        return bounds

    @property
    def hard(self) -> dict[str, int]:
        """The row of each hard limit."""
        rows = enumerate(self.rules.items())
        return {name: k for k, (name, rules) in rows if rules[0].hardness == "hard"}

    def values(self, i: int) -> dict[str, float]:
        """Return what was found for one strand, by the name of each limit that applies to it."""
        rows = zip(self.measures, self.value[:, i].tolist(), self.verdict[:, i].tolist(), strict=True)
        return {name: value for name, value, verdict in rows if verdict != NO_LIMIT}

    def __getitem__(self, i: int) -> Judgement:
        """Return one strand in words."""
        arrays = self.value, *self.band, self.margin, self.close
        rows_of_numbers = np.array([a[:, i] for a in arrays]).T.tolist()
        numbers = [
            [x if x == x else math.nan for x in row] for row in rows_of_numbers
        ]  # the one NaN equals itself
        rows = zip(self.measures, self.verdict[:, i].tolist(), numbers, strict=True)
        findings = [self._finding(i, *row) for row in rows if row[1] != NO_LIMIT]
        findings.sort(key=lambda f: f.hardness != "hard")
        by_name = {f.name: f for f in findings}
        weights = {name: int(weight[i]) for name, weight in self.weights.items()}
        measured, rise = bool(self.flux_measured[i]), float(self.rise[i])
        risk = breakout_risk(by_name, int(self.risk[i]), weights, measured, self.factor, rise)
        return Judgement(tuple(findings), risk)

    def _finding(self, i: int, name: str, verdict: int, numbers: Sequence[float]) -> Finding:
        measure, rules = self.measures[name], self.rules[name]
        rule = rules[0 if measure.rule is None else int(measure.rule[i])]
        value, low, high, margin, close = numbers
        judged = verdict != NOT_JUDGED
        note = _said(measure.note, i)
        band = self.bands[i].get(name, _NO_BAND) if self.bands else _NO_BAND
        return Finding(
            name=rule.name,
            label=rule.label,
            value=value,
            low=low,
            high=high,
            unit=rule.unit,
            limit=_limit_numbers(rule),
            sense=rule.sense,
            margin=margin,
            close=close,
            room=(_said(measure.room, i) or _room(value, margin, rule, close)) if judged else "",
            verdict=VERDICTS[verdict],
            hardness=rule.hardness,
            where=_said(measure.where, i),
            evidence=rule.evidence,
            source=rule.source,
            reason="" if judged else rule.reason or measure.reason or "the value is not known",
            note=f"{rule.note}; {note}" if rule.note and note else rule.note or note,
            overridden=rule.overridden,
            effects=band.effects,
        )


def judge(result: Result, bands: Mapping[str, tuple[float, float] | Band] | None = None) -> Judgement:
    """Judge a strand against every limit that its case gives the inputs for.

    Parameters
    ----------
    result : Result
        A marched strand.
    bands : mapping of str to Band or (low, high), optional
        Error band of the value of each finding, in the unit of the finding, as `solidify.error_bands` finds them.
        Where one is given, a met limit reads ``close`` when the band crosses it; elsewhere when the room is
        less than the close width.

    Returns
    -------
    Judgement

    Raises
    ------
    InputError
        If ``[limits]`` of the case names no limit or gives what does not fit one.
    """
    own = [{name: Band(*band) for name, band in bands.items()}] if bands else []
    return replace(judged(Results.of(result)), bands=own)[0]


def judged(results: Results) -> Judgements:
    """Judge strands side by side, in numbers; the words of one of them are put together when it is asked for.

    Parameters
    ----------
    results : Results
        Marched strands.

    Returns
    -------
    Judgements
        Without error bands.

    Raises
    ------
    InputError
        As `judge`.
    """
    limits = limits_of(results)
    found = {name: MEASURES[name](results, resolve) for name, resolve in limits.items()}
    measures = {name: measure for name, measure in found.items() if measure is not None}
    rules = {name: m.rules or (limits[name](),) for name, m in measures.items()}
    value = np.array([m.value for m in measures.values()])
    numbers, mute = _numbers(tuple(rules.values()), tuple(measures.values()), len(results))
    margin, close = room_to(value, *numbers)
    for k, measure in enumerate(measures.values()):
        if measure.margin is not None:
            margin[k] = np.where(np.isnan(measure.margin), margin[k], measure.margin)
    unknown = mute | np.isnan(value)
    margin[unknown] = close[unknown] = math.nan
    rise, factor = results.rise_below_mould(), limits["strength_floor"]().factor
    return Judgements(measures, rules, value, margin, close, numbers, rise, results.flux_measured, factor)


def _numbers(
    rules: tuple[tuple[Limit, ...], ...], measures: Sequence[Measure], count: int
) -> tuple[list[np.ndarray], np.ndarray]:
    """Return what `room_to` wants of the limits, each of shape (limit, strand), and where nothing is judged."""
    found = np.empty((5, len(rules), count))
    found[:] = np.array([own[0].numbers for own in rules]).T[..., None]
    for k, measure in enumerate(measures):
        if measure.rule is not None:
            found[:, k] = np.array([rule.numbers for rule in rules[k]])[measure.rule].T
    *numbers, outside = found
    mute = np.array([bool(own[0].reason) for own in rules])
    return [*numbers, outside > 0], mute[:, None]


def limits_of(strand: Result | Results) -> dict[str, Resolve]:
    """Return every limit as it applies to a strand, the user's own in place of those shipped.

    Parameters
    ----------
    strand : Result or Results
        What was marched.

    Returns
    -------
    dict of str to callable
        ``resolve(place="")`` returns the `solidify.assessment.limits.Limit`.
    """
    own = {
        key: tuple(given) if isinstance(given, list) else given for key, given in strand.case.limits.items()
    }
    return _limits(setting_of(strand), frozenset(own.items()))


@lru_cache(maxsize=64)
def _limits(setting: Setting, own: frozenset[tuple[str, Any]]) -> dict[str, Resolve]:
    """Resolve the limits, each place once for all the strands that they are the same for."""
    given = dict(own)
    return {name: cache(partial(limit, name, setting, given.get(name))) for name in names()}


def _room(value: float, margin: float, rule: Limit, close: float) -> str:
    """Return the room in words; of a value outside the model only the side."""
    return room_words(-math.inf if rule.reach < value < math.inf else margin, rule.unit, close)


def _said(words: Words, i: int) -> str:
    """Return what is said of one strand."""
    return words if isinstance(words, str) else words(i)


def _limit_numbers(rule: Limit) -> float | tuple[float, float]:
    if rule.reason:
        return math.nan
    if rule.sense in ("within", "outside"):
        return rule.lower, rule.upper
    return rule.lower if rule.sense == "at least" else rule.upper
