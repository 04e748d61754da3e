"""Studies on disk: one HDF5 file with a row a run."""

from __future__ import annotations

import io
import json
import os
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from typing import Any

import h5py
import numpy as np

from solidify.breakout import WORDS
from solidify.case import Case
from solidify.case.rules import printed_unit, shipped_limits
from solidify.errors import FileFormatError, InputError, Problem
from solidify.files import check_readable
from solidify.findings import VERDICTS
from solidify.result import SUMMARY

__all__ = [
    "BREAKOUT",
    "FILE_TYPE",
    "FORMAT",
    "STATUS",
    "VERDICT",
    "Column",
    "StudyTable",
    "columns",
    "failed_in",
    "finding_names",
    "finished",
    "is_study",
    "load_study",
    "write_study",
]

FILE_TYPE = "solidify study"
"""Root attribute that tells a study from a result."""

FORMAT = 1
"""Number of the layout."""

STATUS = {"done": 0, "failed": 1}
"""Of a run."""

VERDICT = {"no such limit": -1, **{word: i for i, word in enumerate(VERDICTS)}}
"""Number of each verdict; -1 where the run failed or its case has no such limit."""

BREAKOUT = {"not known": -1, **{word: i for i, word in enumerate(WORDS)}}
"""Number of each breakout risk."""

AT_ONCE = 4_000_000
"""What is put into the file of a study at one go [bytes]."""

_UDUNITS = {
    "°C": "degC", "%": "percent", "°": "degree", "m/min": "m min-1", "m/s": "m s-1", "K/s": "K s-1", "K/m": "K m-1",
    "L/min": "L min-1", "L/kg": "L kg-1", "L/(m² s)": "L m-2 s-1", "L/(m² min)": "L m-2 min-1", "kJ/kg": "kJ kg-1",
    "W/(m K)": "W m-1 K-1", "W/(m² K)": "W m-2 K-1", "kW/m²": "kW m-2", "MW/m²": "MW m-2", "kg/m³": "kg m-3",
    "J/(kg K)": "J kg-1 K-1", "mm²": "mm2", "%/m": "percent m-1", "cycles/min": "min-1",
}  # fmt: skip
_AS_THEY_ARE = {"1", "m", "mm", "s", "ms", "K", "bar"}


@dataclass(frozen=True)
class Column:
    """One dataset of a study file, with the runs along its first axis.

    Parameters
    ----------
    dims : tuple of str
        Names of the other axes.
    units : str
        In the spelling of UDUNITS; empty for words and where `note` stands.
    long_name : str
        What it is.
    kind : str
        A numpy type code, or ``"text"``.
    flags : mapping of str to int, optional
        Meaning of its numbers.
    note : str
        Stands in place of units.
    """

    dims: tuple[str, ...]
    units: str
    long_name: str
    kind: str = "f8"
    flags: Mapping[str, int] | None = None
    note: str = ""


def finding_names() -> tuple[str, ...]:
    """Return the limits along the axis ``finding``.

    Returns
    -------
    tuple of str
    """
    return tuple(shipped_limits())


def columns(keep: Sequence[str]) -> dict[str, Column]:
    """Return what is computed for each run, name by name.

    Parameters
    ----------
    keep : sequence of str
        Of ``"summary"``, ``"findings"``, ``"profiles"``.

    Returns
    -------
    dict of str to Column
    """
    found = {
        "status": Column((), "", "what became of the run", "i1", STATUS),
        "reason": Column((), "", "why the run failed", "text"),
        "warning": Column((), "", "warnings of the run that the base case does not have", "text"),
    }
    if "summary" in keep:
        for name, (units, meaning) in SUMMARY.items():
            dims = ("solid_fraction",) if name == "shell_at_mould_exit" else ()
            half_power = "/" in units
            found[name] = Column(dims, "" if half_power else units, meaning, note=units if half_power else "")
        found["balance_error"] = Column((), "1", "worst of the three errors of the heat account")
    if "findings" in keep:
        own, by_row = ("finding",), "see unit, finding by finding"
        risk = "breakout risk, from a computed mid-face slice"
        found |= {
            "breakout_risk": Column((), "", risk, "i1", BREAKOUT),
            "verdict": Column(own, "", "verdict, without error bands", "i1", VERDICT),
            "value": Column(own, "", "value found", note=by_row),
            "margin": Column(own, "", "room to the limit; negative is beyond it", note=by_row),
            "limit": Column(
                (*own, "bound"), "", "limit: the least and the largest value that keep it", note=by_row
            ),
        }
    if "profiles" in keep:
        along = ("side", "distance")
        found |= {
            "surface_temperature": Column(along, "degC", "surface temperature, middle of the face", "f4"),
            "heat_flux": Column(along, "W m-2", "heat flux out of the surface", "f4"),
            "shell_thickness": Column(along, "m", "shell thickness at the headline solid fraction", "f4"),
            "centre_temperature": Column(("distance",), "degC", "centre temperature", "f4"),
            "centre_solid_fraction": Column(("distance",), "1", "solid fraction at the centre", "f4"),
        }
    return found


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
        raise InputError(Problem(str(path), "another study stands here, or one of another version", do=do))
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
        Kinds of machine; the last digits of runs may differ between them.
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
        A file written by `solidify.studies.sweep.run_study`.

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
            marched_on = tuple(file.attrs["marched_on"].decode().splitlines())
    except FileFormatError:
        raise
    except Exception as error:  # of a damaged file the library raises errors of nearly every kind
        raise FileFormatError(Problem(str(path), f"no study, or damaged: {error}", do=do)) from error
    words = {name: tuple(values.pop(name)) for name in list(values) if name.startswith("finding_")}
    finding = tuple(values.pop("finding", ()))
    inputs = {key: values.pop(name) for name, key in paths.items()}
    fractions = values.pop("solid_fraction")
    kept = {name: v for name, v in values.items() if name not in ("run", "bound", "side")}
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
    return {spelt: unit for unit, spelt in _UDUNITS.items()}.get(unit, unit) if printed else unit


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
            machines |= {str(rows["marched_on"]) for rows in several}
            start = stop
            disk.check()
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

    HDF5 itself does not outlive a full disk.
    """

    def __init__(self, path: Path) -> None:
        super().__init__(path, "w+")
        self.refused: OSError | None = None

    def write(self, data: Any) -> int:
        rest = memoryview(data).cast("B")
        try:
            while len(rest) and self.refused is None:
                rest = rest[super().write(rest) :]
        except OSError as error:
            self.refused = error
        return len(data)

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
    """Write one input of every run: numbers as numbers, anything else as it stands in a case file."""
    about = case.about(name)
    number = about.get("type") in ("number", "integer")
    unit = about.get("unit", "1")
    units = (_UDUNITS.get(unit, unit if unit in _AS_THEY_ARE else "")) if number else ""
    note = unit if number and not units else ""
    dataset = name.replace("/", "∕")  # a name in HDF5 holds no slash
    column = Column((), units, about.get("description", name), "f8" if number else "text", note=note)
    data = _column(file, dataset, column, len(values))
    data.attrs["key_path"] = _words(name)
    data[...] = (
        [np.nan if v is None else v for v in values]
        if number
        else ["" if v is None else v if isinstance(v, str) else json.dumps(v) for v in values]
    )
