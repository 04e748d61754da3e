"""Defaults that depend on other keys of a case, put in once all of it is known to be right."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from solidify.case.model import (
    EMISSIVITY,
    PRESCRIBED,
    ROLL_CONTACT,
    Cooling,
    Mould,
    Section,
    Uncertainty,
    Zone,
)
from solidify.case.rules import FLUX, MEASURED
from solidify.sources import load_data

__all__ = ["with_faces", "with_measured", "with_surface", "with_uncertainty"]


def with_measured(mould: Mould, speed: float) -> Mould:
    """Put in at which speed the mould heat was measured, and on which faces.

    Parameters
    ----------
    mould : Mould
        As given.
    speed : float
        That of the case file [m/min].

    Returns
    -------
    Mould
    """
    own: dict[str, Any] = {}
    if mould.measured_at_speed_m_per_min is None and any(getattr(mould, key) is not None for key in MEASURED):
        own["measured_at_speed_m_per_min"] = speed
    if mould.water_faces is None and mould.water_flow_L_per_min is not None:
        own["water_faces"] = "all"
    return mould.model_copy(update=own)


def with_surface(cooling: Cooling) -> Cooling:
    """Put in what holds where neither a number nor a relation is given: no rolls, emissivity of oxidised steel.

    Parameters
    ----------
    cooling : Cooling
        As given.

    Returns
    -------
    Cooling
    """
    own = {
        keys[0]: value
        for keys, value in ((ROLL_CONTACT, 0.0), (EMISSIVITY, 0.8))
        if all(getattr(cooling, key) is None for key in keys)
    }
    return cooling.model_copy(update=own)


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


TREATED = {
    "section_length_percent": "length_percent",
    "section_shell_percent": "shell_percent",
    "section_surface_K": "surface_K",
}
"""Key under [uncertainty] -> what a section treatment was seen to be off by, in data/uncertainty.toml."""


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
    treatment = data["treatment"].get(tables["section"].shape, {})
    for key, name in TREATED.items():
        low, high = treatment.get(name, (0.0, 0.0))
        found[key] = round((high - low) / math.sqrt(12.0), 2)
    return sure.model_copy(update={key: value for key, value in found.items() if own.get(key) is None})


def _dry(zone: Mapping[str, Any]) -> bool:
    """Whether a zone as given says that it has no water."""
    return zone.get("water_L_per_min") == 0
