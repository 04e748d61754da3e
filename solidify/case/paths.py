"""Key paths of a case: their dotted names, the tables they lead into, and tables with one value put in."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any

__all__ = ["KeyPath", "dotted", "file_name", "key_name", "named_keys", "put"]

KeyPath = tuple[str | int, ...]
"""Where a value stands: table names, keys, and positions in arrays counted from 0."""


@lru_cache(maxsize=1024)
def named_keys(name: str) -> tuple[str, ...]:
    """Return the keys of a dotted name, parted as TOML parts them.

    Parameters
    ----------
    name : str
        As in `Case.replace`.

    Returns
    -------
    tuple of str

    Raises
    ------
    KeyError
        If it is no dotted name.

    Examples
    --------
    >>> named_keys('zone."foot rolls".end_m')
    ('zone', 'foot rolls', 'end_m')
    """
    try:
        at: Any = tomllib.loads(f"{name} = 0") if "\n" not in name else {}
    except ValueError:
        raise KeyError(name) from None
    keys: list[str] = []
    while isinstance(at, dict):
        if len(at) != 1:
            raise KeyError(name)
        key, at = next(iter(at.items()))
        keys.append(key)
    return tuple(keys)


def dotted(keys: Sequence[str]) -> str:
    """Return the dotted name of some keys, as TOML writes it.

    Parameters
    ----------
    keys : sequence of str
        From the outermost in.

    Returns
    -------
    str

    Examples
    --------
    >>> dotted(("zone", "foot rolls", "end_m"))
    'zone."foot rolls".end_m'
    """
    return ".".join(map(_quoted, keys))


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


def file_name(path: KeyPath, data: Mapping[str, Any]) -> str:
    """Return the name of a key as the file shows it.

    Parameters
    ----------
    path, data
        As in `key_name`.

    Returns
    -------
    str

    Examples
    --------
    >>> file_name(("zone", 0, "end_m"), {"zone": ({"name": "foot rolls"},)})
    '[zone."foot rolls"] end_m'
    """
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
    name = dotted([key for key in keys if isinstance(key, str)])
    entries = ".".join(str(key + 1) for key in keys if isinstance(key, int))
    return f"{name} (entry {entries})" if entries else name


def _quoted(key: str) -> str:
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else json.dumps(key, ensure_ascii=False)


def put(at: Any, path: KeyPath, value: Any) -> Any:
    """Return tables with one value set, sharing what did not change; None removes the key.

    Parameters
    ----------
    at : mapping or tuple
        Tables as given, lists as tuples. Where something else stands on the way to the value, it stays.
    path : tuple
        Where; tables that are not there are made.
    value : object
        What to put there, see `solidify.case.values.frozen`.

    Returns
    -------
    mapping or tuple
    """
    key, rest = path[0], path[1:]
    if isinstance(key, int):
        if not isinstance(at, tuple) or key >= len(at):
            return at
        return (*at[:key], put(at[key], rest, value) if rest else value, *at[key + 1 :])
    if not isinstance(at, Mapping):
        return at
    below = put(at.get(key, {}), rest, value) if rest else value
    if below is None or (rest and below == {} and key not in at):
        return {k: v for k, v in at.items() if k != key}
    return {**at, key: below}
