"""What a case would run with, printed before anything runs: `solidify check`."""

from __future__ import annotations

import math
from collections.abc import Sequence

from solidify.assessment.ductility import case_ductility
from solidify.assessment.limits import strand_setting
from solidify.case import Case
from solidify.case.case import ROLLS_ASSUMED
from solidify.errors import told_once
from solidify.heat.spray import relation
from solidify.report.ductility import trough_text
from solidify.report.mould import mould_entries
from solidify.report.strand_text import ORIGINS
from solidify.report.text import columns, entries, listed, page, wrapped
from solidify.steel import Steel
from solidify.strand.cooling import CoolingPath, CoolingSegment, cooling_path
from solidify.strand.setup import case_steel, shape_notices, shape_treatment, temperatures, throughput
from solidify.strand.zones import side_water
from solidify.units import L_PER_MIN, MINUTE, MM, MW

__all__ = ["check_text"]

_HEAD = (
    "zone",
    "from m",
    "to m",
    "sprayed",
    "area m²",
    "L/min",
    "L/(m² min)",
    "L/(m² s)",
    "wetted",
    "h W/(m² K)",
    "L/kg",
)

_NOTE = (
    "h is the water's coefficient on a surface of 1000 °C, spray factor included; water fluxes are means over the "
    "sprayed area of a zone, not values under a nozzle"
)

_WETTED_NOTE = "; wetted is the share under a spray"

_SIDES_NOTE = ". Two figures: loose/fixed side"


def check_text(case: Case) -> str:
    """Say what would be used, zone by zone, so that a wrong unit or a factor is seen before the run.

    Parameters
    ----------
    case : Case
        A checked case.

    Returns
    -------
    str

    Raises
    ------
    InputError
        If steel, mould and practice contradict one another.
    """
    steel = case_steel(case)
    path = cooling_path(case, steel)
    heat = temperatures(case, steel)
    rate = throughput(case, steel)
    width = f" x {case.width / MM:.0f}" if case.section.shape != "round" else ""
    known = [
        (
            "section",
            f"{case.section.shape} {case.thickness / MM:.0f}{width} mm hot; a slice stands for it as "
            f'"{shape_treatment(case)}"',
        ),
        ("steel", _steel_words(steel)),
        (
            "casting",
            f"{case.casting.speed_m_per_min:g} m/min, {rate * MINUTE:.0f} kg/min; "
            f"tundish {heat.tundish:.0f} °C, superheat {heat.superheat:.0f} K, meniscus {heat.pouring:.0f} °C",
        ),
        *_mould_entries(path),
        (
            "machine",
            f"straightener {_points(case.straightener)}, last support {case.support_end:.2f} m, "
            f"cut-off {case.cutoff:.2f} m, all from the meniscus",
        ),
        *_ductility_entry(case, steel),
    ]
    notices = told_once(
        n for n in (*shape_notices(case), *path.notices, *steel.notices) if n.where != ROLLS_ASSUMED
    )
    assumed = f"Roll contact assumed: {case.rolls_text}" if case.rolls_text else ""
    return page(
        [
            [*wrapped(f"{case.title}: read, nothing computed"), *(wrapped(assumed) if assumed else [])],
            entries(known),
            _table(path, rate),
            [*wrapped(_note(path)), *_relations(path)],
            listed("Water by side, L/min:", _by_side(case, rate)),
            listed("to know:", map(str, notices)),
        ]
    )


def _ductility_entry(case: Case, steel: Steel) -> list[tuple[str, str]]:
    if not case.straightener:
        return []
    section = case.section.shape, case.thickness, case.width
    setting = strand_setting(section, steel, case.mould.lubricant, case.section.product)
    said = trough_text(case_ductility(case, setting, steel.composition), setting, case.limits)
    return [("ductility", said)]


def _steel_words(steel: Steel) -> str:
    elements = " ".join(f"{k}={v:g}" for k, v in steel.composition.items())
    made = f"{elements} (mass %), {steel.steel_class}" if elements else "own numbers"
    return f"{made}; liquidus {steel.liquidus:.1f} °C, solidus {steel.solidus:.1f} °C"


def _mould_entries(path: CoolingPath) -> list[tuple[str, str]]:
    m = path.mould
    return [
        (
            "mould",
            f"working length {m.working_length:.2f} m, dwell {m.dwell:.1f} s; "
            f"mean {m.mean_flux / MW:.2f} MW/m² ({ORIGINS[m.origin]}), {m.exit_flux / MW:.2f} at its exit",
        ),
        ("", m.law),
        *(("", f"{name.lower().removeprefix('mould ')}: {text}") for name, text in mould_entries(m)),
    ]


def _points(points: Sequence[float]) -> str:
    if not points:
        return "none"
    return (
        f"{points[0]:.2f} m"
        if len(points) == 1
        else f"{points[0]:.2f} to {points[-1]:.2f} m ({len(points)} points)"
    )


def _sides(values: Sequence[float], form: str) -> str:
    """Print one number, or loose and fixed side when they differ."""
    shown = [format(v, form) if math.isfinite(v) else "-" for v in values]
    return shown[0] if len(set(shown)) == 1 else "/".join(shown)


def _table(path: CoolingPath, rate: float) -> list[str]:
    """Set the zones under one another, and the water of all of them below."""
    rows = [_HEAD, *(_row(s, rate) for s in path.stretches if s.kind != "mould")]
    known = [s.water for s in path.stretches if s.kind == "zone"]
    if all(map(math.isfinite, known)):
        total = math.fsum(known)
        none = ("",) * len(_HEAD)
        rows.append(("all zones", *none[1:5], _litres(total), *none[6:-1], f"{total / rate:.3f}"))
    place = _HEAD.index("wetted")
    if not _wetted(path):
        rows = [(*cells[:place], *cells[place + 1 :]) for cells in rows]
    return columns(rows, "wr")


def _wetted(path: CoolingPath) -> bool:
    return any(math.isfinite(s.wetted_share) for s in path.stretches)


def _note(path: CoolingPath) -> str:
    return (
        _NOTE + (_WETTED_NOTE if _wetted(path) else "") + (_SIDES_NOTE if len(path.sides) > 1 else "") + "."
    )


def _litres(water: float) -> str:
    return f"{water / (L_PER_MIN * 1e3):.1f}"


def _row(s: CoolingSegment, rate: float) -> tuple[str, ...]:
    wet = math.isfinite(s.water) and s.water > 0
    flux = list(s.water_flux) if wet else []
    return (
        s.name,
        f"{s.start:.2f}",
        f"{s.end:.2f}",
        s.faces or "-",
        f"{s.area:.3f}" if s.area else "-",
        _litres(s.water) if math.isfinite(s.water) else "-",
        _sides([w * MINUTE for w in flux], ".1f") if wet else "-",
        _sides(flux, ".3f") if wet else "-",
        f"{100 * s.wetted_share:.0f} %" if math.isfinite(s.wetted_share) else "-",
        _sides(list(s.coefficient), ".0f"),
        f"{s.water / rate:.3f}" if math.isfinite(s.water) else "-",
    )


def _by_side(case: Case, rate: float) -> list[str]:
    """Say the water of each side where the case tells them apart."""
    found = [(zone.name, side_water(case, zone, rate)) for zone in case.zone]
    return [
        f"{name}: " + ", ".join(f"{side} {water / (L_PER_MIN * 1e3):.1f}" for side, water in sides.items())
        for name, sides in found
        if sides
    ]


def _relations(path: CoolingPath) -> list[str]:
    """Name the relations with the water they take, a line each."""
    names = dict.fromkeys(s.relation for s in path.stretches if s.relation)
    made_for = {"zone mean": "the zone mean", "footprint": "the water under a spray"}
    found = map(relation, names)
    lines = [f"{r.name}: {r.label}; made for {made_for[r.expects]}" for r in found]
    return listed(f"Relation{'s' if len(names) > 1 else ''}:", lines) or ["No spray relation is used."]
