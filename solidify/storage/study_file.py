"""Studies on disk: finding and reading a finished one."""

from __future__ import annotations

import os
import tomllib
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import h5py
import numpy as np

from solidify.errors import FileFormatError, InputError, Problem, printable
from solidify.files import check_readable
from solidify.storage.study_schema import FILE_TYPE, FORMAT, SAMPLED, columns, unit_in_print
from solidify.storage.untrusted import attribute, is_hdf5, numbers, opened, words
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
    kind = found = None
    if is_hdf5(path):
        with suppress(InputError), opened(path, "study file", do) as file:
            kind, found = attribute(file, "file_type"), attribute(file, "fingerprint")
    if kind != FILE_TYPE:
        raise InputError(Problem(str(path), "another file stands here", "a new name, or this study", do=do))
    if found != fingerprint:
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
        False also for a file that is no HDF5 file.

    Raises
    ------
    InputError
        If there is no file, or it may not be read.
    """
    check_readable(path, "result or study file")
    if not is_hdf5(path):
        return False
    with suppress(FileFormatError), opened(path, "result or study file", "") as file:
        return attribute(file, "file_type") == FILE_TYPE
    return False


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
    with opened(path, "study file", do) as file:
        number = attribute(file, "format")
        if (
            attribute(file, "file_type") != FILE_TYPE
            or not isinstance(number, int)
            or not 1 <= number <= FORMAT
        ):
            kind = (
                "another kind of file"
                if not isinstance(number, int) or number <= FORMAT
                else f"format {number}"
            )
            raise FileFormatError(Problem(str(path), kind, f"a file of type {FILE_TYPE!r}", do=do))
        return _Reader(path, file, do).table()


_ABOUT = ("title", "sampling", "created_by", "created_at")
_WORDS = ("finding_label", "finding_unit", "finding_hardness")
_SIZES = {"bound": 2, "side": 2}
_KINDS = {"f": "numbers", "i": "whole numbers"}


class _Reader:
    """One reading of a study file that goes on after a fault, so that all of them are told at once."""

    def __init__(self, path: Path, file: h5py.File, do: str) -> None:
        self.path, self.file, self.do = path, file, do
        self.problems: list[Problem] = []
        self.sizes = dict(_SIZES)

    def fault(self, name: str, given: str, allowed: str = "") -> None:
        """Note what is wrong with a dataset or an attribute."""
        self.problems.append(Problem(f"{self.path}: {printable(name)}", given, allowed, do=self.do))

    def end(self) -> None:
        """Refuse the file if anything is wrong."""
        if self.problems:
            raise FileFormatError(self.problems)

    def words(self, name: str, dims: tuple[str, ...] | None = None) -> Any:
        """Read words along some axes, by default of any length along one."""
        return self._read(words, name, dims)

    def numbers(self, name: str, dims: tuple[str, ...] | None = None, kind: str = "f", **held: Any) -> Any:
        """Read numbers along some axes."""
        found = self._read(numbers, name, dims, **held)
        if found is not None and np.asarray(found).dtype.kind != kind and np.asarray(found).size:
            self.fault(name, "numbers of another kind", _KINDS[kind])
            return None
        return found

    def _read(self, read: Any, name: str, dims: tuple[str, ...] | None, **held: Any) -> Any:
        data = self.file.get(name)
        if not isinstance(data, h5py.Dataset):
            self.fault(name, "missing")
            return None
        if dims is None and data.ndim != 1:
            self.fault(name, f"shape {data.shape}", "one axis")
            return None
        shape = None if dims is None else tuple(self.sizes[dim] for dim in dims)
        return read(data, shape, partial(self.fault, name), **held)

    def table(self) -> StudyTable:
        """Read all of it."""
        about = {name: attribute(self.file, name) for name in _ABOUT}
        for name, value in about.items():
            if not isinstance(value, str) or printable(value) != value:
                self.fault(f"attribute {name}", "missing or no plain text")
        if isinstance(about["sampling"], str) and about["sampling"] not in SAMPLED:
            self.fault("attribute sampling", repr(about["sampling"][:60]), ", ".join(SAMPLED))
        fractions = self.numbers("solid_fraction", None, finite=True, rising=True, within=(0.0, 1.0))
        run = self.numbers("run", None, "i", rising=True)
        named = self.words("finding") if "finding" in self.file else np.array(())
        self.end()
        finding = tuple(named)
        if not len(run) or not len(fractions):
            self.fault("run", "no runs")
        self.sizes |= {"run": len(run), "solid_fraction": len(fractions), "finding": len(finding)}
        if len(set(finding)) < len(finding):
            self.fault("finding", "a name twice", "each name once")
        told = {name: tuple(self._told(name)) for name in _WORDS} if finding else {}
        kept = self._columns(bool(finding))
        paths, inputs = self._inputs()
        units = {
            paths.get(name, name): _unit(data, name in paths)
            for name, data in self.file.items()
            if isinstance(data, h5py.Dataset)
        }
        effective, given = (self.words(f"case/{name}", ()) for name in ("effective", "toml"))
        self._case(effective)
        self.end()
        if "metallurgical_length" in kept:
            for name in ADDED:
                kept.setdefault(name, np.full(len(run), np.nan))
                units.setdefault(name, SUMMARY[name][0])
        marched = attribute(self.file, "marched_on")
        return StudyTable(
            inputs=inputs,
            columns=kept,
            solid_fraction=fractions,
            finding=finding,
            words=told,
            units=units,
            effective=effective,
            given=given,
            marched_on=tuple(str(marched or "").splitlines()),
            **{name: str(value) for name, value in about.items()},
        )

    def _told(self, name: str) -> Sequence[str]:
        found = self.words(name, ("finding",))
        return () if found is None else found.tolist()

    def _columns(self, judged: bool) -> dict[str, np.ndarray]:
        """Read what was computed, but for profiles."""
        kept: dict[str, np.ndarray] = {}
        wanted = columns(("summary", "findings") if judged else ("summary",))
        for name, column in wanted.items():
            if name not in self.file:
                if name in ("status", "reason", "warning"):
                    self.fault(name, "missing")
                continue
            dims = ("run", *column.dims)
            if column.kind == "text":
                found = self.words(name, dims)
            elif column.flags:
                found = self.numbers(name, dims, "i")
                if found is not None and not np.isin(found, [-1, *column.flags.values()]).all():
                    self.fault(name, "codes that mean nothing", str([*column.flags.values()]))
            else:
                found = self.numbers(name, dims, within=(-1e30, 1e30))
            if found is not None:
                kept[name] = found
        lacking = [
            name for name in ("verdict", "value", "margin", "limit") if judged and name not in self.file
        ]
        for name in lacking:
            self.fault(name, "missing")
        lacking = [name for name in SUMMARY if name not in kept and name not in ADDED]
        if "metallurgical_length" in kept and lacking:
            for name in lacking:
                self.fault(name, "missing, or wrong as told above")
        return kept

    def _inputs(self) -> tuple[dict[str, str], dict[str, np.ndarray]]:
        """Read the key paths of what varied, by dataset, and its values by key path, in the order of the file."""
        paths: dict[str, str] = {}
        found: dict[str, np.ndarray] = {}
        for name, data in self.file.items():
            key = attribute(data, "key_path") if isinstance(data, h5py.Dataset) else None
            if not isinstance(key, str):
                continue
            if printable(key) != key or key in found or not key:
                self.fault(name, "a key path twice, or no plain text")
                continue
            text = h5py.check_string_dtype(data.dtype) is not None
            values = (
                self.words(name, ("run",)) if text else self.numbers(name, ("run",), within=(-1e30, 1e30))
            )
            if values is not None and not text and np.isinf(values).any():
                self.fault(name, "numbers without end", "finite numbers, NaN where there is none")
            elif values is not None:
                found[key], paths[name] = values, key
        return paths, found

    def _case(self, effective: str | None) -> None:
        """Look whether the text of the base case is TOML; no file that it names is opened."""
        try:
            tomllib.loads(effective or "")
        except (ValueError, RecursionError):
            self.fault("case/effective", "no TOML")


def _unit(data: h5py.Dataset, printed: bool) -> str:
    """Return the unit of a dataset, or what stands in its place."""
    unit = printable(str(attribute(data, "units") or attribute(data, "units_note") or ""))[:60]
    return unit_in_print(unit) if printed else unit


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
    with opened(path, "study file", "make it again with: solidify sweep STUDY.toml") as file:
        return int(np.count_nonzero(file["status"][...]))
