"""Values of a case file: as they are kept, and as a person would write them."""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping
from typing import Any

__all__ = ["frozen", "is_number", "plain", "shown"]

LARGEST = sys.float_info.max
"""No number is larger; whole numbers of TOML may have any number of digits."""


def frozen(value: Any) -> Any:
    """Return a value that nobody can change, and that a TOML file could hold.

    Parameters
    ----------
    value : object
        As read from TOML, or given from Python.

    Returns
    -------
    object
        With lists and arrays as tuples and numbers of numpy as plain ones, all the way down.
    """
    if isinstance(value, Mapping):
        return {key: frozen(below) for key, below in value.items()}
    if isinstance(value, list | tuple):
        return tuple(map(frozen, value))
    return frozen(value.tolist()) if hasattr(value, "tolist") else value


def is_number(value: Any) -> bool:
    """Whether a value is a finite number and not true or false."""
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) <= LARGEST


def plain(value: float) -> str:
    """Return a number as a person would write it, to ten digits.

    Examples
    --------
    >>> plain(250.0), plain(0.1 + 0.2)
    ('250', '0.3')
    """
    return f"{value:.10g}"


def shown(value: Any) -> str:
    """Return a value as a TOML file would write it, for a message.

    Parameters
    ----------
    value : object
        As read from TOML.

    Returns
    -------
    str
        Cut at 60 characters.

    Examples
    --------
    >>> shown((True, "oil", 2.5))
    '[true, "oil", 2.5]'
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        text = json.dumps(value, ensure_ascii=False)
    elif isinstance(value, Mapping):
        text = "{ " + ", ".join(f"{k} = {shown(v)}" for k, v in list(value.items())[:4]) + " }"
    elif isinstance(value, list | tuple):
        text = "[" + ", ".join(shown(v) for v in value[:8]) + "]"
    elif isinstance(value, int) and abs(value) >= 10**18:
        text = "a whole number of many digits"
    else:
        text = str(value)
    return text if len(text) <= 60 else text[:56] + " ..."
