"""Reading a case file: from bytes to a checked case, or every problem of the file at once, with lines."""

from __future__ import annotations

import os
import re
import tomllib
from importlib import resources
from pathlib import Path

from solidify.case.checked import Case, checked_case, frozen
from solidify.case.lines import key_lines
from solidify.case.messages import file_problems
from solidify.errors import InputError, Problem
from solidify.files import check_readable

__all__ = ["parse_case", "read_case", "starter_case"]

LARGEST = 2_000_000
"""No case file is larger [bytes]."""


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
    case = parse_case(_decoded(path.read_bytes(), str(path)), str(path), folder=path.parent)
    case._name = path.name
    if case.property_path is not None:
        check_readable(case.property_path, "property file")
    return case


def parse_case(text: str, name: str = "case", *, folder: str | os.PathLike[str] = ".") -> Case:
    """Make a case from the text of a case file.

    Parameters
    ----------
    text : str
        TOML.
    name : str
        Of the file, for messages.
    folder : path-like
        Where a property file named in the case is looked for.

    Returns
    -------
    Case

    Raises
    ------
    InputError
        As `read_case`.
    """
    if not text.strip():
        raise InputError(
            Problem(f"{name}:", "the file is empty", do="solidify new FILE.toml writes a starter case")
        )
    try:
        tables = tomllib.loads(text)
        data = frozen(tables)
        lines = key_lines(text.replace("\r\n", "\n"))
    except RecursionError:
        raise InputError(Problem(f"{name}:", "brackets are nested too deep for a case file")) from None
    except ValueError as error:
        raise InputError(_syntax(text, name, str(error))) from None
    if not data:
        raise InputError(
            Problem(
                f"{name}:", "the file holds only comments", do="solidify new FILE.toml writes a starter case"
            )
        )
    case, flaws = checked_case(data)
    if case is None:
        raise InputError(file_problems(flaws, data, lines, name))
    case._text, case._name, case._folder = text, name, Path(folder)
    return case


def starter_case() -> str:
    """Return the text of a commented starter case that runs as it is.

    Returns
    -------
    str
    """
    return resources.files("solidify").joinpath("data", "cases", "starter.toml").read_text(encoding="utf-8")


def _decoded(content: bytes, name: str) -> str:
    if content.startswith(b"\x89HDF"):
        raise InputError(
            Problem(
                f"{name}:",
                "an HDF5 file, perhaps a result",
                "a case file (TOML)",
                do="solidify plot reads results",
            )
        )
    if b"\0" in content:
        raise InputError(
            Problem(f"{name}:", "a binary file", "a case file (TOML, UTF-8 text)", do="name a case file")
        )
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        given = f"byte 0x{content[error.start]:02x} is not UTF-8 text"
        raise InputError(Problem(f"{name}:{line}:", given, do="save the file as UTF-8")) from None


_HINTS = (
    (r"=\s*[+-]?\d+,\d", "write decimals with a point: 0.75"),
    (r"=\s*[^\"'\[{\d\s+-].*", 'text stands in quotes: lubricant = "powder"'),
    (r"^\s*\[[^\]]*$", "a table's name stands in brackets: [casting]"),
    (r"^\s*[^=\[#]*$", "a line is key = value, [table] or # comment"),
    (r"=\s*[\d.]+\s*[A-Za-z°%].*", "numbers stand without a unit; the unit is in the key's name"),
)


def _syntax(text: str, name: str, message: str) -> Problem:
    """Say a TOML error with its line, the line's text and what commonly causes it."""
    found = re.search(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)", message)
    said = message[: found.start()] if found else message
    lines = text.splitlines()
    number = int(found[1]) if found and found[1] else len(lines)
    line = lines[number - 1] if 0 < number <= len(lines) else ""
    do = next((hint for pattern, hint in _HINTS if re.search(pattern, line)), "correct the line")
    where = f"{name}:{number}:"
    return Problem(where, f"not valid TOML: {said[:1].lower()}{said[1:]}, in: {line.strip()[:80]}", do=do)
