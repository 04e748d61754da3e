# ruff: noqa: N815 (keys of the case file bear the symbols of units)
"""What counts as shell, how sure the inputs are, how finely the march works."""

from __future__ import annotations

from typing import Any

from pydantic import Field

from solidify.case.model.fields import Table, quantity
from solidify.sources import load_data

__all__ = ["Shell", "Steps", "Uncertainty"]


class Shell(Table):
    """What counts as shell."""

    solid_fraction: float = quantity(
        "1", 0.01, 1, "Headline definition of the shell; 0.3, 0.7 and 1.0 are always reported", 0.7
    )


_SURE = {row["key"]: row for row in load_data("uncertainty.toml")["input"].values()}
"""What is known of each input, by its key."""


def _error(key: str, high: float, meaning: str, low: float = 0.0) -> Any:
    """Describe the standard deviation of an input; one that depends on the case is put in later."""
    row = _SURE[key]
    unit = {"x": "1"}.get(row["unit"], row["unit"])
    if "without" not in row:
        return quantity(unit, low, high, meaning, row["value"])
    return quantity(unit, low, high, meaning, None, f"{row['value']:g}, or {row['without']:g}")


class Uncertainty(Table):
    """How sure the inputs are, one standard deviation each, and what the section treatment may be off by.

    docs/uncertainty.md says what each stands for, how well it is known and what is made of it. 0 counts an input as
    exactly known (1 for liquid_conductivity_times).
    """

    superheat_K: float = _error("superheat_K", 50, "Of the tundish thermometer")
    liquidus_K: float = _error("liquidus_K", 50, "Of the liquidus, the tundish being as hot as it is")
    heat_flux_percent: float | None = _error(
        "heat_flux_percent", 50, "Of the mould heat flux; the larger one where the handbook gives it"
    )
    spray_percent: float | None = _error(
        "spray_percent",
        100,
        "Of the spray heat transfer; the larger one unless every wet zone has a spray_factor of its own or no "
        "spray relation",
    )
    speed_percent: float = _error("speed_percent", 20, "Of the casting speed")
    emissivity: float = _error("emissivity", 0.5, "Of the emissivity")
    view_factor: float = _error("view_factor", 0.5, "Of the view factor")
    conductivity_percent: float = _error("conductivity_percent", 50, "Of the conductivity of the solid")
    liquid_conductivity_times: float = _error(
        "liquid_conductivity_times", 10, "Of liquid_conductivity_factor: times and divided by", 1.0
    )
    roll_contact_percent: float = _error("roll_contact_percent", 100, "Of what the rolls take")
    section_length_percent: float | None = quantity(
        "%", 0, 100, "Section treatment: end of solidification", None, "as checked for the section"
    )
    section_shell_percent: float | None = quantity(
        "%",
        0,
        100,
        "Section treatment: shell of three quarters, of the half thickness; a thinner one in proportion",
        None,
        "as checked for the section",
    )
    section_surface_K: float | None = quantity(
        "K", 0, 500, "Section treatment: surface temperature", None, "as checked for the section"
    )


class Steps(Table):
    """How finely the march works and reports; the defaults suit every case."""

    nodes: int | None = Field(
        None,
        ge=20,
        le=400,
        description="Nodes from the surface to the centre",
        json_schema_extra={
            "unit": "1",
            "otherwise": "5.2 √(half thickness in mm), at least 30; times √(30 K/ΔT), at most 200, where the steel "
            "has less than 30 K (ΔT) from the liquidus to a solid fraction of 0.7",
        },
    )
    tolerance: float = quantity("1", 0.01, 100, "Error allowed in a step, relative to the default", 1.0)
    output_step_m: float = quantity("m", 0.001, 1, "Spacing of the profiles along the strand", 0.02)
