"""The case file: what it may hold, reading it with every problem at once, and cases made from other cases."""

from __future__ import annotations

from solidify.case.case import Case
from solidify.case.model import Cooling, Zone
from solidify.case.reading import demo_case, parse_case, read_case, starter_case
from solidify.case.schema import case_schema

__all__ = ["Case", "Cooling", "Zone", "case_schema", "demo_case", "parse_case", "read_case", "starter_case"]
