"""Reading a case file: from bytes to a checked case, or every problem of the file at once, with lines."""

from __future__ import annotations

import os
import re
import tomllib
from importlib import resources
from pathlib import Path
from typing import Any

from solidify.case.case import Case, Origin, made_case
from solidify.case.checked import checked_tables
from solidify.case.checks import ValidTables
from solidify.case.defaults import equivalent_carbon
from solidify.case.given import Issue
from solidify.case.lines import key_lines
from solidify.case.messages import file_problems
from solidify.case.schema import case_schema, schema_at
from solidify.case.synonyms import canonical_path, canonical_tables
from solidify.case.values import frozen, shown
from solidify.errors import InputError, Problem, closest, printable
from solidify.files import check_readable

__all__ = ["DEMOS", "demo_case", "parse_case", "read_case", "starter_case"]

LARGEST = 2_000_000
"""No case file is larger [bytes]."""

DEMOS = ("billet", "bloom", "slab")
"""Cases of invented plants that ship with the program."""

START = "solidify new FILE.toml writes a case to start from"


_OTHERS = (
    ("a study file", {"vary", "table", "sampling"}, "solidify sweep {} marches it"),
    ("a target of tune", {"speeds_m_per_min", "surface", "aim"}, "solidify tune CASE.toml {} reads it"),
    ("a heat plan", {"ladle", "tundish", "strand"}, "solidify plan {} works it out"),
    ("a cut file", {"length_m", "stretch", "cut"}, "solidify cut {} works it out"),
)
"""Files of other verbs: what they are, keys that tell it, and what reads them."""


def read_case(path: str | os.PathLike[str]) -> Case:
    """Read a case file.

    Parameters
    ----------
    path : str or path-like
        The file, TOML in UTF-8.

    Returns
    -------
    Case

    Raises
    ------
    InputError
        If there is no such file, it cannot be read, is not text or not TOML, or holds anything that a case
        may not; all problems at once, in the order of the file.
    """
    path = check_readable(path, "case file")
    if not path.is_file():
        raise InputError(Problem(str(path), "not an ordinary file", "a case file", do="name a file"))
    if path.stat().st_size > LARGEST:
        raise InputError(Problem(str(path), "too large for a case file", "up to 2 MB", do="name a case file"))
    text = _decoded(path.read_bytes(), str(path))
    tables, data = _read(text, str(path), look_in=path.parent)
    return made_case(
        tables, Origin(ValidTables(data), *_measured(tables), printable(path.name), path.parent, text)
    )


def parse_case(
    text: str, name: str = "case", *, folder: str | os.PathLike[str] = ".", properties: str | None = None
) -> Case:
    """Make a case from the text of a case file.

    Parameters
    ----------
    text : str
        TOML.
    name : str
        Of the file, for messages.
    folder : path-like
        Where a property file named in the case will be looked for.
    properties : str, optional
        What stands in that file, if it is known; then it is not looked for.

    Returns
    -------
    Case

    Raises
    ------
    InputError
        If the text is not TOML or holds anything that a case may not; all problems at once.
    """
    tables, data = _read(text, name)
    origin = Origin(ValidTables(data), *_measured(tables), name, Path(folder), text, properties)
    return made_case(tables, origin)


def _measured(tables: dict[str, Any]) -> tuple[float, float | None]:
    """Return speed [m/min] and equivalent carbon [mass %] at which a mould flux was measured."""
    return tables["casting"].speed_m_per_min, equivalent_carbon(tables["steel"])


def demo_case(name: str = "bloom") -> Case:
    """Return a case of an invented plant that ships with the program.

    Parameters
    ----------
    name : str
        ``"billet"``, ``"bloom"`` or ``"slab"``.

    Returns
    -------
    Case

    Raises
    ------
    InputError
        For another name.
    """
    if name not in DEMOS:
        raise InputError(Problem("demo case", repr(name), ", ".join(DEMOS), closest(name, DEMOS)))
    return parse_case(_shipped(f"{name}.toml"), f"{name}.toml")


def starter_case() -> str:
    """Return the text of a commented starter case that runs as it is.

    Returns
    -------
    str
    """
    return _shipped("starter.toml")


def _shipped(name: str) -> str:
    return resources.files("solidify").joinpath("data", "cases", name).read_text(encoding="utf-8")


def _read(text: str, name: str, look_in: Path | None = None) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return the tables of a text, checked and as given; where a folder is told, its property file is there."""
    try:
        data = frozen(tomllib.loads(text))
        lines = key_lines(text)
    except RecursionError:
        problem = Problem(f"{name}:", "brackets stand too deep in one another", do="correct the brackets")
        raise InputError(problem) from None
    except ValueError as error:
        raise InputError(_syntax(text, name, str(error))) from None
    if not data:
        given = "holds only comments" if text.strip() else "is empty"
        raise InputError(Problem(f"{name}:", f"the file {given}", do=START))
    if "section" not in data and "casting" not in data:
        for kind, keys, do in _OTHERS:
            if keys & data.keys():
                raise InputError(Problem(name, kind, "a case file", do=do.format(name)))
    data, twice = canonical_tables(data)
    lines = {canonical_path(path): line for path, line in lines.items()} if lines else lines
    data, misspelt = _well_named(data)
    lines |= {(misspelt[path[0]], *path[1:]): line for path, line in lines.items() if path[0] in misspelt}
    tables, issues = checked_tables(data)
    issues += twice
    issues += [Issue((wrong,), "is not a known table", closest=right) for wrong, right in misspelt.items()]
    if look_in is not None:
        issues += _property_file(data, look_in)
    if issues:
        raise InputError(file_problems(issues, data, lines, name))
    return tables, data


def _well_named(data: dict[str, Any]) -> tuple[dict[str, Any], dict[str | int, str]]:
    """Give misspelt tables the names they were meant to have, so that what stands in them is checked too."""
    schema = case_schema()
    absent = schema["properties"].keys() - data.keys()
    misspelt: dict[str | int, str] = {}
    for key, value in data.items():
        near = closest(key, absent) if key not in schema["properties"] else ""
        table = value[0] if near == "zone" and isinstance(value, tuple) and value else value
        known = schema_at(schema, ("zone", 0) if near == "zone" else (near,)).get("properties", {})
        if isinstance(table, dict) and known.keys() & table.keys():
            misspelt[key] = near
            absent = absent - {near}
    return {misspelt.get(key, key): value for key, value in data.items()}, misspelt


def _property_file(data: dict[str, Any], folder: Path) -> list[Issue]:
    """Look whether the property file that a case names can be read."""
    steel = data.get("steel")
    file = steel.get("property_file") if isinstance(steel, dict) else None
    if not isinstance(file, str):
        return []
    try:
        check_readable(folder / file, "property file")
    except InputError as error:
        problem = error.problems[0]
        said = f"= {shown(file)}: {problem.given}"
        return [Issue(("steel", "property_file"), said, problem.allowed, problem.closest, "check the name")]
    except ValueError:
        return [Issue(("steel", "property_file"), f"= {shown(file)} is no name of a file")]
    return []


def _decoded(content: bytes, name: str) -> str:
    if content.startswith(b"\x89HDF"):
        do = "solidify plot and solidify report read results"
        raise InputError(Problem(f"{name}:", "an HDF5 file, perhaps a result", "a case file (TOML)", do=do))
    if b"\0" in content:
        raise InputError(
            Problem(f"{name}:", "a binary file", "a case file: TOML, text in UTF-8", do="name a case file")
        )
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        given = f"byte 0x{content[error.start]:02x} is not text in UTF-8"
        raise InputError(Problem(f"{name}:{line}:", given, do="save the file as UTF-8")) from None


_CAUSES = (
    (r"=\s*[+-]?\d+,\d", "write decimals with a point, 0.75"),
    (r"=\s*[+-]?[\d.]+\s*[A-Za-z°%/]", "numbers stand without a unit: the unit is in the name of the key"),
    (r"=\s*\.\d|=\s*[+-]?\d+\.(\s|$)", "write a digit before and after the point, 0.5"),
    (r"=\s*[+-]?0\d", "numbers do not begin with a zero"),
    (r"^[^=]*=\s*(#|$)", "a value is missing"),
    (r"=\s*(True|False|Inf|NaN|INF)", "write true, false, inf in small letters"),
    (r"=\s*[^\"'\[{\d\s+.-]", 'text stands in quotes, lubricant = "powder"'),
    (r"^\s*\[[^\]]*$", "close the bracket: [casting], or a list over several lines with ] at its end"),
    (r"^[^=\[#]*$", "write key = value, [table] or # comment"),
)
"""What a line looks like and what then is commonly wrong with it."""


def _syntax(text: str, name: str, message: str) -> Problem:
    """Say what TOML makes of a text, with the line and what commonly causes it."""
    place = re.search(r"\s*\(at (?:line (\d+), column \d+|end of document)\)", message)
    said = message[: place.start()] if place else message
    lines = text.splitlines() or [""]
    number = min(int(place[1]), len(lines)) if place and place[1] else len(lines)
    line = lines[number - 1]
    said = re.sub(r"\('(\w+)',\)", r"[\1]", said)
    if "Cannot" in said:
        do = "each key and each [table] stands once; zones are [[zone]], in two brackets"
    else:
        do = next((cause for look, cause in _CAUSES if re.search(look, line)), "correct the line")
    given = f"not TOML: {said[:1].lower()}{said[1:]}: {line.strip()[:80]}"
    return Problem(f"{name}:{number}:", given, do=do)
