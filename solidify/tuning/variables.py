"""Which waters of a case may change, and how the water of every zone and side follows from them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import linprog

from solidify.case import Case
from solidify.case.model import COOLING_KINDS
from solidify.errors import InputError, Problem
from solidify.tuning.target import Target, Valve

__all__ = ["Layout", "Part", "Rule", "case_at", "key_of", "lay_out"]

Part = tuple[str, str]
"""A zone and its side; the side is empty for all water of the zone."""

_ROUNDING = 0.05
"""What rounding to tenths may move a water by [L/min]."""


@dataclass(frozen=True)
class Rule:
    """A bound that several free waters share: ``weights @ free <= most``.

    Parameters
    ----------
    what : str
        In words.
    kind : str
        ``"valve"``, ``"loop"`` or ``"share"``.
    weights : ndarray, shape (free,)
        [1].
    most : float
        [L/min].
    """

    what: str
    kind: str
    weights: np.ndarray
    most: float


@dataclass(frozen=True)
class Layout:
    """Which waters may change: ``water = base + spread @ free`` at each speed.

    Parameters
    ----------
    zones : tuple of str
        In casting order.
    parts : tuple of (zone, side)
        Every water, sides by themselves where they are told apart.
    free : tuple of int
        Part of each free water, or the first part that it gives a share to.
    spread : ndarray, shape (speed, part, free)
        1 for the part itself, the ratio or share where it follows.
    base : ndarray, shape (speed, part)
        Water of the others [L/min]; NaN where a zone has no water and is left alone.
    low, high : ndarray, shape (free,)
        [L/min].
    rules : tuple of Rule
        What several of them share.
    capacity : float
        Most water of all zones that may change [L/min].
    """

    zones: tuple[str, ...]
    parts: tuple[Part, ...]
    free: tuple[int, ...]
    spread: np.ndarray
    base: np.ndarray
    low: np.ndarray
    high: np.ndarray
    rules: tuple[Rule, ...]
    capacity: float

    def water(self, speed: int, free: np.ndarray) -> np.ndarray:
        """Return the water of every part [L/min]."""
        return np.asarray(self.base[speed] + self.spread[speed] @ free)

    def zone(self, j: int) -> int:
        """Return the place of the zone of a free water."""
        return self.zones.index(self.parts[self.free[j]][0])

    def name(self, j: int) -> str:
        """Name a free water: its zone, and its side where that is free by itself."""
        zone, side = self.parts[self.free[j]]
        return zone if self.alone(j) else f"{zone} {side}"

    def alone(self, j: int) -> bool:
        """Whether a free water is all that may change of its zone, so that its bounds are those of the valve."""
        return [self.zone(k) for k in range(len(self.free))].count(self.zone(j)) == 1

    def of_zone(self, zone: int) -> list[int]:
        """Return the parts of a zone."""
        return [p for p, (name, _) in enumerate(self.parts) if name == self.zones[zone]]

    def totals(self, water: np.ndarray) -> np.ndarray:
        """Return the water of every zone from that of its parts [L/min]."""
        return np.array([sum(water[p] for p in self.of_zone(i)) for i in range(len(self.zones))])

    def movable(self, zone: int) -> list[int]:
        """Return the free waters that a zone follows."""
        return [int(j) for j in np.flatnonzero(np.any(self.spread[:, self.of_zone(zone)], axis=(0, 1)))]

    @property
    def weights(self) -> np.ndarray:
        """Rules of all free waters, shape (rule, free)."""
        return np.array([rule.weights for rule in self.rules]).reshape(len(self.rules), len(self.free))

    @property
    def most(self) -> np.ndarray:
        """Bound of each rule [L/min]."""
        return np.array([rule.most for rule in self.rules])

    def nearest(self, wanted: np.ndarray) -> np.ndarray:
        """Return the waters nearest to some that keep every valve, share and loop [L/min].

        Raises
        ------
        InputError
            If none do.
        """
        wanted = np.clip(wanted, self.low, self.high)
        if not self.rules or np.all(self.weights @ wanted <= self.most):
            return wanted
        n, scale = len(wanted), 1.0 / np.maximum(self.high, 1e-9)
        one = np.eye(n)
        matrix = np.block(
            [[self.weights, np.zeros((len(self.rules), n))], [one, -one], [-one, -one]],
        )
        right = np.concatenate([self.most, wanted, -wanted])
        bounds = [*zip(self.low, self.high, strict=True), *[(0.0, None)] * n]
        found = linprog(np.concatenate([np.zeros(n), scale]), matrix, right, bounds=bounds, method="highs")
        if found.x is None:
            said = "; ".join(rule.what for rule in self.rules if rule.kind != "share")
            raise InputError(
                Problem(
                    "target: valves, side shares and loops",
                    "no water keeps all of them",
                    do=f"widen one of: {said}" if said else "widen the side shares",
                )
            )
        return np.clip(found.x[:n], self.low, self.high)


def lay_out(target: Target, today: np.ndarray, sides: Sequence[Sequence[dict[str, float]]]) -> Layout:
    """Lay out the waters of a target.

    Parameters
    ----------
    target : Target
        With one valve a zone.
    today : ndarray, shape (speed, zone)
        [L/min].
    sides : sequence of sequence of dict of str to float
        Water of each side at each speed and zone, empty where they are not told apart [L/min].

    Returns
    -------
    Layout

    Raises
    ------
    InputError
        If no water keeps every valve, share and loop.
    """
    valves, names = target.valves, tuple(v.zone for v in target.valves)
    parts = tuple(
        (v.zone, side)
        for i, v in enumerate(valves)
        for side in (tuple(s for s, *_ in v.shares) or tuple(sides[0][i]) or ("",))
    )
    homes = [[p for p, (zone, _) in enumerate(parts) if zone == name] for name in names]
    shares = [_shares_now(v, homes[i], parts, [row[i] for row in sides]) for i, v in enumerate(valves)]
    base = np.hstack([today[:, i : i + 1] * shares[i] for i in range(len(valves))])
    waters: list[_Free] = []
    owned: list[list[int]] = [[] for _ in valves]
    for i, v in enumerate(valves):
        if not v.fixed and not v.tied_to:
            base[:, homes[i]] = 0.0
            found = _of_valve(v, homes[i], shares[i], base.shape)
            owned[i] = [len(waters) + k for k in range(len(found))]
            waters += found
    spread = np.stack([water.column for water in waters], axis=-1)
    low, high = (np.array([getattr(water, end) for water in waters]) for end in ("low", "high"))
    for i, v in enumerate(valves):
        if v.fixed or not v.tied_to:
            continue
        leader = names.index(v.tied_to)
        followed = owned[leader]
        base[:, homes[i]] = 0.0 if followed else v.ratio * today[:, leader : leader + 1] * shares[i]
        for j in followed:
            spread[:, homes[i], j] = v.ratio * shares[i]
        if len(followed) == 1:
            j = followed[0]
            low[j], high[j] = max(low[j], v.low / v.ratio), min(high[j], v.high / v.ratio)
    rules = (*_valve_rules(valves, names, owned, len(waters)), *_loop_rules(target, parts, spread, base))
    capacity = math.fsum(v.high for i, v in enumerate(valves) if owned[i])
    free = tuple(water.part for water in waters)
    layout = Layout(names, parts, free, spread, base, low, high, rules, capacity)
    layout.nearest(low)
    return layout


@dataclass(frozen=True)
class _Free:
    """A free water: its part, what of each part follows it at each speed, and its bounds [L/min]."""

    part: int
    column: np.ndarray
    low: float
    high: float


def _of_valve(valve: Valve, home: Sequence[int], shares: np.ndarray, shape: tuple[int, int]) -> list[_Free]:
    """Return the free waters of a valve: one with given shares, or one for each side with a range of them."""
    if not any(low < high for _, low, high in valve.shares):
        column = np.zeros(shape)
        column[:, home] = shares
        return [_Free(home[0], column, valve.low, valve.high)]
    found = []
    for part, (_, low, high) in zip(home, valve.shares, strict=True):
        column = np.zeros(shape)
        column[:, part] = 1.0
        found.append(_Free(part, column, low * valve.low, high * valve.high))
    return found


def _shares_now(
    valve: Valve, home: Sequence[int], parts: Sequence[Part], now: Sequence[dict[str, float]]
) -> np.ndarray:
    """Return the share of each part of a zone at each speed: as the target says, else as today, else alike."""
    if valve.shares:
        rows = np.array([[0.5 * (low + high) for _, low, high in valve.shares]] * len(now))
    else:
        rows = np.array([[row.get(parts[p][1], 1.0) for p in home] for row in now])
    whole = rows.sum(axis=1, keepdims=True)
    return np.where(whole > 0, rows / np.where(whole > 0, whole, 1.0), 1.0 / len(home))


def _valve_rules(
    valves: Sequence[Valve], names: Sequence[str], owned: Sequence[Sequence[int]], n: int
) -> list[Rule]:
    """Return what holds for the total of a zone whose sides are free by themselves, and for zones tied to it."""
    rules = []
    for i, v in enumerate(valves):
        leader = i if not v.tied_to or v.fixed else names.index(v.tied_to)
        own = owned[leader]
        if len(own) < 2:
            continue
        ratio = 1.0 if leader == i else v.ratio
        total = np.zeros(n)
        total[list(own)] = ratio
        slack = _ROUNDING * len(own) if v.high - v.low > 1.0 else 0.0
        rules.append(Rule(f"most of the valve, {v.zone} ({v.high:g} L/min)", "valve", total, v.high - slack))
        rules.append(
            Rule(
                f"least of the valve, {v.zone} ({v.low:g} L/min)",
                "valve",
                -total,
                -v.low - slack * (v.low > 0),
            )
        )
        if leader != i:
            continue
        for (side, low, high), j in zip(v.shares, own, strict=True):
            for word, sign, share in (("largest", 1.0, high), ("smallest", -1.0, low)):
                weights = -sign * share * total
                weights[j] += sign
                rules.append(Rule(f"{word} share of {v.zone} {side} ({share:g})", "share", weights, 0.0))
    return rules


def _loop_rules(target: Target, parts: Sequence[Part], spread: np.ndarray, base: np.ndarray) -> list[Rule]:
    """Return what the loops of a target can give; of shares that follow the speed the hardest one counts."""
    rules = []
    for loop in target.loops:
        fed = [
            p
            for p, (zone, side) in enumerate(parts)
            if (zone, "") in loop.feeds or (zone, side) in loop.feeds
        ]
        weights, fixed = spread[:, fed].sum(axis=1), np.nan_to_num(base[:, fed]).sum(axis=1)
        slack = _ROUNDING * len(fed)
        if np.isfinite(loop.high):
            words = f"most of the loop {loop.name} ({loop.high:g} L/min)"
            rules.append(Rule(words, "loop", weights.max(axis=0), loop.high - slack - float(fixed.max())))
        if loop.low > 0:
            words = f"least of the loop {loop.name} ({loop.low:g} L/min)"
            rules.append(Rule(words, "loop", -weights.min(axis=0), -loop.low - slack + float(fixed.min())))
    return rules


def key_of(zone: str) -> str:
    """Return the path of a zone in a case.

    Parameters
    ----------
    zone : str
        Its name.

    Returns
    -------
    str
        As `Case.replace` takes it.
    """
    quoted = zone.replace("\\", "\\\\").replace('"', '\\"')
    return f'zone."{quoted}"'


def case_at(case: Case, speed: float, parts: Sequence[Part], water: np.ndarray) -> Case:
    """Return the case at a speed with other waters.

    Parameters
    ----------
    case : Case
        A checked case.
    speed : float
        [m/min].
    parts : sequence of (zone, side)
        The sides of a zone together, or the zone with an empty side.
    water : ndarray, shape (part,)
        [L/min]; with NaN a zone is left alone.

    Returns
    -------
    Case
    """
    zones = {zone.name: zone for zone in case.zone}
    changes: dict[str, object] = {"casting.speed_m_per_min": speed}
    for (name, side), litres in zip(parts, water.tolist(), strict=True):
        if np.isnan(litres):
            continue
        path, zone = key_of(name), zones[name]
        for keys in COOLING_KINDS.values():
            for key in keys:
                if getattr(zone, key) is not None:
                    changes.setdefault(f"{path}.{key}", None)
        if zone.side_shares is not None and side:
            changes[f"{path}.side_shares"] = None
        changes[f"{path}.water_{side}_L_per_min" if side else f"{path}.water_L_per_min"] = litres
        if side:
            narrow = (name, "narrow") in parts
            changes[f"{path}.sprayed_faces"] = "all" if narrow else "wide"
    return case.replace(changes)
