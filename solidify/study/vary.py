"""The table [vary] of a study: which keys of the case vary, and what each is to become."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from solidify.case import Case
from solidify.case.guesses import guessed_unit
from solidify.case.paths import dotted, named_keys
from solidify.case.schema import key_range
from solidify.case.synonyms import canonical_name
from solidify.case.values import is_number, shown
from solidify.errors import InputError, closest
from solidify.files import check_readable
from solidify.study.reading import Reading
from solidify.study.study import PROPERTY_FILE

__all__ = ["MOST_RUNS", "refusal", "split_path", "varied"]

MOST_RUNS = 10_000_000
"""No study is larger."""

_FORMS = ("from", "to", "steps", "low", "high", "mean", "sd")
_SPECS = (("from", "to", "steps"), ("low", "high"), ("mean", "sd"), ("mean", "sd", "low", "high"))

_Path = tuple[str, ...]


def varied(reading: Reading, vary: Any, case: Case | None, sampling: str) -> tuple[_Path, list[Any]]:
    """Find the key paths under [vary] and check what they are to become.

    Parameters
    ----------
    reading : Reading
        Is told what is wrong.
    vary : object
        What stands under ``vary``; None where nothing does.
    case : Case or None
        The base case, if it could be read.
    sampling : str
        One of `solidify.study.study.SAMPLINGS`.

    Returns
    -------
    inputs : tuple of str
        Key paths.
    specs : list
        A list, a range or a distribution for each.
    """
    if not isinstance(vary, Mapping) or not vary:
        do = 'for example: [vary] and below it "casting.speed_m_per_min" = [0.7, 0.8]'
        given = "missing" if vary is None else "names nothing"
        reading.wrong(f"vary {given}", do=do, at=("vary",))
        return (), []
    if case is None:
        return (), []
    known = set(case.key_paths())
    found: dict[str, Any] = {}
    for path, spec in _leaves(vary, known, ()):
        name = canonical_name(dotted(path))
        rules = _Rules(reading, case, name, path)
        if name in found:
            rules.wrong("stands twice", do="give each input once")
        elif name not in known:
            rules.wrong("is not a key of the case", near=closest(name, known), do="check the path")
        elif rules.hold(spec, sampling):
            found[name] = spec
    return tuple(found), list(found.values())


class _Rules:
    """The rules for what one input may be."""

    def __init__(self, reading: Reading, case: Case, name: str, path: _Path) -> None:
        self.reading, self.case, self.name, self.path = reading, case, name, path

    def wrong(self, given: str, allowed: str = "", near: str = "", do: str = "") -> None:
        self.reading.wrong(f"[vary] {self.name} {given}", "", allowed, near, do, at=("vary", *self.path))

    def hold(self, spec: Any, sampling: str) -> bool:
        """Say what is wrong with a list, a range or a distribution; whether nothing is."""
        before = len(self.reading.problems)
        if isinstance(spec, list | tuple) or hasattr(spec, "tolist"):
            values = list(spec)
            if not values:
                self.wrong("is an empty list", do="give one value or more")
            for value in values:
                self.value(value)
        elif isinstance(spec, Mapping):
            self.form(spec, sampling)
        else:
            allowed = "a list, {from, to, steps}, {low, high} or {mean, sd}"
            self.wrong(f"= {shown(spec)} does not vary", allowed, do="one value goes into the case")
        return len(self.reading.problems) == before

    def form(self, spec: Mapping[str, Any], sampling: str) -> None:
        """Hold a range or a distribution to one of the forms."""
        unknown = dict(self.reading.unknown(spec, _FORMS))
        for key, near in unknown.items():
            self.wrong(f"has {key!r}", ", ".join(_FORMS), near)
        keys = set(spec) - set(unknown)
        wordy = sorted(key for key in keys if not is_number(spec[key]))
        for key in wordy:
            self.wrong(f"has {key} = {shown(spec[key])}", "a finite number")
        if unknown or wordy:
            return
        if not any(keys == set(form) for form in _SPECS):
            self.wrong(
                f"has {', '.join(spec)}",
                "{from, to, steps}, {low, high}, {mean, sd} or {mean, sd, low, high}",
            )
        elif "steps" in keys:
            self.range(spec)
        else:
            self.distribution(spec, sampling)

    def range(self, spec: Mapping[str, Any]) -> None:
        steps = spec["steps"]
        if not isinstance(steps, int) or not 2 <= steps <= MOST_RUNS:
            self.wrong(f"has steps = {shown(steps)}", f"a whole number, 2 to {MOST_RUNS}")
        for key in ("from", "to"):
            self.value(spec[key])

    def distribution(self, spec: Mapping[str, Any], sampling: str) -> None:
        if sampling == "grid":
            do = 'say sampling = "latin" or "sobol" and runs, or give {from, to, steps}'
            self.wrong("is a distribution, which a grid cannot hold", do=do)
        if "sd" in spec and not spec["sd"] > 0:
            self.wrong(f"has sd = {shown(spec['sd'])}", "above 0")
        if "low" in spec and not spec["low"] < spec["high"]:
            given = f"has low = {shown(spec['low'])}, high = {shown(spec['high'])}"
            self.wrong(given, do="low lies below high")
        for key in sorted(spec.keys() - {"sd"}):
            self.value(spec[key])

    def value(self, value: Any) -> None:
        """Hold one value to the range of its key; what joins several keys is seen run by run."""
        said = refusal(self.case, self.name, value)
        if said:
            asked = guessed_unit(tuple(self.name.split(".")), value, self.case.about(self.name))
            self.wrong(f"= {shown(value)}{said[0]}", said[1], said[2], asked)


def refusal(case: Case, name: str, value: Any) -> tuple[str, str, str] | None:
    """Say why a value cannot stand at a key whatever else the case holds.

    Parameters
    ----------
    case : Case
        The base case.
    name : str
        Key path.
    value : object
        In the units of the case file.

    Returns
    -------
    tuple of str or None
        What is wrong, what is allowed, the closest word; None when it can.
    """
    about = case.about(name)
    value = value.item() if hasattr(value, "item") else value
    kind, allowed = about.get("type"), key_range(about)
    if kind in ("number", "integer"):
        if not is_number(value) or (kind == "integer" and value != int(value)):
            return " is no " + ("number" if kind == "number" else "whole number"), allowed, ""
        low, high = about.get("minimum", -math.inf), about.get("maximum", math.inf)
        if not low <= value <= high or value <= about.get("exclusiveMinimum", -math.inf):
            return " is outside its range", allowed, ""
    elif "enum" in about and value not in about["enum"]:
        return " is no word for it", allowed, closest(str(value), about["enum"])
    elif kind == "string" and not isinstance(value, str):
        return " is no text", allowed, ""
    elif name == PROPERTY_FILE:
        return _unread(case, value)
    return None


def _unread(case: Case, name: str) -> tuple[str, str, str] | None:
    """Say why a property file cannot be read; that of the case is known."""
    try:
        if name != case.steel.property_file:
            check_readable(case.origin.folder / name, "property file")
    except InputError as error:
        problem = error.problems[0]
        return f": {problem.given}", problem.allowed, problem.closest
    except ValueError:
        return " is no name of a file", "", ""
    return None


def _leaves(at: Mapping[str, Any], known: set[str], path: _Path) -> list[tuple[_Path, Any]]:
    """Walk [vary]: whole paths in quotes, dotted keys and tables in tables alike."""
    found: list[tuple[_Path, Any]] = []
    for key, below in at.items():
        own = (*path, *(split_path(key) if not path else (key,)))
        inner = (
            isinstance(below, Mapping)
            and not set(below) & set(_FORMS)
            and canonical_name(dotted(own)) not in known
        )
        found += _leaves(below, known, own) if inner and below else [(own, below)]
    return found


def split_path(key: str) -> _Path:
    """Split a whole key path written as one quoted key.

    Parameters
    ----------
    key : str
        E.g. ``'zone."foot rolls".water_L_per_min'``.

    Returns
    -------
    tuple of str
        The key itself where it is no path.
    """
    try:
        return named_keys(key)
    except KeyError:
        return (key,)
