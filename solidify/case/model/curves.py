"""Curves over temperature in the case file: what is accepted, and how the JSON Schema says so."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

from pydantic import WithJsonSchema
from pydantic_core import PydanticCustomError

from solidify.case.values import is_number

__all__ = ["points", "points_schema", "rows", "rows_schema"]


def points(low: float, high: float) -> Any:
    """Return a validator of a number, or of pairs of temperature and value.

    Parameters
    ----------
    low, high : float
        Accepted range of the values, ends included, in the unit of the key.

    Returns
    -------
    callable
        Takes what was given, lists as tuples; returns a float, or a tuple of (temperature [degC], value) of floats.
        Raises a `PydanticCustomError` for anything else, and where temperatures leave -50 to 2500 degC or do not
        rise.
    """

    def check(given: Any) -> float | tuple[tuple[float, float], ...]:
        if is_number(given):
            _inside(given, low, high)
            return float(given)
        if not isinstance(given, tuple) or len(given) < 2:
            raise PydanticCustomError(
                "points", "is neither a number nor a list of two or more [T_C, value] pairs"
            )
        for row in given:
            if not isinstance(row, tuple) or len(row) != 2 or not all(map(is_number, row)):
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


def _inside(given: float, low: float, high: float) -> None:
    if not low <= given <= high:
        raise PydanticCustomError("outside", "is outside", {"value": given})


def rows_schema(low: float, high: float) -> WithJsonSchema:
    """Return what the JSON Schema says of `rows` of percentages; arguments as there."""
    number = {"type": "number"}
    columns = [
        number | {"minimum": -50, "maximum": 2500, "unit": "°C"},
        number | {"minimum": low, "maximum": high, "unit": "%"},
    ]
    pair = {"type": "array", "minItems": 2, "maxItems": 2, "prefixItems": columns}
    return WithJsonSchema({"type": "array", "items": pair, "minItems": 2})


def points_schema(low: float, high: float) -> WithJsonSchema:
    """Return what the JSON Schema says of `points`; arguments as there."""
    pair = {"type": "array", "minItems": 2, "maxItems": 2, "items": {"type": "number"}}
    return WithJsonSchema(
        {"type": ["number", "array"], "minimum": low, "maximum": high, "items": pair, "minItems": 2}
    )
