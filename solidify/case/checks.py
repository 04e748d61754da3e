"""Rules held to the tables of a case, each to what it reads, so that a change asks again only what it can break."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from functools import cached_property
from typing import Any, NamedTuple

from solidify.case.given import Issue, RawCase, Rule
from solidify.case.paths import KeyPath
from solidify.case.rules import RULES
from solidify.case.zone_rules import EACH_TABLE

__all__ = ["Check", "ValidTables", "checks_of"]

Reads = frozenset[tuple[Any, ...]]
"""Paths of keys, and those of the tables above them with a last None."""


class Check(NamedTuple):
    """One rule, held to the whole case or to one table of it.

    Parameters
    ----------
    rule : callable
        One of `solidify.case.rules.RULES`.
    table : tuple
        Path of the table; empty where the rule is of the whole case.
    """

    rule: Rule
    table: KeyPath = ()

    def issues(self, case: RawCase) -> Iterator[Issue]:
        """Find what is wrong."""
        return self.rule(case, self.table) if self.table else self.rule(case)


def checks_of(case: RawCase) -> list[Check]:
    """Return every check of a case.

    Parameters
    ----------
    case : RawCase
        Its tables; a rule of one table is held to each that it is for.

    Returns
    -------
    list of Check
        In the order of the rules.
    """
    return [
        Check(rule, table)
        for rule in RULES
        for table in (EACH_TABLE[rule](case) if rule in EACH_TABLE else [()])
    ]


class _Watched(RawCase):
    """Tables that note which keys are read."""

    def __init__(self, data: Mapping[str, Any]) -> None:
        super().__init__(data)
        self.read: set[KeyPath] = set()

    def _read(self, path: KeyPath) -> Any:
        self.read.add(path)
        return super()._read(path)

    def among(self, *path: str | int, keys: tuple[str, ...]) -> list[str]:
        self.read.update((*path, key) for key in keys)
        return super().among(*path, keys=keys)


def _reads(check: Check, data: Mapping[str, Any]) -> Reads:
    """Return what a check reads of tables that it finds right; which zones there are is not told."""
    given = _Watched(data)
    list(check.issues(given))
    return frozenset(given.read | {(*path[:i], None) for path in given.read for i in range(1, len(path))})


def _touched(paths: Collection[KeyPath]) -> set[tuple[Any, ...]]:
    """Return what a check would read, as `_reads` tells it, that is to see a change of some keys or tables."""
    return {path[:i] for path in paths for i in range(1, len(path) + 1)} | {(*path, None) for path in paths}


class ValidTables:
    """Tables that every check finds right, and what each check reads of them once that is asked for.

    Parameters
    ----------
    data : mapping
        The tables as given, lists as tuples.
    """

    def __init__(self, data: Mapping[str, Any]) -> None:
        self.data = data
        self._known: Mapping[Check, Reads] = {}
        self._stale: Sequence[Check] | None = None
        self._asked: dict[tuple[KeyPath, ...], list[Check]] = {}

    def __eq__(self, other: object) -> bool:
        return isinstance(other, ValidTables) and self.data == other.data

    __hash__ = None  # type: ignore[assignment]

    def __reduce__(self) -> tuple[Any, ...]:
        return ValidTables, (self.data,)

    def checks_on(self, paths: tuple[KeyPath, ...]) -> list[Check] | None:
        """Return the checks that a change of some keys can break.

        Parameters
        ----------
        paths : tuple of tuple
            Where values change, of keys or whole tables.

        Returns
        -------
        list of Check, or None
            None for every check, where the list of zones is another.
        """
        if ("zone",) in paths:
            return None
        if paths not in self._asked:
            touched = _touched(paths)
            self._asked[paths] = [c for c, read in self._reads.items() if not read.isdisjoint(touched)]
        return self._asked[paths]

    def changed(self, data: Mapping[str, Any], checks: Sequence[Check] | None) -> ValidTables:
        """Return other tables that are right too.

        Parameters
        ----------
        data : mapping
            The tables.
        checks : sequence of Check, optional
            From `checks_on`: what the change could break.

        Returns
        -------
        ValidTables
        """
        made = ValidTables(data)
        if checks is not None:
            made._known, made._stale = self._reads, checks
        return made

    @cached_property
    def _reads(self) -> Mapping[Check, Reads]:
        """What each check reads; of those that no change could break, as before it."""
        stale = checks_of(RawCase(self.data)) if self._stale is None else self._stale
        return {**self._known, **{check: _reads(check, self.data) for check in stale}}
