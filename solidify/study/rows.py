"""The table of a study that gives every run: key paths, and a value of each for every run."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from solidify.case import Case
from solidify.case.guesses import guessed_unit
from solidify.case.synonyms import canonical_name
from solidify.case.values import shown
from solidify.csv_table import csv_table
from solidify.errors import InputError, Problem, closest
from solidify.files import read_words
from solidify.study.vary import refusal

__all__ = ["Rows", "read_rows", "rows_of"]


@dataclass(frozen=True)
class Rows:
    """What each run sets.

    Parameters
    ----------
    name : str
        Of the table, for messages.
    inputs : tuple of str
        Key paths.
    rows : list of (int, tuple)
        Where a row stands in the table, and its values; None leaves the case as it is.
    """

    name: str
    inputs: tuple[str, ...]
    rows: list[tuple[int, tuple[Any, ...]]]

    def problems(self, case: Case) -> list[Problem]:
        """Hold every cell to the range of its key in the base case.

        Parameters
        ----------
        case : Case
            The base case.

        Returns
        -------
        list of Problem
        """
        found: list[Problem] = []
        known = set(case.key_paths())
        for i, name in enumerate(self.inputs):
            if name not in known:
                near = closest(name, known)
                where = f"{self.name} {name or f'column {i + 1}'}"
                found.append(Problem(where, "is not a key of the case", closest=near))
            elif name in self.inputs[:i]:
                found.append(Problem(f"{self.name} {name}", "stands twice"))
        if not self.rows:
            found.append(Problem(self.name, "no runs", do="give one row or more"))
        for i, row in self.rows:
            for name, value in zip(self.inputs, row, strict=True):
                if name in known and value is not None and (said := refusal(case, name, value)):
                    where = f"{self.name}{i}: {name} = {shown(value)}{said[0]}"
                    asked = guessed_unit(tuple(name.split(".")), value, case.about(name))
                    found.append(Problem(where, allowed=said[1], closest=said[2], do=asked))
        return found


def rows_of(rows: Sequence[Mapping[str, Any]]) -> Rows:
    """Lay out rows given as values.

    Parameters
    ----------
    rows : sequence of mapping
        Key path to value, one mapping a run.

    Returns
    -------
    Rows
    """
    inputs = tuple(dict.fromkeys(name for row in rows for name in row))
    return Rows("rows", inputs, [(i, tuple(map(row.get, inputs))) for i, row in enumerate(rows, 1)])


def read_rows(path: Path, problems: list[Problem], known: Iterable[str] = ()) -> Rows | None:
    """Read a CSV file: key paths in its first line, a run in each other; an empty cell leaves the case as it is.

    Parameters
    ----------
    path : Path
        CSV in UTF-8, as `solidify.csv_table` reads it.
    problems : list of Problem
        Is told what is wrong.
    known : iterable of str
        Key paths of the case, where it is known.

    Returns
    -------
    Rows or None
        Those of the right length; None where it holds none at all.
    """
    empty = Problem(f"{path}:", "no runs", do="the first line holds key paths, each other line a run")
    try:
        table = csv_table(read_words(path, "table"), str(path), known, empty)
    except InputError as error:
        problems += error.problems
        return None
    if not table.rows:
        problems.append(empty)
        return None
    names = tuple(map(canonical_name, table.header))
    do = "write decimals with a point, or part the cells by semicolons"
    for i, cells in table.rows:
        if len(cells) != len(names):
            given = f"{len(cells)} cells under {len(names)} key paths"
            problems.append(Problem(f"{path}:{i}:", given, do=do if table.separator == "," else ""))
    if table.mixed:
        given = "decimals with a point in some cells, with a comma in others"
        problems.append(Problem(f"{path}:", given, do="write all of them alike"))
    whole = [(i, tuple(map(_cell, cells))) for i, cells in table.rows if len(cells) == len(names)]
    return Rows(f"{path}:", names, whole)


def _cell(text: str) -> Any:
    """Read a cell of a table: nothing, a number, true or false, a list as in TOML, or words."""
    text = text.strip()
    if not text:
        return None
    try:
        return tomllib.loads(f"x = {text}")["x"]
    except (ValueError, RecursionError):
        pass
    try:
        return float(text)
    except ValueError:
        return text
