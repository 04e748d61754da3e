"""What is said of spray relations over a whole strand: once a relation, whatever zones and sides it serves."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from solidify.errors import Notice
from solidify.heat.spray import FOOT_ROLL_WATER, SprayRelation, edge_text, range_notices, relation

__all__ = ["Use", "joined", "outside_range", "surface_notice", "use_notices"]

_OUTSIDE = "outside its range: "
"""How the text of a notice begins that says that a relation is used outside its range."""


@dataclass(frozen=True)
class Use:
    """A zone that a relation serves.

    Parameters
    ----------
    zone : str
        Its name.
    water_flux : tuple of float
        Zone mean of each side [kg m-2 s-1].
    wetted_share : float or None
        Share of the sprayed area under a spray [1]; None when not known.
    drop_velocity : float or None
        Of the drops [m s-1]; None when not known.
    foot_rolls : bool
        Whether it is the first below the mould.
    """

    zone: str
    water_flux: tuple[float, ...]
    wetted_share: float | None = None
    drop_velocity: float | None = None
    foot_rolls: bool = False

    def taken_by(self, r: SprayRelation) -> np.ndarray:
        """Return the water density of the kind that a relation expects, (side,) [kg m-2 s-1]."""
        share = self.wetted_share or 1.0 if r.expects == "footprint" else 1.0
        return np.asarray(self.water_flux, dtype=float) / share


def use_notices(name: str, uses: Sequence[Use]) -> tuple[Notice, ...]:
    """Return what should be kept about a relation before the march: each matter once for all the zones.

    Parameters
    ----------
    name : str
        Of the relation.
    uses : sequence of Use
        The zones that it serves; a zone may stand there several times, with other water.

    Returns
    -------
    tuple of Notice
        The one of water outside the range first; empty when there is nothing to say.
    """
    r = relation(name)
    low, high = r.water_flux_range
    worst: dict[str, float] = {}
    matters: dict[str, dict[str, None]] = {}
    for use in uses:
        w = use.taken_by(r)
        off = w[r.outside_water_flux(w)].tolist()
        if off:
            off.append(worst.get(use.zone, off[0]))
            worst[use.zone] = max(off) if max(off) > high else min(off)
        inside = np.clip(w[w > 0.0], low, high) if off else w
        as_mean = inside * (use.wetted_share or 1.0) if r.expects == "footprint" else inside
        share, drops = use.wetted_share, use.drop_velocity
        texts = [n.text for n in range_notices(r, as_mean, wetted_share=share, drop_velocity=drops)]
        if use.foot_rolls and w.max(initial=0.0) > FOOT_ROLL_WATER:
            texts.append(edge_text(r))
        for text in filter(None, texts):
            matters.setdefault(text, {})[use.zone] = None
    found = []
    if worst:
        zones = ", ".join(f"{w:.3g} in {zone}" for zone, w in worst.items())
        text = f"water flux {zones}, made for {low:g} to {high:g} L/(m² s); extrapolated"
        found.append(Notice(_OUTSIDE + text, _where(name)))
    found += [Notice(text, _zones(zones)) for text, zones in matters.items()]
    return tuple(found)


def surface_notice(name: str, surfaces: Mapping[str, np.ndarray]) -> tuple[Notice, ...]:
    """Return what should be kept about surface temperatures outside the range of a relation, after the march.

    Parameters
    ----------
    name : str
        Of the relation.
    surfaces : mapping of str to ndarray
        Zone, with its side where there are two, and the surface temperatures where its sprays act [degC].

    Returns
    -------
    tuple of Notice
        One at most.
    """
    r = relation(name)
    low, high = r.surface_range
    parts = []
    cold = {zone: float(ts.min()) for zone, ts in surfaces.items() if ts.size and ts.min() < low}
    if cold:
        zones = ", ".join(f"{t:.0f} °C in {zone}" for zone, t in cold.items())
        edge = "" if r.covers_leidenfrost else ", the lower edge of film boiling by it"
        parts.append(
            f"surface down to {zones}, made for {low:g} °C and more{edge}; the coefficient is held at its value there, "
            "the real one may be several times higher"
        )
    hot = {zone: float(ts.max()) for zone, ts in surfaces.items() if ts.size and ts.max() > high}
    if hot and r.depends_on_surface_temperature:
        zones = ", ".join(f"{t:.0f} °C in {zone}" for zone, t in hot.items())
        parts.append(
            f"surface up to {zones}, made for {high:g} °C and less; the coefficient is held at its value there"
        )
    return (Notice(_OUTSIDE + "; ".join(parts), _where(name)),) if parts else ()


def joined(notices: Sequence[Notice]) -> tuple[Notice, ...]:
    """Join what is said of one relation outside its range, water and surface, to one notice in the place of the first.

    Parameters
    ----------
    notices : sequence of Notice
        Of one strand.

    Returns
    -------
    tuple of Notice
    """
    found: dict[Notice | str, Notice] = {}
    for notice in notices:
        key = notice.where if _is_outside(notice) else notice
        if key in found and isinstance(key, str):
            text = f"{found[key].text}; {notice.text.removeprefix(_OUTSIDE)}"
            found[key] = Notice(text, key)
        else:
            found[key] = notice
    return tuple(found.values())


def outside_range(notices: Sequence[Notice]) -> tuple[str, ...]:
    """Return the relations that notices of one strand say are used outside their range.

    Parameters
    ----------
    notices : sequence of Notice
        Of one strand.

    Returns
    -------
    tuple of str
        Names, each once.
    """
    return tuple(dict.fromkeys(n.where.removeprefix(_where("")) for n in notices if _is_outside(n)))


def _where(name: str) -> str:
    return f"spray relation {name}"


def _is_outside(notice: Notice) -> bool:
    return notice.where.startswith(_where("")) and notice.text.startswith(_OUTSIDE)


def _zones(names: Mapping[str, None]) -> str:
    quoted = ", ".join(f'"{name}"' for name in names)
    return f"zone{'s' if len(names) > 1 else ''} {quoted}"
