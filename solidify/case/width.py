"""What follows the section when a case is changed to another one: water, sprayed width, mould water.

The rule is ``section.width_rule``: what stands in the file was set for the section of the file.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from itertools import pairwise
from typing import Any

from solidify.case.given import Issue, RawCase, Rule
from solidify.case.model import SIDES, SIDES_AT_SPEED, Zone
from solidify.case.paths import KeyPath
from solidify.case.values import is_number, plain
from solidify.case.view import CaseView
from solidify.errors import Notice

__all__ = ["SIZES", "WIDTH_RULES", "followed", "left_behind"]

SIZES = ("thickness_mm", "width_mm", "diameter_mm")
"""Keys of the section that water follows."""

_TOTALS = ("water_L_per_min", "water_at_speed")
"""Water of a whole zone that does not follow the section by itself."""


def width_rule_has_its_loops(case: RawCase) -> Iterator[Issue]:
    """spray_widths_mm rise, and stand with width_rule = "loops", which wants them in one zone or more."""
    rule = case.get("section", "width_rule")
    zones = [zone for zone in case.zones if case.has(*zone, "spray_widths_mm")]
    if rule == "loops" and not zones:
        do = "give spray_widths_mm in the zones whose sprays are switched, or take another rule"
        yield Issue(("section", "width_rule"), '= "loops" but no zone has spray_widths_mm', do=do)
    for zone in zones:
        path = (*zone, "spray_widths_mm")
        if rule != "loops":
            do = 'add width_rule = "loops" to [section], or drop it'
            yield Issue(path, 'has no effect without width_rule = "loops"', do=do)
        steps = case.get(*path)
        if steps is not None and any(after <= before for before, after in pairwise(steps)):
            yield Issue(path, "do not rise", "rising widths", do="sort them, each once")


WIDTH_RULES: tuple[Rule, ...] = (width_rule_has_its_loops,)
"""Every rule, in the order of the file."""


def followed(
    case: CaseView, data: Mapping[str, Any], paths: Collection[KeyPath]
) -> tuple[list[tuple[KeyPath, Any]], list[Issue]]:
    """Return what else changes where the sizes of the section do, by the rule of the case.

    Parameters
    ----------
    case : CaseView
        Before the change.
    data : mapping
        The tables as changed.
    paths : collection of tuple
        What was changed by name; it stays as it was set.

    Returns
    -------
    changes : list of (tuple, value)
        Key paths and values.
    issues : list of Issue
        Why it cannot follow.

    Notes
    -----
    The water on a square metre of each face stays. ``"scale"``: the sprayed width keeps its share of the width.
    ``"margin"``: the dry margin at the edges keeps its width. ``"loops"``: sprays are switched on and off in whole
    loops; the sprayed width is the widest of `spray_widths_mm` that the strand is wide; zones without them keep their
    margin. Mould water keeps its velocity and, with its rise, its flux.
    """
    rule = case.section.width_rule
    sizes = data.get("section")
    touched = any(path[:1] == ("section",) and (len(path) == 1 or path[1] in SIZES) for path in paths)
    if rule in (None, "given") or not touched or ("zone",) in paths or not isinstance(sizes, Mapping):
        return [], []
    old = [getattr(case.section, key) for key in SIZES]
    new = [sizes.get(key) for key in SIZES]
    if sizes.get("shape") != case.section.shape or not all(
        is_number(b) or b == a for a, b in zip(old, new, strict=True)
    ):
        return [], []
    two = (2, 2) if case.section.shape == "round" else (0, 1)
    ratios = (new[two[0]] / old[two[0]], new[two[1]] / old[two[1]])
    if ratios == (1.0, 1.0):
        return [], []
    changes: list[tuple[KeyPath, Any]] = [(("mould", key), v) for key, v in _mould(case, ratios)]
    issues: list[Issue] = []
    for i, zone in enumerate(case.zone):
        own, wrong = _zone(zone, case.section.shape, str(rule), old, new)
        changes += [(("zone", i, key), value) for key, value in own.items()]
        issues += [Issue(("zone", i), message, do=do) for message, do in wrong]
    return [(path, value) for path, value in changes if path not in paths], issues


def _mould(case: CaseView, ratios: tuple[float, float]) -> Iterator[tuple[str, Any]]:
    """Yield the mould water and its slots; ratios of thickness and width."""
    mould = case.mould
    narrow, wide = ratios
    girth = (case.thickness * narrow + case.width * wide) / (case.thickness + case.width)
    all_faces = wide if mould.water_faces == "one wide" else girth
    for key in ("water_flow_L_per_min", "water_slot_mm2"):
        value = getattr(mould, key)
        if value is not None:
            yield key, value * all_faces
    faces = mould.face_water_flow_L_per_min
    if faces is not None:
        given = faces.model_dump(exclude_none=True)
        yield (
            "face_water_flow_L_per_min",
            {face: flow * (wide if face in ("loose", "fixed") else narrow) for face, flow in given.items()},
        )


def _zone(
    zone: Zone, shape: str, rule: str, old: list[Any], new: list[Any]
) -> tuple[dict[str, Any], list[tuple[str, str]]]:
    """Return what of a zone follows the section, and why it cannot."""
    own: dict[str, Any] = {}
    if shape == "round":
        wide = narrow = whole = new[2] / old[2]
    elif zone.sprayed_width_mm is None:  # a coefficient or a flux
        return {}, []
    else:
        before, after = zone.sprayed_width_mm, _sprayed(zone, rule, old[1], new[1])
        if after <= 0:
            least = f"{plain(zone.spray_widths_mm[0])} mm" if zone.spray_widths_mm else "its margin"
            message = f"cannot spray a width of {plain(new[1])} mm: the narrowest spray is {least}"
            return {}, [(message, "add a narrower spray, or set the water of this section by name")]
        wide, narrow = after / before, new[0] / old[0]
        sides = zone.sprayed_faces == "all"
        whole = (after + sides * new[0]) / (before + sides * old[0])
        if before != old[1] or zone.spray_widths_mm or after != new[1]:
            own["sprayed_width_mm"] = after
    if zone.nozzles is not None and abs(whole - 1.0) > 1e-9:
        do = "give its water as L/min or as a water flux, or set the nozzles of this section by name"
        return {}, [("has nozzles, whose number does not follow the width", do)]
    shares = zone.side_shares
    if shares is not None:
        parts = {"loose": shares.loose * wide, "fixed": shares.fixed * wide}
        parts |= {} if shares.narrow is None else {"narrow": shares.narrow * narrow}
        given = shares.loose + shares.fixed + (shares.narrow or 0.0)
        whole = sum(parts.values()) / given
        own["side_shares"] = {side: part / sum(parts.values()) for side, part in parts.items()}
    factors = dict.fromkeys(_TOTALS, whole)
    for keys in (SIDES, SIDES_AT_SPEED):
        factors |= dict(zip(keys, (wide, wide, narrow), strict=True))
    for key, factor in factors.items():
        value = getattr(zone, key)
        if value is not None:
            own[key] = (
                tuple((v, w * factor) for v, w in value) if isinstance(value, tuple) else value * factor
            )
    return own, []


def _sprayed(zone: Zone, rule: str, old: float, new: float) -> float:
    """Return the sprayed width of a zone of a rectangle or slab [mm]; 0 where there is none."""
    assert zone.sprayed_width_mm is not None
    if rule == "loops" and zone.spray_widths_mm:
        return max((step for step in zone.spray_widths_mm if step <= new), default=0.0)
    return zone.sprayed_width_mm * new / old if rule == "scale" else zone.sprayed_width_mm + new - old


def left_behind(case: CaseView) -> Iterator[Notice]:
    """Say where water stays as it was set for another section.

    Parameters
    ----------
    case : CaseView
        A checked case, perhaps of another section than its file.

    Yields
    ------
    Notice
    """
    file = case.origin.section
    if file is None or case.section.width_rule is not None:
        return
    moved = [key for key in SIZES if getattr(file, key) != getattr(case.section, key)]
    keys = (*_TOTALS, *SIDES, *SIDES_AT_SPEED, "nozzles")
    stays = [zone.name for zone in case.zone if any(getattr(zone, key) is not None for key in keys)]
    flows = case.mould.water_rise_K is not None or case.mould.face_water_rise_K is not None
    if not moved or not (stays or flows):
        return
    if file.shape == case.section.shape:
        sizes = ", ".join(
            f"{k} {plain(getattr(file, k))} to {plain(getattr(case.section, k))}" for k in moved
        )
    else:
        sizes = f"{file.shape} to {case.section.shape}"
    what = [f"the water of {len(stays)} zones"] if stays else []
    what += ["the flow of the mould water"] if flows else []
    text = (
        f"{sizes}, but {' and '.join(what)} stay as set for the section of the file, so that water and heat on a "
        "square metre change; width_rule in [section] lets them follow"
    )
    yield Notice(text, "section")
