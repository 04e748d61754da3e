"""Studies on disk: finding and reading a finished one."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

import h5py
import numpy as np

from solidify.errors import FileFormatError, InputError, Problem
from solidify.files import check_readable
from solidify.storage.study_schema import FILE_TYPE, FORMAT, unit_in_print
from solidify.strand.result import ADDED, SUMMARY

__all__ = ["StudyTable", "failed_in", "finished", "is_study", "load_study"]


def finished(path: Path, fingerprint: str) -> bool:
    """Look whether a finished study stands at a path.

    Parameters
    ----------
    path : Path
        The study file to be.
    fingerprint : str
        Of the study.

    Returns
    -------
    bool
        False where nothing stands.

    Raises
    ------
    InputError
        If another study, or another file, stands there.
    """
    if not path.exists():
        return False
    do = f"choose another name with -o, or move {path.name} away"
    try:
        with h5py.File(path, "r") as file:
            kind, found = file.attrs.get("file_type"), file.attrs.get("fingerprint")
    except OSError:
        kind = found = None
    if not isinstance(kind, bytes) or kind.decode() != FILE_TYPE:
        raise InputError(Problem(str(path), "another file stands here", "a new name, or this study", do=do))
    if not isinstance(found, bytes) or found.decode() != fingerprint:
        given = "another study stands here: another case or property file, other inputs, or another version"
        raise InputError(Problem(str(path), given, do=do))
    return True


@dataclass(frozen=True)
class StudyTable:
    """A finished study without its profiles.

    Parameters
    ----------
    title, sampling : str
        Of the base case; ``"grid"``, ``"latin"``, ``"sobol"``, ``"sobol indices"`` or ``"table"``.
    inputs : dict of str to ndarray
        Key path to its value in each run, in the units of the case file.
    columns : dict of str to ndarray
        What was kept, runs along the first axis, named as in `columns`.
    solid_fraction : ndarray
        Along the axis of that name [1].
    finding : tuple of str
        Limits by name, along the axis of that name; empty when findings were not kept.
    words : dict of str to tuple of str
        ``finding_label``, ``finding_unit`` and ``finding_hardness``.
    units : dict of str to str
        Unit of each input as it prints (``"m/min"``) and of each column in the spelling of the file; empty for
        words.
    effective : str
        The base case with every value used, as TOML.
    given : str
        The base case as it was given, as TOML.
    created_by, created_at : str
        Version that made it, and when (ISO 8601).
    marched_on : tuple of str
        Kinds of machine; the last digits of runs may differ between them. Empty where the file does not say.
    """

    title: str
    sampling: str
    inputs: dict[str, np.ndarray]
    columns: dict[str, np.ndarray]
    solid_fraction: np.ndarray
    finding: tuple[str, ...]
    words: dict[str, tuple[str, ...]]
    units: dict[str, str]
    effective: str
    given: str
    created_by: str
    created_at: str
    marched_on: tuple[str, ...]

    @property
    def runs(self) -> int:
        """Number of runs."""
        return len(self.columns["status"])

    @property
    def random(self) -> bool:
        """Whether the runs were drawn."""
        return self.sampling in ("latin", "sobol", "sobol indices")

    @property
    def independent(self) -> np.ndarray:
        """Which runs were drawn independently of one another, shape (runs,): all, but of Sobol pairs two a draw."""
        a_draw = len(self.inputs) + 2 if self.sampling == "sobol indices" else 1
        return np.arange(self.runs) % a_draw < 2


def is_study(path: str | os.PathLike[str]) -> bool:
    """Look whether a file says that it is a study, finished and whole or not.

    Parameters
    ----------
    path : str or path-like
        Any file.

    Returns
    -------
    bool
        False also for what is no such file at all.
    """
    try:
        with h5py.File(path, "r") as file:
            kind = file.attrs.get("file_type")
    except OSError:
        return False
    return isinstance(kind, bytes) and kind.decode() == FILE_TYPE


def load_study(path: str | os.PathLike[str]) -> StudyTable:
    """Read a finished study.

    Parameters
    ----------
    path : str or path-like
        A file written by `solidify.study.run.run_study`.

    Returns
    -------
    StudyTable

    Raises
    ------
    InputError
        If there is no such file or it may not be read.
    FileFormatError
        If it is no study, or damaged, or of a newer format.
    """
    path = check_readable(path, "study file")
    do = "make one with: solidify sweep STUDY.toml -o STUDY.h5"
    try:
        with h5py.File(path, "r") as file:
            kind, number = file.attrs.get("file_type"), file.attrs.get("format")
            if not isinstance(kind, bytes) or kind.decode() != FILE_TYPE or int(number) > FORMAT:
                given = (
                    "another kind of file" if number is None or int(number) <= FORMAT else f"format {number}"
                )
                raise FileFormatError(Problem(str(path), given, f"a file of type {FILE_TYPE!r}", do=do))
            found = {name: data for name, data in file.items() if isinstance(data, h5py.Dataset)}
            values = {name: _values(data) for name, data in found.items() if "distance" not in _dims(data)}
            paths = {
                name: data.attrs["key_path"].decode()
                for name, data in found.items()
                if "key_path" in data.attrs
            }
            units = {paths.get(name, name): _unit(data, name in paths) for name, data in found.items()}
            title, sampling = file.attrs["title"].decode(), file.attrs["sampling"].decode()
            created_by, created_at = (file.attrs[f"created_{word}"].decode() for word in ("by", "at"))
            effective, given = (file[f"case/{name}"].asstr()[()] for name in ("effective", "toml"))
            marched_on = tuple(file.attrs.get("marched_on", b"").decode().splitlines())
    except FileFormatError:
        raise
    except Exception as error:  # of a damaged file the library raises errors of nearly every kind
        raise FileFormatError(Problem(str(path), f"no study, or damaged: {error}", do=do)) from error
    words = {name: tuple(values.pop(name)) for name in list(values) if name.startswith("finding_")}
    finding = tuple(values.pop("finding", ()))
    inputs = {key: values.pop(name) for name, key in paths.items()}
    fractions = values.pop("solid_fraction")
    kept = {name: v for name, v in values.items() if name not in ("run", "bound", "side")}
    if "metallurgical_length" in kept:
        for name in ADDED:
            kept.setdefault(name, np.full(len(kept["status"]), np.nan))
            units.setdefault(name, SUMMARY[name][0])
    return StudyTable(
        title,
        sampling,
        inputs,
        kept,
        fractions,
        finding,
        words,
        units,
        effective,
        given,
        created_by,
        created_at,
        marched_on,
    )


def _unit(data: h5py.Dataset, printed: bool) -> str:
    """Return the unit of a dataset, or what stands in its place."""
    unit = (data.attrs.get("units") or data.attrs.get("units_note", b"")).decode()
    return unit_in_print(unit) if printed else unit


def _values(data: h5py.Dataset) -> np.ndarray:
    return data.asstr()[...] if h5py.check_string_dtype(data.dtype) else data[...]


def _dims(data: h5py.Dataset) -> list[str]:
    scales = [Path(scale.name).name for dim in data.dims for scale in dim.values()]
    return [*scales, *([Path(data.name).name] if data.is_scale else [])]


def failed_in(path: Path) -> int:
    """Count the failed runs of a finished study.

    Parameters
    ----------
    path : Path
        The study file.

    Returns
    -------
    int
    """
    with h5py.File(path, "r") as file:
        return int(np.count_nonzero(file["status"][...]))
