"""Secondary cooling: what a zone of a case does to the loose and the fixed side of the strand."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np

from solidify import spray, surface
from solidify.case import Case
from solidify.case.model import Cooling, Nozzles, WaterTable, Zone
from solidify.errors import Notice
from solidify.schedule import Face
from solidify.units import KW, L_PER_MIN, MINUTE, MM, WATER_LITRE_KG

__all__ = ["Stretch", "ZoneCooling", "bare_strand", "side_water", "zone_cooling"]

_SURFACE = np.linspace(0.0, 1600.0, 801)
"""Surface temperatures at which a coefficient that depends on them is read [degC]."""

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
        What was made of its keys, both sides.
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


def zone_cooling(case: Case, zone: Zone, start: float, end: float, throughput: float) -> ZoneCooling:
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

    Returns
    -------
    ZoneCooling
    """
    c = case.cooling_in(zone)
    dry = Stretch(zone.name, "zone", start, end, c.water_temperature_C, c.ambient_temperature_C)
    if zone.heat_flux_kW_per_m2 is not None:
        face = Face(end, flux=zone.heat_flux_kW_per_m2 * KW)
        return ZoneCooling(dry, (face, face))
    rest = _losses(c, end, case.speed, zone.roll_pitch_m)
    used = surface.sources_of(*(r for r in (c.emissivity_relation, c.roll_contact_relation) if r is not None))
    if zone.heat_transfer_W_per_m2K is not None:
        h = zone.heat_transfer_W_per_m2K * zone.spray_factor
        face = replace(rest, htc=h)
        made = ZoneCooling(replace(dry, coefficient=np.full(2, h)), (face, face), (), used)
    else:
        made = _sprayed(case, zone, c, dry, rest, throughput)
        made = replace(made, sources=(*used, *made.sources))
    return _with_run_off(case, zone, made)


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
    c = case.cooling
    face = replace(_losses(c.model_copy(update={"roll_contact_relation": None}), end, case.speed, None))
    face = replace(face, roll_htc=0.0, roll_share=0.0)
    outside = (c.water_temperature_C, c.ambient_temperature_C)
    none = np.zeros(2)
    made = Stretch("after the last zone", "open", start, end, *outside, 0.0, 0.0, none, none)
    used = () if c.emissivity_relation is None else surface.sources_of(c.emissivity_relation)
    return ZoneCooling(made, (face, face), (), used)


def _losses(c: Cooling, end: float, speed: float, pitch: float | None) -> Face:
    """Return what a zone loses besides its water."""
    emissivity: float | tuple[np.ndarray, np.ndarray] = (c.emissivity or 0.0) * c.view_factor
    if c.emissivity_relation is not None:
        emissivity = (_SURFACE, c.view_factor * surface.EMISSIVITIES[c.emissivity_relation](_SURFACE))
    roll: float | tuple[np.ndarray, np.ndarray] = c.roll_contact_W_per_m2K or 0.0
    if c.roll_contact_relation is not None:
        assert c.roll_contact_angle_deg is not None
        assert c.roll_radius_mm is not None
        assert pitch is not None
        rolls = (c.roll_contact_angle_deg, c.roll_radius_mm * MM, pitch)
        name, outside = c.roll_contact_relation, c.ambient_temperature_C
        roll = (_SURFACE, surface.roll_coefficient(name, _SURFACE, outside, speed, *rolls))
    return Face(
        end,
        water_temperature=c.water_temperature_C,
        emissivity=emissivity,
        ambient_temperature=c.ambient_temperature_C,
        convection=c.natural_convection_W_per_m2K,
        roll_htc=roll,
        roll_share=c.roll_contact_share or 0.0,
    )


def _sprayed(case: Case, zone: Zone, c: Cooling, dry: Stretch, rest: Face, throughput: float) -> ZoneCooling:
    """Put the water of a zone onto its faces."""
    water, area, flux = _water(case, zone, dry.end - dry.start, throughput)
    where = f'zone "{zone.name}"'
    notices = _valve_notices(zone, water, where)
    if not np.any(flux > 0):
        stretch = replace(dry, water=water, water_flux=flux, coefficient=np.zeros(2))
        return ZoneCooling(stretch, (rest, rest), notices)
    relation = spray.relation(c.spray_relation)
    sprays = _nozzle_share(case, zone)
    share = c.wetted_share if sprays is None else sprays
    faces, at_1000 = [], []
    for w in flux.tolist():
        outside = (c.water_temperature_C, share or 1.0, c.drop_velocity_m_per_s)
        values = zone.spray_factor * _spray_curve(relation.name, w, *outside)
        at_1000.append(float(np.interp(1000.0, _SURFACE, values)))
        varies = relation.depends_on_surface_temperature and w > 0
        faces.append(replace(rest, htc=(_SURFACE, values) if varies else float(values[0])))
    told = None if sprays is not None and relation.expects == "zone mean" else share
    said = spray.range_notices(
        relation, flux, wetted_share=told, drop_velocity=c.drop_velocity_m_per_s, where=where
    )
    stretch = replace(
        dry,
        water=water,
        area=area,
        water_flux=flux,
        coefficient=np.array(at_1000),
        relation=relation.name,
        faces=str(zone.sprayed_faces),
        wetted_share=np.nan if share is None else share,
    )
    return ZoneCooling(stretch, (faces[0], faces[1]), (*notices, *said), (relation.source,))


@lru_cache(maxsize=1024)
def _spray_curve(
    name: str, water: float, temperature: float, share: float, drops: float | None
) -> np.ndarray:
    """Coefficient of a spray over `_SURFACE` [W m-2 K-1]; the zones of many strands share it."""
    values = spray.heat_transfer(name, water, _SURFACE, temperature, wetted_share=share, drop_velocity=drops)
    values.flags.writeable = False
    return values


def _water(case: Case, zone: Zone, length: float, throughput: float) -> tuple[float, float, np.ndarray]:
    """Water of a zone on one strand [kg/s], its sprayed area [m2], and the zone mean on loose and fixed side."""
    if case.section.shape == "round":
        wide, narrow = 0.5 * np.pi * case.thickness * length, 0.0
    else:
        wide, narrow = _sprayed_width(case, zone) * length, case.thickness * length
    area = 2 * wide + (2 * narrow if zone.sprayed_faces == "all" else 0.0)
    sides = side_water(case, zone, throughput)
    if sides:
        return sum(sides.values()), area, np.array([sides["loose"], sides["fixed"]]) / wide
    total = _total(case, zone, area, throughput)
    return total, area, np.full(2, total / area)


def _total(case: Case, zone: Zone, area: float, throughput: float) -> float:
    """Return all water of a zone on one strand [kg/s]; `area` is what is sprayed [m2]."""
    if zone.water_flux_L_per_m2s is not None:
        return zone.water_flux_L_per_m2s * WATER_LITRE_KG * area
    if zone.water_flux_L_per_m2_min is not None:
        return zone.water_flux_L_per_m2_min * WATER_LITRE_KG / MINUTE * area
    if zone.water_at_speed is not None:
        return _at_speed(case, zone.water_at_speed) * _LITRE
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
    if not zone.by_side:
        return {}
    names = ("loose", "fixed", "narrow") if zone.narrow_sprayed else ("loose", "fixed")
    shares = zone.side_shares
    if shares is not None:
        given = {name: getattr(shares, name) for name in names}
        whole = _total(case, zone, np.nan, throughput) / sum(given.values())
        return {name: share * whole for name, share in given.items()}
    if zone.water_loose_at_speed is not None:
        return {
            name: _at_speed(case, getattr(zone, f"water_{name}_at_speed") or ()) * _LITRE for name in names
        }
    return {name: (getattr(zone, f"water_{name}_L_per_min") or 0.0) * _LITRE for name in names}


def _at_speed(case: Case, table: WaterTable) -> float:
    """Read a table of water at the speed of the case [L/min]; nothing from an empty one."""
    if not table:
        return 0.0
    speeds, waters = np.array(table).T
    return float(np.interp(case.casting.speed_m_per_min, speeds, waters))


def _sprayed_width(case: Case, zone: Zone) -> float:
    return case.width if zone.sprayed_width_mm is None else zone.sprayed_width_mm * MM


def _nozzle(given: Nozzles) -> spray.Nozzle:
    """Return the nozzle of a zone; its pressures are compared only, and stay in bar."""
    angles = (given.width_angle_deg or 0.0, given.length_angle_deg or 0.0)
    return spray.Nozzle(given.flow_L_per_min * L_PER_MIN, given.reference_bar, *angles)


def _nozzle_share(case: Case, zone: Zone) -> float | None:
    """Return the share of the sprayed area that the nozzles wet [1]; None where their sprays are not described."""
    given = zone.nozzles
    if given is None or given.stand_off_mm is None or given.row_pitch_mm is None:
        return None
    around = np.pi * case.thickness if case.section.shape == "round" else _sprayed_width(case, zone)
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


def _with_run_off(case: Case, zone: Zone, made: ZoneCooling) -> ZoneCooling:
    """Add the water that stands on the loose side."""
    extra = zone.run_off_W_per_m2K
    if not extra:
        return made
    loose, fixed = made.faces
    htc = loose.htc
    standing = replace(loose, htc=(htc[0], htc[1] + extra) if isinstance(htc, tuple) else htc + extra)
    stretch = replace(made.stretch, coefficient=made.stretch.coefficient + np.array([extra, 0.0]))
    notices = made.notices
    if not surface.water_stands(_inclination(case, stretch.end)):
        text = "run_off_W_per_m2K stands where the strand is still steep and water runs off by itself"
        notices = (*notices, Notice(text, f'zone "{zone.name}"'))
    return replace(made, stretch=stretch, faces=(standing, fixed), notices=notices)


def _inclination(case: Case, distance: float) -> float:
    """Return the angle of the strand against the vertical on the arc [deg]; 0 on a vertical machine."""
    if case.machine.radius_m is None:
        return 0.0
    return float(np.degrees(max(distance - case.vertical_length, 0.0) / case.machine.radius_m))
