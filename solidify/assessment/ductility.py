"""The ductility trough that a strand is not to be straightened in, by the criterion that its case selects."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Any

from solidify.assessment.limits import Limit, Setting, limit
from solidify.errors import InputError, Problem, closest
from solidify.sources import load_data
from solidify.steel.composition import ae3_andrews, ar3_ouchi

if TYPE_CHECKING:
    from solidify.case import Case

__all__ = [
    "CRITERION_KEY",
    "LIMIT",
    "TROUGH_KEY",
    "Ductility",
    "TroughPart",
    "case_ductility",
    "criteria",
    "ductility",
    "outside_trough",
]

CRITERION_KEY = "ductility_criterion"
"""Key under ``[limits]`` that selects the criterion."""

TROUGH_KEY = "ductility_trough"
"""Key under ``[limits]`` that gives one's own trough [degC]."""

LIMIT = "straightener_surface"
"""The limit that the trough makes."""

Curve = tuple[tuple[float, float], ...]
"""Rows of temperature [degC] and reduction of area [%]."""

_CERTAIN = ("user", "seen", "derived", "recalled", "practice")
"""Evidence grades, the best first: a trough is known as well as the worst of its parts."""


@dataclass(frozen=True)
class TroughPart:
    """One range that a trough is made of.

    Parameters
    ----------
    words : str
        The steels it holds for, or how it was computed.
    low, high : float
        Its edges [degC]; NaN where it has none.
    evidence, source : str
        Grade and source key.
    """

    words: str
    low: float
    high: float
    evidence: str
    source: str


@dataclass(frozen=True)
class Ductility:
    """The ductility trough of one steel by one criterion.

    Parameters
    ----------
    criterion, label, definition : str
        Name in the data, words for print, and what it means; of one's own trough ``"own"``.
    low, high : float
        Edges [degC]: the surface is to be above `high`, or wholly below `low`; `low` is NaN where the criterion
        knows hot straightening alone; both are NaN when it does not speak.
    evidence, source : str
        Grade and source key.
    note : str
        Which steels it was taken for, and what it leaves out.
    parts : tuple of TroughPart
        What it is made of.
    reason : str
        Why the criterion does not speak for this steel, else empty.
    """

    criterion: str
    label: str
    definition: str
    low: float = math.nan
    high: float = math.nan
    evidence: str = "practice"
    source: str = "casting_practice"
    note: str = ""
    parts: tuple[TroughPart, ...] = ()
    reason: str = ""

    @property
    def text(self) -> str:
        """What it asks of the surface, for print, e.g. ``"≥ 1000 or ≤ 725 °C"``."""
        if math.isnan(self.high):
            return "–"
        below = "" if math.isnan(self.low) else f" or ≤ {self.low:g}"
        return f"≥ {self.high:g}{below} °C"


def criteria() -> dict[str, str]:
    """Return the criteria by name, with the words for each.

    Returns
    -------
    dict of str to str
        The default first.

    Examples
    --------
    >>> next(iter(criteria()))
    'practice_bands'
    """
    data = _data()
    names = sorted(data["criterion"], key=lambda name: name != data["default"])
    return {name: data["criterion"][name]["label"] for name in names}


def ductility(
    setting: Setting, composition: Mapping[str, float], criterion: str | None = None, curve: Curve = ()
) -> Ductility:
    """Return the ductility trough of a steel by one criterion.

    Parameters
    ----------
    setting : Setting
        Product and steel class.
    composition : mapping of str to float
        Contents [mass %]; empty when not known.
    criterion : str, optional
        One of `criteria`; the default is the practice of the trade.
    curve : tuple of (float, float)
        Temperature [degC], rising, and reduction of area in a hot tensile test [%].

    Returns
    -------
    Ductility

    Raises
    ------
    InputError
        If there is no such criterion.

    Examples
    --------
    >>> peritectic = Setting("slab", 220.0, frozenset({"peritectic"}), 0.12)
    >>> ductility(peritectic, {"C": 0.12, "Mn": 1.4}, "published_troughs").text
    '≥ 1000 or ≤ 725 °C'
    """
    name = criterion or _data()["default"]
    if name not in criteria():
        where = f"{CRITERION_KEY} {name}"
        raise InputError(
            Problem(where, "no such criterion", ", ".join(criteria()), closest(name, criteria()))
        )
    return _ductility(name, setting, tuple(sorted(composition.items())), curve)


def case_ductility(case: Case, setting: Setting, composition: Mapping[str, float]) -> Ductility:
    """Return the ductility trough that a case selects: its own, or that of its criterion.

    Parameters
    ----------
    case : Case
        A checked case.
    setting : Setting
        Product and steel class.
    composition : mapping of str to float
        Contents [mass %].

    Returns
    -------
    Ductility
    """
    own, criterion = case.limits.get(TROUGH_KEY), case.limits.get(CRITERION_KEY)
    if own is None:
        asks = criterion is not None and "least_percent" in _data()["criterion"].get(criterion, {})
        curve = (case.steel.reduction_of_area_percent or ()) if asks else ()
        return ductility(setting, composition, criterion, curve)
    low, high = map(float, own)
    return Ductility("own", "own trough", "the trough that the case gives", low, high, "user", "")


def outside_trough(rule: Limit, trough: Ductility) -> Limit:
    """Return the limit on the surface at the straightener as a trough makes it.

    Parameters
    ----------
    rule : Limit
        The limit as it ships, or the user's own number, which wins.
    trough : Ductility
        Of the steel.

    Returns
    -------
    Limit
    """
    if rule.overridden or trough.criterion == _data()["default"]:
        return rule
    return replace(
        rule,
        sense="at least" if math.isnan(trough.low) else "outside",
        lower=trough.high if math.isnan(trough.low) else trough.low,
        upper=math.inf if math.isnan(trough.low) else trough.high,
        evidence=trough.evidence,
        source=trough.source,
        note="; ".join(t for t in (trough.label, trough.note) if t),
        reason=trough.reason,
        overridden=trough.evidence == "user",
    )


@lru_cache(maxsize=1024)
def _ductility(
    name: str, setting: Setting, contents: tuple[tuple[str, float], ...], curve: Curve
) -> Ductility:
    data, composition = _data()["criterion"][name], dict(contents)
    bare = Ductility(name, data["label"], data["definition"])
    if name == _data()["default"]:
        rule = limit(LIMIT, setting)
        part = TroughPart(rule.note, math.nan, rule.lower, rule.evidence, rule.source)
        return replace(
            bare,
            high=rule.lower,
            evidence=rule.evidence,
            source=rule.source,
            note=rule.note,
            parts=() if rule.reason else (part,),
            reason=rule.reason,
        )
    if "row" in data:
        return _widest(bare, data, setting, composition)
    return _films(bare, data, composition) if "below_ar3" in data else _tested(bare, data, curve)


def _widest(
    bare: Ductility, data: Mapping[str, Any], setting: Setting, composition: Mapping[str, float]
) -> Ductility:
    """Return the widest of the troughs of every row that fits."""
    asks = any("class" in row or "steel" in row for row in data["row"])
    if asks and not composition:
        return replace(bare, reason=f"{bare.label} go by the steel: {_GIVE}")
    rows = [row for row in data["row"] if _fits(row, setting, composition)]
    if not rows:
        return replace(bare, reason=data["none"].format(steel=_class_of(setting)))
    parts = tuple(
        TroughPart(
            row["words"], float(row["trough"][0]), float(row["trough"][1]), row["evidence"], row["source"]
        )
        for row in rows
    )
    low, high = min(p.low for p in parts), max(p.high for p in parts)

    def best(edge: list[TroughPart]) -> TroughPart:
        return min(edge, key=lambda p: (_CERTAIN.index(p.evidence), p.low - p.high))

    deciding = dict.fromkeys(
        (best([p for p in parts if p.high == high]), best([p for p in parts if p.low == low]))
    )
    worst = max(deciding, key=lambda p: _CERTAIN.index(p.evidence))
    note = ", ".join(f"{p.words} {p.low:g} to {p.high:g} °C" for p in deciding)
    return replace(
        bare, low=low, high=high, evidence=worst.evidence, source=worst.source, note=note, parts=parts
    )


def _films(bare: Ductility, data: Mapping[str, Any], composition: Mapping[str, float]) -> Ductility:
    """Return the trough between the temperatures where ferrite can form and where it has."""
    if not composition:
        return replace(bare, reason=f"Ae3 and Ar3 go by the steel: {_GIVE}")
    held = [element for name, element in data["not_for"].items() if _belongs(name, composition)]
    if held:
        words = "carbonitrides keep the ductility low above Ae3; choose published_troughs"
        return replace(bare, reason=f"steel with {', '.join(held)}: {words}")
    if composition.get("C", 0.0) >= data["most_carbon"]:
        return replace(bare, reason=f"Ae3 is known below {data['most_carbon']:g} %C alone")
    ae3 = ae3_andrews(composition)
    if ae3 > data["highest_ae3"]:
        return replace(bare, reason=f"Ae3 comes out at {ae3:.0f} °C, where it is not known")
    ar3 = min(ar3_ouchi(composition), ae3)
    low, high = float(math.floor(ar3 - data["below_ar3"])), float(math.ceil(ae3))
    note = f"Ae3 {ae3:.0f} °C, Ar3 {ar3:.0f} °C less {data['below_ar3']:g} K"
    if _belongs(data["beside"]["class"], composition):
        note += f"; {data['beside']['words']}"
    grade = data["evidence"], data["source"]
    parts = (
        TroughPart("ferrite films", low, high, *grade),
        TroughPart("Ae3 of the composition", math.nan, ae3, "seen", "andrews_1965"),
        TroughPart("Ar3 of the composition", ar3, math.nan, "seen", "ouchi_1981"),
    )
    return replace(bare, low=low, high=high, evidence=grade[0], source=grade[1], note=note, parts=parts)


def _tested(bare: Ductility, data: Mapping[str, Any], curve: Curve) -> Ductility:
    """Return the trough of a measured curve: from the lowest to the highest temperature with too little of it."""
    least = float(data["least_percent"])
    points = [(t, area) for t, area in curve if t <= data["up_to"]]
    if len(points) < 2:
        return replace(bare, reason="give reduction_of_area_percent under [steel], two temperatures or more")
    (first, _), (last, at_last) = points[0], points[-1]
    brittle = [i for i, (_, area) in enumerate(points) if area < least]
    if not brittle:
        return replace(bare, reason=f"nowhere below {least:g} % from {first:g} to {last:g} °C: no trough")
    if at_last < least:
        return replace(bare, reason=f"the curve is still below {least:g} % at its hottest, {last:g} °C")

    def crossing(i: int) -> float:
        (t0, a0), (t1, a1) = points[i], points[i + 1]
        return t0 + (t1 - t0) * (least - a0) / (a1 - a0)

    high = float(math.ceil(crossing(brittle[-1]) - 1e-9))
    low = math.nan if brittle[0] == 0 else float(math.floor(crossing(brittle[0] - 1) + 1e-9))
    grade = data["evidence"], data["source"]
    worst = min(area for _, area in points)
    note = f"{worst:g} % at the least, curve of the case from {first:g} °C on"
    parts = (
        TroughPart(f"least reduction of area {least:g} %", math.nan, math.nan, *grade),
        TroughPart("curve of the case", low, high, "user", ""),
    )
    return replace(bare, low=low, high=high, evidence=grade[0], source=grade[1], note=note, parts=parts)


_GIVE = f"give a composition, or {TROUGH_KEY} under [limits]"


def _class_of(setting: Setting) -> str:
    known = ("ultra-low carbon", "low carbon", "peritectic", "medium carbon", "high carbon")
    return next((word for word in known if word in setting.steel), "this")


def _fits(row: Mapping[str, Any], setting: Setting, composition: Mapping[str, float]) -> bool:
    if "steel" in row and setting.steel.isdisjoint(row["steel"]):
        return False
    return "class" not in row or _belongs(row["class"], composition)


def _belongs(name: str, composition: Mapping[str, float]) -> bool:
    """Tell whether a steel belongs to a class of the data."""
    rule = _data()["class"][name]

    def rich(asked: Mapping[str, float]) -> list[bool]:
        return [composition.get(element, 0.0) >= least for element, least in asked.items()]

    tests = [*rich(rule.get("all", {})), not any(rich(rule.get("below", {})))]
    tests += [any(rich(rule["any"]))] if "any" in rule else []
    tests += [
        composition.get(element, math.inf) > most
        for element, most in rule.get("above_or_unknown", {}).items()
    ]
    if "product" in rule:
        contents = [composition.get(element, 0.0) for element in rule["product"]["of"]]
        tests.append(math.prod(contents) >= rule["product"]["least"] * (1 - 1e-9))
    return all(tests)


@cache
def _data() -> dict[str, Any]:
    return load_data("limits", "ductility.toml")
