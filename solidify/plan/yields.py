"""Yield of a sequence: what is tapped, what is lost on the way, what is good."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Yield"]


@dataclass(frozen=True)
class Yield:
    """Where the steel of a sequence goes; masses in [kg].

    Parameters
    ----------
    tapped : float
        In all ladles.
    ladle_rest, tundish_rest : float
        Not poured, and left in the tundishes at the end.
    head, tail, joins, kerf, rest : float
        Crops at head, tail and joins, cuts, and metres that make no piece.
    scale_share : float
        Of what is left [1].
    """

    tapped: float
    ladle_rest: float
    tundish_rest: float
    head: float
    tail: float
    joins: float
    kerf: float
    rest: float
    scale_share: float

    @property
    def cast(self) -> float:
        """Steel that becomes strand [kg]."""
        return self.tapped - self.ladle_rest - self.tundish_rest

    @property
    def scale(self) -> float:
        """Steel that scales [kg]."""
        return self.scale_share * (self.cast - self.head - self.tail - self.joins - self.kerf - self.rest)

    @property
    def good(self) -> float:
        """Cold good steel [kg]."""
        return (self.cast - self.head - self.tail - self.joins - self.kerf - self.rest) * (
            1.0 - self.scale_share
        )

    @property
    def percent(self) -> float:
        """Good over tapped [%]."""
        return 100.0 * self.good / self.tapped
