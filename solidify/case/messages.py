"""What is said of a refused key: where, what was given, what is allowed, the closest match, what to do."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from solidify.case.given import Issue
from solidify.case.guesses import guessed_unit
from solidify.case.paths import KeyPath, file_name, key_name
from solidify.case.schema import Schema, key_range, schema_at
from solidify.case.values import shown
from solidify.errors import Problem, closest

__all__ = ["file_problems", "key_problems", "once_for_many_zones", "value_issues"]


def _kind(value: Any) -> str:
    kinds: tuple[tuple[Any, str], ...] = (
        (bool, "a truth value"),
        (str, "text"),
        (int | float, "a number"),
        (datetime.date | datetime.time, "a date or time"),
        (Mapping, "a table"),
        (list | tuple, "a list"),
    )
    return next((word for kind, word in kinds if isinstance(value, kind)), "nothing known")


_WANTED = {
    "float_type": "a number",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "string_type": "text in quotes",
    "tuple_type": "a list in square brackets",
    "dict_type": "a table",
    "model_type": "a table",
}


def value_issues(errors: Iterable[Mapping[str, Any]], schema: Schema) -> list[Issue]:
    """Turn the errors of the validation into what is said of them.

    Parameters
    ----------
    errors : iterable of mapping
        As pydantic lists them.
    schema : mapping
        JSON Schema of the whole case.

    Returns
    -------
    list of Issue
    """
    return [_value_flaw(error, schema) for error in errors if not _counts_only_the_good(error)]


def _counts_only_the_good(error: Mapping[str, Any]) -> bool:
    """Whether a list is called too short although only some of its entries are wrong."""
    return error["type"] == "too_short" and len(error["input"]) >= error["ctx"]["min_length"]


def _value_flaw(error: Mapping[str, Any], schema: Schema) -> Issue:
    path: KeyPath = tuple(error["loc"])
    kind, given, context = error["type"], error["input"], error.get("ctx", {})
    at = schema_at(schema, path)
    allowed = key_range(at)
    if kind == "extra_forbidden":
        return _unknown_key(path, schema)
    if kind == "missing":
        return _missing(path, at, allowed)
    if kind in _WANTED:
        if path == ("zone",) and isinstance(given, Mapping):
            return Issue(
                path, "is one table; zones are a list", do="write [[zone]], in two brackets, for each zone"
            )
        said = f"= {shown(given)} is {_kind(given)}; {_WANTED[kind]} is needed"
        return Issue(path, said, allowed)
    if kind == "literal_error":
        near = closest(given, at["enum"]) if isinstance(given, str) else ""
        return Issue(path, f"= {shown(given)} is not a choice", allowed, near)
    if kind in ("greater_than_equal", "less_than_equal", "outside"):
        do = guessed_unit(path, given, at)
        return Issue(path, f"= {shown(context.get('value', given))} is outside {allowed}", do=do)
    if kind == "finite_number":
        return Issue(path, f"= {shown(given)} is not a finite number", allowed)
    if kind == "greater_than":
        return Issue(path, f"= {shown(given)} is not above {context['gt']:g}")
    if kind == "string_pattern_mismatch":
        return Issue(
            path, f"= {shown(given)} is empty or not one line", "one line without spaces at its ends"
        )
    if kind.endswith(("too_short", "too_long")):
        return Issue(
            path, f"= {shown(given)} is {kind.removeprefix('string_').replace('_', ' ')}", _length(at)
        )
    return Issue(path, error["msg"], allowed)


def _length(at: Schema) -> str:
    """Say how many characters or entries are accepted."""
    low, high = at.get("minItems", at.get("minLength")), at.get("maxItems", at.get("maxLength"))
    what = "characters" if at.get("type") == "string" else "entries"
    if low is None or high is None:
        return f"up to {high} {what}" if low is None else f"{low} {what} or more"
    return f"{low} {what}" if low == high else f"{low} to {high} {what}"


def _missing(path: KeyPath, at: Schema, allowed: str) -> Issue:
    if isinstance(path[-1], int):
        return Issue(path[:-1], "is too short", do="give every number of the row")
    if "properties" in at or at.get("type") == "array":
        return Issue(path, "is missing", do="add this table; solidify new FILE.toml writes one to start from")
    about = ", ".join(filter(None, (at.get("description", ""), allowed)))
    return Issue(path, "is missing", do=f"add {path[-1]} = ... ({about})")


def _unknown_key(path: KeyPath, schema: Schema) -> Issue:
    table, key = path[:-1], str(path[-1])
    keys = list(schema_at(schema, table).get("properties", {}))
    near = closest(key, keys)
    what = "element" if table[-1:] == ("composition",) else "key" if table else "table"
    homes = [
        "[[zone]]" if name == "zone" else f"[{name}]"
        for name in schema["properties"]
        if key in schema_at(schema, (name, 0) if name == "zone" else (name,)).get("properties", {})
    ]
    if homes and near.lower() != key.lower():
        return Issue(path, f"is not a known {what}", do=f"{key} belongs in {' or '.join(homes)}")
    return Issue(path, f"is not a known {what}", ", ".join(keys), near)


def file_problems(
    issues: Iterable[Issue], data: Mapping[str, Any], lines: Mapping[KeyPath, int], name: str
) -> list[Problem]:
    """Say the flaws of a file with their lines, in the order of the file; missing tables come last.

    Parameters
    ----------
    issues : iterable of Issue
        What was found.
    data : mapping
        The tables as given.
    lines : mapping
        From `solidify.case.lines.key_lines`.
    name : str
        Of the file.

    Returns
    -------
    list of Problem
    """

    def line(path: KeyPath) -> float:
        for length in range(len(path), 0, -1):
            if path[:length] in lines:
                return lines[path[:length]]
        return float("inf")

    problems = []
    for issue in once_for_many_zones(sorted(issues, key=lambda f: line(f.path)), data):
        at = line(issue.path)
        where = f"{name}:" if at == float("inf") else f"{name}:{at}:"
        problems.append(
            Problem(
                where,
                f"{file_name(issue.path, data)} {issue.message}",
                issue.allowed,
                issue.closest,
                issue.do,
            )
        )
    return problems


_SEVERAL = 3
"""Zones of which the same is said, from which it is said once."""


def once_for_many_zones(issues: Sequence[Issue], data: Mapping[str, Any]) -> list[Issue]:
    """Say once what is wrong in the same way with the same key of three zones or more.

    Parameters
    ----------
    issues : sequence of Issue
        In the order of the file.
    data : mapping
        The tables as given, for the names of zones.

    Returns
    -------
    list of Issue
        With the other zones named in the first one.
    """
    groups: dict[Any, list[Issue]] = {}
    for issue in issues:
        groups.setdefault(_same(issue), []).append(issue)
    found = []
    for issue in issues:
        group = groups[_same(issue)]
        if issue.path[0] != "zone" or len(group) < _SEVERAL:
            found.append(issue)
        elif issue is group[0]:
            names = [data["zone"][f.path[1]].get("name", "without a name") for f in group[1:]]
            said = f"{issue.message} (and alike in {len(names)} more zones: {', '.join(map(str, names))})"
            found.append(replace(issue, message=said))
    return found


def _same(issue: Issue) -> tuple[Any, ...]:
    """Return what flaws of zones have in common that say the same."""
    key = issue.path[2:] if issue.path[0] == "zone" and len(issue.path) > 1 else issue.path
    return issue.path[0], key, issue.message, issue.allowed, issue.closest, issue.do


def key_problems(issues: Iterable[Issue], data: Mapping[str, Any]) -> list[Problem]:
    """Say the flaws of values that stand in no file, by the dotted names of their keys.

    Parameters
    ----------
    issues : iterable of Issue
        What was found.
    data : mapping
        The tables as given.

    Returns
    -------
    list of Problem
    """
    return [
        Problem(key_name(f.path, data), f.message.removeprefix("= "), f.allowed, f.closest, f.do)
        for f in once_for_many_zones(list(issues), data)
    ]
