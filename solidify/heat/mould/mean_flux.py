"""Mean heat flux of a mould when it is not measured: relations with dwell time, speed and carbon."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from solidify.errors import InputError, Notice, Problem, closest
from solidify.heat.mould.flux_law import check_lubricant
from solidify.sources import load_data
from solidify.units import KW

__all__ = [
    "carbon_factor",
    "handbook_mean_flux",
    "handbook_notices",
    "mean_flux_cicutti",
    "mean_flux_relations",
]

Array = NDArray[np.float64]


def mean_flux_relations() -> tuple[str, ...]:
    """Return the names of the relations between dwell time and mean flux, sorted."""
    return tuple(sorted(load_data("mould.toml")["mean"]))


def _mean_relation(name: str) -> dict[str, Any]:
    table = load_data("mould.toml")["mean"]
    if name not in table:
        raise InputError(
            Problem("mean-flux relation", repr(name), ", ".join(sorted(table)), closest(name, table))
        )
    found: dict[str, Any] = table[name]
    return found


def handbook_mean_flux(dwell: ArrayLike, lubricant: str = "powder", relation: str | None = None) -> Array:
    """Return the mean flux that a handbook relation gives for a dwell time.

    Parameters
    ----------
    dwell : array_like
        Time from meniscus to mould exit, above 0 [s].
    lubricant : str
        "powder" (7.3 / sqrt(t) MW/m2) or "oil" (9.5 / sqrt(t)), after Wolf; from memory.
    relation : str, optional
        Another relation by name, see `mean_flux_relations`; the lubricant is then not used.

    Returns
    -------
    ndarray
        Mean flux [W m-2], without the effect of carbon (`carbon_factor`).

    Raises
    ------
    InputError
        Unknown lubricant or relation.

    Examples
    --------
    >>> round(float(handbook_mean_flux(40.0, "powder")) / 1e6, 2)
    1.15
    """
    check_lubricant(lubricant)
    d = _mean_relation(relation or f"wolf_{lubricant}")
    t = np.asarray(dwell, dtype=float)
    if not np.all(t > 0.0):
        raise InputError(Problem("dwell time in the mould", f"{float(np.min(t)):g} s", "above 0 s"))
    if d["form"] == "power":
        return np.asarray(d["c"] * t ** d["n"])
    if d["form"] == "root":
        return np.asarray(d["a"] - d["b"] * np.sqrt(t))
    early, power = np.minimum(t, d["join"]), d["n"] + 1.0
    late = d["c"] / power * (np.maximum(t, d["join"]) ** power - d["join"] ** power)
    return np.asarray((d["a"] * early - 0.5 * d["b"] * early**2 + late) / t)


def handbook_notices(
    dwell: float, lubricant: str = "powder", relation: str | None = None, where: str = "mould"
) -> tuple[Notice, ...]:
    """Return what to keep in a result that runs on a handbook mean flux.

    Parameters
    ----------
    dwell : float
        Time from meniscus to mould exit [s].
    lubricant, relation : str
        As in `handbook_mean_flux`.
    where : str
        Printed with the notice.

    Returns
    -------
    tuple of Notice
        That the flux is not measured; and, where so, that the dwell time is outside the relation's range.
    """
    check_lubricant(lubricant)
    d = _mean_relation(relation or f"wolf_{lubricant}")
    notices = [Notice(f"flux not measured: mean from the handbook relation ({d['label']})", where)]
    low, high = d["dwell_s"]
    if not low <= dwell <= high:
        text = f"dwell time {dwell:.1f} s is outside the {low:g} to {high:g} s of the handbook relation"
        notices.append(Notice(text, where))
    return tuple(notices)


def mean_flux_cicutti(
    speed: ArrayLike, carbon: ArrayLike, viscosity: float = 0.1, melting_temperature: float = 1120.0
) -> Array:
    """Return the mean flux of a slab mould from speed, carbon and the powder's two numbers.

    Parameters
    ----------
    speed : array_like
        Casting speed [m s-1].
    carbon : array_like
        Carbon, mass %.
    viscosity : float
        Of the molten powder at 1300 °C [Pa s] (1 Pa s = 10 poise).
    melting_temperature : float
        Of the powder [degC].

    Returns
    -------
    ndarray
        Mean flux [W m-2].

    Notes
    -----
    ``q = 4.63e6 mu^-0.09 T^-1.19 v^0.47 {1 - 0.152 exp(-((0.107 - C) / 0.027)^2)}`` kW/m2, v in m/min;
    Cicutti et al. (2002), from memory. Sometimes printed in MW/m2, a factor 1000 out.

    Examples
    --------
    >>> round(float(mean_flux_cicutti(1.2 / 60.0, 0.05)) / 1e3)
    1457
    """
    d = load_data("mould.toml")["cicutti_2002"]
    v, carbon = np.asarray(speed, dtype=float) * 60.0, np.asarray(carbon, dtype=float)
    dip = 1.0 - d["dip"] * np.exp(-(((d["peak"] - carbon) / d["width"]) ** 2))
    q = d["c"] * viscosity ** d["viscosity_exponent"] * melting_temperature ** d["melting_exponent"]
    return np.asarray(q * v ** d["speed_exponent"] * dip * KW)


def carbon_factor(carbon: ArrayLike, lubricant: str = "powder") -> Array:
    """Return the factor on the handbook mean flux for the uneven shell of peritectic steels.

    Parameters
    ----------
    carbon : array_like
        Carbon of the plain steel with the same peritectic behaviour [mass %].
    lubricant : str
        "powder" (dip 15 %) or "oil" (dip 25 %).

    Returns
    -------
    ndarray
        Factor [1], 1 far from 0.107 % C.

    Raises
    ------
    InputError
        Unknown lubricant.

    Notes
    -----
    ``1 - A exp(-((Cp - 0.107) / 0.027)^2)``; shape and A for powder from Cicutti et al. (2002), A for oil
    after Singh and Blazek (1974); from memory.

    Examples
    --------
    >>> round(float(carbon_factor(0.107, "powder")), 2)
    0.85
    """
    check_lubricant(lubricant)
    d = load_data("mould.toml")["carbon"]
    offset = (np.asarray(carbon, dtype=float) - d["peak"]) / d["width"]
    return np.asarray(1.0 - d[f"dip_{lubricant}"] * np.exp(-(offset**2)))
