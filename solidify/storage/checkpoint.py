"""A study under way: finished chunks of runs, each a file of its own in a folder beside the study file to be.

A chunk is written whole under a temporary name, reaches the disk and only then takes its own, so that whatever
stands in the folder is finished: a study that was stopped goes on with the chunks that are missing.
"""

from __future__ import annotations

import io
import json
import os
import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import numpy as np

from solidify.errors import FileFormatError, InputError, Problem
from solidify.files import check_writable, path_problem, write_whole

__all__ = ["Shards", "clear_shards"]

LABEL = "study.json"

TABLE = "rows"
"""Name in the file of a chunk under which all its columns lie as one table, written and read at one go."""


_OWN = re.compile(r"\d{7}\.npz|\.(\d{7}\.npz|study\.json)\.[0-9a-f]+\.part|merged\.part|lock|study\.json")
"""Names of all that is ever written into the folder; nothing else in it is touched."""

MOST = 2**31
"""No chunk is larger once unpacked [bytes]."""


def _folder(path: Path) -> Path:
    return path.with_name(path.name + ".parts")


def clear_shards(path: Path) -> None:
    """Take the folder of a finished study away; its label goes last, so that what is left of it stays known.

    Parameters
    ----------
    path : Path
        The study file.
    """
    folder = _folder(path)
    if folder.is_symlink() or not (folder / LABEL).is_file():
        return
    for name in sorted(folder.iterdir(), key=lambda path: path.name == LABEL):
        if _OWN.fullmatch(name.name):
            name.unlink(missing_ok=True)
    with suppress(OSError):  # what somebody else keeps there stays, and the folder with it
        folder.rmdir()


def _label(path: Path) -> dict[str, Any]:
    """Read what a folder of chunks says of itself; nothing where it says nothing that makes sense."""
    try:
        found = json.loads(path.read_text(encoding="utf-8")[:4096])
    except (ValueError, RecursionError):
        return {}
    chunk = found.get("chunk") if isinstance(found, dict) else None
    return found if isinstance(chunk, int) and not isinstance(chunk, bool) and 1 <= chunk <= 10**7 else {}


class Shards:
    """The finished chunks of a study.

    Parameters
    ----------
    path : path-like
        The study file to be.
    fingerprint : str
        Of the study.
    runs : int
        How many runs it has.
    chunk : int
        Runs in a chunk; a study that goes on keeps the number it began with.

    Raises
    ------
    InputError
        If the folder holds another study, or cannot be written to.
    """

    def __init__(self, path: str | os.PathLike[str], fingerprint: str, runs: int, chunk: int) -> None:
        self.path = check_writable(path)
        self.runs = runs
        self.folder = _folder(self.path)
        label = self.folder / LABEL
        do = "choose another name with -o, or move the folder away"
        if self.folder.is_symlink():
            given = "a link, where the finished chunks of the study are to be"
            raise InputError(Problem(str(self.folder), given, do=do))
        try:
            self.folder.mkdir(exist_ok=True)
            if not label.exists():
                if any(not name.name.endswith(".part") for name in self.folder.iterdir()):
                    given = "files stand here that no study is known to have made"
                    raise InputError(Problem(str(self.folder), given, do=do))
                write_whole(label, json.dumps({"fingerprint": fingerprint, "chunk": chunk}))
            found = _label(label)
        except OSError as error:
            raise InputError(path_problem(self.folder, error)) from None
        if found.get("fingerprint") != fingerprint:
            given = "finished chunks of another study stand here: "
            given += "another case or property file, other inputs, or another version"
            do = "choose another name with -o, or delete the folder if they are not wanted"
            raise InputError(Problem(str(self.folder), given, do=do))
        self.chunk, self.fingerprint = found["chunk"], fingerprint
        self.count = -(-runs // self.chunk)

    @contextmanager
    def locked(self) -> Iterator[None]:
        """Hold the study, so that no other process works on it at the same time."""
        with (self.folder / "lock").open("w") as file:
            try:
                import fcntl
            except ImportError:  # a system without such locks
                yield
                return
            try:
                fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except OSError:
                given = "the study is being worked on by another process"
                raise InputError(Problem(str(self.folder), given, do="wait until it has ended")) from None
            yield

    def span(self, index: int) -> range:
        """Return the runs of a chunk."""
        return range(index * self.chunk, min((index + 1) * self.chunk, self.runs))

    def missing(self) -> list[int]:
        """Return the chunks that are not finished, and clear away what a killed process left behind."""
        for left in self.folder.iterdir():
            if left.name.endswith(".part") and _OWN.fullmatch(left.name):
                left.unlink(missing_ok=True)
        there = {path.name for path in self.folder.iterdir()}
        return [i for i in range(self.count) if self._file(i).name not in there]

    def _file(self, index: int) -> Path:
        return self.folder / f"{index:07d}.npz"

    def write(self, index: int, rows: Mapping[str, Any]) -> None:
        """Put a finished chunk on the disk.

        Parameters
        ----------
        index : int
            Of the chunk.
        rows : mapping of str to array, list of str or str
            What was computed, runs along the first axis, with ``status``; a plain text holds for all of them.

        Raises
        ------
        InputError
            If it cannot be written, e.g. because the disk is full; the chunks before it are safe.
        """
        memory = io.BytesIO()
        members: dict[str, Any] = {name: text for name, text in rows.items() if isinstance(text, str)}
        members |= {"study": self.fingerprint, "index": index}
        table = _one_table({name: values for name, values in rows.items() if name not in members})
        members |= {"failed": np.count_nonzero(table["status"]), TABLE: table}
        np.savez(memory, **members)
        write_whole(self._file(index), memory.getvalue())
        _sync(self.folder)

    def read(self, index: int) -> dict[str, np.ndarray]:
        """Read a finished chunk.

        Parameters
        ----------
        index : int
            Of the chunk.

        Returns
        -------
        dict of str to ndarray
            As they were written; texts as arrays.

        Raises
        ------
        FileFormatError
            If it is damaged.
        """
        found = self._members(index)
        table = found.pop(TABLE)
        del found["study"], found["index"], found["failed"]
        return found | {name: table[name] for name in table.dtype.names or ()}

    def failed(self, index: int) -> int:
        """Return how many runs of a finished chunk failed; as `read`."""
        return int(self._members(index, "failed")["failed"])

    def _members(self, index: int, *names: str) -> dict[str, np.ndarray]:
        try:
            with np.load(self._file(index), allow_pickle=False) as file:
                if sum(member.file_size for member in file.zip.infolist()) > MOST:
                    raise ValueError("too large")
                if str(file["study"]) != self.fingerprint or int(file["index"]) != index:
                    raise ValueError("a chunk of another study or place")
                found = {name: file[name] for name in names or file.files}
            rows = len(self.span(index))
            if not names and found[TABLE].shape != (rows,):
                raise ValueError(f"{found[TABLE].shape} rows, {rows} expected")
            return found
        except Exception as error:  # of a damaged file the library raises errors of many kinds
            do = "delete this file and start the same command again"
            raise FileFormatError(Problem(str(self._file(index)), f"damaged: {error}", do=do)) from error

    @contextmanager
    def becoming(self) -> Iterator[Path]:
        """Give a path to write the study file to; once it is whole it takes its name, and the chunks go.

        Yields
        ------
        Path

        Raises
        ------
        InputError
            If it cannot be written; the chunks stay.
        """
        temporary = self.folder / "merged.part"
        try:
            yield temporary
            _sync(temporary)
            temporary.replace(self.path)
            _sync(self.path.parent)
        except OSError as error:
            raise InputError(path_problem(self.path, error)) from error
        clear_shards(self.path)


def _one_table(columns: Mapping[str, Any]) -> np.ndarray:
    """Lay columns of runs side by side."""
    arrays = {name: np.asarray(values) for name, values in columns.items()}
    table = np.empty(len(arrays["status"]), [(name, a.dtype, a.shape[1:]) for name, a in arrays.items()])
    for name, values in arrays.items():
        table[name] = values
    return table


def _sync(path: Path) -> None:
    """Let a file, or the names in a folder, reach the disk."""
    opened = os.open(path, os.O_RDONLY)
    try:
        os.fsync(opened)
    finally:
        os.close(opened)
