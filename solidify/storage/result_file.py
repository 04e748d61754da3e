"""Results to HDF5 files and back, as `solidify.storage.schema` lays them out.

A file opens in any HDF5 reader with labelled dimensions; profiles lie flat in the root so that
``xarray.open_dataset(path)`` shows them all at once. Every number is double precision, so what is judged from a
file is what was judged from the march.
"""

from __future__ import annotations

import io
import math
import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields, replace
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Any, TypeVar

import h5py
import numpy as np

from solidify.assessment.bands import Effect
from solidify.assessment.breakout import BreakoutRisk, Reason
from solidify.assessment.judge import Finding, Judgement, judge
from solidify.case import Case, parse_case
from solidify.errors import FileFormatError, InputError, Notice, Problem
from solidify.files import check_readable, check_writable, write_whole
from solidify.solver.grid import SectionWeight
from solidify.sources import source
from solidify.steel import Steel
from solidify.storage.content import RULES, case_faults, faults
from solidify.storage.schema import (
    AS_FINDING,
    ATTRIBUTES,
    BY_ROW,
    FILE_TYPE,
    FLAG,
    FORMAT,
    LAYOUT,
    TEXT,
    Columns,
)
from solidify.storage.untrusted import attribute, is_hdf5, numbers, opened, words
from solidify.strand.result import ADDED, ADDED_WORDS, MECHANISMS, Balance, MouldResult, Result, ZoneResult

__all__ = [
    "check_complete",
    "load",
    "load_judgement",
    "read_groups",
    "result_bytes",
    "result_place",
    "save",
    "set_attributes",
    "write_group",
]

PACKED = 64
"""Datasets of at least this many numbers are packed."""

_JUDGED = ("/finding", "/effect", "/breakout")
"""Groups that hold the judgement."""

_STUDY, _CAST = "solidify study", "solidify cast"
"""File types of a study and of a cast, which are no results."""

T = TypeVar("T")


def save(result: Result, path: str | os.PathLike[str], judgement: Judgement | None = None) -> None:
    """Write a result and its judgement to an HDF5 file.

    Parameters
    ----------
    result : Result
        What a march gave.
    path : str or path-like
        The file. An older one is replaced only once the new one is complete.
    judgement : Judgement, optional
        Its findings; judged here if not given.

    Raises
    ------
    InputError
        If the file cannot be written: no such folder, no permission, disk full; or if a study or another file
        stands there, see `result_place`.
    """
    result_place(path)
    write_whole(path, result_bytes(result, judgement))


def result_bytes(result: Result, judgement: Judgement | None = None) -> bytes:
    """Return what `save` writes.

    Parameters
    ----------
    result, judgement
        As for `save`.

    Returns
    -------
    bytes
        Of an HDF5 file.
    """
    values = _values(result, judgement or judge(result))
    memory = io.BytesIO()
    with h5py.File(memory, "w", track_order=True) as file:
        set_attributes(
            file,
            file_type=FILE_TYPE,
            title=result.case.title,
            created_by=result.created_by,
            created_at=result.created_at or datetime.now(UTC).isoformat(timespec="seconds"),
            shape_treatment=result.shape_treatment,
            Conventions="CF-1.11",
        )
        file.attrs["format"] = FORMAT
        for name, columns in LAYOUT.items():
            group = file if name == "/" else file.create_group(name, track_order=True)
            write_group(file, group, columns, values[name])
        steel = file["steel"].attrs
        steel["liquidus"], steel["solidus"] = result.steel.liquidus, result.steel.solidus
        set_attributes(file["steel"], sources=" ".join(result.steel.sources))
    return memory.getvalue()


def result_place(path: str | os.PathLike[str], case: Case | None = None) -> Path:
    """Refuse, before any work is done, a place where a result cannot be written or would replace something else.

    Parameters
    ----------
    path : str or path-like
        The file that is to be written. An older result there, whole or damaged, will be replaced.
    case : Case, optional
        Whose result it will be: then the result of a case of another name or title is not replaced.

    Returns
    -------
    Path
        Where the file will really stand.

    Raises
    ------
    InputError
        As `solidify.files.check_writable`, and if a study or a file of another kind stands there.
    """
    target = check_writable(path)
    if target.exists() and target.stat().st_size and (found := _other_kind(target, case)):
        do = f"choose another name, or move {target.name} away"
        raise InputError(Problem(str(path), f"{found} stands here", "a new name, or an older result", do=do))
    return target


def _other_kind(path: Path, case: Case | None) -> str:
    """Say what stands at a path that is no result; empty for a result, and for what may be a damaged one."""
    if not is_hdf5(path):
        return "another file"
    try:
        with opened(path, "result file", "") as file:
            kind, title = attribute(file, "file_type"), attribute(file, "title")
    except InputError:
        return ""
    if kind == FILE_TYPE and case is not None and title != case.title:
        return "the result of a case of another title"
    names = {FILE_TYPE: "", _STUDY: "a study of many runs", _CAST: "a cast"}
    return names.get(str(kind), "an HDF5 file of another program")


def load(path: str | os.PathLike[str]) -> Result:
    """Read a result file.

    Parameters
    ----------
    path : str or path-like
        A file written by `save`.

    Returns
    -------
    Result
        Equal to the one saved.

    Raises
    ------
    InputError
        If there is no such file or it may not be read.
    FileFormatError
        If it is no HDF5 file, another kind of one, truncated, incomplete, or of a newer format.
    """
    return _read(path, [name for name in LAYOUT if name not in _JUDGED], _result)


def load_judgement(path: str | os.PathLike[str]) -> Judgement:
    """Read the judgement that was saved with a result.

    Parameters
    ----------
    path : str or path-like
        A file written by `save`.

    Returns
    -------
    Judgement

    Raises
    ------
    InputError, FileFormatError
        As `load`.
    """
    return _read(path, ["/summary", *_JUDGED], _judgement)


# Values to and from the groups


def _values(result: Result, judgement: Judgement) -> dict[str, dict[str, Any]]:
    """Lay a result out as `LAYOUT` has it."""
    steel, case, balance = result.steel, result.case, result.balance
    findings, notices = judgement.findings, result.notices
    effects = [(f.name, effect) for f in findings for effect in f.effects]
    return {
        "/": {name: getattr(result, _ATTRIBUTE.get(name, name)) for name in LAYOUT["/"]},
        "/case": {
            "name": case.name,
            "toml": case.text,
            "effective": case.effective_toml(),
            "properties": case.property_text,
        },
        "/strand": _row(result, LAYOUT["/strand"], **_weight_columns(result.weight)),
        "/mould": _row(result.mould, LAYOUT["/mould"]),
        "/zone": _columns(result.zones, LAYOUT["/zone"]),
        "/steel": _row(
            steel,
            LAYOUT["/steel"],
            kink=steel.kinks,
            element=tuple(steel.composition),
            composition=tuple(steel.composition.values()),
            event=tuple(steel.temperatures),
            event_temperature=tuple(steel.temperatures.values()),
            phase=tuple(steel.phases),
            phase_share=np.array([*steel.phases.values()]).reshape(-1, len(steel.temperature)),
            quantity=tuple(steel.evidence),
            source=[key for key, _ in steel.evidence.values()],
            evidence=[known for _, known in steel.evidence.values()],
            reference=[str(source(key)) for key, _ in steel.evidence.values()],
            **_columns(steel.notices, LAYOUT["/warning"], number=np.arange(1, len(steel.notices) + 1)),
        ),
        "/cooling": {"source": result.sources, "reference": [str(source(key)) for key in result.sources]},
        "/summary": {**result.summary, "breakout_risk": judgement.breakout.words},
        "/finding": _columns(
            findings, LAYOUT["/finding"], bound=("lower", "upper"), limit=_limit_pairs(findings)
        ),
        "/effect": _columns(
            [effect for _, effect in effects],
            LAYOUT["/effect"],
            row=np.arange(1, len(effects) + 1),
            finding=[name for name, _ in effects],
        ),
        "/breakout": _columns(judgement.breakout.reasons, LAYOUT["/breakout"]),
        "/balance": _row(
            balance,
            LAYOUT["/balance"],
            zone=tuple(zone.name for zone in result.zones),
            mechanism=MECHANISMS,
            share=balance.heat / balance.heat.sum(),
        ),
        "/warning": _columns(notices, LAYOUT["/warning"], number=np.arange(1, len(notices) + 1)),
    }


_ATTRIBUTE = {"side": "sides", "solid_fraction": "solid_fractions"}
"""Dataset of the root -> attribute of `Result`, where they differ."""


_WEIGHT = {f"weight_{f.name}": f.name for f in fields(SectionWeight)}
"""Dataset of the strand -> number of the weight."""

_LATER = {*ADDED, *ADDED_WORDS, *_WEIGHT, "handed"}
"""Datasets that older files of the same format do not hold."""


def _weight_columns(weight: SectionWeight | None) -> dict[str, float]:
    """Return the numbers of the weight, NaN where there is none."""
    return {name: getattr(weight, own, math.nan) for name, own in _WEIGHT.items()}


def _weight(columns: dict[str, Any]) -> SectionWeight | None:
    """Take the numbers of the weight out of a group."""
    numbers = {own: columns.pop(name) for name, own in _WEIGHT.items()}
    return None if any(map(math.isnan, numbers.values())) else SectionWeight(**numbers)


def _row(thing: Any, columns: Columns, **own: Any) -> dict[str, Any]:
    """Take from a value what the columns name, but for those given apart."""
    return {name: own[name] if name in own else getattr(thing, name) for name in columns}


def _columns(rows: Sequence[Any], columns: Columns, **own: Any) -> dict[str, Any]:
    return {name: own[name] if name in own else [getattr(row, name) for row in rows] for name in columns}


def _rows(kind: type, columns: dict[str, Any]) -> tuple[Any, ...]:
    count = len(next(iter(columns.values())))
    return tuple(kind(**{name: _plain(column[i]) for name, column in columns.items()}) for i in range(count))


def _plain(value: Any) -> Any:
    return value.item() if isinstance(value, np.generic) else value


def _result(groups: dict[str, dict[str, Any]], attributes: dict[str, Any]) -> Result:
    root, text, balance, summary = (groups[name] for name in ("/", "/case", "/balance", "/summary"))
    # a property file that the text names is never looked for: what stood in it is in the result
    case = parse_case(text["toml"], text["name"], properties=text["properties"])
    if case.property_path is None:
        case = replace(case, origin=replace(case.origin, properties=None))
    if problems := case_faults(groups, case, _MAKE):
        raise FileFormatError(problems)
    del balance["zone"], balance["mechanism"], balance["share"], summary["breakout_risk"]
    if not np.ndim(balance["handed"]):
        del balance["handed"]
    return Result(
        case=case,
        steel=_steel(groups["/steel"]),
        zones=_rows(ZoneResult, groups["/zone"]),
        mould=MouldResult(**groups["/mould"]),
        balance=Balance(**balance),
        notices=_notices(groups["/warning"]),
        summary=summary,
        sources=groups["/cooling"]["source"],
        **{name: attributes[name] for name in ("shape_treatment", "created_by", "created_at")},
        **{_ATTRIBUTE.get(name, name): value for name, value in root.items()},
        weight=_weight(groups["/strand"]),
        **groups["/strand"],
    )


def _notices(columns: dict[str, Any]) -> tuple[Notice, ...]:
    """Take the notices out of a group."""
    del columns["number"]
    return _rows(Notice, {name: columns.pop(name) for name in ("text", "where", "count")})


def _steel(columns: dict[str, Any]) -> Steel:
    columns["notices"] = _notices(columns)
    del columns["reference"]
    known = zip(columns.pop("source"), columns.pop("evidence"), strict=True)
    columns["evidence"] = dict(zip(columns.pop("quantity"), known, strict=True))
    columns["phases"] = dict(zip(columns.pop("phase"), columns.pop("phase_share"), strict=True))
    columns["composition"] = dict(zip(columns.pop("element"), columns["composition"].tolist(), strict=True))
    named = columns.pop("event_temperature").tolist()
    columns["temperatures"] = dict(zip(columns.pop("event"), named, strict=True))
    return Steel(kinks=columns.pop("kink"), **columns)


def _limit_pairs(findings: Sequence[Finding]) -> np.ndarray:
    """Lower and upper bound of each limit, NaN where there is none."""
    pairs = np.full((len(findings), 2), math.nan)
    for pair, finding in zip(pairs, findings, strict=True):
        if isinstance(finding.limit, tuple):
            pair[:] = finding.limit
        else:
            pair[int(finding.sense == "at most")] = finding.limit
    return pairs


def _limit(sense: str, pair: Sequence[float]) -> float | tuple[float, float]:
    low, high = map(float, pair)
    if sense in ("within", "outside") and not math.isnan(high):
        return low, high
    return high if sense == "at most" else low


def _judgement(groups: dict[str, dict[str, Any]], attributes: dict[str, Any]) -> Judgement:
    columns = groups["/finding"]
    del columns["bound"]
    columns["limit"] = [_limit(*row) for row in zip(columns["sense"], columns["limit"], strict=True)]
    effects = groups["/effect"]
    del effects["row"]
    moved = list(zip(effects.pop("finding"), _rows(Effect, effects), strict=True))
    columns["effects"] = [tuple(e for name, e in moved if name == own) for own in columns["name"]]
    findings = _rows(Finding, columns)
    reasons = _rows(Reason, groups["/breakout"])
    return Judgement(findings, BreakoutRisk(groups["/summary"]["breakout_risk"], reasons))


# Groups to and from HDF5


def set_attributes(group: h5py.Group, **words: str) -> None:
    """Set attributes as fixed-length UTF-8; other strings make some readers fail.

    Parameters
    ----------
    group : h5py.Group
        Group or dataset.
    **words : str
        By name.
    """
    for name, text in words.items():
        data = text.encode()
        group.attrs[name] = np.array(data, dtype=h5py.string_dtype("utf-8", max(len(data), 1)))


def write_group(file: h5py.File, group: h5py.Group, columns: Columns, values: dict[str, Any]) -> None:
    """Write the datasets of a group, with dimensions, units and meaning.

    Parameters
    ----------
    file : h5py.File
        Its root holds the dimensions that the group lacks.
    group : h5py.Group
        Where.
    columns : mapping
        Dimensions, unit and meaning of each dataset, as in `solidify.storage.schema`.
    values : mapping
        Of each.
    """
    own = {name for name, (dims, _, _) in columns.items() if dims == (name,)}
    for name in sorted(columns, key=lambda name: name not in own):  # the scales first, in the table's order
        dims, units, long_name = columns[name]
        data = group.create_dataset(name, **_storage(values[name], dims, units))
        set_attributes(data, long_name=long_name)
        if units not in (TEXT, FLAG, BY_ROW, AS_FINDING) and "/" not in units:
            set_attributes(data, units=units)
        elif units != TEXT:
            notes = {FLAG: "1 yes, 0 no", BY_ROW: "see unit, row by row"}
            set_attributes(data, units_note=notes.get(units, units))
        if name in own:
            data.make_scale(name)
        else:
            for axis, dim in enumerate(dims):
                data.dims[axis].attach_scale(group[dim] if dim in own else file[dim])


def _storage(value: Any, dims: tuple[str, ...], units: str) -> dict[str, Any]:
    """How a dataset is kept: words as vlen UTF-8, long arrays packed with a checksum."""
    if units == TEXT:
        return {"data": value if dims == () else list(value), "dtype": h5py.string_dtype()}
    data = np.asarray(value)
    if units == FLAG:
        data = data.astype(np.int8)
    if data.size < PACKED:
        return {"data": data}
    return {"data": data, "chunks": data.shape, "compression": 4, "shuffle": True, "fletcher32": True}


def _read(
    path: str | os.PathLike[str],
    wanted: Sequence[str],
    make: Callable[[dict[str, dict[str, Any]], dict[str, Any]], T],
) -> T:
    """Open a file, refuse it if it is not one of ours, and make something of the groups wanted."""
    path = check_readable(path, "result file")
    if not is_hdf5(path):
        do = f"if it is a case: solidify run {path.name}" if path.suffix == ".toml" else _MAKE
        raise FileFormatError(Problem(str(path), "no HDF5 file", f"a file of type {FILE_TYPE!r}", do=do))
    with opened(path, "result file", _MAKE) as file:
        names = ("file_type", "format", *ATTRIBUTES)
        attributes = {name: value for name in names if (value := attribute(file, name)) is not None}
        _check_kind(path, attributes)
        check_complete(path, file, wanted)
        groups = read_groups(path, file, wanted)
    try:
        return make(groups, attributes)
    except InputError as error:
        of = "" if isinstance(error, FileFormatError) else "case "
        problems = [replace(problem, where=f"{path}: {of}{problem.where}") for problem in error.problems]
        raise FileFormatError(problems) from error


_MAKE = "make it again with: solidify run CASE.toml -o RESULT.h5"


def _check_kind(path: Path, attributes: Mapping[str, Any]) -> None:
    kind, number = attributes.get("file_type"), attributes.get("format")
    if kind != FILE_TYPE:
        given = f"HDF5 file of type {kind!r}" if kind else "HDF5 file of another program"
        do = "solidify report and solidify plot read a study" if kind == _STUDY else _MAKE
        raise FileFormatError(Problem(str(path), given, f"a file of type {FILE_TYPE!r}", do=do))
    if not isinstance(number, int) or not 1 <= number <= FORMAT:
        by = f" (made by {attributes['created_by']})" if attributes.get("created_by") else ""
        do = "update solidify to read it" if isinstance(number, int) and number > FORMAT else _MAKE
        raise FileFormatError(Problem(str(path), f"format {number}{by}", f"format 1 to {FORMAT}", do=do))
    lacking = [name for name in ATTRIBUTES if not isinstance(attributes.get(name), str)]
    if lacking:
        raise FileFormatError([Problem(f"{path}: attribute {name}", "missing", do=_MAKE) for name in lacking])


def check_complete(
    path: Path,
    file: h5py.File,
    wanted: Sequence[str],
    layout: Mapping[str, Columns] = LAYOUT,
    do: str = _MAKE,
) -> None:
    """Refuse a file that lacks datasets or has them in another shape, all of them at once.

    Parameters
    ----------
    path : Path
        For the message.
    file : h5py.File
        What was opened.
    wanted : sequence of str
        Its groups.
    layout : mapping of str to mapping
        Group -> dataset -> dimensions, unit and meaning.
    do : str
        What to do about it.

    Raises
    ------
    FileFormatError
        With every dataset that is missing or wrong.
    """
    problems = []
    sizes = {
        name: file[name].size
        for name, (dims, _, _) in layout["/"].items()
        if dims == (name,) and name in file
    }
    for group in wanted:
        found = file.get(group, {})
        own = {
            name: found[name].size
            for name, (dims, _, _) in layout[group].items()
            if dims == (name,) and name in found
        }
        for name, (dims, units, _) in layout[group].items():
            where = f"{path}: {group.rstrip('/')}/{name}"
            if name not in found:
                if name not in _LATER:
                    problems.append(Problem(where, "missing", do=do))
                continue
            shape = tuple((sizes | own).get(dim) for dim in dims)
            if found[name].shape != shape and None not in shape:
                problems.append(Problem(where, f"shape {found[name].shape}", f"{shape} as {dims}", do=do))
            words = h5py.check_string_dtype(found[name].dtype) is not None
            if words != (units == TEXT):
                problems.append(
                    Problem(where, *(("words", "numbers") if words else ("numbers", "words")), do=do)
                )
    if problems:
        raise FileFormatError(problems)


def read_groups(
    path: Path,
    file: h5py.File,
    wanted: Sequence[str],
    layout: Mapping[str, Columns] = LAYOUT,
    do: str = _MAKE,
) -> dict[str, dict[str, Any]]:
    """Read groups, and refuse what their datasets may not hold, all of it at once.

    Parameters
    ----------
    path : Path
        Of the file, for messages.
    file : h5py.File
        Opened by `solidify.storage.untrusted.opened`; complete, see `check_complete`.
    wanted : sequence of str
        Groups of the layout.
    layout : mapping of str to Columns
        Group -> datasets.
    do : str
        What to do about a damaged file.

    Returns
    -------
    dict of str to dict of str to value
        Words as str or tuple of str, numbers as arrays.

    Raises
    ------
    FileFormatError
        With every dataset that holds what it may not.
    """
    rules = RULES if layout is LAYOUT else {}
    problems: list[Problem] = []
    groups: dict[str, dict[str, Any]] = {}

    def note(place: str, given: str, allowed: str) -> None:
        problems.append(Problem(f"{path}: {place}", given, allowed, do=do))

    for group in wanted:
        values, before = groups.setdefault(group, {}), len(problems)
        for name, (dims, units, _) in layout[group].items():
            if name not in file[group]:  # of `_LATER`, or the file would be incomplete
                values[name] = (
                    (ADDED_WORDS[name],) * len(file[group][dims[0]]) if name in ADDED_WORDS else math.nan
                )
                continue
            data, fault = file[group][name], partial(note, f"{group.rstrip('/')}/{name}")
            if units == TEXT:
                value = words(data, None, fault)
                values[name] = tuple(value.tolist()) if dims and value is not None else value
            else:
                value = numbers(data, None, fault, **rules.get(group, {}).get(name, {}))
                values[name] = value.astype(bool) if units == FLAG and value is not None else _plain(value)
        if len(problems) == before and layout is LAYOUT:
            for name, given, allowed in faults(group, values):
                note(f"{group.rstrip('/')}/{name}", given, allowed)
    if problems:
        raise FileFormatError(problems)
    return groups
