"""Bias and scatter of a model against measurements."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

from solidify.errors import InputError, Problem

SOURCE = (
    "K. McGrattan, B. Toman, Quantifying the predictive uncertainty of complex numerical models, Metrologia 48 "
    "(2011) 173 (from memory); formulas and worked example read in the chapter on model uncertainty of the "
    "validation guide of a fire model of the US National Institute of Standards and Technology, which follows "
    "ASTM E1355, Standard Guide for Evaluating the Predictive Capability of Deterministic Fire Models (title, scope "
    "and significance read, not its formulas)"
)
"""Where the formulas come from and what of it was read."""

FEWEST = 3
"""Points from which a scatter is given; fewer give a bias alone (a choice of this project)."""


@dataclass(frozen=True)
class Scatter:
    """How a model stands to measurements of one quantity.

    Parameters
    ----------
    count : int
        Points, n.
    bias : float
        Model over truth; above 1 the model is high [1].
    low, high : float
        95 % interval of the bias; NaN below `FEWEST` points [1].
    total_sd, measured_sd, model_sd : float
        Relative standard deviations of the ratio, the measurement and the model; NaN below `FEWEST` points [1].
    limited : bool
        True where the stated error of measurement explains half the scatter or more: then `measured_sd` and
        `model_sd` are both ``total_sd / sqrt(2)``.
    """

    count: int
    bias: float
    low: float
    high: float
    total_sd: float
    measured_sd: float
    model_sd: float
    limited: bool


def scatter(
    model: Sequence[float] | np.ndarray,
    measured: Sequence[float] | np.ndarray,
    error: Sequence[float] | np.ndarray,
) -> Scatter:
    r"""Return bias and scatter of model values against measured ones.

    .. math::

        r_i = \ln(M_i/E_i), \qquad
        \sigma_M^2 + \sigma_E^2 = \frac{1}{n-1}\sum_i (r_i - \bar r)^2, \qquad
        \delta = \exp\left(\bar r + \frac{\sigma_M^2 - \sigma_E^2}{2}\right)

    with :math:`\sigma_M \ge \sigma_E`, since no comparison shows a model to be better than what it is compared with.

    Parameters
    ----------
    model, measured : array_like, shape (n,)
        M and E: above 0, in one unit, counted from a true zero (a fall or a rise, never degrees Celsius).
    error : array_like, shape (n,)
        Relative standard deviation of each measured value; its root mean square is sigma_E [1].

    Returns
    -------
    Scatter

    Raises
    ------
    InputError
        For no points, unequal lengths, values not above 0 or errors below 0: all at once.

    Notes
    -----
    The source leaves open what to do where the stated sigma_E exceeds what its own limit allows; here it is lowered
    to the limit and `limited` says so. The interval is Student's, from the scatter of the ratios (ours).

    References
    ----------
    See `SOURCE`.
    """
    m, e, s = (np.atleast_1d(np.asarray(v, dtype=float)) for v in (model, measured, error))
    problems = []
    if not len(m):
        problems.append(Problem("measured", "no points", "one point or more"))
    if not m.shape == e.shape == s.shape or m.ndim != 1:
        problems.append(
            Problem("measured", f"{m.shape}, {e.shape}, {s.shape}", "model, measured, error alike")
        )
    for name, values, least in (
        ("model", m, "above 0"),
        ("measured", e, "above 0"),
        ("error", s, "0 or more"),
    ):
        good = np.isfinite(values) & ((values >= 0.0) if name == "error" else (values > 0.0))
        if not good.all():
            problems.append(Problem(f"{name}[{np.argmin(good)}]", f"{values[~good][0]:g}", least))
    if problems:
        raise InputError(problems)
    r = np.log(m / e)
    mean, n = float(r.mean()), len(r)
    if n < FEWEST:
        nan = float("nan")
        return Scatter(n, float(np.exp(mean)), nan, nan, nan, nan, nan, limited=False)
    total = float(np.var(r, ddof=1))
    stated = float(np.mean(s**2))
    limited = stated > 0.5 * total
    measured_variance = 0.5 * total if limited else stated
    model_variance = total - measured_variance
    shift = 0.5 * (model_variance - measured_variance)
    half = float(stats.t.ppf(0.975, n - 1)) * (total / n) ** 0.5
    low, bias, high = (float(np.exp(mean + shift + d)) for d in (-half, 0.0, half))
    roots = (float(np.sqrt(v)) for v in (total, measured_variance, model_variance))
    return Scatter(n, bias, low, high, *roots, limited=limited)


def truth(model: float, bias: float, model_sd: float) -> tuple[float, float]:
    """Return mean and standard deviation of the true value behind a model value, ``M/delta`` and ``sigma_M M/delta``.

    Parameters
    ----------
    model : float
        M, counted from a true zero, any unit.
    bias, model_sd : float
        delta and sigma_M [1].

    Returns
    -------
    mean, sd : float
        In the unit of `model`.

    References
    ----------
    See `SOURCE`.
    """
    return model / bias, model_sd * model / bias
