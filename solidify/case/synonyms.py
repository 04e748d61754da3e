"""Other words of the trade for the two sides of a strand: inner is the loose side, outer the fixed one.

The inner side of a curved strand is towards the centre of the arc. Nearest words would take `outer` for `loose`, and so
swap the sides.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from solidify.case.given import Issue
from solidify.case.paths import KeyPath, dotted, named_keys

__all__ = [
    "SYNONYMS",
    "canonical_key",
    "canonical_name",
    "canonical_path",
    "canonical_tables",
    "canonical_value",
]

SYNONYMS = {"inner": "loose", "outer": "fixed"}
"""Word -> word that keys and results have."""


def canonical_key(key: str) -> str:
    """Return a key with the words that the case file has.

    Parameters
    ----------
    key : str
        A single key, e.g. ``"water_inner_L_per_min"``.

    Returns
    -------
    str

    Examples
    --------
    >>> canonical_key("water_inner_L_per_min"), canonical_key("outer"), canonical_key("inner_tube")
    ('water_loose_L_per_min', 'fixed', 'inner_tube')
    """
    if key in SYNONYMS:
        return SYNONYMS[key]
    for word, own in SYNONYMS.items():
        if key.startswith(f"water_{word}_"):
            return f"water_{own}_{key.removeprefix(f'water_{word}_')}"
    return key


def canonical_path(path: KeyPath) -> KeyPath:
    """Return a key path with the words that the case file has; the name of a zone stays as it is.

    Parameters
    ----------
    path : tuple
        Keys, and positions or names of zones.

    Returns
    -------
    tuple

    Examples
    --------
    >>> canonical_path(("zone", "inner", "side_shares", "inner"))
    ('zone', 'inner', 'side_shares', 'loose')
    """
    zone = path[0] == "zone"
    return tuple(
        canonical_key(key) if isinstance(key, str) and not (zone and i == 1) else key
        for i, key in enumerate(path)
    )


def canonical_name(name: str) -> str:
    """Return the dotted name of a key, as `canonical_path`; a text that is no such name stays as it is.

    Examples
    --------
    >>> canonical_name('zone."spray 1".water_outer_L_per_min'), canonical_name("two words")
    ('zone."spray 1".water_fixed_L_per_min', 'two words')
    """
    try:
        keys = named_keys(name)
    except KeyError:
        return name
    own = canonical_path(keys)
    return name if own == keys else dotted([str(key) for key in own])


def canonical_tables(data: Mapping[str, Any]) -> tuple[dict[str, Any], list[Issue]]:
    """Return the tables of a case with the words that the case file has.

    Parameters
    ----------
    data : mapping
        As read, lists as tuples.

    Returns
    -------
    data : dict
        With other keys where synonyms stood.
    issues : list of Issue
        Keys that stand beside their own synonym.
    """
    issues: list[Issue] = []

    def table(given: Any, path: KeyPath) -> Any:
        if isinstance(given, tuple):
            return tuple(table(row, (*path, i)) for i, row in enumerate(given))
        if not isinstance(given, Mapping):
            return given
        found: dict[str, Any] = {}
        for key, value in given.items():
            own = canonical_key(key)
            if own != key and own in given:
                issues.append(Issue((*path, own), f"stands beside {key}, which is the same", do="keep one"))
                continue
            found[own] = table(value, (*path, own))
        return found

    return table(data, ()), issues


def canonical_value(value: Any) -> Any:
    """Return what is put under a key, its own keys with the words that the case file has."""
    return canonical_tables({"": value})[0][""]
