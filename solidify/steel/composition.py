"""What an analysis says before any freezing: elements, ferrite potential, class, A1 and A3, arm spacing."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from solidify.errors import InputError, Problem, closest
from solidify.steel.coefficients import entries

__all__ = [
    "ae1_andrews",
    "ae3_andrews",
    "ar3_ouchi",
    "arm_spacing",
    "carbon_equivalent",
    "checked_composition",
    "ferrite_potential",
    "steel_class",
]


def checked_composition(composition: Mapping[str, float]) -> dict[str, float]:
    """Return the analysis as plain floats, every element known and within bounds.

    Parameters
    ----------
    composition : mapping of str to float
        Element symbol -> [mass %]; iron is the rest and is left out.

    Returns
    -------
    dict of str to float
        [mass %]

    Raises
    ------
    InputError
        With every unknown element and every value out of bounds.

    Examples
    --------
    >>> checked_composition({"C": 0.45, "Mn": 0.7})
    {'C': 0.45, 'Mn': 0.7}
    """
    most = entries("composition")["most"]
    problems, clean = [], {}
    for element, value in composition.items():
        where = f"composition {element}"
        if element not in most:
            nearest = closest(str(element), most)
            advice = (
                "iron is the rest: leave it out"
                if str(element).lower() == "fe"
                else "write the chemical symbol"
            )
            problems.append(Problem(where, f"{value}", ", ".join(most), nearest, advice))
            continue
        number = isinstance(value, int | float | np.number) and not isinstance(value, bool)
        if not number or not math.isfinite(value) or not 0.0 <= value <= most[element]:
            problems.append(Problem(where, f"{value} mass %", f"0 to {most[element]:g} mass %"))
            continue
        clean[element] = float(value)
    if "C" not in composition:
        problems.append(
            Problem("composition", "no C", "C from 0 to 1.5 mass %", do="give the carbon content")
        )
    if problems:
        raise InputError(problems)
    return clean


def _weighted(slopes: Mapping[str, float], composition: Mapping[str, float]) -> float:
    return sum(slope * composition.get(element, 0.0) for element, slope in slopes.items())


def carbon_equivalent(composition: Mapping[str, float]) -> float:
    """Return the carbon content of the binary steel with the same peritectic behaviour.

    Parameters
    ----------
    composition : mapping of str to float
        Element -> [mass %].

    Returns
    -------
    float
        [mass %]

    Notes
    -----
    Cp = C + 0.04 Mn + 0.1 Ni + 0.7 N - 0.14 Si - 0.04 Cr - 0.1 Mo - 0.24 Ti.

    References
    ----------
    M. M. Wolf, W. Kurz, Metall. Trans. B 12B (1981) 85, as quoted in a lecture text (read there).

    Examples
    --------
    >>> round(carbon_equivalent({"C": 0.12, "Si": 0.30, "Mn": 1.40}), 3)
    0.134
    """
    return _weighted(entries("composition")["ferrite_potential"]["slopes"], composition)


def ferrite_potential(composition: Mapping[str, float]) -> float:
    """Return the ferrite potential, 2.5 (0.5 - Cp).

    Parameters
    ----------
    composition : mapping of str to float
        Element -> [mass %].

    Returns
    -------
    float
        [1]; above 1 the steel freezes as delta ferrite alone, below 0 as austenite alone.

    References
    ----------
    M. M. Wolf, W. Kurz, Metall. Trans. B 12B (1981) 85, as quoted in a lecture text (read there).

    Examples
    --------
    >>> round(ferrite_potential({"C": 0.12, "Si": 0.30, "Mn": 1.40}), 3)
    0.915
    """
    entry = entries("composition")["ferrite_potential"]
    return entry["factor"] * (entry["offset"] - carbon_equivalent(composition))


def steel_class(composition: Mapping[str, float]) -> str:
    """Return the class of steel in casting practice.

    Parameters
    ----------
    composition : mapping of str to float
        Element -> [mass %].

    Returns
    -------
    str
        ``"ultra-low carbon"``, ``"low carbon"``, ``"peritectic"``, ``"medium carbon"`` or ``"high carbon"``.

    Notes
    -----
    Peritectic is what lies in the depression-prone band of the ferrite potential (band from memory); carbon
    decides the rest (common practice, no source).

    Examples
    --------
    >>> steel_class({"C": 0.12, "Si": 0.30, "Mn": 1.40}), steel_class({"C": 0.45, "Mn": 0.7})
    ('peritectic', 'medium carbon')
    """
    data = entries("composition")
    carbon = composition.get("C", 0.0)
    low, high = data["peritectic_band"]["value"]
    potential = ferrite_potential(composition)
    if carbon < data["steel_class"]["ultra_low"]:
        return "ultra-low carbon"
    if carbon >= data["steel_class"]["high"]:
        return "high carbon"
    if potential > high:
        return "low carbon"
    return "peritectic" if potential >= low else "medium carbon"


def ae1_andrews(composition: Mapping[str, float]) -> float:
    """Return the equilibrium temperature below which no austenite remains.

    Parameters
    ----------
    composition : mapping of str to float
        Element -> [mass %]; low-alloy steels below 0.6 % C.

    Returns
    -------
    float
        [degC]

    References
    ----------
    K. W. Andrews, J. Iron Steel Inst. 203 (1965) 721 (read as quoted in a handbook).

    Examples
    --------
    >>> round(ae1_andrews({"C": 0.2, "Mn": 1.0, "Si": 0.3}), 2)
    721.03
    """
    entry = entries("transformation")["ae1"]
    return entry["base"] + _weighted(entry["slopes"], composition)


def ae3_andrews(composition: Mapping[str, float]) -> float:
    """Return the equilibrium temperature above which no ferrite remains.

    Parameters
    ----------
    composition : mapping of str to float
        Element -> [mass %]; low-alloy steels below 0.6 % C.

    Returns
    -------
    float
        [degC]

    References
    ----------
    K. W. Andrews, J. Iron Steel Inst. 203 (1965) 721 (read as quoted in a handbook).

    Examples
    --------
    >>> round(ae3_andrews({"C": 0.40}), 1)
    781.6
    """
    entry = entries("transformation")["ae3"]
    carbon = composition.get("C", 0.0)
    return entry["base"] + entry["root_carbon"] * math.sqrt(carbon) + _weighted(entry["slopes"], composition)


def ar3_ouchi(composition: Mapping[str, float]) -> float:
    """Return the temperature at which ferrite begins to form on cooling.

    Parameters
    ----------
    composition : mapping of str to float
        Element -> [mass %]; low-alloy steels.

    Returns
    -------
    float
        [degC]

    Notes
    -----
    910 - 310 C - 80 Mn - 20 Cu - 15 Cr - 55 Ni - 80 Mo; the term in plate thickness is left out.

    References
    ----------
    C. Ouchi et al., Tetsu-to-Hagane 67 (1981) (read as quoted in a collection of formulas).

    Examples
    --------
    >>> round(ar3_ouchi({"C": 0.15, "Mn": 1.0}), 1)
    783.5
    """
    entry = entries("transformation")["ar3"]
    return float(entry["base"] + _weighted(entry["slopes"], composition))


def arm_spacing(carbon: float, cooling_rate: float) -> float:
    """Return the secondary dendrite arm spacing, smooth over carbon.

    Parameters
    ----------
    carbon : float
        [mass %], 0 to 1.
    cooling_rate : float
        Through the freezing range [K/s], about 0.05 to 200.

    Returns
    -------
    float
        [m]

    Notes
    -----
    (169.1 - 720.9 C) rate^-0.4935 um below 0.15 % C and 143.9 rate^-0.3616 C^(0.5501 - 1.996 C) um above;
    the two jump where they meet, so their logarithms are blended between 0.12 and 0.18 % C (ours).

    References
    ----------
    Y.-M. Won, B. G. Thomas, Metall. Mater. Trans. A 32A (2001) 1755 (from memory).

    Examples
    --------
    >>> round(1e6 * arm_spacing(0.40, 1.0))
    181
    """
    entry = entries("segregation")["arm_spacing"]
    low, high = entry["low"], entry["high"]
    first, last = entry["blend"]
    share = min(max((carbon - first) / (last - first), 0.0), 1.0)
    share = share * share * (3.0 - 2.0 * share)
    log_low = log_high = 0.0
    if share < 1.0:
        log_low = math.log(low["p"] + low["q"] * carbon) + low["r"] * math.log(cooling_rate)
    if share > 0.0:
        exponent = high["v"] + high["w"] * carbon
        log_high = math.log(high["s"]) + high["u"] * math.log(cooling_rate) + exponent * math.log(carbon)
    return 1e-6 * math.exp((1.0 - share) * log_low + share * log_high)
