# ruff: noqa: N815 (keys of the case file bear the symbols of units)
"""The mould of a case, and what is known of its heat."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from solidify.case.model.fields import Table, quantity, words

__all__ = ["FaceFlow", "FaceRise", "HeatFluxLaw", "Mould"]

Speed = Annotated[float, Field(ge=0.05, le=12)]
MeanFlux = Annotated[float, Field(ge=0.1, le=10)]


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
    """The mould and what is known of its heat: a mean, means over the speed, water flow and rise, a law, or nothing.

    From all but a law one law over the age of the steel is found (docs/mould.md). It stays the same at other speeds.
    With nothing given a handbook relation acts and every output says "flux not measured". Water flow beside a mean
    flux or a law tells the rise that the flux implies.
    """

    length_mm: float = quantity("mm", 200, 3000, "Length of the copper, top to bottom")
    level_below_top_mm: float = quantity("mm", 0, 500, "Steel level below the top of the copper")
    lubricant: Literal["powder", "oil"] = words("Mould powder, or oil with an open stream")
    mean_heat_flux_MW_per_m2: float | None = quantity(
        "MW/m²", 0.1, 10, "Mean heat flux from the meniscus to mould exit, as measured", None
    )
    mean_heat_flux_at_speed: tuple[tuple[Speed, MeanFlux], ...] | None = Field(
        None,
        description="Mean heat flux as measured at several speeds, [[m/min, MW/m²], ...]",
        min_length=2,
        json_schema_extra={"unit": "m/min, MW/m²"},
    )
    water_flow_L_per_min: float | None = quantity("L/min", 1, 50000, "Mould water", None)
    water_rise_K: float | None = quantity("K", 0.1, 50, "Rise of the mould water, with its flow", None)
    face_water_flow_L_per_min: FaceFlow | None = Field(
        None, description="Mould water face by face, in place of one flow"
    )
    face_water_rise_K: FaceRise | None = Field(None, description="Rise face by face, in place of one rise")
    water_faces: Literal["all", "one wide"] | None = words("Faces that this water cools", None, "all")
    heat_flux_law: HeatFluxLaw | None = Field(None, description="A law in time, used as given and clipped")
    handbook_relation: str | None = words(
        "Relation of the mean flux by name, where it is not measured",
        None,
        otherwise="cicutti_2002 for a slab with powder, else wolf_powder or wolf_oil",
    )
    powder_viscosity_Pa_s: float | None = quantity(
        "Pa s", 0.005, 5, "Of the molten powder at 1300 °C, for the relation cicutti_2002", None, "0.1"
    )
    powder_melting_temperature_C: float | None = quantity(
        "°C", 800, 1350, "Of the powder, for the relation cicutti_2002", None, "1120"
    )
    profile: Literal["decay", "root"] = words(
        "Form of the law: a power of the age, or the older root of it for comparison", "decay"
    )
    decay_exponent: float | None = quantity(
        "1",
        0.05,
        0.95,
        "Power of the age with which the flux decays",
        None,
        "0.5, or that of the handbook relation; fitted to means over the speed",
    )
    peak_heat_flux_MW_per_m2: float | None = quantity(
        "MW/m²",
        0.2,
        20,
        "Local flux that is not exceeded below the meniscus",
        None,
        "2.6 with powder, 4 with oil or on a thin slab",
    )
    peritectic_early_share: float | None = quantity(
        "1",
        0,
        1,
        "Share of the peritectic dip that is taken from about the first 10 s, the rest evenly",
        None,
        "1",
    )
    measured_at_speed_m_per_min: float | None = quantity(
        "m/min", 0.05, 12, "Speed at which the flux was measured", None, "the speed in the file"
    )
    measured_at_carbon_equivalent_percent: float | None = quantity(
        "%",
        -2,
        6,
        "Equivalent carbon of the steel on which the flux was measured",
        None,
        "that of the composition in the file",
    )
    expected_mean_heat_flux_MW_per_m2: float | None = quantity(
        "MW/m²",
        0.1,
        10,
        "Mean heat flux that this plant calls normal at that speed; nothing is judged without it",
        None,
    )
    heat_flux_factor: float = quantity("1", 0.1, 3, "Multiplies the flux along the whole mould", 1.0)
    corner_heat_flux_factor: float | None = quantity(
        "1",
        0,
        2,
        "Multiplies the flux beside the corners, where the shell shrinks from the copper; in two dimensions alone",
        None,
        "1",
    )
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
        "12 mm round a tube, for its slot alone; no estimate",
    )
    oscillation_cycles_per_min: float | None = quantity(
        "cycles/min", 5, 600, "Of the mould, a sinusoid; with its stroke", None
    )
    oscillation_stroke_mm: float | None = quantity(
        "mm", 0.5, 30, "Full stroke, twice the amplitude; with the cycles", None
    )
    taper_percent_per_m: float | None = quantity(
        "%/m",
        0,
        5,
        "The one straight taper of the mould, of the width, both sides together, to compare",
        None,
    )
