"""A study: a base case, what varies and how it is sampled, what is kept; from a TOML file or from values."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import math
import os
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numpy as np
from scipy.special import ndtr, ndtri

from solidify.case import Case, read_case
from solidify.case.lines import key_lines
from solidify.case.messages import key_range, shown
from solidify.errors import InputError, Problem, closest
from solidify.files import check_readable

__all__ = ["KEEP", "SAMPLINGS", "Study", "make_study", "read_study"]

SAMPLINGS = ("grid", "latin", "sobol", "sobol indices")
"""Every combination; Latin hypercube; scrambled Sobol sequence; the pairs of draws that Sobol indices want."""

KEEP = ("summary", "findings", "profiles")
"""What can be kept of each run."""

MOST_RUNS = 10_000_000
"""No study is larger."""

_KEYS = ("case", "vary", "sampling", "runs", "seed", "table", "keep")
_FORMS = ("from", "to", "steps", "low", "high", "mean", "sd")


@dataclass(frozen=True)
class Study:
    """Many strands made from one case. Made by `make_study` or `read_study`.

    Parameters
    ----------
    case : Case
        The base case.
    inputs : tuple of str
        Key paths of what varies.
    choices : tuple of tuple
        Grid: the values of each input, which are combined, the last input fastest. Empty otherwise.
    rows : tuple of tuple
        Sampled or from a table: the values of every run, in the order of `inputs`; None leaves the base case as
        it is. Empty for a grid.
    sampling : str
        One of `SAMPLINGS`, or ``"table"``.
    seed : int
        Of the sampling.
    keep : tuple of str
        Which of `KEEP`.
    name : str
        Of the file, for messages.
    """

    case: Case
    inputs: tuple[str, ...]
    choices: tuple[tuple[Any, ...], ...] = ()
    rows: tuple[tuple[Any, ...], ...] = ()
    sampling: str = "grid"
    seed: int = 0
    keep: tuple[str, ...] = ("summary", "findings")
    name: str = field(default="study", compare=False)

    @property
    def runs(self) -> int:
        """Number of runs."""
        return len(self.rows) if self.sampling != "grid" else math.prod(map(len, self.choices))

    def values(self, run: int) -> dict[str, Any]:
        """Return what one run sets, key path to value in the units of the case file.

        Parameters
        ----------
        run : int
            Counted from 0.

        Returns
        -------
        dict
        """
        if self.sampling != "grid":
            return {name: v for name, v in zip(self.inputs, self.rows[run], strict=True) if v is not None}
        places = np.unravel_index(run, [len(c) for c in self.choices])
        return {name: c[i] for name, c, i in zip(self.inputs, self.choices, places, strict=True)}

    def column(self, place: int) -> list[Any]:
        """Return what one input is in every run, in the units of the case file; as in the base case where not set.

        Parameters
        ----------
        place : int
            Of the input in `inputs`.

        Returns
        -------
        list
        """
        if self.sampling != "grid":
            own = self.case.value(self.inputs[place])
            return [own if row[place] is None else row[place] for row in self.rows]
        faster = math.prod(map(len, self.choices[place + 1 :]))
        once = [value for value in self.choices[place] for _ in range(faster)]
        return once * (self.runs // len(once))

    @property
    def fractions(self) -> tuple[float, ...]:
        """Solid fractions whose shell is kept [1]: the three always reported, and the headline if it is fixed."""
        own = () if "shell.solid_fraction" in self.inputs else (self.case.shell.solid_fraction,)
        return tuple(sorted({0.3, 0.7, 1.0, *own}))

    @cached_property
    def fingerprint(self) -> str:
        """Hash of everything that the results depend on: case, property file, inputs, keep, program version."""
        parts: list[Any] = [
            version("solidify"),
            self.case.effective_toml(),
            self.inputs,
            self.sampling,
            self.keep,
        ]
        parts += [self.choices, self.rows, self.case.property_text]
        return hashlib.sha256(json.dumps(parts, default=repr).encode()).hexdigest()


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
    reading = _Reading("study", data, {}, case)
    table = None
    if rows is not None:
        data["table"] = "rows"
        inputs = tuple(dict.fromkeys(name for row in rows for name in row))
        table = (inputs, [(i, tuple(row.get(name) for name in inputs)) for i, row in enumerate(rows, 1)])
    return reading.study(table)


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
    path = check_readable(path, "study file")
    try:
        text = path.read_bytes().decode("utf-8-sig")
        data = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        given = "not text in UTF-8" if isinstance(error, UnicodeDecodeError) else f"not TOML: {error}"
        do = "correct the line; docs/sweeps.md shows a study file"
        raise InputError(Problem(f"{path}:", given, do=do)) from None
    if "casting" in data and "case" not in data:
        do = f"solidify run {path} solves a case; a study names it: case = {json.dumps(path.name)}"
        raise InputError(Problem(f"{path}:", "a case file", "a study file", do=do))
    problems: list[Problem] = []
    case = None
    name = data.get("case")
    if isinstance(name, str) and name:
        try:
            case = read_case(path.parent / name)
        except InputError as error:
            problems += error.problems
    reading = _Reading(str(path), data, key_lines(text), case)
    reading.problems += problems
    if case is None and not problems:
        given = "missing" if name is None else f"= {shown(name)} is no name of a file"
        reading.wrong(("case",), given, do='name the base case: case = "bloom.toml"')
    table = None
    if isinstance(data.get("table"), str):
        table = reading.table(path.parent / data["table"])
    return reading.study(table)


Table = tuple[tuple[str, ...], list[tuple[int, tuple[Any, ...]]]]
"""Key paths, and for each row where it stands and its values."""


class _Reading:
    """One reading of a study: collects every problem with its line."""

    def __init__(
        self, name: str, data: dict[str, Any], lines: Mapping[tuple, int], case: Case | None
    ) -> None:
        self.name, self.data, self.case = name, data, case
        self.lines = {
            (p[0], *_split(p[1]), *p[2:]) if p[0] == "vary" and p[1:] else p: n for p, n in lines.items()
        }
        self.problems: list[Problem] = []

    def wrong(self, path: tuple[str, ...], given: str, **more: str) -> None:
        line = self.lines.get(path, "")
        where = f"{self.name}:{line}: " if line else f"{self.name}: "
        table = "[vary] " if len(path) > 1 else ""
        key = _dotted(path[1:]) if len(path) > 1 else path[0]
        self.problems.append(Problem(f"{where}{table}{key} {given}", **more))

    def study(self, table: Table | None) -> Study:
        """Check everything and make the study."""
        for key in self.data:
            if key not in _KEYS:
                near = closest(key, _KEYS)
                self.wrong((key,), "is not a key of a study", allowed=", ".join(_KEYS), closest=near)
        keep = self._keep()
        by_table = "table" in self.data
        sampling = "table" if by_table else self._sampling()
        seed = self._whole("seed", 0, 2**32 - 1) or 0
        runs = self._whole("runs", 1, MOST_RUNS)
        for key in ("vary", "sampling", "runs", "seed") if by_table else ():
            if key in self.data:
                self.wrong(
                    (key,), "stands beside a table", do="a table gives every run: leave one of them out"
                )
        if by_table and not isinstance(self.data["table"], str):
            self.wrong(("table",), f"= {shown(self.data['table'])} is no name of a file")
        if sampling in SAMPLINGS[1:] and runs is None and "runs" not in self.data:
            self.wrong(
                ("runs",), "missing", allowed=f"1 to {MOST_RUNS}", do=f"{sampling} wants a number of runs"
            )
        if sampling == "grid":
            for key in ("runs", "seed"):
                if key in self.data:
                    self.wrong(
                        (key,), "stands beside a grid", do='say sampling = "latin" or "sobol", or drop it'
                    )
        inputs, specs = ((), []) if by_table else self._inputs(sampling)
        if sampling == "sobol indices":
            self._pairable(runs, len(inputs))
        rows: tuple[tuple[Any, ...], ...] = ()
        if table is not None:
            inputs, rows = table[0], self._rows(table)
        if self.problems or self.case is None:
            raise InputError(self.problems)
        choices: tuple[tuple[Any, ...], ...] = ()
        if sampling == "grid":
            choices = tuple(_choices(spec) for spec in specs)
        elif sampling != "table":
            assert runs is not None
            rows = _sampled(specs, sampling, runs, seed, inputs, self.case)
        made = Study(self.case, inputs, choices, rows, sampling, seed, keep, Path(self.name).name)
        if made.runs > MOST_RUNS:
            self.wrong(("vary",), f"makes {made.runs} runs", allowed=f"up to {MOST_RUNS}", do="vary less")
            raise InputError(self.problems)
        return made

    def _pairable(self, runs: int | None, inputs: int) -> None:
        """Hold a study of Sobol indices to what their estimate wants."""
        if runs is not None and runs & (runs - 1):
            low = 1 << (runs.bit_length() - 1)
            do = (
                f"take {low} or {2 * low}; each makes {inputs + 2} runs"
                if inputs
                else f"take {low} or {2 * low}"
            )
            self.wrong(("runs",), f"= {runs}", allowed="a power of two for sobol indices", do=do)
        if inputs == 1:
            do = 'vary two inputs or more, or say sampling = "sobol"'
            self.wrong(("sampling",), "= 'sobol indices' with one input", do=do)

    def _keep(self) -> tuple[str, ...]:
        given = self.data.get("keep", ["summary", "findings"])
        if not isinstance(given, list | tuple) or not given:
            self.wrong(("keep",), f"= {shown(given)} is no list", allowed=", ".join(KEEP))
            return ()
        for word in given:
            if word not in KEEP:
                near = closest(str(word), KEEP)
                self.wrong(
                    ("keep",), f"= {shown(word)} cannot be kept", allowed=", ".join(KEEP), closest=near
                )
        return tuple(word for word in KEEP if word in given)

    def _sampling(self) -> str:
        given = self.data.get("sampling", "grid")
        if given not in SAMPLINGS:
            near = closest(str(given), SAMPLINGS)
            self.wrong(("sampling",), f"= {shown(given)}", allowed=", ".join(SAMPLINGS), closest=near)
            return ""
        return str(given)

    def _whole(self, key: str, low: int, high: int) -> int | None:
        given = self.data.get(key)
        if given is None:
            return None
        if not isinstance(given, int) or isinstance(given, bool) or not low <= given <= high:
            self.wrong((key,), f"= {shown(given)} is no whole number", allowed=f"{low} to {high}")
            return None
        return given

    def _inputs(self, sampling: str) -> tuple[tuple[str, ...], list[Any]]:
        """Find the key paths under [vary] and check what they are to become."""
        vary = self.data.get("vary")
        if not isinstance(vary, Mapping) or not vary:
            do = 'for example: [vary] and below it "casting.speed_m_per_min" = [0.7, 0.8]'
            self.wrong(("vary",), "missing" if vary is None else "names nothing", do=do)
            return (), []
        if self.case is None:
            return (), []
        known = set(self.case.key_paths())
        found: dict[str, Any] = {}
        for path, spec in _leaves(vary, known, ()):
            name = _dotted(path)
            at = ("vary", *path)
            if name in found:
                self.wrong(at, "stands twice", do="give each input once")
            elif name not in known:
                near = closest(name, known)
                self.wrong(at, "is not a key of the case", closest=near, do="check the path")
            elif self._checked(at, name, spec, sampling):
                found[name] = spec
        return tuple(found), list(found.values())

    def _checked(self, at: tuple[str, ...], name: str, spec: Any, sampling: str) -> bool:
        before = len(self.problems)
        if isinstance(spec, list | tuple) or hasattr(spec, "tolist"):
            values = list(spec)
            if not values:
                self.wrong(at, "is an empty list", do="give one value or more")
            for value in values:
                self._value(at, name, value)
        elif isinstance(spec, Mapping):
            self._distribution(at, name, spec, sampling)
        else:
            allowed = "a list, {from, to, steps}, {low, high} or {mean, sd}"
            self.wrong(
                at, f"= {shown(spec)} does not vary", allowed=allowed, do="one value goes into the case"
            )
        return len(self.problems) == before

    def _distribution(self, at: tuple[str, ...], name: str, spec: Mapping[str, Any], sampling: str) -> None:
        unknown = [key for key in spec if key not in _FORMS]
        for key in unknown:
            self.wrong(at, f"has {key!r}", allowed=", ".join(_FORMS), closest=closest(key, _FORMS))
        keys = set(spec) - set(unknown)
        number = {k: v for k, v in spec.items() if k in keys and _is_number(v)}
        for key in sorted(keys - set(number)):
            self.wrong(at, f"has {key} = {shown(spec[key])}", allowed="a finite number")
        if unknown or len(number) < len(keys):
            return
        if not any(keys == set(form) for form in _SPECS):
            allowed = "{from, to, steps}, {low, high}, {mean, sd} or {mean, sd, low, high}"
            self.wrong(at, f"has {', '.join(spec)}", allowed=allowed)
            return
        if "steps" in keys:
            steps = spec["steps"]
            if not isinstance(steps, int) or not 2 <= steps <= MOST_RUNS:
                self.wrong(at, f"has steps = {shown(steps)}", allowed=f"a whole number, 2 to {MOST_RUNS}")
            for key in ("from", "to"):
                self._value(at, name, spec[key])
            return
        if sampling == "grid":
            do = 'say sampling = "latin" or "sobol" and runs, or give {from, to, steps}'
            self.wrong(at, "is a distribution, which a grid cannot hold", do=do)
        if "sd" in keys and not spec["sd"] > 0:
            self.wrong(at, f"has sd = {shown(spec['sd'])}", allowed="above 0")
        if "low" in keys and not spec["low"] < spec["high"]:
            self.wrong(
                at, f"has low = {shown(spec['low'])}, high = {shown(spec['high'])}", do="low lies below high"
            )
        for key in sorted(keys - {"sd"}):
            self._value(at, name, spec[key])

    def _value(self, at: tuple[str, ...], name: str, value: Any) -> None:
        """Hold one value to the range of its key; what joins several keys is seen run by run."""
        said = _refusal(self.case, name, value)
        if said:
            self.wrong(at, f"= {shown(value)}{said[0]}", allowed=said[1], closest=said[2])

    def table(self, path: Path) -> Table | None:
        """Read a CSV file: key paths in its first line, a run in each other; an empty cell leaves the case as is."""
        try:
            text = check_readable(path, "table").read_bytes().decode("utf-8-sig")
            lines = list(csv.reader(io.StringIO(text, newline=""), strict=True))
        except InputError as error:
            self.problems += error.problems
            return None
        except (UnicodeDecodeError, csv.Error) as error:
            self.problems.append(
                Problem(f"{path}:", f"no CSV: {error}", do="save it as CSV, UTF-8, with commas")
            )
            return None
        rows = [(i, line) for i, line in enumerate(lines, 1) if any(cell.strip() for cell in line)]
        if len(rows) < 2:
            do = "the first line holds key paths, each other line a run"
            self.problems.append(Problem(f"{path}:", "no runs", do=do))
            return None
        names = tuple(cell.strip() for cell in rows[0][1])
        kept = []
        for i, line in rows[1:]:
            if len(line) != len(names):
                given = f"{len(line)} cells under {len(names)} key paths"
                self.problems.append(Problem(f"{path}:{i}:", given, do="write decimals with a point"))
            else:
                kept.append((i, tuple(_cell(cell.strip()) for cell in line)))
        self.table_name = f"{path}:"
        return names, kept

    table_name = "rows"

    def _rows(self, table: Table) -> tuple[tuple[Any, ...], ...]:
        names, rows = table
        if self.case is None:
            return ()
        known = set(self.case.key_paths())
        for i, name in enumerate(names):
            if name not in known:
                near = closest(name, known)
                where = f"{self.table_name} {name or f'column {i + 1}'}"
                self.problems.append(Problem(where, "is not a key of the case", closest=near))
            elif name in names[:i]:
                self.problems.append(Problem(f"{self.table_name} {name}", "stands twice"))
        if not rows:
            self.problems.append(Problem(self.table_name, "no runs", do="give one row or more"))
        for i, row in rows:
            for name, value in zip(names, row, strict=True):
                if name in known and value is not None and (said := _refusal(self.case, name, value)):
                    where = f"{self.table_name}{i}: {name} = {shown(value)}{said[0]}"
                    self.problems.append(Problem(where, allowed=said[1], closest=said[2]))
        return tuple(row for _, row in rows)


_SPECS = (("from", "to", "steps"), ("low", "high"), ("mean", "sd"), ("mean", "sd", "low", "high"))


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def _refusal(case: Case | None, name: str, value: Any) -> tuple[str, str, str] | None:
    """Say why a value cannot stand at a key whatever else the case holds; None when it can."""
    assert case is not None
    about = case.about(name)
    value = value.item() if hasattr(value, "item") else value
    kind, allowed = about.get("type"), key_range(about)
    if kind in ("number", "integer"):
        if not _is_number(value) or (kind == "integer" and value != int(value)):
            return " is no " + ("number" if kind == "number" else "whole number"), allowed, ""
        low, high = about.get("minimum", -math.inf), about.get("maximum", math.inf)
        if not low <= value <= high or value <= about.get("exclusiveMinimum", -math.inf):
            return " is outside its range", allowed, ""
    elif "enum" in about and value not in about["enum"]:
        return " is no word for it", allowed, closest(str(value), about["enum"])
    elif kind == "string" and not isinstance(value, str):
        return " is no text", allowed, ""
    return None


def _dotted(path: Sequence[str]) -> str:
    """Write a key path as the case does: zone."foot rolls".water_L_per_min."""
    return ".".join(
        k
        if k.isascii() and k.replace("_", "").replace("-", "").isalnum()
        else json.dumps(k, ensure_ascii=False)
        for k in path
    )


def _leaves(
    at: Mapping[str, Any], known: set[str], path: tuple[str, ...]
) -> list[tuple[tuple[str, ...], Any]]:
    """Walk [vary]: whole paths in quotes, dotted keys and tables in tables alike."""
    found: list[tuple[tuple[str, ...], Any]] = []
    for key, below in at.items():
        own = (*path, *(_split(key) if not path else (key,)))
        inner = isinstance(below, Mapping) and not set(below) & set(_FORMS) and _dotted(own) not in known
        found += _leaves(below, known, own) if inner and below else [(own, below)]
    return found


def _split(key: str) -> tuple[str, ...]:
    """Split a whole path written as one quoted key."""
    try:
        at: Any = tomllib.loads(f"{key} = 0") if "\n" not in key else {}
    except ValueError:
        return (key,)
    keys = []
    while isinstance(at, dict) and len(at) == 1:
        name, at = next(iter(at.items()))
        keys.append(name)
    return tuple(keys) or (key,)


def _cell(text: str) -> Any:
    """Read a cell of a table: nothing, a number, true or false, a list as in TOML, or words."""
    if not text:
        return None
    try:
        return tomllib.loads(f"x = {text}")["x"]
    except ValueError:
        pass
    try:
        return float(text)
    except ValueError:
        return text


def _choices(spec: Any) -> tuple[Any, ...]:
    """Return the values of a list or range."""
    if isinstance(spec, Mapping):
        return tuple(np.linspace(spec["from"], spec["to"], spec["steps"]).tolist())
    return tuple(v.item() if hasattr(v, "item") else v for v in spec)


def _sampled(
    specs: Sequence[Any], sampling: str, runs: int, seed: int, inputs: Sequence[str], case: Case
) -> tuple[tuple[Any, ...], ...]:
    """Draw the runs: even shares in 0 to 1 from scipy, turned into values input by input."""
    from scipy.stats import qmc  # a second to load, and only sampled studies want it

    rng = np.random.default_rng(seed)
    if sampling == "latin":
        shares = qmc.LatinHypercube(len(specs), rng=rng).random(runs)
    elif sampling == "sobol indices":
        shares = _pairs(qmc.Sobol(2 * len(specs), rng=rng, bits=64).random(runs))
    else:
        shares = qmc.Sobol(len(specs), rng=rng).random_base2(max(runs - 1, 0).bit_length())[:runs]
    columns = []
    for spec, share, name in zip(specs, shares.T, inputs, strict=True):
        if isinstance(spec, Mapping) and "steps" not in spec:
            columns.append(_drawn(spec, share, case.about(name)).tolist())
        else:
            values = _choices(spec)
            columns.append([values[min(int(s * len(values)), len(values) - 1)] for s in share])
    return tuple(zip(*columns, strict=True))


def _pairs(shares: np.ndarray) -> np.ndarray:
    """Lay out the runs of each draw: A, B, then A with one input after the other taken from B.

    Two draws side by side in `shares`, as `scipy.stats.sobol_indices` makes them (Saltelli and others 2010).
    """
    a, b = np.hsplit(shares, 2)
    draws, inputs = a.shape
    runs = np.repeat(a[:, None], inputs + 2, axis=1)
    runs[:, 1] = b
    i = np.arange(inputs)
    runs[:, 2 + i, i] = b
    return runs.reshape(draws * (inputs + 2), inputs)


def _drawn(spec: Mapping[str, float], share: np.ndarray, about: Mapping[str, Any]) -> np.ndarray:
    """Turn even shares into draws; a normal distribution without bounds ends at the range of its key."""
    if "sd" not in spec:
        return spec["low"] + share * (spec["high"] - spec["low"])
    low = spec.get("low", about.get("minimum", about.get("exclusiveMinimum", -math.inf)))
    high = spec.get("high", about.get("maximum", math.inf))
    a, b = ndtr((np.array([low, high]) - spec["mean"]) / spec["sd"])
    drawn = spec["mean"] + spec["sd"] * ndtri(a + share * (b - a))
    return np.clip(drawn, low, high)
