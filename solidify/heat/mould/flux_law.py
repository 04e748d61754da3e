"""Local heat flux in the mould as a law over the age of the steel; the older form of it, and laws that are given."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from solidify.errors import InputError, Notice, Problem, closest
from solidify.sources import load_data
from solidify.units import KW, MW

__all__ = [
    "FluxLaw",
    "LUBRICANTS",
    "check_lubricant",
    "dip_times",
    "doubtful",
    "fading",
    "law_from_coefficients",
    "law_from_mean",
    "law_notices",
]

LUBRICANTS = ("powder", "oil")
"""What lies between strand and mould."""

Array = NDArray[np.float64]


@dataclass(frozen=True)
class FluxLaw:
    """Heat flux out of the strand in the mould as a law over the age of the steel, from the meniscus on.

    Kind "decay": ``q = min(c t^-n, cap)``, lower at first for a peritectic steel. Kind "root":
    ``q = max(a - b sqrt(t), floor)``. For moulds side by side each number may be an array of shape (mould,); times
    then have that shape too.

    Parameters
    ----------
    kind : str
        "decay" or "root".
    a : float
        Flux at the meniscus of a root law [W m-2].
    b : float
        Its slope, 0 or more [W m-2 s-0.5].
    c : float
        Constant of the local flux of a decay law [W m-2 s^n]; that of its mean, were there no cap, is c / (1 - n).
    exponent : float
        n of a decay law, above 0 and below 1 [1].
    floor : float
        A root law does not fall below [W m-2].
    cap : float
        A decay law does not rise above [W m-2].
    dip : float
        Share of the flux of a decay law that is missing at first, times `fading` [1].
    note : str
        Where the law comes from and why it has this form.
    """

    kind: str
    a: float | Array = 0.0
    b: float | Array = 0.0
    c: float | Array = 0.0
    exponent: float | Array = 0.5
    floor: float | Array = 0.0
    cap: float | Array = math.inf
    dip: float | Array = 0.0
    note: str = ""

    def flux(self, time: ArrayLike) -> Array:
        """Return the local flux.

        Parameters
        ----------
        time : array_like
            Time since the meniscus, 0 or more [s].

        Returns
        -------
        ndarray
            Flux [W m-2].

        Examples
        --------
        >>> law = law_from_coefficients(2.68e6, 0.335e6)
        >>> round(float(law.flux(17.0)) / 1e3)
        1299
        """
        t = np.asarray(time, dtype=float)
        if self.kind == "root":
            return np.maximum(self.a - self.b * np.sqrt(t), self.floor)
        whole = np.minimum(
            self.c * np.float_power(np.maximum(t, 1e-30), np.negative(self.exponent)), self.cap
        )
        return whole * (1.0 - self.dip * fading(t))

    def heat(self, time: ArrayLike) -> Array:
        """Return the heat taken since the meniscus: the exact integral of the law.

        Parameters
        ----------
        time : array_like
            Time since the meniscus, 0 or more [s].

        Returns
        -------
        ndarray
            Heat [J m-2].
        """
        t = np.asarray(time, dtype=float)
        if self.kind == "root":
            free = np.minimum(t, self.kink)
            fallen = 2.0 / 3.0 * self.b * np.float_power(free, 1.5)
            return np.asarray(self.a * free - fallen + self.floor * (t - free))
        return np.asarray(self.whole_heat(t) - self.dip * self.early_heat(t))

    def whole_heat(self, time: ArrayLike, moment: float = 0.0) -> Array:
        """Return the integral of t^moment times the flux of a decay law without its dip [J m-2 s^moment]."""
        t = np.asarray(time, dtype=float)
        power = 1.0 + moment - self.exponent
        late = np.float_power(np.maximum(t, self.kink), power) - np.float_power(self.kink, power)
        capped = np.float_power(np.minimum(t, self.kink), 1.0 + moment) / (1.0 + moment)
        return np.asarray(self.cap * capped + self.c / power * late)

    def early_heat(self, time: ArrayLike) -> Array:
        """Return the integral of `fading` times the flux of a decay law without its dip [J m-2]."""
        t, (full, end) = np.asarray(time, dtype=float), dip_times()
        inside = np.clip(t, full, end)
        heat = self.whole_heat(inside) - self.whole_heat(full)
        moment = self.whole_heat(inside, 1.0) - self.whole_heat(full, 1.0)
        return np.asarray(self.whole_heat(np.minimum(t, full)) + (end * heat - moment) / (end - full))

    def mean(self, time: ArrayLike) -> Array:
        """Return the mean flux from the meniscus to a time.

        Parameters
        ----------
        time : array_like
            Time since the meniscus, 0 or more [s].

        Returns
        -------
        ndarray
            Mean flux [W m-2].

        Examples
        --------
        >>> law = law_from_coefficients(2.68e6, 0.335e6)
        >>> round(float(law.mean(17.0)) / 1e3)
        1759
        """
        t = np.maximum(time, 2.0**-100)  # at which the mean is the first flux, exactly
        return self.heat(t) / t

    @property
    def kink(self) -> Array:
        """Time at which the clip sets in or ends [s]; infinite for a constant flux."""
        if self.kind == "root":
            with np.errstate(divide="ignore"):
                return np.float_power(np.divide(self.a - self.floor, self.b), 2.0)
        return np.float_power(self.c / self.cap, 1.0 / np.asarray(self.exponent))

    def scaled(self, factor: float) -> FluxLaw:
        """Return the law with every flux multiplied by a factor.

        Parameters
        ----------
        factor : float
            Above 0 [1].

        Returns
        -------
        FluxLaw

        Raises
        ------
        InputError
            If the factor is not positive.
        """
        if not factor > 0.0:
            raise InputError(Problem("heat_flux_factor", f"{factor:g}", "above 0", do="1 leaves the flux"))
        if factor == 1.0:
            return self
        note = f"{self.note}; times {factor:g}" if self.note else f"times {factor:g}"
        return replace(
            self,
            a=self.a * factor,
            b=self.b * factor,
            c=self.c * factor,
            floor=self.floor * factor,
            cap=self.cap * factor,
            note=note,
        )

    def words(self) -> str:
        """Return the law as a line of text.

        Examples
        --------
        >>> law_from_coefficients(2.68e6, 0.283e6).words()
        'q = 2.68 - 0.283 √t MW/m2 (t in s), not below 0.15'
        """
        if self.kind == "root":
            floor = f", not below {self.floor / MW:.3g}" if self.floor > 0.0 else ""
            return f"q = {self.a / MW:.4g} - {self.b / MW:.3g} √t MW/m2 (t in s){floor}"
        root = "√t" if self.exponent == 0.5 else f"t^{self.exponent:.3g}"
        text = f"q = {self.c / MW:.4g} / {root} MW/m2 (t in s), not above {self.cap / MW:.3g}"
        full, end = dip_times()
        dip = f"; {100.0 * self.dip:.0f} % less for {full:g} s, less of that until {end:g} s (peritectic)"
        return text + dip if self.dip else text


def fading(time: ArrayLike) -> Array:
    """Return how much of the dip of a peritectic steel is there at an age [s]: 1 at first, 0 in the end."""
    full, end = dip_times()
    return np.clip((end - np.asarray(time, dtype=float)) / (end - full), 0.0, 1.0)


def dip_times() -> tuple[float, float]:
    """Return the ages until which the dip of a peritectic steel is full, and at which it is gone [s]."""
    d = load_data("mould.toml")["dip"]
    return d["full_until"], d["gone_at"]


def check_lubricant(lubricant: str) -> None:
    """Refuse a word that names no lubricant.

    Parameters
    ----------
    lubricant : str
        As given.

    Raises
    ------
    InputError
        If it is none of `LUBRICANTS`.
    """
    if lubricant not in LUBRICANTS:
        raise InputError(
            Problem("lubricant", repr(lubricant), ", ".join(LUBRICANTS), closest(lubricant, LUBRICANTS))
        )


def law_from_mean(mean: float, dwell: float, lubricant: str) -> FluxLaw:
    """Return the law of the older form (``profile = "root"``) whose clipped form has a stated mean over the dwell time.

    It is kept for comparison: a mean below that of the published law is taken from the lower mould alone, so that
    slow strands reheat inside the mould. Powder takes ``q = max(a - b sqrt(t), floor)`` with a = 2680 kW/m2 and
    floor = 150 kW/m2; b is solved so that the clipped law has the mean. Oil, or a mean above a, takes
    ``q = min(c / sqrt(t), cap)`` with cap = 5 MW/m2 and c solved likewise.

    Parameters
    ----------
    mean : float
        Mean flux over the dwell time [W m-2].
    dwell : float
        Time from meniscus to mould exit [s].
    lubricant : str
        "powder" or "oil".

    Returns
    -------
    FluxLaw
        Its `note` says which form was taken and why.

    Raises
    ------
    InputError
        If no law of the form can have this mean, or the dwell time is not positive.

    Notes
    -----
    Both are closed forms. With r the share ``sqrt(kink / dwell)``: root law, clip outside the dwell,
    ``b = 1.5 (a - mean) / sqrt(dwell)``; clip inside, ``mean = floor + (a - floor) r^2 / 3``,
    ``b = (a - floor) / (r sqrt(dwell))``. Inverse root: ``mean = cap (2 r - r^2)``,
    ``c = r cap sqrt(dwell)``.

    Examples
    --------
    >>> round(law_from_mean(1.15e6, 40.0, "powder").b / 1e3)
    363
    """
    check_lubricant(lubricant)
    d = load_data("mould.toml")["law"]
    a, floor, cap = d["start"], d["floor"], d["cap"]
    problems = []
    if not (math.isfinite(dwell) and dwell > 0.0):
        problems.append(Problem("dwell time in the mould", f"{dwell:g} s", "above 0 s"))
    low = floor if lubricant == "powder" else 0.0
    if not low < mean < cap:
        problems.append(
            Problem(
                "mean mould heat flux",
                f"{mean / MW:g} MW/m2",
                f"above {low / MW:g} and below {cap / MW:g} MW/m2",
                do="check the unit, the water flow and rise, and the area they belong to",
            )
        )
    if problems:
        raise InputError(problems)
    root = math.sqrt(dwell)
    if lubricant == "oil" or mean > a:
        r = mean / cap / (1.0 + math.sqrt(1.0 - mean / cap))  # = 1 - sqrt(1 - mean/cap), without cancellation
        why = "oil" if lubricant == "oil" else f"a mean above {a / MW:g} MW/m2 needs a law that rises to it"
        return FluxLaw("decay", c=r * cap * root, cap=cap, note=f"inverse root of time: {why}")
    if mean >= floor + (a - floor) / 3.0:
        return FluxLaw("root", a=a, b=1.5 * (a - mean) / root, floor=floor, note="root of time: powder")
    r = math.sqrt(3.0 * (mean - floor) / (a - floor))
    note = f"root of time: powder; at its floor from {r * r * dwell:.3g} s on"
    return FluxLaw("root", a=a, b=(a - floor) / (r * root), floor=floor, note=note)


def law_from_coefficients(a: float, b: float) -> FluxLaw:
    """Return a given law ``q = a - b sqrt(t)``, used as given and clipped below.

    Parameters
    ----------
    a : float
        Flux at the meniscus [W m-2].
    b : float
        Slope, 0 or more [W m-2 s-0.5].

    Returns
    -------
    FluxLaw

    Raises
    ------
    InputError
        If a is not above the floor of 150 kW/m2 or b is negative.
    """
    floor = load_data("mould.toml")["law"]["floor"]
    problems = []
    if not floor < a < math.inf:
        problems.append(
            Problem("heat_flux_law: a_kW_per_m2", f"{a / KW:g} kW/m2", f"above {floor / KW:g} kW/m2")
        )
    if not 0.0 <= b < math.inf:
        problems.append(
            Problem(
                "heat_flux_law: b_kW_per_m2_per_sqrt_s",
                f"{b / KW:g}",
                "0 or more",
                do="the law is q = a - b √t, with the minus sign in it",
            )
        )
    if problems:
        raise InputError(problems)
    return FluxLaw("root", a=float(a), b=float(b), floor=floor, note="root of time: law given")


def law_notices(law: FluxLaw, dwell: float, where: str = "mould") -> tuple[Notice, ...]:
    """Return what is implausible about a law over a dwell time.

    Parameters
    ----------
    law : FluxLaw
        What acts in the mould.
    dwell : float
        Time from meniscus to mould exit [s].
    where : str
        Printed with the notice.

    Returns
    -------
    tuple of Notice
        Empty when nothing is.
    """
    if not doubtful(law, dwell):
        return ()
    low, exit_flux, mean = load_data("mould.toml")["exit_flux"]["low"], law.flux(dwell), law.mean(dwell)
    if law.kind == "root":
        kink = float(law.kink)
        text = (
            f"the flux law reaches its floor of {law.floor / KW:.0f} kW/m2 after {kink:.1f} s of {dwell:.1f} s"
            if kink < dwell
            else f"the flux law falls to {exit_flux / mean:.2f} of its mean at mould exit, after {dwell:.1f} s"
        )
        text += ": the lower mould takes so little heat that the surface reheats there; check the law"
    elif exit_flux < low:
        text = f"the flux at mould exit comes out at {exit_flux / KW:.0f} kW/m2, below {low / KW:.0f}"
        text += ": check the mean flux"
    else:
        text = (
            f"the peak of {law.cap / MW:.3g} MW/m2 hardly carries a mean of {mean / MW:.3g}: the flux at mould exit is "
            f"{exit_flux / mean:.2f} of the mean; check the mean flux, or give a higher peak_heat_flux_MW_per_m2"
        )
    return (Notice(text, where),)


def doubtful(law: FluxLaw, dwell: float | Array) -> NDArray[np.bool_]:
    """Tell whether something about a law over a dwell time is implausible, see `law_notices`.

    Parameters
    ----------
    law : FluxLaw
        What acts in the mould, or in moulds side by side.
    dwell : float or ndarray
        Time from meniscus to mould exit [s].

    Returns
    -------
    ndarray of bool
    """
    d = load_data("mould.toml")["exit_flux"]
    at_exit = law.flux(dwell)
    share = at_exit / law.mean(dwell)
    if law.kind == "root":
        return np.asarray(share < d["least_share"])
    return np.asarray((at_exit < d["low"]) | (share > d["largest_share"] + law.dip))
