"""Options and arguments that verbs share, and what is refused of them before any work is done."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from solidify.errors import InputError, Problem

if TYPE_CHECKING:
    from solidify.case import Case

__all__ = [
    "PAGES",
    "PATH",
    "at_once",
    "check_outputs",
    "example",
    "one_place",
    "picture_form",
    "result_path",
    "set_keys",
    "settings_option",
    "scheduler_option",
    "usable_folder",
    "workers_option",
]

PATH = click.Path(path_type=Path)

PAGES = (".html", ".htm")
"""How the name of a page ends."""

workers_option = click.option(
    "--workers", metavar="N", type=click.IntRange(1, 1024), help="Processes that march [default: one a core]."
)

scheduler_option = click.option(
    "--scheduler", metavar="ADDRESS", help="March on the Dask cluster of this scheduler instead."
)

settings_option = click.option(
    "--set",
    "settings",
    metavar="KEY=VALUE",
    multiple=True,
    help="Change a key of the case, e.g. casting.speed_m_per_min=0.9; may be given several times.",
)


def set_keys(case: Case, settings: Sequence[str]) -> Case:
    """Return a case with the keys changed that ``--set`` names, checked like the file.

    Parameters
    ----------
    case : Case
        As read.
    settings : sequence of str
        ``KEY=VALUE`` each: a key path as `Case.replace` takes it, and a TOML value or a bare word.

    Returns
    -------
    Case
        The same where nothing is to be changed.

    Raises
    ------
    InputError
        For what is no ``KEY=VALUE``, a key that stands twice, or whatever the case refuses; all at once.
    """
    changes: dict[str, Any] = {}
    problems = []
    for text in settings:
        key, sign, value = text.partition("=")
        key = key.strip()
        if not sign or not key or not value.strip():
            problems.append(
                Problem(f"--set {text}", "cannot be read", "KEY=VALUE, e.g. casting.speed_m_per_min=0.9")
            )
        elif key in changes:
            problems.append(Problem(f"--set {text}", "stands twice", do="give each key once"))
        else:
            changes[key] = _toml_value(value.strip())
    if problems:
        raise InputError(problems)
    return case.replace(changes) if changes else case


def _toml_value(text: str) -> Any:
    """Read a TOML value; what is none is taken as a word, so that quotes need not pass through a shell."""
    try:
        table = tomllib.loads(f"value = {text}")
    except tomllib.TOMLDecodeError:
        return text
    return table["value"] if len(table) == 1 else text


def one_place(workers: int | None, scheduler: str | None) -> None:
    """Refuse a cluster beside workers of this machine."""
    if workers and scheduler:
        raise click.UsageError("give either --workers of this machine or the --scheduler of a cluster")


def example(*lines: str) -> str:
    """Return the examples below the help of a verb."""
    return "\b\nExample:\n" + "\n".join(f"  {line}" for line in lines)


def at_once(*steps: Callable[[], Any]) -> list[Any]:
    """Take steps that each may be refused, and tell all that is wrong with any of them.

    Parameters
    ----------
    *steps : callable
        Called with nothing.

    Returns
    -------
    list
        What each returned.

    Raises
    ------
    InputError
        The problems of all steps.
    """
    found: list[Any] = []
    problems: list[Problem] = []
    for step in steps:
        try:
            found.append(step())
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError(problems)
    return found


def check_outputs(paths: Iterable[Path], ends: tuple[str, ...], what: str, allowed: str) -> None:
    """Refuse files, before any work, that do not end as they should or cannot be written.

    Parameters
    ----------
    paths : iterable of Path
        As given to ``-o``.
    ends : tuple of str
        Endings, in small letters.
    what : str
        They are to hold, e.g. ``"a page"``.
    allowed : str
        Names to give instead.

    Raises
    ------
    InputError
        All names that end otherwise; or the first file that cannot be written.
    """
    from solidify.files import check_writable

    paths = list(paths)
    problems = [
        Problem(f"-o {path}", f"no name for {what}", allowed)
        for path in paths
        if path.suffix.lower() not in ends
    ]
    if problems:
        raise InputError(problems)
    for path in paths:
        check_writable(path)


def result_path(path: Path) -> Path:
    """Refuse, before the march, a place where the result could not be written.

    Parameters
    ----------
    path : Path
        As given to ``-o``, or the default.

    Returns
    -------
    Path
        The same.

    Raises
    ------
    InputError
        If the name is that of a case, table or script, or no file can be written there.
    """
    from solidify.files import check_writable

    if path.suffix.lower() in {".toml", ".csv", ".py"}:
        raise InputError(Problem(f"-o {path}", "no place for a result", "a name like result.h5"))
    check_writable(path)
    return path


def picture_form(picture: Path) -> str:
    """Return the format of a picture, from its name.

    Parameters
    ----------
    picture : Path
        As given to ``-o``, or the default.

    Returns
    -------
    str
        One of `solidify.plots.pictures.FORMATS`.

    Raises
    ------
    InputError
        For any other, or if no file can be written there.
    """
    from solidify.files import check_writable
    from solidify.plots.pictures import FORMATS

    form = check_writable(picture).suffix.lower().removeprefix(".")
    if form not in FORMATS:
        raise InputError(
            Problem(f"-o {picture}", "no format of pictures", ", ".join(f".{f}" for f in FORMATS))
        )
    return form


def usable_folder(given: Path | None) -> Path:
    """Return a folder for files.

    Parameters
    ----------
    given : Path, optional
        As given to ``-o``; by default this one.

    Returns
    -------
    Path
        It stands, or can be made.

    Raises
    ------
    InputError
        If a file stands there or no folder can be made.
    """
    from solidify.files import check_writable

    folder = given or Path()
    if not folder.is_dir() and check_writable(folder).exists():
        raise InputError(Problem(f"-o {folder}", "a file", "a folder", do="name a folder, there or new"))
    return folder
