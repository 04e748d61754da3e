"""Whole files or none: writing that a failure cannot leave half done, and refusals that name the path."""

from __future__ import annotations

import errno
import os
import secrets
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from pathlib import Path

from solidify.errors import InputError, Problem, closest, printable

__all__ = [
    "check_readable",
    "check_writable",
    "path_problem",
    "read_words",
    "reserved",
    "write_all",
    "write_whole",
]

LARGEST = 2**28
"""No file of words is larger [bytes]."""

_TROUBLE = {
    errno.ENOSPC: ("the disk is full", "free some space or write elsewhere"),
    errno.EDQUOT: ("the disk quota is used up", "free some space or write elsewhere"),
    errno.EFBIG: ("the file may not grow so large", "write elsewhere or raise the limit on file sizes"),
    errno.EACCES: ("no permission", "choose a folder or file that is yours"),
    errno.EPERM: ("no permission", "choose a folder or file that is yours"),
    errno.EROFS: ("the disk is read-only", "write elsewhere"),
    errno.ENOENT: ("the folder takes no files or is gone", "choose another folder"),
    errno.ENAMETOOLONG: ("the name is too long", "choose a shorter one"),
    errno.EIO: ("the disk or what it stands on fails", "check the disk, or copy the file elsewhere"),
}


def path_problem(path: str | os.PathLike[str], error: OSError) -> Problem:
    """Say what the system said about a path in plain words.

    Parameters
    ----------
    path : str or path-like
        What was read or written.
    error : OSError
        What the system said.

    Returns
    -------
    Problem
    """
    given, do = _TROUBLE.get(error.errno or 0, (error.strerror or str(error), "check the path and the disk"))
    return Problem(str(path), given, do=do)


def _absent(path: Path, what: str) -> Problem:
    """Say which part of a path is missing and what stands in its place."""
    while not path.parent.exists():
        path, what = path.parent, "folder"
    if not path.parent.is_dir():
        return Problem(str(path.parent), "this is a file, not a folder", do="check the path")
    try:
        names = [p.name for p in path.parent.iterdir() if p.is_dir() or what != "folder"]
    except OSError as error:
        return path_problem(path.parent, error)
    return Problem(str(path), f"no such {what}", closest=closest(path.name, names), do="check the path")


def check_readable(path: str | os.PathLike[str], what: str = "file") -> Path:
    """Refuse a path that cannot be read as a file.

    Parameters
    ----------
    path : str or path-like
        The file.
    what : str
        What is expected there, for the message, e.g. ``"result file"``.

    Returns
    -------
    Path
        The same path.

    Raises
    ------
    InputError
        If nothing stands there (with the closest name in its folder), or a folder, or it may not be read.
    """
    path = Path(path)
    _check_name(path)
    try:
        if path.is_dir():
            raise InputError(Problem(str(path), "a folder", f"a {what}", do="name a file inside it"))
        if path.exists() and not path.is_file():
            raise InputError(Problem(str(path), "a device or pipe", f"a {what}", do="name an ordinary file"))
        with path.open("rb"):
            return path
    except (FileNotFoundError, NotADirectoryError):
        raise InputError(_absent(path, what)) from None
    except RuntimeError:  # a link that leads to itself
        raise InputError(Problem(str(path), "a link that leads to itself", do="check the path")) from None
    except OSError as error:
        raise InputError(path_problem(path, error)) from None


def _check_name(path: Path) -> None:
    """Refuse a name that the system cannot even look for."""
    if "\0" in str(path):
        raise InputError(Problem(printable(str(path)), "no name of a file", do="leave the NUL character out"))


def read_words(path: str | os.PathLike[str], what: str = "file") -> str:
    """Return the text of a file in UTF-8, with or without a byte order mark.

    Parameters
    ----------
    path : str or path-like
        The file.
    what : str
        As in `check_readable`.

    Returns
    -------
    str

    Raises
    ------
    InputError
        As `check_readable`, and if it is not text.
    """
    try:
        readable = check_readable(path, what)
        if readable.stat().st_size > LARGEST:
            given = f"{readable.stat().st_size >> 20} MB"
            raise InputError(Problem(str(path), given, f"up to {LARGEST >> 20} MB", do="split it"))
        return readable.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise InputError(path_problem(path, error)) from None
    except UnicodeDecodeError:
        raise InputError(
            Problem(str(path), "not text in UTF-8", do="save it as plain text in UTF-8")
        ) from None


def check_writable(path: str | os.PathLike[str]) -> Path:
    """Refuse a path that no file can be written to, before any work is done.

    Parameters
    ----------
    path : str or path-like
        The file that is to be written; it may exist.

    Returns
    -------
    Path
        Where the file will really stand: symbolic links are followed.

    Raises
    ------
    InputError
        If the folder does not exist or may not be written to, or if a folder or device stands at the path.
    """
    given = Path(path)
    _check_name(given)
    try:
        target = given.resolve()
        if target.is_dir():
            raise InputError(Problem(str(given), "a folder", "a file", do="name a file inside it"))
        if not target.parent.is_dir():
            raise InputError(_absent(target, "file"))
        if target.exists() and not target.is_file():
            raise InputError(
                Problem(str(given), "a device or pipe", "an ordinary file", do="name another file")
            )
    except OSError as error:
        raise InputError(path_problem(given, error)) from None
    if target.exists() and not target.stat().st_mode & 0o222:
        raise InputError(
            Problem(str(given), "write-protected", do="choose another name, or allow writing to it")
        )
    if not os.access(target.parent, os.W_OK | os.X_OK):
        raise InputError(path_problem(target.parent, OSError(errno.EACCES, "")))
    return target


def write_whole(path: str | os.PathLike[str], data: bytes | str) -> None:
    """Write a file so that its name only ever stands for a complete one.

    The bytes go into a temporary file of the same folder, reach the disk, and only then take the name. A
    failure before that leaves an older file of this name as it was, and nothing beside it.

    Parameters
    ----------
    path : str or path-like
        The file; an existing one is replaced, with its permissions kept.
    data : bytes or str
        The whole content; text is written as UTF-8.

    Raises
    ------
    InputError
        If the path cannot be written to or the disk is full.
    """
    write_all({Path(path): data})


def write_all(contents: Mapping[Path, bytes | str]) -> None:
    """Write files that belong together: all of them take their names once all are on the disk.

    Parameters
    ----------
    contents : mapping of Path to bytes or str
        As for `write_whole`, each whole.

    Raises
    ------
    InputError
        If one cannot be written; all files are as they were then.
    """
    targets = {Path(path): check_writable(path) for path in contents}
    ready: dict[Path, Path] = {}
    path = Path()
    try:
        for path, data in contents.items():
            target = targets[Path(path)]
            temporary = target.with_name(f".{_short(target.name)}.{secrets.token_hex(6)}.part")
            ready[temporary] = target
            _write(temporary, data.encode(errors="backslashreplace") if isinstance(data, str) else data)
            if target.exists():
                temporary.chmod(target.stat().st_mode & 0o777)
        for temporary, target in ready.items():
            temporary.replace(target)
    except OSError as error:
        raise InputError(path_problem(path, error)) from error
    finally:
        for temporary in ready:
            temporary.unlink(missing_ok=True)


def _short(name: str) -> str:
    """Cut a name so that an ending fits behind it, between two letters."""
    return os.fsencode(name)[:160].decode("utf-8", "ignore")


@contextmanager
def reserved(*paths: str | os.PathLike[str]) -> Iterator[None]:
    """Hold outputs while they are being made, so that a second command on one of them is told at once.

    Parameters
    ----------
    *paths : str or path-like
        The files that will be written.

    Yields
    ------
    None

    Raises
    ------
    InputError
        If another process is making one of them, or it cannot be written.
    """
    with ExitStack() as held:
        for path in paths:
            held.enter_context(_reserved(path))
        yield


@contextmanager
def _reserved(path: str | os.PathLike[str]) -> Iterator[None]:
    """Hold one output."""
    target = check_writable(path)
    try:
        import fcntl
    except ImportError:  # a system without such locks
        yield
        return
    lock = target.with_name(f".{_short(target.name)}.lock")
    try:
        with lock.open("w") as file:
            try:
                fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except OSError:
                given = "another command is writing it now"
                raise InputError(Problem(str(path), given, do="wait until it has ended")) from None
            try:
                yield
            finally:
                lock.unlink(missing_ok=True)
    except OSError as error:
        if error.filename != str(lock):
            raise
        raise InputError(path_problem(path, error)) from error


def _write(path: Path, content: bytes) -> None:
    """Fill a new file; where the system allows, it has no name until its bytes are on the disk."""
    can = hasattr(os, "O_TMPFILE") and os.path.isdir("/proc/self/fd")
    folder = os.open(path.parent, os.O_RDONLY) if can else -1
    try:
        nameless = folder >= 0
        try:
            fd = os.open(".", os.O_TMPFILE | os.O_WRONLY, 0o666, dir_fd=folder) if nameless else -1
        except OSError:  # not every file system has nameless files
            nameless = False
        if not nameless:
            fd = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666)
        with os.fdopen(fd, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
            if nameless:
                os.link(f"/proc/self/fd/{fd}", path.name, src_dir_fd=folder, dst_dir_fd=folder)
    finally:
        if folder >= 0:
            os.close(folder)
