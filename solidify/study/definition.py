"""Making a study, from a TOML file or from values: every mistake told at once."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from solidify.case import Case, read_case
from solidify.case.lines import key_lines
from solidify.case.values import shown
from solidify.errors import InputError, Problem, closest
from solidify.files import read_words
from solidify.study.reading import Reading, toml_tables
from solidify.study.rows import Rows, read_rows, rows_of
from solidify.study.sampling import choices, sampled
from solidify.study.study import KEEP, PROPERTY_FILE, SAMPLINGS, Study
from solidify.study.vary import MOST_RUNS, split_path, varied

__all__ = ["make_study", "read_study"]

_KEYS = ("case", "vary", "sampling", "runs", "seed", "table", "keep")


def make_study(
    case: Case,
    vary: Mapping[str, Any] | None = None,
    *,
    sampling: str = "grid",
    runs: int | None = None,
    seed: int | None = None,
    keep: Sequence[str] = ("summary", "findings"),
    rows: Sequence[Mapping[str, Any]] | None = None,
) -> Study:
    """Make a study from values.

    Parameters
    ----------
    case : Case
        The base case.
    vary : mapping of str to list or mapping, optional
        Key path to its values: a list; ``{"from": .., "to": .., "steps": ..}``; or, to be sampled, a
        distribution ``{"low": .., "high": ..}`` (even) or ``{"mean": .., "sd": ..}`` (normal; ``low`` and
        ``high`` beside it cut it off). In the units of the case file.
    sampling : str
        One of `SAMPLINGS`. Sampled lists and ranges give each value the same chance.
    runs : int, optional
        How many, for ``"latin"`` and ``"sobol"``; for ``"sobol indices"`` a power of two, from which
        ``runs * (inputs + 2)`` runs are made.
    seed : int, optional
        Of the sampling; 0 by default.
    keep : sequence of str
        Which of `KEEP`.
    rows : sequence of mapping, optional
        In place of `vary`: key path to value, one mapping a run.

    Returns
    -------
    Study

    Raises
    ------
    InputError
        If anything is wrong; all problems at once.
    """
    data: dict[str, Any] = {"keep": list(keep)}
    data |= {"vary": dict(vary)} if vary is not None else {}
    data |= {k: v for k, v in (("runs", runs), ("seed", seed)) if v is not None}
    if rows is None or sampling != "grid":
        data["sampling"] = sampling
    page = _Page("study", data)
    if rows is None:
        return page.study(case)
    data["table"] = "rows"
    return page.study(case, rows_of(rows))


def read_study(path: str | os.PathLike[str]) -> Study:
    """Read a study file.

    Parameters
    ----------
    path : str or path-like
        TOML in UTF-8. The case and the table that it names are looked for from its folder.

    Returns
    -------
    Study

    Raises
    ------
    InputError
        If the file, its case or its table cannot be read or holds what it may not; all problems at once.
    """
    path = Path(path)
    text = read_words(path, "study file")
    data = toml_tables(text, str(path), "correct the line; docs/sweeps.md shows a study file")
    if "casting" in data and "case" not in data:
        do = f"solidify run {path} solves a case; a study names it: case = {json.dumps(path.name)}"
        raise InputError(Problem(f"{path}:", "a case file", "a study file", do=do))
    page = _Page(str(path), data, _lines(text))
    case = page.case(path.parent)
    table = data.get("table")
    if not isinstance(table, str):
        return page.study(case)
    known = case.key_paths() if case is not None else ()
    return page.study(case, read_rows(path.parent / table, page.problems, known))


def _lines(text: str) -> dict[tuple[Any, ...], int]:
    """Return the line of each key; whole key paths under [vary] are split."""
    return {
        (path[0], *split_path(str(path[1])), *path[2:]) if path[0] == "vary" and path[1:] else path: line
        for path, line in key_lines(text).items()
    }


class _Page(Reading):
    """A reading with the rules that a study has."""

    def __init__(
        self, name: str, data: Mapping[str, Any], lines: Mapping[tuple[Any, ...], int] | None = None
    ) -> None:
        super().__init__(name, lines)
        self.data = data

    def key(self, key: str, given: str, allowed: str = "", near: str = "", do: str = "") -> None:
        """Note what is wrong with a key of the file."""
        self.wrong(f"{key} {given}", "", allowed, near, do, at=(key,))

    def case(self, folder: Path) -> Case | None:
        """Read the base case."""
        name = self.data.get("case")
        if not isinstance(name, str) or not name:
            given = "missing" if name is None else f"= {shown(name)} is no name of a file"
            self.key("case", given, do='name the base case: case = "bloom.toml"')
            return None
        try:
            return read_case(folder / name)
        except InputError as error:
            self.problems += error.problems
            return None

    def study(self, case: Case | None, table: Rows | None = None) -> Study:
        """Check everything and make the study."""
        for key, near in self.unknown(self.data, _KEYS):
            self.key(key, "is not a key of a study", ", ".join(_KEYS), near)
        keep = self.keep()
        by_table = "table" in self.data
        sampling = "table" if by_table else self.sampling()
        seed = self.whole("seed", 0, 2**32 - 1) or 0
        runs = self.whole("runs", 1, MOST_RUNS)
        self.beside(sampling)
        if by_table and not isinstance(self.data["table"], str):
            self.key("table", f"= {shown(self.data['table'])} is no name of a file")
        if sampling in SAMPLINGS[1:] and runs is None and "runs" not in self.data:
            self.key("runs", "missing", f"1 to {MOST_RUNS}", do=f"{sampling} wants a number of runs")
        inputs, specs = ((), []) if by_table else varied(self, self.data.get("vary"), case, sampling)
        if sampling == "sobol indices":
            self.pairable(runs, len(inputs))
        if table is not None and case is not None:
            self.problems += table.problems(case)
        self.end()
        assert case is not None
        if table is not None:
            values = tuple(row for _, row in table.rows)
            made = Study(case, table.inputs, (), values, sampling, seed, keep, self.short)
        elif sampling != "grid":
            assert runs is not None
            values = sampled(specs, sampling, runs, seed, inputs, case)
            made = Study(case, inputs, (), values, sampling, seed, keep, self.short)
        else:
            made = Study(case, inputs, tuple(map(choices, specs)), (), sampling, seed, keep, self.short)
        if made.runs > MOST_RUNS:
            self.key("vary", f"makes {made.runs} runs", f"up to {MOST_RUNS}", do="vary less")
        self.end()
        return replace(made, files=self.files(made))

    def files(self, study: Study) -> dict[str, str]:
        """Read the property files that runs name, so that what is marched is what the study found."""
        if PROPERTY_FILE not in study.inputs:
            return {}
        found: dict[str, str] = {}
        for name in dict.fromkeys(study.column(study.inputs.index(PROPERTY_FILE))):
            if name in (None, study.case.steel.property_file):
                continue
            try:
                found[name] = read_words(study.case.origin.folder / name, "property file")
            except InputError as error:
                self.problems += error.problems
        self.end()
        return found

    @property
    def short(self) -> str:
        """Name of the file without its folder."""
        return Path(self.name).name

    def beside(self, sampling: str) -> None:
        """Refuse what a table or a grid makes needless."""
        needless: tuple[str, ...] = ("runs", "seed") if sampling == "grid" else ()
        do = 'say sampling = "latin" or "sobol", or drop it'
        if sampling == "table":
            needless = ("vary", "sampling", "runs", "seed")
            do = "a table gives every run: leave one of them out"
        for key in needless:
            if key in self.data:
                self.key(key, f"stands beside a {sampling}", do=do)

    def pairable(self, runs: int | None, inputs: int) -> None:
        """Hold a study of Sobol indices to what their estimate wants."""
        if runs is not None and runs & (runs - 1):
            low = 1 << (runs.bit_length() - 1)
            do = f"take {low} or {2 * low}" + (f"; each makes {inputs + 2} runs" if inputs else "")
            self.key("runs", f"= {runs}", "a power of two for sobol indices", do=do)
        if inputs == 1:
            do = 'vary two inputs or more, or say sampling = "sobol"'
            self.key("sampling", "= 'sobol indices' with one input", do=do)

    def keep(self) -> tuple[str, ...]:
        given = self.data.get("keep", ["summary", "findings"])
        if not isinstance(given, list | tuple) or not given:
            self.key("keep", f"= {shown(given)} is no list", ", ".join(KEEP))
            return ()
        for word in given:
            if word not in KEEP:
                self.key("keep", f"= {shown(word)} cannot be kept", ", ".join(KEEP), closest(str(word), KEEP))
        return tuple(word for word in KEEP if word in given)

    def sampling(self) -> str:
        given = self.data.get("sampling", "grid")
        if given not in SAMPLINGS:
            near = closest(str(given), SAMPLINGS)
            self.key("sampling", f"= {shown(given)}", ", ".join(SAMPLINGS), near)
            return ""
        return str(given)

    def whole(self, key: str, low: int, high: int) -> int | None:
        given = self.data.get(key)
        if given is None:
            return None
        if not isinstance(given, int) or isinstance(given, bool) or not low <= given <= high:
            self.key(key, f"= {shown(given)} is no whole number", f"{low} to {high}")
            return None
        return given
