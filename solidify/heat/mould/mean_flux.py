"""Mean heat flux of a mould when it is not measured: relations with dwell time, speed and carbon."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from solidify.errors import InputError, Notice, Problem, closest
from solidify.heat.mould.flux_law import check_lubricant
from solidify.sources import load_data
from solidify.units import KW, MINUTE

__all__ = [
    "carbon_factor",
    "default_peak",
    "default_relation",
    "flux_error",
    "handbook_exponent",
    "handbook_mean_flux",
    "handbook_notices",
    "mean_flux_cicutti",
    "mean_flux_range",
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


def default_relation(shape: str, lubricant: str) -> str:
    """Return the relation of the mean flux that is taken where none is named.

    Parameters
    ----------
    shape : str
        ``"slab"``, ``"rectangle"`` or ``"round"``.
    lubricant : str
        "powder" or "oil".

    Returns
    -------
    str
        One of `mean_flux_relations`.

    Raises
    ------
    InputError
        Unknown lubricant.

    Examples
    --------
    >>> default_relation("slab", "powder"), default_relation("round", "powder"), default_relation("round", "oil")
    ('cicutti_2002', 'wolf_powder', 'wolf_oil')
    """
    check_lubricant(lubricant)
    d = load_data("mould.toml")["default"]
    return str(d["slab" if shape == "slab" and lubricant == "powder" else lubricant])


def default_peak(shape: str, thickness: float, lubricant: str) -> float:
    """Return the local flux that is not exceeded below the meniscus where none is given.

    Parameters
    ----------
    shape : str
        ``"slab"``, ``"rectangle"`` or ``"round"``.
    thickness : float
        Of the section [m].
    lubricant : str
        "powder" or "oil".

    Returns
    -------
    float
        [W m-2]

    Raises
    ------
    InputError
        Unknown lubricant.

    Examples
    --------
    >>> default_peak("slab", 0.22, "powder") / 1e6, default_peak("rectangle", 0.15, "oil") / 1e6
    (2.5, 4.0)
    """
    check_lubricant(lubricant)
    d = load_data("mould.toml")
    if shape == "slab" and lubricant == "powder" and thickness < d["thin_slab"]["thickness"]:
        return float(d["thin_slab"]["peak"])
    return float(d["decay"][f"peak_{lubricant}"])


def handbook_exponent(relation: str) -> float:
    """Return with which power of the dwell time the mean flux of a relation falls.

    Parameters
    ----------
    relation : str
        One of `mean_flux_relations`.

    Returns
    -------
    float
        n in ``C t^-n`` [1]; that of a measured mean where the relation is no power.

    Raises
    ------
    InputError
        Unknown relation.

    Examples
    --------
    >>> handbook_exponent("wolf_powder"), handbook_exponent("cicutti_2002")
    (0.5, 0.47)
    """
    d = _mean_relation(relation)
    if d["form"] == "speed":
        return float(d["speed_exponent"])
    return -float(d["n"]) if "n" in d else float(load_data("mould.toml")["decay"]["exponent"])


def flux_error(measured: bool) -> float:
    """Return one standard deviation of a mean mould flux, as a share of it.

    Parameters
    ----------
    measured : bool
        Whether the flux was measured; else it is that of a handbook relation.

    Returns
    -------
    float
        [1]; common practice, no source.
    """
    return float(load_data("mould.toml")["error"]["measured" if measured else "handbook"])


def mean_flux_range(
    profile: str, shape: str, thickness: float, lubricant: str, peak: float | None = None
) -> tuple[float, float]:
    """Return between which fluxes the mean of a law lies, whatever the steel.

    Parameters
    ----------
    profile : str
        "decay" or "root".
    shape, thickness, lubricant
        As in `default_peak`.
    peak : float, optional
        Of a decay law, if it is given [W m-2].

    Returns
    -------
    (float, float)
        Both excluded [W m-2].

    Examples
    --------
    >>> mean_flux_range("decay", "slab", 0.22, "powder")
    (0.0, 2600000.0)
    """
    if profile == "decay":
        return 0.0, default_peak(shape, thickness, lubricant) if peak is None else peak
    law = load_data("mould.toml")["law"]
    return (law["floor"] if lubricant == "powder" else 0.0), law["cap"]


def handbook_mean_flux(
    dwell: ArrayLike,
    lubricant: str = "powder",
    relation: str | None = None,
    *,
    speed: ArrayLike | None = None,
    viscosity: float | None = None,
    melting_temperature: float | None = None,
) -> Array:
    """Return the mean flux that a handbook relation gives for a dwell time.

    Parameters
    ----------
    dwell : array_like
        Time from meniscus to mould exit, above 0 [s].
    lubricant : str
        "powder" (7.3 / sqrt(t) MW/m2) or "oil" (9.5 / sqrt(t)), after Wolf; from memory.
    relation : str, optional
        Another relation by name, see `mean_flux_relations`; the lubricant is then not used.
    speed : array_like, optional
        Casting speed, for a relation over the speed [m s-1].
    viscosity, melting_temperature : float, optional
        Of the powder, as for `mean_flux_cicutti`.

    Returns
    -------
    ndarray
        Mean flux [W m-2], without the effect of carbon (`carbon_factor`).

    Raises
    ------
    InputError
        Unknown lubricant or relation, or a relation over the speed without one.

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
    if d["form"] == "speed":
        if speed is None:
            raise InputError(
                Problem(f"mean-flux relation {relation!r}", "no casting speed", "a speed in m/s")
            )
        return mean_flux_cicutti(speed, np.inf, viscosity, melting_temperature)
    if d["form"] == "power":
        return np.asarray(d["c"] * t ** d["n"])
    if d["form"] == "root":
        return np.asarray(d["a"] - d["b"] * np.sqrt(t))
    early, power = np.minimum(t, d["join"]), d["n"] + 1.0
    late = d["c"] / power * (np.maximum(t, d["join"]) ** power - d["join"] ** power)
    return np.asarray((d["a"] * early - 0.5 * d["b"] * early**2 + late) / t)


def handbook_notices(
    dwell: float,
    lubricant: str = "powder",
    relation: str | None = None,
    where: str = "mould",
    speed: float = np.nan,
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
    speed : float
        Casting speed, for a relation over the speed [m s-1].

    Returns
    -------
    tuple of Notice
        That the flux is not measured; and, where so, that dwell time or speed is outside the relation's range.
    """
    check_lubricant(lubricant)
    d = _mean_relation(relation or f"wolf_{lubricant}")
    error = 100.0 * flux_error(measured=False)
    text = f"flux not measured: mean from the handbook relation ({d['label']}), about ± {error:.0f} %"
    notices = [Notice(text, where)]
    if d["form"] == "speed":
        what, value, unit, (low, high) = "speed", speed * MINUTE, "m/min", d["speed_m_per_min"]
    else:
        what, value, unit, (low, high) = "dwell time", dwell, "s", d["dwell_s"]
    if not low <= value <= high:
        shown = f"{value:.2f}" if unit == "m/min" else f"{value:.1f}"
        text = f"{what} {shown} {unit} is outside the {low:g} to {high:g} {unit} of the handbook relation"
        notices.append(Notice(text, where))
    return tuple(notices)


def mean_flux_cicutti(
    speed: ArrayLike,
    carbon: ArrayLike,
    viscosity: float | None = None,
    melting_temperature: float | None = None,
) -> Array:
    """Return the mean flux of a slab mould from speed, carbon and the powder's two numbers.

    Parameters
    ----------
    speed : array_like
        Casting speed [m s-1].
    carbon : array_like
        Carbon, mass %; infinite for a steel without peritectic dip.
    viscosity : float, optional
        Of the molten powder at 1300 °C, 0.1 by default [Pa s] (1 Pa s = 10 poise).
    melting_temperature : float, optional
        Of the powder, 1120 by default [degC].

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
    d = _mean_relation("cicutti_2002")
    v, carbon = np.asarray(speed, dtype=float) * 60.0, np.asarray(carbon, dtype=float)
    dip = 1.0 - d["dip"] * np.exp(-(((d["peak"] - carbon) / d["width"]) ** 2))
    mu = d["viscosity"] if viscosity is None else viscosity
    melting = d["melting_temperature"] if melting_temperature is None else melting_temperature
    q = d["c"] * mu ** d["viscosity_exponent"] * melting ** d["melting_exponent"]
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
