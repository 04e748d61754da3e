# ruff: noqa: E741, N815 (keys of the case file bear the symbols of elements and units)
"""The tables of a case as frozen values, each key with its unit, range, default and meaning.

These models are the single source of the case file: validation, the JSON Schema, the reference page and the
messages all read them. Attribute names are the keys of the file, with plant units in the names.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, PlainValidator, WithJsonSchema
from pydantic_core import PydanticCustomError

from solidify.spray import DEFAULT_RELATION, relation_names
from solidify.steel import conductivity_relations, liquidus_relations, path_models
from solidify.surface import EMISSIVITIES, ROLL_CONTACTS

__all__ = [
    "COOLING_KINDS",
    "EMISSIVITY",
    "NOZZLE_SPRAY",
    "PRESCRIBED",
    "RELATIONS",
    "STEEL_RELATIONS",
    "ROLL_CONTACT",
    "SIDES",
    "SIDES_AT_SPEED",
    "TOTALS",
    "WATER_TABLES",
    "WHOLE_FLUX",
    "Casting",
    "Composition",
    "Cooling",
    "FaceFlow",
    "FaceRise",
    "HeatFluxLaw",
    "Machine",
    "Mould",
    "Nozzles",
    "Section",
    "Shell",
    "SideShares",
    "SteelInput",
    "Steps",
    "Uncertainty",
    "WaterTable",
    "Zone",
]


def quantity(
    unit: str, low: float, high: float, meaning: str, default: Any = ..., otherwise: str = ""
) -> Any:
    """Describe a number of the case file.

    Parameters
    ----------
    unit : str
        Plant unit, ``"1"`` for none.
    low, high : float
        Accepted range, ends included [unit].
    meaning : str
        For the reference.
    default : float, optional
        Without one the key is required; None where it may be absent.
    otherwise : str
        What happens then, where it is not plain absence.

    Returns
    -------
    Field
    """
    extra: dict[str, Any] = {"unit": unit} | ({"otherwise": otherwise} if otherwise else {})
    return Field(default, ge=low, le=high, description=meaning, json_schema_extra=extra)


def measure(unit: str, low: float, high: float, meaning: str) -> Any:
    """Describe a number that stands in several places, without a default; as `quantity`."""
    return Field(ge=low, le=high, description=meaning, json_schema_extra={"unit": unit})


LINE = r"^[^\s\x00-\x1f\x7f]([^\x00-\x1f\x7f]*[^\s\x00-\x1f\x7f])?$"
"""One line of text without spaces at its ends."""


def words(meaning: str, default: Any = ..., otherwise: str = "", **limits: Any) -> Any:
    """Describe a text or a choice of the case file; as `quantity`."""
    extra: dict[str, Any] = {"otherwise": otherwise} if otherwise else {}
    return Field(default, description=meaning, json_schema_extra=extra, **limits)


def points(low: float, high: float) -> Any:
    """Return a validator of a number, or of [temperature, value] pairs at rising temperatures."""

    def check(given: Any) -> float | tuple[tuple[float, float], ...]:
        if _is_number(given):
            _inside(given, low, high)
            return float(given)
        if not isinstance(given, tuple) or len(given) < 2:
            raise PydanticCustomError(
                "points", "is neither a number nor a list of two or more [T_C, value] pairs"
            )
        for row in given:
            if not isinstance(row, tuple) or len(row) != 2 or not all(map(_is_number, row)):
                raise PydanticCustomError("points", "holds a row that is not a [T_C, value] pair of numbers")
            if not -50 <= row[0] <= 2500:
                raise PydanticCustomError("points", f"holds {row[0]:g} °C, outside -50 to 2500 °C")
            _inside(row[1], low, high)
        for before, after in pairwise(given):
            if not before[0] < after[0]:
                raise PydanticCustomError(
                    "points", f"has {after[0]:g} °C after {before[0]:g} °C; temperatures must rise"
                )
        return tuple((float(t), float(v)) for t, v in given)

    return check


def rows(low: float, high: float) -> Any:
    """Return a validator as `points`, without the single number."""
    check = points(low, high)

    def rows_alone(given: Any) -> tuple[tuple[float, float], ...]:
        if not isinstance(given, tuple) or len(given) < 2:
            raise PydanticCustomError("points", "is no list of two or more [T_C, value] pairs")
        return check(given)

    return rows_alone


def _is_number(given: Any) -> bool:
    return isinstance(given, int | float) and not isinstance(given, bool) and math.isfinite(given)


def _inside(given: float, low: float, high: float) -> None:
    if not low <= given <= high:
        raise PydanticCustomError("outside", "is outside", {"value": given})


def _rows_schema(low: float, high: float) -> WithJsonSchema:
    number = {"type": "number"}
    columns = [
        number | {"minimum": -50, "maximum": 2500, "unit": "°C"},
        number | {"minimum": low, "maximum": high, "unit": "%"},
    ]
    pair = {"type": "array", "minItems": 2, "maxItems": 2, "prefixItems": columns}
    return WithJsonSchema({"type": "array", "items": pair, "minItems": 2})


def _points_schema(low: float, high: float) -> WithJsonSchema:
    pair = {"type": "array", "minItems": 2, "maxItems": 2, "items": {"type": "number"}}
    return WithJsonSchema(
        {"type": ["number", "array"], "minimum": low, "maximum": high, "items": pair, "minItems": 2}
    )


HeatCapacity = Annotated[
    float | tuple[tuple[float, float], ...], PlainValidator(points(200, 5000)), _points_schema(200, 5000)
]
Conductivity = Annotated[
    float | tuple[tuple[float, float], ...], PlainValidator(points(1, 200)), _points_schema(1, 200)
]
ReductionOfArea = Annotated[
    tuple[tuple[float, float], ...], PlainValidator(rows(0, 100)), _rows_schema(0, 100)
]
Distance = Annotated[float, Field(ge=0, le=200)]
Radius = Annotated[float, Field(gt=0, allow_inf_nan=True)]


class Table(BaseModel):
    """A table of the case file: nothing unknown, nothing converted, nothing changed afterwards."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)


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
        "The one density that marches; beside a composition it replaces the steel's own",
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


class Section(Table):
    """The cast section, sizes hot at mould exit; thickness is loose to fixed side and never the larger."""

    shape: Literal["slab", "rectangle", "round"] = words(
        '"slab" is flat, cooled one way; "rectangle" is for blooms and billets; "round" has a diameter'
    )
    thickness_mm: float | None = quantity("mm", 20, 600, "Loose to fixed side; slab and rectangle", None)
    width_mm: float | None = quantity("mm", 20, 4000, "The other side; slab and rectangle", None)
    diameter_mm: float | None = quantity("mm", 20, 1200, "Of a round", None)


class Casting(Table):
    """Speed and temperature of the steel; exactly one of superheat and tundish temperature."""

    speed_m_per_min: float = quantity("m/min", 0.05, 12, "Casting speed")
    superheat_K: float | None = quantity("K", 0, 150, "Tundish temperature over the liquidus", None)
    tundish_temperature_C: float | None = quantity("°C", 950, 1850, "Temperature in the tundish", None)
    meniscus_drop_K: float = quantity("K", 0, 100, "Lost between tundish and meniscus", 0.0)


class HeatFluxLaw(Table):
    """A mould flux law in time below the meniscus, q = a - b √t, used as given."""

    a_kW_per_m2: float = quantity("kW/m²", 100, 20000, "Flux at the meniscus")
    b_kW_per_m2_per_sqrt_s: float = quantity("kW/m²/√s", 0, 10000, "Fall with the square root of the time")


class FaceFlow(Table):
    """Mould water face by face; the mid-face slice takes the mean of the two wide faces."""

    loose: float = quantity("L/min", 1, 50000, "Wide face on the loose side")
    fixed: float = quantity("L/min", 1, 50000, "Wide face on the fixed side")
    left: float | None = quantity("L/min", 1, 50000, "Left narrow face", None)
    right: float | None = quantity("L/min", 1, 50000, "Right narrow face", None)


class FaceRise(Table):
    """Rise of the mould water face by face, for the faces of the flow."""

    loose: float = quantity("K", 0.1, 50, "Wide face on the loose side")
    fixed: float = quantity("K", 0.1, 50, "Wide face on the fixed side")
    left: float | None = quantity("K", 0.1, 50, "Left narrow face", None)
    right: float | None = quantity("K", 0.1, 50, "Right narrow face", None)


class Mould(Table):
    """The mould and what is known of its heat: a mean flux, or water flow and rise, or a law, or nothing.

    With nothing given the handbook relation for the lubricant acts and every output says "flux not measured".
    Water flow beside a mean flux or a law tells the rise that the flux implies.
    """

    length_mm: float = quantity("mm", 200, 3000, "Length of the copper, top to bottom")
    level_below_top_mm: float = quantity("mm", 0, 500, "Steel level below the top of the copper")
    lubricant: Literal["powder", "oil"] = words("Mould powder, or oil with an open stream")
    mean_heat_flux_MW_per_m2: float | None = quantity(
        "MW/m²", 0.1, 10, "Mean heat flux from the meniscus to mould exit, as measured", None
    )
    water_flow_L_per_min: float | None = quantity("L/min", 1, 50000, "Mould water", None)
    water_rise_K: float | None = quantity("K", 0.1, 50, "Rise of the mould water, with its flow", None)
    face_water_flow_L_per_min: FaceFlow | None = Field(
        None, description="Mould water face by face, in place of one flow"
    )
    face_water_rise_K: FaceRise | None = Field(None, description="Rise face by face, in place of one rise")
    water_faces: Literal["all", "one wide"] | None = words("Faces that this water cools", None, "all")
    heat_flux_law: HeatFluxLaw | None = Field(None, description="A law in time, used as given and clipped")
    measured_at_speed_m_per_min: float | None = quantity(
        "m/min", 0.05, 12, "Speed at which the flux was measured", None, "the speed in the file"
    )
    expected_mean_heat_flux_MW_per_m2: float | None = quantity(
        "MW/m²",
        0.1,
        10,
        "Mean heat flux that this plant calls normal at that speed; nothing is judged without it",
        None,
    )
    heat_flux_factor: float = quantity("1", 0.1, 3, "Multiplies the flux along the whole mould", 1.0)
    water_inlet_C: float = quantity("°C", 1, 80, "Mould water at the inlet", 30.0)
    water_gap_mm: float | None = quantity(
        "mm", 0.5, 30, "Width of the water gap round a tube, or depth of the slots of a plate", None
    )
    water_slot_mm2: float | None = quantity(
        "mm²", 100, 1e6, "Cross-section of all slots that the flow passes", None, "the gap round a tube"
    )
    copper_wall_mm: float | None = quantity(
        "mm",
        3,
        80,
        "Copper between steel and water, for the estimate of its hot face",
        None,
        "12 mm round a tube, no estimate",
    )
    oscillation_cycles_per_min: float | None = quantity(
        "cycles/min", 5, 600, "Of the mould, a sinusoid; with its stroke", None
    )
    oscillation_stroke_mm: float | None = quantity(
        "mm", 0.5, 30, "Full stroke, twice the amplitude; with the cycles", None
    )
    taper_percent_per_m: float | None = quantity(
        "%/m", 0, 5, "The one straight taper of the mould, to compare with free shrinkage", None
    )


Emissivity = Annotated[float, measure("1", 0, 1, "Of the strand surface; 0 switches radiation off")]
Ambient = Annotated[float, measure("°C", -40, 600, "Surroundings, for radiation and convection")]
Convection = Annotated[float, measure("W/(m² K)", 0, 200, "Natural convection of the air")]
SprayWater = Annotated[float, measure("°C", 0, 95, "Temperature of the spray water")]
RollContact = Annotated[float, measure("W/(m² K)", 0, 2000, "Contact with the rolls, spread over the zone")]
RollShare = Annotated[
    float, measure("1", 0, 0.8, "Share f that the rolls take: f/(1-f) of water, radiation and convection")
]
ViewFactor = Annotated[
    float, measure("1", 0, 1, "Share of the surface that sees the surroundings, not rolls")
]
Relation = Annotated[str, Field(description="Published relation from water flux to coefficient, by name")]
EmissivityRelation = Annotated[
    str, Field(description="Emissivity over surface temperature by relation, in its place")
]
RollRelation = Annotated[
    str,
    Field(
        description="Roll contact by published relation; needs pitch, radius and contact angle of the rolls"
    ),
]
RollRadius = Annotated[float, measure("mm", 20, 600, "Of the rolls, for a roll contact by relation")]
ContactAngle = Annotated[
    float, measure("°", 0.5, 45, "Whole angle over which a roll touches the strand, seen from its axis")
]
WettedShare = Annotated[
    float,
    measure(
        "1", 0.01, 1, "Share of the sprayed area under a spray, for relations made for the water under it"
    ),
]
DropVelocity = Annotated[float, measure("m/s", 1, 100, "Of the drops, for relations that ask for it")]

RELATIONS = {
    "spray_relation": relation_names(),
    "emissivity_relation": tuple(EMISSIVITIES),
    "roll_contact_relation": tuple(ROLL_CONTACTS),
}
"""Keys that name a published relation, and the names that ship."""

STEEL_RELATIONS = {
    "liquidus_relation": liquidus_relations(),
    "path_model": path_models(),
    "conductivity_relation": conductivity_relations(),
}
"""The same for the steel."""

EMISSIVITY = ("emissivity", "emissivity_relation")
ROLL_CONTACT = ("roll_contact_W_per_m2K", "roll_contact_share", "roll_contact_relation")
"""Keys of one meaning, here and above: a table of the case takes one of them, and so replaces the others."""


class Cooling(Table):
    """What holds in every zone below the mould unless the zone says otherwise."""

    emissivity: Emissivity | None = Field(None, json_schema_extra={"otherwise": "0.8"})
    emissivity_relation: EmissivityRelation | None = None
    ambient_temperature_C: Ambient = 40.0
    natural_convection_W_per_m2K: Convection = 8.5
    water_temperature_C: SprayWater = 25.0
    spray_relation: Relation = DEFAULT_RELATION
    roll_contact_W_per_m2K: RollContact | None = Field(None, json_schema_extra={"otherwise": "0"})
    roll_contact_share: RollShare | None = None
    roll_contact_relation: RollRelation | None = None
    roll_radius_mm: RollRadius | None = None
    roll_contact_angle_deg: ContactAngle | None = None
    wetted_share: WettedShare | None = None
    drop_velocity_m_per_s: DropVelocity | None = Field(
        None, json_schema_extra={"otherwise": "as the relation"}
    )
    view_factor: ViewFactor = 1.0


SIDES = ("water_loose_L_per_min", "water_fixed_L_per_min", "water_narrow_L_per_min")
"""Water by side: the first two stand together, the third beside them only."""

SIDES_AT_SPEED = ("water_loose_at_speed", "water_fixed_at_speed", "water_narrow_at_speed")
"""The same as tables over the speed, a loop of its own for each side."""

WATER_TABLES = ("water_at_speed", *SIDES_AT_SPEED)
"""Every table of water over the speed."""

TOTALS = ("water_L_per_min", "water_at_speed", "water_L_per_kg")
"""Totals that `side_shares` may split."""

WHOLE_FLUX = "heat_flux_kW_per_m2"
"""The way of cooling that leaves nothing else to act."""

COOLING_KINDS = {
    "water_L_per_min": ("water_L_per_min",),
    "water_loose_L_per_min + water_fixed_L_per_min": SIDES,
    "water_at_speed": ("water_at_speed",),
    "water_loose_at_speed + water_fixed_at_speed": SIDES_AT_SPEED,
    "water_L_per_kg": ("water_L_per_kg",),
    "nozzles": ("nozzles",),
    "water_flux_L_per_m2s": ("water_flux_L_per_m2s",),
    "water_flux_L_per_m2_min": ("water_flux_L_per_m2_min",),
    "heat_transfer_W_per_m2K": ("heat_transfer_W_per_m2K",),
    WHOLE_FLUX: (WHOLE_FLUX,),
}
"""The ways to say how a zone is cooled, and the keys of each; a zone takes exactly one."""

PRESCRIBED = ("heat_transfer_W_per_m2K", WHOLE_FLUX)
"""Ways of cooling that say nothing of water."""

Water = Annotated[float, Field(ge=0, le=50000)]
Speed = Annotated[float, Field(ge=0.05, le=12)]
WaterTable = tuple[tuple[Speed, Water], ...]


def water_table(meaning: str) -> Any:
    """Describe a table of water over the speed."""
    unit: dict[str, Any] = {"unit": "m/min, L/min"}
    return Field(None, description=meaning, min_length=2, json_schema_extra=unit)


class SideShares(Table):
    """How the water of a zone is split over its sides; the shares add up to 1."""

    loose: float = quantity("1", 0, 1, "Of the loose side")
    fixed: float = quantity("1", 0, 1, "Of the fixed side")
    narrow: float | None = quantity("1", 0, 1, "Of both narrow faces together", None)


NOZZLE_SPRAY = ("width_angle_deg", "length_angle_deg", "stand_off_mm", "row_pitch_mm", "nozzles_across")
"""What a nozzle wets; all of them or none."""


class Nozzles(Table):
    """The nozzles of a zone: their number and curve give the water, their sprays the wetted share.

    The flow goes with the root of the pressure. Angles, stand-off, row pitch and nozzles side by side, all five or
    none, give the share of the sprayed area under a spray.
    """

    count: int = Field(ge=1, le=10000, description="Nozzles on one strand", json_schema_extra={"unit": "1"})
    flow_L_per_min: float = quantity("L/min", 0.01, 1000, "Of one nozzle at the reference pressure")
    reference_bar: float = quantity(
        "bar", 0.1, 200, "Pressure at which it has that flow, over the atmosphere"
    )
    pressure_bar: float = quantity("bar", 0, 200, "Water pressure of the zone, over the atmosphere")
    width_angle_deg: float | None = quantity("°", 1, 150, "Spray angle across the strand", None)
    length_angle_deg: float | None = quantity("°", 1, 150, "Spray angle along the strand", None)
    stand_off_mm: float | None = quantity("mm", 20, 2000, "From nozzle to strand", None)
    row_pitch_mm: float | None = quantity("mm", 20, 3000, "From row to row along the strand", None)
    nozzles_across: int | None = Field(
        None, ge=1, le=100, description="Nozzles side by side in a row", json_schema_extra={"unit": "1"}
    )


class Zone(Table):
    """A cooling zone; the first starts at mould exit, each ends where the next begins.

    Exactly one way of cooling: a total, loose and fixed side, a table over speed for the total or for each side,
    litres per kilogram, nozzles, a water flux, a coefficient or a whole heat flux. Any key of the cooling table may
    stand here too and holds in this zone alone.
    """

    name: str = words("Its own name, once in the file", max_length=60, pattern=LINE)
    end_m: float = quantity("m", 0.05, 200, "Where it ends along the strand")
    water_L_per_min: float | None = quantity(
        "L/min",
        0,
        50000,
        "All water of the zone on one strand, every sprayed face together; 0 for a dry zone",
        None,
    )
    water_loose_L_per_min: float | None = quantity("L/min", 0, 50000, "Water on the loose side", None)
    water_fixed_L_per_min: float | None = quantity("L/min", 0, 50000, "Water on the fixed side", None)
    water_narrow_L_per_min: float | None = quantity(
        "L/min", 0, 50000, "Water on both narrow faces together", None
    )
    water_at_speed: WaterTable | None = water_table(
        "Spray water table, [[m/min, L/min], ...] at rising speeds: linear between, flat beyond"
    )
    water_loose_at_speed: WaterTable | None = water_table("The same of the loop on the loose side")
    water_fixed_at_speed: WaterTable | None = water_table("The same of the loop on the fixed side")
    water_narrow_at_speed: WaterTable | None = water_table(
        "The same of the loop on both narrow faces together"
    )
    water_L_per_kg: float | None = quantity(
        "L/kg", 0, 20, "All water of the zone per kilogram of steel cast; follows the speed", None
    )
    side_shares: SideShares | None = Field(
        None,
        description="How water_L_per_min, water_at_speed or water_L_per_kg is split over the sides",
        json_schema_extra={"otherwise": "by area, alike on every sprayed face"},
    )
    nozzles: Nozzles | None = Field(None, description="Number and curve of the nozzles, and what they wet")
    water_flux_L_per_m2s: float | None = quantity(
        "L/(m² s)", 0, 100, "Zone mean over the sprayed area, not the value under a nozzle", None
    )
    water_flux_L_per_m2_min: float | None = quantity(
        "L/(m² min)", 0, 6000, "The same, per minute instead of per second", None
    )
    heat_transfer_W_per_m2K: float | None = quantity(
        "W/(m² K)", 0, 20000, "The water's share; radiation, convection and rolls are added", None
    )
    heat_flux_kW_per_m2: float | None = quantity("kW/m²", 0, 20000, "The whole flux of the zone", None)
    sprayed_faces: Literal["all", "wide"] | None = words(
        "Faces that the water reaches", None, '"wide" for a slab, else "all"'
    )
    sprayed_width_mm: float | None = quantity(
        "mm", 10, 4000, "Of each wide face, what the water reaches", None, "the whole face"
    )
    spray_factor: float = quantity("1", 0, 10, "Multiplies the water's coefficient in this zone", 1.0)
    water_min_L_per_min: float | None = quantity(
        "L/min", 0, 50000, "Least water that the valve of the zone can hold", None
    )
    water_max_L_per_min: float | None = quantity(
        "L/min", 0, 50000, "Most water that valve and pump give the zone", None
    )
    run_off_W_per_m2K: float | None = quantity(
        "W/(m² K)",
        0,
        1000,
        "Water that stands on the loose side, spread over the zone: 100 to 300 on 20 to 50 % of it is usual",
        None,
    )
    roll_pitch_m: float | None = quantity(
        "m", 0.05, 3, "Roll centre to roll centre, for bulging and roll contact by relation", None
    )
    emissivity: Emissivity | None = None
    emissivity_relation: EmissivityRelation | None = None
    ambient_temperature_C: Ambient | None = None
    natural_convection_W_per_m2K: Convection | None = None
    water_temperature_C: SprayWater | None = None
    spray_relation: Relation | None = None
    roll_contact_W_per_m2K: RollContact | None = None
    roll_contact_share: RollShare | None = None
    roll_contact_relation: RollRelation | None = None
    roll_radius_mm: RollRadius | None = None
    roll_contact_angle_deg: ContactAngle | None = None
    wetted_share: WettedShare | None = None
    drop_velocity_m_per_s: DropVelocity | None = None
    view_factor: ViewFactor | None = None

    @property
    def kind(self) -> str:
        """Which key says how the zone is cooled, a key of `COOLING_KINDS`."""
        given = (
            k for k, keys in COOLING_KINDS.items() if any(getattr(self, key) is not None for key in keys)
        )
        return next(given)

    @property
    def by_side(self) -> bool:
        """Whether its water is told apart by side."""
        own = (getattr(self, key) for key in (SIDES[0], SIDES_AT_SPEED[0], "side_shares"))
        return any(value is not None for value in own)

    @property
    def narrow_sprayed(self) -> bool:
        """Whether its narrow faces are told to have water of their own."""
        shares = self.side_shares
        if shares is not None and shares.narrow is not None:
            return True
        return self.water_narrow_L_per_min is not None or self.water_narrow_at_speed is not None

    def tables(self) -> dict[str, WaterTable]:
        """Return every table of water over the speed that is given, by its key."""
        given = {key: getattr(self, key) for key in WATER_TABLES}
        return {key: table for key, table in given.items() if table is not None}


class Machine(Table):
    """The machine along the strand."""

    distances_from: Literal["meniscus", "mould top"] = words(
        "What all distances of zones and machine are counted from; drawings often use the mould top",
        "meniscus",
    )
    vertical_length_m: float = quantity("m", 0, 50, "End of the vertical part; 0 for a curved mould", 0.0)
    radius_m: float | None = quantity(
        "m", 1, 50, "Of the arc, to the fixed side; none for a vertical machine", None
    )
    bending_m: tuple[Distance, ...] = Field(
        (), description="Every bending point, in order", json_schema_extra={"unit": "m"}
    )
    straightener_m: tuple[Distance, ...] = Field(
        (), description="Every straightening point, in order", json_schema_extra={"unit": "m"}
    )
    radius_after_m: tuple[Radius, ...] | None = Field(
        None,
        description="Radius after each straightening point, inf for straight, for the strain",
        json_schema_extra={"unit": "m"},
    )
    support_end_m: float = quantity("m", 0.1, 200, "Last supporting roll")
    cutoff_m: float = quantity("m", 0.2, 200, "Torch or shear; the march ends here")


class Shell(Table):
    """What counts as shell."""

    solid_fraction: float = quantity(
        "1", 0.01, 1, "Headline definition of the shell; 0.3, 0.7 and 1.0 are always reported", 0.7
    )


class Uncertainty(Table):
    """The plant's input errors, one standard deviation."""

    superheat_K: float = quantity("K", 0, 50, "Of the superheat", 3.0)
    heat_flux_percent: float = quantity("%", 0, 50, "Of the mould heat flux", 10.0)
    spray_percent: float = quantity("%", 0, 100, "Of the spray heat transfer", 20.0)
    speed_percent: float = quantity("%", 0, 20, "Of the casting speed", 1.5)


class Steps(Table):
    """How finely the march works and reports; the defaults suit every case."""

    nodes: int | None = Field(
        None,
        ge=20,
        le=400,
        description="Nodes from the surface to the centre",
        json_schema_extra={"unit": "1", "otherwise": "5.2 √(half thickness in mm), at least 30"},
    )
    tolerance: float = quantity("1", 0.01, 100, "Error allowed in a step, relative to the default", 1.0)
    output_step_m: float = quantity("m", 0.001, 1, "Spacing of the profiles along the strand", 0.02)
