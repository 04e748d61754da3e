"""The tables of a case as frozen values, each key with its unit, range, default and meaning.

These models are the single source of the case file: validation, the JSON Schema, the reference page and the
messages all read them. Attribute names are the keys of the file, with plant units in the names.
"""

from __future__ import annotations

from solidify.case.model.caster import Casting, Machine, Section
from solidify.case.model.cooling import EMISSIVITY, RELATIONS, ROLL_CONTACT, Cooling
from solidify.case.model.fields import LINE, Table, words
from solidify.case.model.mould import Mould
from solidify.case.model.settings import Shell, Steps, Uncertainty
from solidify.case.model.steel import STEEL_RELATIONS, Composition, SteelInput
from solidify.case.model.zone import (
    COOLING_KINDS,
    NOZZLE_SPRAY,
    PRESCRIBED,
    SIDES,
    SIDES_AT_SPEED,
    TOTALS,
    WATER_TABLES,
    WHOLE_FLUX,
    Nozzles,
    WaterTable,
    Zone,
)

__all__ = [
    "COOLING_KINDS",
    "EMISSIVITY",
    "LINE",
    "NOZZLE_SPRAY",
    "PRESCRIBED",
    "RELATIONS",
    "ROLL_CONTACT",
    "SIDES",
    "SIDES_AT_SPEED",
    "STEEL_RELATIONS",
    "TOTALS",
    "WATER_TABLES",
    "WHOLE_FLUX",
    "Casting",
    "Composition",
    "Cooling",
    "Machine",
    "Mould",
    "Nozzles",
    "Section",
    "Shell",
    "SteelInput",
    "Steps",
    "Table",
    "Uncertainty",
    "WaterTable",
    "Zone",
    "words",
]
