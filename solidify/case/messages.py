"""What is said of a refused key: where, what was given, what is allowed, the closest match, what to do."""

from __future__ import annotations

import datetime
import json
import re
from collections.abc import Iterable, Mapping
from typing import Any

from solidify.case.lines import KeyPath
from solidify.case.rules import Flaw
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
    unit = at.get("unit", "")
    while at.get("type") == "array" and isinstance(at.get("items"), Mapping):
        at = at["items"]
    if "minimum" in at and "maximum" in at:
        text = f"{at['minimum']:g} to {at['maximum']:g}"
        return text if unit in ("1", "") else f"{text} {unit}"
    return ""


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
        (bool, "true or false"),
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
    "mapping_type": "a table",
    "model_type": "a table",
    "model_attributes_type": "a table",
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
    return [_value_flaw(error, schema) for error in errors]


def _value_flaw(error: Mapping[str, Any], schema: Schema) -> Flaw:
    path: KeyPath = tuple(error["loc"])
    kind, given = error["type"], error.get("input")
    at = schema_at(schema, path)
    allowed = key_range(at) or key_range(schema_at(schema, path[:-1]))
    if kind == "extra_forbidden":
        return _unknown_key(path, schema)
    if kind == "missing":
        about = f" ({', '.join(filter(None, [at.get('description', ''), allowed]))})"
        table = "properties" in at or at.get("type") == "array"
        if isinstance(path[-1], int):
            return Flaw(path[:-1], f"= {shown(given)} is too short", do="give every number of the row")
        return Flaw(path, "is missing", do="add this table" if table else f"add {path[-1]} = ...{about}")
    if kind in _WANTED:
        said = f"= {shown(given)} is {_kind(given)}; {_WANTED[kind]} is needed"
        if path == ("zone",) and isinstance(given, Mapping):
            return Flaw(
                path,
                "is one table; zones are a list",
                do="write [[zone]] with two brackets, once for each zone",
            )
        return Flaw(path, said, allowed if kind in ("float_type", "int_type", "int_from_float") else "")
    if kind == "literal_error":
        words = at.get("enum", [at.get("const", "")])
        near = closest(given, words) if isinstance(given, str) else ""
        return Flaw(path, f"= {shown(given)} is not a choice", ", ".join(json.dumps(w) for w in words), near)
    if kind == "finite_number":
        return Flaw(path, f"= {shown(given)} is not a finite number", allowed)
    if kind in ("greater_than_equal", "less_than_equal", "outside"):
        return Flaw(path, f"= {shown(error.get('ctx', {}).get('value', given))} is outside {allowed}")
    if kind == "greater_than":
        return Flaw(path, f"= {shown(given)} is not above {error['ctx']['gt']:g}")
    if kind in ("string_too_short", "too_short"):
        return Flaw(path, "is empty" if not given else f"= {shown(given)} is too short", _length(at))
    if kind in ("string_too_long", "too_long"):
        return Flaw(path, f"= {shown(given)} is too long", _length(at))
    return Flaw(path, error["msg"], allowed)


def _length(at: Schema) -> str:
    low, high = at.get("minLength", at.get("minItems")), at.get("maxLength", at.get("maxItems"))
    what = "characters" if at.get("type") == "string" else "entries"
    if low is not None and high is not None and low != high:
        return f"{low} to {high} {what}"
    return f"{low if low is not None else high} {what}{' or more' if high is None else ''}"


def _unknown_key(path: KeyPath, schema: Schema) -> Flaw:
    table, key = path[:-1], str(path[-1])
    keys = list(schema_at(schema, table).get("properties", {}))
    homes = [
        _table_name((name,))
        for name in schema["properties"]
        if key in schema_at(schema, (name, 0) if name == "zone" else (name,)).get("properties", {})
    ]
    near = closest(key, keys)
    what = "element" if table[-1:] == ("composition",) else "table" if not table else "key"
    do = f"it belongs in {' or '.join(homes)}" if homes and near != key else ""
    return Flaw(path, f"is not a known {what}", ", ".join(keys), "" if do else near, do)


# ------------------------------------------------------------------------------------- where it stands


def key_name(path: KeyPath, data: Mapping[str, Any]) -> str:
    """Return the dotted name of a key, zones by their quoted names, as `Case.replace` takes it.

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
    name = ""
    for depth, key in enumerate(path):
        if isinstance(key, int) and depth == 1 and path[0] == "zone":
            zone = data["zone"][key]
            given = zone.get("name") if isinstance(zone, Mapping) else None
            name += "." + _quoted(given) if isinstance(given, str) and given else f"[{key + 1}]"
        elif isinstance(key, int):
            name += f"[{key + 1}]"
        else:
            name += ("." if name else "") + _quoted(key)
    return name


def _quoted(key: str) -> str:
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else json.dumps(key, ensure_ascii=False)


def _table_name(table: KeyPath) -> str:
    return "[[zone]]" if table == ("zone",) else f"[{table[0]}]"


def _label(path: KeyPath, data: Mapping[str, Any]) -> str:
    """Name a key as the file shows it: ``[casting] speed_m_per_min``, ``[zone."foot rolls"] end_m``."""
    depth = 2 if len(path) > 1 and path[0] == "zone" and isinstance(path[1], int) else 1
    if len(path) == 1 and not isinstance(data.get(str(path[0])), Mapping | tuple) and path[0] in ("title",):
        return str(path[0])
    table, rest = path[:depth], path[depth:]
    named = "[[zone]]" if table == ("zone",) else f"[{key_name(table, data)}]"
    return f"{named} {key_name(rest, {})}" if rest else named


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
