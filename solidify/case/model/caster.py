# ruff: noqa: N815 (keys of the case file bear the symbols of units)
"""What is cast and on which machine: section, speed and temperature, and the machine along the strand."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from solidify.case.model.fields import Table, quantity, words

__all__ = ["Casting", "Machine", "Section"]

Distance = Annotated[float, Field(ge=0, le=200)]
Radius = Annotated[float, Field(gt=0, allow_inf_nan=True)]


class Section(Table):
    """The cast section, sizes hot at mould exit; thickness is loose to fixed side and never the larger."""

    shape: Literal["slab", "rectangle", "round"] = words(
        '"slab" is flat, cooled one way; "rectangle" is for blooms and billets; "round" has a diameter'
    )
    product: Literal["slab", "thin slab", "bloom", "billet", "round"] | None = words(
        "What it is sold as: decides which limits hold",
        None,
        "by shape and size: a rectangle above 220 mm (side of equal area) is a bloom, else a billet; a slab below "
        "100 mm is thin",
    )
    thickness_mm: float | None = quantity("mm", 20, 600, "Loose to fixed side; slab and rectangle", None)
    width_mm: float | None = quantity("mm", 20, 4000, "The other side; slab and rectangle", None)
    diameter_mm: float | None = quantity("mm", 20, 1200, "Of a round", None)
    width_rule: Literal["given", "scale", "margin", "loops"] | None = words(
        "What water, sprayed width and mould water do in studies of other sections: stay as given; or the water on a "
        "square metre stays, and the sprayed width keeps its share of the width or its dry margin, or goes by the "
        "loops of spray_widths_mm",
        None,
        "as given, with a notice",
    )
    corner_width_mm: float | None = quantity(
        "mm",
        1,
        200,
        "Of each face beside a corner over which the corner factors of mould and sprays act, in two dimensions alone",
        None,
        "25 mm (common practice, no source)",
    )


class Casting(Table):
    """Speed and temperature of the steel; exactly one of superheat and tundish temperature."""

    speed_m_per_min: float = quantity("m/min", 0.05, 12, "Casting speed")
    superheat_K: float | None = quantity("K", 0, 150, "Tundish temperature over the liquidus", None)
    tundish_temperature_C: float | None = quantity("°C", 950, 1850, "Temperature in the tundish", None)
    meniscus_drop_K: float = quantity("K", 0, 100, "Lost between tundish and meniscus", 0.0)


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
    roll_gap_tolerance_mm: float = quantity(
        "mm", 0, 10, "By how much one roll may be out of line, for the strain at the freezing front", 0.5
    )
    support_end_m: float = quantity("m", 0.1, 200, "Last supporting roll")
    cutoff_m: float = quantity("m", 0.2, 200, "Torch or shear; the march ends here")
