"""The tables of a case as given, and what can be wrong with them."""

from __future__ import annotations

import sys
from collections.abc import Callable, Collection, Iterator, Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from typing import Any

from solidify.case.lines import KeyPath

__all__ = ["Flaw", "Given", "Rule", "is_number", "plain", "reads", "touched"]


@dataclass(frozen=True)
class Flaw:
    """One thing wrong with a case: the key it concerns and what to say of it.

    Parameters
    ----------
    path : tuple
        Where.
    said : str
        Continues the name of the key, e.g. ``"= 28 is outside 0.05 to 12 m/min"``.
    allowed, closest, do : str
        As in `solidify.errors.Problem`.
    """

    path: KeyPath
    said: str
    allowed: str = ""
    closest: str = ""
    do: str = ""


class Given:
    """The tables of a case as given.

    Parameters
    ----------
    data : mapping
        As read from TOML.
    refused : set of tuple
        Paths at, above or below which a value is wrong; a key misspelt into an unknown one is among them.
    """

    def __init__(self, data: Mapping[str, Any], refused: AbstractSet[KeyPath] = frozenset()) -> None:
        self.data = data
        self.refused = refused

    def _find(self, path: KeyPath) -> Any:
        return self._below(path)

    def _below(self, path: KeyPath) -> Any:
        value: Any = self.data
        for key in path:
            try:
                value = value[key]
            except (KeyError, IndexError, TypeError):
                return None
        return value

    def has(self, *path: str | int) -> bool:
        """Whether a key was given at all, be it with a wrong value."""
        return path in self.refused or self._find(path) is not None

    def get(self, *path: str | int, default: Any = None) -> Any:
        """Value of a key; `default` when it was not given, None when it or its table was refused."""
        if self.refused and any(path[: len(bad)] == bad or bad[: len(path)] == path for bad in self.refused):
            return None
        value = self._find(path)
        return default if value is None else value

    def table(self, name: str) -> bool:
        """Whether a table stands and is one."""
        return isinstance(self._find((name,)), Mapping)

    def among(self, *path: str | int, keys: tuple[str, ...]) -> list[str]:
        """Those keys of a table that were given."""
        found = self._below(path)
        table = found if isinstance(found, Mapping) else {}
        return [key for key in keys if key in table or (*path, key) in self.refused]

    @property
    def zones(self) -> list[int]:
        """Positions of the zones that are tables."""
        zones = self.data.get("zone")
        return [
            i for i, zone in enumerate(zones if isinstance(zones, tuple) else ()) if isinstance(zone, Mapping)
        ]


LARGEST = sys.float_info.max
"""No number is larger; whole numbers of TOML may have any number of digits."""

Rule = Callable[[Given], Iterator[Flaw]]
"""A rule that joins several keys: a case in, its flaws out."""


class _Watched(Given):
    """Tables that note which keys are read."""

    def __init__(self, data: Mapping[str, Any]) -> None:
        super().__init__(data)
        self.read: set[KeyPath] = set()

    def _find(self, path: KeyPath) -> Any:
        self.read.add(path)
        return super()._find(path)

    def among(self, *path: str | int, keys: tuple[str, ...]) -> list[str]:
        self.read.update((*path, key) for key in keys)
        return super().among(*path, keys=keys)

    @property
    def zones(self) -> list[int]:
        self.read.add(("zone", "how many"))
        return super().zones


def reads(rule: Rule, data: Mapping[str, Any]) -> frozenset[tuple[Any, ...]]:
    """Return what a rule reads of a case that it finds nothing wrong with: its keys, and the tables they stand in.

    Parameters
    ----------
    rule : callable
        One of `solidify.case.rules.RULES`.
    data : mapping
        As for `Given`.

    Returns
    -------
    frozenset of tuple
        Key paths, and the paths of the tables above them with a last None.
    """
    given = _Watched(data)
    list(rule(given))
    return frozenset(given.read | {(*path[:i], None) for path in given.read for i in range(1, len(path))})


def touched(paths: Collection[KeyPath]) -> set[tuple[Any, ...]]:
    """Return what a rule would read, as `reads` tells it, that is to see a change of some keys or tables."""
    return {path[:i] for path in paths for i in range(1, len(path) + 1)} | {(*path, None) for path in paths}


def is_number(value: Any) -> bool:
    """Whether a value is a finite number and not true or false."""
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) <= LARGEST


def plain(value: float) -> str:
    """Return a number as a person would write it."""
    return f"{value:.10g}"
