"""What rules and questions read of a checked case; they are called by it and so cannot import it."""

from __future__ import annotations

from typing import Any, Protocol

from solidify.case.model import Casting, Cooling, Machine, Mould, Section, Zone

__all__ = ["CaseView"]


class CaseView(Protocol):
    """The part of `solidify.case.Case` that questions and width rules read, in its units."""

    @property
    def casting(self) -> Casting: ...

    @property
    def cooling(self) -> Cooling: ...

    @property
    def machine(self) -> Machine: ...

    @property
    def mould(self) -> Mould: ...

    @property
    def section(self) -> Section: ...

    @property
    def zone(self) -> tuple[Zone, ...]: ...

    @property
    def origin(self) -> Any: ...

    @property
    def speed(self) -> float: ...

    @property
    def thickness(self) -> float: ...

    @property
    def width(self) -> float: ...

    @property
    def section_area(self) -> float: ...

    @property
    def vertical_length(self) -> float: ...

    @property
    def working_length(self) -> float: ...

    @property
    def zone_bounds(self) -> tuple[tuple[float, float], ...]: ...
