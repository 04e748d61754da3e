"""The limits a strand is judged by: data by product, size, steel and lubricant, each replaceable by name.

What goes by the steel goes by one number, the peritectic carbon equivalent C_p, and passes from one class to the next
along a ramp.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cache, cached_property, lru_cache
from itertools import chain
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from solidify.errors import InputError, Problem, closest
from solidify.sources import load_data
from solidify.units import MM

if TYPE_CHECKING:
    from solidify.steel import Steel

__all__ = [
    "PRODUCTS",
    "Limit",
    "Setting",
    "limit",
    "names",
    "peritectic_edges",
    "product_of",
    "room_to",
    "steel_words",
    "strand_setting",
]

Section = tuple[str, float, float]
"""Shape, thickness and width [m], as `product_of` takes them."""

PRODUCTS = ("thin slab", "slab", "bloom", "billet", "round")
"""Products the limits tell apart, see `product_of`."""

THIN_SLAB_MM = 100.0
"""A slab thinner than this is a thin slab [mm]; common practice, no source."""

BLOOM_MM = 220.0
"""A rectangle larger than this is a bloom, else a billet [mm]; common practice, no source."""


@dataclass(frozen=True)
class Setting:
    """What a limit may depend on.

    Parameters
    ----------
    product : str
        One of `PRODUCTS`.
    size_mm : float
        See `product_of` [mm].
    steel : frozenset of str
        Words from `steel_words`.
    carbon_equivalent : float
        Peritectic carbon equivalent C_p [mass %]; NaN when not known.
    lubricant : str
        ``"powder"`` or ``"oil"``.
    """

    product: str
    size_mm: float
    steel: frozenset[str] = field(default_factory=lambda: frozenset({"unknown"}))
    carbon_equivalent: float = math.nan
    lubricant: str = "powder"


@dataclass(frozen=True)
class Limit:
    """One limit as it applies to one strand.

    Parameters
    ----------
    name, label, definition : str
        Name in the data and under ``[limits]``, words for print, and what exactly is compared.
    unit : str
        Plant unit of the limit; ``"1"`` for a ratio.
    sense : str
        ``"at least"``, ``"at most"``, ``"within"``, or ``"outside"`` of a trough, whose edges `lower` and `upper` are.
    hardness : str
        ``"hard"`` or ``"soft"``.
    lower, upper : float
        The limit in `unit`; infinite where there is none, NaN when nothing is judged.
    close, close_percent : float
        Room below which a met limit reads ``close`` while no error band is known: in `unit`, or as a share of
        the limit [%] when `close_percent` is not zero.
    evidence, source : str
        Grade and source key; ``"user"`` and empty for the user's own.
    note : str
        Which case of the limit applies.
    reason : str
        Why nothing is judged, else empty.
    factor : float
        Number the value is multiplied with before it is compared [1].
    until : str
        ``"straightener"`` where the stretch ends at the first straightening point, else empty.
    overridden : bool
        True for the user's own.
    reach : float
        A value above this is outside the model [unit]; infinite where there is none.
    cutoff_percent : float
        Share of the distance to the cut-off that the limit is at the least [%].
    """

    name: str
    label: str
    definition: str
    unit: str
    sense: str
    hardness: str
    lower: float
    upper: float
    close: float
    close_percent: float
    evidence: str
    source: str
    note: str = ""
    reason: str = ""
    factor: float = 1.0
    until: str = ""
    overridden: bool = False
    reach: float = math.inf
    cutoff_percent: float = 0.0

    @cached_property
    def numbers(self) -> tuple[float, float, float, float, bool]:
        """What `room_to` wants of a limit."""
        return self.lower, self.upper, self.close, self.close_percent, self.sense == "outside"


def room_to(
    value: np.ndarray,
    lower: ArrayLike,
    upper: ArrayLike,
    close: ArrayLike,
    close_percent: ArrayLike,
    outside: ArrayLike,
) -> tuple[np.ndarray, np.ndarray]:
    """Return the room of values to the nearer side of their limits, positive inside, and the close width there.

    Parameters
    ----------
    value : ndarray
        In the unit of the limit.
    lower, upper, close, close_percent, outside : array_like
        As `Limit.numbers`, of each value or the same for several.

    Returns
    -------
    room, close : ndarray, shape of `value`
        In the unit of the limit.

    Examples
    --------
    >>> window = limit("superheat_window", Setting("slab", 220.0))
    >>> room, close = room_to(np.array([33.0, 10.0]), *window.numbers)
    >>> room, close
    (array([ 2., -5.]), array([3., 3.]))
    """
    with np.errstate(invalid="ignore"):  # what is infinite has no width
        above, below = value - lower, np.subtract(upper, value)
        low = np.isinf(upper) | (np.isfinite(lower) & (above <= below))
        low = np.where(outside, above < below, low)
        beyond = np.where(low, np.subtract(lower, value), value - upper)
        room = np.where(outside, beyond, np.where(low, above, below))
        share = np.abs(np.where(low, lower, upper)) * close_percent / 100.0
    return room, np.where(np.not_equal(close_percent, 0.0), share, close)


def product_of(shape: str, thickness: float, width: float, use: str | None = None) -> tuple[str, float]:
    """Tell the product and the size that limits go by.

    The use of the product decides where it is given; else a slab is what the case calls a slab, a round a round,
    and any other section a bloom above 220 mm and a billet up to it. A slab is thin below 100 mm.

    Parameters
    ----------
    shape : str
        ``"slab"``, ``"rectangle"`` or ``"round"``.
    thickness, width : float
        Hot, at mould exit; a round has the diameter twice [m].
    use : str, optional
        What it is sold as, one of `PRODUCTS`.

    Returns
    -------
    product : str
        One of `PRODUCTS`.
    size_mm : float
        Thickness of a slab, diameter of a round, else the side of the square of equal area [mm].

    Examples
    --------
    >>> product_of("rectangle", 0.25, 0.30)
    ('bloom', 273.9)
    >>> product_of("rectangle", 0.15, 0.15)
    ('billet', 150.0)
    >>> product_of("rectangle", 0.24, 0.24, "billet")
    ('billet', 240.0)
    """
    side = thickness if shape == "round" else math.sqrt(thickness * width)
    by_size = "bloom" if round(side / MM, 1) > BLOOM_MM else "billet"
    product = use or (by_size if shape == "rectangle" else shape)
    if product in ("slab", "thin slab"):
        size = round(thickness / MM, 1)
        return ("thin slab" if size < THIN_SLAB_MM else product), size
    return product, round(side / MM, 1)


def strand_setting(section: Section, steel: Steel, lubricant: str, use: str | None = None) -> Setting:
    """Return what the limits of a strand depend on.

    Parameters
    ----------
    section : tuple of str, float, float
        Shape, thickness and width as `product_of` takes them.
    steel : Steel
        Its class and composition.
    lubricant : str
        ``"powder"`` or ``"oil"``.
    use : str, optional
        As for `product_of`.

    Returns
    -------
    Setting
    """
    words = steel_words(steel.steel_class, steel.composition)
    return Setting(*product_of(*section, use), words, steel.carbon_equivalent, lubricant)


def steel_words(steel_class: str, composition: Mapping[str, float]) -> frozenset[str]:
    """Return the steel class and every further class of the limits' data that the steel belongs to.

    Parameters
    ----------
    steel_class : str
        E.g. ``"peritectic"`` or ``"unknown"``.
    composition : mapping of str to float
        Contents [mass %]; may be empty.

    Returns
    -------
    frozenset of str

    Examples
    --------
    >>> sorted(steel_words("medium carbon", {"C": 0.20, "Nb": 0.03}))
    ['medium carbon', 'microalloyed']
    """
    words = {steel_class}
    for name, rule in _data()["class"].items():
        rich = any(composition.get(element, 0.0) >= least for element, least in rule.get("any", {}).items())
        rich |= any(composition.get(element, 0.0) > most for element, most in rule.get("above", {}).items())
        if rich:
            words.add(name)
    return frozenset(words)


def names() -> tuple[str, ...]:
    """Return the names of all limits, hard ones first.

    Returns
    -------
    tuple of str
    """
    return tuple(_data()["limit"])


@lru_cache(maxsize=4096)
def limit(
    name: str, setting: Setting, override: float | tuple[float, float] | None = None, place: str = ""
) -> Limit:
    """Resolve one limit for one strand.

    Parameters
    ----------
    name : str
        One of `names`.
    setting : Setting
        Product, size, steel and lubricant.
    override : float or tuple of float, optional
        The user's own, in the unit of the limit: a number replaces a one-sided limit, a pair ``(low, high)``
        a window; the case file is checked for it when it is read.
    place : str
        Asks for rows that hold only at one place, e.g. ``"first zone"``.

    Returns
    -------
    Limit

    Raises
    ------
    InputError
        If there is no such limit.
    """
    if name not in names():
        raise InputError(
            Problem(f"limit {name}", "no such limit", ", ".join(names()), closest(name, names()))
        )
    data = _data()["limit"][name]
    row = _row(data["row"], setting, place)
    merged = {key: row.get(key, data[key]) for key in ("evidence", "source")} | {"note": row.get("note", "")}
    if "close" in row or "close_percent" in row:
        close, percent = row.get("close", 0.0), row.get("close_percent", 0.0)
    else:
        close, percent = data.get("close", 0.0), data.get("close_percent", 0.0)
    reason = row.get("reason", "" if "value" in row else "no limit ships for this product")
    value = row.get("value", math.nan)
    if override is not None:
        merged |= {"evidence": "user", "source": "", "note": ""}
        reason, value = "", override
    lower, upper = _bounds(value, data["sense"])
    return Limit(
        name=name,
        label=data["label"],
        definition=data["definition"],
        unit=data["unit"],
        sense=data["sense"],
        hardness=data["hardness"],
        lower=lower,
        upper=upper,
        close=float(close),
        close_percent=float(percent),
        reason=reason,
        factor=float(row.get("factor", 1.0)),
        until=row.get("until", ""),
        overridden=override is not None,
        reach=float(data.get("reach", math.inf)),
        cutoff_percent=0.0 if override is not None else float(row.get("cutoff_percent", 0.0)),
        **merged,
    )


def _row(rows: list[dict[str, Any]], setting: Setting, place: str) -> dict[str, Any]:
    """Return the row that counts; near an edge of C_p what lies between two rows."""

    def at(carbon_equivalent: float) -> dict[str, Any]:
        there = replace(setting, carbon_equivalent=carbon_equivalent)
        return next((r for r in rows if _fits(r, there, place)), {})

    reach, here = _data()["ramp"]["cp_percent"], setting.carbon_equivalent
    row, below, above = at(here), at(here - reach), at(here + reach)
    if below is above or "value" not in below or "value" not in above:
        return row
    edge = next(e for e in peritectic_edges(rows) if here - reach < e <= here + reach)
    return _between(below, above, row, (here + reach - edge) / (2.0 * reach))


def peritectic_edges(rows: list[dict[str, Any]]) -> list[float]:
    """Return where rows of a limit meet along C_p, rising [mass %]."""
    return sorted(set(chain.from_iterable(r["cp_percent"] for r in rows if "cp_percent" in r)))


def _between(
    below: Mapping[str, Any], above: Mapping[str, Any], row: Mapping[str, Any], share: float
) -> dict[str, Any]:
    """Return a row between two others, `share` of the way [1]; figures to four digits."""

    def mixed(a: Any, b: Any) -> Any:
        if isinstance(a, list):
            return [mixed(*pair) for pair in zip(a, b, strict=True)]
        return float(f"{(1.0 - share) * a + share * b:.4g}")

    words = [r.get("note", "other steel") for r in (below, above)]
    found = {"value": mixed(below["value"], above["value"]), "note": f"between {words[0]} and {words[1]}"}
    if "factor" in row:
        found["factor"] = mixed(below["factor"], above["factor"])
    return {**row, **found}


def _bounds(value: Any, sense: str) -> tuple[float, float]:
    if isinstance(value, list | tuple):
        return float(value[0]), float(value[1])
    if math.isnan(value):
        return math.nan, math.nan
    return (float(value), math.inf) if sense == "at least" else (-math.inf, float(value))


def _fits(row: Mapping[str, Any], setting: Setting, place: str) -> bool:
    if "product" in row and setting.product not in row["product"]:
        return False
    if "lubricant" in row and setting.lubricant != row["lubricant"]:
        return False
    if "steel" in row and setting.steel.isdisjoint(row["steel"]):
        return False
    if row.get("place", place) != place:
        return False
    ranges = ((row.get("size_mm"), setting.size_mm), (row.get("cp_percent"), setting.carbon_equivalent))
    return all(bounds is None or bounds[0] <= value < bounds[1] for bounds, value in ranges)


@cache
def _data() -> dict[str, Any]:
    return load_data("limits", "default.toml")
