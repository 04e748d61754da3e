"""Tables of several cases side by side: one table, in which numbers that differ are arrays with a strand axis.

What is written for the numbers of one strand, ``h = k * w``, then holds for many at once. Where a formula must decide,
`uniform` asks whether all the strands go the same way, and parts them where they do not.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import replace
from operator import itemgetter
from typing import Any, TypeVar

import numpy as np

from solidify.case import Case
from solidify.case.model import Casting, Cooling, Mould, Nozzles, Table, Zone
from solidify.case.model.mould import FaceFlow, FaceRise
from solidify.case.model.zone import SideShares
from solidify.errors import Notice

__all__ = [
    "Notices",
    "Number",
    "DivergentBatch",
    "stack",
    "stack_cases",
    "layout",
    "stack_numbers",
    "plain",
    "renewed",
    "row",
    "notices_of",
    "uniform",
    "spread",
    "merge_notices",
    "vary",
]

R = TypeVar("R")
T = TypeVar("T", bound=Table)

Notices = tuple[tuple[Notice, ...], ...]
"""Of each strand; a single entry is for all side by side."""

Number = float | np.ndarray
"""Of one strand or the same for all side by side; or an array of shape (strand,)."""

_OUTSIDE = (
    "emissivity",
    "ambient_temperature_C",
    "natural_convection_W_per_m2K",
    "water_temperature_C",
    "roll_contact_W_per_m2K",
    "roll_contact_share",
    "view_factor",
)

NUMBERS: dict[type[Table], tuple[str, ...]] = {
    Casting: tuple(Casting.model_fields),
    Mould: (
        "mean_heat_flux_MW_per_m2",
        "water_flow_L_per_min",
        "water_rise_K",
        "measured_at_speed_m_per_min",
        "measured_at_carbon_equivalent_percent",
        "powder_viscosity_Pa_s",
        "powder_melting_temperature_C",
        "decay_exponent",
        "peak_heat_flux_MW_per_m2",
        "peritectic_early_share",
        "expected_mean_heat_flux_MW_per_m2",
        "heat_flux_factor",
        "water_inlet_C",
        "water_gap_mm",
        "water_slot_mm2",
        "copper_wall_mm",
        "oscillation_cycles_per_min",
        "oscillation_stroke_mm",
        "taper_percent_per_m",
    ),
    FaceFlow: tuple(FaceFlow.model_fields),
    FaceRise: tuple(FaceRise.model_fields),
    Cooling: _OUTSIDE,
    Zone: (
        "water_L_per_min",
        "water_loose_L_per_min",
        "water_fixed_L_per_min",
        "water_narrow_L_per_min",
        "water_L_per_kg",
        "water_flux_L_per_m2s",
        "water_flux_L_per_m2_min",
        "heat_transfer_W_per_m2K",
        "heat_flux_kW_per_m2",
        "spray_factor",
        *_OUTSIDE,
    ),
    SideShares: tuple(SideShares.model_fields),
    Nozzles: ("pressure_bar",),
}
"""Keys whose numbers may differ among strands side by side; all else of a table must be equal."""

_BELOW: dict[type[Table], tuple[str, ...]] = {
    Mould: ("face_water_flow_L_per_min", "face_water_rise_K"),
    Zone: ("side_shares", "nozzles"),
}
"""Tables within a table, to which the same applies."""

_IGNORED: dict[type[Table], tuple[str, ...]] = {
    Mould: ("heat_flux_law", "mean_heat_flux_at_speed", "handbook_relation", "profile")
}
"""Keys that decide nothing here: the law of a mould is found for each strand."""


class DivergentBatch(Exception):  # noqa: N818
    """Strands that stood side by side cannot: they go different ways.

    Parameters
    ----------
    way : ndarray of bool, shape (strand,)
        Which way each goes.
    """

    def __init__(self, way: np.ndarray) -> None:
        super().__init__("strands differ in kind")
        self.way = way


def uniform(condition: Any) -> bool:
    """Return a condition that is the same for all the strands.

    Parameters
    ----------
    condition : bool or ndarray of bool, shape (strand,)
        Of one or all, or of each.

    Returns
    -------
    bool

    Raises
    ------
    DivergentBatch
        If it holds for some strands only.
    """
    if isinstance(condition, np.ndarray) and condition.ndim:
        if condition.all():
            return True
        if condition.any():
            raise DivergentBatch(condition)
        return False
    return bool(condition)


def _getter(names: Sequence[str]) -> Callable[[dict[str, Any]], tuple[Any, ...]]:
    if len(names) > 1:
        return itemgetter(*names)
    return lambda values: tuple(values[name] for name in names)


def _readers(table: type[Table]) -> tuple[Any, Any, tuple[str, ...]]:
    numbers, below = NUMBERS[table], _BELOW.get(table, ())
    other = {*numbers, *below, *_IGNORED.get(table, ())}
    return _getter([name for name in table.model_fields if name not in other]), _getter(numbers), below


_READ = {table: _readers(table) for table in NUMBERS}


def layout(table: Table | None) -> Hashable:
    """Return all of a table but the numbers that may differ: tables for which it is equal go side by side.

    Parameters
    ----------
    table : Table, optional
        A table of a case; of tables without such numbers all must be equal.

    Returns
    -------
    hashable
    """
    if table is None:
        return None
    values = table.__dict__
    if type(table) not in _READ:
        return tuple(values.values())
    fixed, numbers, below = _READ[type(table)]
    given = tuple([value is None for value in numbers(values)])
    return fixed(values), given, tuple([layout(values[name]) for name in below])


def stack(tables: Sequence[T]) -> T:
    """Put tables of one layout side by side.

    Parameters
    ----------
    tables : sequence of Table
        One for each strand, with equal `layout`.

    Returns
    -------
    Table
        The first, with an array of shape (strand,) for every number in which they differ; the first itself where
        they do not.
    """
    first = tables[0]
    if all(table is first for table in tables):
        return first
    every = [table.__dict__ for table in tables]
    own: dict[str, Any] = {}
    for name in NUMBERS.get(type(first), ()):
        own[name] = stack_numbers([each[name] for each in every])
    for name in _BELOW.get(type(first), ()):
        if every[0][name] is not None:
            below = stack([each[name] for each in every])
            if below is not every[0][name]:
                own[name] = below
    return first.model_copy(update=own)


def stack_numbers(values: Sequence[float]) -> Any:
    """Put numbers side by side.

    Parameters
    ----------
    values : sequence of float
        One for each strand.

    Returns
    -------
    float or ndarray, shape (strand,)
        One number where all are equal.
    """
    return values[0] if list(values).count(values[0]) == len(values) else np.array(values)


def stack_cases(cases: Sequence[Case]) -> Case:
    """Put cases of one layout side by side.

    Parameters
    ----------
    cases : sequence of Case
        One for each strand; what `stack` asks of tables holds for casting, mould, cooling and zones, all else of
        machine and section must be equal.

    Returns
    -------
    Case
        The first, with arrays of shape (strand,) for the numbers of these tables in which they differ.
    """
    first = cases[0]
    if len(cases) == 1:
        return first
    own: dict[str, Any] = {
        "casting": stack([case.casting for case in cases]),
        "mould": stack([case.mould for case in cases]),
        "cooling": stack([case.cooling for case in cases]),
        "zone": tuple(map(stack, zip(*(case.zone for case in cases), strict=True))),
    }
    return replace(first, **own)


def spread(value: Any, strands: int, rank: int = 0) -> np.ndarray:
    """Give a number a strand axis where it has none.

    Parameters
    ----------
    value : float or ndarray
        The same for all the strands, or with a leading axis of them.
    strands : int
        How many.
    rank : int
        Axes of the value of one strand.

    Returns
    -------
    ndarray, shape (strand, ...)
    """
    array = np.asarray(value)
    if array.ndim > rank:
        return array
    return array[None] if strands == 1 else np.broadcast_to(array, (strands, *array.shape))


def renewed(value: R, own: Mapping[str, Any]) -> R:
    """Return a dataclass with some fields renewed, as `dataclasses.replace` at a fifth of its time.

    Parameters
    ----------
    value : dataclass
        One that checks nothing when it is made.
    own : mapping of str to object
        New values by field.

    Returns
    -------
    dataclass
    """
    made = object.__new__(type(value))
    made.__dict__.update(value.__dict__, **own)
    return made


def vary(*values: Any) -> bool:
    """Tell whether any of some numbers differs among strands side by side.

    Parameters
    ----------
    *values : float or ndarray
        Numbers without axes in one strand.

    Returns
    -------
    bool
    """
    return any(isinstance(value, np.ndarray) and value.ndim > 0 for value in values)


def row(value: Any, strand: int, rank: int = 0) -> Any:
    """Return the value of one strand of what may have a strand axis.

    Parameters
    ----------
    value : object
        The same for all the strands, or an array with a leading axis of them.
    strand : int
        Which one.
    rank : int
        Axes of the value of one strand.

    Returns
    -------
    float or ndarray
        A plain number where it has no axes.
    """
    return plain(value[strand] if isinstance(value, np.ndarray) and value.ndim > rank else value)


def plain(value: Any) -> Any:
    """Return a number without axes as a plain one, and all else as it is."""
    if isinstance(value, np.generic) or (isinstance(value, np.ndarray) and value.ndim == 0):
        return float(value)
    return value


def merge_notices(*notices: Notices) -> Notices:
    """Put notices of the same strands behind one another.

    Parameters
    ----------
    *notices : tuple of tuple of Notice
        Each of every strand, or with a single entry for all.

    Returns
    -------
    tuple of tuple of Notice
        With a single entry where all had.
    """
    if all(len(each) == 1 for each in notices):
        return (sum((each[0] for each in notices), ()),)
    count = max(map(len, notices))
    full = [each if len(each) > 1 else each * count for each in notices]
    return tuple([sum(own, ()) for own in zip(*full, strict=True)])


def notices_of(own: np.ndarray, say: Callable[[int], tuple[Notice, ...]]) -> Notices:
    """Return what is said of each strand: of some that have something of their own, and the same of all others.

    Parameters
    ----------
    own : ndarray of bool, shape (strand,) or ()
        Of which there is something of their own.
    say : callable
        Called with the place of a strand.

    Returns
    -------
    tuple of tuple of Notice
        With a single entry where there is nothing of their own.
    """
    if own.ndim == 0 or len(own) == 1 or not own.any():
        return (say(0),)
    others = () if own.all() else say(int(own.argmin()))
    return tuple([say(strand) if own[strand] else others for strand in range(len(own))])
