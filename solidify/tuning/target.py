"""The target of a spray table: speeds, wanted surface temperatures, what to aim for, and what each valve can do."""

from __future__ import annotations

import math
from dataclasses import dataclass

from solidify.case import Case
from solidify.strand.cooling import cooling_path
from solidify.strand.setup import case_steel, throughput
from solidify.strand.zones import side_water
from solidify.units import MINUTE, WATER_LITRE_KG

__all__ = ["AIMS", "ROOM", "Loop", "SurfacePoint", "Target", "Valve", "sides_at", "water_at"]

AIMS = {"nearest": "target", "least": "water", "flattest": "surface", "shortest": "liquid core"}
"""Key of ``[aim]`` and the word it takes; exactly one of them, ``nearest`` by default where there are points."""

ROOM = 0.2
"""Room kept to every limit unless the target says otherwise, in its close width [1]."""


@dataclass(frozen=True)
class SurfacePoint:
    """A wanted surface temperature.

    Parameters
    ----------
    distance : float
        From the meniscus [m].
    temperature, band : float
        Wanted [degC], and how far off either way is still met [K].
    side : str
        ``"loose"`` or ``"fixed"``; the same where the two do not differ.
    """

    distance: float
    temperature: float
    band: float
    side: str = "loose"

    @property
    def place(self) -> str:
        """Where, in words; the loose side goes without saying."""
        return f"{self.distance:.2f} m{', fixed side' if self.side == 'fixed' else ''}"


@dataclass(frozen=True)
class Valve:
    """What may be done to the water of one zone.

    Parameters
    ----------
    zone : str
        Its name.
    low, high : float
        Least and most water [L/min].
    fixed : bool
        Whether the water stays as it is today.
    tied_to : str
        Zone whose water it follows; empty for none.
    ratio : float
        Its water over that of the zone it follows [1].
    assumed : bool
        Whether `high` was given by nobody and is taken as three times the most of today.
    shares : tuple of (side, low, high)
        Least and most share of each side that has water [1]; empty where the target says nothing of sides.
    """

    zone: str
    low: float
    high: float
    fixed: bool = False
    tied_to: str = ""
    ratio: float = math.nan
    assumed: bool = False
    shares: tuple[tuple[str, float, float], ...] = ()


@dataclass(frozen=True)
class Loop:
    """A pipe with a valve and a meter of its own, and what it feeds.

    Parameters
    ----------
    name : str
        Its name.
    feeds : tuple of (zone, side)
        The side is empty for all water of the zone.
    low, high : float
        Least and most water [L/min]; 0 and infinite where not given.
    """

    name: str
    feeds: tuple[tuple[str, str], ...]
    low: float = 0.0
    high: float = math.inf


@dataclass(frozen=True)
class Target:
    """What a spray table should do.

    Parameters
    ----------
    speeds : tuple of float
        Rows of the table, rising [m/min].
    points : tuple of SurfacePoint
        May be empty: then the limits of the case alone are kept.
    aim : str
        A key of `AIMS`.
    valves : tuple of Valve
        One a zone, in casting order.
    soft : bool
        Whether soft limits are kept too, where they can be.
    room : float
        Room kept to every limit, in its close width [1].
    rising : bool
        Whether the water of a zone never falls from one speed to the next.
    name : str
        Of the file.
    loops : tuple of Loop
        Those that the target names; what they do not feed is a loop by itself.
    text : str
        The file as given.
    """

    speeds: tuple[float, ...]
    points: tuple[SurfacePoint, ...]
    aim: str
    valves: tuple[Valve, ...]
    soft: bool = True
    room: float = ROOM
    rising: bool = True
    name: str = "target"
    loops: tuple[Loop, ...] = ()
    text: str = ""


def water_at(case: Case) -> tuple[float, ...]:
    """Return the water of each zone of a case at its speed [L/min]; NaN where only a coefficient or flux is given.

    Parameters
    ----------
    case : Case
        A checked case.

    Returns
    -------
    tuple of float
    """
    path = cooling_path(case, case_steel(case))
    return tuple(round(s.water * MINUTE / WATER_LITRE_KG, 9) for s in path.stretches if s.kind == "zone")


def sides_at(case: Case) -> tuple[dict[str, float], ...]:
    """Return the water of each side of each zone of a case at its speed; as `water_at`.

    Parameters
    ----------
    case : Case
        A checked case.

    Returns
    -------
    tuple of dict of str to float
        As `solidify.strand.zones.side_water` [L/min].
    """
    rate = throughput(case, case_steel(case))
    found = (side_water(case, zone, rate) for zone in case.zone)
    return tuple({k: round(w * MINUTE / WATER_LITRE_KG, 9) for k, w in sides.items()} for sides in found)
