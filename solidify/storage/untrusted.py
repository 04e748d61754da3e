"""HDF5 files as if from a stranger: what lies in the file itself, in kinds and amounts expected, or a refusal.

An HDF5 file can name other files for its data, ask for libraries to unpack it, point anywhere inside itself and promise
more than fits into memory. `opened` looks at all of that before a byte of data is read; `words` and `numbers` read one
dataset as its schema says. Every reader of the package goes through here, and nothing else opens such a file to read.
"""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any, BinaryIO

import h5py
import numpy as np
from h5py import h5a, h5d, h5g, h5l, h5o, h5s, h5t, h5z

from solidify.errors import FileFormatError, Problem, printable
from solidify.files import check_readable

__all__ = ["attribute", "is_hdf5", "numbers", "opened", "words"]

MOST_OBJECTS = 5000
"""Datasets and groups in one file."""

MOST_BYTES = 2**30
"""Numbers of one file together, once in memory [bytes]."""

MOST_TEXT = 2**28
"""Words of one file together [bytes]."""

LARGEST_TEXT = 4_000_000
"""One text, such as a case [bytes]."""

LARGEST_ATTRIBUTE = 65_536
"""[bytes]."""

LARGEST_HEAP = 2**24
"""Texts that lie in one piece [bytes]."""

MOST_DIMENSIONS = 4
DEEPEST = 2
"""Groups within one another: the root and what stands in it."""

PACKING = {h5z.FILTER_DEFLATE, h5z.FILTER_SHUFFLE, h5z.FILTER_FLETCHER32}
"""Filters of the library itself; any other would be looked for among the programs of this machine."""

PACKED_AT_MOST = 1100
"""No packed byte stands for more."""

_LAYOUTS = {h5d.COMPACT, h5d.CONTIGUOUS, h5d.CHUNKED}
_HEAP_ROW = 16
_ROW = np.dtype([("length", "<u4"), ("address", "<u8"), ("index", "<u4")])
"""A text of any length in a dataset: 4 bytes of its length, 8 of where it lies, 4 of which it is there."""

_SAID = 200
"""Letters of what the library says that are told."""


def is_hdf5(path: str | os.PathLike[str]) -> bool:
    """Look whether an ordinary file begins as HDF5 does.

    Parameters
    ----------
    path : str or path-like
        Any path; neither device nor pipe is opened.

    Returns
    -------
    bool
    """
    path = Path(path)
    try:
        return path.is_file() and bool(h5py.is_hdf5(path))
    except (OSError, ValueError, RuntimeError):
        return False


@contextmanager
def opened(path: str | os.PathLike[str], what: str, do: str) -> Iterator[h5py.File]:
    """Open an HDF5 file to read, all of it looked at before any data.

    Parameters
    ----------
    path : str or path-like
        The file.
    what : str
        What is expected, e.g. ``"result file"``.
    do : str
        What to do where it is refused.

    Yields
    ------
    h5py.File
        All its links are hard, its datasets lie in the file, as numbers or words, none larger than the limits above.

    Raises
    ------
    InputError
        If there is no such file or it may not be read.
    FileFormatError
        If it is no HDF5 file, or holds what none of ours does, or is damaged; also where what is done within the
        block meets damage.
    """
    path = check_readable(path, what)
    if not is_hdf5(path):
        raise FileFormatError(Problem(str(path), "no HDF5 file", f"a {what}", do=do))
    try:
        with h5py.File(path, "r") as file:
            _look(file, path, do)
            yield file
    except FileFormatError:
        raise
    except (OSError, RuntimeError, ValueError, TypeError, KeyError, LookupError, AttributeError) as error:
        raise FileFormatError(Problem(str(path), _damage(error), do=do)) from error
    except (MemoryError, RecursionError, OverflowError) as error:
        raise FileFormatError(Problem(str(path), "damaged: too large to be read", do=do)) from error


def _damage(error: Exception) -> str:
    """Say in one line what the library found."""
    said = " ".join(str(error).split())[:_SAID]
    return f"{'truncated' if 'truncated' in said else 'damaged'}: {printable(said)}"


def _look(file: h5py.File, path: Path, do: str) -> None:
    """Refuse all that a file of ours does not hold, every place of it at once."""
    root = file.id.get_create_plist()
    if root.get_userblock() or tuple(root.get_sizes()) != (8, 8):
        raise FileFormatError(Problem(str(path), "laid out as none of ours is", do=do))
    size = os.stat(path).st_size
    problems: list[Problem] = []
    totals = {"objects": 0, "bytes": 0, "text": 0}

    def wrong(name: bytes, given: str, allowed: str) -> None:
        place = printable(name.decode("utf-8", "replace"))[:_SAID]
        problems.append(Problem(f"{path}: {place}", given, allowed, do=do))

    def walk(group: h5g.GroupID, above: bytes, depth: int) -> None:
        for i, name in enumerate(group):
            totals["objects"] += 1
            if i >= MOST_OBJECTS or totals["objects"] > MOST_OBJECTS:
                wrong(above or b"/", f"more than {MOST_OBJECTS} objects", "the datasets of its format")
                return
            place = above + b"/" + name
            if group.links.get_info(name).type != h5l.TYPE_HARD:
                wrong(place, "a link to another place or file", "data in the file itself")
                continue
            kind = h5o.get_info(group, name).type
            if kind == h5o.TYPE_GROUP and depth < DEEPEST:
                walk(h5g.open(group, name), place, depth + 1)
            elif kind == h5o.TYPE_DATASET:
                found = _fault(h5d.open(group, name), size, path, totals)
                if found:
                    wrong(place, *found)
            else:
                wrong(place, "a type or a group within a group", "datasets, at most in one group")

    walk(h5g.open(file.id, b"/"), b"", 1)
    if totals["bytes"] > MOST_BYTES or totals["text"] > MOST_TEXT:
        wrong(b"/", "too much data", f"up to {MOST_BYTES >> 20} MB of numbers, {MOST_TEXT >> 20} MB of words")
    if problems:
        raise FileFormatError(problems)


def _fault(data: h5d.DatasetID, size: int, path: Path, totals: dict[str, int]) -> tuple[str, str] | None:
    """Say what is wrong with where and how a dataset is kept, and what is allowed; count what it will take."""
    made = data.get_create_plist()
    layout = made.get_layout()
    if layout not in _LAYOUTS:
        return "a virtual dataset: its data lie elsewhere", "data in the file itself"
    if made.get_external_count():
        return "its data lie in another file", "data in the file itself"
    if any(made.get_filter(i)[0] not in PACKING for i in range(made.get_nfilters())):
        return "packed in a way that is not known here", "deflate, shuffle, fletcher32"
    kind = data.get_type()
    text = kind.get_class() == h5t.STRING
    if not text and kind.get_class() not in (h5t.INTEGER, h5t.FLOAT):
        return "neither numbers nor words", "numbers or words"
    each = kind.get_size()
    if not text and (each > 8 or kind.dtype.kind not in "iuf"):
        return f"numbers of {each} bytes", "up to 8 bytes each"
    space = data.get_space()
    if space.get_simple_extent_type() == h5s.NULL:
        return "no data", "numbers or words"
    shape = space.get_simple_extent_dims() or ()
    if len(shape) > MOST_DIMENSIONS:
        return f"{len(shape)} dimensions", f"up to {MOST_DIMENSIONS}"
    count = math.prod(map(int, shape))
    if text and kind.is_variable_str():
        return _long_words(data, layout, count, size, path, totals)
    total = count * each
    kept = data.get_storage_size()
    if layout == h5d.CHUNKED:
        if math.prod(map(int, made.get_chunk())) * each > min(MOST_BYTES, PACKED_AT_MOST * size):
            return "packed in blocks larger than it can be", "blocks that the file can hold"
        if total > PACKED_AT_MOST * kept:
            return f"{total} bytes packed into {kept}", "data in the file itself"
    elif total > kept or kept > size:
        return f"{kept} bytes where {total} belong", "all its data in the file"
    totals["text" if text else "bytes"] += total
    return None


def _long_words(
    data: h5d.DatasetID, layout: int, count: int, size: int, path: Path, totals: dict[str, int]
) -> tuple[str, str] | None:
    """Add up the lengths that texts claim, as they stand in the file, before the library makes room for them."""
    if count == 0:
        return None
    if layout != h5d.CONTIGUOUS:
        return "words kept in blocks", "words in one piece"
    start = data.get_offset()
    if start is None or start + count * _HEAP_ROW > size:
        return f"{count} texts where there are none", "all its data in the file"
    rows = np.memmap(path, dtype="<u4", mode="r", offset=start, shape=(count, _HEAP_ROW // 4))
    longest, together = int(rows[:, 0].max()), int(rows[:, 0].sum(dtype=np.uint64))
    del rows
    if longest > min(LARGEST_TEXT, size):
        return f"a text of {longest} bytes", f"up to {min(LARGEST_TEXT, size)} bytes"
    totals["text"] += together
    return None


def attribute(thing: h5py.HLObject, name: str) -> str | int | float | None:
    """Read an attribute that is one text of fixed length or one number.

    Parameters
    ----------
    thing : h5py.Group or h5py.Dataset
        From `opened`.
    name : str
        Of the attribute.

    Returns
    -------
    str, int, float or None
        None where there is none, or one of another kind or size.
    """
    if not h5a.exists(thing.id, name.encode()):
        return None
    found = h5a.open(thing.id, name.encode())
    kind, space = found.get_type(), found.get_space()
    if space.get_simple_extent_type() == h5s.NULL or space.get_simple_extent_npoints() != 1:
        return None
    fixed = kind.get_class() == h5t.STRING and not kind.is_variable_str()
    if not fixed and kind.get_class() not in (h5t.INTEGER, h5t.FLOAT):
        return None
    if kind.get_size() > LARGEST_ATTRIBUTE:
        return None
    value = np.asarray(thing.attrs[name]).reshape(-1)[0]
    return value.decode("utf-8", "replace") if isinstance(value, bytes) else value.item()


def _texts(data: h5py.Dataset) -> Any:
    """Read texts of any length from where the file says they are.

    The library does not come back from a heap that is filled with zeros; its layout is that of the published format
    specification of HDF5, version 3, section III.E (global heap).
    """
    if data.size == 0:
        return np.empty(data.shape, dtype=object)
    start, count = data.id.get_offset(), data.size
    with open(data.file.filename, "rb") as file:
        file.seek(start)
        rows = np.frombuffer(file.read(count * _HEAP_ROW), dtype=_ROW)
        if len(rows) < count:
            raise ValueError("texts beyond the end of the file")
        heaps: dict[int, dict[int, bytes]] = {}
        found = np.empty(count, dtype=object)
        for i, (length, address, index) in enumerate(rows.tolist()):
            if length == 0:
                found[i] = ""
                continue
            if address not in heaps:
                heaps = {address: _heap(file, address)}  # texts lie in the order in which they are read
            kept = heaps[address].get(index, b"")
            if len(kept) < length:
                raise ValueError("a text that is not there")
            found[i] = kept[:length].decode("utf-8")
    return found.reshape(data.shape) if data.shape else found[0]


def _heap(file: BinaryIO, address: int) -> dict[int, bytes]:
    """Return the objects of one collection of the global heap, by their number."""
    file.seek(min(address, 2**62))
    head = file.read(16)
    size = int.from_bytes(head[8:], "little")
    if head[:5] != b"GCOL\1" or not 16 <= size <= LARGEST_HEAP:
        raise ValueError("no heap of texts")
    rest = file.read(size - 16)
    found: dict[int, bytes] = {}
    place = 0
    while place + 16 <= len(rest):
        index = int.from_bytes(rest[place : place + 2], "little")
        length = int.from_bytes(rest[place + 8 : place + 16], "little")
        if index == 0:  # what is free
            break
        found[index] = rest[place + 16 : place + 16 + length]
        place += 16 + (length + 7) // 8 * 8
    return found


def words(data: h5py.Dataset, shape: tuple[int, ...] | None, fault: Callable[..., None]) -> Any:
    """Read a dataset of words.

    Parameters
    ----------
    data : h5py.Dataset
        From a file of `opened`.
    shape : tuple of int, optional
        That it must have; None for any.
    fault : callable
        Told what is given and what is allowed where it is wrong.

    Returns
    -------
    ndarray of str, str or None
        One text for no dimensions; None where it is wrong.
    """
    if h5py.check_string_dtype(data.dtype) is None:
        fault("numbers", "words")
    elif shape is not None and data.shape != shape:
        fault(f"shape {data.shape}", f"{shape}")
    else:
        try:
            found = _texts(data) if data.id.get_type().is_variable_str() else data.asstr()[()]
        except ValueError as error:
            fault(f"damaged: {error}", "words in UTF-8")
            return None
        lines = found if isinstance(found, str) else "\n".join(found.ravel().tolist())
        if printable(lines.replace("\r\n", "\n")) != lines.replace("\r\n", "\n"):
            fault("control characters", "plain text")
            return None
        return found
    return None


def numbers(
    data: h5py.Dataset,
    shape: tuple[int, ...] | None,
    fault: Callable[..., None],
    *,
    finite: bool = False,
    rising: bool = False,
    within: Sequence[float] = (-math.inf, math.inf),
) -> Any:
    """Read a dataset of numbers.

    Parameters
    ----------
    data, shape, fault
        As `words`.
    finite : bool
        Whether every number must be; NaN stands for what does not exist.
    rising : bool
        Whether each must be larger than the one before.
    within : sequence of float
        Least and largest that a finite number may be.

    Returns
    -------
    ndarray, a number of numpy or None
        None where it is wrong.
    """
    if h5py.check_string_dtype(data.dtype) is not None:
        fault("words", "numbers")
        return None
    if shape is not None and data.shape != shape:
        fault(f"shape {data.shape}", f"{shape}")
        return None
    found = data[()]
    flat = np.asarray(found, dtype=float).ravel()
    known = flat[np.isfinite(flat)]
    low, high = within
    if finite and not np.isfinite(flat).all():
        fault("numbers that are not finite", "finite numbers")
    elif rising and len(flat) > 1 and not (np.diff(flat) > 0).all():
        fault("numbers that do not rise", "rising numbers")
    elif len(known) and not (low <= known.min() and known.max() <= high):
        worst = known.min() if known.min() < low else known.max()
        fault(f"{worst:.6g}", f"{low:g} to {high:g}")
    else:
        return found
    return None
