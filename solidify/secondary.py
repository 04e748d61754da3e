"""Secondary cooling: what a zone of a case does to the loose and the fixed side of the strand."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any

import numpy as np

from solidify import spray, surface
from solidify.case import Case
from solidify.case.model import Cooling, Nozzles, WaterTable, Zone
from solidify.errors import Notice
from solidify.schedule import Face
from solidify.units import KW, L_PER_MIN, M_PER_MIN, MINUTE, MM, WATER_LITRE_KG

__all__ = ["Stretch", "ZoneCooling", "bare_strand", "side_water", "zone_cooling"]

_SURFACE = np.linspace(0.0, 1600.0, 801)
"""Surface temperatures at which a coefficient that depends on them is read [degC]."""

_AT_1000 = int(_SURFACE.searchsorted(1000.0))
"""Place of a surface of 1000 degC among them."""

_LITRE = L_PER_MIN * 1e3 * WATER_LITRE_KG
"""One litre per minute as the trade counts it [kg s-1]."""


@dataclass(frozen=True)
class Stretch:
    """One stretch of the strand and what was made of its keys.

    Parameters
    ----------
    name, kind : str
        As in `solidify.result.ZoneResult`.
    start, end : float
        From the meniscus [m].
    water_temperature, ambient_temperature : float
        [degC].
    water : float
        All water on one strand [kg s-1]; NaN when only a coefficient or flux was given.
    area : float
        Sprayed area [m2], all faces together; 0 when nothing is sprayed.
    water_flux : ndarray, shape (side,)
        Zone mean on the slice's face [kg m-2 s-1]; NaN when not known.
    coefficient : ndarray, shape (side,)
        Water's heat-transfer coefficient at a surface of 1000 degC [W m-2 K-1]; NaN in the mould.
    relation : str
        Spray relation, ``""`` when none is used.
    faces : str
        ``"all"``, ``"wide"`` or ``""``.
    wetted_share : float
        Share of the sprayed area under a spray [1]; NaN when not known.
    """

    name: str
    kind: str
    start: float
    end: float
    water_temperature: float
    ambient_temperature: float
    water: float = np.nan
    area: float = 0.0
    water_flux: np.ndarray = field(default_factory=lambda: np.full(2, np.nan))
    coefficient: np.ndarray = field(default_factory=lambda: np.full(2, np.nan))
    relation: str = ""
    faces: str = ""
    wetted_share: float = np.nan


@dataclass(frozen=True)
class ZoneCooling:
    """What a zone does.

    Parameters
    ----------
    stretch : Stretch
        What was made of its keys; of two equal sides one value.
    faces : tuple of Face
        What acts on the loose and on the fixed side; their `end` is the distance of the zone's end.
    notices : tuple of Notice
        What a reader should know.
    sources : tuple of str
        Bibliography keys of the relations used.
    """

    stretch: Stretch
    faces: tuple[Face, Face]
    notices: tuple[Notice, ...] = ()
    sources: tuple[str, ...] = ()

    @property
    def unequal(self) -> bool:
        """Whether loose and fixed side differ."""
        return len(self.stretch.water_flux) > 1


def zone_cooling(
    case: Case, zone: Zone, start: float, end: float, throughput: float, water: float = math.nan
) -> ZoneCooling:
    """Turn a zone into what acts on the loose and the fixed side.

    Parameters
    ----------
    case : Case
        A checked case.
    zone : Zone
        One of its zones.
    start, end : float
        From the meniscus [m].
    throughput : float
        Steel cast on one strand [kg s-1], for water by the kilogram.
    water : float
        Water of the zone on one strand in place of the case's [kg s-1], shared among the sides as there.

    Returns
    -------
    ZoneCooling
    """
    cooling = case.cooling_in(zone)
    moving = bool(zone.tables()) or cooling.roll_contact_relation is not None
    spot = _Spot(
        cooling,
        case.section.shape,
        case.thickness,
        start,
        end,
        _inclination(case, end) if zone.run_off_W_per_m2K else math.nan,
        case.casting.speed_m_per_min if moving else math.nan,
        throughput if zone.water_L_per_kg is not None else math.nan,
        water,
    )
    return _zone_cooling(zone, spot)


@dataclass(frozen=True)
class _Spot:
    """All that the cooling of a zone hangs on beside its own keys; what it does not hang on is `math.nan`."""

    cooling: Cooling
    shape: str
    thickness: float
    start: float
    end: float
    inclination: float
    speed_m_per_min: float
    throughput: float
    water: float


@lru_cache(maxsize=256)
def _zone_cooling(zone: Zone, at: _Spot) -> ZoneCooling:
    """Turn a zone into what acts on both sides, once for all the strands on which it is the same."""
    c = at.cooling
    wet, sources = _Wet(), tuple[str, ...]()
    if zone.heat_flux_kW_per_m2 is not None:
        loose = fixed = Face(at.end, flux=zone.heat_flux_kW_per_m2 * KW)
    else:
        sources = surface.sources_of(*filter(None, (c.emissivity_relation, c.roll_contact_relation)))
        if zone.heat_transfer_W_per_m2K is not None:
            h = zone.heat_transfer_W_per_m2K * zone.spray_factor
            wet = _Wet((h, h), (h, h))
        else:
            wet = _sprayed(zone, at)
        wet = _with_run_off(zone, at, wet)
        loose = _losses(c, at.end, at.speed_m_per_min * M_PER_MIN, zone.roll_pitch_m, wet.htc[0])
        fixed = loose if wet.htc[1] is wet.htc[0] else replace(loose, htc=wet.htc[1])
    sides = slice(1 if _alike(wet.flux) and _alike(wet.at_1000) else 2)
    flux, at_1000 = np.array(wet.flux[sides]), np.array(wet.at_1000[sides])
    flux.flags.writeable = at_1000.flags.writeable = False
    outside = (c.water_temperature_C, c.ambient_temperature_C)
    stretch = Stretch(
        zone.name, "zone", at.start, at.end, *outside, water_flux=flux, coefficient=at_1000, **wet.shown
    )
    return ZoneCooling(stretch, (loose, fixed), wet.notices, (*sources, *wet.sources))


Coefficient = float | tuple[np.ndarray, np.ndarray]
"""As `solidify.schedule.Face` takes it."""


@dataclass(frozen=True)
class _Wet:
    """What water does to loose and fixed side: its coefficient for a face and at 1000 degC, and what is shown of it."""

    htc: tuple[Coefficient, Coefficient] = (0.0, 0.0)
    at_1000: tuple[float, float] = (math.nan, math.nan)
    flux: tuple[float, float] = (math.nan, math.nan)
    shown: Mapping[str, Any] = field(default_factory=dict)
    notices: tuple[Notice, ...] = ()
    sources: tuple[str, ...] = ()


def _alike(pair: tuple[float, float]) -> bool:
    """Whether two sides are equal, or neither is known."""
    return pair[0] == pair[1] or (math.isnan(pair[0]) and math.isnan(pair[1]))


def bare_strand(case: Case, start: float, end: float) -> ZoneCooling:
    """Return the open strand after the last zone: radiation and natural convection.

    Parameters
    ----------
    case : Case
        A checked case.
    start, end : float
        From the meniscus [m].

    Returns
    -------
    ZoneCooling
    """
    return _bare_strand(case.cooling, start, end)


@lru_cache(maxsize=64)
def _bare_strand(c: Cooling, start: float, end: float) -> ZoneCooling:
    face = _losses(c.model_copy(update={"roll_contact_relation": None}), end, math.nan, None, 0.0)
    face = replace(face, roll_htc=0.0, roll_share=0.0)
    outside = (c.water_temperature_C, c.ambient_temperature_C)
    none = np.zeros(1)
    none.flags.writeable = False
    made = Stretch("after the last zone", "open", start, end, *outside, 0.0, 0.0, none, none)
    used = () if c.emissivity_relation is None else surface.sources_of(c.emissivity_relation)
    return ZoneCooling(made, (face, face), (), used)


def _losses(c: Cooling, end: float, speed: float, pitch: float | None, htc: Coefficient) -> Face:
    """Return what a zone loses with the coefficient of its water."""
    emissivity: Coefficient = (c.emissivity or 0.0) * c.view_factor
    if c.emissivity_relation is not None:
        emissivity = (_SURFACE, c.view_factor * surface.EMISSIVITIES[c.emissivity_relation](_SURFACE))
    roll: Coefficient = c.roll_contact_W_per_m2K or 0.0
    if c.roll_contact_relation is not None:
        assert c.roll_contact_angle_deg is not None
        assert c.roll_radius_mm is not None
        assert pitch is not None
        rolls = (c.roll_contact_angle_deg, c.roll_radius_mm * MM, pitch)
        name, outside = c.roll_contact_relation, c.ambient_temperature_C
        roll = (_SURFACE, surface.roll_coefficient(name, _SURFACE, outside, speed, *rolls))
    return Face(
        end,
        htc=htc,
        water_temperature=c.water_temperature_C,
        emissivity=emissivity,
        ambient_temperature=c.ambient_temperature_C,
        convection=c.natural_convection_W_per_m2K,
        roll_htc=roll,
        roll_share=c.roll_contact_share or 0.0,
    )


def _sprayed(zone: Zone, at: _Spot) -> _Wet:
    """Put the water of a zone onto its faces."""
    c = at.cooling
    water, area, flux = _water(zone, at)
    where = f'zone "{zone.name}"'
    notices = _valve_notices(zone, water, where)
    if not max(flux) > 0:
        return _Wet(at_1000=(0.0, 0.0), flux=flux, shown={"water": water}, notices=notices)
    relation = spray.relation(c.spray_relation)
    sprays = _nozzle_share(zone, at)
    share = c.wetted_share if sprays is None else sprays
    outside = (c.water_temperature_C, share or 1.0, c.drop_velocity_m_per_s)
    htc: dict[float, Coefficient] = {}
    at_1000: dict[float, float] = {}
    for w in dict.fromkeys(flux):
        h = zone.spray_factor * _spray_curve(relation.name, w, *outside)
        htc[w] = (_SURFACE, h) if len(h) > 1 else float(h[0])
        at_1000[w] = float(h[_AT_1000 if len(h) > 1 else 0])
    told = None if sprays is not None and relation.expects == "zone mean" else share
    said = spray.range_notices(
        relation, flux, wetted_share=told, drop_velocity=c.drop_velocity_m_per_s, where=where
    )
    shown = {
        "water": water,
        "area": area,
        "relation": relation.name,
        "faces": str(zone.sprayed_faces),
        "wetted_share": math.nan if share is None else share,
    }
    loose, fixed = flux
    return _Wet(
        (htc[loose], htc[fixed]),
        (at_1000[loose], at_1000[fixed]),
        flux,
        shown,
        (*notices, *said),
        (relation.source,),
    )


@lru_cache(maxsize=1024)
def _spray_curve(
    name: str, water: float, temperature: float, share: float, drops: float | None
) -> np.ndarray:
    """Coefficient of a spray over `_SURFACE` [W m-2 K-1]; one value where all are equal. Many strands share it."""
    varies = spray.relation(name).depends_on_surface_temperature and water > 0
    on = _SURFACE if varies else _SURFACE[:1]
    values = spray.heat_transfer(name, water, on, temperature, wetted_share=share, drop_velocity=drops)
    values.flags.writeable = False
    return values


def _water(zone: Zone, at: _Spot) -> tuple[float, float, tuple[float, float]]:
    """Water of a zone on one strand [kg/s], its sprayed area [m2], and the zone mean on loose and fixed side."""
    length = at.end - at.start
    if at.shape == "round":
        wide, narrow = 0.5 * np.pi * at.thickness * length, 0.0
    else:
        wide, narrow = _sprayed_width(zone) * length, at.thickness * length
    area = 2 * wide + (2 * narrow if zone.sprayed_faces == "all" else 0.0)
    sides = _by_side(zone, at.speed_m_per_min, at.throughput)
    if sides:
        total, flux = sum(sides.values()), (sides["loose"] / wide, sides["fixed"] / wide)
    else:
        total = _total(zone, area, at.speed_m_per_min, at.throughput)
        flux = (total / area, total / area)
    if math.isnan(at.water):
        return total, area, flux
    if total > 0:
        return at.water, area, (flux[0] * (at.water / total), flux[1] * (at.water / total))
    return at.water, area, (at.water / area, at.water / area)


def _total(zone: Zone, area: float, speed: float, throughput: float) -> float:
    """Return all water of a zone on one strand [kg/s]; `area` is what is sprayed [m2]."""
    if zone.water_flux_L_per_m2s is not None:
        return zone.water_flux_L_per_m2s * WATER_LITRE_KG * area
    if zone.water_flux_L_per_m2_min is not None:
        return zone.water_flux_L_per_m2_min * WATER_LITRE_KG / MINUTE * area
    if zone.water_at_speed is not None:
        return _at_speed(zone.water_at_speed, speed) * _LITRE
    if zone.water_L_per_kg is not None:
        return zone.water_L_per_kg * WATER_LITRE_KG * throughput
    if zone.nozzles is not None:
        flow = float(_nozzle(zone.nozzles).flow_at(zone.nozzles.pressure_bar))
        return zone.nozzles.count * flow * 1e3 * WATER_LITRE_KG
    return float(zone.water_L_per_min or 0.0) * _LITRE


def side_water(case: Case, zone: Zone, throughput: float) -> dict[str, float]:
    """Return the water of each side of a zone on one strand.

    Parameters
    ----------
    case : Case
        A checked case.
    zone : Zone
        One of its zones.
    throughput : float
        Steel cast on one strand [kg s-1], for water by the kilogram.

    Returns
    -------
    dict of str to float
        ``"loose"``, ``"fixed"`` and, where it has water of its own, ``"narrow"`` (both narrow faces together)
        [kg s-1]; empty where the case does not tell the sides apart.
    """
    return _by_side(zone, case.casting.speed_m_per_min, throughput)


def _by_side(zone: Zone, speed: float, throughput: float) -> dict[str, float]:
    """As `side_water`, with the speed [m/min]."""
    if not zone.by_side:
        return {}
    names = ("loose", "fixed", "narrow") if zone.narrow_sprayed else ("loose", "fixed")
    shares = zone.side_shares
    if shares is not None:
        given = {name: getattr(shares, name) for name in names}
        whole = _total(zone, np.nan, speed, throughput) / sum(given.values())
        return {name: share * whole for name, share in given.items()}
    if zone.water_loose_at_speed is not None:
        return {
            name: _at_speed(getattr(zone, f"water_{name}_at_speed") or (), speed) * _LITRE for name in names
        }
    return {name: (getattr(zone, f"water_{name}_L_per_min") or 0.0) * _LITRE for name in names}


def _at_speed(table: WaterTable, speed: float) -> float:
    """Read a table of water at a speed [m/min] [L/min]; nothing from an empty one."""
    if not table:
        return 0.0
    speeds, waters = np.array(table).T
    return float(np.interp(speed, speeds, waters))


def _sprayed_width(zone: Zone) -> float:
    assert zone.sprayed_width_mm is not None, "a checked case has it"
    return zone.sprayed_width_mm * MM


def _nozzle(given: Nozzles) -> spray.Nozzle:
    """Return the nozzle of a zone; its pressures are compared only, and stay in bar."""
    angles = (given.width_angle_deg or 0.0, given.length_angle_deg or 0.0)
    return spray.Nozzle(given.flow_L_per_min * L_PER_MIN, given.reference_bar, *angles)


def _nozzle_share(zone: Zone, at: _Spot) -> float | None:
    """Return the share of the sprayed area that the nozzles wet [1]; None where their sprays are not described."""
    given = zone.nozzles
    if given is None or given.stand_off_mm is None or given.row_pitch_mm is None:
        return None
    around = np.pi * at.thickness if at.shape == "round" else _sprayed_width(zone)
    pitch, across = given.row_pitch_mm * MM, given.nozzles_across or 1
    return spray.wetted_share(_nozzle(given), given.stand_off_mm * MM, pitch, around, across)


def _valve_notices(zone: Zone, water: float, where: str) -> tuple[Notice, ...]:
    """Say where the water of a zone is more or less than its valve can give."""
    litres = water / _LITRE
    low, high = zone.water_min_L_per_min, zone.water_max_L_per_min
    if low is not None and 0 < litres < low * (1 - 1e-9):
        return (Notice(f"{litres:.0f} L/min is below the {low:g} L/min that its valve can hold", where),)
    if high is not None and litres > high * (1 + 1e-9):
        return (Notice(f"{litres:.0f} L/min is above the {high:g} L/min that its valve gives", where),)
    return ()


def _with_run_off(zone: Zone, at: _Spot, wet: _Wet) -> _Wet:
    """Add the water that stands on the loose side."""
    extra = zone.run_off_W_per_m2K
    if not extra:
        return wet
    loose, fixed = wet.htc
    standing = (loose[0], loose[1] + extra) if isinstance(loose, tuple) else loose + extra
    notices = wet.notices
    if not surface.water_stands(at.inclination):
        text = "run_off_W_per_m2K stands where the strand is still steep and water runs off by itself"
        notices = (*notices, Notice(text, f'zone "{zone.name}"'))
    at_1000 = (wet.at_1000[0] + extra, wet.at_1000[1])
    return replace(wet, htc=(standing, fixed), at_1000=at_1000, notices=notices)


def _inclination(case: Case, distance: float) -> float:
    """Return the angle of the strand against the vertical on the arc [deg]; 0 on a vertical machine."""
    if case.machine.radius_m is None:
        return 0.0
    return float(np.degrees(max(distance - case.vertical_length, 0.0) / case.machine.radius_m))
