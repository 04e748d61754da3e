"""What acts on the faces of a slice while it ages: surface laws, one stretch after the other.

The march knows no zones and no relations, only rows of numbers; this module turns descriptions into such
rows.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

__all__ = ["LAW", "MECHANISM_SLOT", "SURFACE_ROWS", "Face", "Schedule", "schedule"]

LAW = {
    name: i
    for i, name in enumerate(
        (
            "fixed",  # 1: the surface temperature is prescribed; 0: heat is exchanged
            "constant",  # prescribed flux: constant + root sqrt(t) + inverse / sqrt(t), within lowest..highest
            "root",
            "inverse",
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
        )
    )
}
"""Column of each parameter in a row of surface laws, in SI units and degC."""

SURFACE_ROWS = ("htc_row", "emissivity_row", "roll_row")
"""Columns of `LAW` that hold the number of a row over surface temperature."""

_NOTHING = dict.fromkeys(LAW, 0.0) | {"lowest": -np.inf, "highest": np.inf}
_NOTHING |= dict.fromkeys((*SURFACE_ROWS, "time_row"), -1.0)
"""The law of an insulated face: no flux, within any range, and no row anywhere."""

MECHANISM_SLOT = {"mould": 0, "prescribed": 5}
"""Mechanisms a prescribed flux can be booked on; numbers as in `solidify.result.MECHANISMS`."""

_TIME_POINTS = 4097
_SURFACE_POINTS = 801

Curve = tuple[np.ndarray, np.ndarray]


@dataclass(frozen=True)
class Face:
    """What acts on one face until the age `end`.

    Parameters
    ----------
    end : float
        Age of the slice at which this stretch ends [s].
    flux : float or callable, optional
        Prescribed heat flux out of the strand [W m-2], or a vectorised function of the age.
    flux_times_sqrt_time : float
        Added to the prescribed flux: this times sqrt(t) [W m-2 s-1/2].
    flux_over_sqrt_time : float
        Added to the prescribed flux: this over sqrt(t) [W m-2 s1/2].
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
    becomes : Face, optional
        What acts at `end`: until then everything goes over to it linearly in time. Its own `end` means nothing, and
        no temperature is fixed in either.
    """

    end: float
    flux: float | Callable[[np.ndarray], np.ndarray] | None = None
    flux_times_sqrt_time: float = 0.0
    flux_over_sqrt_time: float = 0.0
    flux_range: tuple[float, float] = (-np.inf, np.inf)
    mechanism: str = "prescribed"
    temperature: float | Callable[[np.ndarray], np.ndarray] | None = None
    htc: float | Curve = 0.0
    water_temperature: float = 25.0
    emissivity: float | Curve = 0.0
    ambient_temperature: float = 25.0
    convection: float = 0.0
    roll_htc: float | Curve = 0.0
    roll_share: float = 0.0
    becomes: Face | None = None


@dataclass(frozen=True)
class Schedule:
    """Surface laws of both faces, section by section, as the march reads them.

    Parameters
    ----------
    ends : ndarray, shape (section,)
        Age at which each section ends [s], increasing.
    laws : ndarray, shape (section, 2, 2, law)
        Columns as in `LAW`; face 0 at depth 0, face 1 at the last node; what acts, and what it turns into.
    surface_rows : ndarray, shape (row, point)
        Curves over surface temperature, uniform.
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
    rows: list[np.ndarray] = field(default_factory=list)
    starts: list[float] = field(default_factory=list)
    inverses: list[float] = field(default_factory=list)

    def add(self, start: float, end: float, values: np.ndarray) -> float:
        self.rows.append(np.asarray(values, dtype=float))
        self.starts.append(start)
        self.inverses.append((self.points - 1) / (end - start))
        return float(len(self.rows) - 1)

    def arrays(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        if not self.rows:
            return np.zeros((1, 2)), np.zeros(1), np.ones(1)
        return np.array(self.rows), np.array(self.starts), np.array(self.inverses)


def _curve(value: float | Curve, rows: _Rows) -> tuple[float, float]:
    """Return factor and row of a coefficient that may depend on surface temperature."""
    if not isinstance(value, tuple):
        return float(value), -1.0
    t, v = (np.asarray(a, dtype=float) for a in value)
    return 1.0, rows.add(t[0], t[-1], np.interp(np.linspace(t[0], t[-1], rows.points), t, v))


def _rows(face: Face, begin: float, end: float, surface: _Rows, time: _Rows) -> list[list[float]]:
    """Return what acts and what it turns into until the age `end`, be the face cut off before or not."""
    first = _row(face, begin, surface, time)
    if face.becomes is None:
        return [first, [*_NOTHING.values()]]
    if face.temperature is not None or face.becomes.temperature is not None:
        raise ValueError("schedule: a fixed temperature does not become another law, nor a law one")
    first[LAW["turn_start"]], first[LAW["turn_rate"]] = begin, 1.0 / (end - begin)
    return [first, _row(replace(face.becomes, end=face.end), begin, surface, time)]


def _row(face: Face, begin: float, surface: _Rows, time: _Rows) -> list[float]:
    law = dict(_NOTHING)
    law["lowest"], law["highest"] = face.flux_range
    law["slot"] = MECHANISM_SLOT[face.mechanism]
    prescribed = face.temperature if face.temperature is not None else face.flux
    law["fixed"] = float(face.temperature is not None)
    if callable(prescribed):
        age = np.linspace(begin, face.end, _TIME_POINTS)
        law["time_row"] = time.add(begin, face.end, prescribed(age))
    elif prescribed is not None:
        law["constant"] = float(prescribed)
    if face.temperature is None:
        law["root"], law["inverse"] = face.flux_times_sqrt_time, face.flux_over_sqrt_time
        law["htc"], law["htc_row"] = _curve(face.htc, surface)
        law["water_temperature"] = face.water_temperature
        law["emissivity"], law["emissivity_row"] = _curve(face.emissivity, surface)
        law["ambient_temperature"] = face.ambient_temperature
        law["convection"] = face.convection
        law["roll_htc"], law["roll_row"] = _curve(face.roll_htc, surface)
        law["roll_share"] = face.roll_share
    return [*law.values()]


def schedule(
    outer: Sequence[Face],
    inner: Sequence[Face] | None = None,
    *,
    start: float = 0.0,
    end: float | None = None,
) -> Schedule:
    """Lay the stretches of both faces side by side.

    Parameters
    ----------
    outer, inner : sequence of Face
        What acts at depth 0 and at the last node, in the order of time; no `inner` means insulated
        (symmetry).
    start : float
        Age at which the march begins [s].
    end : float, optional
        Cut everything off at this age [s].

    Returns
    -------
    Schedule

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
        cut = [replace(f, end=min(f.end, end)) if end is not None else f for f in faces]
        last = next(i for i, f in enumerate(cut) if f.end >= cut[-1].end)
        cut = cut[: last + 1]
        begins = [start, *(f.end for f in cut[:-1])]
        if any(f.end <= b for f, b in zip(cut, begins, strict=True) if f.end > start or f is cut[-1]):
            raise ValueError("schedule: each stretch must end after it begins")
        whole = [f.end for f in faces]
        rows = [_rows(f, b, e, surface, time) for f, b, e in zip(cut, begins, whole, strict=False)]
        columns.append(([f.end for f in cut], rows))
    ends = np.array(sorted({end for face_ends, _ in columns for end in face_ends}))
    if any(c[0][-1] != ends[-1] for c in columns):
        raise ValueError("schedule: both faces must end together")
    laws = np.tile([*_NOTHING.values()], (len(ends), 2, 2, 1))
    for side, (face_ends, rows) in enumerate(columns):
        laws[:, side] = np.array(rows)[np.searchsorted(face_ends, ends)]
    return Schedule(ends, laws, *surface.arrays(), *time.arrays())
