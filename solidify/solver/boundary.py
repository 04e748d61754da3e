"""What acts on the faces of a slice while it ages: surface laws, one stretch after the other.

The march knows no zones and no relations, only rows of numbers; this module turns descriptions into such
rows.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, fields
from functools import lru_cache
from typing import Any

import numpy as np

__all__ = [
    "LAW",
    "MECHANISM_SLOT",
    "SURFACE_ROWS",
    "BoundaryCondition",
    "BoundarySchedule",
    "LawBook",
    "schedule",
]

LAW = {
    name: i
    for i, name in enumerate(
        (
            "fixed",  # 1: the surface temperature is prescribed; 0: heat is exchanged
            "constant",  # prescribed flux: constant + root sqrt(t) + decay / t^exponent, within lowest..highest
            "root",
            "decay",
            "lowest",
            "highest",
            "time_row",  # row over time added to the prescribed flux, or the fixed temperature; -1 none
            "slot",  # the mechanism on which the prescribed flux is booked
            "htc",  # water: htc row(T) (T - water_temperature)
            "htc_row",
            "water_temperature",
            "emissivity",  # radiation: emissivity row(T) sigma (T^4 - T_ambient^4)
            "emissivity_row",
            "ambient_temperature",
            "convection",  # natural convection against the ambient temperature
            "roll_htc",  # roll contact against the ambient temperature
            "roll_share",  # or a share f of all: f / (1 - f) of water, radiation and convection
            "roll_row",  # roll contact over surface temperature; -1 none
            "turn_start",  # age at which the law begins to turn into the next [s]
            "turn_rate",  # share that turns each second [s-1]; 0 nothing
            "exponent",  # of the age in the decay of the prescribed flux [1]
        )
    )
}
"""Column of each parameter in a row of surface laws, in SI units and degC."""

SURFACE_ROWS = ("htc_row", "emissivity_row", "roll_row")
"""Columns of `LAW` that hold the number of a row over surface temperature."""

_NOTHING = dict.fromkeys(LAW, 0.0) | {"lowest": -np.inf, "highest": np.inf, "exponent": 0.5}
_NOTHING |= dict.fromkeys((*SURFACE_ROWS, "time_row"), -1.0)
"""The law of an insulated face: no flux, within any range, and no row anywhere."""

MECHANISM_SLOT = {"mould": 0, "prescribed": 5}
"""Mechanisms a prescribed flux can be booked on; numbers as in `solidify.strand.result.MECHANISMS`."""

_TIME_POINTS = 4097
_SURFACE_POINTS = 801

Number = float | np.ndarray
Curve = tuple[np.ndarray, np.ndarray]


@dataclass(frozen=True)
class BoundaryCondition:
    """What acts on one face until the age `end`.

    Of strands side by side each number may be an array of shape (strand,), and the values of a curve may have the shape
    (strand, point).

    Parameters
    ----------
    end : float
        Age of the slice at which this stretch ends [s].
    flux : float or callable, optional
        Prescribed heat flux out of the strand [W m-2], or a vectorised function of the age.
    flux_times_sqrt_time : float
        Added to the prescribed flux: this times sqrt(t) [W m-2 s-1/2].
    flux_decay : float
        Added to the prescribed flux: this over t to the power of `decay_exponent` [W m-2 s^exponent].
    decay_exponent : float
        Of that power, 1/2 by default [1].
    flux_range : tuple of float
        Lowest and highest value of the three terms together [W m-2].
    mechanism : str
        What the prescribed flux is booked on: ``"prescribed"`` or ``"mould"``.
    temperature : float or callable, optional
        Fixed surface temperature [degC]; excludes everything else.
    htc : float or (temperatures, values)
        Heat-transfer coefficient of the water [W m-2 K-1], alone or over surface temperature [degC].
    water_temperature : float
        [degC].
    emissivity : float or (temperatures, values)
        Of the surface towards its surroundings, view factor included [1].
    ambient_temperature : float
        [degC].
    convection : float
        Natural convection [W m-2 K-1].
    roll_htc : float or (temperatures, values)
        Contact with rolls, against the ambient temperature [W m-2 K-1].
    roll_share : float
        Share of all heat that the rolls take, at least 0 and below 1 [1].
    ramps_to : BoundaryCondition, optional
        What acts at `end`: until then everything goes over to it linearly in time. Its own `end` means nothing, and
        no temperature is fixed in either.
    """

    end: Number
    flux: Number | Callable[[np.ndarray], np.ndarray] | None = None
    flux_times_sqrt_time: Number = 0.0
    flux_decay: Number = 0.0
    decay_exponent: Number = 0.5
    flux_range: tuple[Number, Number] = (-np.inf, np.inf)
    mechanism: str = "prescribed"
    temperature: Number | Callable[[np.ndarray], np.ndarray] | None = None
    htc: Number | Curve = 0.0
    water_temperature: Number = 25.0
    emissivity: Number | Curve = 0.0
    ambient_temperature: Number = 25.0
    convection: Number = 0.0
    roll_htc: Number | Curve = 0.0
    roll_share: Number = 0.0
    ramps_to: BoundaryCondition | None = None

    def of(self, strand: int) -> BoundaryCondition:
        """Return the face of one of the strands side by side.

        Parameters
        ----------
        strand : int
            Which one.

        Returns
        -------
        BoundaryCondition
        """

        def own(value: Any) -> Any:
            if isinstance(value, np.ndarray) and value.ndim:
                return float(value[strand])
            if isinstance(value, tuple) and isinstance(value[1], np.ndarray) and value[1].ndim > 1:
                return value[0], value[1][strand]
            return value

        every = {f.name: own(getattr(self, f.name)) for f in fields(self)}
        every["flux_range"] = tuple(map(own, self.flux_range))
        return BoundaryCondition(**every | {"ramps_to": self.ramps_to and self.ramps_to.of(strand)})


@dataclass(frozen=True)
class BoundarySchedule:
    """Surface laws of both faces of strands laid out alike, section by section, as the march reads them.

    Parameters
    ----------
    ends : ndarray, shape (strand, section)
        Age at which each section ends [s], increasing.
    laws : ndarray, shape (strand, section, 2, 2, law)
        Columns as in `LAW`; face 0 at depth 0, face 1 at the last node; what acts, and what it turns into.
    surface_rows : ndarray, shape (row, point)
        Curves over surface temperature, uniform; strands may share them.
    surface_starts, surface_inverses : ndarray, shape (row,)
        First temperature [degC] and points per kelvin of each row.
    time_rows, time_starts, time_inverses : ndarray
        The same over age [s].
    """

    ends: np.ndarray
    laws: np.ndarray
    surface_rows: np.ndarray
    surface_starts: np.ndarray
    surface_inverses: np.ndarray
    time_rows: np.ndarray
    time_starts: np.ndarray
    time_inverses: np.ndarray


@dataclass
class _Rows:
    points: int
    blocks: list[np.ndarray] = field(default_factory=list)
    starts: list[float] = field(default_factory=list)
    inverses: list[float] = field(default_factory=list)
    known: dict[tuple[float, float, bytes], Number] = field(default_factory=dict)

    def add(self, start: float, end: float, values: np.ndarray) -> Number:
        """Take in a row, or one for each strand, and return its number."""
        block = np.atleast_2d(values)
        first, count = len(self.starts), len(block)
        self.blocks.append(block)
        self.starts += [start] * count
        self.inverses += [(self.points - 1) / (end - start)] * count
        return float(first) if values.ndim == 1 else np.arange(first, first + count, dtype=float)

    def once(self, start: float, end: float, values: np.ndarray) -> Number:
        """Take in a row unless it is there already, and return its number."""
        key = (start, end, values.tobytes())
        if key not in self.known:
            self.known[key] = self.add(start, end, values)
        return self.known[key]

    def arrays(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        if not self.blocks:
            return np.zeros((1, 2)), np.zeros(1), np.ones(1)
        return np.concatenate(self.blocks), np.array(self.starts), np.array(self.inverses)


@lru_cache(maxsize=16)
def _even(start: float, end: float, points: int) -> np.ndarray:
    return np.linspace(start, end, points)


def _curve(value: Number | Curve, rows: _Rows) -> tuple[Number, Number]:
    """Return factor and row of a coefficient that may depend on surface temperature."""
    if not isinstance(value, tuple):
        return value, -1.0
    t, v = (np.asarray(a, dtype=float) for a in value)
    start, end = float(t[0]), float(t[-1])
    even = _even(start, end, rows.points)
    if t.shape != even.shape or (t != even).any():
        v = np.apply_along_axis(lambda own: np.interp(even, t, own), -1, v)
    return 1.0, rows.add(start, end, v) if v.ndim > 1 else rows.once(start, end, v)


Law = dict[str, Number]
"""What differs from `_NOTHING` in a row of surface laws, of one strand or of each."""


def _rows(
    face: BoundaryCondition, begin: np.ndarray, cut: np.ndarray, end: np.ndarray, surface: _Rows, time: _Rows
) -> list[Law]:
    """Return what acts and what it turns into until the age `end`, be the face cut off before or not."""
    first = _row(face, begin, cut, surface, time)
    if face.ramps_to is None:
        return [first]
    if face.temperature is not None or face.ramps_to.temperature is not None:
        raise ValueError("schedule: a fixed temperature does not become another law, nor a law one")
    first |= {"turn_start": begin, "turn_rate": 1.0 / (end - begin)}
    return [first, _row(face.ramps_to, begin, cut, surface, time)]


def _row(face: BoundaryCondition, begin: np.ndarray, end: np.ndarray, surface: _Rows, time: _Rows) -> Law:
    law: Law = {"slot": MECHANISM_SLOT[face.mechanism]}
    law["lowest"], law["highest"] = face.flux_range
    prescribed = face.temperature if face.temperature is not None else face.flux
    if callable(prescribed):
        (first,), (last,) = begin, end
        age = np.linspace(first, last, _TIME_POINTS)
        values = np.asarray(prescribed(age), dtype=float)
        law["time_row"] = time.add(float(first), float(last), values)
    elif prescribed is not None:
        law["constant"] = prescribed
    if face.temperature is not None:
        return law | {"fixed": 1.0}
    law["root"], law["decay"] = face.flux_times_sqrt_time, face.flux_decay
    law["exponent"] = face.decay_exponent
    law["htc"], law["htc_row"] = _curve(face.htc, surface)
    law["water_temperature"] = face.water_temperature
    law["emissivity"], law["emissivity_row"] = _curve(face.emissivity, surface)
    law["ambient_temperature"] = face.ambient_temperature
    law["convection"] = face.convection
    law["roll_htc"], law["roll_row"] = _curve(face.roll_htc, surface)
    law["roll_share"] = face.roll_share
    return law


def schedule(
    outer: Sequence[BoundaryCondition],
    inner: Sequence[BoundaryCondition] | None = None,
    *,
    start: float = 0.0,
    end: float | None = None,
    strands: int = 1,
) -> BoundarySchedule:
    """Lay the stretches of both faces side by side.

    Parameters
    ----------
    outer, inner : sequence of BoundaryCondition
        What acts at depth 0 and at the last node, in the order of time; no `inner` means insulated
        (symmetry).
    start : float
        Age at which the march begins [s].
    end : float, optional
        Cut everything off at this age [s].
    strands : int
        How many the numbers of the faces are for.

    Returns
    -------
    BoundarySchedule

    Raises
    ------
    ValueError
        If ends do not increase or the two faces do not end together.
    """
    surface, time = _Rows(_SURFACE_POINTS), _Rows(_TIME_POINTS)
    columns = []
    for faces in (outer, inner):
        if faces is None:
            continue
        whole = np.empty((strands, len(faces)))
        for i, face in enumerate(faces):
            whole[:, i] = face.end
        cut = whole if end is None else np.minimum(whole, end)
        cut = cut[:, : int((cut >= cut[:, -1:]).all(axis=0).argmax()) + 1]
        begins = np.concatenate([np.full((strands, 1), start), cut[:, :-1]], axis=1)
        wrong = (cut <= begins) & (cut > start)
        if wrong.any() or (cut[:, -1] <= begins[:, -1]).any():
            raise ValueError("schedule: each stretch must end after it begins")
        rows = [
            _rows(faces[i], begins[:, i], cut[:, i], whole[:, i], surface, time) for i in range(cut.shape[1])
        ]
        columns.append((cut, rows))
    joined = np.concatenate([cut for cut, _ in columns], axis=1)
    ends = joined[:, np.unique(joined[0], return_index=True)[1]]
    if any((cut[:, -1] != ends[:, -1]).any() for cut, _ in columns):
        raise ValueError("schedule: both faces must end together")
    laws = np.empty((*ends.shape, 2, 2, len(LAW)))
    laws[:] = [*_NOTHING.values()]
    for side, (cut, rows) in enumerate(columns):
        if (ends[:, ends[0].searchsorted(cut[0])] != cut).any():
            raise ValueError("schedule: the strands must be alike in the order of their ends")
        for section, acting in enumerate(cut[0].searchsorted(ends[0])):
            for turn, law in enumerate(rows[acting]):
                whole = _NOTHING | law
                own = {name: value for name, value in law.items() if isinstance(value, np.ndarray)}
                laws[:, section, side, turn] = [*(whole | dict.fromkeys(own, 0.0)).values()]
                for name, value in own.items():
                    laws[:, section, side, turn, LAW[name]] = value
    return BoundarySchedule(ends, laws, *surface.arrays(), *time.arrays())


class LawBook:
    """Surface laws as rows of numbers, for schedules that are put together by row; they share their curves."""

    def __init__(self) -> None:
        self._surface, self._time = _Rows(_SURFACE_POINTS), _Rows(_TIME_POINTS)

    @staticmethod
    def insulated() -> np.ndarray:
        """Return the law of an insulated face, shape (law,)."""
        return np.array([*_NOTHING.values()])

    def row(self, face: BoundaryCondition) -> np.ndarray:
        """Return what acts on a face, without what it turns into.

        Parameters
        ----------
        face : BoundaryCondition
            Of one strand; neither its flux nor its temperature is a function of the age.

        Returns
        -------
        ndarray, shape (law,)
            Columns as in `LAW`.
        """
        none = np.zeros(1)
        return np.array([*(_NOTHING | _row(face, none, none, self._surface, self._time)).values()])

    def schedule(self, ends: np.ndarray, laws: np.ndarray) -> BoundarySchedule:
        """Return the schedule of slices whose laws were made from rows of this book.

        Parameters
        ----------
        ends, laws
            As in `BoundarySchedule`; a section that ends where the one before it ends is passed over.

        Returns
        -------
        BoundarySchedule
        """
        return BoundarySchedule(ends, laws, *self._surface.arrays(), *self._time.arrays())
