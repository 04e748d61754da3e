"""Defaults that depend on other keys of a case, put in once all of it is known to be right."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from solidify.case.model import (
    EMISSIVITY,
    PRESCRIBED,
    ROLL_CONTACT,
    WHOLE_FLUX,
    Cooling,
    Mould,
    Section,
    SteelInput,
    Uncertainty,
    Zone,
)
from solidify.case.rules import FLUX, MEASURED, MEASURED_ON
from solidify.case.treatment import treatment_band
from solidify.heat.surface import default_roll_share, default_view_factor
from solidify.sources import load_data
from solidify.steel.composition import carbon_equivalent
from solidify.units import MM

__all__ = [
    "equivalent_carbon",
    "with_faces",
    "with_measured",
    "with_rolls",
    "with_surface",
    "with_uncertainty",
]


def equivalent_carbon(steel: SteelInput) -> float | None:
    """Return the equivalent carbon of a composition [mass %]; None without one."""
    return None if steel.composition is None else carbon_equivalent(steel.composition.mass_percent())


def with_measured(mould: Mould, speed: float, carbon: float | None) -> Mould:
    """Put in at which speed and on which steel the mould heat was measured, and on which faces.

    Parameters
    ----------
    mould : Mould
        As given.
    speed : float
        That of the case file [m/min].
    carbon : float, optional
        Equivalent carbon of the composition in the case file [mass %].

    Returns
    -------
    Mould
    """
    own: dict[str, Any] = {}
    measured_on = mould.measured_at_carbon_equivalent_percent
    if measured_on is None and any(getattr(mould, key) is not None for key in MEASURED_ON):
        own["measured_at_carbon_equivalent_percent"] = carbon
    if mould.measured_at_speed_m_per_min is None and any(getattr(mould, key) is not None for key in MEASURED):
        own["measured_at_speed_m_per_min"] = speed
    if mould.water_faces is None and mould.water_flow_L_per_min is not None:
        own["water_faces"] = "all"
    return mould.model_copy(update=own)


def with_surface(cooling: Cooling, given: Mapping[str, Any], section: Section) -> Cooling:
    """Put in what holds where nothing is given: emissivity of oxidised steel, and but for slabs no rolls.

    What the rolls of a slab do its zones say, see `with_rolls`: a coefficient here would speak for them.

    Parameters
    ----------
    cooling : Cooling
        As given, or with what was put in beside another section.
    given : mapping
        The table as given.
    section : Section
        What is cast.

    Returns
    -------
    Cooling
        The same one where nothing is to be put in.
    """
    no_rolls = None if default_roll_share(section.shape) else 0.0
    own = {
        keys[0]: value
        for keys, value in ((ROLL_CONTACT, no_rolls), (EMISSIVITY, 0.8))
        if all(given.get(key) is None for key in keys)
    }
    changed = any(getattr(cooling, key) != value for key, value in own.items())
    return cooling.model_copy(update=own) if changed else cooling


def with_rolls(zone: Zone, given: Mapping[str, Any], common: Mapping[str, Any], section: Section) -> Zone:
    """Put in what the rolls of a zone do, where a roll pitch says that there are some and nothing else does.

    Parameters
    ----------
    zone : Zone
        As given, or with what was put in beside another [cooling] or section.
    given, common : mapping
        The tables of the zone and of [cooling] as given.
    section : Section
        What is cast.

    Returns
    -------
    Zone
        The same one where nothing is to be put in.
    """
    rolls = zone.roll_pitch_m is not None and zone.kind != WHOLE_FLUX
    own: dict[str, Any] = {}
    if all(given.get(key) is None for key in ROLL_CONTACT):
        bare = rolls and all(common.get(key) is None for key in ROLL_CONTACT)
        own["roll_contact_share"] = default_roll_share(section.shape) if bare else None
    if given.get("view_factor") is None:
        bare = rolls and common.get("view_factor") is None
        own["view_factor"] = default_view_factor(rolls=True) if bare else None
    changed = any(getattr(zone, key) != value for key, value in own.items())
    return zone.model_copy(update=own) if changed else zone


def with_faces(zone: Zone, given: Mapping[str, Any], section: Section) -> Zone:
    """Put in the faces that the water of a zone reaches, and how much of the wide ones.

    Parameters
    ----------
    zone : Zone
        As given, or with those of another section.
    given : mapping
        The table of the zone as given.
    section : Section
        What is cast.

    Returns
    -------
    Zone
        The same one where nothing is to be put in.
    """
    if zone.kind in PRESCRIBED:
        return zone
    own: dict[str, Any] = {}
    if given.get("sprayed_faces") is None:
        wide = not zone.narrow_sprayed if zone.by_side else section.shape == "slab"
        own["sprayed_faces"] = "wide" if wide else "all"
    if given.get("sprayed_width_mm") is None:
        own["sprayed_width_mm"] = section.width_mm
    changed = any(getattr(zone, key) != value for key, value in own.items())
    return zone.model_copy(update=own) if changed else zone


TREATED = {"section_length_percent": "end", "section_shell_percent": "shell", "section_surface_K": "surface"}
"""Key under [uncertainty] -> the error of the section treatment, of `solidify.case.treatment.TreatmentBand`."""


def with_uncertainty(given: Mapping[str, Any], sure: Uncertainty, tables: Mapping[str, Any]) -> Uncertainty:
    """Put in the standard deviations that depend on what the case knows: mould flux, sprays, section treatment.

    Parameters
    ----------
    given : mapping
        The tables of the case as given.
    sure : Uncertainty
        As given, or of another case.
    tables : mapping
        The other tables, checked.

    Returns
    -------
    Uncertainty
    """
    data = load_data("uncertainty.toml")
    own = given.get("uncertainty", {})
    measured = any(getattr(tables["mould"], key) is not None for key in FLUX)
    wet = [zone for zone in given["zone"] if not _dry(zone)]
    calibrated = all("spray_factor" in zone or any(key in zone for key in PRESCRIBED) for zone in wet)
    known = {"heat_flux_percent": measured, "spray_percent": calibrated}
    found = {
        row["key"]: row["value" if known[row["key"]] else "without"]
        for row in data["input"].values()
        if row["key"] in known
    }
    section = tables["section"]
    band = treatment_band(section.shape, (section.diameter_mm or section.thickness_mm) * MM)
    for key, name in TREATED.items():
        low, high = getattr(band, name)
        found[key] = round((high - low) / math.sqrt(12.0), 2)
    return sure.model_copy(update={key: value for key, value in found.items() if own.get(key) is None})


def _dry(zone: Mapping[str, Any]) -> bool:
    """Whether a zone as given says that it has no water."""
    return zone.get("water_L_per_min") == 0
