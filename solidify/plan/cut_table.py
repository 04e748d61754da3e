"""Reading the ``[cut]`` table of a plan or a cut file."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from solidify.case.values import is_number, shown
from solidify.plan.cut import Cut
from solidify.plan.figures import figure
from solidify.plan.page import Page, Path
from solidify.units import MM

__all__ = ["CUT_FIGURES", "CUT_KEYS", "parse_cut", "read_cut"]

CUT_KEYS = (
    "lengths_m",
    "aim_m",
    "length_step_m",
    "kerf_mm",
    "hot_factor",
    "head_crop_m",
    "tail_crop_m",
    "join_crop_m",
    "shortest_on_table_m",
    "torch_cycle_s",
    "margin_m",
    "worth",
    "scale_percent",
)

CUT_FIGURES = {
    "kerf_mm": "kerf",
    "hot_factor": "hot_factor",
    "head_crop_m": "head_crop",
    "tail_crop_m": "tail_crop",
    "join_crop_m": "join_crop",
    "scale_percent": "scale",
}
"""Keys that a figure stands in for, and its name in ``data/casting.toml``."""

_WORTHS = ("soft", "mixed")


def parse_cut(table: Mapping[str, Any]) -> Cut:
    """Make a cut from values; keys as in the ``[cut]`` table of a file.

    Parameters
    ----------
    table : mapping
        E.g. ``{"lengths_m": [8, 12], "aim_m": 11}``.

    Returns
    -------
    Cut

    Raises
    ------
    InputError
        If anything is wrong; all problems at once.
    """
    page = Page("cut")
    cut = read_cut(page, table, ())
    page.end()
    assert cut is not None
    return cut


def read_cut(
    page: Page,
    table: Mapping[str, Any],
    path: Path,
    *,
    speed: float = math.nan,
    margin: float = 0.0,
    hot_factor: float = math.nan,
) -> Cut | None:
    """Read a ``[cut]`` table.

    Parameters
    ----------
    page : Page
        Takes the mistakes.
    table : mapping
        As given.
    path : tuple
        Where it stands.
    speed : float
        Of casting, for the torch's cycle [m/s].
    margin : float
        Where the table gives none [m].
    hot_factor : float
        Where the table gives none; the usual one by default [1].

    Returns
    -------
    Cut or None
        None where something is wrong.
    """
    before = len(page.problems)
    page.known(table, CUT_KEYS, path)
    usual = {key: figure("cut", name).value for key, name in CUT_FIGURES.items()}
    if not math.isnan(hot_factor):
        usual["hot_factor"] = hot_factor
    least, most = _lengths(page, table, path)

    def number(key: str, low: float, high: float, unit: str, value: float) -> float:
        return page.number(table, key, path, low, high, unit, usual.get(key, value))

    step = number("length_step_m", 0.0, 10.0, "m", 0.0)
    kerf = number("kerf_mm", 0.0, 50.0, "mm", 0.0) * MM
    factor = number("hot_factor", 1.0, 1.03, "", 1.0)
    head = number("head_crop_m", 0.0, 20.0, "m", 0.0)
    tail = number("tail_crop_m", 0.0, 20.0, "m", 0.0)
    join = number("join_crop_m", 0.0, 20.0, "m", 0.0)
    shortest = number("shortest_on_table_m", 0.0, 30.0, "m", 0.0)
    wide = number("margin_m", 0.0, 20.0, "m", margin)
    cycle = number("torch_cycle_s", 0.0, 3600.0, "s", 0.0)
    number("scale_percent", 0.0, 5.0, "%", 0.0)
    aim = number("aim_m", 0.5, 40.0, "m", most)
    if not least <= aim <= most and not any(map(math.isnan, (least, most, aim))):
        near = min(max(aim, least), most)
        page.bad(
            (*path, "aim_m"),
            f"= {aim:g}",
            f"{least:g} to {most:g} m",
            do=f"the nearest that goes is {near:g}",
        )
    cycled = cycle * speed / factor if cycle and not math.isnan(speed) else 0.0
    if cycled > least and not math.isnan(cycled):
        said = f"= {least:g} m is shorter than the torch can cut: {cycle:g} s a cut at {60 * speed:g} m/min"
        do = f"the nearest that goes is {math.ceil(cycled * 100) / 100:g}"
        page.bad((*path, "lengths_m"), said, f"{cycled:.2f} m or more", do=do)
    worths = page.table(table, "worth", path)
    page.known(worths, _WORTHS, (*path, "worth"))
    soft = page.number(worths, "soft", (*path, "worth"), 0.0, 1.0, "", 0.8)
    mixed = page.number(worths, "mixed", (*path, "worth"), 0.0, 1.0, "", 0.5)
    if len(page.problems) > before:
        return None
    return Cut(least, most, aim, step, kerf, factor, head, tail, join, shortest, wide, soft, mixed)


def _lengths(page: Page, table: Mapping[str, Any], path: Path) -> tuple[float, float]:
    given = table.get("lengths_m")
    at = (*path, "lengths_m")
    if is_number(given):
        one = page.value(given, at, 0.5, 40.0, "m")
        return one, one
    if not isinstance(given, list | tuple) or len(given) != 2:
        said = "is missing" if given is None else f"= {shown(given)}"
        page.bad(at, said, "a length, or least and most, cold [m]", do="lengths_m = [8.0, 12.0]")
        return math.nan, math.nan
    least, most = (page.value(end, at, 0.5, 40.0, "m") for end in given)
    if least > most:
        page.bad(at, f"= {shown(given)}", "[least, most]", do="exchange the two")
    return least, most
