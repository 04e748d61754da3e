"""What every verb says and writes, and the exit statuses of the program."""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from functools import wraps
from pathlib import Path
from typing import Any, ParamSpec, TypeVar

from solidify.errors import printable

__all__ = [
    "BAD_INPUT",
    "BREACHED",
    "FAILED",
    "OutputError",
    "announced_compiling",
    "close_output",
    "deliver",
    "note",
    "quiet",
    "say",
    "say_written",
]

P = ParamSpec("P")
R = TypeVar("R")

BAD_INPUT, FAILED, BREACHED = 2, 1, 3
"""Exit statuses beside 0."""


class OutputError(OSError):
    """Standard output cannot be written to."""


ANNOUNCE_AFTER = 1.0
"""A march read from the cache has begun by then [s]."""


def say(text: str, end: str = "\n") -> None:
    """Print to standard output; a reader that went away, as in ``| head``, is no failure."""
    try:
        print(printable(text), end=end, flush=True)
    except BrokenPipeError:
        close_output()
    except OSError as error:
        raise OutputError(error.errno, error.strerror) from error


def close_output() -> None:
    """Let nothing be left to write at the exit."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def note(text: str) -> None:
    """Print to standard error what is no result; work goes on where nobody can read it."""
    with suppress(OSError, ValueError, AttributeError):
        print(printable(text), file=sys.stderr, flush=True)


def say_written(paths: Iterable[Path], *, apart: bool = False) -> None:
    """Print which files were written; `apart` from a page of text by an empty line."""
    say(("\n" if apart else "") + "written: " + ", ".join(map(str, paths)))


def deliver(contents: Mapping[Path, bytes | str], text: str = "", *, apart: bool = False) -> None:
    """Write files, print a text, then which files were written.

    Parameters
    ----------
    contents : mapping of Path to bytes or str
        What goes where; may be empty.
    text : str
        To print once all of it is written.
    apart : bool
        As `say_written`.

    Raises
    ------
    InputError
        If a file cannot be written.
    """
    from solidify.files import write_all

    write_all(contents)
    if text:
        say(text)
    if contents:
        say_written(contents, apart=apart)


def quiet(verb: Callable[P, R]) -> Callable[P, R]:
    """Let a verb compute with numbers of a file that may be anything: what they do not give is shown as not known."""

    @wraps(verb)
    def called(*args: P.args, **kwargs: P.kwargs) -> R:
        import numpy as np

        with np.errstate(all="ignore"):
            return verb(*args, **kwargs)

    return called


@contextmanager
def announced_compiling(march: Any = None) -> Iterator[None]:
    """Say on standard error that the march is being compiled, if it is; that of the slice unless another is given.

    Where no folder can be written that keeps it, say that too, with the remedy.
    """
    from solidify.solver import kernels

    compiled = march or kernels.march_batch
    if not compiled.signatures and compiled.stats.cache_path is None:
        note(
            "the compiled march cannot be kept on this machine: no folder for it can be written, so that every start "
            "compiles it again (some ten seconds); set the environment variable NUMBA_CACHE_DIR to a folder of yours"
        )

    def announce() -> None:
        if not compiled.signatures:
            note(
                "preparing the march: compiling for this machine, if it is the first run (some ten seconds) ..."
            )

    timer = threading.Timer(ANNOUNCE_AFTER, announce)
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()
