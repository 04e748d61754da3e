"""A finding: one limit, what was found for it, and how both print."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from solidify.assessment.bands import COVERAGE, PARTS, Effect
from solidify.sources import load_data

__all__ = [
    "BREACHED",
    "CLOSE",
    "KEPT",
    "NOT_JUDGED",
    "NO_LIMIT",
    "VERDICTS",
    "Finding",
    "room_words",
    "verdicts",
]

VERDICTS = ("kept", "close", "breached", "not judged")
"""Met and clear; met, but the error band (or the close width) reaches the limit; not met; not judged."""

KEPT, CLOSE, BREACHED, NOT_JUDGED = range(4)
"""Places in `VERDICTS`."""

OUTSIDE_MODEL = "outside the model"
"""Stands for a value that is beyond what its formula can mean."""

NO_LIMIT = -1
"""In place of a verdict where a limit does not apply."""

_PRINT = {
    "mm": (1, " mm"),
    "m": (1, " m"),
    "s": (1, " s"),
    "ms": (0, " ms"),
    "K": (0, " K"),
    "degC": (0, " °C"),
    "K/m": (0, " K/m"),
    "%": (0, " %"),
    "% strain": (2, " %"),
    "MW/m²": (2, " MW/m²"),
    "m/s": (1, " m/s"),
    "L/kg": (2, " L/kg"),
    "1": (2, ""),
}


@dataclass(frozen=True)
class Finding:
    """One limit and how the strand stands to it.

    Parameters
    ----------
    name, label : str
        Name of the limit, and words for print.
    value : float
        What was found, in `unit`; NaN when not known, infinite when the strand never gets there.
    low, high : float
        Error band of the value, in `unit`; NaN until one is known.
    unit : str
        Plant unit of value, band, limit and margin; ``"1"`` for a ratio.
    limit : float or tuple of float
        A number, or ``(low, high)`` of a window or trough; NaN when nothing is judged.
    sense : str
        ``"at least"``, ``"at most"``, ``"within"`` or, of a trough, ``"outside"``.
    margin : float
        Signed room to the nearer side of the limit, positive inside.
    close : float
        Room below which a met limit reads ``close`` while no band is known.
    room : str
        The margin in words, ``"70 K room"`` or ``"22 K beyond"``; empty when not judged.
    verdict : str
        One of `VERDICTS`.
    hardness : str
        ``"hard"`` or ``"soft"``.
    where : str
        Where on the strand.
    evidence, source : str
        Grade and source key of the limit.
    reason : str
        Why it is not judged, else empty.
    note : str
        Which case of the limit applies, or what the value rests on.
    overridden : bool
        True when the limit is the user's own.
    effects : tuple of Effect
        What moves the value (inputs, grid, section treatment), the largest share of the band first; empty while none
        are known.
    """

    name: str
    label: str
    value: float
    low: float
    high: float
    unit: str
    limit: float | tuple[float, float]
    sense: str
    margin: float
    close: float
    room: str
    verdict: str
    hardness: str
    where: str
    evidence: str
    source: str
    reason: str = ""
    note: str = ""
    overridden: bool = False
    effects: tuple[Effect, ...] = ()

    @property
    def judged(self) -> bool:
        """Whether there is a verdict."""
        return self.verdict != "not judged"

    @property
    def lower(self) -> float:
        """Least value that keeps the limit, in `unit`; minus infinity when any does.

        A trough has two ways out; this is the side that `margin` counts to.
        """
        if self.sense == "outside" and isinstance(self.limit, tuple):
            return self.limit[1] if self._above else -math.inf
        if isinstance(self.limit, tuple):
            return self.limit[0]
        return -math.inf if self.sense == "at most" else self.limit

    @property
    def upper(self) -> float:
        """Largest value that keeps the limit, in `unit`; infinity when any does; of a trough as `lower`."""
        if self.sense == "outside" and isinstance(self.limit, tuple):
            return math.inf if self._above else self.limit[0]
        if isinstance(self.limit, tuple):
            return self.limit[1]
        return math.inf if self.sense == "at least" else self.limit

    @property
    def _above(self) -> bool:
        """Whether the room to a trough counts to its upper edge."""
        low, high = self.limit if isinstance(self.limit, tuple) else (math.nan, math.nan)
        return abs(self.value - high - self.margin) <= abs(low - self.value - self.margin)

    @property
    def banded(self) -> bool:
        """Whether an error band is known."""
        return not (math.isnan(self.low) or math.isnan(self.high))

    @property
    def parts(self) -> dict[str, float]:
        """One standard deviation by part of `PARTS`, in `unit`; NaN where the band has no end.

        Their root sum of squares is half the band.
        """
        half = 0.5 * (self.high - self.low)
        return {p: half * math.sqrt(s) if math.isfinite(half) else math.nan for p, s in self.shares.items()}

    @property
    def shares(self) -> dict[str, float]:
        """Share of the variance by part of `PARTS`; they add up to 1 where a band is known."""
        return {part: math.fsum(e.share for e in self.effects if e.part == part) for part in PARTS}

    @property
    def interval_95(self) -> tuple[float, float]:
        """Two standard deviations either way, in `unit`: about 95 % for a value that follows its inputs smoothly."""
        return (
            self.value - COVERAGE * (self.value - self.low),
            self.value + COVERAGE * (self.high - self.value),
        )

    @property
    def widths_of_room(self) -> float:
        """Room in close widths of the limit [1]; ranks findings of different units.

        The error band plays no part: a limit whose value is badly known is not nearer for that.
        """
        return self.margin / self.close if self.close > 0 else math.copysign(math.inf, self.margin)

    @property
    def reach(self) -> float:
        """A value above this is outside the model, in `unit`; infinite where there is none."""
        return float(load_data("limits", "default.toml")["limit"].get(self.name, {}).get("reach", math.inf))

    @property
    def outside_model(self) -> bool:
        """Whether the value is beyond what its formula can mean."""
        return math.isfinite(self.value) and self.value > self.reach

    @property
    def value_text(self) -> str:
        """The value for print, e.g. ``"12.8 mm"``, with as many digits as tell it from the limit."""
        if math.isnan(self.value):
            return "–"
        if math.isinf(self.value):
            return "never"
        if self.outside_model:
            return OUTSIDE_MODEL
        signed = self.sense == "within" and self.lower < 0
        return amount(self.value, self.unit, digits_of(self.margin, self.unit, self.close), signed)

    @property
    def band_text(self) -> str:
        """The error band for print, e.g. ``"11.2 to 14.4"``, without its unit; empty while none is known."""
        return self._span(self.low, self.high) if self.banded else ""

    @property
    def interval_95_text(self) -> str:
        """`interval_95` for print, as `band_text`."""
        return self._span(*self.interval_95) if self.banded else ""

    def _span(self, low: float, high: float) -> str:
        digits = digits_of(self.high - self.low, self.unit, self.close)
        if low > self.reach:
            return OUTSIDE_MODEL
        if self.reach < high < math.inf:
            return f"{_figure(low, digits)} to over {self.reach:g}"
        return " to ".join(_figure(x, digits) if math.isfinite(x) else "never" for x in (low, high))

    def part_text(self, part: str) -> str:
        """One standard deviation of one part for print, without its unit; ``"–"`` where it is none.

        Parameters
        ----------
        part : str
            One of `solidify.assessment.bands.PARTS`, or ``"total"``.

        Returns
        -------
        str
        """
        half = 0.5 * (self.high - self.low)
        size = half if part == "total" else self.parts[part]
        if not math.isfinite(size) or size == 0.0:
            return "–"
        digits = digits_of(half, self.unit, self.close)
        return f"{size:.{digits}f}" if size >= 0.5 * 10.0**-digits else f"{size:.1g}"

    @property
    def effects_text(self) -> str:
        """What moves it, for print, e.g. ``"mould heat flux 95 %, superheat 3 %"``; empty while not known."""
        return ", ".join(f"{e.input} {100 * e.share:.0f} %" for e in self.effects if e.share >= 0.005)

    @property
    def unit_text(self) -> str:
        """The unit for print, e.g. ``"°C"``; empty for a ratio."""
        return _PRINT.get(self.unit, (0, f" {self.unit}"))[1].strip()

    @property
    def bound_text(self) -> str:
        """The bound of a one-sided limit for print, e.g. ``"13 mm"``; of a window both."""
        suffix = _PRINT.get(self.unit, (0, f" {self.unit}"))[1]
        if isinstance(self.limit, tuple):
            low, high = self.limit
            places = max(len(f"{x:g}".partition(".")[2]) for x in self.limit)
            return f"±{high:g}{suffix}" if low == -high else f"{low:.{places}f} to {high:.{places}f}{suffix}"
        return "–" if math.isnan(self.limit) else f"{self.limit:g}{suffix}"

    @property
    def limit_text(self) -> str:
        """The limit for print, e.g. ``"≥ 13 mm"``, ``"15 to 35 K"``, ``"≥ 950 or ≤ 700 °C"``."""
        if self.sense == "outside" and isinstance(self.limit, tuple):
            low, high = self.limit
            return f"≥ {high:g} or ≤ {low:g} {self.unit_text}"
        sign = {"at least": "≥ ", "at most": "≤ "}.get(self.sense, "")
        return self.bound_text if self.bound_text.startswith("–") else sign + self.bound_text


def verdicts(
    margin: np.ndarray,
    close: np.ndarray,
    low: np.ndarray,
    high: np.ndarray,
    lower: np.ndarray,
    upper: np.ndarray,
    *others: np.ndarray,
) -> np.ndarray:
    """Tell limits that are met from those that are not, and from those nearly not.

    Parameters
    ----------
    margin, close : ndarray
        Room and close width.
    low, high : ndarray, shape of `margin`
        Error band of the value; NaN where none is known.
    lower, upper, *others : ndarray, shape of `margin`
        As `solidify.assessment.limits.Limit.numbers`.

    Returns
    -------
    ndarray of int, shape of `margin`
        Places in `VERDICTS`.
    """
    outside = others[-1]
    sizes = [np.where(np.isfinite(bound), np.abs(bound), 0.0) for bound in (lower, upper)]
    breached = margin < -1e-9 * np.maximum(np.maximum(*sizes), 1.0)  # not by round-off
    inside = np.where(outside, (low < upper) & (high > lower), (low < lower) | (high > upper))
    near = np.where(np.isnan(low) | np.isnan(high), margin < close, inside)
    return np.where(breached, BREACHED, np.where(near, CLOSE, KEPT))


def room_words(margin: float, unit: str, close: float = math.inf) -> str:
    """Put a signed margin into words, e.g. ``"70 K room"`` or ``"22 K beyond"``.

    Parameters
    ----------
    margin : float
        Positive is room, in `unit`.
    unit : str
        Plant unit of the limit.
    close : float
        Its close width, in `unit`: the print resolves it.

    Returns
    -------
    str
    """
    word = "room" if margin >= 0 else "beyond"
    if math.isinf(margin):
        return word
    unit = "K" if unit == "degC" else unit
    return f"{amount(abs(margin), unit, digits_of(margin, unit, close))} {word}"


def digits_of(margin: float, unit: str, close: float = math.inf) -> int:
    """Decimals that resolve the close width and keep a small margin from reading as none."""
    digits = _PRINT.get(unit, (2, ""))[0]
    if 0 < close < math.inf:
        digits = max(digits, 1 + math.floor(1e-9 - math.log10(close)))
    while 0 < abs(margin) < 0.5 * 10.0**-digits and digits < 4:
        digits += 1
    return digits


def _figure(value: float, digits: int) -> str:
    """Return a figure for print; what a formula makes of no shell at all is no row of twenty digits."""
    return f"{value:z.{digits}f}" if abs(value) < 1e6 else f"{value:.1e}"


def amount(value: float, unit: str, digits: int, signed: bool = False) -> str:
    """Return a value with its unit as it is printed, with a sign if asked for; zero has none."""
    sign = "+" if signed and value > 0 and round(value, digits) else ""
    return sign + _figure(value, digits) + _PRINT.get(unit, (0, f" {unit}"))[1]
