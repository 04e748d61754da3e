"""The mould: flux laws and their calibration to a mean flux, water and copper, oscillation and taper."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from solidify import water
from solidify.errors import InputError, Notice, Problem, closest
from solidify.sources import load_data
from solidify.units import KW, MW

__all__ = [
    "LUBRICANTS",
    "FluxLaw",
    "TaperProfile",
    "carbon_factor",
    "copper_hot_face",
    "handbook_mean_flux",
    "handbook_notices",
    "law_from_coefficients",
    "law_from_mean",
    "law_notices",
    "mark_pitch",
    "mean_flux_cicutti",
    "mean_flux_from_water",
    "mean_flux_relations",
    "mould_speed_ratio",
    "negative_strip_ratio",
    "negative_strip_time",
    "slot_velocity",
    "taper_profile",
    "tube_slot_area",
    "water_film_coefficient",
    "water_rise",
]

LUBRICANTS = ("powder", "oil")
"""What lies between strand and mould."""

Array = NDArray[np.float64]


@cache
def _data() -> dict[str, Any]:
    return load_data("mould.toml")


@dataclass(frozen=True)
class FluxLaw:
    """Heat flux out of the strand in the mould as a law in time below the meniscus.

    Kind "root": ``q = max(a - b sqrt(t), floor)``. Kind "inverse root": ``q = min(c / sqrt(t), cap)``.

    Parameters
    ----------
    kind : str
        "root" or "inverse root".
    a : float
        Flux at the meniscus of a root law [W m-2].
    b : float
        Its slope, 0 or more [W m-2 s-0.5].
    c : float
        Constant of an inverse-root law [W m-2 s0.5].
    floor : float
        A root law does not fall below [W m-2].
    cap : float
        An inverse-root law does not rise above [W m-2].
    note : str
        Where the law comes from and why it has this form.
    """

    kind: str
    a: float = 0.0
    b: float = 0.0
    c: float = 0.0
    floor: float = 0.0
    cap: float = math.inf
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
        root = np.sqrt(np.asarray(time, dtype=float))
        if self.kind == "root":
            return np.maximum(self.a - self.b * root, self.floor)
        return np.minimum(self.c / np.maximum(root, 1e-30), self.cap)

    def heat(self, time: ArrayLike) -> Array:
        """Return the heat taken since the meniscus: the exact integral of the clipped law.

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
        (kink,) = self.kinks() or (math.inf,)
        free = np.minimum(t, kink) if self.kind == "root" else np.maximum(t, kink)
        if self.kind == "root":
            return self.a * free - 2.0 / 3.0 * self.b * free**1.5 + self.floor * (t - free)
        return self.cap * np.minimum(t, kink) + 2.0 * self.c * (np.sqrt(free) - math.sqrt(kink))

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
        t = np.asarray(time, dtype=float)
        safe = np.where(t > 0.0, t, 1.0)
        return np.where(t > 0.0, self.heat(t) / safe, self.flux(0.0))

    def kinks(self) -> tuple[float, ...]:
        """Return the times at which the clip sets in or ends [s]: one, or none for a constant flux."""
        if self.kind == "root":
            return (((self.a - self.floor) / self.b) ** 2,) if self.b > 0.0 else ()
        return ((self.c / self.cap) ** 2,)

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
        return f"q = {self.c / MW:.4g} / √t MW/m2 (t in s), not above {self.cap / MW:.3g}"


def _check_lubricant(lubricant: str) -> None:
    if lubricant not in LUBRICANTS:
        raise InputError(
            Problem("lubricant", repr(lubricant), ", ".join(LUBRICANTS), closest(lubricant, LUBRICANTS))
        )


def law_from_mean(mean: float, dwell: float, lubricant: str) -> FluxLaw:
    """Return the flux law whose clipped form has a stated mean over the dwell time.

    Powder takes ``q = max(a - b sqrt(t), floor)`` with a = 2680 kW/m2 and floor = 150 kW/m2; b is solved so
    that the clipped law has the mean. Oil, or a mean above a, takes ``q = min(c / sqrt(t), cap)`` with
    cap = 5 MW/m2 and c solved likewise.

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
    _check_lubricant(lubricant)
    d = _data()["law"]
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
        return FluxLaw("inverse root", c=r * cap * root, cap=cap, note=f"inverse root of time: {why}")
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
    floor = _data()["law"]["floor"]
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
    low = _data()["exit_flux"]["low"]
    at_exit = float(law.flux(dwell))
    kinks = law.kinks()
    if law.kind == "root" and kinks and kinks[0] < dwell:
        text = (
            f"the flux law reaches its floor of {law.floor / KW:.0f} kW/m2 after {kinks[0]:.1f} s of "
            f"{dwell:.1f} s: the lower mould takes almost no heat; check the mean flux"
        )
        return (Notice(text, where),)
    if at_exit < low:
        text = f"the flux at mould exit comes out at {at_exit / KW:.0f} kW/m2, below {low / KW:.0f}"
        return (Notice(text + ": check the mean flux", where),)
    return ()


def mean_flux_relations() -> tuple[str, ...]:
    """Return the names of the relations between dwell time and mean flux, sorted."""
    return tuple(sorted(_data()["mean"]))


def _mean_relation(name: str) -> dict[str, Any]:
    table = _data()["mean"]
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
    _check_lubricant(lubricant)
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
    _check_lubricant(lubricant)
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
    d = _data()["cicutti_2002"]
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
    _check_lubricant(lubricant)
    d = _data()["carbon"]
    offset = (np.asarray(carbon, dtype=float) - d["peak"]) / d["width"]
    return np.asarray(1.0 - d[f"dip_{lubricant}"] * np.exp(-(offset**2)))


def mean_flux_from_water(flow: float, rise: float, area: float, inlet_temperature: float = 30.0) -> float:
    """Return the mean mould flux from the heat taken up by the mould water.

    Parameters
    ----------
    flow : float
        Mould water, measured at the inlet [m3 s-1].
    rise : float
        Outlet minus inlet temperature [K].
    area : float
        Strand surface facing that water, from meniscus to mould exit [m2].
    inlet_temperature : float
        [degC].

    Returns
    -------
    float
        Mean flux [W m-2].

    Raises
    ------
    InputError
        If flow, rise or area is not positive, or the water would boil.

    Examples
    --------
    >>> round(mean_flux_from_water(4000 / 60e3, 5.2, 1.5 * 0.8) / 1e6, 2)
    1.2
    """
    given = {"mould water flow": (flow, "m3/s"), "water rise": (rise, "K"), "area": (area, "m2")}
    problems = [Problem(k, f"{v:g} {unit}", "above 0") for k, (v, unit) in given.items() if not v > 0.0]
    if problems:
        raise InputError(problems)
    mass_flow = float(water.density(inlet_temperature)) * flow
    return mass_flow * float(water.specific_heat(inlet_temperature + 0.5 * rise)) * rise / area


def water_rise(mean_flux: float, area: float, flow: float, inlet_temperature: float = 30.0) -> float:
    """Return how much the mould water warms up.

    Parameters
    ----------
    mean_flux : float
        [W m-2].
    area : float
        Strand surface facing that water [m2].
    flow : float
        Mould water, measured at the inlet [m3 s-1].
    inlet_temperature : float
        [degC].

    Returns
    -------
    float
        Rise [K].

    Raises
    ------
    InputError
        If flow is not positive, or the water would boil.

    Examples
    --------
    >>> round(water_rise(1.2e6, 1.5 * 0.8, 4000 / 60e3), 1)
    5.2
    """
    if not flow > 0.0:
        raise InputError(Problem("mould water flow", f"{flow:g} m3/s", "above 0"))
    capacity_flow = float(water.density(inlet_temperature)) * flow
    rise = 0.0
    for _ in range(4):  # the specific heat varies by 1e-5 a kelvin: each pass gains four digits
        rise = mean_flux * area / (capacity_flow * float(water.specific_heat(inlet_temperature + 0.5 * rise)))
    return rise


def tube_slot_area(width: float, thickness: float, wall: float, gap: float) -> float:
    """Return the area of the water slot around a mould tube.

    Parameters
    ----------
    width, thickness : float
        Inner size of the tube [m].
    wall : float
        Copper wall [m].
    gap : float
        Water gap [m].

    Returns
    -------
    float
        Slot area [m2].

    Examples
    --------
    >>> round(tube_slot_area(0.130, 0.130, 0.012, 0.0035) * 1e6)
    2205
    """
    return 2.0 * gap * (width + thickness + 4.0 * wall + 2.0 * gap)


def slot_velocity(flow: float, slot_area: float) -> float:
    """Return the mean velocity of the mould water [m s-1] from flow [m3 s-1] and slot area [m2].

    Examples
    --------
    >>> round(slot_velocity(1300 / 60e3, tube_slot_area(0.130, 0.130, 0.012, 0.0035)), 1)
    9.8
    """
    return flow / slot_area


def water_film_coefficient(velocity: float, hydraulic_diameter: float, water_temperature: float) -> float:
    """Return the coefficient between mould copper and mould water.

    Parameters
    ----------
    velocity : float
        Mean velocity in the slot [m s-1].
    hydraulic_diameter : float
        Of the slot: twice the gap [m].
    water_temperature : float
        Bulk of the water [degC].

    Returns
    -------
    float
        Coefficient [W m-2 K-1].

    Notes
    -----
    Dittus and Boelter, ``Nu = 0.023 Re^0.8 Pr^0.4``, turbulent flow without boiling; from memory.

    Examples
    --------
    >>> round(water_film_coefficient(10.0, 0.007, 40.0) / 1e3)
    39
    """
    d = _data()["water_film"]
    viscosity, density = float(water.viscosity(water_temperature)), float(water.density(water_temperature))
    reynolds = density * velocity * hydraulic_diameter / viscosity
    nusselt = d["c"] * reynolds ** d["m"] * float(water.prandtl(water_temperature)) ** d["n"]
    return nusselt * float(water.conductivity(water_temperature)) / hydraulic_diameter


def copper_hot_face(
    flux: ArrayLike,
    wall: float,
    film_coefficient: float,
    water_temperature: float,
    conductivity: float | None = None,
) -> Array:
    """Return an estimate of the temperature of the copper's hot face.

    Parameters
    ----------
    flux : array_like
        Local flux [W m-2].
    wall : float
        Copper between hot face and water [m].
    film_coefficient : float
        Copper to water, see `water_film_coefficient` [W m-2 K-1].
    water_temperature : float
        [degC].
    conductivity : float, optional
        Of the copper [W m-1 K-1]; default 350, silver-bearing copper, common practice.

    Returns
    -------
    ndarray
        Hot-face temperature [degC]: plane wall, no coating, no boiling, no scale.

    Examples
    --------
    >>> round(float(copper_hot_face(2.5e6, 0.012, 39e3, 40.0)))
    190
    """
    k = _data()["copper"]["conductivity"] if conductivity is None else conductivity
    return water_temperature + np.asarray(flux, dtype=float) * (1.0 / film_coefficient + wall / k)


def negative_strip_time(speed: ArrayLike, frequency: ArrayLike, stroke: ArrayLike) -> Array:
    """Return the time in each cycle during which the mould goes down faster than the strand.

    Parameters
    ----------
    speed : array_like
        Casting speed, above 0 [m s-1].
    frequency : array_like
        Of a sinusoidal oscillation [Hz].
    stroke : array_like
        Full stroke, twice the amplitude [m].

    Returns
    -------
    ndarray
        Negative strip time [s]; zero where the mould never outruns the strand.

    Notes
    -----
    ``t_N = arccos(v / (pi f s)) / (pi f)``: follows from the sinusoid; common practice as a measure.

    Examples
    --------
    >>> round(float(negative_strip_time(1.2 / 60, 150 / 60, 6e-3)), 3)
    0.144
    """
    f = np.asarray(frequency, dtype=float)
    ratio = np.asarray(speed, dtype=float) / (math.pi * f * np.asarray(stroke, dtype=float))
    return np.arccos(np.minimum(ratio, 1.0)) / (math.pi * f)


def negative_strip_ratio(speed: ArrayLike, frequency: ArrayLike, stroke: ArrayLike) -> Array:
    """Return by how much the mean speed of the mould exceeds the casting speed.

    Parameters
    ----------
    speed : array_like
        Casting speed, above 0 [m s-1].
    frequency : array_like
        [Hz].
    stroke : array_like
        Full stroke [m].

    Returns
    -------
    ndarray
        ``2 f s / v - 1`` [1]; positive when the mould is the faster. Some plants print it with the
        other sign.

    Examples
    --------
    >>> round(float(negative_strip_ratio(1.2 / 60, 150 / 60, 6e-3)), 2)
    0.5
    """
    return 2.0 * np.asarray(frequency, dtype=float) * np.asarray(stroke) / np.asarray(speed) - 1.0


def mould_speed_ratio(speed: ArrayLike, frequency: ArrayLike, stroke: ArrayLike) -> Array:
    """Return the peak speed of the mould over the casting speed; above 1 there is a negative strip.

    Parameters
    ----------
    speed : array_like
        Casting speed, above 0 [m s-1].
    frequency : array_like
        [Hz].
    stroke : array_like
        Full stroke [m].

    Returns
    -------
    ndarray
        ``pi f s / v`` [1].

    Examples
    --------
    >>> round(float(mould_speed_ratio(1.2 / 60, 150 / 60, 6e-3)), 2)
    2.36
    """
    return math.pi * np.asarray(frequency, dtype=float) * np.asarray(stroke) / np.asarray(speed)


def mark_pitch(speed: ArrayLike, frequency: ArrayLike) -> Array:
    """Return the distance between oscillation marks [m] from speed [m s-1] and frequency [Hz].

    Examples
    --------
    >>> round(float(mark_pitch(1.2 / 60, 150 / 60)) * 1e3, 6)
    8.0
    """
    return np.asarray(speed, dtype=float) / np.asarray(frequency)


@dataclass(frozen=True)
class TaperProfile:
    """How the strand would shrink freely in the mould, and what a straight taper leaves open.

    Parameters
    ----------
    distance : ndarray (n,)
        From the meniscus [m].
    contraction : ndarray (n,)
        Of the whole size, free [m].
    taper : ndarray (n,)
        Local taper that follows the free contraction [m-1] (0.01 is 1 %/m).
    single_taper : float
        The straight taper compared with [m-1].
    gap : ndarray (n,)
        On each of the two sides under the straight taper [m]; negative where the mould presses on the shell.
    """

    distance: Array
    contraction: Array
    taper: Array
    single_taper: float
    gap: Array


def taper_profile(
    distance: ArrayLike, strain: ArrayLike, size: float, single_taper: float | None = None
) -> TaperProfile:
    """Return the taper that follows the free shrinkage of the shell, against one straight taper.

    Parameters
    ----------
    distance : array_like (n,)
        From the meniscus, increasing, at least two [m].
    strain : array_like (n,)
        Free linear thermal strain of the surface against the solidus [1], negative where it has shrunk; zero
        while the surface is not solid.
    size : float
        Width or thickness of the strand [m].
    single_taper : float, optional
        Straight taper of the mould [m-1]; default: the one that meets the free contraction at the last
        distance.

    Returns
    -------
    TaperProfile

    Notes
    -----
    The shell is taken as unstressed, without creep, and as cold as its surface: an upper estimate.

    Examples
    --------
    >>> profile = taper_profile([0.0, 0.35, 0.7], [0.0, -0.0045, -0.0066], 0.130)
    >>> round(profile.single_taper * 100, 2), round(float(profile.contraction[-1]) * 1e3, 2)
    (0.94, 0.86)
    """
    z, e = np.asarray(distance, dtype=float), np.asarray(strain, dtype=float)
    contraction = -size * e
    straight = contraction[-1] / (size * z[-1]) if single_taper is None else single_taper
    taper = np.gradient(contraction, z) / size
    return TaperProfile(z, contraction, taper, float(straight), 0.5 * (contraction - straight * size * z))
