"""The tables of a case as given, and what can be wrong with them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from typing import Any

from solidify.case.paths import KeyPath
from solidify.errors import closest

__all__ = ["Issue", "RawCase", "Rule", "unknown_relations"]


@dataclass(frozen=True)
class Issue:
    """One thing wrong with a case: the key it concerns and what to say of it.

    Parameters
    ----------
    path : tuple
        Where.
    message : str
        Continues the name of the key, e.g. ``"= 28 is outside 0.05 to 12 m/min"``.
    allowed, closest, do : str
        As in `solidify.errors.Problem`.
    """

    path: KeyPath
    message: str
    allowed: str = ""
    closest: str = ""
    do: str = ""


class RawCase:
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

    def _read(self, path: KeyPath) -> Any:
        """Value at a path, None where there is none; every reading of one passes here."""
        return self._at(path)

    def _at(self, path: KeyPath) -> Any:
        value: Any = self.data
        for key in path:
            try:
                value = value[key]
            except (KeyError, IndexError, TypeError):
                return None
        return value

    def has(self, *path: str | int) -> bool:
        """Whether a key was given at all, be it with a wrong value."""
        return path in self.refused or self._read(path) is not None

    def get(self, *path: str | int, default: Any = None) -> Any:
        """Value of a key; `default` when it was not given, None when it or its table was refused."""
        if self.refused and any(path[: len(bad)] == bad or bad[: len(path)] == path for bad in self.refused):
            return None
        value = self._read(path)
        return default if value is None else value

    def table(self, *path: str | int) -> bool:
        """Whether a table stands and is one."""
        return isinstance(self._read(path), Mapping)

    def among(self, *path: str | int, keys: tuple[str, ...]) -> list[str]:
        """Those keys of a table that were given."""
        found = self._at(path)
        table = found if isinstance(found, Mapping) else {}
        return [key for key in keys if key in table or (*path, key) in self.refused]

    @property
    def zones(self) -> list[KeyPath]:
        """Where the zones stand that are tables."""
        zones = self.data.get("zone")
        among = enumerate(zones) if isinstance(zones, tuple) else ()
        return [("zone", position) for position, zone in among if isinstance(zone, Mapping)]


Rule = Callable[..., Iterator[Issue]]
"""A rule that joins several keys: a case in, its flaws out; a rule of one table takes the path of the table too."""


def unknown_relations(
    case: RawCase, table: KeyPath, relations: Mapping[str, tuple[str, ...]]
) -> Iterator[Issue]:
    """Find the relations of a table that do not ship.

    Parameters
    ----------
    case : RawCase
        The tables.
    table : tuple
        Path of the one to look into.
    relations : mapping
        Keys that name a relation, and the names that ship.

    Yields
    ------
    Issue
        With the names that ship and the closest of them.
    """
    for key, names in relations.items():
        name = case.get(*table, key)
        if name is not None and name not in names:
            message = f'= "{name}" is not a known relation'
            yield Issue((*table, key), message, ", ".join(names), closest(name, names))
