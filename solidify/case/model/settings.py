# ruff: noqa: N815 (keys of the case file bear the symbols of units)
"""What counts as shell, how sure the inputs are, how finely the march works."""

from __future__ import annotations

from pydantic import Field

from solidify.case.model.fields import Table, quantity

__all__ = ["Shell", "Steps", "Uncertainty"]


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
        json_schema_extra={
            "unit": "1",
            "otherwise": "5.2 √(half thickness in mm), at least 30; times √(30 K/ΔT), at most 200, where the steel "
            "has less than 30 K (ΔT) from the liquidus to a solid fraction of 0.7",
        },
    )
    tolerance: float = quantity("1", 0.01, 100, "Error allowed in a step, relative to the default", 1.0)
    output_step_m: float = quantity("m", 0.001, 1, "Spacing of the profiles along the strand", 0.02)
