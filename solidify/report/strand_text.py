"""The printed summary of a strand: plain text for someone on a night shift, which survives a pipe."""

from __future__ import annotations

import math
import re

import numpy as np

from solidify.analysis.derived import (
    centre_passes,
    cooled_girth,
    exit_constants,
    heat_rate,
    hot_charge,
    product_window,
    water_split,
    zero_strength_shell,
)
from solidify.analysis.handbook import MM_PER_SQRT_MIN
from solidify.assessment.judge import Finding, Judgement, setting_of
from solidify.case.case import ROLLS_ASSUMED
from solidify.errors import Notice, told_once
from solidify.report.ductility import result_ductility, trough_text
from solidify.report.mould import meeting_text, mould_entries, shares_text
from solidify.report.text import WIDTH, columns, entries, listed, page, wrapped
from solidify.report.uncertainty import errors_text, uncertainty_lines
from solidify.sources import EVIDENCE, load_data, sources
from solidify.strand.result import MECHANISMS, Result
from solidify.units import KJ, KW, MINUTE, MM, MW, WATER_LITRE_KG

__all__ = [
    "assumed_rolls",
    "cautions",
    "charge_text",
    "checks_text",
    "constants_text",
    "fraction_text",
    "notices",
    "passes_text",
    "sides_text",
    "summary_text",
]

ORIGINS = {
    "panel": "from the mould water's flow and rise",
    "mean flux": "as given",
    "means over speed": "from means at several speeds",
    "law": "from the given law",
    "handbook": "flux not measured, handbook relation",
}
"""Where the mould heat flux comes from, for print."""

HEAT_COUNTED = {
    "slab": "kW: one strand, both wide faces; the narrow faces are not counted",
    "round": "kW: one strand, its whole circumference",
    "rectangle": "kW/m: per metre of face; times the girth it would be about a fifth more than the heat of the strand",
}
"""What heat by the stretch counts, by shape, for print."""

MARKS = {"strong": "strong reason", "look": "reason to look", "not known": "not known", "none": "no reason"}
"""Words before a reason of each weight."""


def summary_text(result: Result, judgement: Judgement, width: int = WIDTH) -> str:
    """Write what a run prints.

    Parameters
    ----------
    result : Result
        A marched strand.
    judgement : Judgement
        Its findings.
    width : int
        Longest line, 100 or more [characters].

    Returns
    -------
    str
        Lines without trailing blanks.
    """
    blocks = [
        _head(result, judgement, width),
        _strand(result, width),
        _zones(result, width),
        _solidification(result, width),
        _findings(judgement, width),
        uncertainty_lines(judgement, width),
        _breakout(judgement, width),
        _notices(result, width),
        _memory(result, judgement, width),
        _cautions(width),
    ]
    return page(blocks)


def checks_text(judgement: Judgement, width: int = WIDTH) -> str:
    """Write the table of limit checks by itself.

    Parameters
    ----------
    judgement : Judgement
        Limit checks of a strand.
    width : int
        Longest line, 100 or more [characters].

    Returns
    -------
    str
    """
    return page([_findings(judgement, width)])


def cautions() -> tuple[dict[str, str], ...]:
    """Return the standing cautions: ``name``, ``text``, and ``short`` where the summary prints it.

    Returns
    -------
    tuple of dict
    """
    return tuple(load_data("cautions.toml")["caution"])


def _head(result: Result, judgement: Judgement, width: int) -> list[str]:
    worst = [f"worst verdict: {judgement.worst}"]
    case = result.case
    shape = case.section.shape
    sizes = f"{result.thickness / MM:.4g}"
    sizes += "" if shape == "round" else f" x {result.width / MM:.4g}"
    parts = [
        f"{setting_of(result).product} {sizes} mm, sizes hot",
        result.shape_treatment,
        f"{case.casting.speed_m_per_min:g} m/min",
        f"superheat {result.superheat:.0f} K",
    ]
    assumed = [f"Roll contact assumed: {text}" for text in assumed_rolls(result)]
    return [
        *wrapped(case.title, width),
        *wrapped("; ".join(parts), width),
        *(line for text in assumed for line in wrapped(text, width, "  ")),
        *worst,
    ]


def assumed_rolls(result: Result) -> tuple[str, ...]:
    """Return what was assumed of roll contact, for print; empty where nothing was, and for files older than that.

    Parameters
    ----------
    result : Result
        A marched strand.

    Returns
    -------
    tuple of str
    """
    return tuple(notice.text for notice in result.notices if notice.where == ROLLS_ASSUMED)


def _strand(result: Result, width: int) -> list[str]:
    steel, mould, summary = result.steel, result.mould, result.summary
    shells = np.min(result.at(result.shell_thickness, mould.working_length), axis=0) / MM
    pairs = sorted(zip(result.solid_fractions, shells, strict=True), reverse=True)
    shell = ", ".join(f"{s:.1f} mm at {fraction_text(f)}" for f, s in pairs)
    origin = ORIGINS.get(mould.origin, mould.origin)
    made = steel.steel_class if steel.composition else "own numbers"
    water = summary["specific_water"]
    spray = "not known" if np.isnan(water) else f"{water:.2f} L/kg"
    return entries(
        [
            (
                "Steel",
                f"{made}; liquidus {steel.liquidus:.0f} °C, solidus {steel.solidus:.0f} °C",
            ),
            (
                "Mould",
                f"mean heat flux {mould.mean_flux / MW:.2f} MW/m², {origin}; "
                f"{mould.dwell:.0f} s over {mould.working_length:.2f} m",
            ),
            *mould_entries(mould),
            ("Shell at mould exit", f"{shell} solid fraction{_zero_strength_text(result)}"),
            ("Water and steel", f"{spray}{_split_text(result)}; {summary['throughput'] * MINUTE:.0f} kg/min"),
        ],
        width,
    )


def _zero_strength_text(result: Result) -> str:
    shell = zero_strength_shell(result)
    if math.isnan(shell):
        return ""
    return f"; {shell / MM:.1f} mm to zero strength, {result.steel.temperatures['zero strength']:.0f} °C"


def _split_text(result: Result) -> str:
    share = water_split(result)
    return "" if math.isnan(share) else f", {100 * share:.0f} % of it in the first metre below the mould"


def passes_text(result: Result) -> str:
    """Return where the centre passes solid fractions, for print."""
    found = [p for p in centre_passes(result) if not math.isnan(p.distance)]
    return "; ".join(f"{fraction_text(p.solid_fraction)} at {p.distance:.2f} m" for p in found)


def charge_text(result: Result) -> str:
    """Return what heat the piece takes along from the cut-off, for print; empty for a rectangle."""
    charge = hot_charge(result)
    if charge is None:
        return ""
    return (
        f"mean {charge.mean_temperature:.0f} °C, {charge.enthalpy / KJ:.0f} kJ/kg; "
        f"{'surface' if len(result.sides) == 1 else 'colder surface'} {charge.surface:.0f} °C, "
        f"centre {charge.centre:.0f} °C"
    )


def fraction_text(value: float) -> str:
    """Return a solid fraction for print, 1 as ``"1.0"``."""
    return f"{value:.1f}" if math.isclose(value, round(value, 1)) else f"{value:g}"


def _zones(result: Result, width: int) -> list[str]:
    heat, girth = heat_rate(result).sum(axis=1), cooled_girth(result)
    unit, power = ("kW/m", heat / KW) if math.isnan(girth) else ("kW", girth * heat / KW)
    rows = [["zone", "from m", "to m", "L/min", "kW/m²", "in °C", "out °C", unit, "heat %"]]
    for zone, taken, share in zip(result.zones, power, 100.0 * heat / heat.sum(), strict=True):
        known = zone.kind == "zone" and not math.isnan(zone.water)
        water = f"{zone.water / WATER_LITRE_KG * MINUTE:.0f}" if known else "–"
        sides = [sides_text(v) for v in (zone.mean_flux / KW, zone.surface_in, zone.surface_out)]
        place = f"{zone.start:.2f}", f"{zone.end:.2f}"
        rows.append([zone.name, *place, water, *sides, f"{taken:.0f}", f"{share:.0f}"])
    note = f"{HEAT_COUNTED[result.case.section.shape]}."
    note += "" if len(result.sides) == 1 else " Two figures: loose / fixed side."
    return [*columns(rows, "wr", width), *wrapped(note, width)]


def sides_text(values: np.ndarray) -> str:
    """Return whole numbers for print, ``"loose / fixed"`` where the sides differ.

    Parameters
    ----------
    values : ndarray, shape (side,)
        In the unit that is printed beside them.

    Returns
    -------
    str
    """
    return " / ".join(f"{v:.0f}" for v in values)


def _solidification(result: Result, width: int) -> list[str]:
    summary, case = result.summary, result.case
    length = float(summary["metallurgical_length"])
    if math.isnan(length):
        centre = float(result.centre_solid_fraction[-1])
        end = f"not by the cut-off at {case.cutoff:.1f} m, where the centre is {centre:.2f} solid"
    else:
        end = f"{length:.2f} m from the meniscus, {float(summary['solidification_time']) / MINUTE:.1f} min"
        meeting = meeting_text(result)
        end += f"; {meeting}" if meeting else ""
    points = case.straightener
    surfaces = [f"{float(result.at(result.surface_temperature[0], z)):.0f} °C at {z:.2f} m" for z in points]
    core = float(summary["centre_solid_fraction_at_straightener_in"])
    shares = sorted(((result.balance.share(m), m) for m in MECHANISMS), reverse=True)
    heat = ", ".join(f"{m} {100 * s:.0f} %" for s, m in shares if s >= 0.005)
    pairs = [("End of solidification", end), ("K, s = K√t", constants_text(result))]
    passes, charge = passes_text(result), charge_text(result)
    if passes:
        pairs.insert(1, ("Centre solid", passes))
    if points:
        loose = " (loose side)" if len(result.sides) > 1 else ""
        text = f"surface{loose} {', '.join(surfaces)}; centre {core:.2f} solid at the first"
        pairs.append(("Straightener", text))
        said = trough_text(result_ductility(result), setting_of(result), case.limits)
        pairs.append(("Ductility", said))
    if charge:
        pairs.append(("At the cut-off", charge))
    pairs.append(("Heat removed by", f"{heat}; worst error of the account {result.balance.worst:.0e}"))
    usual = shares_text(result)
    if usual:
        pairs.append(("Heat to the cut-off" if math.isnan(length) else "Heat until solid", usual))
    return entries(pairs, width)


def constants_text(result: Result) -> str:
    """Return K at mould exit by what counts as shell and of the whole machine, beside their windows, for print."""
    exits = {name: k / MM_PER_SQRT_MIN for name, k in exit_constants(result).items()}
    whole = float(result.summary["k_whole_machine"])
    figure = "not known" if math.isnan(whole) else f"{whole:.1f}"
    parts = [
        f"mould exit {exits['0.3']:.1f} ({product_window(result, 'mould exit').words})",
        f"{exits['0.7']:.1f} at 0.7 solid",
        f"{exits['equivalent']:.1f} by equivalent solid",
        f"whole machine {figure} ({product_window(result, 'whole machine').words})",
    ]
    return "; ".join(parts) + "; s from one side in mm, t in min"


def _findings(judgement: Judgement, width: int) -> list[str]:
    judged = [f for f in judgement.findings if f.judged]
    banded = any(f.banded for f in judged)
    rows = [["verdict", "", "finding, hard limits first", "value", "limit", "room", "where"]]
    if banded:
        rows[0].insert(4, "error band")
    for f in judged:
        where = re.sub(r"-[\d.]+ m$", " m", f.where.split(",")[0])
        row = [f.verdict, f.hardness, f.label, f.value_text, _bare_limit(f), f.room, where]
        if banded:
            row.insert(4, f.band_text)
        rows.append(row)
    lines = columns(rows, "lllrrlrw" if banded else "lllrlrw", width)
    if banded:
        lines += wrapped(errors_text(judged), width, "  ")
    if any(f.overridden for f in judged):
        lines.append("* your own limit, from the case file")
    for f in judgement.findings:
        if not f.judged:
            lines += wrapped(f"not judged: {f.label}: {f.reason}", width, "  ")
    for words, least in (("hard", judgement.binding), ("soft", judgement.binding_soft)):
        if least is not None:
            lines += wrapped(f"least room of the {words} limits: {_least(least)}", width, "  ")
    return lines


def _bare_limit(f: Finding) -> str:
    """Limit without the unit that the value beside it has."""
    return f.limit_text.removesuffix(f" {f.unit_text}") + (" *" if f.overridden else "")


def _least(f: Finding) -> str:
    evidence = EVIDENCE[f.evidence]
    note = f" ({f.note})" if f.note else ""
    moved = f"; its band: {f.effects_text}" if f.effects else ""
    return f"{f.label}, {f.value_text} against {f.limit_text}{note}, {f.room}; {f.where}; {evidence}{moved}"


def _breakout(judgement: Judgement, width: int) -> list[str]:
    risk = judgement.breakout
    lines = [f"Breakout risk, from a computed mid-face slice: {risk.words}"]
    for reason in risk.raised:
        lines += wrapped(f"  {MARKS[reason.weight]}: {reason.text}", width, "    ")
    for weight in ("not known", "none"):
        texts = [r.text for r in risk.reasons if r.weight == weight]
        if texts:
            lines += wrapped(f"  {MARKS[weight]}: {'; '.join(texts)}", width, "    ")
    moves = next((r.moves for r in risk.reasons if r.name == "shell_floor"), "")
    if moves:
        lines += wrapped(f"  what moves the shell at mould exit: {moves}", width, "    ")
    return [*lines, risk.statement]


def notices(result: Result) -> tuple[Notice, ...]:
    """Return what is to be known of a result, its steel's notices included, each once, but for `assumed_rolls`.

    Parameters
    ----------
    result : Result
        A marched strand.

    Returns
    -------
    tuple of Notice
    """
    told = (n for n in result.notices if n.where != ROLLS_ASSUMED)  # said at the top
    return told_once([*told, *result.steel.notices])


def _notices(result: Result, width: int) -> list[str]:
    told = [f"{n} ({n.count} times)" if n.count > 1 else str(n) for n in notices(result)]
    return listed("To know", told, width)


def _memory(result: Result, judgement: Judgement, width: int) -> list[str]:
    table = sources()
    used = dict.fromkeys(
        [*result.steel.sources, *result.sources, *(f.source for f in judgement.findings if f.source)]
    )
    recalled = [k for k in used if k in table and table[k].evidence == "recalled"]
    recalled += [f.label for f in judgement.findings if f.evidence == "recalled"]
    practice = sum(f.evidence == "practice" for f in judgement.findings)
    lines = wrapped(f"From memory, not verified: {', '.join(recalled)}", width) if recalled else []
    if practice:
        lines += [f"{practice} of {len(judgement.findings)} limits are {EVIDENCE['practice']}"]
    return lines


def _cautions(width: int) -> list[str]:
    return listed("Cautions", [c["short"] for c in cautions() if "short" in c], width)
