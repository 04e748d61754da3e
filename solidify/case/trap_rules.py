"""Rules against numbers that are each in range and cannot be right together: wrong units, swapped flows."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any

from solidify.case.given import Issue, RawCase, Rule
from solidify.case.values import is_number, plain

__all__ = ["TRAP_RULES", "mean_flux", "swapped_sizes", "usual_flux"]

M3_PER_H = 1e3 / 60.0
"""One cubic metre per hour [L/min]."""

_WATER_HEAT = 4.18e6 / 60e3 / 1e6
"""Heat that one litre per minute takes for each kelvin [MW]; water at 30 °C, 4.18 MJ/(m³ K), from memory."""

_USUAL_ROOT = 8.4
"""Mean mould flux times the root of the time in the mould [MW s^0.5/m²]: between powder (7.3) and oil (9.5), from
memory. Only flows that are off by several times are judged by it."""


def usual_flux(dwell: float) -> float:
    """Return about what a mould takes in the mean [MW/m²] over a time in it [s]."""
    return _USUAL_ROOT / math.sqrt(dwell)


def mean_flux(flow: float, rise: float, area: float) -> float:
    """Return the flux [MW/m²] that a flow [L/min] with its rise [K] means on an area [m²]."""
    return _WATER_HEAT * flow * rise / area


def percent_means_percent(case: RawCase) -> Iterator[Issue]:
    """Standard deviations in percent are 0, or 1 or more (of the casting speed 0.05): 10 % is 10, not 0.1."""
    keys = {"heat_flux_percent": 1.0, "spray_percent": 1.0, "conductivity_percent": 1.0}
    keys |= {"roll_contact_percent": 1.0, "speed_percent": 0.05}
    for key, least in keys.items():
        value = case.get("uncertainty", key)
        if value is not None and 0 < value < least:
            message = f"= {plain(value)} % knows more than anyone does: {plain(100 * value)} % meant?"
            do = f"write {key} = {plain(100 * value)}, or 0 to leave it out"
            yield Issue(("uncertainty", key), message, f"0, or {least:g} % or more", do=do)


def _sizes(case: RawCase) -> tuple[float, float] | None:
    """Return thickness and width [m], of a round its quarter of girth twice; None where they are not known."""
    if case.get("section", "shape") == "round":
        diameter = case.get("section", "diameter_mm")
        return None if diameter is None else (math.pi * diameter / 4e3,) * 2
    thickness, width = case.get("section", "thickness_mm"), case.get("section", "width_mm")
    return None if thickness is None or width is None else (thickness / 1e3, width / 1e3)


def _mould(case: RawCase) -> tuple[float, float] | None:
    """Return working length [m] and time in the mould [s], None where they are not known."""
    length, level = case.get("mould", "length_mm"), case.get("mould", "level_below_top_mm")
    speed = case.get("mould", "measured_at_speed_m_per_min", default=case.get("casting", "speed_m_per_min"))
    if length is None or level is None or speed is None or level >= length:
        return None
    return (length - level) / 1e3, 60.0 * (length - level) / 1e3 / speed


def mould_water_is_in_litres_per_minute(case: RawCase) -> Iterator[Issue]:
    """Flow and rise of the mould water make a flux that a mould can have; a flow in m³/h makes a seventeenth."""
    sizes, mould = _sizes(case), _mould(case)
    for prefix in ("", "face_"):
        key = f"{prefix}water_flow_L_per_min"
        flow, rise = case.get("mould", key), case.get("mould", f"{prefix}water_rise_K")
        if prefix and isinstance(flow, Mapping) and isinstance(rise, Mapping):
            flow, rise = flow.get("loose"), rise.get("loose")
        if sizes is None or mould is None or not is_number(flow) or not is_number(rise):
            continue
        one = prefix or case.get("mould", "water_faces") == "one wide"
        girth = sizes[1] if one else 2 * (sizes[0] + sizes[1])
        flux = mean_flux(flow, rise, girth * mould[0])
        share = flux / usual_flux(mould[1])
        if share < 0.12 and 0.3 < share * M3_PER_H < 2.5:
            message = f"= {plain(flow)} L/min and {plain(rise)} K make {flux:.2f} MW/m²: m³/h?"
            do = f"{plain(flow)} m³/h is {flow * M3_PER_H:.0f} L/min"
            yield Issue(("mould", key), message, do=do)


def wide_and_narrow_water_fit_their_faces(case: RawCase) -> Iterator[Issue]:
    """Flow and rise face by face make fluxes that differ by less than six times between wide and narrow faces."""
    sizes, mould = _sizes(case), _mould(case)
    flow, rise = case.get("mould", "face_water_flow_L_per_min"), case.get("mould", "face_water_rise_K")
    if sizes is None or mould is None or not isinstance(flow, Mapping) or not isinstance(rise, Mapping):
        return
    faces = [
        f for f in ("loose", "fixed", "left", "right") if is_number(flow.get(f)) and is_number(rise.get(f))
    ]
    wide = [flow[f] * rise[f] for f in faces if f in ("loose", "fixed")]
    narrow = [flow[f] * rise[f] for f in faces if f in ("left", "right")]
    if not wide or not narrow:
        return
    heat = [sum(own) / len(own) for own in (wide, narrow)]
    area = [mould[0] * sizes[1], mould[0] * sizes[0]]
    fluxes = [mean_flux(h, 1.0, a) for h, a in zip(heat, area, strict=True)]
    ratio = fluxes[0] / fluxes[1]
    exchanged = (heat[1] / area[0]) / (heat[0] / area[1])
    if not 1 / 6 < ratio < 6 and 0.3 < exchanged < 3.0:
        message = (
            f"makes {fluxes[0]:.2f} MW/m² on the wide and {fluxes[1]:.2f} MW/m² on the narrow faces: "
            "wide and narrow flows swapped?"
        )
        do = "loose and fixed are the wide faces, left and right the narrow ones"
        yield Issue(("mould", "face_water_flow_L_per_min"), message, do=do)


def swapped_sizes(case: RawCase) -> bool:
    """Whether the thickness of a slab or rectangle is the larger size, be it out of range or not."""
    section = case.data.get("section")
    sizes: list[Any] = (
        [section.get(k) for k in ("thickness_mm", "width_mm")] if isinstance(section, Mapping) else []
    )
    return len(sizes) == 2 and all(map(is_number, sizes)) and sizes[0] > sizes[1]


TRAP_RULES: tuple[Rule, ...] = (
    percent_means_percent,
    mould_water_is_in_litres_per_minute,
    wide_and_narrow_water_fit_their_faces,
)
"""Every rule, in the order of the file."""
