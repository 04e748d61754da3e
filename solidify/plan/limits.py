"""How many heats a tundish lasts: by its lining, by what clogging leaves of the reserve, by the wear of the bores."""

from __future__ import annotations

import math

from solidify.plan.nozzle import Nozzle

__all__ = ["heats_by_clogging", "heats_by_lining", "heats_by_speed"]

_MOST = 200
"""More heats than this are not told apart."""


def heats_by_lining(lining: float, seconds: float) -> int:
    """Return the whole heats that a lining lasts.

    Parameters
    ----------
    lining, seconds : float
        Its life, and the time of one heat [s].

    Returns
    -------
    int

    Examples
    --------
    >>> heats_by_lining(600.0, 42.8947)
    13
    """
    return min(math.floor(lining / seconds + 1e-9), _MOST) if math.isfinite(lining) else _MOST


def heats_by_clogging(reserve: float, clog: float) -> int:
    r"""Return the heats until a full-open nozzle no longer passes the wanted flow.

    .. math:: R (1 - p)^n \ge 1

    Parameters
    ----------
    reserve : float
        Full-open flow over the wanted one, new [1].
    clog : float
        Share of the flow that each heat takes [1].

    Returns
    -------
    int

    Examples
    --------
    >>> heats_by_clogging(1.30, 0.04)
    6
    """
    if reserve < 1.0:
        return 0
    if clog <= 0:
        return _MOST
    return min(math.floor(math.log(reserve) / -math.log1p(-clog) + 1e-9), _MOST)


def heats_by_speed(
    nozzle: Nozzle, speed: float, least: float, most: float, seconds: float
) -> tuple[int, str]:
    """Return the heats in which a metering nozzle keeps the speed within its range, and what ends them.

    Parameters
    ----------
    nozzle : Nozzle
        With its bore, new.
    speed, least, most : float
        When new, and the range [m/s].
    seconds : float
        Time of one heat [s].

    Returns
    -------
    int
        Whole heats; the speed in each is that of its beginning.
    str
        ``"wear"`` or ``"clogging"``; empty where nothing ends them.
    """
    for n in range(_MOST):
        used = nozzle.used(n, n * seconds)
        now = speed * used.coefficient / nozzle.coefficient * (used.bore / nozzle.bore) ** 2
        if now > most * (1 + 1e-9):
            return n, "wear"
        if now < least * (1 - 1e-9):
            return n, "clogging"
    return _MOST, ""
