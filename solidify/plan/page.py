"""One reading of a plan or cut file: tables, numbers in ranges, words, with the line of each mistake."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from typing import Any

from solidify.case.values import is_number, shown
from solidify.errors import closest
from solidify.study.reading import Reading

__all__ = ["Page"]

Path = tuple[str | int, ...]


class Page(Reading):
    """A reading with the rules that plans and cut files have.

    Parameters
    ----------
    name : str
        Of the file.
    lines : mapping, optional
        Line of each key path.
    """

    def __init__(self, name: str, lines: Mapping[Any, int] | None = None) -> None:
        super().__init__(name, lines)

    def bad(
        self, path: Path, given: str, allowed: str = "", near: str = "", do: str = "", *, said: str = ""
    ) -> None:
        """Note a mistake at a key path, with the line of the nearest key that has one."""
        at = path
        while at and at not in self.lines:
            at = at[:-1]
        self.wrong(said or place(path), given, allowed, near, do, at=at)  # type: ignore[arg-type]

    def known(self, table: Mapping[str, Any], keys: Collection[str], path: Path) -> None:
        """Refuse keys that a table does not have."""
        for key, near in self.unknown(table, keys):
            self.bad(
                (*path, key),
                "is not a known key",
                "" if near else ", ".join(keys),
                near,
                "correct or drop it",
            )

    def table(self, data: Mapping[str, Any], key: str, path: Path = ()) -> dict[str, Any]:
        """Return a table; an empty one where it is missing or is something else."""
        value = data.get(key, {})
        if isinstance(value, Mapping):
            return dict(value)
        self.bad((*path, key), f"= {shown(value)} is no table", do="write it as a table of keys")
        return {}

    def tables(self, data: Mapping[str, Any], key: str) -> list[dict[str, Any]]:
        """Return a list of tables; empty where it is missing or is something else."""
        value = data.get(key, [])
        if isinstance(value, list | tuple) and all(isinstance(row, Mapping) for row in value):
            return [dict(row) for row in value]
        do = f"write [[{key}]], in two brackets, once for each"
        self.bad((key,), "is no list of tables", do=do)
        return []

    def value(self, value: Any, path: Path, low: float, high: float, unit: str) -> float:
        """Return a number inside a range; NaN and a problem for anything else."""
        if is_number(value) and low <= value <= high:
            return float(value)
        allowed = f"a number from {low:g} to {high:g} {unit}".strip()
        self.bad(path, f"= {shown(value)}", allowed, do="correct it")
        return math.nan

    def number(
        self,
        table: Mapping[str, Any],
        key: str,
        path: Path,
        low: float,
        high: float,
        unit: str,
        usual: float = math.nan,
    ) -> float:
        """Return the number of a key, or what is usual where it is missing."""
        return self.value(table[key], (*path, key), low, high, unit) if key in table else usual

    def wanted(
        self, table: Mapping[str, Any], key: str, path: Path, low: float, high: float, unit: str, example: str
    ) -> float:
        """Return the number of a key that must stand."""
        if key not in table:
            self.bad(
                (*path, key),
                "is missing",
                f"a number from {low:g} to {high:g} {unit}".strip(),
                do=f"add {example}",
            )
            return math.nan
        return self.value(table[key], (*path, key), low, high, unit)

    def flag(self, table: Mapping[str, Any], key: str, path: Path) -> bool:
        """Return true or false; false where it is missing."""
        value = table.get(key, False)
        if not isinstance(value, bool):
            self.bad((*path, key), f"= {shown(value)}", "true or false", do="correct it")
        return value is True

    def word(self, table: Mapping[str, Any], key: str, path: Path, allowed: Collection[str]) -> str:
        """Return one of several words; empty and a problem for anything else."""
        value = table.get(key)
        if isinstance(value, str) and value in allowed:
            return value
        given = "is missing" if value is None else f"= {shown(value)}"
        near = closest(value, allowed) if isinstance(value, str) else ""
        self.bad(
            (*path, key), given, ", ".join(allowed), near, "correct it" if value is not None else "add it"
        )
        return ""


def place(path: Path) -> str:
    """Return a key path as a file writes it, e.g. ``[[strand]] 2 nozzle.kind``."""
    if not path:
        return ""
    if len(path) == 1:
        return str(path[0])
    head, rest = path[0], path[1:]
    if isinstance(rest[0], int):
        return " ".join([f"[[{head}]] {rest[0] + 1}", ".".join(map(str, rest[1:]))]).strip()
    return f"[{head}] {'.'.join(map(str, rest))}"
