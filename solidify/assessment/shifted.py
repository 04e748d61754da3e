"""A case as it truly is when its readings and relations are off, and the same strand on a coarser grid."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from solidify.assessment.bands import Effect
from solidify.case import Case
from solidify.case.model import Cooling, Zone
from solidify.heat.surface import EMISSIVITIES, default_view_factor
from solidify.sources import load_data
from solidify.strand.setup import case_steel, strand_nodes, temperatures

__all__ = ["COARSER", "INPUTS", "coarse", "error_range", "error_size", "input_errors", "with_errors"]

INPUTS = {name: (row["key"], row["unit"]) for name, row in load_data("uncertainty.toml")["input"].items()}
"""Input -> (its key under ``[uncertainty]``, unit of its error)."""

COARSER = 2.0
"""Strands for the numerical error have this many times the spacing, or about as many times the step."""

_TYPICAL_SURFACE = 1000.0
"""Surface at which a relation of the emissivity is compared with its error [degC]."""


def with_errors(case: Case, errors: Mapping[str, float]) -> Case:
    """Return the case as it truly is when the plant's readings are off.

    A speed that is truly higher is so where the mould flux was measured too, and valves that follow the speed
    follow its reading. The spray error holds in every zone alike, and for a given whole flux as well. A liquidus
    that is truly higher lies nearer to the steel in the tundish, whose temperature was measured. What cannot be
    (a meniscus below the liquidus, a view factor above 1) stays at its edge.

    Parameters
    ----------
    case : Case
        As read on the panel.
    errors : mapping of str to float
        True less read, by input of `INPUTS`, in its unit; of ``"stirring of the pool"`` the natural logarithm of
        their ratio.

    Returns
    -------
    Case
        To be marched; its text is still that of the case given.
    """
    for name, error in errors.items():
        case = _CHANGES[name](case, error)
    return case


def error_size(case: Case, name: str) -> float:
    """Return one standard deviation of an input, as the case gives it.

    Parameters
    ----------
    case : Case
        A checked case.
    name : str
        One of `INPUTS`.

    Returns
    -------
    float
        In the unit of the input.
    """
    return float(getattr(case.uncertainty, INPUTS[name][0]))


def error_range(case: Case) -> dict[str, tuple[float, float]]:
    """Return one standard deviation up and down of each input that the case has, as far as it can go.

    Parameters
    ----------
    case : Case
        A checked case.

    Returns
    -------
    dict of str to (float, float)
        As `with_errors` takes it; the second is not above 0.
    """
    found = {}
    left = _superheat_left(case)
    for name in INPUTS:
        error = error_size(case, name)
        if name == "stirring of the pool":
            error = math.log(error)
        if error <= 0 or (name == "roll contact" and not _rolls(case)):
            continue
        up = min(error, left) if name == "liquidus" else error
        down = min(error, left) if name == "superheat" else error
        found[name] = (up, -down)
    return found


def _superheat_left(case: Case) -> float:
    steel = case_steel(case)
    return max(temperatures(case, steel).pouring - steel.liquidus, 0.0)


def _superheat(case: Case, error: float) -> Case:
    error = max(error, -_superheat_left(case))
    casting = case.casting
    if casting.tundish_temperature_C is not None:
        own = {"tundish_temperature_C": casting.tundish_temperature_C + error}
    else:
        own = {"superheat_K": (casting.superheat_K or 0.0) + error}
    return replace(case, casting=casting.model_copy(update=own))


def _liquidus(case: Case, error: float) -> Case:
    """Move the freezing range and leave the tundish as hot as it is; of a property file the superheat alone."""
    error = min(error, _superheat_left(case))
    steel = case_steel(case)
    given = case.steel
    if given.property_file is not None:
        return _superheat(case, -error)
    own = {"liquidus_C": steel.liquidus + error, "solidus_C": steel.solidus + error}
    moved = replace(case, steel=given.model_copy(update=own))
    return moved if case.casting.tundish_temperature_C is not None else _superheat(moved, -error)


def _flux(case: Case, error: float) -> Case:
    own = {"heat_flux_factor": _times(case.mould.heat_flux_factor, error, 0.05)}
    return replace(case, mould=case.mould.model_copy(update=own))


def _spray(case: Case, error: float) -> Case:
    def sprayed(zone: Zone) -> dict[str, Any]:
        if zone.heat_flux_kW_per_m2 is not None:
            return {"heat_flux_kW_per_m2": _times(zone.heat_flux_kW_per_m2, error)}
        return {"spray_factor": _times(zone.spray_factor, error)}

    return _zones(case, sprayed)


def _speed(case: Case, error: float) -> Case:
    speed, measured = case.casting.speed_m_per_min, case.mould.measured_at_speed_m_per_min
    own = {"measured_at_speed_m_per_min": None if measured is None else _times(measured, error, 0.01)}
    casting = case.casting.model_copy(update={"speed_m_per_min": _times(speed, error, 0.01)})
    case = replace(case, casting=casting, mould=case.mould.model_copy(update=own))

    def watered(zone: Zone) -> dict[str, Any]:
        found: dict[str, Any] = {}
        for key, table in zone.tables().items():
            speeds, waters = np.array(table).T
            water = float(np.interp(speed, speeds, waters))
            found |= {key: None, key.replace("at_speed", "L_per_min"): water}
        return found

    return _zones(case, watered)


def _emissivity(case: Case, error: float) -> Case:
    """Move every emissivity; one by a relation goes with the view factor, of which it is a multiple."""

    def seen(table: Cooling) -> dict[str, Any]:
        if table.emissivity_relation is not None:
            there = float(EMISSIVITIES[table.emissivity_relation](_TYPICAL_SURFACE))
            return {"view_factor": _seen(table) * min(max(1.0 + error / there, 0.0), 1.0 / there)}
        assert table.emissivity is not None
        return {"emissivity": min(max(table.emissivity + error, 0.0), 1.0) if table.emissivity else 0.0}

    return _surfaces(case, seen)


def _seen(table: Cooling) -> float:
    """View factor of a surface; where none is given that of open air, zones with rolls have their own [1]."""
    return default_view_factor(rolls=False) if table.view_factor is None else table.view_factor


def _view(case: Case, error: float) -> Case:
    return _surfaces(case, lambda table: {"view_factor": min(max(_seen(table) + error, 0.0), 1.0)})


def _conductivity(case: Case, error: float) -> Case:
    own = {"conductivity_factor": _times(case.steel.conductivity_factor, error, 0.1)}
    return replace(case, steel=case.steel.model_copy(update=own))


def _stirring(case: Case, error: float) -> Case:
    factor = max(case.steel.liquid_conductivity_factor * math.exp(error), 1.0)
    own = {"liquid_conductivity_factor": min(factor, 50.0)}
    return replace(case, steel=case.steel.model_copy(update=own))


_PUSHED = 0.01
"""Share of the rolls at which a larger error has no more effect [1]: all of the heat cannot go into them."""


def _roll_contact(case: Case, error: float) -> Case:
    """Move what the rolls take; a relation goes with the length of its contact."""

    def rolled(table: Cooling) -> dict[str, Any]:
        if table.roll_contact_share:
            f = table.roll_contact_share
            taken = _times(f / (1.0 - f), error)
            return {"roll_contact_share": min(taken / (1.0 + taken), 1.0 - _PUSHED)}
        if table.roll_contact_W_per_m2K:
            return {"roll_contact_W_per_m2K": _times(table.roll_contact_W_per_m2K, error)}
        if table.roll_contact_relation is not None and table.roll_radius_mm is not None:
            return {"roll_radius_mm": _times(table.roll_radius_mm, error)}
        return {}

    return _surfaces(case, rolled)


def _rolls(case: Case) -> bool:
    """Whether rolls take heat anywhere."""
    return any(
        table.roll_contact_share or table.roll_contact_W_per_m2K or table.roll_contact_relation is not None
        for table in map(case.cooling_in, case.zone)
    )


def _zones(case: Case, change: Callable[[Zone], dict[str, Any]]) -> Case:
    return replace(case, zone=tuple(zone.model_copy(update=change(zone)) for zone in case.zone))


def _surfaces(case: Case, change: Callable[[Cooling], dict[str, Any]]) -> Case:
    """Change what holds on the surface of the common table and, where a zone has it for itself, of the zone."""
    common = change(case.cooling)

    def own(zone: Zone) -> dict[str, Any]:
        table = case.cooling_in(zone)
        return {key: value for key, value in change(table).items() if value != common.get(key)}

    return replace(_zones(case, own), cooling=case.cooling.model_copy(update=common))


_CHANGES: dict[str, Callable[[Case, float], Case]] = {
    "superheat": _superheat,
    "liquidus": _liquidus,
    "mould heat flux": _flux,
    "spray heat transfer": _spray,
    "casting speed": _speed,
    "emissivity": _emissivity,
    "view factor": _view,
    "conductivity of the solid": _conductivity,
    "stirring of the pool": _stirring,
    "roll contact": _roll_contact,
}


def _times(value: float, percent: float, least: float = 0.0) -> float:
    return max(value * (1.0 + percent / 100.0), least)


def input_errors(case: Case) -> tuple[Effect, ...]:
    """Return the inputs that are counted and how sure they are, for print.

    Parameters
    ----------
    case : Case
        A checked case.

    Returns
    -------
    tuple of Effect
        Without a change; only inputs that the case has.
    """
    return tuple(
        Effect(name, error_size(case, name), INPUTS[name][1], math.nan, math.nan)
        for name in error_range(case)
    )


def coarse(case: Case) -> tuple[Case, Case]:
    """Return the case with twice the spacing, and with half as many steps, which take eight times the error in each.

    Parameters
    ----------
    case : Case
        A checked case.

    Returns
    -------
    tuple of Case
        To be marched.
    """
    nodes = math.ceil((strand_nodes(case, case_steel(case)) - 1) / COARSER) + 1
    own: tuple[dict[str, Any], ...] = ({"nodes": nodes}, {"tolerance": case.steps.tolerance * COARSER**3})
    fewer, longer = (replace(case, steps=case.steps.model_copy(update=each)) for each in own)
    return fewer, longer
