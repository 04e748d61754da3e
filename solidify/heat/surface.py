"""What the strand surface loses beside the spray water: radiation, air, rolls, standing water."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from solidify.errors import InputError, Problem
from solidify.sources import load_data
from solidify.units import STEFAN_BOLTZMANN, ZERO_CELSIUS

__all__ = [
    "EMISSIVITIES",
    "ROLL_CONTACTS",
    "default_roll_share",
    "default_view_factor",
    "emissivity_touloukian",
    "heat_shares",
    "natural_convection_flux",
    "radiative_coefficient",
    "radiative_flux",
    "roll_coefficient",
    "roll_contact_flux_diener",
    "roll_flux_from_share",
    "roll_mean_flux",
    "sources_of",
    "water_stands",
]

Array = NDArray[np.float64]


def radiative_flux(
    surface_temperature: ArrayLike,
    ambient_temperature: ArrayLike,
    emissivity: ArrayLike = 0.8,
    view_factor: float = 1.0,
) -> Array:
    """Return the heat radiated by the strand surface, net of what the surroundings send back.

    Parameters
    ----------
    surface_temperature : array_like
        Strand surface [degC].
    ambient_temperature : array_like
        Surroundings, taken as black [degC].
    emissivity : array_like
        Total emissivity of the surface [1].
    view_factor : float
        Share of what the surface sees that is at ambient temperature [1]; between rolls 0.6 to 0.9, common
        practice.

    Returns
    -------
    ndarray
        Flux out of the strand [W m-2].

    Notes
    -----
    Stefan-Boltzmann law, ``q = F e sigma (Ts^4 - Ta^4)`` in kelvin.

    Examples
    --------
    >>> round(float(radiative_flux(1000.0, 35.0, 0.8)) / 1e3)
    119
    """
    ts = np.asarray(surface_temperature, dtype=float) + ZERO_CELSIUS
    ta = np.asarray(ambient_temperature, dtype=float) + ZERO_CELSIUS
    return np.asarray(view_factor * np.asarray(emissivity) * STEFAN_BOLTZMANN * (ts**4 - ta**4))


def radiative_coefficient(
    surface_temperature: ArrayLike,
    ambient_temperature: ArrayLike,
    emissivity: ArrayLike = 0.8,
    view_factor: float = 1.0,
) -> Array:
    """Return the radiative flux over ``surface - ambient``, finite where the two are equal.

    Parameters
    ----------
    surface_temperature, ambient_temperature : array_like
        [degC].
    emissivity : array_like
        Total emissivity of the surface [1].
    view_factor : float
        As in `radiative_flux` [1].

    Returns
    -------
    ndarray
        Coefficient [W m-2 K-1].

    Examples
    --------
    >>> round(float(radiative_coefficient(1000.0, 35.0, 0.8)))
    123
    """
    ts = np.asarray(surface_temperature, dtype=float) + ZERO_CELSIUS
    ta = np.asarray(ambient_temperature, dtype=float) + ZERO_CELSIUS
    product = (ts * ts + ta * ta) * (ts + ta)
    return np.asarray(view_factor * np.asarray(emissivity) * STEFAN_BOLTZMANN * product)


def emissivity_touloukian(surface_temperature: ArrayLike) -> Array:
    """Return the total emissivity of an oxidised strand surface as a function of its temperature.

    Parameters
    ----------
    surface_temperature : array_like
        Strand surface [degC], 600 to 1450.

    Returns
    -------
    ndarray
        Emissivity [1].

    Notes
    -----
    ``e = 0.85 / (1 + exp(42.68 - 0.02682 T))^0.0115``, T in K; fit to Touloukian's tables quoted by Hardin
    et al., Metall. Mater. Trans. B 34B (2003) 297, from memory.

    Examples
    --------
    >>> round(float(emissivity_touloukian(1000.0)), 3)
    0.771
    """
    d = load_data("surface.toml")["emissivity_relation"]["touloukian"]
    t = np.asarray(surface_temperature, dtype=float) + ZERO_CELSIUS
    return np.asarray(d["top"] * np.exp(-d["c"] * np.logaddexp(0.0, d["a"] - d["b"] * t)))


def natural_convection_flux(
    surface_temperature: ArrayLike, ambient_temperature: ArrayLike, coefficient: float | None = None
) -> Array:
    """Return what still air takes from the strand.

    Parameters
    ----------
    surface_temperature, ambient_temperature : array_like
        [degC].
    coefficient : float, optional
        [W m-2 K-1]; default 8.5.

    Returns
    -------
    ndarray
        Flux out of the strand [W m-2].

    Notes
    -----
    A constant serves: Churchill and Chu (1975) give 7.4 to 8.4 for vertical faces of 0.3 to 1 m at 800 to
    1200 °C, horizontal faces somewhat more, and the whole is a twelfth of the radiation.

    Examples
    --------
    >>> round(float(natural_convection_flux(1000.0, 40.0)) / 1e3, 2)
    8.16
    """
    h = load_data("surface.toml")["natural_convection"]["coefficient"] if coefficient is None else coefficient
    return h * (np.asarray(surface_temperature, dtype=float) - np.asarray(ambient_temperature, dtype=float))


def roll_flux_from_share(share: float, other_flux: ArrayLike) -> Array:
    """Return the roll flux that is a given share of the zone's whole heat.

    Parameters
    ----------
    share : float
        Share f of the zone's heat that goes into the rolls [1], 0 <= f < 1; 0.1 to 0.25 on slabs is common practice.
    other_flux : array_like
        Water, radiation and natural convection together [W m-2].

    Returns
    -------
    ndarray
        Roll flux ``f / (1 - f) * other_flux`` [W m-2].

    Raises
    ------
    InputError
        If the share is not in 0 to 1 (1 excluded).

    Examples
    --------
    >>> round(float(roll_flux_from_share(0.1, 90e3)))
    10000
    """
    if not 0.0 <= share < 1.0:
        raise InputError(
            Problem("roll_contact_share", f"{share:g}", "0 or more, below 1", do="0.1 means 10 percent")
        )
    return share / (1.0 - share) * np.asarray(other_flux, dtype=float)


def roll_contact_flux_diener(
    surface_temperature: ArrayLike, speed: float | Array, contact_angle: float
) -> Array:
    """Return the flux under the contact of a roll.

    Parameters
    ----------
    surface_temperature : array_like
        Strand surface [degC].
    speed : float or ndarray
        Casting speed [m s-1].
    contact_angle : float
        Whole angle of contact seen from the roll's axis [deg].

    Returns
    -------
    ndarray
        Flux within the contact [W m-2]; average it over the pitch with `roll_mean_flux`.

    Notes
    -----
    ``q = 11513 Ts^0.76 v^-0.2 angle^-0.16`` W m-2 (Diener, quoted by Hardin et al. 2003; from memory). An
    upper bound for driven, internally cooled rolls.

    Examples
    --------
    >>> round(float(roll_contact_flux_diener(900.0, 0.02, 7.0)) / 1e6, 2)
    3.24
    """
    d = load_data("surface.toml")["roll_contact"]["diener"]
    ts = np.asarray(surface_temperature, dtype=float)
    return np.asarray(d["k"] * ts ** d["m"] * np.float_power(speed, d["n"]) * contact_angle ** d["p"])


def roll_mean_flux(contact_flux: ArrayLike, contact_angle: float, roll_radius: float, pitch: float) -> Array:
    """Return the contact flux of a roll averaged over the roll pitch.

    Parameters
    ----------
    contact_flux : array_like
        Flux within the contact [W m-2].
    contact_angle : float
        Whole angle of contact [deg].
    roll_radius : float
        [m].
    pitch : float
        Distance between rolls along the strand [m].

    Returns
    -------
    ndarray
        Mean flux [W m-2].

    Examples
    --------
    >>> round(float(roll_mean_flux(3.24e6, 7.0, 0.15, 0.30)) / 1e3)
    198
    """
    return np.asarray(contact_flux, dtype=float) * np.radians(contact_angle) * roll_radius / pitch


def roll_coefficient(
    relation: str,
    surface_temperature: ArrayLike,
    ambient_temperature: float | Array,
    speed: float | Array,
    contact_angle: float,
    roll_radius: float,
    pitch: float,
) -> Array:
    """Return the mean coefficient of roll contact over a roll pitch, against the surroundings.

    Parameters
    ----------
    relation : str
        One of `ROLL_CONTACTS`.
    surface_temperature : array_like
        Strand surface [degC]; held at 400, or 200 K above the surroundings, below that.
    ambient_temperature : float
        [degC].
    speed : float or ndarray
        Casting speed [m s-1].
    contact_angle : float
        Whole angle of contact [deg].
    roll_radius, pitch : float
        [m].

    Returns
    -------
    ndarray
        Coefficient on ``surface - ambient`` [W m-2 K-1].

    Examples
    --------
    >>> round(float(roll_coefficient("diener", 900.0, 40.0, 0.02, 7.0, 0.15, 0.30)))
    230
    """
    ts = np.maximum(
        np.asarray(surface_temperature, dtype=float), np.maximum(400.0, ambient_temperature + 200.0)
    )
    contact = ROLL_CONTACTS[relation](ts, speed, contact_angle)
    return roll_mean_flux(contact, contact_angle, roll_radius, pitch) / (ts - ambient_temperature)


def default_roll_share(shape: str) -> float | None:
    """Return the share of a zone's heat that its rolls take where nothing is known of the contact.

    Parameters
    ----------
    shape : str
        Of the section.

    Returns
    -------
    float or None
        [1], common practice; None where the rolls are too few to count.

    Examples
    --------
    >>> default_roll_share("slab"), default_roll_share("round")
    (0.1, None)
    """
    row = load_data("surface.toml")["roll_share"].get(shape)
    return None if row is None else float(row["share"])


def default_view_factor(*, rolls: bool) -> float:
    """Return the share of the surface that sees the surroundings where it is not given.

    Parameters
    ----------
    rolls : bool
        Whether the surface lies between rolls, else in open air.

    Returns
    -------
    float
        [1], common practice.

    Examples
    --------
    >>> default_view_factor(rolls=True), default_view_factor(rolls=False)
    (0.8, 1.0)
    """
    row = load_data("surface.toml")["view_factor"]
    return float(row["between_rolls" if rolls else "open_air"])


def water_stands(inclination: ArrayLike) -> NDArray[np.bool_]:
    """Tell whether spray water stands on the loose side instead of running off.

    Parameters
    ----------
    inclination : array_like
        Angle of the strand against the vertical [deg]: 0 in a vertical mould, 90 on the horizontal.

    Returns
    -------
    ndarray of bool
        True from 45 degrees on; common practice.

    Examples
    --------
    >>> water_stands([10.0, 80.0]).tolist()
    [False, True]
    """
    return np.asarray(inclination, dtype=float) >= load_data("surface.toml")["run_off"]["inclination"]


def heat_shares(product: str) -> dict[str, tuple[float, float]]:
    """Return the usual shares of what takes the heat of a strand.

    Parameters
    ----------
    product : str
        "slab"; for others no shares are known.

    Returns
    -------
    dict of str to (float, float)
        Lowest and highest share [%]: ``"mould"`` of all heat, ``"water"``, ``"radiation"`` and ``"rolls"`` of
        the heat that leaves below the mould. Empty where none are known. Common practice.

    Examples
    --------
    >>> heat_shares("slab")["mould"]
    (10.0, 20.0)
    """
    found = load_data("surface.toml")["heat_share"].get(product, {})
    return {name: tuple(value) for name, value in found.items() if isinstance(value, list)}


EMISSIVITIES = {"touloukian": emissivity_touloukian}
"""Name of a relation -> emissivity over surface temperature."""

ROLL_CONTACTS = {"diener": roll_contact_flux_diener}
"""Name of a relation -> flux under a roll over surface temperature, speed and contact angle."""


def sources_of(*relations: str) -> tuple[str, ...]:
    """Return the bibliography keys of relations of `EMISSIVITIES` and `ROLL_CONTACTS`.

    Examples
    --------
    >>> sources_of("touloukian", "diener")
    ('hardin_2003', 'diener_roll_contact')
    """
    tables = load_data("surface.toml")["emissivity_relation"] | load_data("surface.toml")["roll_contact"]
    return tuple(tables[name]["source"] for name in relations)
