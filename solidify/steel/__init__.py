"""Steel: from a composition, or from one's own numbers, to a solidification path and properties."""

from solidify.steel.composition import steel_class
from solidify.steel.curve import Steel
from solidify.steel.grade import steel_from_composition
from solidify.steel.liquidus import liquidus_relations, liquidus_temperature
from solidify.steel.own_data import steel_from_numbers
from solidify.steel.path import parameter_sets, path_models
from solidify.steel.properties import conductivity_relations
from solidify.steel.property_file import steel_from_file, steel_from_text

__all__ = [
    "Steel",
    "conductivity_relations",
    "liquidus_relations",
    "liquidus_temperature",
    "parameter_sets",
    "path_models",
    "steel_class",
    "steel_from_composition",
    "steel_from_file",
    "steel_from_numbers",
    "steel_from_text",
]
