"""Tables of the report page: zones, heat, and strand, mould, steel and machine in numbers, as words for print."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from solidify.analysis.backtrace import front_table
from solidify.analysis.compare import constants
from solidify.analysis.derived import cooled_girth, heat_rate, zero_strength_shell
from solidify.analysis.growth import LAWS, STRETCHES, compare_with_handbook
from solidify.assessment.ductility import LIMIT, criteria
from solidify.assessment.judge import Judgement, setting_of
from solidify.assessment.limits import limit
from solidify.report.document import PageTable
from solidify.report.ductility import part_rows, result_ductility
from solidify.report.growth import fit_text, stretch_words
from solidify.report.mould import meeting_text, mould_entries, shares_text
from solidify.report.strand_text import (
    HEAT_COUNTED,
    ORIGINS,
    charge_text,
    fraction_text,
    passes_text,
    sides_text,
)
from solidify.report.uncertainty import uncertainty_rows
from solidify.sources import sources
from solidify.strand.result import MECHANISMS, Result
from solidify.units import KJ, KW, MINUTE, MM, MW, WATER_LITRE_KG

__all__ = [
    "ductility_table",
    "front_rows",
    "growth_tables",
    "heat_table",
    "machine_table",
    "mould_table",
    "own_limits",
    "steel_table",
    "strand_table",
    "thin_shell",
    "uncertainty_table",
    "zone_table",
]


def zone_table(result: Result) -> PageTable:
    """Return water, heat flux and surface of every stretch of the strand."""
    rows = []
    for zone in result.zones:
        known = zone.kind == "zone" and not math.isnan(zone.water)
        water = f"{zone.water / WATER_LITRE_KG * MINUTE:.0f}" if known else "–"
        cells = [sides_text(v) for v in (zone.mean_flux / KW, zone.surface_in, zone.surface_out)]
        rows.append((zone.name, f"{zone.start:.2f}–{zone.end:.2f}", water, *cells))
    note = "" if len(result.sides) == 1 else "Two figures: loose / fixed side."
    head = ("zone", "from–to, m", "water, L/min", "heat flux, kW/m²", "surface in, °C", "surface out, °C")
    return PageTable("Zone by zone, distances from the meniscus", head, tuple(rows), "numbers", note)


def heat_table(result: Result) -> PageTable:
    """Return the heat of every stretch, the largest share first."""
    power, girth = heat_rate(result) / KW, cooled_girth(result)
    whole = float(power.sum())

    def row(name: str, taken: np.ndarray) -> tuple[str, ...]:
        total = float(taken.sum())
        strand = () if math.isnan(girth) else (f"{girth * total:.0f}",)
        return name, *strand, f"{total:.0f}", _percent(total / whole), _takers(taken)

    order = np.argsort(-power.sum(axis=1), kind="stable")
    rows = [row(result.zones[i].name, power[i]) for i in order]
    rows.append(row("whole strand", power.sum(axis=0)))
    around = "circumference" if result.case.section.shape == "round" else "face width"
    strand = () if math.isnan(girth) else ("kW, one strand",)
    head = ("stretch", *strand, f"kW per m of {around}", "% of the total", "taken by, %")
    sides = "; mean of the two sides" if len(result.sides) > 1 else ""
    error = 100 * result.balance.worst
    note = (
        f"From the meniscus to the cut-off{sides}. Heat removed and heat lost by the steel agree within "
        f"{max(error, 0.01):.2f} %."
    )
    note += f" {HEAT_COUNTED[result.case.section.shape]}.{_handed(result)}"
    usual = shares_text(result)
    open_still = math.isnan(float(result.summary["metallurgical_length"]))
    note += (
        f" {'To the cut-off, not solid there' if open_still else 'Until solid'}: {usual}." if usual else ""
    )
    return PageTable("Heat removed, largest share first", head, tuple(rows), note=note)


def _handed(result: Result) -> str:
    """Say how much of the heat had left the parts of the section that the slice gave up, and in which stretches."""
    handed = result.balance.handed.mean(axis=0)
    if not handed.sum() > 0:
        return ""
    whole = float(result.balance.heat.mean(axis=0).sum())
    where = ", ".join(
        f"{zone.name} {_percent(part / whole)} %"
        for zone, part in zip(result.zones, handed, strict=True)
        if part > 0
    )
    return (
        f" {_percent(float(handed.sum()) / whole)} % of it had left those parts of the section that the slice gives up "
        f"as its weight turns ({where}); the rest is lost by what it holds at the cut-off."
    )


def _takers(power: np.ndarray) -> str:
    shares = sorted(((p / power.sum(), m) for p, m in zip(power, MECHANISMS, strict=True)), reverse=True)
    return ", ".join(f"{m}\xa0{_percent(s)}" for s, m in shares if s >= 0.005)


def _percent(share: float) -> str:
    return f"{100 * share:.0f}" if share >= 0.0095 else f"{100 * share:.1f}"


def strand_table(result: Result) -> PageTable:
    """Return practice, shell, end of solidification and straightening in numbers."""
    summary, case = result.summary, result.case
    rows = [
        ("Casting speed", f"{case.casting.speed_m_per_min:g} m/min"),
        ("Steel cast", f"{summary['throughput'] * MINUTE:.0f} kg/min"),
        ("Tundish", f"{result.tundish_temperature:.0f} °C, superheat {result.superheat:.0f} K"),
        ("Steel at the meniscus", f"{result.pouring_temperature:.0f} °C"),
    ]
    for fraction in sorted(result.solid_fractions, reverse=True):
        name = f"Shell at mould exit, solid fraction {fraction_text(fraction)}"
        rows.append((name, f"{thin_shell(result, fraction):.1f} mm"))
    carries = zero_strength_shell(result)
    if not math.isnan(carries):
        rows.append(("Shell at mould exit that has any strength", f"{carries / MM:.1f} mm"))
    rows.append(("Surface at mould exit", f"{float(summary['surface_at_mould_exit']):.0f} °C"))
    rows += [("End of solidification", _end(result)), ("Centre solid", passes_text(result) or "nowhere")]
    rows += [(f"K, {k.where}", k.text) for k in constants(result)]
    surface = result.surface_temperature[0]
    for i, z in enumerate(case.straightener, 1):
        if z <= result.distance[-1]:
            solid = float(result.at(result.centre_solid_fraction, z))
            words = f"surface {float(result.at(surface, z)):.0f} °C, centre {solid:.2f} solid"
            rows.append((f"Straightening point {i}, {z:.2f} m", words))
    surface_end, centre_end = (float(summary[f"{name}_at_cutoff"]) for name in ("surface", "centre"))
    ends = charge_text(result) or f"surface {surface_end:.0f} °C, centre {centre_end:.0f} °C"
    rows.append((f"Cut-off, {case.cutoff:.2f} m", ends))
    sides = "Surface: loose side; shell: the thinner side. " if len(result.sides) > 1 else ""
    note = f"{sides}K as in s = K√t, s from one side in mm, t in min."
    return PageTable("The strand in numbers", ("what", "value"), tuple(rows), note=note)


def _end(result: Result) -> str:
    length = float(result.summary["metallurgical_length"])
    if math.isnan(length):
        return f"not by the cut-off, where the centre is {float(result.centre_solid_fraction[-1]):.2f} solid"
    minutes = float(result.summary["solidification_time"]) / MINUTE
    words = f"{length:.2f} m from the meniscus, {minutes:.1f} min"
    return "; ".join(filter(None, (words, meeting_text(result))))


def front_rows(result: Result) -> PageTable:
    """Return where every 10 mm of depth froze."""
    rows = []
    for passes in front_table(result):
        end = passes[-1]
        where = [f"{p.distance:.2f}" if not math.isnan(p.distance) else "–" for p in passes]
        minutes = f"{end.time / MINUTE:.2f}" if not math.isnan(end.time) else "–"
        rows.append((f"{end.depth / MM:.1f}", *where, minutes, end.zone or "–"))
    head = ["depth, mm", *(f"{fraction_text(f)} solid at, m" for f in result.solid_fractions), "min", "zone"]
    side = f", from the {result.sides[0]} side" if len(result.sides) > 1 else ""
    note = "Depths are hot, as cast, at mid-face; minutes and zone are those of the last column of metres."
    return PageTable(f"Where each depth froze{side}", tuple(head), tuple(rows), "front", note)


def growth_tables(result: Result) -> list[PageTable]:
    """Return the laws fitted to the growth of the shell, a table a stretch, beside common practice."""
    found = compare_with_handbook(result)
    side = "" if found.side == "both" else f", {found.side} side"
    tables = []
    for where in STRETCHES:
        rows = []
        for growth in found.rows[where]:
            for law in LAWS:
                fit = growth.fits.get(law)
                cells = ("not found", "–")
                if fit is not None:
                    tied = ", ".join(part.replace(" ", "\xa0") for part in fit_text(fit).split(", "))
                    cells = tied, f"{fit.rms / MM:.2f}"
                rows.append((f"{fraction_text(growth.solid_fraction)} solid, {law}", *cells))
        head, words = ("law", "constants, mm and min", "rms, mm"), stretch_words(found, where)
        caption, note = f"Laws of growth, {where}{side}", f"{words[:1].upper()}{words[1:]}."
        tables.append(PageTable(caption, head, tuple(rows), "front", note))
    return tables


def mould_table(result: Result) -> PageTable:
    """Return what the mould was taken to do."""
    mould = result.mould
    rows = [
        ("Working length", f"{mould.working_length:.2f} m, {mould.dwell:.0f} s"),
        ("Mean heat flux", f"{mould.mean_flux / MW:.2f} MW/m², {ORIGINS.get(mould.origin, mould.origin)}"),
        ("Heat flux at mould exit", f"{mould.exit_flux / MW:.2f} MW/m²"),
        ("Law of the heat flux", mould.law),
        *mould_entries(mould),
        ("Lubricant", result.case.mould.lubricant),
    ]
    return PageTable("The mould in numbers", ("what", "value"), tuple(rows))


def steel_table(result: Result) -> PageTable:
    """Return composition, class and temperatures of the steel."""
    steel = result.steel
    elements = ", ".join(f"{name} {percent:g}" for name, percent in steel.composition.items() if percent)
    rows = [("Composition, mass %", elements or "not given, own numbers"), ("Steel class", steel.steel_class)]
    named = {"liquidus": steel.liquidus, **steel.temperatures, "solidus": steel.solidus}
    hot = sorted(((t, n) for n, t in named.items() if math.isfinite(t)), reverse=True)
    rows += [(name[:1].upper() + name[1:], f"{t:.0f} °C") for t, name in hot]
    rows += [
        ("Latent heat", f"{steel.latent_heat / KJ:.0f} kJ/kg"),
        ("Density used", f"{steel.march_density:.0f} kg/m³"),
    ]
    return PageTable("The steel in numbers", ("what", "value"), tuple(rows))


def machine_table(result: Result) -> PageTable:
    """Return the points of the machine."""
    case = result.case
    points = ", ".join(f"{z:.2f}" for z in case.straightener)
    bending = ", ".join(f"{z:.2f}" for z in case.bending)
    radius = case.machine.radius_m
    rows = [
        ("Vertical part ends", f"{case.vertical_length:.2f} m"),
        ("Bending points", f"{bending} m" if bending else "none"),
        ("Radius to the fixed side", f"{radius:g} m" if radius is not None else "not given"),
        ("Straightening points", f"{points} m" if points else "none"),
        ("Last support", f"{case.support_end:.2f} m"),
        ("Cut-off", f"{case.cutoff:.2f} m"),
    ]
    return PageTable("The machine in numbers, distances from the meniscus", ("what", "value"), tuple(rows))


def thin_shell(result: Result, fraction: float) -> float:
    """Return the shell of the thinner side at mould exit.

    Parameters
    ----------
    result : Result
        A march.
    fraction : float
        Solid fraction that counts as shell, one of those the result reports [1].

    Returns
    -------
    float
        [mm].
    """
    shells = result.at(
        result.shell_thickness[:, result.fraction_index(fraction)], result.mould.working_length
    )
    return float(np.min(shells)) / MM


def ductility_table(result: Result) -> PageTable | None:
    """Return what the ductility trough at the straightener is made of; None where practice alone says it."""
    trough, table = result_ductility(result), sources()
    if trough.criterion == next(iter(criteria())) or not trough.parts or not result.case.straightener:
        return None
    rows = [
        (words, edges, known, table[key].reference if key in table else "the case")
        for words, edges, known, key in part_rows(trough)
    ]
    head = ("steel, or part", "low ductility, °C", "how well known", "source")
    note = f"{trough.definition[:1].upper()}{trough.definition[1:]}."
    return PageTable("What the trough is made of", head, tuple(rows), "front", note)


def own_limits(result: Result, judgement: Judgement) -> PageTable | None:
    """Return the limits that the case sets beside those shipped; None when it sets none."""
    rows = []
    setting = setting_of(result)
    for finding in judgement.findings:
        if finding.overridden:
            rule = limit(finding.name, setting)
            if finding.name == LIMIT and finding.sense == "at least":
                trough = result_ductility(result)
                shipped = "none" if trough.reason else trough.text
                rows.append((finding.label, finding.limit_text, shipped))
                continue
            window = (rule.lower, rule.upper) if rule.sense == "within" else None
            bound = window or (rule.lower if rule.sense == "at least" else rule.upper)
            shipped = "none" if rule.reason else replace(finding, limit=bound).limit_text
            rows.append((finding.label, finding.limit_text, shipped))
    head = ("limit", "yours, from the case", "as shipped")
    return PageTable("Limits that differ from those shipped", head, tuple(rows)) if rows else None


def uncertainty_table(judgement: Judgement) -> PageTable | None:
    """Return input, numerical and model part of the uncertainty of each value; None while none is known."""
    head, rows, note = uncertainty_rows(judgement)
    return PageTable("Uncertainty of each value", head, tuple(rows), note=note) if rows else None
