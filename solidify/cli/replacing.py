"""What may be replaced: only what this program wrote for the same case or study, unless it is told to by --force."""

from __future__ import annotations

import html
from collections.abc import Iterable
from pathlib import Path

import click

from solidify.errors import InputError, Problem

__all__ = ["check_replaceable", "force_option"]

force_option = click.option(
    "--force", is_flag=True, help="Replace files that this program did not write, or wrote for another case."
)

_HEAD = 65_536
"""What is looked at of a file [bytes]."""

_TABLES = ("run,", "quantity,unit,input,way", "speed_m_per_min,")
_COLUMNS = ("lowest_m_per_min,binds_below,highest_m_per_min,binds_above",)
"""How the tables begin that are written, and columns that no other table has."""

_MARKS = {
    ".html": (b'<meta name="generator" content="solidify',),
    ".htm": (b'<meta name="generator" content="solidify',),
    ".png": (b"Software\0solidify",),
    ".svg": (b"<dc:title>solidify", b"solidify</dc:title>", b"<cc:Agent>", b"solidify"),
    ".pdf": (b"solidify",),
    ".toml": (b"with the spray water table tuned by",),
}
"""What stands in every file of a kind that this program writes; one of them is enough."""


def check_replaceable(paths: Iterable[Path], force: bool = False, title: str = "") -> None:
    """Refuse, before anything is written, to replace what this program did not write for the same case or study.

    Parameters
    ----------
    paths : iterable of Path
        Pages, pictures, tables and tuned cases that are to be written.
    force : bool
        As ``--force``: nothing is refused.
    title : str
        Of the case or study; a page of another is not replaced. Empty where it is not known.

    Raises
    ------
    InputError
        With every file that would be lost.
    """
    problems = [] if force else [p for path in paths if (p := _stands(path, title))]
    if problems:
        raise InputError(problems)


def _stands(path: Path, title: str) -> Problem | None:
    """Say what stands at a path, where it is not to be replaced."""
    if not path.is_file() or not path.stat().st_size:
        return None
    with path.open("rb") as file:
        head = file.read(_HEAD)
    end = path.suffix.lower()
    do = "choose another name with -o, move it away, or give --force"
    if not _written_here(head, end):
        return Problem(str(path), "a file that this program did not write stands here", do=do)
    if (
        title
        and end in (".html", ".htm")
        and html.escape(title).encode()
        not in html.escape(html.unescape(head.decode("utf-8", "replace"))).encode()
    ):
        return Problem(str(path), "the page of another case or study stands here", do=do)
    return None


def _written_here(head: bytes, end: str) -> bool:
    if end == ".csv":
        first = head.decode("utf-8-sig", "replace").split("\n")[0]
        return first.startswith(_TABLES) or any(columns in first for columns in _COLUMNS)
    return any(mark in head for mark in _MARKS.get(end, ()))
