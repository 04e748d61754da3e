# ruff: noqa: E741, N815 (keys of the case file bear the symbols of elements and units)
"""The steel of a case: its composition, or one's own numbers."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, PlainValidator

from solidify.case.model.curves import points, points_schema, rows, rows_schema
from solidify.case.model.fields import Table, quantity, words
from solidify.steel import conductivity_relations, liquidus_relations, path_models
from solidify.steel.properties import stirred_limits

__all__ = ["STEEL_RELATIONS", "Composition", "SteelInput"]

STEEL_RELATIONS = {
    "liquidus_relation": liquidus_relations(),
    "path_model": path_models(),
    "conductivity_relation": conductivity_relations(),
}
"""Keys of the steel that name a published relation, and the names that ship."""


HeatCapacity = Annotated[
    float | tuple[tuple[float, float], ...], PlainValidator(points(200, 5000)), points_schema(200, 5000)
]
Conductivity = Annotated[
    float | tuple[tuple[float, float], ...], PlainValidator(points(1, 200)), points_schema(1, 200)
]
LiquidFraction = Annotated[float, Field(ge=0, le=1)]
ReductionOfArea = Annotated[
    tuple[tuple[float, float], ...], PlainValidator(rows(0, 100)), rows_schema(0, 100)
]


class Composition(Table):
    """Mass percent of each element; the rest is iron. Carbon must be there, others count as none."""

    C: float = quantity("%", 0.0005, 1.5, "Carbon")
    Si: float | None = quantity("%", 0, 3, "Silicon", None)
    Mn: float | None = quantity("%", 0, 3, "Manganese", None)
    P: float | None = quantity("%", 0, 0.2, "Phosphorus", None)
    S: float | None = quantity("%", 0, 0.4, "Sulphur", None)
    Cr: float | None = quantity("%", 0, 5, "Chromium", None)
    Ni: float | None = quantity("%", 0, 5, "Nickel", None)
    Mo: float | None = quantity("%", 0, 2, "Molybdenum", None)
    Cu: float | None = quantity("%", 0, 2, "Copper", None)
    Al: float | None = quantity("%", 0, 1.5, "Aluminium", None)
    N: float | None = quantity("%", 0, 0.05, "Nitrogen", None)
    Nb: float | None = quantity("%", 0, 0.5, "Niobium", None)
    V: float | None = quantity("%", 0, 1, "Vanadium", None)
    Ti: float | None = quantity("%", 0, 0.5, "Titanium", None)
    W: float | None = quantity("%", 0, 2, "Tungsten", None)
    As: float | None = quantity("%", 0, 0.1, "Arsenic", None)
    B: float | None = quantity("%", 0, 0.02, "Boron", None)
    Co: float | None = quantity("%", 0, 1, "Cobalt", None)
    Sn: float | None = quantity("%", 0, 0.2, "Tin", None)
    Sb: float | None = quantity("%", 0, 0.1, "Antimony", None)
    Pb: float | None = quantity("%", 0, 0.4, "Lead", None)
    Ca: float | None = quantity("%", 0, 0.02, "Calcium", None)
    Mg: float | None = quantity("%", 0, 0.02, "Magnesium", None)
    Zr: float | None = quantity("%", 0, 0.2, "Zirconium", None)
    Te: float | None = quantity("%", 0, 0.1, "Tellurium", None)
    Bi: float | None = quantity("%", 0, 0.2, "Bismuth", None)
    O: float | None = quantity("%", 0, 0.05, "Oxygen", None)
    H: float | None = quantity("%", 0, 0.002, "Hydrogen", None)

    def mass_percent(self) -> dict[str, float]:
        """Return the elements that were given [mass %]."""
        return {name: value for name, value in self if value is not None}


class SteelInput(Table):
    """The steel: a composition, or one's own numbers, or a property file; exactly one of the three."""

    composition: Composition | None = Field(
        None, description="Mass percent of each element, iron is the rest"
    )
    liquid_conductivity_factor: float = quantity(
        "1",
        1,
        20,
        "How much stirring raises the conduction of the liquid pool, constant along the strand",
        5.0,
    )
    stirred_liquid_fraction: tuple[LiquidFraction, LiquidFraction] = Field(
        stirred_limits(),
        description="Liquid fraction up to which nothing is stirred, and from which all is; linear between. The "
        "stirring ends at the tips of the dendrites; [0.3, 0.7] lets it reach between them",
        json_schema_extra={"unit": "1"},
    )
    conductivity_factor: float = quantity(
        "1",
        0.3,
        3,
        "Multiplies the conductivity of the solid, and of the freezing range by its solid fraction",
        1.0,
    )
    liquidus_C: float | None = quantity(
        "°C", 900, 1700, "Liquidus; beside a composition it stretches the path onto this value", None
    )
    solidus_C: float | None = quantity(
        "°C", 800, 1700, "Solidus; beside a composition it stretches the path onto this value", None
    )
    latent_heat_kJ_per_kg: float | None = quantity(
        "kJ/kg", 50, 500, "Latent heat of the whole freezing range", None
    )
    density_kg_per_m3: float | None = quantity(
        "kg/m³",
        5000,
        9000,
        "The one density that marches, and counts the steel cast; beside a composition it replaces the steel's own",
        None,
    )
    specific_heat_J_per_kgK: HeatCapacity | None = Field(
        None,
        description="Specific heat of the solid, a number or [[T_C, value], ...]",
        json_schema_extra={"unit": "J/(kg K)"},
    )
    conductivity_W_per_mK: Conductivity | None = Field(
        None,
        description="Conductivity of the solid, a number or [[T_C, value], ...]",
        json_schema_extra={"unit": "W/(m K)"},
    )
    liquid_specific_heat_J_per_kgK: float | None = quantity(
        "J/(kg K)", 200, 5000, "Specific heat of the liquid", None, "as the solid"
    )
    liquid_conductivity_W_per_mK: float | None = quantity(
        "W/(m K)",
        1,
        200,
        "Conductivity of the liquid at rest",
        None,
        "as the solid",
    )
    cooling_rate_K_per_s: float | None = quantity(
        "K/s",
        0.01,
        1000,
        "Nominal cooling rate of the solidification path, beside a composition",
        None,
        "1",
    )
    liquidus_relation: str | None = words(
        "Published relation of the liquidus by name, beside a composition", None, otherwise="phase_lines"
    )
    path_model: str | None = words(
        "Segregation model of the solidification path by name, beside a composition",
        None,
        otherwise="won_thomas_2001",
    )
    conductivity_relation: str | None = words(
        "Conductivity of the solid by name, beside a composition", None, otherwise="harste_1989"
    )
    reduction_of_area_percent: ReductionOfArea | None = Field(
        None,
        description="Of this steel in hot tensile tests, [[T_C, %], ...], for the ductility at the straightener",
        json_schema_extra={"unit": "%"},
    )
    property_file: str | None = words(
        "CSV or TOML file of one's own property table, beside the case file",
        None,
        min_length=1,
        max_length=400,
    )
