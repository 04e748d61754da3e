"""The report of a strand as one page of HTML that needs nothing else: for a phone, a screen and A4.

Words, figures and tables are put together here; `data/pages/strand.html.j2` lays them out.
"""

from __future__ import annotations

import math
import tomllib

from solidify.analysis.compare import flat, flattened, value_text
from solidify.assessment.judge import Finding, Judgement, setting_of
from solidify.plots import draw_strand, plot_heat
from solidify.plots.embedded import narrow_sheet, svg_address
from solidify.plots.heading import verdict_words
from solidify.report.basis import assumptions, basis, ductility, recalled
from solidify.report.document import Picture, page_text
from solidify.report.growth import MEANING
from solidify.report.strand_tables import (
    ductility_table,
    front_rows,
    growth_tables,
    heat_table,
    machine_table,
    mould_table,
    own_limits,
    steel_table,
    strand_table,
    thin_shell,
    uncertainty_table,
    zone_table,
)
from solidify.report.strand_text import MARKS, assumed_rolls, fraction_text, notices
from solidify.strand.result import Result
from solidify.units import MINUTE, MM

__all__ = ["report_page"]


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
    return page_text(
        "strand.html.j2",
        case.title,
        _lead(result),
        result.created_by,
        result.created_at,
        worst=judgement.worst,
        verdict=verdict_words(judgement),
        counts=_counts(judgement),
        risk=judgement.breakout,
        weights=MARKS,
        short=_short(result, judgement),
        groups=[(h, [f for f in judged if f.hardness == h]) for h in ("hard", "soft")],
        unjudged=[f for f in judgement.findings if not f.judged],
        banded=any(f.banded for f in judged),
        uncertainty=uncertainty_table(judgement),
        bare_limit=_bare_limit,
        pictures=_pictures(result, judgement),
        zones=zone_table(result),
        heat=heat_table(result),
        fronts=front_rows(result),
        growth=growth_tables(result),
        growth_meaning=MEANING,
        moves=next((r.moves for r in judgement.breakout.reasons if r.moves), ""),
        numbers=[strand_table(result), mould_table(result), steel_table(result), machine_table(result)],
        notices=[f"{n}{f' ({n.count} times)' if n.count > 1 else ''}" for n in notices(result)],
        assumptions=assumptions(result),
        own=own_limits(result, judgement),
        ductility=ductility(result),
        trough=ductility_table(result),
        recalled=recalled(result, judgement),
        basis=basis(result, judgement),
        defaults=_defaults(result),
        case_name=case.name,
        case_text=case.text.rstrip("\n"),
    )


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
        *(f"roll contact assumed: {text}" for text in assumed_rolls(result)),
    ]


def _counts(judgement: Judgement) -> str:
    found = [f.verdict for f in judgement.findings]
    order = ("breached", "close", "kept", "not judged")
    return ", ".join(f"{found.count(verdict)} {verdict}" for verdict in order if verdict in found)


def _short(result: Result, judgement: Judgement) -> list[tuple[str, str, str]]:
    """Return name, figure and what it stands against, of what a shift asks first."""
    table = {f.name: f for f in judgement.findings}
    shell = thin_shell(result, result.headline)
    rows = [("Shell at mould exit", f"{shell:.1f} mm", f"at solid fraction {fraction_text(result.headline)}")]
    length = float(result.summary["metallurgical_length"])
    end = "not by the cut-off" if math.isnan(length) else f"{length:.1f} m"
    rows.append(("End of solidification", end, f"last support {result.case.support_end:.1f} m"))
    surface = float(result.summary["surface_at_straightener_out"])
    finding = table.get("straightener_surface")
    if finding is not None and not math.isnan(finding.value):
        against = f"to be {finding.limit_text}" if finding.judged else "not judged"
        word = "Highest" if math.isfinite(finding.upper) else "Lowest"
        rows.append((f"{word} surface at the straightener", finding.value_text, against))
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
    exit_shell = thin_shell(result, result.headline)
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
