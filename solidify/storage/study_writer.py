"""Writing a study: one HDF5 file with a row a run."""

from __future__ import annotations

import io
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from typing import Any

import h5py
import numpy as np

from solidify.case import Case
from solidify.case.limit_rules import printed_unit, shipped_limits
from solidify.storage.study_schema import FILE_TYPE, FORMAT, Column, input_column

__all__ = ["write_study"]

AT_ONCE = 4_000_000
"""What is put into the file of a study at one go [bytes]."""


def write_study(
    path: Path,
    case: Case,
    runs: int,
    kept: Mapping[str, Column],
    inputs: Iterable[tuple[str, Sequence[Any]]],
    axes: Mapping[str, Sequence[Any]],
    blocks: Iterable[Mapping[str, np.ndarray]],
    **attributes: str,
) -> None:
    """Write the file of a study.

    Parameters
    ----------
    path : Path
        The file.
    case : Case
        The base case.
    runs : int
        How many.
    kept : mapping of str to Column
        From `columns`.
    inputs : iterable of (str, sequence)
        Key paths with their value in each run.
    axes : mapping of str to sequence
        Values along the axes ``solid_fraction``, ``finding`` and ``distance``, as far as there are such.
    blocks : iterable of mapping of str to ndarray
        The columns, some runs at a time, and where these were marched, ``marched_on``.
    **attributes : str
        Words for the root.

    Raises
    ------
    OSError
        If it cannot be written.
    """
    start, machines = 0, set()
    with _Patient(path) as disk, h5py.File(disk, "w", track_order=True) as file:
        _head(file, runs, axes, case, attributes)
        found = {name: _column(file, name, column, runs) for name, column in kept.items()}
        for several in _together(blocks):
            stop = start + sum(len(rows["status"]) for rows in several)
            for name, column in kept.items():
                put = np.concatenate([rows[name] for rows in several])
                found[name][start:stop] = put.tolist() if column.kind == "text" else put
                disk.check()
            machines |= {str(rows["marched_on"]) for rows in several}
            start = stop
        file.attrs["marched_on"] = _words("\n".join(sorted(machines)))
        for name, values in inputs:
            _input(file, name, values, case)


def _together(blocks: Iterable[Mapping[str, np.ndarray]]) -> Iterator[list[Mapping[str, np.ndarray]]]:
    """Group blocks to some `AT_ONCE` bytes: each write of a dataset takes as long as that of hundreds of runs."""
    several, size = list[Mapping[str, np.ndarray]](), 0
    for rows in blocks:
        several.append(rows)
        size += sum(values.nbytes for values in rows.values())
        if size >= AT_ONCE:
            yield several
            several, size = [], 0
    if several:
        yield several


class _Patient(io.FileIO):
    """A new file that seems to take everything; what the disk refused is told by `check` and at the end.

    HDF5 itself does not outlive a full disk, nor reading other bytes than it wrote: those refused are held until then.
    """

    def __init__(self, path: Path) -> None:
        super().__init__(path, "w+")
        self.refused: OSError | None = None
        self.held: list[tuple[int, bytes]] = []

    def write(self, data: Any) -> int:
        rest = memoryview(data).cast("B")
        start = self.tell()
        end = start + len(rest)
        try:
            while len(rest) and self.refused is None:
                rest = rest[super().write(rest) :]
        except OSError as error:
            self.refused = error
        if len(rest):
            self.held.append((end - len(rest), bytes(rest)))
            self.seek(end)
        return end - start

    def readinto(self, buffer: Any) -> int:
        into = memoryview(buffer).cast("B")
        start = self.tell()
        count = super().readinto(into) or 0
        for place, data in self.held:
            first, last = max(place, start), min(place + len(data), start + len(into))
            if first < last:
                into[first - start : last - start] = data[first - place : last - place]
                count = max(count, last - start)
        self.seek(start + count)
        return count

    def check(self) -> None:
        if self.refused is not None:
            raise self.refused

    def __exit__(self, *error: Any) -> None:
        super().__exit__(*error)
        self.check()


def _words(text: str) -> np.ndarray:
    """Return words as an attribute that every reader takes: of fixed length, UTF-8."""
    data = text.encode()
    return np.array(data, dtype=h5py.string_dtype("utf-8", max(len(data), 1)))


def _head(file: h5py.File, runs: int, axes: Mapping[str, Any], case: Case, words: Mapping[str, str]) -> None:
    """Write attributes, axes and the base case."""
    now = datetime.now(UTC).isoformat(timespec="seconds")
    about = {
        "file_type": FILE_TYPE,
        "title": case.title,
        "created_by": f"solidify {version('solidify')}",
        "created_at": now,
    }
    for name, text in {**about, "Conventions": "CF-1.11", **words}.items():
        file.attrs[name] = _words(text)
    file.attrs["format"] = FORMAT
    limits = shipped_limits()
    scales: dict[str, tuple[Any, str, str]] = {
        "run": (np.arange(1, runs + 1), "1", "number of the run"),
        "solid_fraction": (np.array(axes["solid_fraction"]), "1", "solid fraction that bounds the shell"),
    }
    if "finding" in axes:
        scales["finding"] = (list(limits), "", "limit, by name")
        scales["bound"] = (["lower", "upper"], "", "side of a limit")
    if "distance" in axes:
        scales["side"] = (["loose", "fixed"], "", "side of the strand")
        scales["distance"] = (np.array(axes["distance"]), "m", "distance from the meniscus")
    for name, (values, units, long_name) in scales.items():
        kind = h5py.string_dtype() if isinstance(values, list) else None
        data = file.create_dataset(name, data=values, dtype=kind)
        data.attrs["long_name"] = _words(long_name)
        if units:
            data.attrs["units"] = _words(units)
        data.make_scale(name)
    if "finding" in axes:
        for name, key, long_name in (
            ("finding_label", "label", "limit, in words"),
            ("finding_unit", "unit", "unit of value, margin and limit"),
            ("finding_hardness", "hardness", "hard or soft"),
        ):
            told = [printed_unit(limit[key]) if key == "unit" else limit[key] for limit in limits.values()]
            data = file.create_dataset(name, data=told, dtype=h5py.string_dtype())
            data.attrs["long_name"] = _words(long_name)
            data.dims[0].attach_scale(file["finding"])
    group = file.create_group("case")
    for name, text in (("name", case.name), ("toml", case.text), ("effective", case.effective_toml())):
        group.create_dataset(name, data=text, dtype=h5py.string_dtype())


def _column(file: h5py.File, name: str, column: Column, runs: int) -> h5py.Dataset:
    """Make an empty dataset with its axes."""
    shape = (runs, *(len(file[dim]) for dim in column.dims))
    if column.kind == "text":
        data = file.create_dataset(name, shape, dtype=h5py.string_dtype())
    elif "distance" in column.dims:
        rows = max(min(runs, 65536 // int(np.prod(shape[1:]))), 1)
        packed: dict[str, Any] = {"compression": 4, "shuffle": True, "fletcher32": True}
        data = file.create_dataset(name, shape, dtype=column.kind, chunks=(rows, *shape[1:]), **packed)
    else:
        data = file.create_dataset(name, shape, dtype=column.kind)
    data.attrs["long_name"] = _words(column.long_name)
    if column.units:
        data.attrs["units"] = _words(column.units)
    if column.note:
        data.attrs["units_note"] = _words(column.note)
    if column.flags:
        data.attrs["flag_values"] = np.array([*column.flags.values()], dtype="i1")
        data.attrs["flag_meanings"] = _words(" ".join(word.replace(" ", "_") for word in column.flags))
    for axis, dim in enumerate(("run", *column.dims)):
        data.dims[axis].attach_scale(file[dim])
    return data


def _input(file: h5py.File, name: str, values: Sequence[Any], case: Case) -> None:
    """Write one input of every run."""
    column = input_column(case, name)
    data = _column(file, name.replace("/", "∕"), column, len(values))  # a name in HDF5 holds no slash
    data.attrs["key_path"] = _words(name)
    data[...] = (
        ["" if v is None else v if isinstance(v, str) else json.dumps(v) for v in values]
        if column.kind == "text"
        else [np.nan if v is None else v for v in values]
    )
