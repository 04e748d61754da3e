"""Casts to HDF5 files and back, as `solidify.storage.cast_schema` lays them out."""

from __future__ import annotations

import io
import os
from collections.abc import Mapping
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from typing import Any

import h5py
import numpy as np

from solidify.errors import FileFormatError, InputError, Problem
from solidify.files import check_readable, check_writable
from solidify.storage.cast_schema import CAST_LAYOUT, CAST_TYPE, FORMAT
from solidify.storage.schema import TEXT

__all__ = ["cast_place", "packed_cast", "read_cast_file"]

_PACKED = 64


def cast_place(path: str | os.PathLike[str]) -> Path:
    """Refuse, before any work is done, a place where a cast cannot be written or would replace something else.

    Parameters
    ----------
    path : str or path-like
        The file that is to be written; an older cast there will be replaced.

    Returns
    -------
    Path
        Where the file will really stand.

    Raises
    ------
    InputError
        As `solidify.files.check_writable`, and if another file stands there.
    """
    target = check_writable(path)
    if target.suffix.lower() in {".toml", ".csv", ".py", ".html"}:
        raise InputError(Problem(str(path), "no place for a cast", "a name like cast.h5"))
    if target.exists() and target.stat().st_size and _kind(target) not in (CAST_TYPE, None):
        do = f"choose another name, or move {target.name} away"
        raise InputError(
            Problem(str(path), "another file stands here", "a new name, or an older cast", do=do)
        )
    return target


def _kind(path: Path) -> str | None:
    """Return the file type that a file says; None for a damaged HDF5 file."""
    if not h5py.is_hdf5(path):
        return "another"
    try:
        with h5py.File(path, "r") as file:
            kind = file.attrs.get("file_type", b"")
    except Exception:  # of a damaged file the library raises errors of nearly every kind
        return None
    return kind.decode() if isinstance(kind, bytes) else str(kind)


def packed_cast(title: str, values: Mapping[str, Mapping[str, Any]]) -> bytes:
    """Return the bytes of a cast file.

    Parameters
    ----------
    title : str
        Of the cast.
    values : mapping of str to mapping
        Group to dataset to value, as `CAST_LAYOUT` lays them out.

    Returns
    -------
    bytes
    """
    memory = io.BytesIO()
    with h5py.File(memory, "w", track_order=True) as file:
        for name, words in {
            "file_type": CAST_TYPE,
            "title": title,
            "created_by": f"solidify {version('solidify')}",
            "created_at": datetime.now(UTC).isoformat(timespec="seconds"),
            "Conventions": "CF-1.11",
        }.items():
            file.attrs[name] = np.bytes_(words.encode())
        file.attrs["format"] = FORMAT
        for group_name, columns in CAST_LAYOUT.items():
            group = file if group_name == "/" else file.create_group(group_name, track_order=True)
            for name, (dims, unit, meaning) in columns.items():
                _write(group, name, values[group_name][name], dims, unit, meaning)
    return memory.getvalue()


def _write(group: Any, name: str, value: Any, dims: tuple[str, ...], unit: str, meaning: str) -> None:
    if unit == TEXT:
        made = group.create_dataset(name, data=value, dtype=h5py.string_dtype(), shape=np.shape(value))
    else:
        data = np.asarray(value)
        more = {"compression": "gzip", "shuffle": True} if data.size >= _PACKED else {}
        made = group.create_dataset(name, data=data, **more)
        made.attrs["units"] = np.bytes_(unit.encode())
    made.attrs["long_name"] = np.bytes_(meaning.encode())
    for axis, dim in enumerate(dims):
        if dim == name:
            made.make_scale(dim)
        elif dim in group and dim in group.file:
            made.dims[axis].attach_scale(group[dim])
        made.dims[axis].label = dim


def read_cast_file(path: str | os.PathLike[str]) -> dict[str, dict[str, Any]]:
    """Read a cast file.

    Parameters
    ----------
    path : str or path-like
        A file that `solidify cast` wrote.

    Returns
    -------
    dict of str to dict
        Group to dataset to value: arrays, words, and tuples of words.

    Raises
    ------
    InputError
        If there is no such file or it may not be read.
    FileFormatError
        If it is no cast, truncated, incomplete, or of a newer format.
    """
    place = check_readable(path, "cast file")
    kind = _kind(place)
    if kind != CAST_TYPE:
        raise FileFormatError(
            Problem(str(path), "is no whole file of a cast", do="give a file of solidify cast")
        )
    try:
        with h5py.File(place, "r") as file:
            newer = int(file.attrs["format"])
            if newer > FORMAT:
                said = f"has format {newer}, this version reads up to {FORMAT}"
                raise FileFormatError(Problem(str(path), said, do="update solidify"))
            return {
                group: {name: _read(file[group][name], unit) for name, (_, unit, _) in columns.items()}
                for group, columns in CAST_LAYOUT.items()
            }
    except (OSError, KeyError, RuntimeError) as error:
        raise FileFormatError(
            Problem(str(path), f"is incomplete: {error}", do="run the cast again")
        ) from None


def _read(dataset: Any, unit: str) -> Any:
    if unit != TEXT:
        return dataset[()]
    found = dataset.asstr()[()]
    return found if isinstance(found, str) else tuple(found.tolist())
