"""One reading of a TOML file that has rules: it goes on after a mistake, so that all of them are told at once."""

from __future__ import annotations

import tomllib
from collections.abc import Collection, Iterator, Mapping
from typing import Any

from solidify.errors import InputError, Problem, closest

__all__ = ["Reading", "toml_tables"]


def toml_tables(text: str, name: str, do: str) -> dict[str, Any]:
    """Return the tables of a TOML text.

    Parameters
    ----------
    text : str
        TOML.
    name : str
        Of the file, for messages.
    do : str
        What to do where it is none.

    Returns
    -------
    dict

    Raises
    ------
    InputError
        If it is no TOML.
    """
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise InputError(Problem(f"{name}:", f"not TOML: {error}", do=do)) from None


class Reading:
    """What is wrong with a file, as far as it has been read.

    Parameters
    ----------
    name : str
        Of the file.
    lines : mapping of tuple of str to int, optional
        Line of each key, as far as they are known.
    """

    def __init__(self, name: str, lines: Mapping[tuple[str, ...], int] | None = None) -> None:
        self.name, self.lines = name, lines or {}
        self.problems: list[Problem] = []

    def wrong(
        self,
        where: str,
        given: str = "",
        allowed: str = "",
        near: str = "",
        do: str = "",
        at: tuple[str, ...] = (),
    ) -> None:
        """Note a mistake.

        Parameters
        ----------
        where, given, allowed, near, do : str
            As in `solidify.errors.Problem`, without the name of the file.
        at : tuple of str
            The key, whose line is told if it is known.
        """
        line = self.lines.get(at, "")
        place = f"{self.name}:{line}: " if line else f"{self.name}: "
        self.problems.append(Problem(place + where, given, allowed, near, do))

    def unknown(self, table: Mapping[str, Any], known: Collection[str]) -> Iterator[tuple[str, str]]:
        """Give the keys of a table that it may not have, each with the closest that it may."""
        for key in table:
            if key not in known:
                yield key, closest(key, known)

    def end(self) -> None:
        """Refuse the file if anything is wrong.

        Raises
        ------
        InputError
            With every problem.
        """
        if self.problems:
            raise InputError(self.problems)
