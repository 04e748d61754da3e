"""What a number outside its range was probably meant to be: the same number in another unit."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from solidify.case.paths import KeyPath
from solidify.case.schema import Schema
from solidify.case.values import is_number, plain

__all__ = ["guessed_unit"]

Turn = Callable[[float], float]


def _times(factor: float) -> Turn:
    return lambda value: value * factor


_OTHER_UNITS: dict[str, tuple[tuple[str, Turn], ...]] = {
    "m/min": (("mm/min", _times(1e-3)), ("m/s", _times(60.0))),
    "mm": (("m", _times(1e3)), ("µm", _times(1e-3))),
    "m": (("mm", _times(1e-3)),),
    "°C": (("°F", lambda value: (value - 32.0) / 1.8), ("K", lambda value: value - 273.15)),
    "MW/m²": (("kW/m²", _times(1e-3)), ("W/m²", _times(1e-6))),
    "kW/m²": (("W/m²", _times(1e-3)), ("MW/m²", _times(1e3))),
    "kJ/kg": (("J/kg", _times(1e-3)),),
    "kg/m³": (("g/cm³", _times(1e3)),),
    "bar": (("kPa", _times(0.01)), ("psi", _times(0.0689476))),
    "L/min": (("m³/h", _times(1e3 / 60.0)),),
    "%": (("hundredths of a percent", _times(0.01)), ("ppm", _times(1e-4))),
    "1": (("%", _times(0.01)),),
}
"""Unit of a key -> units that people type instead, and how to come back to it."""

_USUAL = {
    "speed_m_per_min": (0.15, 8.0),
    "water_inlet_C": (5.0, 50.0),
    "water_temperature_C": (5.0, 50.0),
    "pressure_bar": (0.5, 15.0),
    "reference_bar": (0.5, 15.0),
    "C": (0.01, 1.2),
}
"""Key -> what it may be after the turn, where that is less than the whole range; common practice, no source."""

_PRACTICE = ("%", "1")
"""Units of which the first guess alone counts: others would fit by chance."""


def guessed_unit(path: KeyPath, value: Any, at: Schema) -> str:
    """Ask whether a number outside its range was typed in another unit.

    Parameters
    ----------
    path : tuple
        Where it stands.
    value : object
        What was given.
    at : mapping
        JSON Schema of the key.

    Returns
    -------
    str
        E.g. ``"mm/min? 1200 mm/min is 1.2 m/min"``; empty without a guess.
    """
    unit = str(at.get("unit", ""))
    if not is_number(value) or unit not in _OTHER_UNITS:
        return ""
    low, high = _USUAL.get(str(path[-1]), (at.get("minimum", 0.0), at.get("maximum", float("inf"))))
    fitting = [(name, turn(float(value))) for name, turn in _OTHER_UNITS[unit]]
    fitting = [(name, found) for name, found in fitting if max(low, 1e-12) <= found <= high]
    shown = "" if unit == "1" else f" {unit}"
    texts = [f"{name}? {plain(value)} {name} is {found:.4g}{shown}" for name, found in fitting]
    return "; ".join(texts[:1] if unit in _PRACTICE else texts)
