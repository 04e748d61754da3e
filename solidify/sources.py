"""The bibliography: every source key used in a data file, and the words for how well a value is known."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

from solidify.errors import InputError, Problem, closest

__all__ = ["EVIDENCE", "Source", "load_data", "source", "sources"]

EVIDENCE = {
    "seen": "read in the source",
    "recalled": "from memory",
    "practice": "common practice, no source",
    "derived": "derived or computed here",
    "user": "the user's own",
}
"""Evidence grades of a value and the words printed for them."""


@dataclass(frozen=True)
class Source:
    """One entry of the bibliography.

    Parameters
    ----------
    key : str
        Name used in the data files, e.g. ``nozaki_1978``.
    reference : str
        Full reference.
    evidence : str
        One of `EVIDENCE`: how well the content is known here.
    note : str
        What was read and what was only recalled.
    """

    key: str
    reference: str
    evidence: str
    note: str = ""

    def __str__(self) -> str:
        words = EVIDENCE[self.evidence]
        return f"{self.reference} ({words})" if self.evidence != "practice" else words


@cache
def load_data(*parts: str) -> dict[str, Any]:
    """Return one TOML file of the package's data folder, read once and not to be changed.

    Parameters
    ----------
    *parts : str
        Path below ``solidify/data``.

    Returns
    -------
    dict
    """
    text = resources.files("solidify").joinpath("data", *parts).read_text(encoding="utf-8")
    return tomllib.loads(text)


@cache
def sources() -> dict[str, Source]:
    """Return the whole bibliography, by key.

    Returns
    -------
    dict of str to Source

    Raises
    ------
    InputError
        If a key stands twice.
    """
    found: dict[str, Source] = {}
    folder = resources.files("solidify").joinpath("data", "sources")
    for entry in sorted(folder.iterdir(), key=lambda p: p.name):
        if not entry.name.endswith(".toml"):
            continue
        for key, fields in tomllib.loads(entry.read_text(encoding="utf-8")).items():
            if key in found:
                raise InputError(Problem(f"data/sources/{entry.name}: [{key}]", do="this key stands twice"))
            found[key] = Source(key, **fields)
    return found


def source(key: str) -> Source:
    """Return one entry of the bibliography.

    Parameters
    ----------
    key : str
        Its name in the data files.

    Returns
    -------
    Source

    Raises
    ------
    InputError
        If there is no such entry.
    """
    table = sources()
    if key not in table:
        raise InputError(Problem("source", repr(key), "a key of data/sources", closest(key, table)))
    return table[key]
