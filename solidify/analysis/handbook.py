"""The constants of practice: the root law of shell growth, windows of K, and fits to a profile.

Inside, K is in m s-1/2; `MM_PER_SQRT_MIN` turns the trade's mm min-1/2 into it. The shell is counted from one
side. Exact solutions are in `solidify.exact_solutions`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from solidify.errors import InputError, Problem, closest
from solidify.sources import load_data
from solidify.units import MINUTE, MM

__all__ = [
    "MM_PER_SQRT_MIN",
    "KWindow",
    "ShellFit",
    "fit_shell",
    "k_window",
    "metallurgical_length",
    "shell_from_heat",
    "shell_thickness",
    "solidification_constant",
    "solidification_time",
]

Array = NDArray[np.float64]

MM_PER_SQRT_MIN = MM / MINUTE**0.5
"""One mm min-1/2, the trade's unit of K [m s-1/2]."""


@dataclass(frozen=True)
class KWindow:
    """A range of the solidification constant that is common practice, for one definition of the shell.

    Parameters
    ----------
    low, high, usual : float
        [m s-1/2].
    solid_fraction : float
        What counts as shell: the window holds for no other [1].
    source, place, evidence, valid : str
        Key of the bibliography, what exactly is meant, how well known, for what.
    """

    low: float
    high: float
    usual: float
    solid_fraction: float
    source: str
    place: str
    evidence: str
    valid: str

    @property
    def words(self) -> str:
        """The window for print, e.g. ``"practice 17 to 23 at 0.3 solid"``, mm min-1/2."""
        low, high = self.low / MM_PER_SQRT_MIN, self.high / MM_PER_SQRT_MIN
        return f"practice {low:.0f} to {high:.0f} at {self.solid_fraction:.1f} solid"


def k_window(product: str, where: str = "whole machine", *, wide_freezing_range: bool = False) -> KWindow:
    """Return the window of K of common practice.

    Parameters
    ----------
    product : str
        ``"slab"``, ``"rectangle"``, ``"square"`` or ``"round"``.
    where : str
        ``"whole machine"`` or ``"mould exit"``.
    wide_freezing_range : bool
        True for steels with more than about 0.6 % C; lowers the whole-machine window.

    Returns
    -------
    KWindow

    Raises
    ------
    InputError
        For another product or place.

    Examples
    --------
    >>> w = k_window("slab")
    >>> f"{w.low / MM_PER_SQRT_MIN:.1f} to {w.high / MM_PER_SQRT_MIN:.1f} mm min-1/2 ({w.evidence})"
    '24.0 to 29.0 mm min-1/2 (practice)'
    >>> w.words
    'practice 24 to 29 at 1.0 solid'
    """
    data = load_data("handbook.toml")
    products, places = sorted(data["whole_machine"]), ["mould exit", "whole machine"]
    problems = [
        Problem(name, repr(given), ", ".join(allowed), closest(given, allowed))
        for name, given, allowed in (("product", product, products), ("where", where, places))
        if given not in allowed
    ]
    if problems:
        raise InputError(problems)
    at_exit = where == "mould exit"
    row = data["mould_exit"]["all"] if at_exit else data["whole_machine"][product]
    shift = (
        data["shift"]["wide_freezing_range"] if wide_freezing_range and not at_exit else {"low": 0, "high": 0}
    )
    low, high = row["low"] + shift["low"], row["high"] + shift["high"]
    usual = row["usual"] + 0.5 * (shift["low"] + shift["high"])
    return KWindow(
        low * MM_PER_SQRT_MIN,
        high * MM_PER_SQRT_MIN,
        usual * MM_PER_SQRT_MIN,
        row["solid_fraction"],
        row["source"],
        row["place"],
        row["evidence"],
        row["valid"],
    )


def shell_thickness(time: ArrayLike, k: float, delay: float = 0.0) -> Array:
    """Return the shell by the (delayed) root law ``s = K sqrt(t) - C``, not below 0.

    Parameters
    ----------
    time : array_like
        Since the meniscus [s].
    k : float
        [m s-1/2].
    delay : float
        C, what superheat costs [m]; 0 for the plain law, 2 to 5 mm in common practice.

    Returns
    -------
    ndarray, shape of `time`
        From one side [m].

    References
    ----------
    chipman_fondersmith_1937 (from memory); form quoted by bishop_brandt_pellini_1952 (read).

    Examples
    --------
    >>> f"{1e3 * shell_thickness(60.0, 20.0 * MM_PER_SQRT_MIN):.1f} mm"
    '20.0 mm'
    """
    return np.maximum(k * np.sqrt(np.asarray(time, dtype=float)) - delay, 0.0)


def solidification_constant(shell: ArrayLike, time: ArrayLike, delay: float = 0.0) -> Array:
    """Return the K [m s-1/2] that makes a shell [m] of a time [s], ``K = (s + C)/sqrt(t)``.

    Parameters
    ----------
    shell : array_like
        Thickness from one side, s [m].
    time : array_like
        Since the meniscus, t [s].
    delay : float
        C, taken off the law of the square root [m].

    Returns
    -------
    ndarray, shapes broadcast
        [m s-1/2].

    Examples
    --------
    >>> f"{solidification_constant(0.110, 1034.0) / MM_PER_SQRT_MIN:.2f} mm min-1/2"
    '26.50 mm min-1/2'
    """
    return (np.asarray(shell, dtype=float) + delay) / np.sqrt(np.asarray(time, dtype=float))


def solidification_time(shell: ArrayLike, k: float, delay: float = 0.0) -> Array:
    """Return the time [s] that a shell [m] takes, ``t = ((s + C)/K)^2``.

    Parameters
    ----------
    shell : array_like
        Thickness from one side, s [m].
    k : float
        K [m s-1/2].
    delay : float
        C, taken off the law of the square root [m].

    Returns
    -------
    ndarray, shape of `shell`
        [s].

    Examples
    --------
    >>> f"{solidification_time(0.125, 26.5 * MM_PER_SQRT_MIN) / 60:.1f} min"
    '22.2 min'
    """
    return ((np.asarray(shell, dtype=float) + delay) / k) ** 2


def metallurgical_length(thickness: ArrayLike, speed: ArrayLike, k: float, delay: float = 0.0) -> Array:
    """Return where the last liquid freezes, ``L = v (D/2K)^2``.

    Parameters
    ----------
    thickness : array_like
        D, the smaller side or the diameter [m].
    speed : array_like
        Casting speed v [m/s].
    k : float
        Of the whole machine [m s-1/2].
    delay : float
        C of the delayed law [m].

    Returns
    -------
    ndarray
        From the meniscus [m].

    Examples
    --------
    >>> f"{metallurgical_length(0.220, 1.2 / 60, 26.5 * MM_PER_SQRT_MIN):.1f} m"
    '20.7 m'
    """
    half = 0.5 * np.asarray(thickness, dtype=float)
    return np.asarray(speed, dtype=float) * solidification_time(half, k, delay)


def shell_from_heat(
    heat: ArrayLike,
    *,
    surface: ArrayLike,
    melting: float,
    superheat: float,
    latent_heat: float,
    heat_capacity: float,
    liquid_heat_capacity: float,
) -> Array:
    """Return the shell that a removed heat accounts for, with a straight temperature profile in it.

    A one-line estimate, within about 6 % of the exact shell under mould fluxes; never a verification.
    ``s = Q/(L + c (Tm - Ts)/2 + cl dT)``.

    Parameters
    ----------
    heat : array_like
        Removed since the meniscus [J/m2].
    surface : array_like
        Surface temperature [degC].
    melting, superheat : float
        [degC] and [K].
    latent_heat : float
        By volume [J/m3].
    heat_capacity, liquid_heat_capacity : float
        By volume [J/(m3 K)].

    Returns
    -------
    ndarray
        [m].

    References
    ----------
    Derived here; the heat balance integral of goodman_1958 (from memory) with a straight profile.

    Examples
    --------
    >>> s = shell_from_heat(1.15e6 * 40, surface=1200, melting=1500, superheat=30, latent_heat=7400 * 270e3,
    ...                     heat_capacity=7400 * 690, liquid_heat_capacity=7400 * 800)
    >>> f"{1e3 * s:.1f} mm"
    '15.6 mm'
    """
    sensible = 0.5 * heat_capacity * (melting - np.asarray(surface, dtype=float))
    return np.asarray(heat, dtype=float) / (latent_heat + sensible + liquid_heat_capacity * superheat)


@dataclass(frozen=True)
class ShellFit:
    """A law ``s = a (t/1 min)^n - C`` fitted to a shell profile, with intervals of confidence.

    The intervals are those of a least-squares fit with independent, equal errors. For a computed profile they
    say how closely the law follows the curve, not how well the steel is known.

    Parameters
    ----------
    one_minute : float
        a, what one minute grows before the delay; K for n = 1/2 [m].
    exponent : float
        n [1].
    delay : float
        C [m].
    one_minute_interval, exponent_interval, delay_interval : tuple of float
        Low and high; equal where the value was prescribed.
    rms : float
        Root mean square of the residuals [m].
    count : int
        Points used.
    confidence : float
        Of the intervals [1].
    """

    one_minute: float
    exponent: float
    delay: float
    one_minute_interval: tuple[float, float]
    exponent_interval: tuple[float, float]
    delay_interval: tuple[float, float]
    rms: float
    count: int
    confidence: float

    def __call__(self, time: ArrayLike) -> Array:
        """Return the fitted shell [m] at times [s], not below 0."""
        minutes = np.asarray(time, dtype=float) / MINUTE
        return np.maximum(self.one_minute * minutes**self.exponent - self.delay, 0.0)


def fit_shell(
    time: ArrayLike,
    shell: ArrayLike,
    *,
    exponent: float | None = 0.5,
    delay: float | None = 0.0,
    confidence: float = 0.95,
) -> ShellFit:
    """Fit ``s = a (t/1 min)^n - C`` by least squares.

    Parameters
    ----------
    time : array_like, shape (n,)
        Above 0 [s].
    shell : array_like, shape (n,)
        Above 0 [m].
    exponent : float or None
        n; None lets it go free [1].
    delay : float or None
        C [m]; None lets it go free.
    confidence : float
        Of the intervals, between 0 and 1 [1].

    Returns
    -------
    ShellFit

    Raises
    ------
    InputError
        For unequal lengths, values not above 0, or fewer points than free constants plus one.

    Examples
    --------
    >>> t = np.array([30.0, 60.0, 120.0, 240.0])
    >>> f = fit_shell(t, 25e-3 * (t / 60) ** 0.55, exponent=None)
    >>> f"{1e3 * f.one_minute:.2f} mm, n = {f.exponent:.3f}"
    '25.00 mm, n = 0.550'
    """
    t, s = np.atleast_1d(np.asarray(time, dtype=float)), np.atleast_1d(np.asarray(shell, dtype=float))
    free = [True, exponent is None, delay is None]
    _check_profile(t, s, sum(free) + 1, confidence)
    slope, level = np.polyfit(np.log(t / MINUTE), np.log(s), 1) if exponent is None else (exponent, 0.0)
    start = np.array([np.exp(level) if exponent is None else s[-1] * (MINUTE / t[-1]) ** slope, slope, 0.0])
    prescribed = np.array([0.0, exponent or 0.0, delay or 0.0])
    scale = np.array([1.0, 1.0, s.max()])  # the delay starts at zero: give the search its size

    def law(minutes: Array, *values: float) -> Array:
        p = prescribed.copy()
        p[free] = np.asarray(values) * scale[free]
        return p[0] * minutes ** p[1] - p[2]

    import scipy  # a fit alone wants it

    best, covariance = scipy.optimize.curve_fit(
        law, t / MINUTE, s, p0=start[free] / scale[free], xtol=1e-13, ftol=1e-13
    )
    value, half = prescribed.copy(), np.zeros(3)
    value[free] = best * scale[free]
    quantile = scipy.stats.t.ppf(0.5 + 0.5 * confidence, len(t) - sum(free))
    half[free] = quantile * np.sqrt(np.diag(covariance)) * scale[free]
    one, power, late = ((float(v - h), float(v + h)) for v, h in zip(value, half, strict=True))
    rms = float(np.sqrt(np.mean((law(t / MINUTE, *best) - s) ** 2)))
    a, n, c = (float(v) for v in value)
    return ShellFit(a, n, c, one, power, late, rms, len(t), confidence)


def _check_profile(time: Array, shell: Array, least: int, confidence: float) -> None:
    problems = []
    if time.shape != shell.shape or time.ndim != 1:
        problems.append(Problem("shell", f"shape {shell.shape}", f"the shape of time, {time.shape}"))
    if len(time) < least:
        problems.append(Problem("time", f"{len(time)} points", f"{least} or more for this law"))
    for name, values, unit in (("time", time, "s"), ("shell", shell, "m")):
        bad = values[~(np.isfinite(values) & (values > 0.0))]
        if bad.size:
            problems.append(
                Problem(name, f"{bad[0]:g} {unit}", f"above 0 {unit}", do="leave such points out")
            )
    if not 0.0 < confidence < 1.0:
        problems.append(Problem("confidence", f"{confidence:g}", "between 0 and 1"))
    if problems:
        raise InputError(problems)
