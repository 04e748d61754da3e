"""Findings: a strand judged against the limits of the trade or the user's own, with verdict and margin."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, lru_cache, partial
from typing import Any

from solidify.bands import Band
from solidify.breakout import STATEMENT, BreakoutRisk, Reason, breakout_risk
from solidify.limits import Limit, Setting, limit, names
from solidify.measures import MEASURES, Measure, Resolve, rise_below_mould, setting_of
from solidify.result import Result
from solidify.verdict import VERDICTS, Finding, room_words

__all__ = [
    "STATEMENT",
    "VERDICTS",
    "BreakoutRisk",
    "Finding",
    "Judgement",
    "Reason",
    "judge",
    "limits_of",
    "setting_of",
]


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


def judge(result: Result, bands: Mapping[str, tuple[float, float] | Band] | None = None) -> Judgement:
    """Judge a strand against every limit that its case gives the inputs for.

    Parameters
    ----------
    result : Result
        A marched strand.
    bands : mapping of str to Band or (low, high), optional
        Error band of the value of each finding, in the unit of the finding, as `solidify.margins` finds them.
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
    limits = limits_of(result)
    findings = []
    for name, resolve in limits.items():
        measure = MEASURES[name](result, resolve)
        if measure is not None:
            band = Band(*(bands or {}).get(name, (math.nan, math.nan)))
            findings.append(_finding(measure.limit or resolve(), measure, band))
    findings.sort(key=lambda f: f.hardness != "hard")
    factor = limits["strength_floor"]().factor
    by_name = {f.name: f for f in findings}
    rise = rise_below_mould(result)
    risk = breakout_risk(by_name, result.mould.origin != "handbook", factor, rise)
    return Judgement(tuple(findings), risk)


def limits_of(result: Result) -> dict[str, Resolve]:
    """Return every limit as it applies to a strand, the user's own in place of those shipped.

    Parameters
    ----------
    result : Result
        A marched strand.

    Returns
    -------
    dict of str to callable
        ``resolve(place="")`` returns the `solidify.limits.Limit`.
    """
    own = {
        key: tuple(given) if isinstance(given, list) else given for key, given in result.case.limits.items()
    }
    return _limits(setting_of(result), frozenset(own.items()))


@lru_cache(maxsize=64)
def _limits(setting: Setting, own: frozenset[tuple[str, Any]]) -> dict[str, Resolve]:
    """Resolve the limits, each place once for all the strands that they are the same for."""
    given = dict(own)
    return {name: cache(partial(limit, name, setting, given.get(name))) for name in names()}


def _finding(rule: Limit, measure: Measure, band: Band) -> Finding:
    value, reason = measure.value, rule.reason or measure.reason
    margin = width = math.nan
    verdict, room = "not judged", ""
    if not reason and not math.isnan(value):
        margin, width = rule.margin(value)
        if measure.margin is not None:
            margin = measure.margin
        verdict = _verdict(rule, margin, width, band)
        room = measure.room or room_words(margin, rule.unit, width)
    elif not reason:
        reason = "the value is not known"
    return Finding(
        name=rule.name,
        label=rule.label,
        value=value,
        low=band.low,
        high=band.high,
        unit=rule.unit,
        limit=_limit_numbers(rule),
        sense=rule.sense,
        margin=margin,
        close=width,
        room=room,
        verdict=verdict,
        hardness=rule.hardness,
        where=measure.where,
        evidence=rule.evidence,
        source=rule.source,
        reason=reason,
        note=f"{rule.note}; {measure.note}" if rule.note and measure.note else rule.note or measure.note,
        overridden=rule.overridden,
        effects=band.effects,
    )


def _verdict(rule: Limit, margin: float, width: float, band: Band) -> str:
    if margin < 0 and margin < -1e-9 * max(abs(b) for b in (rule.lower, rule.upper, 1.0) if math.isfinite(b)):
        return "breached"
    if math.isnan(band.low) or math.isnan(band.high):
        return "close" if margin < width else "kept"
    if rule.sense == "outside":
        return "close" if band.low < rule.upper and band.high > rule.lower else "kept"
    return "close" if band.low < rule.lower or band.high > rule.upper else "kept"


def _limit_numbers(rule: Limit) -> float | tuple[float, float]:
    if rule.reason:
        return math.nan
    if rule.sense in ("within", "outside"):
        return rule.lower, rule.upper
    return rule.lower if rule.sense == "at least" else rule.upper
