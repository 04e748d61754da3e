"""Secondary cooling: what a zone of a case does to the loose and the fixed side of the strand."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any, ClassVar

import numpy as np

from solidify.case import Case
from solidify.case.model import Cooling, Nozzles, WaterTable, Zone
from solidify.errors import InputError, Notice
from solidify.heat import spray, surface
from solidify.heat.spray_range import Use
from solidify.solver.boundary import BoundaryCondition
from solidify.strand.stacking import (
    Notices,
    Number,
    merge_notices,
    notices_of,
    plain,
    renewed,
    row,
    uniform,
    vary,
)
from solidify.units import KW, L_PER_MIN, M_PER_MIN, MINUTE, MM, WATER_LITRE_KG

__all__ = ["Spraying", "CoolingSegment", "ZoneCooling", "bare_strand", "side_water", "zone_cooling"]

_SURFACE = np.linspace(0.0, 1600.0, 801)
"""Surface temperatures at which a coefficient that depends on them is read [degC]."""

_AT_1000 = int(_SURFACE.searchsorted(1000.0))
"""Place of a surface of 1000 degC among them."""

_LITRE = L_PER_MIN * 1e3 * WATER_LITRE_KG
"""One litre per minute as the trade counts it [kg s-1]."""


@dataclass(frozen=True)
class CoolingSegment:
    """One stretch of the strand and what was made of its keys.

    Of strands side by side the numbers, but for `start` and `end`, have a leading strand axis where they differ.

    Parameters
    ----------
    name, kind : str
        As in `solidify.strand.result.ZoneResult`.
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

    RANKS: ClassVar[Mapping[str, int]] = {
        "water_temperature": 0,
        "ambient_temperature": 0,
        "water": 0,
        "area": 0,
        "water_flux": 1,
        "coefficient": 1,
    }
    """Numbers that strands side by side may differ in, and the axes each has in one strand."""

    def each(self, change: Callable[[Any, int], Any]) -> CoolingSegment:
        """Change the numbers.

        Parameters
        ----------
        change : callable
            Called with each number and how many axes it has in one strand.

        Returns
        -------
        CoolingSegment
        """
        return renewed(self, {name: change(getattr(self, name), rank) for name, rank in self.RANKS.items()})


@dataclass(frozen=True)
class Spraying:
    """What a spray relation works with in a zone.

    Parameters
    ----------
    relation, zone : str
        Their names.
    water_flux : tuple of float or ndarray, shape (strand,)
        Zone mean on loose and fixed side [kg m-2 s-1].
    wetted_share, drop_velocity : float or None
        As `solidify.heat.spray_range.Use`.
    """

    relation: str
    zone: str
    water_flux: tuple[Number, Number]
    wetted_share: float | None
    drop_velocity: float | None

    @property
    def outside(self) -> np.ndarray:
        """Where the water is outside the range of the relation, shape (strand,) or ()."""
        law, off = spray.relation(self.relation), np.zeros((), dtype=bool)
        for w in self.water_flux:
            taken = w / (self.wetted_share or 1.0) if law.expects == "footprint" else w
            off = off | law.outside_water_flux(taken)
        return np.asarray(off)

    @property
    def foot_roll_water(self) -> np.ndarray:
        """Where so much water meets the strand that the edge of film boiling is spoken of, as `outside`."""
        share = self.wetted_share or 1.0 if spray.relation(self.relation).expects == "footprint" else 1.0
        return np.asarray(np.maximum(*self.water_flux) / share > spray.FOOT_ROLL_WATER)

    def use(self, strand: int, foot_rolls: bool) -> Use:
        """Return it as it is in one strand."""
        own = tuple([row(w, strand) for w in self.water_flux])
        return Use(self.zone, own, self.wetted_share, self.drop_velocity, foot_rolls)


@dataclass(frozen=True)
class ZoneCooling:
    """What a zone does.

    Parameters
    ----------
    stretch : CoolingSegment
        What was made of its keys; of two equal sides one value.
    faces : tuple of BoundaryCondition
        What acts on the loose and on the fixed side; their `end` is the distance of the zone's end.
    notices : tuple of tuple of Notice
        What a reader should know of each strand; a single entry is for all side by side.
    sources : tuple of str
        Bibliography keys of the relations used.
    sprays : tuple of Spraying
        What its spray relation works with; empty where there is none, several where its water follows a history.
    """

    stretch: CoolingSegment
    faces: tuple[BoundaryCondition, BoundaryCondition]
    notices: Notices = ((),)
    sources: tuple[str, ...] = ()
    sprays: tuple[Spraying, ...] = ()

    @property
    def unequal(self) -> bool:
        """Whether loose and fixed side differ."""
        return self.stretch.water_flux.shape[-1] > 1


def zone_cooling(
    case: Case, zone: Zone, start: float, end: float, throughput: Number, water: float = math.nan
) -> ZoneCooling:
    """Turn a zone into what acts on the loose and the fixed side.

    Parameters
    ----------
    case : Case
        A checked case, or cases side by side.
    zone : Zone
        One of its zones.
    start, end : float
        From the meniscus [m].
    throughput : float or ndarray, shape (strand,)
        Steel cast on one strand [kg s-1], for water by the kilogram.
    water : float
        Water of the zone on one strand in place of the case's [kg s-1], shared among the sides as there.

    Returns
    -------
    ZoneCooling

    Raises
    ------
    DivergentBatch
        If strands side by side are not wet on the same sides, or only some of them have equal sides.
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
    try:
        return _zone_cooling(zone, spot)
    except TypeError:  # arrays cannot be looked up
        return _zone_cooling.__wrapped__(zone, spot)


@dataclass(frozen=True)
class _Spot:
    """All that the cooling of a zone hangs on beside its own keys; what it does not hang on is `math.nan`."""

    cooling: Cooling
    shape: str
    thickness: float
    start: float
    end: float
    inclination: float
    speed_m_per_min: Number
    throughput: Number
    water: float


@lru_cache(maxsize=256)
def _zone_cooling(zone: Zone, at: _Spot) -> ZoneCooling:
    """Turn a zone into what acts on both sides, once for all the strands on which it is the same."""
    c = at.cooling
    wet, sources = _Wet(), tuple[str, ...]()
    if zone.heat_flux_kW_per_m2 is not None:
        loose = fixed = BoundaryCondition(at.end, flux=zone.heat_flux_kW_per_m2 * KW)
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
    sides = 1 if _alike(wet.flux) and _alike(wet.at_1000) else 2
    flux, at_1000 = _stacked(*wet.flux[:sides]), _stacked(*wet.at_1000[:sides])
    outside = (c.water_temperature_C, c.ambient_temperature_C)
    stretch = CoolingSegment(
        zone.name, "zone", at.start, at.end, *outside, water_flux=flux, coefficient=at_1000, **wet.shown
    )
    return ZoneCooling(stretch, (loose, fixed), wet.notices, (*sources, *wet.sources), wet.sprays)


Coefficient = Number | tuple[np.ndarray, np.ndarray]
"""As `solidify.solver.boundary.BoundaryCondition` takes it."""


@dataclass(frozen=True)
class _Wet:
    """What water does to loose and fixed side: its coefficient for a face and at 1000 degC, and what is shown of it."""

    htc: tuple[Coefficient, Coefficient] = (0.0, 0.0)
    at_1000: tuple[Number, Number] = (math.nan, math.nan)
    flux: tuple[Number, Number] = (math.nan, math.nan)
    shown: Mapping[str, Any] = field(default_factory=dict)
    notices: Notices = ((),)
    sources: tuple[str, ...] = ()
    sprays: tuple[Spraying, ...] = ()


def _stacked(*sides: Number) -> np.ndarray:
    """Put the values of sides along a last axis."""
    found = np.stack(np.broadcast_arrays(*sides), axis=-1) if vary(*sides) else np.array(sides)
    found.flags.writeable = False
    return found


def _alike(pair: tuple[Number, Number]) -> bool:
    """Whether two sides are equal, or neither is known."""
    first, second = pair
    return first is second or uniform((first == second) | (np.isnan(first) & np.isnan(second)))


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
    try:
        return _bare_strand(case.cooling, start, end)
    except TypeError:  # arrays cannot be looked up
        return _bare_strand.__wrapped__(case.cooling, start, end)


@lru_cache(maxsize=64)
def _bare_strand(c: Cooling, start: float, end: float) -> ZoneCooling:
    face = _losses(c.model_copy(update={"roll_contact_relation": None}), end, math.nan, None, 0.0)
    face = replace(face, roll_htc=0.0, roll_share=0.0)
    outside = (c.water_temperature_C, c.ambient_temperature_C)
    none = np.zeros(1)
    none.flags.writeable = False
    made = CoolingSegment("after the last zone", "open", start, end, *outside, 0.0, 0.0, none, none)
    used = () if c.emissivity_relation is None else surface.sources_of(c.emissivity_relation)
    return ZoneCooling(made, (face, face), sources=used)


def _column(value: Number) -> Number:
    """Stand the numbers of strands below one another, to meet the surface temperatures."""
    return value[:, None] if isinstance(value, np.ndarray) else value


def _given(value: Number | None) -> Number:
    """Return a number, nothing where it is not given."""
    return 0.0 if value is None else value


def _losses(
    c: Cooling, end: float, speed: Number, pitch: float | None, htc: Coefficient
) -> BoundaryCondition:
    """Return what a zone loses with the coefficient of its water."""
    view: Number = surface.default_view_factor(rolls=False) if c.view_factor is None else c.view_factor
    emissivity: Coefficient = _given(c.emissivity) * view
    if c.emissivity_relation is not None:
        of_surface = surface.EMISSIVITIES[c.emissivity_relation](_SURFACE)
        emissivity = (_SURFACE, _column(view) * of_surface)
    roll: Coefficient = _given(c.roll_contact_W_per_m2K)
    if c.roll_contact_relation is not None:
        assert c.roll_contact_angle_deg is not None
        assert c.roll_radius_mm is not None
        assert pitch is not None
        rolls = (c.roll_contact_angle_deg, c.roll_radius_mm * MM, pitch)
        name, outside = c.roll_contact_relation, _column(c.ambient_temperature_C)
        roll = (_SURFACE, surface.roll_coefficient(name, _SURFACE, outside, _column(speed), *rolls))
    return BoundaryCondition(
        end,
        htc=htc,
        water_temperature=c.water_temperature_C,
        emissivity=emissivity,
        ambient_temperature=c.ambient_temperature_C,
        convection=c.natural_convection_W_per_m2K,
        roll_htc=roll,
        roll_share=_given(c.roll_contact_share),
    )


def _sprayed(zone: Zone, at: _Spot) -> _Wet:
    """Put the water of a zone onto its faces."""
    c = at.cooling
    water, area, flux = _water(zone, at)
    where = f'zone "{zone.name}"'
    notices = _valve_notices(zone, water, where)
    if not uniform(np.maximum(*flux) > 0):
        return _Wet(at_1000=(0.0, 0.0), flux=flux, shown={"water": water}, notices=notices)
    relation = spray.relation(c.spray_relation)
    sprays = _nozzle_share(zone, at)
    share = c.wetted_share if sprays is None else sprays
    outside = (c.water_temperature_C, share or 1.0, c.drop_velocity_m_per_s)
    _refuse(relation, flux, share or 1.0, where)
    sides = flux[:1] if _alike(flux) else flux
    found = [_spray_coefficient(relation, w, zone.spray_factor, *outside) for w in sides]
    (loose, loose_1000), (fixed, fixed_1000) = found[0], found[-1]
    told = None if sprays is not None and relation.expects == "zone mean" else share
    spraying = Spraying(relation.name, zone.name, flux, told, c.drop_velocity_m_per_s)
    shown = {
        "water": water,
        "area": area,
        "relation": relation.name,
        "faces": str(zone.sprayed_faces),
        "wetted_share": math.nan if share is None else share,
    }
    return _Wet(
        (loose, fixed),
        (loose_1000, fixed_1000),
        flux,
        shown,
        notices,
        (relation.source,),
        (spraying,),
    )


def _refuse(relation: spray.SprayRelation, flux: Sequence[Number], share: float, where: str) -> None:
    """Raise InputError where a relation is asked for less water than it can be evaluated for."""
    for w in flux:
        taken = w / share if relation.expects == "footprint" else w
        if relation.refused(taken).any():
            raise InputError(relation.refusal(taken, f"{where} spray_relation"))


def _spray_coefficient(
    relation: spray.SprayRelation,
    water: Number,
    factor: Number,
    temperature: Number,
    share: float,
    drops: float | None,
) -> tuple[Coefficient, Number]:
    """Coefficient of a spray as a face takes it, and at a surface of 1000 degC [W m-2 K-1]."""
    make: Callable[..., np.ndarray] = _spray_curve.__wrapped__ if vary(water, temperature) else _spray_curve
    h = _column(factor) * make(relation.name, water, temperature, share, drops)
    if h.shape[-1] > 1:
        return (_SURFACE, h), plain(h[..., _AT_1000])
    return plain(h[..., 0]), plain(h[..., 0])


@lru_cache(maxsize=1024)
def _spray_curve(
    name: str, water: Number, temperature: Number, share: float, drops: float | None
) -> np.ndarray:
    """Coefficient of a spray over `_SURFACE` [W m-2 K-1]; one value where all are equal. Many strands share it."""
    varies = spray.relation(name).depends_on_surface_temperature and uniform(water > 0)
    on = _SURFACE if varies else _SURFACE[:1]
    given = (_column(water), on, _column(temperature))
    values = spray.coefficient(name, *given, wetted_share=share, drop_velocity=drops)
    values.flags.writeable = False
    return values


def _water(zone: Zone, at: _Spot) -> tuple[Number, float, tuple[Number, Number]]:
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
        mean = total / area
        flux = (mean, mean)
    if math.isnan(at.water):
        return total, area, flux
    if total > 0:
        return at.water, area, (flux[0] * (at.water / total), flux[1] * (at.water / total))
    return at.water, area, (at.water / area, at.water / area)


def _total(zone: Zone, area: float, speed: Number, throughput: Number) -> Number:
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
        flow = plain(_nozzle(zone.nozzles).flow_at(zone.nozzles.pressure_bar))
        return zone.nozzles.count * flow * 1e3 * WATER_LITRE_KG
    return _given(zone.water_L_per_min) * _LITRE


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
    found = _by_side(zone, case.casting.speed_m_per_min, throughput)
    return {name: float(water) for name, water in found.items()}


def _by_side(zone: Zone, speed: Number, throughput: Number) -> dict[str, Number]:
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
    return {name: _given(getattr(zone, f"water_{name}_L_per_min")) * _LITRE for name in names}


def _at_speed(table: WaterTable, speed: Number) -> Number:
    """Read a table of water at a speed [m/min] [L/min]; nothing from an empty one."""
    if not table:
        return 0.0
    speeds, waters = np.array(table).T
    return plain(np.interp(speed, speeds, waters))


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


def _valve_notices(zone: Zone, water: Number, where: str) -> Notices:
    """Say where the water of a zone is more or less than its valve can give."""
    litres = water / _LITRE
    low, high = zone.water_min_L_per_min, zone.water_max_L_per_min
    if low is None and high is None:
        return ((),)
    scarce = np.asarray((litres > 0) & (litres < (low or 0.0) * (1 - 1e-9)))
    plenty = np.asarray(litres > (math.inf if high is None else high) * (1 + 1e-9))

    def said(strand: int) -> tuple[Notice, ...]:
        if row(scarce, strand):
            text = f"{row(litres, strand):.0f} L/min is below the {low:g} L/min that its valve can hold"
        elif row(plenty, strand):
            text = f"{row(litres, strand):.0f} L/min is above the {high:g} L/min that its valve gives"
        else:
            return ()
        return (Notice(text, where),)

    return notices_of(scarce | plenty, said)


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
        notices = merge_notices(notices, ((Notice(text, f'zone "{zone.name}"'),),))
    at_1000 = (wet.at_1000[0] + extra, wet.at_1000[1])
    return replace(wet, htc=(standing, fixed), at_1000=at_1000, notices=notices)


def _inclination(case: Case, distance: float) -> float:
    """Return the angle of the strand against the vertical on the arc [deg]; 0 on a vertical machine."""
    if case.machine.radius_m is None:
        return 0.0
    return float(np.degrees(max(distance - case.vertical_length, 0.0) / case.machine.radius_m))
