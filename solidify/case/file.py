"""The case file as a whole: its tables, as given."""

from __future__ import annotations

from typing import Any

from pydantic import Field

from solidify.case.model import (
    LINE,
    Casting,
    Cooling,
    Machine,
    Mould,
    Section,
    Shell,
    SteelInput,
    Steps,
    Table,
    Uncertainty,
    Zone,
    words,
)

__all__ = ["CaseFile"]


class CaseFile(Table):
    """A caster, a steel and a practice."""

    title: str = words("One line that every output carries", max_length=200, pattern=LINE)
    steel: SteelInput
    section: Section
    casting: Casting
    mould: Mould
    cooling: Cooling = Cooling()
    zone: tuple[Zone, ...] = Field(
        min_length=1, max_length=200, description="The cooling zones in casting order"
    )
    machine: Machine
    shell: Shell = Shell()
    uncertainty: Uncertainty = Uncertainty()
    limits: dict[str, Any] = Field({}, description="Overrides of the shipped limits, by name")
    steps: Steps = Steps()
