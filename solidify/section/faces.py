"""What acts on the wide and on the narrow face of a section, and beside its corners, from a case."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from solidify.case import Case
from solidify.case.model import COOLING_KINDS, Zone
from solidify.errors import Notice
from solidify.section.march import Side, Strip
from solidify.solver.boundary import BoundaryCondition
from solidify.strand.cooling import CoolingPath, CoolingSegment
from solidify.strand.zones import bare_strand, side_water, zone_cooling
from solidify.units import MM, WATER_LITRE_KG

__all__ = ["CORNER_WIDTH", "SectionFaces", "section_faces"]

CORNER_WIDTH = 25.0
"""Of each face beside a corner over which a corner factor acts unless the case says otherwise [mm]: common practice, no
source."""

_UNEVEN = 0.02
"""Fluxes of the left and right narrow face that differ by more are mentioned, over their mean [1]."""


@dataclass(frozen=True)
class SectionFaces:
    """What acts on a section.

    Parameters
    ----------
    wide : tuple of Side
        One for both wide faces, or loose and fixed.
    narrow : Side
        Both narrow faces.
    notices : tuple of Notice
        What was taken where the case leaves it open.
    """

    wide: tuple[Side, ...]
    narrow: Side
    notices: tuple[Notice, ...]


def section_faces(case: Case, path: CoolingPath, throughput: float) -> SectionFaces:
    """Find what acts on the wide and narrow faces.

    Parameters
    ----------
    case : Case
        A checked case of a slab or rectangle.
    path : CoolingPath
        What acts on its slice: the wide faces.
    throughput : float
        Steel cast on one strand [kg s-1].

    Returns
    -------
    SectionFaces
        The mould's law holds for the narrow faces too unless the panel shows faces apart; water reaches them where
        `sprayed_faces` or water of their own says so, else they radiate. Rolls touch the wide faces alone.
    """
    notices: list[Notice] = []
    ratio = _narrow_ratio(path, notices)
    places = [_stretch_of(path, face) for face in path.faces[0]]
    narrow = []
    for face, stretch in zip(path.faces[-1], places, strict=True):
        zone = _zone(case, stretch)
        if stretch.kind == "mould":
            narrow.append(_times(face, ratio, 1.0))
        elif zone is None:
            narrow.append(face)
        else:
            narrow.append(replace(_narrow(case, zone, stretch, face, throughput), end=face.end))
    factors = [_factors(case, stretch) for stretch in places]
    width = (case.section.corner_width_mm or CORNER_WIDTH) * MM
    corners = tuple(width if pair != (1.0, 1.0) else 0.0 for pair in factors)
    margins = tuple(_margin(case, stretch) for stretch in places)

    def side(faces: Sequence[BoundaryCondition], dry: bool) -> Side:
        strips = []
        if any(corners):
            scaled = tuple(_times(f, *pair) for f, pair in zip(faces, factors, strict=True))
            strips.append(Strip(scaled, corners))
        if dry and any(margins):
            strips.append(Strip(tuple(replace(f, htc=0.0) for f in faces), margins))
        return Side(tuple(faces), tuple(strips))

    notices += _said(case, path)
    return SectionFaces(
        tuple(side(faces, True) for faces in path.faces), side(narrow, False), tuple(dict.fromkeys(notices))
    )


def _stretch_of(path: CoolingPath, face: BoundaryCondition) -> CoolingSegment:
    """Return the stretch of the strand in which something acts."""
    i = int(path.ages.searchsorted(float(face.end) * (1 - 1e-12)))
    return path.stretches[min(i, len(path.stretches) - 1)]


def _zone(case: Case, stretch: CoolingSegment) -> Zone | None:
    return next((zone for zone in case.zone if stretch.kind == "zone" and zone.name == stretch.name), None)


def _narrow_ratio(path: CoolingPath, notices: list[Notice]) -> float:
    """Return the mould flux of the narrow faces over that of the wide ones [1]."""
    found: Mapping[str, float] = dict(zip(path.mould.face, path.mould.face_flux.tolist(), strict=True))
    ends = [found[name] for name in ("left", "right") if name in found]
    if not ends:
        return 1.0
    mean, wide = sum(ends) / len(ends), 0.5 * (found["loose"] + found["fixed"])
    if len(ends) == 2 and abs(ends[0] - ends[1]) > _UNEVEN * mean:
        uneven = 100 * abs(ends[0] - ends[1]) / mean
        text = f"the fluxes of the two narrow faces differ by {uneven:.0f} %; both take their mean"
        notices.append(Notice(text, "mould"))
    return mean / wide


def _times(face: BoundaryCondition, flux: float, water: float) -> BoundaryCondition:
    """Multiply the prescribed flux and the water's coefficient of what acts."""
    if flux == water == 1.0:
        return face
    if callable(face.flux) or face.ramps_to is not None:
        raise ValueError("a section takes steady casting")
    low, high = (flux * x if x and math.isfinite(x) else x for x in face.flux_range)
    htc = (face.htc[0], water * np.asarray(face.htc[1])) if isinstance(face.htc, tuple) else water * face.htc
    return replace(
        face,
        flux=None if face.flux is None else flux * face.flux,
        flux_times_sqrt_time=flux * face.flux_times_sqrt_time,
        flux_decay=flux * face.flux_decay,
        flux_range=(low, high),
        htc=htc,
    )


def _factors(case: Case, stretch: CoolingSegment) -> tuple[float, float]:
    """Return what flux and water are multiplied by beside the corners."""
    if stretch.kind == "mould":
        factor = case.mould.corner_heat_flux_factor
        return (1.0 if factor is None else factor, 1.0)
    zone = _zone(case, stretch)
    factor = None if zone is None else case.cooling_in(zone).corner_spray_factor
    return (1.0, 1.0 if factor is None else factor)


def _margin(case: Case, stretch: CoolingSegment) -> float:
    """Return what the water of a zone leaves dry at either end of the wide face [m]."""
    zone = _zone(case, stretch)
    if zone is None or zone.sprayed_width_mm is None or not stretch.relation:
        return 0.0
    margin = 0.5 * (case.width - zone.sprayed_width_mm * MM)
    return margin if margin > 1e-9 else 0.0


_NO_ROLLS: dict[str, Any] = {"roll_htc": 0.0, "roll_share": 0.0}


def _narrow(
    case: Case, zone: Zone, stretch: CoolingSegment, fixed: BoundaryCondition, throughput: float
) -> BoundaryCondition:
    """Return what acts on the narrow faces in a zone; `fixed` acts on the fixed side, where no water stands."""
    dry = replace(fixed, htc=0.0, **_NO_ROLLS)
    slab = case.section.shape == "slab"
    if zone.heat_flux_kW_per_m2 is not None:
        return bare_strand(case, stretch.start, stretch.end).faces[0] if slab else fixed
    if zone.heat_transfer_W_per_m2K is not None:
        return dry if slab else replace(fixed, **_NO_ROLLS)
    if zone.by_side:
        water = side_water(case, zone, throughput).get("narrow", 0.0)
        flux = water / (2.0 * case.thickness * (stretch.end - stretch.start))
        return _watered(case, zone, stretch, flux, throughput) if water > 0 else dry
    return replace(fixed, **_NO_ROLLS) if stretch.faces == "all" else dry


def _watered(
    case: Case, zone: Zone, stretch: CoolingSegment, flux: float, throughput: float
) -> BoundaryCondition:
    """Return what a water flux [kg m-2 s-1] does in a zone where there are no rolls."""
    keys = {key for kind in COOLING_KINDS.values() for key in kind} | {"side_shares", "run_off_W_per_m2K"}
    own = dict.fromkeys(keys) | dict.fromkeys(("roll_contact_share", "roll_contact_relation"))
    own |= {"water_flux_L_per_m2s": flux / WATER_LITRE_KG, "roll_contact_W_per_m2K": 0.0}
    own |= {"water_min_L_per_min": None, "water_max_L_per_min": None}
    if math.isfinite(stretch.wetted_share):
        own["wetted_share"] = stretch.wetted_share
    made = zone_cooling(case, zone.model_copy(update=own), stretch.start, stretch.end, throughput)
    return made.faces[1]


def _said(case: Case, path: CoolingPath) -> list[Notice]:
    """Say what was taken where the case leaves it open."""
    found = []
    if not path.mould.face:
        found.append(Notice("the mould's flux was taken for the narrow faces too", "mould"))
    dry = [s.name for s in path.stretches if _is_dry(case, s)]
    if dry:
        text = f"no water reaches the narrow faces in {', '.join(dry)}: they radiate there"
        found.append(Notice(text, "section"))
    if any(s.relation and _margin(case, s) for s in path.stretches):
        found.append(Notice("beside the sprayed width the wide faces are dry", "section"))
    return found


def _is_dry(case: Case, stretch: CoolingSegment) -> bool:
    """Whether a zone has cooling of its own that does not reach the narrow faces."""
    zone = _zone(case, stretch)
    if zone is None:
        return False
    if zone.kind in ("heat_transfer_W_per_m2K", "heat_flux_kW_per_m2"):
        return case.section.shape == "slab"
    return bool(stretch.relation) and stretch.faces != "all"
