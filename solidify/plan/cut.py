"""What pieces a strand is cut into: lengths, kerf, crops, and how hot lengths become cold ones."""

from __future__ import annotations

import math
from dataclasses import dataclass

from solidify.sources import load_data

__all__ = ["KINDS", "CleanCut", "Cut", "Stretch", "clean_cut", "hot_over_cold", "tracking_error"]

KINDS = {
    "suspect": "a hard limit not met",
    "join": "about a join",
    "mixed": "mixed steel",
    "soft": "an advisory limit not met",
}
"""Kinds of stretches that are worth less than good ones, the worst first, and what each means."""


@dataclass(frozen=True)
class Cut:
    """How a strand is cut.

    Parameters
    ----------
    least, most, aim : float
        Lengths of a piece, cold [m].
    step : float
        Lengths are the least plus a multiple of this [m]; 0 where any will do.
    kerf : float
        Lost by a cut [m].
    hot_factor : float
        Hot over cold length at the cut-off [1].
    head, tail : float
        Crops at the start and the end of the cast, hot [m].
    join : float
        Crop to either side of a join, hot [m].
    shortest : float
        Shortest piece that the table carries, scrap included, hot [m].
    margin : float
        Suspect stretches are widened by this to either side, hot [m].
    soft, mixed : float
        Worth of a metre where an advisory limit is not met, and of mixed steel; a good one has 1 [1].
    """

    least: float
    most: float
    aim: float
    step: float = 0.0
    kerf: float = 0.0
    hot_factor: float = 1.0
    head: float = 0.0
    tail: float = 0.0
    join: float = 0.0
    shortest: float = 0.0
    margin: float = 0.0
    soft: float = 0.8
    mixed: float = 0.5

    def span(self, length: float) -> float:
        """Return the hot metres that a piece of a cold length takes, its cut included [m]."""
        return length * self.hot_factor + self.kerf

    def worth(self, kind: str) -> float:
        """Return the worth of a metre of a kind [1]."""
        return {"good": 1.0, "soft": self.soft, "mixed": self.mixed}.get(kind, 0.0)


@dataclass(frozen=True)
class Stretch:
    """Metres of the strand that are worth less.

    Parameters
    ----------
    start, end : float
        From the head of the cast, hot [m].
    kind : str
        One of `KINDS`.
    reason : str
        In words; may be empty.
    """

    start: float
    end: float
    kind: str = "suspect"
    reason: str = ""


@dataclass(frozen=True)
class CleanCut:
    """What a strand without stretches gives.

    Parameters
    ----------
    pieces : int
        How many.
    length : float
        Of each, cold [m]; 0 without pieces.
    rest : float
        Metres that are left, hot [m].
    """

    pieces: int
    length: float
    rest: float


def clean_cut(length: float, cut: Cut, head: float | None = None, tail: float | None = None) -> CleanCut:
    """Cut a strand without stretches, with the least rest and lengths near the aim.

    Parameters
    ----------
    length : float
        Cast metres, hot [m].
    cut : Cut
        Lengths, kerf, crops.
    head, tail : float, optional
        Crops in place of those of `cut` [m].

    Returns
    -------
    CleanCut
    """
    room = length - (cut.head if head is None else head) - (cut.tail if tail is None else tail)
    if room <= 0:
        return CleanCut(0, 0.0, 0.0)
    count = math.floor(room / cut.span(cut.least) + 1e-9)
    if count == 0:
        return CleanCut(0, 0.0, room)
    fewest = math.ceil(room / cut.span(cut.most) - 1e-9)
    if fewest <= count and not cut.step:
        count = min(max(round(room / cut.span(cut.aim)), fewest), count)
        return CleanCut(count, (room / count - cut.kerf) / cut.hot_factor, 0.0)
    longest = min((room / count - cut.kerf) / cut.hot_factor, cut.most)
    if cut.step:
        longest = cut.least + cut.step * math.floor((longest - cut.least) / cut.step + 1e-9)
    return CleanCut(count, longest, max(room - count * cut.span(longest), 0.0))


def hot_over_cold(temperature: float) -> float:
    """Return the length of a piece at its mean temperature over that at 20 °C [1].

    Parameters
    ----------
    temperature : float
        Mean of the section [degC].

    Returns
    -------
    float
        1 plus the elongation of EN 1993-1-2, 3.4.1.1 (from memory); beyond 1200 °C its last line goes on.

    Examples
    --------
    >>> round(6.0 * hot_over_cold(900.0), 4)
    6.0708
    """
    rows = load_data("casting.toml")["elongation"]["rows"]
    _, constant, linear, square = next((row for row in rows if temperature <= row[0]), rows[-1])
    return float(1.0 + constant + linear * temperature + square * temperature**2)


def tracking_error(speed_percent: float, distance: float) -> float:
    """Return how far a metre may lie from where it is looked for at the cut-off [m].

    Parameters
    ----------
    speed_percent : float
        Error of the measured speed, one standard deviation [%].
    distance : float
        Meniscus to cut-off [m].

    Returns
    -------
    float

    Examples
    --------
    >>> round(tracking_error(1.5, 31.0), 3)
    0.465
    """
    return speed_percent / 100.0 * distance
