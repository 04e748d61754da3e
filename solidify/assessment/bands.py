"""Error bands: how far the value of a finding may be off, and which input, model or grid that comes from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

__all__ = ["COVERAGE", "PARTS", "Band", "Bands", "Effect"]

PARTS = ("input", "numerical", "model")
"""Where an error comes from, apart as in ASME V&V 20 (from memory): what is read or taken from a relation, the grid and
the time steps, the form of the model."""

COVERAGE = 2.0
"""Standard deviations either way of the interval printed as 95 % (JCGM 100:2008, 6.3.3, from memory)."""


@dataclass(frozen=True)
class Effect:
    """What the error of one input, of the section treatment or of the grid does to one finding.

    Parameters
    ----------
    input : str
        E.g. ``"superheat"``.
    error : float
        One standard deviation of the input, in `unit`; 1 of the grid.
    unit : str
        Plant unit of the input, ``"K"`` or ``"%"``; ``"1"`` for none, ``"x"`` for times and divided by; empty for the
        grid.
    change : float
        What one standard deviation more of the input adds to the value of the finding, by central difference,
        in the unit of the finding.
    share : float
        Of the variance of the finding, 0 to 1 [1].
    part : str
        One of `PARTS`.
    """

    input: str
    error: float
    unit: str
    change: float
    share: float
    part: str = "input"

    def per(self, amount: float) -> float:
        """Return what so much more of the input adds to the finding, along a straight line.

        Parameters
        ----------
        amount : float
            In the unit of the input; may be negative.

        Returns
        -------
        float
            In the unit of the finding.

        Examples
        --------
        >>> round(Effect("superheat", 3.0, "K", -0.12, 0.4).per(-10.0), 2)
        0.4
        """
        return self.change / self.error * amount

    @property
    def text(self) -> str:
        """Its standard deviation for print, e.g. ``"superheat 3 K"``; the name alone where it has none."""
        if not self.unit:
            return self.input
        sign, unit = ("×/÷ ", "") if self.unit == "x" else ("", self.unit)
        return f"{self.input} {sign}{self.error:g} {'' if unit == '1' else unit}".rstrip()


class Band(NamedTuple):
    """Error band of the value of a finding.

    Parameters
    ----------
    low, high : float
        One standard deviation either way, in the unit of the finding.
    effects : tuple of Effect
        What moves it, the largest share first; the shares add up to 1.
    """

    low: float
    high: float
    effects: tuple[Effect, ...] = ()


Bands = Mapping[str, Band]
"""Band by the name of the finding; a finding that nothing moves has none."""
