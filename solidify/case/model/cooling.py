# ruff: noqa: N815 (keys of the case file bear the symbols of units)
"""Cooling below the mould that all zones have in common, and the keys that a zone may have for itself."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from solidify.case.model.fields import Table, measure
from solidify.heat.spray import DEFAULT_RELATION, relation_names
from solidify.heat.surface import EMISSIVITIES, ROLL_CONTACTS

__all__ = ["EMISSIVITY", "RELATIONS", "ROLL_CONTACT", "Cooling"]

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

CornerSpray = Annotated[
    float,
    measure("1", 0, 5, "Multiplies the water's coefficient beside the corners; in two dimensions alone"),
]


RELATIONS = {
    "spray_relation": relation_names(),
    "emissivity_relation": tuple(EMISSIVITIES),
    "roll_contact_relation": tuple(ROLL_CONTACTS),
}
"""Keys that name a published relation, and the names that ship."""


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
    roll_contact_W_per_m2K: RollContact | None = Field(
        None,
        json_schema_extra={"otherwise": "0; in zones of a slab with a roll pitch `roll_contact_share` = 0.1"},
    )
    roll_contact_share: RollShare | None = None
    roll_contact_relation: RollRelation | None = None
    roll_radius_mm: RollRadius | None = None
    roll_contact_angle_deg: ContactAngle | None = None
    wetted_share: WettedShare | None = None
    drop_velocity_m_per_s: DropVelocity | None = Field(
        None, json_schema_extra={"otherwise": "as the relation"}
    )
    view_factor: ViewFactor | None = Field(
        None,
        json_schema_extra={"otherwise": "0.8 in zones with a roll pitch, 1 in the others and in open air"},
    )
    corner_spray_factor: CornerSpray | None = Field(None, json_schema_extra={"otherwise": "1"})
