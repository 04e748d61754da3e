"""The solidification path: solid fraction, delta and gamma against temperature, with microsegregation.

Every model is one closed form, C_L = C0 [1 + fs (beta k - 1)]^((1 - k)/(beta k - 1)), evaluated at all
solid fractions at once; they differ in the back-diffusion parameter beta (1 lever rule, 0 no diffusion).
The share g of austenite in the solid is 0 while delta freezes alone and 1 once gamma does; in between it is
what keeps delta, gamma and liquid together, with k and beta k mixed by g ("three-phase closure"), so that
the lever limit is the phase diagram itself, arrest included.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from solidify.steel.coefficients import choice, entries
from solidify.steel.composition import arm_spacing
from solidify.units import ZERO_CELSIUS

__all__ = [
    "BACK_DIFFUSION",
    "LEAST_RANGE",
    "Path",
    "back_diffusion",
    "parameter_sets",
    "path_models",
    "solidification_path",
]

LEAST_RANGE = 0.2
"""Narrowest freezing range, and least fall of the path per unit of solid fraction [K]."""

ROUNDS = 3
"""How often the local solidification time and the diffusivities are fed back."""

RICHEST = 4.3
"""Carbon of the liquid beyond which the partition of carbon to austenite rises no more [mass %]."""


@dataclass(frozen=True, eq=False)
class Path:
    """A solidification path, from the first solid to the last liquid.

    Parameters
    ----------
    solid_fraction : ndarray, shape (n,)
        Rising from 0 to 1 [1].
    temperature : ndarray, shape (n,)
        Strictly falling from liquidus to solidus [degC].
    gamma_share : ndarray, shape (n,)
        Share of austenite in the solid, 0 to 1 [1].
    peritectic_start, peritectic_end : float
        Where austenite joins and where delta is used up while freezing [degC]; NaN if not within it.
    capped : bool
        Whether the last liquid was given a bounded solidus.
    arm_spacing : float
        Secondary dendrite arm spacing [m]; NaN where the model does not need it.
    """

    solid_fraction: np.ndarray
    temperature: np.ndarray
    gamma_share: np.ndarray
    peritectic_start: float
    peritectic_end: float
    capped: bool
    arm_spacing: float


def _clyne_kurz(alpha: np.ndarray) -> np.ndarray:
    return -2.0 * alpha * np.expm1(-1.0 / alpha) - np.exp(-0.5 / alpha)


BACK_DIFFUSION: dict[str, tuple[str, Callable[[np.ndarray], np.ndarray]]] = {
    "won_thomas_2001": ("won_thomas_2001", lambda alpha: _clyne_kurz(2.0 * (alpha + 0.1))),
    "clyne_kurz_1981": ("clyne_kurz_1981", _clyne_kurz),
    "voller_beckermann_1999": ("voller_beckermann_1999", lambda alpha: _clyne_kurz(alpha + 0.1)),
    "ohnaka_1986": ("ohnaka_1986", lambda alpha: 4.0 * alpha / (1.0 + 4.0 * alpha)),
    "brody_flemings_1966": ("brody_flemings_1966", lambda alpha: np.minimum(2.0 * alpha, 1.0)),
    "lever": ("textbook_segregation", np.ones_like),
    "no_diffusion": ("scheil_1942", np.zeros_like),
}
"""Name of a back-diffusion model -> (source key, beta of the Fourier number alpha)."""


def back_diffusion(alpha: np.ndarray | float, model: str = "won_thomas_2001") -> np.ndarray:
    """Return the back-diffusion parameter beta.

    Parameters
    ----------
    alpha : float or ndarray
        Fourier number 4 D t_f / spacing^2 of the solid [1], positive.
    model : str
        One of `BACK_DIFFUSION`.

    Returns
    -------
    ndarray
        0 (nothing diffuses) to 1 (the solid is uniform) [1].

    Raises
    ------
    InputError
        If there is no such model.

    Notes
    -----
    Clyne-Kurz: 2 alpha (1 - exp(-1/alpha)) - exp(-1/(2 alpha)). Won-Thomas: the same at 2 (alpha + 0.1),
    columnar grains that coarsen. Voller-Beckermann: at alpha + 0.1. Ohnaka, columnar: 4 alpha/(1 + 4 alpha).
    Brody-Flemings: 2 alpha, cut at 1. All from memory.

    Examples
    --------
    >>> round(float(back_diffusion(0.5, "ohnaka_1986")), 4)
    0.6667
    """
    name = choice(model, BACK_DIFFUSION, "path model")
    return BACK_DIFFUSION[name][1](np.maximum(np.asarray(alpha, dtype=float), 1e-3))


def path_models() -> tuple[str, ...]:
    """Return the names of the back-diffusion models.

    Returns
    -------
    tuple of str
    """
    return tuple(BACK_DIFFUSION)


def parameter_sets() -> tuple[str, ...]:
    """Return the names of the partition sets.

    Returns
    -------
    tuple of str
    """
    return ("phase_lines", "ueshima_1986")


@dataclass(frozen=True, eq=False)
class _System:
    """One steel in one parameter set: what freezes, how it parts, and where the lines are."""

    elements: tuple[str, ...]
    nominal: np.ndarray
    delta: np.ndarray
    gamma: np.ndarray
    gamma_carbon_slope: float
    lines: Callable[[np.ndarray], tuple[np.ndarray, np.ndarray]]


def _system(composition: Mapping[str, float], name: str) -> _System:
    entry = entries("segregation")[name]
    rows = [i for i, e in enumerate(entry["elements"]) if e == "C" or composition.get(e, 0.0) > 0.0]
    elements = tuple(entry["elements"][i] for i in rows)
    nominal = np.array([composition.get(e, 0.0) for e in elements])
    delta, gamma = np.array(entry["delta"])[rows], np.array(entry["gamma"])[rows]
    rest = {e: v for e, v in composition.items() if e not in elements}

    if name == "phase_lines":
        pair = [entries("liquidus")[name][phase] for phase in ("delta", "gamma")]
        base = np.array(
            [[p["base"] - sum(p["slopes"].get(e, 0.0) * v for e, v in rest.items())] for p in pair]
        )
        curve = np.array([[p["carbon_squared"]] for p in pair])
        slopes = np.array([[p["slopes"][e] for e in elements] for p in pair])

        def lines(liquid: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
            """Return T of the interface and the height of the delta line above the gamma line [K]."""
            both = base - curve * liquid[0] ** 2 - slopes @ liquid
            return both.max(axis=0), both[0] - both[1]

    else:
        slopes, a4 = np.array(entry["liquidus_slopes"])[rows], np.array(entry["a4_slopes"])[rows] * delta

        def lines(liquid: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
            """Return T of the interface and its height above the delta-gamma line [K]."""
            temperature = entry["liquidus_base"] - slopes @ liquid
            return temperature, temperature - (entry["a4_base"] - a4 @ liquid)

    return _System(elements, nominal, delta, gamma, entry["gamma_carbon_slope"], lines)


def _enrichment(fs: np.ndarray, bk: np.ndarray) -> np.ndarray:
    """Return log(1 + fs x)/x for x = beta k - 1; times 1 - k it is the log of C_L/C0."""
    x = bk - 1.0
    small = np.abs(x) < 1e-6
    return np.where(small, fs, np.log(np.maximum(1.0 + fs * x, 1e-12)) / np.where(small, 1.0, x))


def _liquid(
    system: _System,
    fs: np.ndarray,
    g: np.ndarray,
    beta: tuple[np.ndarray, np.ndarray],
    carbon: np.ndarray,
    rounds: int,
) -> np.ndarray:
    """Return the liquid composition (element, fs) at given gamma shares [mass %].

    `carbon` is a first guess of its first row; the partition of carbon to gamma rises with it.
    """
    k = (1.0 - g) * system.delta[:, None] + g * system.gamma[:, None]
    bk = (1.0 - g) * beta[0] * system.delta[:, None] + g * beta[1] * system.gamma[:, None]
    slope = system.gamma_carbon_slope * g
    if system.nominal[0] > 0.0 and slope.any():
        target, y = np.log(system.nominal[0]), np.log(carbon)
        for _ in range(rounds):  # Newton on log C_L; x = beta k - 1 stays below -0.5 for carbon
            extra = slope * np.minimum(np.exp(y), RICHEST)
            x = bk[0] + beta[1][0] * extra - 1.0
            inside = np.maximum(1.0 + fs * x, 1e-12)
            value = np.log(inside) / x
            rest = 1.0 - k[0] - extra
            change = extra * (rest * beta[1][0] * (fs / inside - value) / x - value)
            y = y - np.clip((y - target - rest * value) / np.maximum(1.0 - change, 0.2), -1.0, 1.0)
        extra = slope * np.minimum(np.exp(y), RICHEST)
        k[0] += extra
        bk[0] += beta[1][0] * extra
    return system.nominal[:, None] * np.exp((1.0 - k) * _enrichment(fs, bk))


def _closure(
    system: _System, fs: np.ndarray, beta: tuple[np.ndarray, np.ndarray], tolerance: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Return temperature, gamma share and the preference for delta with all delta and with all gamma.

    `tolerance` is how well delta, gamma and liquid meet [K].
    """
    everywhere = np.arange(fs.size)

    def state(
        g: np.ndarray, carbon: np.ndarray, where: np.ndarray, rounds: int
    ) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        part = (beta[0][:, where], beta[1][:, where])
        liquid = _liquid(system, fs[where], g, part, np.maximum(carbon, 1e-6), rounds)
        return (*system.lines(liquid), liquid[0])

    t_delta, f_delta, c_delta = state(np.zeros_like(fs), np.ones_like(fs), everywhere, 0)
    t_gamma, f_gamma, c_gamma = state(np.ones_like(fs), c_delta, everywhere, 4)
    g = np.where(f_delta >= 0.0, 0.0, 1.0)
    temperature = np.where(f_delta >= 0.0, t_delta, t_gamma)
    both = np.flatnonzero((f_delta < 0.0) & (f_gamma > 0.0))
    if both.size:
        low, high = np.zeros(both.size), np.ones(both.size)
        f_low, f_high = f_delta[both], f_gamma[both]
        carbon = 0.5 * (c_delta[both] + c_gamma[both])
        for _ in range(60):  # Illinois false position, every solid fraction at once
            middle = (low * f_high - high * f_low) / (f_high - f_low)
            t_middle, f_middle, carbon = state(middle, carbon, both, 2)
            if np.abs(f_middle).max() < tolerance:
                break
            up = f_middle > 0.0
            f_low, f_high = np.where(up, 0.5 * f_low, f_middle), np.where(up, f_middle, 0.5 * f_high)
            low, high = np.where(up, low, middle), np.where(up, middle, high)
        g[both], temperature[both] = middle, t_middle
    return temperature, g, f_delta, f_gamma


def _fourier(system: _System, temperature: np.ndarray, spacing: float, time: float) -> list[np.ndarray]:
    """Return the Fourier numbers (element, fs) of delta and gamma."""
    entry = entries("segregation")["diffusion"]
    rows = [entry["elements"].index(e) for e in system.elements]
    inverse = 1.0 / (entry["gas_constant"] * (np.maximum(temperature, 900.0) + ZERO_CELSIUS))
    numbers = []
    for phase in ("delta", "gamma"):
        frequency = np.array(entry[f"{phase}_frequency"])[rows, None] * 1e-4
        energy = np.array(entry[f"{phase}_energy"])[rows, None]
        numbers.append(4.0 * frequency * np.exp(-energy * inverse) * time / spacing**2)
    return numbers


def _crossing(fs: np.ndarray, values: np.ndarray) -> float:
    """Return the solid fraction where `values` first falls through zero, or NaN."""
    at = np.flatnonzero((values[:-1] > 0.0) & (values[1:] <= 0.0))
    if not at.size:
        return float("nan")
    i = at[0]
    return float(fs[i] + (fs[i + 1] - fs[i]) * values[i] / (values[i] - values[i + 1]))


def solidification_path(
    composition: Mapping[str, float],
    *,
    model: str = "won_thomas_2001",
    parameters: str = "phase_lines",
    cooling_rate: float = 1.0,
    points: int = 113,
) -> Path:
    """Return the path of a steel through its freezing range.

    Parameters
    ----------
    composition : mapping of str to float
        Element -> [mass %]; what the parameter set does not name stays evenly spread.
    model : str
        One of `BACK_DIFFUSION`.
    parameters : str
        One of `parameter_sets`.
    cooling_rate : float
        One nominal rate through the freezing range [K/s].
    points : int
        Solid fractions of the first grid, denser at both ends; the kinks and 0.3, 0.7, 0.75, 0.9 and 0.99
        are added.

    Returns
    -------
    Path

    Raises
    ------
    InputError
        If there is no such model or parameter set.

    Notes
    -----
    The last percent of liquid freezes linearly to a bounded solidus, because sulphides and the phosphide
    eutectic, which would end the enrichment, are not modelled.

    References
    ----------
    Closed form and Won-Thomas beta: Metall. Mater. Trans. A 32A (2001) 1755 (from memory). Partition:
    ``data/steel/segregation.toml``.

    Examples
    --------
    >>> path = solidification_path({"C": 0.40}, model="lever")
    >>> round(float(path.temperature[0]), 1), round(float(path.temperature[-1]), 1)
    (1505.7, 1452.6)
    """
    choice(model, BACK_DIFFUSION, "path model")
    system = _system(composition, choice(parameters, parameter_sets(), "segregation parameters"))
    spacing = (
        arm_spacing(min(composition["C"], 1.0), cooling_rate)
        if model not in ("lever", "no_diffusion")
        else np.nan
    )
    fs = 0.5 * (1.0 - np.cos(np.linspace(0.0, np.pi, points)))
    fs = np.unique(np.concatenate((fs, [0.3, 0.7, 0.75, 0.9, 0.99])))
    first = np.full((len(system.elements), fs.size), 0.0 if model == "no_diffusion" else 1.0)
    temperature, _, f_delta, f_gamma = _closure(system, fs, (first, first), 1e-2)
    for _ in range(ROUNDS if spacing > 0.0 else 0):
        beta = _betas(system, model, fs, temperature, spacing, cooling_rate)
        temperature, _, f_delta, f_gamma = _closure(system, fs, beta, 1e-2)
    start, end = _crossing(fs, f_delta), _crossing(fs, f_gamma)
    kinks = [x for x in (start, end) if 1e-4 < x < 1.0 - 1e-4 and np.min(np.abs(fs - x)) > 1e-5]
    finer = np.unique(np.concatenate((fs, kinks)))
    temperature = np.interp(finer, fs, temperature)
    beta = _betas(system, model, finer, temperature, spacing, cooling_rate)
    temperature, g, _, _ = _closure(system, finer, beta, 1e-6)
    temperature, capped = _bounded(finer, temperature)
    arrest = [float(np.interp(x, finer, temperature)) for x in (start, end)]
    gamma_share = np.maximum.accumulate(np.clip(g, 0.0, 1.0))  # austenite, once formed, stays
    return Path(finer, temperature, gamma_share, arrest[0], arrest[1], capped, float(spacing))


def _betas(
    system: _System, model: str, fs: np.ndarray, temperature: np.ndarray, spacing: float, cooling_rate: float
) -> tuple[np.ndarray, np.ndarray]:
    """Return beta (element, fs) of delta and gamma at the temperatures of the last round."""
    if not spacing > 0.0:
        alpha = np.ones((len(system.elements), fs.size))
        return back_diffusion(alpha, model), back_diffusion(alpha, model)
    bounded, _ = _bounded(fs, temperature)
    time = (bounded[0] - bounded[-1]) / cooling_rate
    delta, gamma = _fourier(system, bounded, spacing, time)
    return back_diffusion(delta, model), back_diffusion(gamma, model)


def _bounded(fs: np.ndarray, temperature: np.ndarray) -> tuple[np.ndarray, bool]:
    """Return the path with a bounded end, strictly falling, and whether its end was moved."""
    cap = entries("segregation")["last_liquid"]
    begin = cap["from_solid_fraction"]
    t_begin = float(np.interp(begin, fs, temperature))
    solidus = max(float(temperature[-1]), t_begin - cap["largest_drop"])
    moved = bool(solidus > temperature[-1] or solidus < cap["lowest"])
    if solidus > temperature[-1]:
        share = np.clip((fs - begin) / (1.0 - begin), 0.0, 1.0)
        temperature = np.where(fs > begin, t_begin + share * (solidus - t_begin), temperature)
    temperature = np.maximum(temperature, cap["lowest"])
    return np.minimum.accumulate(temperature + LEAST_RANGE * fs) - LEAST_RANGE * fs, moved
