"""From a case to what acts along the strand: the mould's flux law, each zone's water, coefficients and losses."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from solidify import mould, spray
from solidify.case import Case
from solidify.case.model import Cooling, Zone
from solidify.errors import InputError, Notice, Problem
from solidify.result import MouldResult
from solidify.schedule import Face
from solidify.steel import Steel
from solidify.units import KW, L_PER_MIN, MINUTE, MM, MW, WATER_LITRE_KG

__all__ = ["CoolingPath", "Stretch", "Travel", "cooling_path", "steady"]

_SURFACE = np.linspace(0.0, 1600.0, 801)
"""Surface temperatures at which a coefficient that depends on them is read [degC]."""


@dataclass(frozen=True)
class Travel:
    """Where a slice is at each age: piecewise linear, never backwards.

    Parameters
    ----------
    time, distance : ndarray, shape (n,)
        Age [s], increasing from 0, and distance from the meniscus [m], not decreasing from 0.
    """

    time: np.ndarray
    distance: np.ndarray

    def __post_init__(self) -> None:
        """Check the order of the points."""
        t, z = np.asarray(self.time, dtype=float), np.asarray(self.distance, dtype=float)
        if t.shape != z.shape or len(t) < 2 or t[0] != 0 or z[0] != 0:
            raise InputError(
                Problem("travel of the slice", do="two or more points, the first at age 0 and 0 m")
            )
        if np.any(np.diff(t) <= 0) or np.any(np.diff(z) < 0) or not np.all(np.isfinite(t + z)):
            raise InputError(Problem("travel of the slice", do="ages must rise and distances must not fall"))

    def age(self, distance: np.ndarray | float) -> np.ndarray:
        """Return the age [s] at which the slice first reaches distances [m]."""
        z = np.asarray(distance, dtype=float)
        if z.size and float(z.max()) > self.distance[-1] * (1 + 1e-12):
            raise InputError(
                Problem(
                    "travel of the slice",
                    f"ends at {self.distance[-1]:g} m",
                    f"{float(z.max()):g} m or more",
                    do="let the slice travel to the cut-off",
                )
            )
        i = np.clip(np.searchsorted(self.distance, z, side="left"), 1, len(self.distance) - 1)
        z0, z1 = self.distance[i - 1], self.distance[i]
        share = np.where(z1 > z0, (z - z0) / np.where(z1 > z0, z1 - z0, 1.0), 0.0)
        return self.time[i - 1] + np.clip(share, 0.0, 1.0) * (self.time[i] - self.time[i - 1])


def steady(speed: float, length: float) -> Travel:
    """Return the travel of a slice at constant speed.

    Parameters
    ----------
    speed : float
        [m s-1].
    length : float
        How far [m].

    Returns
    -------
    Travel
    """
    return Travel(np.array([0.0, length / speed]), np.array([0.0, length]))


@dataclass(frozen=True)
class Stretch:
    """One stretch of the strand and what was made of its keys.

    Parameters
    ----------
    name, kind : str
        As in `solidify.result.ZoneResult`.
    start, end : float
        From the meniscus [m].
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
    water_temperature, ambient_temperature : float
        [degC].
    """

    name: str
    kind: str
    start: float
    end: float
    water: float
    area: float
    water_flux: np.ndarray
    coefficient: np.ndarray
    relation: str
    faces: str
    water_temperature: float
    ambient_temperature: float


@dataclass(frozen=True)
class CoolingPath:
    """Everything that acts on a slice from the meniscus to the cut-off.

    Parameters
    ----------
    sides : tuple of str
        ``("both",)`` or ``("loose", "fixed")``.
    stretches : tuple of Stretch
        The mould, each zone, the open strand.
    faces : tuple of tuple of Face
        Per side, in the order of time.
    ages : ndarray, shape (stretch,)
        Age at which each stretch ends [s].
    mould : MouldResult
        The mould in numbers.
    travel : Travel
        Where the slice is when.
    sources : tuple of str
        Bibliography keys of the relations used.
    notices : tuple of Notice
        What a reader should know.
    """

    sides: tuple[str, ...]
    stretches: tuple[Stretch, ...]
    faces: tuple[tuple[Face, ...], ...]
    ages: np.ndarray
    mould: MouldResult
    travel: Travel
    sources: tuple[str, ...]
    notices: tuple[Notice, ...]


def _perimeter(case: Case) -> float:
    return np.pi * case.thickness if case.section.shape == "round" else 2 * (case.thickness + case.width)


def _mould_law(case: Case, steel: Steel) -> tuple[mould.FluxLaw, str, list[Notice], list[str]]:
    """Find the mould's law in time, where it comes from, and what to say about it."""
    given = case.mould
    dwell_now = case.working_length / case.speed
    measured = given.measured_at_speed_m_per_min
    dwell = dwell_now if measured is None else case.working_length / (measured / MINUTE)
    notices: list[Notice] = []
    used: list[str] = []
    if given.heat_flux_law is not None:
        law = mould.law_from_coefficients(
            given.heat_flux_law.a_kW_per_m2 * KW, given.heat_flux_law.b_kW_per_m2_per_sqrt_s * KW
        )
        origin = "law"
    else:
        if given.mean_heat_flux_MW_per_m2 is not None:
            mean, origin = given.mean_heat_flux_MW_per_m2 * MW, "mean flux"
        elif given.water_flow_L_per_min is not None and given.water_rise_K is not None:
            around = case.width if given.water_faces == "one wide" else _perimeter(case)
            mean = mould.mean_flux_from_water(
                given.water_flow_L_per_min * L_PER_MIN,
                given.water_rise_K,
                around * case.working_length,
                given.water_inlet_C,
            )
            origin = "panel"
        else:
            dwell = dwell_now
            carbon = steel.carbon_equivalent
            factor = float(mould.carbon_factor(carbon, given.lubricant)) if np.isfinite(carbon) else 1.0
            mean, origin = float(mould.handbook_mean_flux(dwell, given.lubricant)) * factor, "handbook"
            notices += mould.handbook_notices(dwell, given.lubricant)
            used.append("wolf_mean_flux")
        law = mould.law_from_mean(mean, dwell, given.lubricant)
    if law.kind == "root" and origin != "law":
        used.append("savage_pritchard_1954")
    law = law.scaled(given.heat_flux_factor)
    notices += mould.law_notices(law, dwell_now)
    return law, origin, notices, used


def _mould_result(case: Case, law: mould.FluxLaw, origin: str, dwell: float) -> MouldResult:
    given = case.mould
    expected = np.nan
    if given.expected_mean_heat_flux_MW_per_m2 is not None:
        measured = given.measured_at_speed_m_per_min
        then = (
            case.working_length / case.speed
            if measured is None
            else case.working_length / (measured / MINUTE)
        )
        normal = mould.law_from_mean(given.expected_mean_heat_flux_MW_per_m2 * MW, then, given.lubricant)
        expected = float(normal.mean(dwell))
    return MouldResult(
        float(law.mean(dwell)),
        float(law.flux(dwell)),
        origin,
        law.words(),
        dwell,
        case.working_length,
        expected,
        np.nan if given.water_rise_K is None else given.water_rise_K,
    )


def _mould_faces(law: mould.FluxLaw, end: float) -> list[Face]:
    """Give the law its stretches: one, or two with the border where its clip sets in."""
    ends = [t for t in law.kinks() if 0 < t < end] + [end]
    if law.kind == "root":
        return [
            Face(
                t, flux=law.a, flux_times_sqrt_time=-law.b, flux_range=(law.floor, np.inf), mechanism="mould"
            )
            for t in ends
        ]
    return [
        Face(t, flux_over_sqrt_time=law.c, flux_range=(-np.inf, law.cap), mechanism="mould") for t in ends
    ]


def _zone_water(case: Case, zone: Zone, length: float) -> tuple[float, float, np.ndarray]:
    """Water of a zone on one strand [kg/s], its sprayed area [m2], and the zone mean on loose and fixed side."""
    width = case.width if zone.sprayed_width_mm is None else zone.sprayed_width_mm * MM
    if case.section.shape == "round":
        wide, narrow = 0.5 * np.pi * case.thickness * length, 0.0
    else:
        wide, narrow = width * length, case.thickness * length
    area = 2 * wide + (2 * narrow if zone.sprayed_faces == "all" else 0.0)
    litre = L_PER_MIN * 1e3 * WATER_LITRE_KG
    if zone.water_loose_L_per_min is not None or zone.water_fixed_L_per_min is not None:
        loose, fixed = (
            (zone.water_loose_L_per_min or 0.0) * litre,
            (zone.water_fixed_L_per_min or 0.0) * litre,
        )
        both = loose + fixed + (zone.water_narrow_L_per_min or 0.0) * litre
        return both, area, np.array([loose / wide, fixed / wide])
    if zone.water_flux_L_per_m2s is not None or zone.water_flux_L_per_m2_min is not None:
        if zone.water_flux_L_per_m2s is not None:
            flux = zone.water_flux_L_per_m2s * WATER_LITRE_KG
        else:
            flux = float(zone.water_flux_L_per_m2_min or 0.0) * WATER_LITRE_KG / MINUTE
        return flux * area, area, np.array([flux, flux])
    if zone.water_at_speed is not None:
        speeds, waters = np.array(zone.water_at_speed).T
        total = float(np.interp(case.casting.speed_m_per_min, speeds, waters)) * litre
    else:
        total = float(zone.water_L_per_min or 0.0) * litre
    return total, area, np.full(2, total / area)


def _zone(case: Case, zone: Zone, start: float, end: float) -> tuple[Stretch, list[Face], list[Notice]]:
    """Turn a zone into what acts on loose and fixed side; the faces' ends are set by the caller."""
    c = case.cooling_in(zone)
    where = f'zone "{zone.name}"'
    unknown = np.full(2, np.nan)
    if zone.heat_flux_kW_per_m2 is not None:
        face = Face(end, flux=zone.heat_flux_kW_per_m2 * KW)
        made = Stretch(zone.name, "zone", start, end, np.nan, 0.0, unknown, unknown, "", "", *_outside(c))
        return made, [face, face], []
    rest = _losses(c, end)
    if zone.heat_transfer_W_per_m2K is not None:
        h = zone.heat_transfer_W_per_m2K * zone.spray_factor
        face = replace(rest, htc=h)
        made = Stretch(
            zone.name, "zone", start, end, np.nan, 0.0, unknown, np.full(2, h), "", "", *_outside(c)
        )
        return made, [face, face], []
    water, area, flux = _zone_water(case, zone, end - start)
    relation = spray.relation(c.spray_relation)
    faces, at_1000 = [], []
    for w in flux.tolist():
        values = zone.spray_factor * spray.heat_transfer(relation, w, _SURFACE, c.water_temperature_C)
        at_1000.append(float(np.interp(1000.0, _SURFACE, values)))
        varies = relation.depends_on_surface_temperature and w > 0
        faces.append(replace(rest, htc=(_SURFACE, values) if varies else float(values[0])))
    name = relation.name if np.any(flux > 0) else ""
    made = Stretch(
        zone.name,
        "zone",
        start,
        end,
        water,
        area if np.any(flux > 0) else 0.0,
        flux,
        np.array(at_1000),
        name,
        str(zone.sprayed_faces or "") if name else "",
        *_outside(c),
    )
    return made, faces, list(spray.range_notices(relation, flux, where=where)) if name else []


def _outside(c: Cooling) -> tuple[float, float]:
    return c.water_temperature_C, c.ambient_temperature_C


def _losses(c: Cooling, end: float) -> Face:
    """Return what a zone loses besides its water."""
    return Face(
        end,
        water_temperature=c.water_temperature_C,
        emissivity=c.emissivity * c.view_factor,
        ambient_temperature=c.ambient_temperature_C,
        convection=c.natural_convection_W_per_m2K,
        roll_htc=c.roll_contact_W_per_m2K or 0.0,
        roll_share=c.roll_contact_share or 0.0,
    )


def _check_order(case: Case) -> None:
    if case.section.shape == "round":
        for zone in case.zone:
            if zone.water_loose_L_per_min != zone.water_fixed_L_per_min:
                raise InputError(
                    Problem(f'zone "{zone.name}"', "loose and fixed side differ", "equal sides for a round")
                )


def cooling_path(case: Case, steel: Steel, travel: Travel | None = None) -> CoolingPath:
    """Lay out what acts on a slice along the strand.

    Parameters
    ----------
    case : Case
        A checked case.
    steel : Steel
        Its steel, for the carbon factor of the handbook mould flux.
    travel : Travel, optional
        Where the slice is when; steady casting at the case's speed by default.

    Returns
    -------
    CoolingPath

    Raises
    ------
    InputError
        If no mould law can have the mean flux, a spray relation is unknown, or the travel ends early.
    """
    _check_order(case)
    travel = steady(case.speed, case.cutoff) if travel is None else travel
    law, origin, notices, used = _mould_law(case, steel)
    dwell = float(travel.age(case.working_length))
    notices = [*case.notices, *notices]
    unknown = np.full(2, np.nan)
    first = Stretch(
        "mould",
        "mould",
        0.0,
        case.working_length,
        np.nan,
        0.0,
        unknown,
        unknown,
        "",
        "",
        case.mould.water_inlet_C,
        case.mould.water_inlet_C,
    )
    stretches = [first]
    faces: list[Sequence[Face]] = []
    for zone, (start, end) in zip(case.zone, case.zone_bounds, strict=True):
        made, both, said = _zone(case, zone, start, end)
        stretches.append(made)
        faces.append(both)
        notices += said
    if stretches[-1].end < case.cutoff:
        bare = replace(_losses(case.cooling, case.cutoff), roll_htc=0.0, roll_share=0.0)
        none = np.zeros(2)
        stretches.append(
            Stretch(
                "after the last zone",
                "open",
                stretches[-1].end,
                case.cutoff,
                0.0,
                0.0,
                none,
                none,
                "",
                "",
                *_outside(case.cooling),
            )
        )
        faces.append([bare, bare])
    ages = travel.age(np.array([s.end for s in stretches]))
    unequal = any(not np.array_equal(s.water_flux[0], s.water_flux[1], equal_nan=True) for s in stretches)
    sides = ("loose", "fixed") if unequal else ("both",)
    path = []
    for side in range(len(sides)):
        rows = _mould_faces(law, dwell)
        for (_, age), pair in zip(pairwise(ages), faces, strict=True):
            rows.append(replace(pair[side], end=float(age)))
        path.append(tuple(rows))
    if unequal and case.section.shape == "rectangle":
        notices.append(
            Notice(
                "loose and fixed side differ: each half was marched by itself to the middle, so heat does not cross it",
                "section",
            )
        )
    used += [spray.relation(s.relation).source for s in stretches if s.relation]
    shown = tuple(_shown(s, len(sides)) for s in stretches)
    return CoolingPath(
        sides,
        shown,
        tuple(path),
        ages,
        _mould_result(case, law, origin, dwell),
        travel,
        tuple(dict.fromkeys(used)),
        tuple(notices),
    )


def _shown(stretch: Stretch, sides: int) -> Stretch:
    """Keep one value a side that is marched."""
    return replace(stretch, water_flux=stretch.water_flux[:sides], coefficient=stretch.coefficient[:sides])
