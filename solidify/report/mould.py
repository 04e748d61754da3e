"""The mould in words: what a shift compares with its panel, the oscillation, the taper; and where the heat goes."""

from __future__ import annotations

import math

import numpy as np

from solidify.assessment.limits import product_of
from solidify.heat.surface import heat_shares
from solidify.strand.result import MECHANISMS, MouldResult, Result
from solidify.units import MM, MW

__all__ = ["meeting_text", "mould_entries", "shares_text"]

_REHEATS = 0.01
"""Taper below zero from which the surface counts as warming up inside the mould, about 5 K/m [%/m]."""


def mould_entries(mould: MouldResult) -> list[tuple[str, str]]:
    """Return what is known of the mould beside its mean flux, a name and a text each, for print.

    Parameters
    ----------
    mould : MouldResult
        The mould in numbers.

    Returns
    -------
    list of (str, str)
        Without what was not given.
    """
    texts = {
        "Mould against normal": _normal(mould),
        "Mould faces": ", ".join(
            f"{face} {flux / MW:.2f}" for face, flux in zip(mould.face, mould.face_flux, strict=True)
        ),
        "Mould water": _water(mould),
        "Oscillation": _oscillation(mould),
        "Taper": _taper(mould),
    }
    if texts["Mould faces"]:
        texts["Mould faces"] += " MW/m²"
    return [(name, text) for name, text in texts.items() if text]


def _normal(mould: MouldResult) -> str:
    if math.isnan(mould.expected_mean_flux):
        return ""
    off = 100 * (mould.mean_flux / mould.expected_mean_flux - 1)
    return f"{off:+.0f} % to {mould.expected_mean_flux / MW:.2f} MW/m²"


def _water(mould: MouldResult) -> str:
    parts = []
    if not math.isnan(mould.water_rise):
        parts.append(f"rise {mould.water_rise:.1f} K")
    if not math.isnan(mould.water_velocity):
        parts.append(f"{mould.water_velocity:.1f} m/s")
    if not math.isnan(mould.copper_hot_face):
        parts.append(f"hot face of the copper about {mould.copper_hot_face:.0f} °C")
    return ", ".join(parts)


def _oscillation(mould: MouldResult) -> str:
    if math.isnan(mould.negative_strip_time):
        return ""
    ratio = mould.negative_strip_ratio
    speeds = f"peak mould speed {mould.mould_speed_ratio:.2f} x casting speed, mean {1 + ratio:.2f} x"
    return f"negative strip {mould.negative_strip_time:.3f} s, {speeds}; marks every {mould.mark_pitch / MM:.1f} mm"


def _taper(mould: MouldResult) -> str:
    z, taper = mould.taper_distance, 100 * mould.taper
    if len(z) < 6:
        return ""
    if taper.min() < -_REHEATS:
        place = float(z[int(np.argmin(taper))])
        return f"no advice: the surface warms up again inside the mould, near {place:.2f} m; check the mould flux"
    thirds = [float(np.mean(part)) for part in np.array_split(taper, 3)]
    free = f"free shrinkage asks for {100 * mould.mean_taper:z.2f} %/m of the width, both sides together, in the mean"
    free += f", by thirds from the meniscus {', '.join(f'{t:z.1f}' for t in thirds)}"
    gap, place = float(mould.taper_gap.max()), float(z[np.argmax(mould.taper_gap)])
    given = not math.isnan(mould.single_taper)
    single = mould.single_taper if given else mould.mean_taper
    if gap <= 0:
        return f"{free}; one taper of {100 * single:z.2f} %/m leaves no gap"
    text = f"{free}; one taper of {100 * single:z.2f} %/m leaves {gap / MM:.2f} mm a side at {place:.2f} m"
    at_exit = float(mould.taper_gap[-1])
    if not given:
        return text
    return (
        f"{text}, {at_exit / MM:.2f} mm at mould exit"
        if at_exit >= 0
        else (f"{text} and presses {-at_exit / MM:.2f} mm a side into the shell at mould exit")
    )


def shares_text(result: Result) -> str:
    """Return the shares of the heat to the end of solidification beside the usual ones, for print.

    Parameters
    ----------
    result : Result
        A marched strand; the zone in which it solidifies counts by the part before the end.

    Returns
    -------
    str
        Empty where no usual shares are known.
    """
    case = result.case
    section = case.section.shape, result.thickness, result.width, case.section.product
    usual = heat_shares(product_of(*section)[0])
    if not usual:
        return ""
    end = float(result.summary["metallurgical_length"])
    end = result.distance[-1] if math.isnan(end) else end
    parts_done = [min(max((end - zone.start) / (zone.end - zone.start), 0.0), 1.0) for zone in result.zones]
    heat = np.array(parts_done) @ result.balance.heat.sum(axis=0)
    total, mould = heat.sum(), heat[MECHANISMS.index("mould")]
    if end <= result.case.working_length:
        return "all of it in the mould, where the section solidifies through"
    parts = []
    for name, (low, high) in usual.items():
        share = mould / total if name == "mould" else heat[MECHANISMS.index(name)] / (total - mould)
        parts.append(f"{name} {100 * share:.0f} ({low:.0f} to {high:.0f})")
    below = ", ".join(parts[1:])
    return f"{parts[0]} % of all, below it {below} %; in brackets what is usual, common practice"


def meeting_text(result: Result) -> str:
    """Return where two unequal shells met, for print; empty where both sides are alike or have not met."""
    met = float(result.summary.get("meeting_depth", math.nan))
    if len(result.sides) < 2 or math.isnan(met):
        return ""
    return f"the shells met {met / MM:.1f} mm from the loose side"
