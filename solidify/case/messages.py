"""What is said of a refused key: where, what was given, what is allowed, the closest match, what to do."""

from __future__ import annotations

import datetime
import json
import re
from collections.abc import Iterable, Mapping
from typing import Any

from solidify.case.given import Flaw
from solidify.case.lines import KeyPath
from solidify.errors import Problem, closest

__all__ = ["file_problems", "key_name", "key_problems", "key_range", "schema_at", "shown", "value_flaws"]

Schema = Mapping[str, Any]


def schema_at(schema: Schema, path: KeyPath) -> Schema:
    """Return the part of a JSON Schema that describes one key.

    Parameters
    ----------
    schema : mapping
        Schema of the whole case.
    path : tuple
        Key path.

    Returns
    -------
    mapping
        Empty where the schema knows no such key.
    """
    at: Schema = schema
    for key in path:
        if isinstance(key, int):
            rows = at.get("prefixItems")
            at = rows[key] if rows and key < len(rows) else at.get("items") or {}
        else:
            at = at.get("properties", {}).get(key, {})
        if "$ref" in at:
            at = {**schema["$defs"][at["$ref"].rsplit("/", 1)[1]], **at}
    return at


def key_range(at: Schema) -> str:
    """Return the accepted values of one key in words: a range with its unit, or a list."""
    if "enum" in at:
        return ", ".join(json.dumps(word) for word in at["enum"])
    unit = at.get("unit", "1")
    while at.get("type") == "array" and isinstance(at.get("items"), Mapping):
        at = at["items"]
    if "prefixItems" in at:
        return " and ".join(key_range(column) for column in at["prefixItems"])
    if "exclusiveMinimum" in at:
        text = f"above {at['exclusiveMinimum']:g}"
    elif "minimum" in at:
        text = f"{at['minimum']:g} to {at['maximum']:g}"
    else:
        return ""
    return text if unit == "1" else f"{text} {unit}"


def shown(value: Any) -> str:
    """Return a value as a TOML file would write it, shortened."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        text = json.dumps(value, ensure_ascii=False)
    elif isinstance(value, Mapping):
        text = "{ " + ", ".join(f"{k} = {shown(v)}" for k, v in list(value.items())[:4]) + " }"
    elif isinstance(value, list | tuple):
        text = "[" + ", ".join(shown(v) for v in value[:8]) + "]"
    elif isinstance(value, int) and abs(value) >= 10**18:
        text = "a whole number of many digits"
    else:
        text = str(value)
    return text if len(text) <= 60 else text[:56] + " ..."


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


def value_flaws(errors: Iterable[Mapping[str, Any]], schema: Schema) -> list[Flaw]:
    """Turn the errors of the validation into what is said of them.

    Parameters
    ----------
    errors : iterable of mapping
        As pydantic lists them.
    schema : mapping
        JSON Schema of the whole case.

    Returns
    -------
    list of Flaw
    """
    return [_value_flaw(error, schema) for error in errors if not _counts_only_the_good(error)]


def _counts_only_the_good(error: Mapping[str, Any]) -> bool:
    """Whether a list is called too short although only some of its entries are wrong."""
    return error["type"] == "too_short" and len(error["input"]) >= error["ctx"]["min_length"]


def _value_flaw(error: Mapping[str, Any], schema: Schema) -> Flaw:
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
            return Flaw(
                path, "is one table; zones are a list", do="write [[zone]], in two brackets, for each zone"
            )
        said = f"= {shown(given)} is {_kind(given)}; {_WANTED[kind]} is needed"
        return Flaw(path, said, allowed)
    if kind == "literal_error":
        near = closest(given, at["enum"]) if isinstance(given, str) else ""
        return Flaw(path, f"= {shown(given)} is not a choice", allowed, near)
    if kind in ("greater_than_equal", "less_than_equal", "outside"):
        return Flaw(path, f"= {shown(context.get('value', given))} is outside {allowed}")
    if kind == "finite_number":
        return Flaw(path, f"= {shown(given)} is not a finite number", allowed)
    if kind == "greater_than":
        return Flaw(path, f"= {shown(given)} is not above {context['gt']:g}")
    if kind == "string_pattern_mismatch":
        return Flaw(path, f"= {shown(given)} is empty or not one line", "one line without spaces at its ends")
    if kind in ("too_short", "too_long", "string_too_long"):
        low, high = at.get("minItems", at.get("minLength")), at.get("maxItems", at.get("maxLength"))
        what = "characters" if at.get("type") == "string" else "entries"
        reach = (
            f"{low} {what} or more" if high is None else f"up to {high} {what}" if low in (None, high) else ""
        )
        length = f"{low} {what}" if low == high else reach
        return Flaw(path, f"= {shown(given)} is too {'long' if 'long' in kind else 'short'}", length)
    return Flaw(path, error["msg"], allowed)


def _missing(path: KeyPath, at: Schema, allowed: str) -> Flaw:
    if isinstance(path[-1], int):
        return Flaw(path[:-1], "is too short", do="give every number of the row")
    if "properties" in at or at.get("type") == "array":
        return Flaw(path, "is missing", do="add this table; solidify new FILE.toml writes one to start from")
    about = ", ".join(filter(None, (at.get("description", ""), allowed)))
    return Flaw(path, "is missing", do=f"add {path[-1]} = ... ({about})")


def _unknown_key(path: KeyPath, schema: Schema) -> Flaw:
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
        return Flaw(path, f"is not a known {what}", do=f"{key} belongs in {' or '.join(homes)}")
    return Flaw(path, f"is not a known {what}", ", ".join(keys), near)


# ------------------------------------------------------------------------------------- where it stands


def key_name(path: KeyPath, data: Mapping[str, Any]) -> str:
    """Return the dotted name of a key, zones by their names, as `Case.replace` takes it.

    Parameters
    ----------
    path : tuple
        Key path with the positions of zones.
    data : mapping
        The tables, for the names of zones.

    Returns
    -------
    str

    Examples
    --------
    >>> key_name(("zone", 0, "end_m"), {"zone": ({"name": "foot rolls"},)})
    'zone."foot rolls".end_m'
    """
    table, keys = _parted(path, data)
    return ".".join(filter(None, (table, _joined(keys))))


def _label(path: KeyPath, data: Mapping[str, Any]) -> str:
    """Name a key as the file shows it: ``[casting] speed_m_per_min``, ``[zone."foot rolls"] end_m``."""
    table, keys = _parted(path, data)
    if keys:
        return f"[{table}] {_joined(keys)}"
    if path == ("zone",):
        return "[[zone]]"
    scalar = path == ("title",) or not isinstance(data.get(str(path[0]), {}), Mapping | tuple)
    return table if scalar else f"[{table}]"


def _parted(path: KeyPath, data: Mapping[str, Any]) -> tuple[str, KeyPath]:
    """Part a key path into the name of its table, a zone being one, and the keys within."""
    if path[0] != "zone" or len(path) == 1 or not isinstance(path[1], int):
        return _quoted(str(path[0])), path[1:]
    zone = data["zone"][path[1]]
    name = zone.get("name") if isinstance(zone, Mapping) else None
    named = isinstance(name, str) and name.isprintable() and name
    return f"zone.{_quoted(str(name))}" if named else f"zone {path[1] + 1}", path[2:]


def _joined(keys: KeyPath) -> str:
    name = ".".join(_quoted(key) for key in keys if isinstance(key, str))
    entries = ".".join(str(key + 1) for key in keys if isinstance(key, int))
    return f"{name} (entry {entries})" if entries else name


def _quoted(key: str) -> str:
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else json.dumps(key, ensure_ascii=False)


def file_problems(
    flaws: Iterable[Flaw], data: Mapping[str, Any], lines: Mapping[KeyPath, int], name: str
) -> list[Problem]:
    """Say the flaws of a file with their lines, in the order of the file; missing tables come last.

    Parameters
    ----------
    flaws : iterable of Flaw
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
    for flaw in sorted(flaws, key=lambda f: line(f.path)):
        at = line(flaw.path)
        where = f"{name}:" if at == float("inf") else f"{name}:{at}:"
        problems.append(
            Problem(where, f"{_label(flaw.path, data)} {flaw.said}", flaw.allowed, flaw.closest, flaw.do)
        )
    return problems


def key_problems(flaws: Iterable[Flaw], data: Mapping[str, Any]) -> list[Problem]:
    """Say the flaws of values that stand in no file, by the dotted names of their keys.

    Parameters
    ----------
    flaws : iterable of Flaw
        What was found.
    data : mapping
        The tables as given.

    Returns
    -------
    list of Problem
    """
    return [
        Problem(key_name(f.path, data), f.said.removeprefix("= "), f.allowed, f.closest, f.do) for f in flaws
    ]
