"""Spray cooling: published relations by name, nozzles, and water per zone."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from solidify.errors import InputError, Notice, Problem, closest
from solidify.sources import load_data

__all__ = [
    "DEFAULT_RELATION",
    "FOOT_ROLL_WATER",
    "Nozzle",
    "SprayHeat",
    "SprayRelation",
    "coefficient",
    "edge_text",
    "heat_transfer",
    "range_notices",
    "relation",
    "relation_names",
    "surface_notices",
    "water_flux_from_specific_water",
    "wetted_share",
]

DEFAULT_RELATION = "nozaki_1978"
"""Relation used when none is named."""

FADE = 0.1
"""Share of the lower end of the water range below which an additive constant fades to zero [1]."""

FOOT_ROLL_WATER = 5.0
"""Water density of foot rolls from which the edge of film boiling is spoken of [kg m-2 s-1]."""

Array = NDArray[np.float64]


class SprayHeat(NamedTuple):
    """What `heat_transfer` returns: the coefficient, and what should be kept about its use.

    Parameters
    ----------
    coefficient : ndarray
        On ``surface - water`` [W m-2 K-1].
    notices : tuple of Notice
        As `range_notices`; empty when everything lies inside the range of the relation.
    """

    coefficient: NDArray[np.float64]
    notices: tuple[Notice, ...]


@dataclass(frozen=True)
class SprayRelation:
    """A published relation for the coefficient of a water or air-mist spray.

    Parameters
    ----------
    name, label : str
        Its name in case files and a line for people.
    form : str
        Which formula the coefficients belong to.
    medium : str
        "water" or "air mist".
    coefficients : mapping of str to float
        In the units of ``data/spray.toml``.
    water_flux_range : (float, float)
        Water density for which it was made [kg m-2 s-1].
    surface_range : (float, float)
        Strand surface temperature for which it was made [degC]. The lower end is the lower edge of film
        boiling unless `covers_leidenfrost`.
    expects : str
        "zone mean" (water over the strand area) or "footprint" (water under the spray).
    covers_leidenfrost : bool
        True when the fit goes down through transition boiling.
    blend_below : float
        Water density under which an additive constant fades to zero, a tenth of the lower end of the range
        [kg m-2 s-1]; 0 when there is none.
    refused_below : float
        Water density under which the relation is not evaluated, but for no water at all [kg m-2 s-1]; 0 for most.
    practice_edge : bool
        True when the lower end of `surface_range` is practice, not from the source of the relation.
    drop_velocity_range : (float, float) or None
        Velocities of the drops for which it was made [m s-1]; None when it does not ask for one.
    source, place, evidence : str
        Key of the bibliography, place there, how well it is known.
    """

    name: str
    label: str
    form: str
    medium: str
    coefficients: Mapping[str, float] = field(repr=False)
    water_flux_range: tuple[float, float]
    surface_range: tuple[float, float]
    expects: str
    covers_leidenfrost: bool
    blend_below: float
    refused_below: float
    practice_edge: bool
    drop_velocity_range: tuple[float, float] | None
    source: str
    place: str
    evidence: str

    @property
    def depends_on_surface_temperature(self) -> bool:
        """False when one number per zone is enough."""
        return self.form in _NEEDS_SURFACE

    def outside_water_flux(self, water_flux: ArrayLike) -> NDArray[np.bool_]:
        """Return where the water density lies outside the range of the relation; dry places are inside.

        Parameters
        ----------
        water_flux : array_like
            Water density of the kind the relation expects [kg m-2 s-1].

        Returns
        -------
        ndarray of bool
        """
        w = np.asarray(water_flux, dtype=float)
        return (w > 0.0) & ((w < self.water_flux_range[0]) | (w > self.water_flux_range[1]))

    def refused(self, water_flux: ArrayLike) -> NDArray[np.bool_]:
        """Return where the water density is too small for the relation to be evaluated; dry places are not.

        Parameters
        ----------
        water_flux : array_like
            Water density of the kind the relation expects [kg m-2 s-1].

        Returns
        -------
        ndarray of bool
        """
        w = np.asarray(water_flux, dtype=float)
        return (w > 0.0) & (w < self.refused_below * (1.0 - 1e-9))

    def refusal(self, water_flux: ArrayLike, where: str) -> Problem:
        """Return what is wrong where `refused` says so.

        Parameters
        ----------
        water_flux : array_like
            Water density of the kind the relation expects [kg m-2 s-1].
        where : str
            The key or argument.

        Returns
        -------
        Problem
        """
        w = np.asarray(water_flux, dtype=float)
        least = float(w[self.refused(w)].min())
        kind = "under the spray" if self.expects == "footprint" else "as the mean of the zone"
        return Problem(
            where,
            f"{least:.3g} L/(m² s) {kind}",
            f"0, or {self.refused_below:g} L/(m² s) and more for {self.name} ({self.medium} in transition boiling)",
            do="give more water, the wetted share, or a relation for less water, air_mist_linear for one",
        )

    def outside_surface(self, surface_temperature: ArrayLike) -> NDArray[np.bool_]:
        """Return where the surface temperature lies outside the range of the relation.

        Parameters
        ----------
        surface_temperature : array_like
            Strand surface [degC].

        Returns
        -------
        ndarray of bool
        """
        t = np.asarray(surface_temperature, dtype=float)
        return (t < self.surface_range[0]) | (t > self.surface_range[1])


def _fade(w: Array, below: float) -> Array:
    """Return the share of an additive constant: 0 without water, 1 from `below` on, smooth between."""
    if below <= 0.0:
        return np.ones_like(w)
    x = np.minimum(w / below, 1.0)
    return x * x * (3.0 - 2.0 * x)


def _power(c: Mapping[str, float], w: Array, ts: Array, tw: Array, fade: Array) -> Array:
    return c["k"] * np.float_power(w, c["n"]) * (1.0 - c["w"] * tw)


def _surface_power(c: Mapping[str, float], w: Array, ts: Array, tw: Array, fade: Array) -> Array:
    return c["k"] * np.float_power(w, c["n"]) * ts ** c["m"] + c["c"] * fade


def _linear(c: Mapping[str, float], w: Array, ts: Array, tw: Array, fade: Array) -> Array:
    return c["k"] * w + c["c"] * fade


def _drop_velocity(c: Mapping[str, float], w: Array, ts: Array, tw: Array, fade: Array) -> Array:
    u = c["drop_velocity"]
    return c["a"] * u * fade + (c["b"] + c["c"] * u) * w


def _wendelstorf(c: Mapping[str, float], w: Array, ts: Array, tw: Array, fade: Array) -> Array:
    excess = np.clip(ts - tw, c["excess_low"], c["excess_high"])
    # above its range of W the fit turns over: hold it at the end of the range
    w = np.minimum(w, c["water_flux_high"])
    film = c["k"] * w * (1.0 - w * excess / c["z"])
    transition = c["s"] * excess**2 * (1.0 - np.tanh(excess / c["d"]))
    return c["c"] * fade + np.tanh(w / c["w0"]) * (film + transition)


def _hodgson(c: Mapping[str, float], w: Array, ts: Array, tw: Array, fade: Array) -> Array:
    base = 700.0 + (ts - 700.0) / (np.exp(0.1 * ts - 70.0) + 1.0)
    return (
        c["k"] * np.float_power(w, c["n"]) * base ** c["m"] * (1.0 - 1.0 / (np.exp(0.025 * ts - 6.25) + 1.0))
    )


def _mist_flux(c: Mapping[str, float], w: Array, ts: Array, tw: Array, fade: Array) -> Array:
    q = (
        c["k"]
        * np.float_power(w, c["n"])
        * c["drop_velocity"] ** c["p"]
        * ts ** c["m"]
        * (c["drop_diameter"] * 1e6) ** c["r"]
    )
    return q / (ts - tw)


# numpy rounds powers of an array otherwise than those of a number; float_power rounds both alike, and a strand comes
# out the same whether its water stands alone or in an array of many
_FORMS: dict[str, Callable[[Mapping[str, float], Array, Array, Array, Array], Array]] = {
    "power": _power,
    "surface power": _surface_power,
    "linear": _linear,
    "drop velocity": _drop_velocity,
    "wendelstorf": _wendelstorf,
    "hodgson": _hodgson,
    "mist flux": _mist_flux,
}
_WITH_CONSTANT = ("surface power", "linear", "drop velocity", "wendelstorf")
_NEEDS_SURFACE = ("surface power", "wendelstorf", "hodgson", "mist flux")


@cache
def _relations() -> dict[str, SprayRelation]:
    found = {}
    for name, d in load_data("spray.toml").items():
        coefficients = {k: float(v) for k, v in d.items() if isinstance(v, float) and k != "refused_below"}
        if "excess_K" in d:
            coefficients["excess_low"], coefficients["excess_high"] = d["excess_K"]
            coefficients["water_flux_high"] = d["water_flux"][1]
        found[name] = SprayRelation(
            name=name,
            label=d["label"],
            form=d["form"],
            medium=d["medium"],
            coefficients=coefficients,
            water_flux_range=tuple(d["water_flux"]),
            surface_range=tuple(d["surface_degC"]),
            expects=d["density"],
            covers_leidenfrost=d["covers_leidenfrost"],
            blend_below=FADE * d["water_flux"][0] if d["form"] in _WITH_CONSTANT else 0.0,
            refused_below=d.get("refused_below", 0.0),
            practice_edge=d.get("surface_edge", "") == "practice",
            drop_velocity_range=tuple(d["drop_velocity_range"]) if "drop_velocity_range" in d else None,
            source=d["source"],
            place=d["place"],
            evidence=d["evidence"],
        )
    return found


def relation_names() -> tuple[str, ...]:
    """Return the names of all spray relations, sorted."""
    return tuple(sorted(_relations()))


def relation(name: str) -> SprayRelation:
    """Return a spray relation by name.

    Parameters
    ----------
    name : str
        One of `relation_names`.

    Returns
    -------
    SprayRelation

    Raises
    ------
    InputError
        If there is no relation of that name; the nearest name is given.

    Examples
    --------
    >>> relation("nozaki_1978").expects
    'zone mean'
    """
    table = _relations()
    if name not in table:
        raise InputError(
            Problem("spray_relation", repr(name), ", ".join(sorted(table)), closest(name, table))
        )
    return table[name]


def heat_transfer(
    spray: str | SprayRelation,
    water_flux: ArrayLike,
    surface_temperature: ArrayLike,
    water_temperature: ArrayLike = 25.0,
    *,
    wetted_share: float | None = None,
    drop_velocity: float | None = None,
    drop_diameter: float | None = None,
) -> SprayHeat:
    """Return the zone-mean heat-transfer coefficient of a spray, and what should be kept about its use.

    Parameters
    ----------
    spray : str or SprayRelation
        Relation or its name.
    water_flux : array_like
        Zone-mean water density [kg m-2 s-1] (= L m-2 s-1; divide L m-2 min-1 by 60).
    surface_temperature : array_like
        Strand surface [degC].
    water_temperature : array_like
        Spray water [degC].
    wetted_share : float, optional
        Share of the zone's area under a spray [1]. Used only by relations that expect the footprint density:
        the sprays then work with ``water_flux / wetted_share`` on that share. Without one the water is taken as it is.
    drop_velocity : float, optional
        For the relations that ask for it [m s-1].
    drop_diameter : float, optional
        For the relations that ask for it [m].

    Returns
    -------
    SprayHeat
        Coefficient on ``surface - water`` [W m-2 K-1], of the broadcast shape, zero without water; and the notices.

    Raises
    ------
    InputError
        Unknown name, a negative water density or one that the relation refuses, or a share outside 0 to 1.

    Notes
    -----
    Outside its range of surface temperature a relation keeps its value at the edge. An additive constant of a relation
    fades smoothly to zero below a tenth of the lower end of its range of water: no water, no spray heat.

    Examples
    --------
    >>> h, notices = heat_transfer("nozaki_1978", 5.0, 1000.0, 25.0)
    >>> round(float(h)), notices
    (773, ())
    >>> h, (notice,) = heat_transfer("nozaki_1978", 12.0, 1000.0)
    >>> print(notice)
    water density 12 L/m2s is outside the 0.2 to 8 of nozaki_1978; extrapolated
    """
    r = relation(spray) if isinstance(spray, str) else spray
    share = 1.0 if wetted_share is None else wetted_share
    given = (water_flux, surface_temperature, water_temperature)
    h = coefficient(r, *given, wetted_share=share, drop_velocity=drop_velocity, drop_diameter=drop_diameter)
    said = range_notices(
        r, water_flux, surface_temperature, wetted_share=wetted_share, drop_velocity=drop_velocity
    )
    return SprayHeat(h, said)


def coefficient(
    spray: str | SprayRelation,
    water_flux: ArrayLike,
    surface_temperature: ArrayLike,
    water_temperature: ArrayLike = 25.0,
    *,
    wetted_share: float = 1.0,
    drop_velocity: float | None = None,
    drop_diameter: float | None = None,
) -> Array:
    """Return the coefficient of `heat_transfer` alone, for those who ask `range_notices` themselves.

    Parameters
    ----------
    spray, water_flux, surface_temperature, water_temperature, wetted_share, drop_velocity, drop_diameter
        As for `heat_transfer`; a share of 1 takes the water as it is.

    Returns
    -------
    ndarray
        Coefficient on ``surface - water`` [W m-2 K-1], of the broadcast shape. Zero without water.

    Raises
    ------
    InputError
        As `heat_transfer`.

    Examples
    --------
    >>> round(float(coefficient("nozaki_1978", 5.0, 1000.0, 25.0)))
    773
    """
    r = relation(spray) if isinstance(spray, str) else spray
    w, ts, tw = (np.asarray(x, dtype=float) for x in (water_flux, surface_temperature, water_temperature))
    problems = []
    if not (w >= 0.0).all():
        problems.append(Problem("water density", f"{float(np.min(w)):g} kg/m2s", "0 or more"))
    if not 0.0 < wetted_share <= 1.0:
        problems.append(Problem("wetted share", f"{wetted_share:g}", "above 0, up to 1"))
    if problems:
        raise InputError(problems)
    c = dict(r.coefficients)
    if drop_velocity is not None and "drop_velocity" in c:
        c["drop_velocity"] = drop_velocity
    if drop_diameter is not None and "drop_diameter" in c:
        c["drop_diameter"] = drop_diameter
    share = wetted_share if r.expects == "footprint" else 1.0
    w = w / share
    if r.refused(w).any():
        raise InputError(r.refusal(w, "water density"))
    low, high = r.surface_range
    h = _FORMS[r.form](c, w, np.minimum(np.maximum(ts, low), high), tw, _fade(w, r.blend_below))
    return np.array(np.broadcast_to(share * h, np.broadcast_shapes(w.shape, ts.shape, tw.shape)))


def edge_text(spray: str | SprayRelation) -> str:
    """Return what is to be known of the lower edge of film boiling where much water meets the strand.

    Parameters
    ----------
    spray : str or SprayRelation
        Relation or its name.

    Returns
    -------
    str
        Empty for a relation that goes down through transition boiling, or whose edge is from its own source.

    References
    ----------
    hnizdil_2020 (abstract read).
    """
    r = relation(spray) if isinstance(spray, str) else spray
    if r.covers_leidenfrost or not r.practice_edge:
        return ""
    return (
        f"that {r.name} holds down to {r.surface_range[0]:g} °C is practice, not physics: published Leidenfrost "
        "temperatures of sprays run from 150 to over 1000 °C (Metals 10 (2020) 1551), and below it heat transfer is "
        "several times higher"
    )


def range_notices(
    spray: str | SprayRelation,
    water_flux: ArrayLike,
    surface_temperature: ArrayLike | None = None,
    *,
    wetted_share: float | None = None,
    drop_velocity: float | None = None,
    where: str = "",
) -> tuple[Notice, ...]:
    """Return what should be kept in a result about the use of a relation outside its range.

    Parameters
    ----------
    spray : str or SprayRelation
        Relation or its name.
    water_flux : array_like
        Zone-mean water density [kg m-2 s-1].
    surface_temperature : array_like, optional
        Strand surface where the spray acts [degC].
    wetted_share : float, optional
        Share of the zone's area under a spray [1]; None when not known.
    drop_velocity : float, optional
        Velocity of the drops [m s-1]; None when not known.
    where : str
        Printed with the notice, e.g. ``zone "spray 2"``.

    Returns
    -------
    tuple of Notice
        Empty when everything lies inside.
    """
    r = relation(spray) if isinstance(spray, str) else spray
    w: list[float] = np.atleast_1d(np.asarray(water_flux, dtype=float)).ravel().tolist()
    wet = any(each > 0.0 for each in w)
    notices = list(_drop_notices(r, drop_velocity, where)) if wet else []
    if r.expects == "footprint":
        if wetted_share is None and wet:
            notices.append(
                Notice(
                    f"{r.name} was made for the water under a spray; with a zone mean and no wetted share "
                    "the mean coefficient comes out too high",
                    where,
                )
            )
        w = [each / (wetted_share or 1.0) for each in w]
    elif wetted_share not in (None, 1.0) and wet:
        notices.append(Notice(f"the wetted share has no effect: {r.name} takes the zone mean", where))
    low, high = r.water_flux_range
    out = [each for each in w if each > 0.0 and not low <= each <= high]
    if out:
        worst = max(out) if max(out) > high else min(out)
        notices.append(
            Notice(
                f"water density {worst:.3g} L/m2s is outside the {low:g} to {high:g} of {r.name}; "
                "extrapolated",
                where,
                len(out),
            )
        )
    if surface_temperature is not None and wet:
        notices += surface_notices(r, surface_temperature, where=where)
    return tuple(notices)


def _drop_notices(r: SprayRelation, drop_velocity: float | None, where: str) -> tuple[Notice, ...]:
    """Say what became of the drop velocity: not asked for, not given, or outside the range."""
    if r.drop_velocity_range is None:
        given = drop_velocity is not None
        return (Notice(f"the drop velocity has no effect: {r.name} has none", where),) if given else ()
    if drop_velocity is None:
        taken = r.coefficients["drop_velocity"]
        return (Notice(f"drop velocity not given: {taken:g} m/s taken for {r.name}", where),)
    low, high = r.drop_velocity_range
    if low <= drop_velocity <= high:
        return ()
    text = f"drop velocity {drop_velocity:g} m/s is outside the {low:g} to {high:g} of {r.name}; extrapolated"
    return (Notice(text, where),)


def surface_notices(
    spray: str | SprayRelation, surface_temperature: ArrayLike, *, where: str = ""
) -> tuple[Notice, ...]:
    """Return what should be kept about surface temperatures outside the range of a relation, after a march.

    Parameters
    ----------
    spray : str or SprayRelation
        Relation or its name.
    surface_temperature : array_like
        Strand surface where the spray acts [degC].
    where : str
        Printed with the notice.

    Returns
    -------
    tuple of Notice
        At most one for below and one for above, each with how many of the temperatures it concerns.
    """
    r = relation(spray) if isinstance(spray, str) else spray
    ts = np.asarray(surface_temperature, dtype=float)
    low, high = r.surface_range
    found = []
    below, above = int(np.count_nonzero(ts < low)), int(np.count_nonzero(ts > high))
    if below:
        edge = "the range" if r.covers_leidenfrost else "the film-boiling range"
        found.append(
            Notice(
                f"surface down to {float(np.min(ts)):.0f} °C is below {edge} of {r.name} ({low:g} °C); the "
                "coefficient is held at its value there, the real one may be several times higher",
                where,
                below,
            )
        )
    if above and r.depends_on_surface_temperature:
        found.append(
            Notice(
                f"surface up to {float(np.max(ts)):.0f} °C is above the range of {r.name} ({high:g} °C); the "
                "coefficient is held at its value there",
                where,
                above,
            )
        )
    return tuple(found)


@dataclass(frozen=True)
class Nozzle:
    """A spray nozzle as its data sheet gives it.

    Parameters
    ----------
    flow : float
        Flow at the reference pressure [m3 s-1].
    pressure : float
        Reference pressure, gauge [Pa].
    width_angle : float
        Spray angle across the strand [deg].
    length_angle : float
        Spray angle along the casting direction [deg].
    exponent : float
        Of pressure in the flow; 0.5 for an orifice.
    """

    flow: float
    pressure: float
    width_angle: float
    length_angle: float
    exponent: float = 0.5

    def flow_at(self, pressure: ArrayLike) -> Array:
        """Return the flow at a pressure.

        Parameters
        ----------
        pressure : array_like
            Gauge pressure [Pa].

        Returns
        -------
        ndarray
            Flow [m3 s-1].

        Examples
        --------
        >>> nozzle = Nozzle(flow=1e-4, pressure=1e5, width_angle=90.0, length_angle=20.0)
        >>> round(float(nozzle.flow_at(4e5)), 6)
        0.0002
        """
        return self.flow * np.float_power(np.asarray(pressure, dtype=float) / self.pressure, self.exponent)

    def pressure_for(self, flow: ArrayLike) -> Array:
        """Return the pressure that gives a flow.

        Parameters
        ----------
        flow : array_like
            Flow of one nozzle [m3 s-1].

        Returns
        -------
        ndarray
            Gauge pressure [Pa].
        """
        return self.pressure * (np.asarray(flow, dtype=float) / self.flow) ** (1.0 / self.exponent)

    def wetted_width(self, stand_off: float) -> float:
        """Return the width wetted across the strand [m] at a stand-off [m]."""
        return 2.0 * stand_off * float(np.tan(np.radians(0.5 * self.width_angle)))

    def wetted_length(self, stand_off: float) -> float:
        """Return the length wetted along the casting direction [m] at a stand-off [m]."""
        return 2.0 * stand_off * float(np.tan(np.radians(0.5 * self.length_angle)))


def wetted_share(
    nozzle: Nozzle, stand_off: float, row_pitch: float, face_width: float, nozzles_across: int = 1
) -> float:
    """Return the share of a face under the spray: the duty of a row times the covered width.

    Parameters
    ----------
    nozzle : Nozzle
        One of the row.
    stand_off : float
        Distance from nozzle to strand [m].
    row_pitch : float
        Distance between nozzle rows along the strand [m].
    face_width : float
        Width of the face [m].
    nozzles_across : int
        Nozzles side by side in a row.

    Returns
    -------
    float
        Share [1], at most 1.

    Examples
    --------
    >>> n = Nozzle(flow=1e-4, pressure=1e5, width_angle=90.0, length_angle=30.0)
    >>> round(wetted_share(n, stand_off=0.15, row_pitch=0.30, face_width=0.30), 3)
    0.268
    """
    duty = min(nozzle.wetted_length(stand_off) / row_pitch, 1.0)
    return duty * min(nozzles_across * nozzle.wetted_width(stand_off) / face_width, 1.0)


def water_flux_from_specific_water(
    specific_water: float, throughput: float, area: float, share: float = 1.0
) -> float:
    """Return the zone-mean water density of a zone that gets a share of the specific water.

    Parameters
    ----------
    specific_water : float
        Water per mass of steel [kg kg-1] (= L/kg).
    throughput : float
        Steel cast by one strand [kg s-1].
    area : float
        Sprayed strand area of the zone, all faces [m2].
    share : float
        The zone's share of the water [1].

    Returns
    -------
    float
        Water density [kg m-2 s-1].

    Examples
    --------
    >>> round(water_flux_from_specific_water(1.2, 5.836, 0.208, 0.27), 1)
    9.1
    """
    return share * specific_water * throughput / area
