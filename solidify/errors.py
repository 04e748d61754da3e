"""What can go wrong, said so that a person can act: problems, exceptions and notices."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

__all__ = [
    "FileFormatError",
    "InputError",
    "MarchError",
    "Notice",
    "Problem",
    "SolidifyError",
    "closest",
    "told_once",
]


@dataclass(frozen=True)
class Problem:
    """One thing wrong with an input.

    Parameters
    ----------
    where : str
        File, line, table and key, e.g. ``bloom.toml:7: [casting] speed_m_per_min``.
    given : str
        What was found there, with its unit; empty when nothing was given.
    allowed : str
        What would be accepted: a range with its unit or a list.
    closest : str
        The nearest accepted word, empty when there is none.
    do : str
        What to do about it.
    """

    where: str
    given: str = ""
    allowed: str = ""
    closest: str = ""
    do: str = ""

    def __str__(self) -> str:
        text = self.where
        if self.given:
            text += f": {self.given}" if not self.where.endswith(":") else f" {self.given}"
        details = [f"allowed: {self.allowed}" if self.allowed else ""]
        details += [f"did you mean {self.closest!r}?" if self.closest else "", self.do]
        lines = [text] + [f"    {d}" for d in details if d]
        return "\n".join(lines)


class SolidifyError(Exception):
    """Any failure that the program expects and can explain."""


class InputError(SolidifyError):
    """One or more things wrong with what was given; all of them at once.

    Parameters
    ----------
    problems : Problem or sequence of Problem
        Every problem found, in the order of the file.
    """

    def __init__(self, problems: Problem | Sequence[Problem]) -> None:
        self.problems: tuple[Problem, ...] = (problems,) if isinstance(problems, Problem) else tuple(problems)
        super().__init__("\n".join(str(p) for p in self.problems))


class FileFormatError(InputError):
    """A file that is not what it should be: wrong kind, truncated, or of a newer format."""


class MarchError(SolidifyError):
    """The march stopped before its end; says why, where and when."""


@dataclass(frozen=True)
class Notice:
    """A warning that is kept in the result instead of passing by on a screen.

    Parameters
    ----------
    text : str
        One plain sentence.
    where : str
        Where it first applied, e.g. ``zone "spray 2"``.
    count : int
        How often it applied.
    """

    text: str
    where: str = ""
    count: int = 1

    def __str__(self) -> str:
        return f"{self.where}: {self.text}" if self.where else self.text


def told_once(notices: Iterable[Notice]) -> tuple[Notice, ...]:
    """Say once what is said in the same words of several zones.

    Parameters
    ----------
    notices : iterable of Notice
        In order.

    Returns
    -------
    tuple of Notice
        Each text where it first stood, with every place it applies to.

    Examples
    --------
    >>> [str(n) for n in told_once([Notice("is dry", f'zone "{i}"') for i in (1, 2)])]
    ['zone "1", zone "2": is dry']
    """
    places: dict[tuple[str, bool], list[Notice]] = {}
    for notice in notices:
        places.setdefault((notice.text, notice.where.startswith("zone ")), []).append(notice)
    found = []
    for (text, zones), group in places.items():
        if zones and len(group) > 1:
            where = ", ".join(dict.fromkeys(n.where for n in group))
            found.append(Notice(text, where, max(n.count for n in group)))
        else:
            found += dict.fromkeys(group)
    return tuple(found)


_NEAR = 0.55
"""Words less alike than this are not named as the closest."""


def closest(word: str, words: Iterable[str]) -> str:
    """Return the accepted word nearest to `word`, or an empty string.

    A word may be near as a whole, or by how it begins: names of keys end in their unit, and those of paths begin
    with their table.

    Parameters
    ----------
    word : str
        What was given.
    words : iterable of str
        What would be accepted.

    Returns
    -------
    str

    Examples
    --------
    >>> closest("speed_m_per_mn", ["speed_m_per_min", "superheat_K"])
    'speed_m_per_min'
    >>> closest("casting.sped", ["casting.superheat_K", "casting.speed_m_per_min"])
    'casting.speed_m_per_min'
    """
    pool = list(words)
    lower = {w.lower(): w for w in pool}
    if word.lower() in lower:
        return lower[word.lower()]
    near = max(lower, key=lambda w: (_nearness(word.lower(), w), w), default="")
    return lower[near] if near and _nearness(word.lower(), near) >= _NEAR else ""


def _nearness(word: str, other: str) -> float:
    """Return how alike two words are, 0 to 1; the beginning of the other, or of its last key, counts a little less."""
    begins = {text[: len(word) + 1] for text in (other, other.rpartition(".")[2])} if len(word) > 3 else set()
    match = difflib.SequenceMatcher(b=word)
    ratios = []
    for text, share in ((other, 1.0), *((text, 0.9) for text in begins)):
        match.set_seq1(text)
        ratios.append(share * match.ratio())
    return max(ratios)
