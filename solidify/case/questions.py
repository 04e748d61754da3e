"""What looks wrong in a case and may be right: asked, not refused, and kept with the result as a notice.

Each question is one function of a checked case, whose docstring is printed in the reference. Borders are common
practice without a source, wide enough that the invented plants that ship pass without a question.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator
from itertools import pairwise

import numpy as np

from solidify.case.model import Zone
from solidify.case.trap_rules import M3_PER_H, mean_flux, usual_flux
from solidify.case.view import CaseView
from solidify.errors import Notice

__all__ = ["QUESTIONS", "questions"]

_HOT = 50.0
"""Cooling water hotter than this is asked about [degC]."""

_PRESSED = 25.0
"""Spray water pressed higher than this is asked about [bar]."""

_CROWDED = 110.0
"""More nozzles than this on a metre of strand are asked about."""

_UPSIDE_DOWN = 1.05
"""Water of the loose side over that of the fixed one from which it is asked about."""

_STEEP = 30.0
"""Inclination from which the loose side wants less water [deg from the vertical]."""

_STEEL = 7400.0
"""Density for litres per kilogram in round figures [kg/m³]."""


def questions(case: CaseView) -> tuple[Notice, ...]:
    """Ask about everything that looks wrong.

    Parameters
    ----------
    case : CaseView
        A checked case.

    Returns
    -------
    tuple of Notice
        Each with a question mark at the end of its first sentence.
    """
    return tuple(notice for ask in QUESTIONS for notice in ask(case))


def _where(zone: Zone) -> str:
    return f'zone "{zone.name}"'


def warm_water(case: CaseView) -> Iterator[Notice]:
    """Water hotter than 50 °C may have been given in °F."""
    places = [("[mould] water_inlet_C", case.mould.water_inlet_C)]
    places += [("[cooling] water_temperature_C", case.cooling.water_temperature_C)]
    own = [(zone, zone.water_temperature_C) for zone in case.zone if zone.water_temperature_C is not None]
    places += [(f"{_where(zone)} water_temperature_C", t) for zone, t in own]
    for where, t in places:
        if t > _HOT:
            yield Notice(f"water of {t:g} °C: °F? {t:g} °F is {(t - 32) / 1.8:.0f} °C", where)


def swapped_sides(case: CaseView) -> Iterator[Notice]:
    """More water on the loose side than on the fixed one, where the strand lies: the sides may be swapped."""
    radius = case.machine.radius_m
    if radius is None:
        return
    for zone, (start, end) in zip(case.zone, case.zone_bounds, strict=True):
        below = max(0.5 * (start + end) - case.vertical_length, 0.0)
        if math.degrees(below / radius) < _STEEP:
            continue
        loose, fixed = _sides(zone, case.casting.speed_m_per_min)
        if fixed > 0 and loose > _UPSIDE_DOWN * fixed:
            text = (
                f"more water on the loose (inner) than on the fixed (outer) side, {loose:.3g} to {fixed:.3g}: "
                "sides swapped? On an arc water falls off the lower, fixed side and stands on the upper one"
            )
            yield Notice(text, _where(zone))


def _sides(zone: Zone, speed: float) -> tuple[float, float]:
    """Return water of the loose and the fixed side [L/min, or shares]; zeros where they are not told apart."""
    if zone.side_shares is not None:
        return zone.side_shares.loose, zone.side_shares.fixed
    if zone.water_loose_at_speed is not None and zone.water_fixed_at_speed is not None:
        return _read(zone.water_loose_at_speed, speed), _read(zone.water_fixed_at_speed, speed)
    return zone.water_loose_L_per_min or 0.0, zone.water_fixed_L_per_min or 0.0


def _read(table: tuple[tuple[float, float], ...], speed: float) -> float:
    speeds, waters = np.array(table).T
    return float(np.interp(speed, speeds, waters))


def _litres(zone: Zone, speed: float) -> float:
    """Return all water of a zone that is given in L/min; NaN where it is given in another way."""
    given = [
        zone.water_L_per_min,
        zone.water_loose_L_per_min,
        zone.water_fixed_L_per_min,
        zone.water_narrow_L_per_min,
    ]
    tables = zone.tables()
    if tables:
        return math.fsum(_read(table, speed) for table in tables.values())
    known = [water for water in given if water is not None]
    return math.fsum(known) if known else math.nan


def _area(case: CaseView, zone: Zone, length: float) -> float:
    """Return what the water of a zone reaches [m²]."""
    if case.section.shape == "round":
        return math.pi * case.thickness * length
    wide = 2 * (zone.sprayed_width_mm or case.width * 1e3) / 1e3
    return (wide + (2 * case.thickness if zone.sprayed_faces == "all" else 0.0)) * length


def spray_units(case: CaseView) -> Iterator[Notice]:
    """A zone with many times the water of its neighbours on the same area, or far too little in all: m³/h and L/min."""
    speed = case.casting.speed_m_per_min
    places = zip(case.zone, case.zone_bounds, strict=True)
    wet = [(z, w, w / _area(case, z, b - a)) for z, (a, b) in places if (w := _litres(z, speed)) > 0]
    if len(wet) < 2:
        return
    for i, (zone, water, flux) in enumerate(wet):
        near = [wet[k][2] for k in (i - 1, i + 1) if 0 <= k < len(wet)]
        usual = math.exp(math.fsum(map(math.log, near)) / len(near))
        ratio = flux / usual
        for factor, unit, others in ((M3_PER_H, "L/min", "m³/h"), (1 / M3_PER_H, "m³/h", "L/min")):
            if (ratio > 8.0) == (factor > 1) and not 1 / 8 < ratio < 8 and 1 / 3 < ratio / factor < 3:
                text = (
                    f"{water:.3g} L/min is {ratio:.2g} times what its neighbours have on the same area: {unit} "
                    f"where the others are in {others}?"
                )
                yield Notice(text, _where(zone))
    steel = _STEEL * case.section_area * case.speed * 60.0
    specific = math.fsum(w for _, w, _ in wet) / steel
    if len(wet) == len(case.zone) and specific < 0.06 and 0.25 < specific * M3_PER_H < 4:
        text = (
            f"all zones together have {specific:.3f} L/kg: m³/h? In m³/h the same figures would be "
            f"{specific * M3_PER_H:.2g} L/kg"
        )
        yield Notice(text, "zones")


def one_face_for_all(case: CaseView) -> Iterator[Notice]:
    """Flow and rise that make a usual flux on one wide face only may be those of one face."""
    mould = case.mould
    flow, rise, speed = mould.water_flow_L_per_min, mould.water_rise_K, mould.measured_at_speed_m_per_min
    if (
        flow is None
        or rise is None
        or speed is None
        or mould.water_faces != "all"
        or case.section.shape == "round"
    ):
        return
    length = case.working_length
    usual = mould.expected_mean_heat_flux_MW_per_m2 or usual_flux(60.0 * length / speed)
    flux = mean_flux(flow, rise, 2 * (case.thickness + case.width) * length)
    alone = mean_flux(flow, rise, case.width * length)
    if flux < 0.6 * usual and 0.7 < alone / usual < 1.5:
        text = (
            f"{flow:g} L/min and {rise:g} K make {flux:.2f} MW/m² on all faces, about {flux / usual:.1f} of what is "
            f'usual: the flow of one wide face? With water_faces = "one wide" it is {alone:.2f} MW/m²'
        )
        yield Notice(text, "[mould] water_flow_L_per_min")


def nozzles(case: CaseView) -> Iterator[Notice]:
    """Very many nozzles on a metre may be those of all strands; a very high pressure may be in psi or kPa."""
    for zone, (start, end) in zip(case.zone, case.zone_bounds, strict=True):
        given = zone.nozzles
        if given is None:
            continue
        each = given.count / (end - start)
        if each > _CROWDED:
            text = (
                f"{given.count} nozzles on {end - start:.2f} m are {each:.0f} on a metre: those of all strands, or "
                f"{given.count / 10:g}?"
            )
            yield Notice(text, f"{_where(zone)} nozzles")
        for key in ("pressure_bar", "reference_bar"):
            bar = getattr(given, key)
            if bar > _PRESSED:
                others = f"{bar:g} psi is {bar * 0.0689476:.1f} bar, {bar:g} kPa {bar / 100:.2g}"
                text = f"{key} = {bar:g} bar: psi or kPa? {others}"
                yield Notice(text, f"{_where(zone)} nozzles")


def lost_zone(case: CaseView) -> Iterator[Notice]:
    """A zone may be lost where a number is missing in the names, or one is far longer than those beside it."""
    numbered = [re.fullmatch(r"(.*?)(\d+)", zone.name) for zone in case.zone]
    found = [(m[1], int(m[2])) if m else None for m in numbered]
    asked = set()
    for (zone, here), (after_it, then) in pairwise(zip(case.zone, found, strict=True)):
        if here and then and here[0] == then[0] and then[1] - here[1] == 2:
            between = f'is "{here[0]}{here[1] + 1}" lost? The next zone fills its place'
            text = f'is followed by "{then[0]}{then[1]}": {between}'
            asked.add(after_it.name)
            yield Notice(text, _where(zone))
    lengths = [end - start for start, end in case.zone_bounds]
    for i in range(2, len(lengths)):
        if case.zone[i].name in asked:
            continue
        before = lengths[i - 1]
        after = lengths[i + 1] if i + 1 < len(lengths) else 0.0
        if lengths[i] > 2.0 * before and lengths[i] > 1.45 * after and (after or lengths[i] > 3.0 * before):
            beside = f"{before:.2f}" + (f" and {after:.2f}" if after else "")
            text = f"is {lengths[i]:.2f} m long beside {beside} m: is a zone lost whose place it fills?"
            yield Notice(text, _where(case.zone[i]))


QUESTIONS: tuple[Callable[[CaseView], Iterator[Notice]], ...] = (
    warm_water,
    one_face_for_all,
    swapped_sides,
    spray_units,
    nozzles,
    lost_zone,
)
"""Every question, in the order of the file."""
