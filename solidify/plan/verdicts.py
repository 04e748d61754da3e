"""What a plan must keep: weights, superheat, speeds, nozzles, heats, and each strand judged by its own case."""

from __future__ import annotations

import math
from dataclasses import dataclass

from solidify.assessment.judge import Judgement, judge
from solidify.case import Case
from solidify.errors import SolidifyError
from solidify.plan.figures import figure
from solidify.plan.heat_plan import HeatPlan
from solidify.strand.solve import solve_each
from solidify.units import M_PER_MIN, MINUTE

__all__ = ["PlanCheck", "StrandVerdict", "judge_strands", "plan_checks"]

MET, MARGINAL, NOT_MET = "met", "marginal", "not met"

_ORDER = (NOT_MET, MARGINAL, MET)


@dataclass(frozen=True)
class PlanCheck:
    """One thing that a plan must keep.

    Parameters
    ----------
    label : str
        What.
    verdict : str
        ``"met"``, ``"marginal"`` or ``"not met"``.
    text : str
        Value, limit and where.
    advisory : bool
        Whether it is good practice rather than a condition of the plan.
    """

    label: str
    verdict: str
    text: str
    advisory: bool = False


@dataclass(frozen=True)
class StrandVerdict:
    """A planned strand, solved and judged.

    Parameters
    ----------
    name : str
        Of the strand.
    case : Case
        Its case at the planned speed and superheat.
    judgement : Judgement or None
        None where the case is invalid at this speed.
    reason : str
        Why it is; else empty.
    """

    name: str
    case: Case | None
    judgement: Judgement | None
    reason: str = ""

    @property
    def hard(self) -> tuple[str, ...]:
        """Labels of the hard limits that are not met."""
        return self._labels("hard")

    @property
    def advisory(self) -> tuple[str, ...]:
        """Labels of the advisory limits that are not met."""
        return self._labels("soft")

    def _labels(self, hardness: str) -> tuple[str, ...]:
        if self.judgement is None:
            return ()
        found = (f for f in self.judgement.findings if f.hardness == hardness and f.verdict == "breached")
        return tuple(f.label for f in found)


def judge_strands(found: HeatPlan) -> tuple[StrandVerdict, ...]:
    """Solve and judge every strand at its planned steady speed and the warmest superheat of its tundish.

    Parameters
    ----------
    found : HeatPlan
        From `solidify.heat_plan`.

    Returns
    -------
    tuple of StrandVerdict
        In the order of the strands; equal strands are solved once.
    """
    cases: list[Case | str] = []
    for s in found.strands:
        k = s.strand.tundish
        warmest = float(found.superheat(k)[found.casting(k)].max())
        changes = {
            "casting.speed_m_per_min": round(s.speed / M_PER_MIN, 6),
            "casting.superheat_K": round(max(warmest, 0.0), 3),
            "casting.tundish_temperature_C": None,
        }
        try:
            cases.append(s.strand.case.replace(changes))
        except SolidifyError as error:
            cases.append(str(error))
    good = [case for case in cases if isinstance(case, Case)]
    different: list[Case] = []
    for case in good:
        if case not in different:
            different.append(case)
    solved = solve_each(different)
    verdicts = []
    for s, made in zip(found.strands, cases, strict=True):
        name = s.strand.name
        if isinstance(made, str):
            verdicts.append(StrandVerdict(name, None, None, made))
            continue
        result = solved[different.index(made)]
        if isinstance(result, SolidifyError):
            verdicts.append(StrandVerdict(name, made, None, str(result)))
        else:
            verdicts.append(StrandVerdict(name, made, judge(result)))
    return tuple(verdicts)


def plan_checks(found: HeatPlan) -> tuple[PlanCheck, ...]:
    """Check what a plan must keep.

    Parameters
    ----------
    found : HeatPlan
        From `solidify.heat_plan`.

    Returns
    -------
    tuple of PlanCheck
        Those not met first, conditions before advice.
    """
    checks = [
        *_superheats(found),
        *_weights(found),
        *_speeds(found),
        *_nozzles(found),
        *_heats(found),
        *_residences(found),
    ]
    return tuple(sorted(checks, key=lambda check: (_ORDER.index(check.verdict), check.advisory)))


def thermometer(found: HeatPlan) -> float:
    """Return the error of the tundish thermometer, the largest of the cases [K]."""
    return max(s.strand.case.uncertainty.superheat_K for s in found.strands)


def _superheats(found: HeatPlan) -> list[PlanCheck]:
    band, error = found.plan.superheat, thermometer(found)
    checks = []
    for k, tundish in enumerate(found.plan.tundishes):
        at = found.casting(k)
        time, warm = found.trace.time[at], found.superheat(k)[at]
        runs_out = found.trace.first("ladle empty", len(found.plan.ladles) - 1)
        inside = time <= runs_out
        low, high = int(warm[inside].argmin()), int(warm[inside].argmax())
        margin = min(warm[inside][low] - band.least, band.most - warm[inside][high])
        words = (
            f"{warm[inside][low]:.0f} K at {time[inside][low] / MINUTE:.0f} min to {warm[inside][high]:.0f} K at "
            f"{time[inside][high] / MINUTE:.0f} min; wanted {band.least:g} to {band.most:g} K"
        )
        checks.append(PlanCheck(f"superheat in {tundish.name}", _verdict(margin, error), words))
        tail = float(warm[~inside].min()) if (~inside).any() else float(warm[-1])
        words = f"{tail:.0f} K when the last strand ends, the loss being taken as in steady casting"
        checks.append(
            PlanCheck(f"superheat of {tundish.name} while it empties", _verdict(tail, error), words)
        )
    return checks


def _verdict(margin: float, width: float) -> str:
    return NOT_MET if margin < 0 else MARGINAL if margin < width else MET


def _weights(found: HeatPlan) -> list[PlanCheck]:
    checks = []
    runs_out = found.trace.first("ladle empty", len(found.plan.ladles) - 1)
    for k, tundish in enumerate(found.plan.tundishes):
        time = found.trace.time
        at = found.casting(k)
        at = at[time[at] <= runs_out]
        low = at[found.trace.weight[k][at].argmin()]
        weight = float(found.trace.weight[k][low])
        stops = [e for e in found.trace.events if (e.what, e.place) == ("stop", k)]
        words = (
            f"{weight / 1e3:.1f} t at {time[low] / MINUTE:.0f} min; least {tundish.least / 1e3:g} t of "
            f"{tundish.weight / 1e3:g} t"
        )
        if stops:
            starts = [e.time for e in found.trace.events if (e.what, e.place) == ("restart", k)]
            total = sum(b - e.time for e, b in zip(stops, starts, strict=False))
            at_min = ", ".join(f"{e.time / MINUTE:.0f}" for e in stops)
            many = f"{len(stops)} stop{'s' * (len(stops) > 1)}"
            words = f"{many} of the strands, {total / MINUTE:.1f} min in all, at {at_min} min: {words}"
            checks.append(PlanCheck(f"weight of {tundish.name}", NOT_MET, words))
            continue
        verdict = _verdict(weight - tundish.least + 1.0, 0.05 * tundish.weight)
        checks.append(PlanCheck(f"weight of {tundish.name}", verdict, words))
    return checks


def _speeds(found: HeatPlan) -> list[PlanCheck]:
    checks = []
    for s in found.strands:
        band = s.strand.speed
        if band.least == band.most:
            continue
        margin = min(s.lowest - band.least, band.most - s.highest)
        slack = 1e-4 * band.most
        words = (
            f"{s.lowest / M_PER_MIN:.2f} to {s.highest / M_PER_MIN:.2f} m/min; wanted {band.least / M_PER_MIN:g} to "
            f"{band.most / M_PER_MIN:g} m/min"
        )
        checks.append(
            PlanCheck(f"speed of strand {s.strand.name}", NOT_MET if margin < -slack else MET, words)
        )
    return checks


def _nozzles(found: HeatPlan) -> list[PlanCheck]:
    wanted = figure("nozzle", "reserve").value
    checks = []
    for s in found.strands:
        if math.isnan(s.last_reserve):
            continue
        verdict = NOT_MET if s.last_reserve < 1.0 else MARGINAL if s.last_reserve < wanted - 1e-9 else MET
        words = f"{s.last_reserve:.2f} at the least weight in the last heat, {s.reserve:.2f} when new"
        words += f"; {wanted:g} is usual"
        checks.append(
            PlanCheck(
                f"nozzle reserve of strand {s.strand.name}", verdict, words, advisory=verdict != NOT_MET
            )
        )
    return checks


def _heats(found: HeatPlan) -> list[PlanCheck]:
    if not found.end_limits:
        return []
    first, heats = found.end_limits[0], len(found.plan.ladles)
    margin = first.heats - heats
    verdict = NOT_MET if margin < 0 else MARGINAL if margin == 0 else MET
    return [
        PlanCheck("heats of the sequence", verdict, f"{heats} planned, {first.heats} possible: {first.what}")
    ]


def _residences(found: HeatPlan) -> list[PlanCheck]:
    own = figure("residence")
    checks = []
    for k, tundish in enumerate(found.plan.tundishes):
        if not any(s.strand.tundish == k and s.strand.case.section.shape == "slab" for s in found.strands):
            continue
        minutes = found.residence(k) / MINUTE
        verdict = _verdict(minutes - own.value, 0.05 * own.value)
        words = f"{minutes:.1f} min; more than {own.value:g} min is asked for slabs"
        checks.append(PlanCheck(f"time of the steel in {tundish.name}", verdict, words, advisory=True))
    return checks
