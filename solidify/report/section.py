"""The printed sheet of a section: figures, the slice beside them, corner and mid-faces at the straightener."""

from __future__ import annotations

import math

from solidify.report.text import WIDTH, columns, entries, listed, page, wrapped
from solidify.section.result import BELOW_MOULD, SectionResult
from solidify.strand.result import MECHANISMS
from solidify.units import KW, MINUTE, MM

__all__ = ["CAUTION", "section_text"]

CAUTION = (
    "Calculated estimate, not a measurement. Not a breakout detector; it authorises no action. Molten steel and water: "
    "local codes and licensed practice decide."
)
"""What stands at the end of the sheet."""


def section_text(section: SectionResult, width: int = WIDTH) -> str:
    """Write what the march of a section prints.

    Parameters
    ----------
    section : SectionResult
        A marched section.
    width : int
        Longest line [characters].

    Returns
    -------
    str
        Lines without trailing blanks.
    """
    return page(
        [
            _head(section, width),
            _places(section, width),
            _slice(section, width),
            _checks(section, width),
            _heat(section, width),
            listed("Notes", [str(notice) for notice in section.notices], width),
            wrapped(CAUTION, width),
        ]
    )


def _metres(value: float, cutoff: float) -> str:
    return f"not by the cut-off at {cutoff:.1f} m" if math.isnan(value) else f"{value:.2f} m"


def _head(s: SectionResult, width: int) -> list[str]:
    case, kind = s.case, "quarter" if len(s.sides) == 1 else "half"
    size = f"{case.thickness / MM:.0f} x {case.width / MM:.0f} mm, {case.casting.speed_m_per_min:g} m/min"
    row = s.fraction_index(s.headline)
    shells = [f"{s.at(s.wide_shell[i, row], case.working_length) / MM:.1f} mm" for i in range(len(s.sides))]
    shells.append(f"{s.at(s.narrow_shell[row], case.working_length) / MM:.1f} mm")
    names = ["wide", "narrow"] if len(s.sides) == 1 else ["loose", "fixed", "narrow"]
    told = ", ".join(f"{shell} {name} mid-face" for shell, name in zip(shells, names, strict=True))
    time = s.solidification_time / MINUTE
    end = _metres(s.metallurgical_length, case.cutoff) + ("" if math.isnan(time) else f", {time:.1f} min")
    solid = 100 * float(s.at(s.equivalent_solid, case.working_length))
    b = s.balance
    rows = [
        ("section", f"{size}; {kind} section in two dimensions, {len(s.depth)} x {len(s.along)} nodes"),
        (
            "shell at mould exit",
            f"{told}, at solid fraction {s.headline:g}; {solid:.0f} % of the section is solid",
        ),
        ("end of solidification", end),
        (
            "heat account",
            f"flux {b.flux_error:.0e}, table {b.table_error:.0e}, recount {b.recount_error:.0e}",
        ),
    ]
    return [*wrapped(case.title, width), *entries(rows, width)]


def _places(s: SectionResult, width: int) -> list[str]:
    """Surface, corner and centre where maps are kept."""
    two = len(s.sides) == 2
    cells = [["°C at", "m", *(("loose", "fixed") if two else ("wide",)), "narrow", "corner", "centre"]]
    for place in s.maps:
        z = place.distance
        values = [*s.at(s.wide_temperature, z), s.at(s.narrow_temperature, z)]
        values += [s.at(s.corner_temperature[0], z), s.at(s.centre_temperature, z)]
        cells.append([place.name, f"{z:.2f}", *(f"{v:.0f}" for v in values)])
    return columns(cells, "lr", width)


def _slice(s: SectionResult, width: int) -> list[str]:
    """How far the slice of the same case is off."""
    c, case = s.comparison, s.case
    rows = [
        (
            "end of solidification",
            f"{_metres(c.slice_length, case.cutoff)}, {_signed(c.length_percent, 1)} %",
        ),
        (
            f"shell at mould exit, {s.headline:g}",
            f"{c.slice_shell / MM:.1f} mm, {_signed(c.shell / MM, 1)} mm",
        ),
    ]
    if not math.isnan(c.straightener_in):
        ends = (
            f"{_signed(c.straightener_in)} K at the first point, {_signed(c.straightener_out)} K at the last"
        )
        rows.append(("surface at the straightener", ends))
    text = f"{_signed(c.largest)} K at {c.largest_at:.1f} m"
    rows.append((f"largest, from {BELOW_MOULD:g} m below the mould", text))
    return ["The slice of this case less the section, middle of the wide face", *entries(rows, width, "  ")]


def _signed(value: float, digits: int = 0) -> str:
    """A difference with its sign; without one where it rounds to nothing."""
    if math.isnan(value):
        return "–"
    text = f"{value:+.{digits}f}"
    return text if float(text) else text[1:]


def _checks(s: SectionResult, width: int) -> list[str]:
    if not s.checks:
        return []
    cells = [
        [
            c.point,
            "–" if math.isnan(c.value) else f"{c.value:.0f} °C",
            c.limit,
            c.margin_text,
            c.verdict,
            c.where,
        ]
        for c in s.checks
    ]
    notes = list(dict.fromkeys(note for c in s.checks for note in c.note.split("; ") if note))
    head = "Surface at the straightener, by the ductility criterion of the case"
    return [
        head,
        *columns(cells, "lrllww", width, "  "),
        *(line for n in notes for line in wrapped(f"  {n}", width, "    ")),
    ]


def _heat(s: SectionResult, width: int) -> list[str]:
    """Heat of the whole strand, zone by zone."""
    kw = s.balance.heat * (s.case.speed / KW)
    total, by_face = kw.sum(), kw.sum(axis=2)
    cells = [["kW of the strand", *s.faces, "all", "%"]]
    for i, zone in enumerate(s.zones):
        own = by_face[:, i]
        cells.append(
            [zone.name, *(f"{v:.0f}" for v in own), f"{own.sum():.0f}", f"{100 * own.sum() / total:.0f}"]
        )
    cells.append(["all", *(f"{v:.0f}" for v in by_face.sum(axis=1)), f"{total:.0f}", "100"])
    shares = kw.sum(axis=(0, 1)) / total
    told = ", ".join(
        f"{name} {100 * share:.0f} %" for name, share in zip(MECHANISMS, shares, strict=True) if share > 0.005
    )
    return [*columns(cells, "lr", width), *wrapped(f"by mechanism: {told}", width)]
