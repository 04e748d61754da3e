"""The mould law over age that has a measured or published mean: a capped power, with the dip of peritectic steels."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from solidify.errors import InputError, Problem
from solidify.heat.mould.flux_law import FluxLaw
from solidify.sources import load_data
from solidify.units import MW

__all__ = ["decay_from_mean", "decay_from_means"]

Array = NDArray[np.float64]


def decay_from_mean(
    mean: float,
    dwell: float,
    peak: float,
    exponent: float = 0.5,
    carbon_factor: float = 1.0,
    early_share: float = 1.0,
    where: str = "mean mould heat flux",
) -> FluxLaw:
    r"""Return the law over age that has a stated mean over a dwell time and never exceeds a peak.

    Parameters
    ----------
    mean : float
        Mean flux over the dwell time [W m-2].
    dwell : float
        Time from meniscus to mould exit at which it was found [s].
    peak : float
        What the local flux does not exceed below the meniscus [W m-2].
    exponent : float
        n, above 0 and below 1 [1].
    carbon_factor : float
        Mean flux of this steel over that of a steel without peritectic dip, above 0, up to 1 [1].
    early_share : float
        Share of the dip that is taken from the first seconds, see `fading`; the rest is taken evenly [1].
    where : str
        What the mean is called in a message.

    Returns
    -------
    FluxLaw
        Of kind "decay", with the mean to round-off.

    Raises
    ------
    InputError
        If the mean is not positive or the peak cannot carry it, or the dwell time, exponent or a share is out of
        range; all at once.

    Notes
    -----
    Published means are powers of the dwell time. The one law over age that has them at every dwell time is their
    derivative, here with a cap:

    .. math::
        \bar q(t) = C t^{-n}, \qquad q(t) = \min\left(q_p,\; C (1 - n) t^{-n}\right)

    With x the age at which the cap ends over the dwell time,
    :math:`\bar q / q_p = (x^n - n x) / (1 - n)`, solved for :math:`x^n` by Newton's method, from below and
    therefore without fail. The mean relations are from memory (see ``data/mould.toml``), the derivative is ours.

    Examples
    --------
    >>> law = decay_from_mean(1.15e6, 40.0, 2.5e6)
    >>> round(float(law.mean(40.0)) / 1e3), round(float(law.flux(40.0)) / 1e3)
    (1150, 662)
    """
    problems = []
    if not (math.isfinite(dwell) and dwell > 0.0):
        problems.append(Problem("dwell time in the mould", f"{dwell:g} s", "above 0 s"))
    if not 0.0 < exponent < 1.0:
        problems.append(Problem("decay exponent", f"{exponent:g}", "above 0, below 1"))
    if not 0.0 < carbon_factor <= 1.0:
        problems.append(Problem("carbon factor", f"{carbon_factor:g}", "above 0, up to 1"))
    if not 0.0 <= early_share <= 1.0:
        problems.append(Problem("share of the dip", f"{early_share:g}", "0 to 1"))
    most = peak * min(max(carbon_factor, 0.0), 1.0)
    if not 0.0 < mean < most:
        do = f"a peak of {peak / MW:g} MW/m2 carries no more: check the unit, the water flow and rise, and the area "
        do += "they belong to, or give a higher peak_heat_flux_MW_per_m2"
        allowed = f"above 0 and below {most / MW:.4g} MW/m2"
        problems.append(Problem(where, f"{mean / MW:g} MW/m2", allowed, do=do))
    if problems:
        raise InputError(problems)
    wanted = mean / carbon_factor / peak * (1.0 - exponent)
    y, before = wanted, 0.0
    while y > before:
        before = y
        bent = exponent * y ** (1.0 / exponent)
        y = min(y + (wanted - y + bent) / max(1.0 - bent / (exponent * y), 1e-12), 1.0)
    law = FluxLaw("decay", c=peak * y * dwell**exponent, exponent=exponent, cap=peak, note="power of the age")
    return _dipped(law, dwell, carbon_factor, early_share)


def _dipped(law: FluxLaw, dwell: float, factor: float, early_share: float) -> FluxLaw:
    """Take the dip of a peritectic steel from a law, so that its mean over the dwell time becomes `factor` times it."""
    if 1.0 - factor < load_data("mould.toml")["dip"]["least"]:
        return law.scaled(factor) if factor < 1.0 else law
    even = 1.0 - (1.0 - early_share) * (1.0 - factor)
    whole, early = float(law.whole_heat(dwell)), float(law.early_heat(dwell))
    dip = (1.0 - factor / even) * whole / early
    most = load_data("mould.toml")["dip"]["most"]
    if dip > most:
        dip, even = most, factor * whole / (whole - most * early)
    return replace(law, c=law.c * even, cap=law.cap * even, dip=dip)


def decay_from_means(
    dwells: Sequence[float],
    means: Sequence[float],
    dwell: float,
    peak: float,
    exponent: float | None = None,
    carbon_factor: float = 1.0,
    early_share: float = 1.0,
) -> tuple[FluxLaw, float]:
    """Fit the law over age to means at several dwell times, each counting by its relative difference.

    Parameters
    ----------
    dwells, means : sequence of float
        Dwell times [s] and the mean flux over each [W m-2]; two at least.
    dwell : float
        At which the dip of a peritectic steel is laid, so that the mean over it is that of the fit [s].
    peak, carbon_factor, early_share
        As for `decay_from_mean`.
    exponent : float, optional
        n, if it is known; else it is fitted too [1].

    Returns
    -------
    law : FluxLaw
        Of kind "decay".
    difference : float
        Largest relative difference of the fit from a mean [1].

    Raises
    ------
    InputError
        If the peak cannot carry one of the means, or the fitted exponent is out of range.

    Notes
    -----
    The cap takes heat from short dwell times above all, so that n comes out above the power with which the means
    themselves fall.

    Examples
    --------
    >>> law, off = decay_from_means([30.0, 60.0], [1.333e6, 0.942e6], 45.0, 1e9)
    >>> round(law.exponent, 2), round(law.c / 1e6 / (1 - law.exponent), 2), round(off, 3)
    (0.5, 7.3, 0.0)
    """
    from scipy.optimize import least_squares  # here, since reading a case loads this module

    t, wanted = np.asarray(dwells, dtype=float), np.asarray(means, dtype=float)
    problems: list[Problem] = []
    for at, mean in zip(t, wanted, strict=True):
        try:
            decay_from_mean(float(mean), float(at), peak, carbon_factor=carbon_factor)
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError(problems)
    wanted = wanted / carbon_factor
    middle, most = math.exp(float(np.log(t).mean())), peak * (1.0 - 1e-9)

    def made(x: Array) -> FluxLaw:
        mean = min(math.exp(x[0]), most)
        return decay_from_mean(mean, middle, peak, float(x[1]) if exponent is None else exponent)

    d = load_data("mould.toml")["decay"]
    first = [float(np.log(wanted).mean())] + ([d["exponent"]] if exponent is None else [])
    bounds = ([-np.inf, 0.01][: len(first)], [np.inf, 0.99][: len(first)])
    fit = least_squares(
        lambda x: np.log(made(x).mean(t) / wanted), first, bounds=bounds, xtol=1e-14, ftol=1e-14, gtol=1e-14
    )
    law, (low, high) = made(fit.x), d["exponent_range"]
    if exponent is None and not low <= law.exponent <= high:
        given = f"the flux of these means decays with the age to the power of {law.exponent:.2f}"
        do = "check speeds and means, or give decay_exponent beside them"
        raise InputError(Problem("mean_heat_flux_at_speed", given, f"{low:g} to {high:g}", do=do))
    difference = float(np.abs(law.mean(t) / wanted - 1.0).max())
    return _dipped(law, dwell, carbon_factor, early_share), difference
