"""What a table of the case file is, and the numbers and words that stand in it."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ConfigDict, Field

from solidify.errors import CONTROL

__all__ = ["LINE", "Table", "measure", "quantity", "words"]


class Table(BaseModel):
    """A table of the case file: nothing unknown, nothing converted, nothing changed afterwards."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)


def quantity(
    unit: str, low: float, high: float, meaning: str, default: Any = ..., otherwise: str = ""
) -> Any:
    """Describe a number of the case file.

    Parameters
    ----------
    unit : str
        Plant unit, ``"1"`` for none.
    low, high : float
        Accepted range, ends included [unit].
    meaning : str
        For the reference.
    default : float, optional
        Without one the key is required; None where it may be absent.
    otherwise : str
        What happens then, where it is not plain absence.

    Returns
    -------
    Field
    """
    extra: dict[str, Any] = {"unit": unit} | ({"otherwise": otherwise} if otherwise else {})
    return Field(default, ge=low, le=high, description=meaning, json_schema_extra=extra)


def measure(unit: str, low: float, high: float, meaning: str) -> Any:
    """Describe a number that stands in several places, without a default; as `quantity`."""
    return Field(ge=low, le=high, description=meaning, json_schema_extra={"unit": unit})


LINE = rf"^[^\s{CONTROL}]([^\t\n{CONTROL}]*[^\s{CONTROL}])?$"
"""One line of text without spaces at its ends; no letter in it steers a terminal or the order of reading."""


def words(meaning: str, default: Any = ..., otherwise: str = "", **limits: Any) -> Any:
    """Describe a text or a choice of the case file.

    Parameters
    ----------
    meaning, default, otherwise
        As for `quantity`.
    **limits
        Of the text: ``min_length``, ``max_length``, ``pattern``.

    Returns
    -------
    Field
    """
    extra: dict[str, Any] = {"otherwise": otherwise} if otherwise else {}
    return Field(default, description=meaning, json_schema_extra=extra, **limits)
