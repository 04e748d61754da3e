"""Speeds of strands that share a ladle: as wanted, or so that the ladle ends at a wanted time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from solidify.errors import InputError, Problem
from solidify.units import M_PER_MIN, MINUTE

__all__ = ["Share", "cast_time", "end_range", "finish_factor"]


@dataclass(frozen=True)
class Share:
    """What one strand takes of a ladle.

    Parameters
    ----------
    mass_per_metre : float
        [kg/m]
    least, aim, most : float
        Casting speeds [m/s].
    bound : bool
        Whether its speed stays at the aim.
    """

    mass_per_metre: float
    least: float
    aim: float
    most: float
    bound: bool = False

    def speed(self, factor: float) -> float:
        """Return its speed with a factor on the aim, within its range [m/s]."""
        return self.aim if self.bound else min(max(factor * self.aim, self.least), self.most)


def cast_time(poured: float, shares: Sequence[Share], factor: float = 1.0) -> float:
    r"""Return how long strands take for a ladle.

    .. math:: t = \frac{W}{\sum \rho A_i v_i}

    Parameters
    ----------
    poured : float
        Steel that leaves the ladle [kg].
    shares : sequence of Share
        The strands.
    factor : float
        On their speeds [1].

    Returns
    -------
    float
        [s]
    """
    return poured / sum(s.mass_per_metre * s.speed(factor) for s in shares)


def _ends(shares: Sequence[Share]) -> tuple[float, float]:
    """Return the factors beyond which no speed changes any more."""
    free = [s for s in shares if not s.bound]
    return min((s.least / s.aim for s in free), default=1.0), max((s.most / s.aim for s in free), default=1.0)


def end_range(poured: float, shares: Sequence[Share]) -> tuple[float, float]:
    """Return the shortest and the longest casting time of a ladle within the speed ranges [s]."""
    low, high = _ends(shares)
    return cast_time(poured, shares, high), cast_time(poured, shares, low)


def finish_factor(poured: float, shares: Sequence[Share], seconds: float) -> float:
    """Return the one factor on all speeds with which a ladle ends in a wanted time.

    Parameters
    ----------
    poured, shares
        As for `cast_time`.
    seconds : float
        Wanted [s].

    Returns
    -------
    float
        [1]; each speed is the factor times its aim, held within its range.

    Raises
    ------
    InputError
        If the time is shorter or longer than the speed ranges allow, with both.
    """
    shortest, longest = end_range(poured, shares)
    if not shortest * (1 - 1e-12) <= seconds <= longest * (1 + 1e-12):
        fast = seconds < shortest
        reached = "their most" if fast else "their least"
        speeds = ", ".join(
            f"{(s.aim if s.bound else s.most if fast else s.least) / M_PER_MIN:g}" for s in shares
        )
        raise InputError(
            Problem(
                "[sequence] finish_in_min",
                f"= {seconds / MINUTE:g}",
                f"{shortest / MINUTE:.2f} to {longest / MINUTE:.2f} min",
                do=f"the strands stand at {reached} there ({speeds} m/min): widen a speed range or change the time",
            )
        )
    low, high = _ends(shares)
    while high - low > 1e-13 * high:  # the time falls with the factor
        middle = 0.5 * (low + high)
        if middle in (low, high):
            break
        low, high = (middle, high) if cast_time(poured, shares, middle) > seconds else (low, middle)
    return 0.5 * (low + high)
