"""Pictures as files: whole or not at all, and the same bytes every time."""

from __future__ import annotations

import io
import os
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from matplotlib.figure import Figure

from solidify.errors import InputError, Problem, closest
from solidify.files import check_writable, write_all
from solidify.plots.heat import plot_heat
from solidify.plots.palette import styled
from solidify.plots.strand import draw_strand, plot_shell, plot_temperature

if TYPE_CHECKING:
    from solidify.assessment.judge import Judgement
    from solidify.strand.result import Result

__all__ = ["FORMATS", "picture_set", "save_pictures"]

FORMATS: dict[str, dict[str, Any]] = {
    "pdf": {"CreationDate": None, "Producer": "solidify", "Creator": "solidify"},
    "png": {"Software": "solidify"},
    "svg": {"Date": None, "Creator": "solidify"},
}
"""Format -> what is written about the file inside it: no date, so that equal pictures are equal files."""

_PICTURES: dict[str, Callable[..., Figure]] = {
    "": draw_strand, "-shell": plot_shell, "-temperature": plot_temperature, "-heat": plot_heat,
}  # fmt: skip


def save_pictures(
    result: Result,
    judgement: Judgement | None,
    folder: str | os.PathLike[str],
    stem: str,
    formats: Sequence[str] = ("png",),
) -> list[Path]:
    """Write the main picture, and shell, temperature and heat alone.

    Parameters
    ----------
    result : Result
        A marched strand.
    judgement : Judgement or None
        Brings the worst verdict, the limits and the room.
    folder : str or path-like
        An existing folder.
    stem : str
        Start of every name: ``stem.png``, ``stem-shell.png``, ``stem-temperature.png``, ``stem-heat.png``.
    formats : sequence of str
        Any of ``"pdf"``, ``"png"``, ``"svg"``.

    Returns
    -------
    list of Path
        What was written, the main picture first.

    Raises
    ------
    InputError
        For an unknown format, or if a file cannot be written; a picture that stood there before is kept then.
    """
    contents = picture_set(result, judgement, folder, stem, formats)
    write_all(contents)
    return list(contents)


def picture_set(
    result: Result,
    judgement: Judgement | None,
    folder: str | os.PathLike[str],
    stem: str,
    formats: Sequence[str] = ("png",),
) -> dict[Path, bytes]:
    """Draw the pictures of a result, each under the name it is to have; as `save_pictures`."""
    folder = Path(folder)
    wrong = [f for f in formats if f not in FORMATS]
    if wrong:
        allowed = sorted(FORMATS)
        raise InputError(
            [Problem("picture format", repr(f), ", ".join(allowed), closest(f, allowed)) for f in wrong]
        )
    paths = {ending: [folder / f"{stem}{ending}.{form}" for form in formats] for ending in _PICTURES}
    for path in (p for row in paths.values() for p in row):
        check_writable(path)
    contents: dict[Path, bytes] = {}
    for ending, draw in _PICTURES.items():
        figure = draw(result, judgement)
        for path, form in zip(paths[ending], formats, strict=True):
            contents[path] = picture_bytes(figure, form)
    return contents


def picture_bytes(figure: Figure, form: str) -> bytes:
    """Return a figure as the bytes of a file; equal figures give equal bytes."""
    buffer = io.BytesIO()
    with styled():
        figure.savefig(buffer, format=form, metadata=FORMATS[form])
    return buffer.getvalue()
