"""The sourced numbers of the steel room: data files, and what is outside their validity."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from solidify.errors import InputError, Notice, Problem, closest
from solidify.sources import EVIDENCE, load_data

__all__ = ["choice", "entries", "outside", "recalled"]


def entries(name: str) -> dict[str, Any]:
    """Return one data file of the steel room, read once.

    Parameters
    ----------
    name : str
        File name below ``data/steel`` without its ending.

    Returns
    -------
    dict
    """
    return load_data("steel", f"{name}.toml")


def choice(name: str, names: Iterable[str], where: str) -> str:
    """Return `name` if it is one of `names`.

    Parameters
    ----------
    name : str
        What was asked for.
    names : iterable of str
        What there is.
    where : str
        The key or argument, for the message.

    Returns
    -------
    str

    Raises
    ------
    InputError
        If there is no such name.
    """
    pool = list(names)
    if name not in pool:
        raise InputError(Problem(where, repr(name), ", ".join(pool), closest(str(name), pool)))
    return name


def outside(entry: Mapping[str, Any], composition: Mapping[str, float], what: str) -> tuple[Notice, ...]:
    """Say which elements lie outside the validity of a data set.

    Parameters
    ----------
    entry : mapping
        A data set with ``valid`` and ``source``.
    composition : mapping of str to float
        Element -> [mass %].
    what : str
        What the set is, for the sentence.

    Returns
    -------
    tuple of Notice
        Empty, or one.
    """
    wrong = [
        f"{element} = {composition.get(element, 0.0):g} % ({low:g} to {high:g})"
        for element, (low, high) in entry.get("valid", {}).items()
        if element[0].isupper() and not low <= composition.get(element, 0.0) <= high
    ]
    if not wrong:
        return ()
    return (Notice(f"{what} is used outside its range: {', '.join(wrong)}", "steel composition"),)


def recalled(entry: Mapping[str, Any], terms: Iterable[str] = ()) -> str:
    """Return the words for how well a data set is known.

    Parameters
    ----------
    entry : mapping
        A data set with ``evidence`` and perhaps ``recalled`` terms.
    terms : iterable of str
        The terms in use.

    Returns
    -------
    str

    Examples
    --------
    >>> recalled({"evidence": "seen", "recalled": ["Ti"]}, ["C", "Ti"])
    'read in the source; Ti from memory'
    """
    words = EVIDENCE[entry["evidence"]]
    less = [t for t in entry.get("recalled", []) if t in set(terms)]
    return f"{words}; {', '.join(less)} from memory" if less else words
