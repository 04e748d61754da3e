"""What [limits] may hold: the limits that ship, the criteria of the ductility trough, and the rules of both."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any

from solidify.case.given import Issue, RawCase
from solidify.case.paths import KeyPath
from solidify.case.values import is_number, plain, shown
from solidify.errors import closest
from solidify.sources import load_data

__all__ = [
    "TROUGH",
    "ductility_criteria",
    "ductility_is_told_once",
    "limits_are_known",
    "printed_unit",
    "shipped_limits",
]

TROUGH = (300.0, 1300.0)
"""What an edge of one's own ductility trough may be [degC]."""

DUCTILITY_KEYS = ("ductility_criterion", "ductility_trough")
"""Keys of [limits] that are no limit: which ductility trough the surface at the straightener is held against."""


@cache
def shipped_limits() -> Mapping[str, Mapping[str, Any]]:
    """Return the limits that ship, by name: label, unit, sense, bounds."""
    return load_data("limits", "default.toml")["limit"]


@cache
def ductility_criteria() -> Mapping[str, Mapping[str, Any]]:
    """Return the criteria of the ductility trough that ship, the default first."""
    data = load_data("limits", "ductility.toml")
    return {data["default"]: data["criterion"][data["default"]]} | data["criterion"]


def printed_unit(unit: str) -> str:
    """Return a unit of the limits as the case file prints it."""
    return "°C" if unit == "degC" else unit


def limits_are_known(case: RawCase) -> Iterator[Issue]:
    """[limits] names limits that ship: a number for "at least" and "at most", [low, high] for "within"."""
    limits = shipped_limits()
    for name, value in (case.get("limits") or {}).items():
        path = ("limits", name)
        if name in limits:
            pair = limits[name]["sense"] == "within"
            yield from _unfit(path, value, pair, limits[name]["bounds"], printed_unit(limits[name]["unit"]))
        elif name not in DUCTILITY_KEYS:
            known = (*sorted(limits), *DUCTILITY_KEYS)
            yield Issue(path, "is not a limit", ", ".join(known), closest(name, known))


def _unfit(path: KeyPath, value: Any, pair: bool, bounds: tuple[float, float], unit: str) -> Iterator[Issue]:
    """Say what is wrong with a number, or a pair that is to rise."""
    low, high = bounds
    allowed = f"{low:g} to {high:g}" + (f" {unit}" if unit != "1" else "")
    numbers = value if isinstance(value, tuple) else (value,)
    if isinstance(value, tuple) != pair or len(numbers) != 1 + pair or not all(map(is_number, numbers)):
        yield Issue(path, f"needs {'[low, high]' if pair else 'a number'}", allowed)
        return
    given = ", ".join(map(plain, numbers))
    given = f"[{given}]" if pair else given
    if not all(low <= number <= high for number in numbers):
        yield Issue(path, f"= {given} is outside {allowed}")
    elif pair and numbers[0] >= numbers[1]:
        yield Issue(path, f"= {given} does not rise", "[low, high]")


def ductility_is_told_once(case: RawCase) -> Iterator[Issue]:
    """The ductility_criterion is one that ships, or ductility_trough stands alone: [low, high] of one's own.

    Neither a criterion nor straightener_surface stands beside ductility_trough.
    """
    overrides = case.get("limits") or {}
    criterion, trough = map(overrides.get, DUCTILITY_KEYS)
    path = ("limits", DUCTILITY_KEYS[0])
    known = tuple(ductility_criteria())
    if criterion is not None and not isinstance(criterion, str):
        yield Issue(path, f"= {shown(criterion)} is not text", ", ".join(known))
    elif criterion is not None and criterion not in known:
        yield Issue(path, f'= "{criterion}" is no criterion', ", ".join(known), closest(criterion, known))
    if trough is None:
        return
    path = ("limits", DUCTILITY_KEYS[1])
    yield from _unfit(path, trough, True, TROUGH, "°C")
    for other in (DUCTILITY_KEYS[0], "straightener_surface"):
        if other in overrides:
            yield Issue(path, f"stands beside {other}", do="give one of the two")
