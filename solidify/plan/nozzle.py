"""Tundish nozzles: flow of steel through a bore, the bore that a flow wants, and what is held in reserve."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from solidify.units import MM

__all__ = ["BORE_STEP", "GRAVITY", "KINDS", "Nozzle", "bore_for", "neighbour_bores", "nozzle_flow"]

GRAVITY = 9.80665
"""Standard acceleration of free fall [m s-2]; SI Brochure, 9th edition (from memory)."""

KINDS = ("metering", "stopper", "gate")
"""Free stream through a bore that sets the speed; or submerged and throttled by a stopper or a slide gate."""

BORE_STEP = 0.5 * MM
"""Bores are made in steps of this [m]; common practice, no source."""


@dataclass(frozen=True)
class Nozzle:
    """The nozzle of one strand.

    Parameters
    ----------
    kind : str
        One of `KINDS`.
    coefficient : float
        Of discharge, new [1].
    bore : float
        Diameter, new [m]; NaN where the plan asks for it.
    clog : float
        Share of the flow that a heat takes by clogging [1].
    wear : float
        Growth of the bore [m s-1].
    drop : float
        Tundish floor above the mould level, for submerged nozzles [m].
    """

    kind: str
    coefficient: float
    bore: float = math.nan
    clog: float = 0.0
    wear: float = 0.0
    drop: float = 0.0

    @property
    def sets_speed(self) -> bool:
        """Whether the flow cannot be throttled, so that bore and level set the speed."""
        return self.kind == "metering"

    def head(self, level: float) -> float:
        """Return the steel that drives the flow: level of the tundish above outlet or mould level [m]."""
        return level if self.sets_speed else level + self.drop

    def used(self, heats: float, seconds: float) -> Nozzle:
        """Return the nozzle as it is after some heats and seconds of casting."""
        factor = (1.0 - self.clog) ** heats
        return replace(
            self,
            coefficient=self.coefficient * factor,
            bore=self.bore + self.wear * seconds,
            clog=0.0,
            wear=0.0,
        )

    def full_flow(self, level: float, density: float) -> float:
        """Return the flow through the open bore [kg/s] at a level of the tundish [m]."""
        return nozzle_flow(self.coefficient, self.bore, self.head(level), density)


def nozzle_flow(coefficient: float, bore: float, head: float, density: float) -> float:
    r"""Return the flow of steel through an open bore.

    .. math:: \dot m = C\, \rho\, \tfrac{\pi}{4} d^2 \sqrt{2 g h}

    Parameters
    ----------
    coefficient : float
        Of discharge [1].
    bore : float
        Diameter [m].
    head : float
        Steel above the outlet, or above the mould level where the nozzle is submerged [m].
    density : float
        Of the liquid [kg/m3].

    Returns
    -------
    float
        [kg/s]

    Notes
    -----
    Torricelli's law with a coefficient of discharge: Encyclopaedia Britannica, 11th edition, Hydraulics, sections
    17 to 20.

    Examples
    --------
    >>> round(nozzle_flow(0.85, 0.015, 0.8, 7000.0), 3)
    4.165
    """
    return coefficient * density * math.pi / 4 * bore**2 * math.sqrt(2 * GRAVITY * max(head, 0.0))


def bore_for(flow: float, coefficient: float, head: float, density: float) -> float:
    r"""Return the bore through which a flow passes.

    .. math:: d = \sqrt{\frac{4 \dot m}{\pi \rho C \sqrt{2 g h}}}

    Parameters
    ----------
    flow : float
        [kg/s]
    coefficient, head, density : float
        As in `nozzle_flow`.

    Returns
    -------
    float
        [m]; infinite without any head.
    """
    one = nozzle_flow(coefficient, 1.0, head, density)
    return math.sqrt(flow / one) if one > 0 else math.inf


def neighbour_bores(bore: float) -> tuple[float, float]:
    """Return the bores next to one, in steps of `BORE_STEP` [m].

    Examples
    --------
    >>> [round(1e3 * d, 1) for d in neighbour_bores(19.228e-3)], [round(1e3 * d, 1) for d in neighbour_bores(15e-3)]
    ([19.0, 19.5], [14.5, 15.5])
    """
    steps = bore / BORE_STEP
    near = round(steps)
    if abs(steps - near) < 1e-6:
        return (near - 1) * BORE_STEP, (near + 1) * BORE_STEP
    return math.floor(steps) * BORE_STEP, math.ceil(steps) * BORE_STEP
