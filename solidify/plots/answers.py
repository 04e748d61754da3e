"""The pictures of a study as files: operating window, spread, effects and Sobol indices."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from matplotlib.figure import Figure

from solidify.errors import InputError, Problem, closest
from solidify.files import check_writable, write_all
from solidify.plots.influence import draw_effects, draw_indices
from solidify.plots.pictures import picture_bytes
from solidify.plots.spread import draw_spread
from solidify.plots.window import draw_line, draw_window
from solidify.storage.study_file import StudyTable
from solidify.study.answers.operating_window import operating_line, operating_window, window_problems
from solidify.study.answers.quantities import (
    headline_quantities,
    pressing_quantity,
    quantity,
    quantity_names,
)
from solidify.study.answers.sensitivity import effects, sobol_shares

__all__ = ["draw_answers", "save_figures"]

_END = "metallurgical_length"


def draw_answers(
    table: StudyTable,
    of: str | None = None,
    across: str | None = None,
    up: str | None = None,
    at: Mapping[str, Any] | None = None,
) -> dict[str, Figure]:
    """Draw what a study answers.

    Parameters
    ----------
    table : StudyTable
        From `solidify.storage.study_file.load_study`.
    of : str, optional
        The figure or finding to draw; by default the end of solidification in the window, the hard limit that
        presses most in the spread, and a few of both in effects and indices.
    across, up, at
        Of the window, as for `solidify.study.answers.operating_window.operating_window`.

    Returns
    -------
    dict of str to Figure
        ``"window"`` where two numbers vary, ``"line"`` where one number alone does, ``"spread"``, ``"effects"`` where
        they are known, and ``"indices"`` of a study that was sampled for them.

    Raises
    ------
    InputError
        If a name is not known, or nothing of the study varies.
    """
    asked = bool(across or up or at)
    problems = window_problems(table, across, up, at)
    windowed = asked or not problems
    problems = problems if asked else []
    if of and of not in (names := quantity_names(table)):
        problems.append(
            Problem(f"--of {of}", "is no quantity of the study", ", ".join(names), closest(of, names))
        )
    if problems:
        raise InputError(problems)
    several = [quantity(table, of)] if of else headline_quantities(table)
    pressing = several[0] if of else pressing_quantity(table)
    found: dict[str, Figure] = {}
    if windowed:
        shown = pressing if of or _END not in quantity_names(table) else quantity(table, _END)
        found["window"] = draw_window(table, operating_window(table, shown, across, up, at))
    elif line := operating_line(
        table, quantity(table, _END) if not of and _END in quantity_names(table) else pressing
    ):
        found["line"] = draw_line(table, line)
    found["spread"] = draw_spread(table, pressing)
    rows = [own for own in (effects(table, q) for q in several) if own.rows]
    if rows:
        found["effects"] = draw_effects(table, rows)
    if table.sampling == "sobol indices" and (shares := sobol_shares(table, several)):
        found["indices"] = draw_indices(table, shares)
    return found


def save_figures(
    figures: Mapping[str, Figure],
    folder: str | os.PathLike[str],
    stem: str,
    formats: Sequence[str] = ("png",),
) -> list[Path]:
    """Write the pictures of a study.

    Parameters
    ----------
    figures : mapping of str to Figure
        From `draw_answers`.
    folder : str or path-like
        An existing folder.
    stem : str
        Start of every name: ``stem-window.png``, ``stem-spread.png`` and so on.
    formats : sequence of str
        Any of ``"pdf"``, ``"png"``, ``"svg"``.

    Returns
    -------
    list of Path
        What was written.

    Raises
    ------
    InputError
        If a file cannot be written; a picture that stood there before is kept then.
    """
    paths = {name: [Path(folder) / f"{stem}-{name}.{form}" for form in formats] for name in figures}
    for path in (p for row in paths.values() for p in row):
        check_writable(path)
    write_all(
        {
            path: picture_bytes(figure, form)
            for name, figure in figures.items()
            for path, form in zip(paths[name], formats, strict=True)
        }
    )
    return [p for row in paths.values() for p in row]
