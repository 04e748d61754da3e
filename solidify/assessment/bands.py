"""Error bands: how far a finding moves for the plant's own input errors, and which input moves it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

__all__ = ["Band", "Bands", "Effect"]


@dataclass(frozen=True)
class Effect:
    """What the error of one input does to one finding.

    Parameters
    ----------
    input : str
        E.g. ``"superheat"``.
    error : float
        One standard deviation of the input, in `unit`.
    unit : str
        Plant unit of the input, ``"K"`` or ``"%"``.
    change : float
        What one standard deviation more of the input adds to the value of the finding, by central difference,
        in the unit of the finding.
    share : float
        Of the variance of the finding, 0 to 1 [1].
    """

    input: str
    error: float
    unit: str
    change: float
    share: float

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


class Band(NamedTuple):
    """Error band of the value of a finding.

    Parameters
    ----------
    low, high : float
        One standard deviation of the plant's input errors either way, in the unit of the finding.
    effects : tuple of Effect
        Inputs that move it, the largest share first.
    """

    low: float
    high: float
    effects: tuple[Effect, ...] = ()


Bands = Mapping[str, Band]
"""Band by the name of the finding; a finding that no input moves has none."""
