"""Results to HDF5 files and back; the layout below is the whole file.

A file opens in any HDF5 reader with labelled dimensions; profiles lie flat in the root so that
``xarray.open_dataset(path)`` shows them all at once. Profiles, tables and figures are double precision, so
what is judged from a file is what was judged from the march; the two section fields are single precision.
"""

from __future__ import annotations

import io
import math
import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, TypeVar

import h5py
import numpy as np

from solidify.breakout import BreakoutRisk, Reason
from solidify.case import parse_case
from solidify.errors import FileFormatError, InputError, Notice, Problem
from solidify.files import check_readable, check_writable, write_whole
from solidify.findings import Finding, Judgement, judge
from solidify.result import MECHANISMS, SUMMARY, Balance, MouldResult, Result, ZoneResult
from solidify.steel import Steel

__all__ = ["FILE_TYPE", "FORMAT", "LAYOUT", "load", "load_judgement", "save"]

FILE_TYPE = "solidify result"
"""Root attribute that tells a result from other HDF5 files."""

FORMAT = 1
"""Number of the layout; a file with a higher one is refused."""

ATTRIBUTES = ("title", "created_by", "created_at", "shape_treatment", "Conventions")
"""Words that every file carries at its root."""

PACKED = 64
"""Datasets of at least this many numbers are packed."""

TEXT = "text"
"""Stands in `LAYOUT` in place of a unit: the dataset holds words."""

BY_ROW = "by row"
"""Stands in place of a unit: each row names its own."""

FLAG = "flag"
"""Stands in place of a unit: 1 for yes, 0 for no."""

T = TypeVar("T")

Columns = dict[str, tuple[tuple[str, ...], str, str]]

_FIELD = ("section_distance", "depth")
_ROOT: Columns = {
    "distance": (("distance",), "m", "distance from the meniscus"),
    "side": (("side",), TEXT, "side of the strand: both alike, or loose and fixed"),
    "solid_fraction": (("solid_fraction",), "1", "solid fraction that bounds the shell"),
    "section_distance": (("section_distance",), "m", "distance from the meniscus of a kept section"),
    "depth": (("depth",), "m", "depth from the surface, of the loose side if the sides differ"),
    "time": (("distance",), "s", "time since the meniscus"),
    "surface_temperature": (("side", "distance"), "degC", "surface temperature, middle of the face"),
    "shell_thickness": (("side", "solid_fraction", "distance"), "m", "shell thickness"),
    "equivalent_shell": (("side", "distance"), "m", "integral of the solid fraction over the depth"),
    "centre_temperature": (("distance",), "degC", "centre temperature"),
    "centre_solid_fraction": (("distance",), "1", "solid fraction at the centre"),
    "heat_flux": (("side", "distance"), "W m-2", "heat flux out of the surface"),
    "heat_transfer_coefficient": (("side", "distance"), "W m-2 K-1", "heat-transfer coefficient"),
    "section_temperature": (_FIELD, "degC", "temperature over the section"),
    "section_solid_fraction": (_FIELD, "1", "solid fraction over the section"),
}
_CASE: Columns = {
    "name": ((), TEXT, "name of the case file"),
    "toml": ((), TEXT, "the case as given"),
    "effective": ((), TEXT, "every value used, defaults included"),
}
_STRAND: Columns = {
    "thickness": ((), "m", "thickness, hot, at mould exit"),
    "width": ((), "m", "width, hot, at mould exit"),
    "half_thickness": ((), "m", "half thickness or radius, hot, at mould exit"),
    "tundish_temperature": ((), "degC", "steel temperature in the tundish"),
    "superheat": ((), "K", "superheat in the tundish"),
    "pouring_temperature": ((), "degC", "steel temperature at the meniscus"),
    "headline": ((), "1", "solid fraction of the headline shell"),
}
_MOULD: Columns = {
    "mean_flux": ((), "W m-2", "mean heat flux over the dwell, after the factor"),
    "exit_flux": ((), "W m-2", "heat flux at mould exit"),
    "origin": ((), TEXT, "where the flux comes from"),
    "law": ((), TEXT, "the flux law in words"),
    "dwell": ((), "s", "time in the mould"),
    "working_length": ((), "m", "meniscus to mould exit"),
    "expected_mean_flux": ((), "W m-2", "mean heat flux that the plant calls normal at this speed"),
    "water_rise": ((), "K", "rise of the mould water"),
}
_ZONE: Columns = {
    "name": (("name",), TEXT, "stretch of the strand"),
    "kind": (("name",), TEXT, "mould, zone or open strand"),
    "start": (("name",), "m", "start, distance from the meniscus"),
    "end": (("name",), "m", "end, distance from the meniscus"),
    "water": (("name",), "kg s-1", "all water of the zone on one strand"),
    "water_flux": (("name", "side"), "kg m-2 s-1", "water on the sprayed area, zone mean"),
    "mean_flux": (("name", "side"), "W m-2", "mean heat flux"),
    "heat_removed": (("name", "side"), "J m-2", "heat removed from the slice"),
    "surface_in": (("name", "side"), "degC", "surface temperature where the slice enters"),
    "surface_out": (("name", "side"), "degC", "surface temperature where the slice leaves"),
}
_BALANCE: Columns = {
    "zone": (("zone",), TEXT, "stretch of the strand"),
    "mechanism": (("mechanism",), TEXT, "what takes the heat"),
    "heat": (("side", "zone", "mechanism"), "J m-2", "heat removed per area of slice surface"),
    "share": (("side", "zone", "mechanism"), "1", "share of all heat removed"),
    "flux_error": ((), "1", "flux sum against marched enthalpy lost, relative"),
    "table_error": ((), "1", "marched enthalpy against the table, over latent heat"),
    "recount_error": ((), "1", "heat recounted from final temperatures against the flux sum, relative"),
    "steps": ((), "1", "steps of the march"),
    "rejected": ((), "1", "steps taken again"),
    "iterations": ((), "1", "iterations of the march"),
    "nodes": ((), "1", "nodes over the depth"),
}
_WARNING: Columns = {
    "number": (("number",), "1", "number of the warning"),
    "text": (("number",), TEXT, "what is to be known"),
    "where": (("number",), TEXT, "where it first applied"),
    "count": (("number",), "1", "how often it applied"),
}
_STEEL: Columns = {
    "temperature": (("temperature",), "degC", "temperature"),
    "enthalpy": (("temperature",), "J kg-1", "specific enthalpy"),
    "conductivity": (("temperature",), "W m-1 K-1", "thermal conductivity, stirring of the pool included"),
    "solid_fraction": (("temperature",), "1", "solid fraction"),
    "density": (("temperature",), "kg m-3", "density"),
    "shrinkage": (("temperature",), "1", "free linear thermal strain against the solidus"),
    "kink": (("kink",), "degC", "temperature where a slope breaks"),
    "element": (("element",), TEXT, "element of the composition"),
    "composition": (("element",), "percent", "mass share of the element"),
    "event": (("event",), TEXT, "event on the way from liquid to cold"),
    "event_temperature": (("event",), "degC", "temperature of the event"),
    "liquidus": ((), "degC", "liquidus"),
    "solidus": ((), "degC", "solidus"),
    "march_density": ((), "kg m-3", "the one density that marches"),
    "latent_heat": ((), "J kg-1", "latent heat of solidification"),
    "carbon_equivalent": ((), "percent", "carbon equivalent"),
    "ferrite_potential": ((), "1", "ferrite potential"),
    "cooling_rate": ((), "K s-1", "nominal cooling rate through the freezing range"),
    "arm_spacing": ((), "m", "secondary dendrite arm spacing"),
    "steel_class": ((), TEXT, "steel class"),
    "path_model": ((), TEXT, "how the solid fraction was found"),
    "phase": (("phase",), TEXT, "phase"),
    "phase_share": (("phase", "temperature"), "1", "mass share of the phase"),
    "quantity": (("quantity",), TEXT, "quantity that rests on a source"),
    "source": (("quantity",), TEXT, "key of the source"),
    "evidence": (("quantity",), TEXT, "how well the quantity is known"),
    **_WARNING,
}
_SUMMARY: Columns = {name: ((), units, meaning) for name, (units, meaning) in SUMMARY.items()}
_SUMMARY["shell_at_mould_exit"] = (("solid_fraction",), *SUMMARY["shell_at_mould_exit"])
_SUMMARY["breakout_risk"] = ((), TEXT, "breakout risk in words, from a computed mid-face slice")
_FINDING: Columns = {
    "name": (("name",), TEXT, "limit, by name"),
    "label": (("name",), TEXT, "limit, in words"),
    "value": (("name",), BY_ROW, "value found"),
    "low": (("name",), BY_ROW, "lower end of the value's band"),
    "high": (("name",), BY_ROW, "upper end of the value's band"),
    "unit": (("name",), TEXT, "unit of value, band, limit and margin"),
    "bound": (("bound",), TEXT, "side of a limit"),
    "limit": (("name", "bound"), BY_ROW, "limit: the least and the largest value that keep it"),
    "sense": (("name",), TEXT, "how the value is to stand to the limit"),
    "margin": (("name",), BY_ROW, "room to the limit; negative is beyond it"),
    "close": (("name",), BY_ROW, "room below which a limit is close while no band is known"),
    "verdict": (("name",), TEXT, "verdict"),
    "hardness": (("name",), TEXT, "hard or soft"),
    "where": (("name",), TEXT, "place along the strand"),
    "evidence": (("name",), TEXT, "how well the limit is known"),
    "source": (("name",), TEXT, "source of the limit"),
    "reason": (("name",), TEXT, "why it is not judged"),
    "note": (("name",), TEXT, "which case of the limit applies, or what the value rests on"),
    "room": (("name",), TEXT, "the margin in words"),
    "overridden": (("name",), FLAG, "whether the case sets this limit"),
}
_BREAKOUT: Columns = {
    "name": (("name",), TEXT, "finding that was looked at"),
    "weight": (("name",), TEXT, "weight of what was found"),
    "text": (("name",), TEXT, "what was found, in words"),
}
LAYOUT: dict[str, Columns] = {
    "/": _ROOT,
    "/case": _CASE,
    "/strand": _STRAND,
    "/mould": _MOULD,
    "/zone": _ZONE,
    "/steel": _STEEL,
    "/summary": _SUMMARY,
    "/finding": _FINDING,
    "/breakout": _BREAKOUT,
    "/balance": _BALANCE,
    "/warning": _WARNING,
}
"""Group -> dataset -> (dimensions, UDUNITS unit or `TEXT`, long name): every dataset of the file."""


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
        If the file cannot be written: no such folder, no permission, disk full.
    """
    check_writable(path)
    values = _values(result, judgement or judge(result))
    memory = io.BytesIO()
    with h5py.File(memory, "w") as file:
        _set_attributes(
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
            _write_group(file, file.require_group(name), columns, values[name])
        steel = file["steel"].attrs
        steel["liquidus"], steel["solidus"] = result.steel.liquidus, result.steel.solidus
        _set_attributes(file["steel"], sources=" ".join(result.steel.sources))
    write_whole(path, memory.getvalue())


def load(path: str | os.PathLike[str]) -> Result:
    """Read a result file.

    Parameters
    ----------
    path : str or path-like
        A file written by `save`.

    Returns
    -------
    Result
        Equal to the one saved; the section fields within single precision.

    Raises
    ------
    InputError
        If there is no such file or it may not be read.
    FileFormatError
        If it is no HDF5 file, another kind of one, truncated, incomplete, or of a newer format.
    """
    return _read(path, [name for name in LAYOUT if name not in ("/finding", "/breakout")], _result)


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
    return _read(path, ["/summary", "/finding", "/breakout"], _judgement)


# Values to and from the groups


def _values(result: Result, judgement: Judgement) -> dict[str, dict[str, Any]]:
    """Lay a result out as `LAYOUT` has it."""
    steel, case, balance = result.steel, result.case, result.balance
    findings, notices = judgement.findings, result.notices
    return {
        "/": {name: getattr(result, _ATTRIBUTE.get(name, name)) for name in _ROOT},
        "/case": {"name": case.name, "toml": case.text, "effective": case.effective_toml()},
        "/strand": _row(result, _STRAND),
        "/mould": _row(result.mould, _MOULD),
        "/zone": _columns(result.zones, _ZONE),
        "/steel": _row(
            steel,
            _STEEL,
            kink=steel.kinks,
            element=tuple(steel.composition),
            composition=tuple(steel.composition.values()),
            event=tuple(steel.temperatures),
            event_temperature=tuple(steel.temperatures.values()),
            phase=tuple(steel.phases),
            phase_share=np.array([*steel.phases.values()]).reshape(-1, len(steel.temperature)),
            quantity=tuple(steel.evidence),
            source=[source for source, _ in steel.evidence.values()],
            evidence=[known for _, known in steel.evidence.values()],
            **_columns(steel.notices, _WARNING, number=np.arange(1, len(steel.notices) + 1)),
        ),
        "/summary": {**result.summary, "breakout_risk": judgement.breakout.words},
        "/finding": _columns(findings, _FINDING, bound=("lower", "upper"), limit=_limit_pairs(findings)),
        "/breakout": _columns(judgement.breakout.reasons, _BREAKOUT),
        "/balance": _row(
            balance,
            _BALANCE,
            zone=tuple(zone.name for zone in result.zones),
            mechanism=MECHANISMS,
            share=balance.heat / balance.heat.sum(),
        ),
        "/warning": _columns(notices, _WARNING, number=np.arange(1, len(notices) + 1)),
    }


_ATTRIBUTE = {"side": "sides", "solid_fraction": "solid_fractions"}
"""Dataset of the root -> attribute of `Result`, where they differ."""


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
    root, case, balance, summary = (groups[name] for name in ("/", "/case", "/balance", "/summary"))
    del balance["zone"], balance["mechanism"], balance["share"], summary["breakout_risk"]
    return Result(
        case=parse_case(case["toml"], case["name"]),
        steel=_steel(groups["/steel"]),
        zones=_rows(ZoneResult, groups["/zone"]),
        mould=MouldResult(**groups["/mould"]),
        balance=Balance(**balance),
        notices=_notices(groups["/warning"]),
        summary=summary,
        **{name: attributes[name] for name in ("shape_treatment", "created_by", "created_at")},
        **{_ATTRIBUTE.get(name, name): value for name, value in root.items()},
        **groups["/strand"],
    )


def _notices(columns: dict[str, Any]) -> tuple[Notice, ...]:
    """Take the notices out of a group."""
    del columns["number"]
    return _rows(Notice, {name: columns.pop(name) for name in ("text", "where", "count")})


def _steel(columns: dict[str, Any]) -> Steel:
    columns["notices"] = _notices(columns)
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
    if sense == "within" and not math.isnan(high):
        return low, high
    return high if sense == "at most" else low


def _judgement(groups: dict[str, dict[str, Any]], attributes: dict[str, Any]) -> Judgement:
    columns = groups["/finding"]
    del columns["bound"]
    columns["limit"] = [_limit(*row) for row in zip(columns["sense"], columns["limit"], strict=True)]
    findings = _rows(Finding, columns)
    reasons = _rows(Reason, groups["/breakout"])
    return Judgement(findings, BreakoutRisk(groups["/summary"]["breakout_risk"], reasons))


# Groups to and from HDF5


def _set_attributes(group: h5py.Group, **words: str) -> None:
    """Set attributes as fixed-length UTF-8; other strings make some readers fail."""
    for name, text in words.items():
        data = text.encode()
        group.attrs[name] = np.array(data, dtype=h5py.string_dtype("utf-8", max(len(data), 1)))


def _write_group(file: h5py.File, group: h5py.Group, columns: Columns, values: dict[str, Any]) -> None:
    own = {name for name, (dims, _, _) in columns.items() if dims == (name,)}
    for name in sorted(columns, key=lambda name: name not in own):  # the scales first, in the table's order
        dims, units, long_name = columns[name]
        data = group.create_dataset(name, **_storage(values[name], dims, units))
        _set_attributes(data, long_name=long_name)
        if units not in (TEXT, FLAG, BY_ROW) and "/" not in units:
            _set_attributes(data, units=units)
        elif units != TEXT:
            _set_attributes(
                data, units_note={FLAG: "1 yes, 0 no", BY_ROW: "see unit, row by row"}.get(units, units)
            )
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
    elif data.dtype.kind == "f" and dims == _FIELD:
        data = data.astype(np.float32)
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
    if not h5py.is_hdf5(path):
        raise FileFormatError(Problem(str(path), "no HDF5 file", f"a file of type {FILE_TYPE!r}", do=_MAKE))
    try:
        with h5py.File(path, "r") as file:
            attributes = {name: _words(value) for name, value in file.attrs.items()}
            _check_kind(path, attributes)
            _check_complete(path, file, wanted)
            groups = {name: _read_group(file[name], LAYOUT[name]) for name in wanted}
    except FileFormatError:
        raise
    except Exception as error:  # of a damaged file the library raises errors of nearly every kind
        what = "truncated" if "truncated" in str(error) else "damaged"
        raise FileFormatError(Problem(str(path), f"{what}: {error}", do=_MAKE)) from error
    try:
        return make(groups, attributes)
    except InputError as error:
        problems = [replace(problem, where=f"{path}: case {problem.where}") for problem in error.problems]
        raise FileFormatError(problems) from error


_MAKE = "make it again with: solidify run CASE.toml -o RESULT.h5"


def _words(value: Any) -> Any:
    return value.decode() if isinstance(value, bytes) else _plain(value)


def _check_kind(path: Path, attributes: Mapping[str, Any]) -> None:
    kind, number = attributes.get("file_type"), attributes.get("format")
    if kind != FILE_TYPE:
        given = f"HDF5 file of type {kind!r}" if kind else "HDF5 file of another program"
        raise FileFormatError(Problem(str(path), given, f"a file of type {FILE_TYPE!r}", do=_MAKE))
    if not isinstance(number, int) or not 1 <= number <= FORMAT:
        by = f" (made by {attributes['created_by']})" if attributes.get("created_by") else ""
        do = "update solidify to read it" if isinstance(number, int) and number > FORMAT else _MAKE
        raise FileFormatError(Problem(str(path), f"format {number}{by}", f"format 1 to {FORMAT}", do=do))
    lacking = [name for name in ATTRIBUTES if not isinstance(attributes.get(name), str)]
    if lacking:
        raise FileFormatError([Problem(f"{path}: attribute {name}", "missing", do=_MAKE) for name in lacking])


def _check_complete(path: Path, file: h5py.File, wanted: Sequence[str]) -> None:
    """Refuse a file that lacks datasets or has them in another shape, all of them at once."""
    problems = []
    sizes = {
        name: file[name].size for name, (dims, _, _) in _ROOT.items() if dims == (name,) and name in file
    }
    for group in wanted:
        found = file.get(group, {})
        own = {
            name: found[name].size
            for name, (dims, _, _) in LAYOUT[group].items()
            if dims == (name,) and name in found
        }
        for name, (dims, units, _) in LAYOUT[group].items():
            where = f"{path}: {group.rstrip('/')}/{name}"
            if name not in found:
                problems.append(Problem(where, "missing", do=_MAKE))
                continue
            shape = tuple((sizes | own).get(dim) for dim in dims)
            if found[name].shape != shape and None not in shape:
                problems.append(Problem(where, f"shape {found[name].shape}", f"{shape} as {dims}", do=_MAKE))
            words = h5py.check_string_dtype(found[name].dtype) is not None
            if words != (units == TEXT):
                problems.append(
                    Problem(where, *(("words", "numbers") if words else ("numbers", "words")), do=_MAKE)
                )
    if problems:
        raise FileFormatError(problems)


def _read_group(group: h5py.Group, columns: Columns) -> dict[str, Any]:
    values: dict[str, Any] = {}
    for name, (dims, units, _) in columns.items():
        data = group[name]
        if units == TEXT:
            value = data.asstr()[()]
            values[name] = tuple(value) if dims else value
        else:
            value = data[()]
            values[name] = value.astype(bool) if units == FLAG else _plain(value)
    return values
