"""Sections to HDF5 files and back; laid out as result files are."""

from __future__ import annotations

import io
import os
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import h5py
import numpy as np

from solidify.case import parse_case
from solidify.errors import FileFormatError, InputError, Notice, Problem
from solidify.files import check_readable, check_writable, write_whole
from solidify.section.result import (
    Map,
    PointCheck,
    SectionBalance,
    SectionResult,
    SectionZone,
    SliceComparison,
)
from solidify.storage.result_file import check_complete, read_groups, set_attributes, write_group
from solidify.storage.schema import TEXT, Columns
from solidify.storage.untrusted import attribute, is_hdf5, opened
from solidify.strand.result import MECHANISMS

__all__ = ["FILE_TYPE", "FORMAT", "LAYOUT", "load_section", "save_section", "section_place"]

FILE_TYPE = "solidify section"
"""Root attribute that tells the file of a section from others."""

FORMAT = 1
"""Number of the layout; a file with a higher one is refused."""

_MAKE = "make it again with: solidify section CASE.toml -o SECTION.h5"

_ROOT: Columns = {
    "distance": (("distance",), "m", "distance from the meniscus"),
    "side": (("side",), TEXT, "wide faces: both alike, or loose and fixed"),
    "solid_fraction": (("solid_fraction",), "1", "solid fraction that bounds the shell"),
    "depth": (("depth",), "m", "depth below the wide face, of the loose side if the sides differ"),
    "along": (("along",), "m", "distance from the narrow face, to the middle of the wide one"),
    "map_distance": (("map_distance",), "m", "distance from the meniscus of a kept section"),
    "map_name": (("map_distance",), TEXT, "place of a kept section"),
    "time": (("distance",), "s", "time since the meniscus"),
    "wide_temperature": (("side", "distance"), "degC", "surface temperature, middle of the wide face"),
    "corner_temperature": (("side", "distance"), "degC", "surface temperature at the corner"),
    "narrow_temperature": (("distance",), "degC", "surface temperature, middle of the narrow face"),
    "centre_temperature": (("distance",), "degC", "temperature at the middle of the section"),
    "hottest_temperature": (("distance",), "degC", "temperature of the hottest point of the section"),
    "wide_heat_flux": (("side", "distance"), "W m-2", "heat flux, middle of the wide face"),
    "narrow_heat_flux": (("distance",), "W m-2", "heat flux, middle of the narrow face"),
    "wide_shell": (("side", "solid_fraction", "distance"), "m", "shell under the middle of the wide face"),
    "narrow_shell": (("solid_fraction", "distance"), "m", "shell under the middle of the narrow face"),
    "equivalent_solid": (("distance",), "1", "integral of the solid fraction over the section, by its area"),
    "slice_surface": (("side", "distance"), "degC", "surface temperature of the slice of the same case"),
    "slice_centre": (("distance",), "degC", "centre temperature of the slice of the same case"),
    "map_temperature": (("map_distance", "along", "depth"), "degC", "temperature over the section"),
    "map_solid_fraction": (("map_distance", "along", "depth"), "1", "solid fraction over the section"),
}
_CASE: Columns = {
    "name": ((), TEXT, "name of the case file"),
    "toml": ((), TEXT, "the case as given"),
    "effective": ((), TEXT, "every value used, defaults included"),
    "properties": ((), TEXT, "property file of the steel as given; empty without one"),
}
_SUMMARY: Columns = {
    "headline": ((), "1", "solid fraction of the headline shell"),
    "metallurgical_length": ((), "m", "end of solidification from the meniscus"),
    "solidification_time": ((), "s", "time from the meniscus to the end of solidification"),
    "liquidus": ((), "degC", "liquidus of the steel"),
    "solidus": ((), "degC", "solidus of the steel"),
    "superheat": ((), "K", "superheat in the tundish"),
}
_COMPARISON: Columns = {
    "slice_length": ((), "m", "end of solidification of the slice"),
    "slice_shell": ((), "m", "shell of the slice at mould exit, headline solid fraction"),
    "length_percent": ((), "%", "end of solidification, slice less section, of that of the section"),
    "shell": ((), "m", "shell at mould exit, slice less section"),
    "straightener_in": ((), "K", "surface at the first straightening point, slice less section"),
    "straightener_out": ((), "K", "surface at the last straightening point, slice less section"),
    "largest": ((), "K", "largest difference of the surfaces below the mould, slice less section"),
    "largest_at": ((), "m", "where it is, from the meniscus"),
}
_CHECK: Columns = {
    "point": (("point",), TEXT, "point of the surface"),
    "value": (("point",), "degC", "surface temperature at the straightener that counts"),
    "limit": (("point",), TEXT, "what the ductility criterion asks"),
    "margin": (("point",), "K", "signed margin to the limit"),
    "margin_text": (("point",), TEXT, "the margin in words"),
    "verdict": (("point",), TEXT, "met, marginal, not met or not judged"),
    "where": (("point",), TEXT, "where along the strand"),
    "note": (("point",), TEXT, "which case of the limit applies, or what the value rests on"),
}
_ZONE: Columns = {
    "name": (("name",), TEXT, "stretch of the strand"),
    "kind": (("name",), TEXT, "mould, zone or open strand"),
    "start": (("name",), "m", "start from the meniscus"),
    "end": (("name",), "m", "end from the meniscus"),
    "water": (("name",), "kg s-1", "all water of the zone on one strand"),
}
_BALANCE: Columns = {
    "face": (("face",), TEXT, "face of the strand"),
    "zone": (("zone",), TEXT, "stretch of the strand"),
    "mechanism": (("mechanism",), TEXT, "what takes the heat"),
    "heat": (("face", "zone", "mechanism"), "J m-1", "heat removed from a metre of the whole strand"),
    "flux_error": ((), "1", "flux sum against marched enthalpy"),
    "table_error": ((), "1", "largest difference of marched and tabulated enthalpy, over latent heat"),
    "recount_error": ((), "1", "heat recounted from the final temperatures"),
    "steps": ((), "1", "steps taken"),
    "rejected": ((), "1", "steps rejected"),
    "iterations": ((), "1", "Newton iterations"),
    "nodes": ((), "1", "nodes of the section"),
}
_WARNING: Columns = {
    "number": (("number",), "1", "number of the warning"),
    "where": (("number",), TEXT, "what it concerns"),
    "text": (("number",), TEXT, "the warning"),
    "count": (("number",), "1", "how often it applied"),
}

LAYOUT: dict[str, Columns] = {
    "/": _ROOT,
    "/case": _CASE,
    "/summary": _SUMMARY,
    "/comparison": _COMPARISON,
    "/check": _CHECK,
    "/zone": _ZONE,
    "/balance": _BALANCE,
    "/warning": _WARNING,
}
"""Group -> dataset -> dimensions, unit and meaning."""


_OTHER = ("side", "solid_fraction", "slice_surface", "slice_centre")
_SAME = tuple(name for name in _ROOT if name not in _OTHER and not name.startswith("map_"))
"""Datasets of the root that are fields of a section by the same name."""


def save_section(section: SectionResult, path: str | os.PathLike[str]) -> None:
    """Write a section to an HDF5 file.

    Parameters
    ----------
    section : SectionResult
        What a march gave.
    path : str or path-like
        The file. An older one is replaced only once the new one is complete.

    Raises
    ------
    InputError
        If the file cannot be written, or something other than a section stands there.
    """
    section_place(path)
    memory = io.BytesIO()
    with h5py.File(memory, "w", track_order=True) as file:
        set_attributes(
            file,
            file_type=FILE_TYPE,
            title=section.case.title,
            created_by=section.created_by,
            created_at=section.created_at,
            Conventions="CF-1.11",
        )
        file.attrs["format"] = FORMAT
        for (name, columns), values in zip(LAYOUT.items(), _values(section), strict=True):
            group = file if name == "/" else file.create_group(name, track_order=True)
            write_group(file, group, columns, values)
    write_whole(path, memory.getvalue())


def section_place(path: str | os.PathLike[str]) -> Path:
    """Refuse, before any work is done, a place where a section cannot be written or would replace something else.

    Parameters
    ----------
    path : str or path-like
        The file that is to be written.

    Returns
    -------
    Path
        Where the file will really stand.

    Raises
    ------
    InputError
        As `solidify.files.check_writable`, and if a file of another kind stands there.
    """
    target = check_writable(path)
    if target.exists() and target.stat().st_size:
        kind = ""
        if is_hdf5(target):
            try:
                with opened(target, "file of a section", "") as file:
                    kind = str(attribute(file, "file_type"))
            except InputError:  # a damaged one
                kind = FILE_TYPE
        if kind != FILE_TYPE:
            found = f"a file of type {kind!r} stands here" if kind else "another file stands here"
            do = f"choose another name, or move {target.name} away"
            raise InputError(Problem(str(path), found, "a new name, or an older section", do=do))
    return target


def load_section(path: str | os.PathLike[str]) -> SectionResult:
    """Read the file of a section.

    Parameters
    ----------
    path : str or path-like
        A file written by `save_section`.

    Returns
    -------
    SectionResult
        Equal to the one saved.

    Raises
    ------
    InputError
        If there is no such file or it may not be read.
    FileFormatError
        If it is no HDF5 file, another kind of one, truncated, incomplete, or of a newer format.
    """
    path = check_readable(path, "file of a section")
    wanted = f"a file of type {FILE_TYPE!r}"
    if not is_hdf5(path):
        raise FileFormatError(Problem(str(path), "no HDF5 file", wanted, do=_MAKE))
    with opened(path, "file of a section", _MAKE) as file:
        attributes = {name: attribute(file, name) for name in file.attrs}
        kind, number = attributes.get("file_type"), attributes.get("format")
        if kind != FILE_TYPE:
            given = f"HDF5 file of type {kind!r}" if kind else "HDF5 file of another program"
            do = "solidify report and solidify plot read it" if kind == "solidify result" else _MAKE
            raise FileFormatError(Problem(str(path), given, wanted, do=do))
        if not isinstance(number, int | np.integer) or not 1 <= number <= FORMAT:
            do = "update solidify to read it"
            raise FileFormatError(Problem(str(path), f"format {number}", f"format 1 to {FORMAT}", do=do))
        check_complete(path, file, [*LAYOUT], LAYOUT, _MAKE)
        groups = read_groups(path, file, [*LAYOUT], LAYOUT, _MAKE)
    try:
        return _section(groups, attributes)
    except InputError as error:
        problems = [replace(problem, where=f"{path}: case {problem.where}") for problem in error.problems]
        raise FileFormatError(problems) from error


def _row(thing: Any, names: Any) -> dict[str, Any]:
    return {name: getattr(thing, name) for name in names}


def _columns(things: Any, names: Any) -> dict[str, Any]:
    return {name: [getattr(thing, name) for thing in things] for name in names}


def _values(s: SectionResult) -> list[dict[str, Any]]:
    """Values of every group, in the order of the layout."""
    case = s.case
    maps = {
        "map_distance": [m.distance for m in s.maps],
        "map_name": [m.name for m in s.maps],
        "map_temperature": np.array([m.temperature for m in s.maps]),
        "map_solid_fraction": np.array([m.solid_fraction for m in s.maps]),
    }
    beside = {"side": s.sides, "solid_fraction": s.solid_fractions}
    beside |= _row(s.comparison, ("slice_surface", "slice_centre"))
    own = {"face": s.faces, "zone": [z.name for z in s.zones], "mechanism": MECHANISMS}
    return [
        _row(s, _SAME) | beside | maps,
        {
            "name": case.name,
            "toml": case.text,
            "effective": case.effective_toml(),
            "properties": case.property_text,
        },
        _row(s, _SUMMARY),
        _row(s.comparison, _COMPARISON),
        _columns(s.checks, _CHECK),
        _columns(s.zones, _ZONE),
        own | _row(s.balance, [name for name in _BALANCE if name not in own]),
        {"number": np.arange(1, len(s.notices) + 1)} | _columns(s.notices, ("where", "text", "count")),
    ]


def _things(kind: type, columns: dict[str, Any]) -> tuple[Any, ...]:
    """Make a value of each row."""
    names = [f.name for f in fields(kind) if f.name in columns]
    rows = zip(*(columns[name] for name in names), strict=True)
    return tuple(
        kind(**{n: v.item() if isinstance(v, np.generic) else v for n, v in zip(names, row, strict=True)})
        for row in rows
    )


def _section(groups: dict[str, dict[str, Any]], attributes: dict[str, Any]) -> SectionResult:
    root, case = groups["/"], groups["/case"]
    balance = groups["/balance"]
    for name in ("face", "zone", "mechanism"):
        del balance[name]
    places = zip(
        root["map_name"],
        root["map_distance"].tolist(),
        root["map_temperature"],
        root["map_solid_fraction"],
        strict=True,
    )
    return SectionResult(
        case=parse_case(case["toml"], case["name"], properties=case["properties"] or None),
        sides=root["side"],
        solid_fractions=root["solid_fraction"],
        maps=tuple(Map(*place) for place in places),
        zones=_things(SectionZone, groups["/zone"]),
        balance=SectionBalance(**balance),
        comparison=SliceComparison(
            **groups["/comparison"], slice_surface=root["slice_surface"], slice_centre=root["slice_centre"]
        ),
        checks=_things(PointCheck, groups["/check"]),
        notices=_things(Notice, groups["/warning"]),
        created_by=attributes["created_by"],
        created_at=attributes["created_at"],
        **groups["/summary"],
        **{name: root[name] for name in _SAME},
    )
