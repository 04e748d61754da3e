"""A heat plan in words: the sheet for a terminal, the minute table as CSV, and one page to hand on."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence
from datetime import UTC, datetime
from importlib.metadata import version
from typing import Any

import numpy as np

from solidify.plan.effects import PlanEffect
from solidify.plan.heat_plan import Change, HeatPlan, StrandPlan
from solidify.plan.ladle import Window
from solidify.plan.verdicts import PlanCheck, StrandVerdict, plan_checks
from solidify.plan.whole_pieces import whole_pieces
from solidify.plots.embedded import svg_address
from solidify.plots.plan import draw_bores, draw_budget, draw_sequence, narrow_figure
from solidify.report.document import PageTable, Picture, page_text
from solidify.report.strand_text import cautions
from solidify.report.text import columns, listed, page, wrapped
from solidify.units import M_PER_MIN, MINUTE, MM

__all__ = ["plan_csv", "plan_page", "plan_text", "verdict_sentence"]

TONNE = 1000.0
"""One tonne [kg]."""

_NEXT_BORES = "next bores: mm and the speed in m/min; with x the reserve, full-open flow over the wanted one"


def plan_text(
    found: HeatPlan, judged: Sequence[StrandVerdict] = (), effects: Sequence[PlanEffect] = ()
) -> str:
    """Write a plan for a terminal.

    Parameters
    ----------
    found : HeatPlan
        From `solidify.heat_plan`.
    judged : sequence of StrandVerdict, optional
        From `solidify.plan.verdicts.judge_strands`.
    effects : sequence of PlanEffect, optional
        From `solidify.plan.effects.plan_effects`.

    Returns
    -------
    str
        The answer on the first screen, the tables behind it; no line over 100 characters.
    """
    checks = plan_checks(found)
    blocks = [
        [
            *wrapped(found.plan.title),
            *wrapped(verdict_sentence(checks, judged)),
            *wrapped(_ladle_sentence(found)),
        ],
        [*columns(_strand_rows(found), "wlrrwwrrrr"), *wrapped(_NEXT_BORES)],
        [line for text in _temperature_sentences(found) for line in wrapped(text)],
        listed("Checks", [f"{_verdict_words(c)}: {c.label}, {c.text}" for c in checks if c.verdict != "met"]),
        listed("Strands at their planned speed", _judged_sentences(found, judged)),
        listed("Notes", [*_notes(found), *found.plan.notices]),
        _headed("Ladle temperature, as a sum [°C, K]", columns(_budget_rows(found), "lr", indent="  ")),
        _headed("Tundishes", columns(_tundish_rows(found), "lwrrrrrr", indent="  ")),
        _headed("When a ladle comes late", columns(_change_rows(found), "rll", indent="  ")),
        _headed("Steel of the sequence", columns(_yield_rows(found), "lrr", indent="  ")),
        _met(checks),
    ]
    if effects:
        rows = columns(_effect_rows(effects), "wrrrrrw", indent="  ")
        blocks.append(_headed("Not given: what was taken, and what one standard deviation more does", rows))
    short = [line for entry in cautions() if "short" in entry for line in wrapped(entry["short"])]
    blocks.append(
        [
            "An estimate to plan by, not a permission to cast; local rules and licensed practice decide.",
            *short,
        ]
    )
    return page(blocks)


def _headed(title: str, lines: Sequence[str]) -> list[str]:
    return [title, *lines] if lines else []


def _met(checks: Sequence[PlanCheck]) -> list[str]:
    return listed("Met", [f"{c.label}: {c.text}" for c in checks if c.verdict == "met"])


def _verdict_words(check: PlanCheck) -> str:
    return "advisory limit not met" if check.advisory and check.verdict == "not met" else check.verdict


def verdict_sentence(checks: Sequence[PlanCheck], judged: Sequence[StrandVerdict]) -> str:
    """Say in one sentence whether the plan holds.

    Parameters
    ----------
    checks : sequence of PlanCheck
        From `solidify.plan.verdicts.plan_checks`.
    judged : sequence of StrandVerdict
        From `solidify.plan.verdicts.judge_strands`; may be empty.

    Returns
    -------
    str
    """
    bad = [c.label for c in checks if c.verdict == "not met" and not c.advisory]
    advice = [c.label for c in checks if c.verdict == "not met" and c.advisory]
    near = [c.label for c in checks if c.verdict == "marginal"]
    hard = [v.name for v in judged if v.hard]
    invalid = [v.name for v in judged if v.judgement is None]
    parts = []
    if bad:
        parts.append(f"not met: {', '.join(bad)}")
    if hard:
        parts.append(f"hard limit not met on strand {', '.join(hard)}")
    if invalid:
        parts.append(f"case invalid at the planned speed on strand {', '.join(invalid)}")
    if not parts:
        count = sum(not c.advisory for c in checks)
        parts.append(f"all {count} conditions of the plan met or marginal")
    if advice:
        parts.append(f"advisory limit not met: {', '.join(advice)}")
    if near:
        parts.append(f"marginal: {', '.join(near)}")
    return "; ".join(parts)


def _ladle_sentence(found: HeatPlan) -> str:
    plan = found.plan
    low, high = found.range
    weights = sorted({ladle.weight / TONNE for ladle in plan.ladles})
    weight = f"{weights[0]:g} t" if len(weights) == 1 else f"{weights[0]:g} to {weights[-1]:g} t"
    how = "at the aim speeds" if math.isnan(plan.finish) else f"at {found.factor:.3f} times the aim speeds"
    mean = "" if len(weights) == 1 else "mean "
    return (
        f"Ladle of {weight}, {mean}{plan.poured / TONNE:.4g} t poured: {found.ladle_time / MINUTE:.1f} min {how} "
        f"({low / MINUTE:.1f} to {high / MINUTE:.1f} within the speed ranges); {len(plan.ladles)} "
        f"heat{'s' * (len(plan.ladles) > 1)}, last strand ends at {found.end / MINUTE:.0f} min"
    )


def _window_words(window: Window) -> str:
    if window.width >= 0:
        return f"{window.least:.0f} to {window.most:.0f} °C ({window.width:.0f} K wide)"
    return f"no temperature: {-window.width:.0f} K short, at least {window.least:.0f} and at most {window.most:.0f} °C"


def _temperature_sentences(found: HeatPlan) -> list[str]:
    """Say which ladle temperatures keep the superheat, and what is planned."""
    windows, count = found.windows, len(found.windows)
    groups = [("first ladle", 0)] if count > 1 else []
    if count > 2:
        groups.append(("ladles between", 1))
    groups.append(("last ladle" if count > 1 else "ladle", count - 1))
    told = []
    for words, place in groups:
        given = not math.isnan(found.plan.ladles[place].temperature)
        what = "given" if given else "planned"
        told.append(
            f"{words[0].upper()}{words[1:]} at opening: {_window_words(windows[place])}; {what} "
            f"{found.temperatures[place]:.0f} °C"
        )
    window = found.window
    band = found.plan.superheat
    if window.width < 0:
        spread = band.most - band.least - window.width
        ladle = found.plan.ladles[0]
        told.append(
            f"The window is empty: within a heat the tundish goes through {spread:.0f} K, the band is "
            f"{band.most - band.least:.0f} K. The ladle falls by {ladle.cooling * MINUTE:.2f} K/min over "
            f"{found.ladle_time / MINUTE:.0f} min. "
            "A lidded or better soaked ladle, a shorter heat or a wider band opens it."
        )
    else:
        told.append(
            f"The least is set {window.least_at / MINUTE:.1f} min after opening, the most "
            f"{window.most_at / MINUTE:.1f} min after it"
        )
    return told


def _names(strands: Sequence[StrandPlan]) -> str:
    return ", ".join(s.strand.name for s in strands)


def _grouped(found: HeatPlan) -> list[list[StrandPlan]]:
    """Return the strands that are planned alike, together."""
    groups: dict[tuple[Any, ...], list[StrandPlan]] = {}
    for s in found.strands:
        key = (s.strand.case.title, s.strand.tundish, s.strand.cut, *_strand_cells(s))
        groups.setdefault(key, []).append(s)
    return list(groups.values())


def section_text(strand: StrandPlan) -> str:
    """Return the section of a strand, e.g. ``"250 x 300"``."""
    case = strand.strand.case
    if case.section.shape == "round":
        return f"round {case.thickness / MM:.4g}"
    return f"{case.thickness / MM:.4g} x {case.width / MM:.4g}"


def bore_words(strand: StrandPlan) -> tuple[str, str]:
    """Return the bore of a strand, and what its neighbours would give."""
    nozzle = strand.nozzle
    if nozzle is None:
        return "–", "–"
    given = strand.strand.nozzle is not None and not math.isnan(strand.strand.nozzle.bore)
    own = f"{nozzle.bore / MM:.1f} mm {'given' if given else 'wanted'}"
    if math.isnan(strand.reserve):
        words = ", ".join(f"{d / MM:.1f}:\xa0{v / M_PER_MIN:.2f}" for d, v in strand.neighbours)
    else:
        words = ", ".join(f"{d / MM:.1f}:\xa0x{r:.2f}" for d, r in strand.neighbours)
    return own, words


def _strand_cells(s: StrandPlan) -> tuple[str, ...]:
    bore, near = bore_words(s)
    pieces = f"{s.count}" if s.strand.cut else "–"
    rest = f"{s.rest:.2f}" if s.strand.cut else "–"
    return (
        section_text(s).replace(" ", "\xa0"),
        f"{s.flow * MINUTE / TONNE:.3f}",
        f"{s.speed / M_PER_MIN:.2f}",
        bore,
        near,
        f"{s.heat_metres:.1f}",
        f"{s.metres:.1f}",
        pieces,
        rest,
    )


_STRAND_HEAD = (
    "strand",
    "section",
    "t/min",
    "m/min",
    "bore",
    "next bores",
    "m a heat",
    "cast m",
    "pieces",
    "rest m",
)


def _strand_rows(found: HeatPlan) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = [_STRAND_HEAD]
    rows += [(_names(group), *_strand_cells(group[0])) for group in _grouped(found)]
    return rows


def _judged_sentences(found: HeatPlan, judged: Sequence[StrandVerdict]) -> list[str]:
    groups: dict[tuple[Any, ...], list[str]] = {}
    for v in judged:
        if v.judgement is None:
            key: tuple[Any, ...] = (f"case invalid because {v.reason.splitlines()[0]}",)
        else:
            assert v.case is not None
            words = (
                f"{v.case.casting.speed_m_per_min:.2f} m/min, superheat {v.case.casting.superheat_K:.0f} K: "
            )
            words += f"hard limit not met: {', '.join(v.hard)}" if v.hard else "all hard limits met"
            words += f"; advisory limit not met: {', '.join(v.advisory)}" if v.advisory else ""
            key = (words,)
        groups.setdefault(key, []).append(v.name)
    return [f"{', '.join(names)} at {key[0]}" for key, names in groups.items()]


def _notes(found: HeatPlan) -> list[str]:
    """Say what a planner should know of this plan."""
    plan, notes = found.plan, []
    if found.end_limits:
        first = found.end_limits[0]
        more = [f"{limit.heats} by {limit.what}" for limit in _different(found)[1:3]]
        notes.append(
            f"the tundish lasts {first.heats} heats: {first.what}"
            + (f"; then {', '.join(more)}" if more else "")
        )
    if len(plan.tundishes) > 1:
        shares = " : ".join(f"{100 * share:.1f}" for share in found.shares)
        names = ", ".join(t.name for t in plan.tundishes)
        notes.append(
            f"the ladle must be shared {shares} ({names}); halved, they would end "
            f"{found.ends_apart / MINUTE:.1f} min apart"
        )
    offer = whole_pieces(found)
    if offer is not None:
        speeds = ", ".join(
            f"{s.strand.name} {v / M_PER_MIN:.3f}" for s, v in zip(found.strands, offer.speeds, strict=True)
        )
        notes.append(
            f"on offer: at {speeds} m/min the strands end nearer to whole pieces, {offer.saved / TONNE:.1f} t more of "
            "them; not taken, and worth no more than the speeds are true"
        )
    drops = {s.strand.case.casting.meniscus_drop_K for s in found.strands}
    if max(drops) > 0:
        notes.append(
            f"superheat is that of the tundish; up to {max(drops):g} K of it are lost on the way to the mould"
        )
    slowed = [e for e in found.trace.events if e.what == "slow-down"]
    if slowed:
        least = min(slowed, key=lambda e: e.factor)
        name = plan.tundishes[least.place].name
        notes.append(
            f"strands of {name} are slowed down to {least.factor:.2f} of their speed at {least.time / MINUTE:.0f} min, "
            f"until the next ladle"
        )
    late = [
        (place, trace_open - ladle.arrival)
        for place, ladle in enumerate(plan.ladles)
        if ladle.arrival and (trace_open := found.trace.first("ladle opened", place)) - ladle.arrival > MINUTE
    ]
    if late:
        place, wait = max(late, key=lambda row: row[1])
        notes.append(
            f"ladle {place + 1} waits {wait / MINUTE:.0f} min before it can be opened and cools meanwhile; its "
            "temperature here is that at opening"
        )
    return notes


def _different(found: HeatPlan) -> list[Any]:
    """Return the limits of the sequence, those of equal heats once."""
    seen: dict[int, Any] = {}
    for limit in found.end_limits:
        seen.setdefault(limit.heats, limit)
    return list(seen.values())


def _budget_rows(found: HeatPlan) -> list[tuple[str, str]]:
    budget = found.budget
    (first, base), *rest = budget.rows
    rows = [(first, f"{base:.1f}")]
    rows += [(words, f"{value:+.1f}") for words, value in rest]
    rows.append((f"ladle {budget.ladle + 1} at opening", f"{budget.temperature:.1f}"))
    return rows


_TUNDISH_HEAD = (
    "tundish",
    "strands",
    "share %",
    "weight t",
    "lowest t",
    "min in it",
    "90 % new min",
    "superheat K",
)


def _tundish_rows(found: HeatPlan) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = [_TUNDISH_HEAD]
    runs_out = found.trace.first("ladle empty", len(found.plan.ladles) - 1)
    for k, tundish in enumerate(found.plan.tundishes):
        at = found.casting(k)
        at = at[found.trace.time[at] <= runs_out]
        warm, weight = found.superheat(k)[at], found.trace.weight[k][at]
        rows.append(
            (
                tundish.name,
                _names([s for s in found.strands if s.strand.tundish == k]),
                f"{100 * found.shares[k]:.1f}",
                f"{tundish.weight / TONNE:g}",
                f"{weight.min() / TONNE:.1f}",
                f"{found.residence(k) / MINUTE:.1f}",
                _new_steel(found, k),
                f"{warm.min():.0f} to {warm.max():.0f}",
            )
        )
    return rows


def _new_steel(found: HeatPlan, tundish: int) -> str:
    """Return how long after opening nine tenths of the steel in a tundish are of the new ladle, in mid-sequence."""
    place = 1 if len(found.plan.ladles) > 1 else 0
    trace = found.trace
    at = np.flatnonzero((trace.heat == place) & (trace.share[tundish] >= 0.9))
    if place == 0 or not at.size:
        return "–"
    first = at[0]
    t = np.interp(0.9, trace.share[tundish][first - 1 : first + 1], trace.time[first - 1 : first + 1])
    return f"{(t - trace.first('ladle opened', place)) / MINUTE:.0f}"


def _change_words(change: Change) -> str:
    if change.stop:
        slow = "least speeds and a " if change.slowed else ""
        return f"{slow}stop of {change.stop / MINUTE:.1f} min"
    return "as planned" if change.factor >= 1.0 else f"{change.factor:.2f} of the speed"


def _change_rows(found: HeatPlan) -> list[tuple[str, ...]]:
    names = [t.name for t in found.plan.tundishes]
    rows: list[tuple[str, ...]] = [("min late", *names)]
    columns_ = [found.changes(k) for k in range(len(names))]
    for row in zip(*columns_, strict=True):
        rows.append((f"{row[0].late / MINUTE:g}", *map(_change_words, row)))
    return rows


def _yield_rows(found: HeatPlan) -> list[tuple[str, str, str]]:
    own = found.yields
    lines = [
        ("in the ladles", own.tapped),
        ("stays in the ladles", own.ladle_rest),
        ("stays in the tundishes", own.tundish_rest),
    ]
    if any(s.strand.cut for s in found.strands):
        lines += [
            ("head crops", own.head),
            ("tail crops", own.tail),
            ("about joins", own.joins),
            ("kerfs", own.kerf),
            ("metres that make no piece", own.rest),
            ("scale", own.scale),
        ]
    lines.append(("good", own.good))
    told = [(words, mass) for words, mass in lines if mass or words in ("good", "in the ladles")]
    return [(words, f"{mass / TONNE:.1f} t", f"{100 * mass / own.tapped:.2f} %") for words, mass in told]


_EFFECT_HEAD = ("", "taken", "ladle min", "end min", "ladle °C", "good %", "from")


def _effect_rows(effects: Sequence[PlanEffect]) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = [_EFFECT_HEAD]
    for e in effects:
        own = e.assumed
        taken = f"{own.value:.4g} ± {own.sd:.2g} {own.unit}".strip()
        if e.reason:
            rows.append((own.label, taken, "–", "–", "–", "–", "no plan with it"))
            continue
        rows.append(
            (
                own.label,
                taken,
                _signed(e.ladle / MINUTE, 1),
                _signed(e.end / MINUTE, 1),
                _signed(e.least, 1),
                _signed(e.good, 2),
                own.origin + (f"; bore {_signed(e.bore / MM, 1)} mm" if round(e.bore / MM, 1) else ""),
            )
        )
    return rows


def _signed(value: float, digits: int) -> str:
    return f"{value:+.{digits}f}" if round(value, digits) else "0"


def plan_csv(found: HeatPlan) -> str:
    """Write the sequence minute by minute.

    Parameters
    ----------
    found : HeatPlan
        From `solidify.heat_plan`.

    Returns
    -------
    str
        CSV with the units in the header: ladle, tundishes and strands at every full minute and at the end.
    """
    plan, own = found.plan, found.minutes
    head = ["minute", "ladle", "ladle_t"]
    table: list[Any] = [
        [f"{t / MINUTE:.6g}" for t in own.time],
        [str(int(place) + 1) for place in own.heat],
        [f"{v / TONNE:.3f}" for v in own.ladle],
    ]
    for k, tundish in enumerate(plan.tundishes):
        keys = ("weight_t", "level_mm", "temperature_C", "superheat_K", "new_share")
        head += [f"tundish {tundish.name} {key}" for key in keys]
        table += [
            [f"{v / TONNE:.4f}" for v in own.weight[k]],
            [f"{tundish.level_at(float(v)) / MM:.0f}" for v in own.weight[k]],
            [f"{v:.2f}" for v in own.temperature[k]],
            [f"{v - plan.liquidus:.2f}" for v in own.temperature[k]],
            [f"{v:.4f}" for v in own.share[k]],
        ]
    for i, s in enumerate(found.strands):
        head += [f"strand {s.strand.name} speed_m_per_min", f"strand {s.strand.name} cast_m"]
        table += [[f"{v / M_PER_MIN:.4f}" for v in own.speed[i]], [f"{v:.3f}" for v in own.metres[i]]]
    text = io.StringIO()
    rows = csv.writer(text, lineterminator="\n")
    rows.writerow(head)
    rows.writerows(zip(*table, strict=True))
    return text.getvalue()


def plan_page(
    found: HeatPlan,
    judged: Sequence[StrandVerdict] = (),
    effects: Sequence[PlanEffect] = (),
    made_at: str | None = None,
) -> str:
    """Write a plan as one page of HTML.

    Parameters
    ----------
    found, judged, effects
        As for `plan_text`.
    made_at : str, optional
        ISO 8601; now by default.

    Returns
    -------
    str
        One file that fetches nothing; it prints on A4.
    """
    plan = found.plan
    checks = plan_checks(found)
    window = found.window
    tiles = [
        ("A ladle lasts", f"{found.ladle_time / MINUTE:.1f} min", _range_words(found)),
        (
            "Ladle at opening",
            f"{found.temperatures[found.budget.ladle]:.0f} °C",
            _window_words(window),
        ),
        ("Last strand ends", f"{found.end / MINUTE:.0f} min", f"{len(plan.ladles)} heats"),
        ("Good steel", f"{found.yields.percent:.1f} %", f"{found.yields.good / TONNE:.0f} t"),
    ]
    tables = {
        "strands": _page_table("Strands", _strand_rows(found), note=_NEXT_BORES),
        "tundishes": _page_table("Tundishes", _tundish_rows(found)),
        "changes": _page_table(
            "When a ladle comes late",
            _change_rows(found),
            note="From the working weight, the gate being shut as at a change besides. A stop is planned by those who "
            "answer for it: a strand that stands may not start again.",
        ),
        "budget": PageTable(
            "Ladle temperature, as a sum", ("", "°C, K"), tuple(_budget_rows(found)), "numbers"
        ),
        "yields": PageTable(
            "Steel of the sequence", ("", "t", "of the tapped"), tuple(_yield_rows(found)), "numbers"
        ),
    }
    effect_table = (
        _page_table("What one standard deviation more of it does", _effect_rows(effects)) if effects else None
    )
    drawn = [
        (
            "Weights, speeds and superheat over the clock",
            draw_sequence(found),
            draw_sequence(found, narrow_figure()),
        ),
        ("From the liquidus to the ladle", draw_budget(found), None),
        ("What bore and level do to the speed", draw_bores(found), None),
    ]
    pictures = [
        Picture(
            f"{words}.",
            f"{words}; the tables of this page hold the figures.",
            svg_address(wide),
            svg_address(narrow) if narrow is not None else "",
        )
        for words, wide, narrow in drawn
        if wide is not None
    ]
    return page_text(
        "plan.html.j2",
        f"Heat plan: {plan.title}",
        [
            f"{len(plan.ladles)} heats",
            f"{len(plan.strands)} strands",
            f"{len(plan.tundishes)} tundish{'es' * (len(plan.tundishes) > 1)}",
        ],
        f"solidify {version('solidify')}",
        made_at or datetime.now(UTC).isoformat(timespec="seconds"),
        verdict=verdict_sentence(checks, judged),
        tiles=tiles,
        temperatures=_temperature_sentences(found),
        checks=[(c.verdict, _verdict_words(c), c.label, c.text) for c in checks],
        judged=_judged_sentences(found, judged),
        notes=[*_notes(found), *plan.notices],
        tables=tables,
        effects=effect_table,
        pictures=pictures,
        plan_name=plan.name,
        plan_text=plan.text.rstrip("\n"),
    )


def _range_words(found: HeatPlan) -> str:
    low, high = found.range
    return f"{low / MINUTE:.1f} to {high / MINUTE:.1f} min within the speed ranges"


def _page_table(caption: str, rows: Sequence[tuple[str, ...]], note: str = "") -> PageTable:
    return PageTable(caption, tuple(rows[0]), tuple(rows[1:]), "", note)
