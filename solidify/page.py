"""The report of a strand as one page of HTML that needs nothing else: for a phone, a screen and A4.

Words, figures and tables are put together here; `data/page.html.j2` lays them out.
"""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from importlib import resources
from typing import Any

import numpy as np
from jinja2 import Environment, StrictUndefined
from markupsafe import Markup, escape

from solidify.compare import constants, flat, flattened, value_text
from solidify.findings import Finding, Judgement, setting_of
from solidify.limits import limit
from solidify.plots import draw_strand, plot_heat
from solidify.plots.embedded import narrow_sheet, svg_address
from solidify.plots.heading import verdict_words
from solidify.report import MARKS, ORIGINS, UNITS, cautions, fraction_text, notices, sides_text
from solidify.result import MECHANISMS, Result
from solidify.sources import EVIDENCE, sources
from solidify.units import KJ, KW, MINUTE, MM, MW, WATER_LITRE_KG

__all__ = ["Picture", "Table", "report_page"]

TREATMENTS = {
    "flat (one-way)": "heat leaves through the two wide faces alone; the narrow faces are not counted",
    "rectangle, mid-face": "a slice through the middle of the wide face, the narrow faces counted by a weight "
    "over the depth; corners are not represented",
    "round": "cooled alike all round",
}
"""What each section treatment leaves out, for print."""

_NUMBER_AND_UNIT = re.compile(rf"(?<=\d) (?={UNITS}(?!\w)|%)|(?<=[≤≥]) (?=\d)")


@dataclass(frozen=True)
class Table:
    """A table of the page; the first cell of a row names it.

    Parameters
    ----------
    caption : str
        What it shows.
    head : tuple of str
        Names of the columns.
    rows : tuple of tuple of str
        As many cells each.
    look : str
        ``"numbers"`` when all but the first column hold numbers, or another look of the page.
    note : str
        Stands below.
    """

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    look: str = ""
    note: str = ""


@dataclass(frozen=True)
class Picture:
    """A picture of the page.

    Parameters
    ----------
    caption, alt : str
        What stands below it, and what it shows for those who do not see it.
    wide : str
        Its address, drawn for paper and screen.
    narrow : str
        Its address, drawn for a phone; empty when a table says the same there.
    """

    caption: str
    alt: str
    wide: str
    narrow: str = ""


def report_page(result: Result, judgement: Judgement) -> str:
    """Write the report of a strand.

    Parameters
    ----------
    result : Result
        A marched strand.
    judgement : Judgement
        Its findings.

    Returns
    -------
    str
        One HTML file with its pictures inside; the same for the same result.
    """
    case = result.case
    judged = [f for f in judgement.findings if f.judged]
    return _template().render(
        title=case.title,
        lead=_lead(result),
        worst=judgement.worst,
        verdict=verdict_words(judgement),
        counts=_counts(judgement),
        risk=judgement.breakout,
        weights=MARKS,
        short=_short(result, judgement),
        groups=[(h, [f for f in judged if f.hardness == h]) for h in ("hard", "soft")],
        unjudged=[f for f in judgement.findings if not f.judged],
        banded=any(f.banded for f in judged),
        bare_limit=_bare_limit,
        pictures=_pictures(result, judgement),
        zones=_zones(result),
        heat=_heat(result),
        numbers=[_strand(result), _mould(result), _steel(result), _machine(result)],
        notices=[f"{n}{f' ({n.count} times)' if n.count > 1 else ''}" for n in notices(result)],
        assumptions=_assumptions(result),
        own=_own_limits(result, judgement),
        recalled=_recalled(result, judgement),
        basis=_basis(result, judgement),
        defaults=_defaults(result),
        cautions=cautions(),
        case_name=case.name,
        case_text=case.text.rstrip("\n"),
        made_by=result.created_by,
        made_at=result.created_at,
        made_at_words=result.created_at[:16].replace("T", " ")
        + " UTC" * result.created_at.endswith("+00:00"),
    )


@cache
def _template() -> Any:
    text = resources.files("solidify").joinpath("data", "page.html.j2").read_text(encoding="utf-8")
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    environment.filters["tied"] = _tied
    environment.filters["address"] = Markup
    return environment.from_string(text)


def _tied(text: str) -> Markup:
    """Keep numbers on the line of their units, and a minus a minus."""
    tied = _NUMBER_AND_UNIT.sub("\xa0", text)
    return Markup(re.sub(r"(?<![\w)\]–-])-(?=\d)", "−", str(escape(tied))))


def _lead(result: Result) -> list[str]:
    shape = result.case.section.shape
    sizes = f"{result.thickness / MM:.4g}"
    sizes += " mm round" if shape == "round" else f" × {result.width / MM:.4g} mm"
    return [
        f"{setting_of(result).product} {sizes}, sizes hot",
        f"section treatment: {result.shape_treatment}",
        f"{result.case.casting.speed_m_per_min:g} m/min",
        f"superheat {result.superheat:.0f} K",
        f"steel class: {result.steel.steel_class}",
    ]


def _counts(judgement: Judgement) -> str:
    found = [f.verdict for f in judgement.findings]
    order = ("breached", "close", "kept", "not judged")
    return ", ".join(f"{found.count(verdict)} {verdict}" for verdict in order if verdict in found)


def _short(result: Result, judgement: Judgement) -> list[tuple[str, str, str]]:
    """Return name, figure and what it stands against, of what a shift asks first."""
    table = {f.name: f for f in judgement.findings}
    shell = _thin_shell(result, result.headline)
    rows = [("Shell at mould exit", f"{shell:.1f} mm", f"at solid fraction {fraction_text(result.headline)}")]
    length = float(result.summary["metallurgical_length"])
    end = "not by the cut-off" if math.isnan(length) else f"{length:.1f} m"
    rows.append(("End of solidification", end, f"last support {result.case.support_end:.1f} m"))
    surface = float(result.summary["surface_at_straightener_out"])
    finding = table.get("straightener_surface")
    if finding is not None and not math.isnan(finding.value):
        against = f"to be {finding.limit_text}" if finding.judged else "not judged"
        rows.append(("Lowest surface at the straightener", finding.value_text, against))
    elif not math.isnan(surface):
        rows.append(("Surface at the straightener", f"{surface:.0f} °C", "last point"))
    water = float(result.summary["specific_water"])
    if not math.isnan(water):
        rows.append(
            (
                "Spray water",
                f"{water:.2f} L/kg",
                f"{result.summary['throughput'] * MINUTE:.0f} kg/min of steel",
            )
        )
    return rows


def _thin_shell(result: Result, fraction: float) -> float:
    """Return the shell of the thinner side at mould exit [mm]."""
    shells = result.at(
        result.shell_thickness[:, result.fraction_index(fraction)], result.mould.working_length
    )
    return float(np.min(shells)) / MM


def _bare_limit(finding: Finding) -> str:
    return finding.limit_text.removesuffix(f" {finding.unit_text}") + (" *" if finding.overridden else "")


def _pictures(result: Result, judgement: Judgement) -> list[Picture]:
    length = float(result.summary["metallurgical_length"])
    freezing = (
        f"The last liquid freezes {length:.1f} m from the meniscus."
        if math.isfinite(length)
        else "The centre is still liquid at the cut-off."
    )
    surface = result.surface_temperature[0]
    exit_shell = _thin_shell(result, result.headline)
    alt = (
        f"Shell and temperatures along the strand. The shell grows from the surface to {exit_shell:.1f} mm at mould "
        f"exit. {freezing} The surface is at {float(result.at(surface, result.mould.working_length)):.0f} °C at mould "
        f"exit and {float(surface[-1]):.0f} °C at the cut-off. The tables below hold the figures."
    )
    heat = (
        "Heat removed, by stretch of the strand and by what takes it; the table beside it holds the figures."
    )
    return [
        Picture(
            "Above, the shell grows down from the surface: tinted is solid, dark is freezing, blank is liquid. Below, "
            "surface and centre. A black edge is a limit, hatched on the forbidden side.",
            alt,
            svg_address(draw_strand(result, judgement)),
            svg_address(draw_strand(result, judgement, narrow_sheet(result))),
        ),
        Picture("Where the heat goes, largest share first.", heat, svg_address(plot_heat(result, judgement))),
    ]


def _zones(result: Result) -> Table:
    rows = []
    for zone in result.zones:
        known = zone.kind == "zone" and not math.isnan(zone.water)
        water = f"{zone.water / WATER_LITRE_KG * MINUTE:.0f}" if known else "–"
        cells = [sides_text(v) for v in (zone.mean_flux / KW, zone.surface_in, zone.surface_out)]
        rows.append((zone.name, f"{zone.start:.2f}–{zone.end:.2f}", water, *cells))
    note = "" if len(result.sides) == 1 else "Two figures: loose / fixed side."
    head = ("zone", "from–to, m", "water, L/min", "heat flux, kW/m²", "surface in, °C", "surface out, °C")
    return Table("Zone by zone, distances from the meniscus", head, tuple(rows), "numbers", note)


def _heat(result: Result) -> Table:
    """Heat of each stretch, the largest share first."""
    heat = result.balance.heat.mean(axis=0)
    power = heat * (result.distance[-1] / result.time[-1]) / KW
    whole = float(power.sum())
    rows = []
    for i in np.argsort(-power.sum(axis=1), kind="stable"):
        total = float(power[i].sum())
        rows.append((result.zones[i].name, f"{total:.0f}", _percent(total / whole), _takers(power[i])))
    rows.append(("whole strand", f"{whole:.0f}", "100", _takers(power.sum(axis=0))))
    around = "circumference" if result.case.section.shape == "round" else "face width"
    head = ("stretch", f"kW per m of {around}", "% of the total", "taken by, %")
    sides = "; mean of the two sides" if len(result.sides) > 1 else ""
    error = 100 * result.balance.worst
    note = (
        f"From the meniscus to the cut-off{sides}. Heat removed and heat lost by the steel agree within "
        f"{max(error, 0.01):.2f} %."
    )
    return Table("Heat removed, largest share first", head, tuple(rows), note=note)


def _takers(power: np.ndarray) -> str:
    shares = sorted(((p / power.sum(), m) for p, m in zip(power, MECHANISMS, strict=True)), reverse=True)
    return ", ".join(f"{m} {_percent(s)}" for s, m in shares if s >= 0.005)


def _percent(share: float) -> str:
    return f"{100 * share:.0f}" if share >= 0.0095 else f"{100 * share:.1f}"


def _strand(result: Result) -> Table:
    summary, case = result.summary, result.case
    length = float(summary["metallurgical_length"])
    rows = [
        ("Casting speed", f"{case.casting.speed_m_per_min:g} m/min"),
        ("Steel cast", f"{summary['throughput'] * MINUTE:.0f} kg/min"),
        ("Tundish", f"{result.tundish_temperature:.0f} °C, superheat {result.superheat:.0f} K"),
        ("Steel at the meniscus", f"{result.pouring_temperature:.0f} °C"),
    ]
    for fraction in sorted(result.solid_fractions, reverse=True):
        name = f"Shell at mould exit, solid fraction {fraction_text(fraction)}"
        rows.append((name, f"{_thin_shell(result, fraction):.1f} mm"))
    rows.append(("Surface at mould exit", f"{float(summary['surface_at_mould_exit']):.0f} °C"))
    if math.isnan(length):
        centre = (
            f"not by the cut-off, where the centre is {float(result.centre_solid_fraction[-1]):.2f} solid"
        )
        rows.append(("End of solidification", centre))
    else:
        minutes = float(summary["solidification_time"]) / MINUTE
        rows.append(("End of solidification", f"{length:.2f} m from the meniscus, {minutes:.1f} min"))
    rows += [(f"K, {k.where}", k.text) for k in constants(result)]
    surface = result.surface_temperature[0]
    for i, z in enumerate(case.straightener, 1):
        if z <= result.distance[-1]:
            solid = float(result.at(result.centre_solid_fraction, z))
            words = f"surface {float(result.at(surface, z)):.0f} °C, centre {solid:.2f} solid"
            rows.append((f"Straightening point {i}, {z:.2f} m", words))
    ends = f"surface {float(summary['surface_at_cutoff']):.0f} °C, centre {float(summary['centre_at_cutoff']):.0f} °C"
    rows.append((f"Cut-off, {case.cutoff:.2f} m", ends))
    sides = "Surface: loose side; shell: the thinner side. " if len(result.sides) > 1 else ""
    note = f"{sides}K as in s = K√t, s from one side in mm, t in min."
    return Table("The strand in numbers", ("what", "value"), tuple(rows), note=note)


def _mould(result: Result) -> Table:
    mould = result.mould
    rows = [
        ("Working length", f"{mould.working_length:.2f} m, {mould.dwell:.0f} s"),
        ("Mean heat flux", f"{mould.mean_flux / MW:.2f} MW/m², {ORIGINS.get(mould.origin, mould.origin)}"),
        ("Heat flux at mould exit", f"{mould.exit_flux / MW:.2f} MW/m²"),
        ("Law of the heat flux", mould.law),
        ("Normal mean heat flux", _or_not(mould.expected_mean_flux / MW, ".2f", "MW/m²")),
        ("Rise of the mould water", _or_not(mould.water_rise, ".1f", "K")),
        ("Lubricant", result.case.mould.lubricant),
    ]
    return Table("The mould in numbers", ("what", "value"), tuple(rows))


def _or_not(value: float, form: str, unit: str) -> str:
    return "not given" if math.isnan(value) else f"{value:{form}} {unit}"


def _steel(result: Result) -> Table:
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
    return Table("The steel in numbers", ("what", "value"), tuple(rows))


def _machine(result: Result) -> Table:
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
    return Table("The machine in numbers, distances from the meniscus", ("what", "value"), tuple(rows))


def _assumptions(result: Result) -> list[str]:
    headline = fraction_text(result.headline)
    treatment = TREATMENTS.get(result.shape_treatment, "")
    return [
        f"Section treatment: {result.shape_treatment}" + (f": {treatment}." if treatment else "."),
        "Sizes are hot, at mould exit; shrinkage of the strand is not followed.",
        f"“Shell” is what is at least {headline} solid. A drained breakout shell looks more like 0.3.",
        "End of solidification is where the centre is wholly solid (solid fraction 1.0).",
        "The strand is cast at one speed, with the same steel temperature and water throughout.",
        "Water of a zone is spread evenly over its sprayed area; single nozzles and rolls are not seen.",
        "Stirring of the liquid is taken as a better conduction of the pool, factor "
        f"{result.case.steel.liquid_conductivity_factor:g}.",
        "All distances are counted from the meniscus along the strand.",
    ]


def _own_limits(result: Result, judgement: Judgement) -> Table | None:
    rows = []
    setting = setting_of(result)
    for finding in judgement.findings:
        if finding.overridden:
            rule = limit(finding.name, setting)
            window = (rule.lower, rule.upper) if rule.sense == "within" else None
            bound = window or (rule.lower if rule.sense == "at least" else rule.upper)
            shipped = "none" if rule.reason else replace(finding, limit=bound).limit_text
            rows.append((finding.label, finding.limit_text, shipped))
    head = ("limit", "yours, from the case", "as shipped")
    return Table("Limits that differ from those shipped", head, tuple(rows)) if rows else None


def _rests_on(result: Result, judgement: Judgement) -> Iterator[tuple[str, str, str]]:
    """Yield what rests on a source, its key, and how well it is known."""
    for quantity, (key, known) in result.steel.evidence.items():
        yield f"steel: {quantity}", key, known
    for key in result.sources:
        yield "cooling", key, EVIDENCE[sources()[key].evidence] if key in sources() else "not known"
    for finding in judgement.findings:
        yield f"limit: {finding.label}", finding.source, EVIDENCE[finding.evidence]
    for caution in cautions():
        for key in caution.get("source", ()):
            yield f"caution: {caution['name']}", key, EVIDENCE[sources()[key].evidence]


def _basis(result: Result, judgement: Judgement) -> list[tuple[str, str, str]]:
    """Sources used, how well they are known, and what rests on them; what has no source stands together."""
    found: dict[str, tuple[dict[str, None], list[str]]] = {}
    for what, key, known in _rests_on(result, judgement):
        entry = sources().get(key)
        reference = "No source"
        if entry is not None and entry.evidence != "practice":
            reference = f"{entry.reference} ({entry.note})" if entry.note else entry.reference
        grades, whats = found.setdefault(reference, ({}, []))
        grades[known] = None
        whats.append(what)
    rows = [(reference, "; ".join(grades), _listed(whats)) for reference, (grades, whats) in found.items()]
    return sorted(rows, key=lambda row: (row[0] == "No source", "memory" not in row[1]))


def _listed(whats: Sequence[str]) -> str:
    """Join entries ``kind: name`` with each kind said once."""
    kinds: dict[str, dict[str, None]] = {}
    for what in whats:
        kind, _, name = what.partition(": ")
        kinds.setdefault(kind, {})[name] = None
    return "; ".join(
        f"{kind}: {', '.join(n for n in names if n)}".removesuffix(": ") for kind, names in kinds.items()
    )


def _recalled(result: Result, judgement: Judgement) -> str:
    whats = [what for what, _, known in _rests_on(result, judgement) if "memory" in known]
    return _listed(list(dict.fromkeys(whats)))


def _defaults(result: Result) -> list[tuple[str, str]]:
    """What the case file left open and the value used; a key left open alike in every zone is said once."""
    given, used = flattened(tomllib.loads(result.case.text)), flat(result.case)
    left = {key: value_text(value) for key, value in used.items() if key not in given}
    rows: dict[str, str] = {}
    for key, value in left.items():
        table, _, name = key.rpartition(".")
        if table.startswith("zone."):
            alike = {left.get(f'zone."{zone.name}".{name}') for zone in result.case.zone}
            key = f"zone.*.{name}" if alike == {value} else key
        rows[key] = value
    return list(rows.items())
