"""From the keys of a TOML text to the lines they stand on, so that a message can name a line.

The scanner reads text that the standard library has already accepted, so it only has to follow the shape:
tables, arrays of tables, dotted and quoted keys, inline tables, arrays over many lines, every kind of string.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right

from solidify.case.paths import KeyPath

__all__ = ["key_lines"]

_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_STRING = re.compile(
    r'"""(?:\\.|[^\\])*?"{3,5}|\'\'\'.*?\'{3,5}|"(?:\\.|[^"\\\n])*"|\'[^\'\n]*\'',
    re.DOTALL,
)
_SCALAR = re.compile(r"[^,\]}#\r\n]+")


def key_lines(text: str) -> dict[KeyPath, int]:
    r"""Return the line, counted from 1, on which each table, key and array element of a TOML text starts.

    Parameters
    ----------
    text : str
        Valid TOML.

    Returns
    -------
    dict of tuple to int

    Examples
    --------
    >>> key_lines('[casting]\nspeed_m_per_min = 0.75')
    {('casting',): 1, ('casting', 'speed_m_per_min'): 2}
    """
    return _Scanner(text).scan()


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.lines: dict[KeyPath, int] = {}
        self.counts: dict[KeyPath, int] = {}
        self.newlines = [m.start() for m in re.finditer("\n", text)]

    def scan(self) -> dict[KeyPath, int]:
        table: KeyPath = ()
        while self.blank() < len(self.text):
            start = self.at
            if self.text[self.at] != "[":
                self.pair(table)
                continue
            array = self.text.startswith("[[", self.at)
            self.at += 2 if array else 1
            table = self.header(self.keys(), array)
            self.at += 2 if array else 1
            self.note(table, start)
        return self.lines

    def note(self, path: KeyPath, start: int) -> None:
        for length in range(1, len(path) + 1):
            self.lines.setdefault(path[:length], bisect_right(self.newlines, start - 1) + 1)

    def blank(self) -> int:
        self.at = _match(_BLANK, self.text, self.at).end()
        return self.at

    def keys(self) -> list[str]:
        keys = []
        while True:
            self.blank()
            quoted = self.text[self.at] in "\"'"
            found = _match(_STRING if quoted else _BARE, self.text, self.at)
            word = found.group()
            keys.append(next(iter(tomllib.loads(f"{word}=0"))) if quoted else word)
            self.at = found.end()
            self.blank()
            if self.text[self.at] != ".":
                return keys
            self.at += 1

    def header(self, keys: list[str], array: bool) -> KeyPath:
        path: KeyPath = ()
        for position, key in enumerate(keys):
            path += (key,)
            if array and position == len(keys) - 1:
                self.counts[path] = self.counts.get(path, -1) + 1
            if path in self.counts:
                path += (self.counts[path],)
        return path

    def pair(self, table: KeyPath) -> None:
        start = self.at
        path = table + tuple(self.keys())
        self.note(path, start)
        self.at += 1
        self.value(path)

    def value(self, path: KeyPath) -> None:
        self.blank()
        first = self.text[self.at]
        if first == "[":
            self.at += 1
            count = 0
            while self.separators() != "]":
                self.note((*path, count), self.at)
                self.value((*path, count))
                count += 1
            self.at += 1
        elif first == "{":
            self.at += 1
            while self.separators() != "}":
                self.pair(path)
            self.at += 1
        else:
            self.at = _match(_STRING if first in "\"'" else _SCALAR, self.text, self.at).end()

    def separators(self) -> str:
        while self.text[self.blank()] == ",":
            self.at += 1
        return self.text[self.at]


def _match(pattern: re.Pattern[str], text: str, at: int) -> re.Match[str]:
    found = pattern.match(text, at)
    if found is None:
        raise ValueError(f"not TOML at character {at}")
    return found
