"""The card of a solved strand: what decides the cast, in ten lines or fewer."""

from __future__ import annotations

import math

import numpy as np

from solidify.assessment.finding import Finding
from solidify.assessment.judge import Judgement, setting_of
from solidify.report.text import WIDTH, entries, page, wrapped
from solidify.strand.result import Result
from solidify.units import MM, MW

__all__ = ["card_text", "overall_text"]

_WORDS = {"kept": "met", "close": "marginal", "breached": "not met", "not judged": "not judged"}
"""Verdict of a finding -> the word on the card."""


def card_text(result: Result, judgement: Judgement, width: int = WIDTH) -> str:
    """Write the card that a run prints first.

    Parameters
    ----------
    result : Result
        A solved strand.
    judgement : Judgement
        Its limit checks.
    width : int
        Longest line, 100 or more [characters].

    Returns
    -------
    str
        Ten lines; more only where the title or the checks not met do not fit in one.
    """
    found = {f.name: f for f in judgement.findings}
    pairs = [
        ("Shell at mould exit", _against(found.get("shell_floor"))),
        ("End of solidification", _end(result)),
        ("Surface at straightener", _straightener(result, found.get("straightener_surface"))),
        ("Largest reheating", _reheating(result, found.get("reheating_total"))),
        ("Spray water", _water(result)),
        ("Mould", _mould(result)),
        ("Overall", overall_text(judgement)),
        ("Breakout risk", f"{judgement.breakout.words}. {judgement.breakout.statement}"),
    ]
    head = wrapped(f"{result.case.title}: {_state(result)}", width)
    return page([head, entries([(name, words) for name, words in pairs if words], width)]).replace(
        "\n\n", "\n", 1
    )


def overall_text(judgement: Judgement) -> str:
    """Say in one line how a strand stands to its limits, the checks not met by name.

    Parameters
    ----------
    judgement : Judgement
        Limit checks of a strand.

    Returns
    -------
    str
        Hard limits not met first, then advisory ones, then those that are met within the uncertainty only.
    """
    groups = (
        ("hard limit not met", "not met", "hard"),
        ("advisory limit not met", "not met", "soft"),
        ("marginal", "marginal", None),
    )
    parts = []
    for words, verdict, severity in groups:
        labels = [
            f.label
            for f in judgement.findings
            if _WORDS[f.verdict] == verdict and severity in (None, f.hardness)
        ]
        if labels:
            parts.append(f"{words}: {', '.join(labels)}")
    judged = sum(f.judged for f in judgement.findings)
    return "; ".join(parts) if parts else f"all {judged} limit checks met"


def _state(result: Result) -> str:
    sizes = f"{result.thickness / MM:.4g}"
    sizes += "" if result.case.section.shape == "round" else f" × {result.width / MM:.4g}"
    speed = result.case.casting.speed_m_per_min
    return f"{setting_of(result).product} {sizes} mm, {speed:.4g} m/min, superheat {result.superheat:.0f} K"


def _against(f: Finding | None) -> str:
    """Value of a check against its limit, with the margin."""
    if f is None:
        return ""
    if not f.judged:
        return f"{f.value_text} (not judged: {f.reason})"
    return f"{f.value_text}, limit {f.limit_text}: {f.room}, {_WORDS[f.verdict]}"


def _end(result: Result) -> str:
    """End of solidification against support and cut-off."""
    case, length = result.case, float(result.summary["metallurgical_length"])
    if math.isnan(length):
        core = float(result.centre_solid_fraction[-1])
        return f"not before the cut-off at {case.cutoff:.1f} m; centre solid fraction {core:.2f} there"
    words = f"{length:.1f} m from the meniscus"
    support = case.support_end
    if support is not None:
        words += f", {100 * length / support:.0f} % of the supported length of {support:.1f} m"
    return f"{words}; {case.cutoff - length:.1f} m before the cut-off at {case.cutoff:.1f} m"


def _straightener(result: Result, f: Finding | None) -> str:
    """Surface over the straightening points, both sides, against the limit."""
    points = result.case.straightener
    if not points:
        return ""
    inside = (result.distance >= points[0]) & (result.distance <= points[-1])
    sides = []
    for name, surface in zip(result.sides, result.surface_temperature, strict=True):
        ends = [float(result.at(surface, z)) for z in (points[0], points[-1])]
        values = np.concatenate((ends, surface[inside]))
        span = f"{values.min():.0f} to {values.max():.0f} °C"
        sides.append(span if len(result.sides) == 1 else f"{name} {span}")
    words = "; ".join(sides)
    if f is None or not f.judged:
        return words
    return f"{words}; limit {f.limit_text}: {f.room}, {_WORDS[f.verdict]}"


def _reheating(result: Result, f: Finding | None) -> str:
    """Largest reheating and the zone that it lies in."""
    value = float(result.summary["largest_reheating"])
    if f is None or math.isnan(value):
        return ""
    place = f.where.split(" ")[0]
    zone = ""
    try:
        z = float(place.split("-")[-1])
    except ValueError:
        z = math.nan
    for stretch in result.zones:
        if stretch.start < z <= stretch.end + 1e-9:
            zone = f' up to {z:.2f} m ("{stretch.name}")'
    words = f"{value:.0f} K{zone}"
    return f"{words}, limit {f.limit_text}: {f.room}, {_WORDS[f.verdict]}" if f.judged else words


def _water(result: Result) -> str:
    water = float(result.summary["specific_water"])
    return "" if math.isnan(water) else f"{water:.2f} L/kg"


def _mould(result: Result) -> str:
    """Mean flux and mould water, against the reference where the case gives one."""
    mould = result.mould
    words = f"mean heat flux {mould.mean_flux / MW:.2f} MW/m²"
    if mould.origin == "handbook":
        words += ", flux not measured (published relation)"
    reference = mould.expected_mean_flux
    if reference == reference and reference > 0:
        words += (
            f", {100 * (mould.mean_flux / reference - 1):z.0f} % from the reference of {reference / MW:.2f}"
        )
    if mould.water_rise == mould.water_rise:
        words += f"; mould water ΔT {mould.water_rise:.1f} K"
    return words
