# ruff: noqa: N815 (keys of the case file bear the symbols of units)
"""A cooling zone: where it ends and how it is cooled, in one of several ways."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field

from solidify.case.model.cooling import (
    Ambient,
    ContactAngle,
    Convection,
    CornerSpray,
    DropVelocity,
    Emissivity,
    EmissivityRelation,
    Relation,
    RollContact,
    RollRadius,
    RollRelation,
    RollShare,
    SprayWater,
    ViewFactor,
    WettedShare,
)
from solidify.case.model.fields import LINE, Table, quantity, words

__all__ = [
    "COOLING_KINDS",
    "NOZZLE_SPRAY",
    "PRESCRIBED",
    "SIDES",
    "SIDES_AT_SPEED",
    "TOTALS",
    "WATER_TABLES",
    "WHOLE_FLUX",
    "Nozzles",
    "SideShares",
    "WaterTable",
    "Zone",
]

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
SprayWidth = Annotated[float, Field(ge=10, le=4000)]
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
    spray_widths_mm: tuple[SprayWidth, ...] | None = Field(
        None,
        description="Widths that the loops of the zone can spray, rising: centre alone, with its margin loops; for "
        'width_rule = "loops"',
        min_length=1,
        max_length=20,
        json_schema_extra={"unit": "mm"},
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
        "m",
        0.05,
        3,
        "Roll centre to roll centre, for bulging, roll contact by relation and the defaults of zones with rolls",
        None,
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
    corner_spray_factor: CornerSpray | None = None

    @property
    def kind(self) -> str:
        """Which key says how the zone is cooled, a key of `COOLING_KINDS`."""
        values = vars(self)
        return next(kind for kind, keys in COOLING_KINDS.items() for key in keys if values[key] is not None)

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
        return {key: table for key in WATER_TABLES if (table := getattr(self, key)) is not None}
