"""Spray water over the clock: what each logic asks for, and what the valve makes of it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from solidify.case import Case
from solidify.case.model import Zone
from solidify.cast.clock import CastClock, Signal, thinned
from solidify.cast.definition import Cast, Valve
from solidify.strand.setup import case_steel, cast_density
from solidify.strand.zones import zone_cooling
from solidify.units import L_PER_MIN, M_PER_MIN, WATER_LITRE_KG

__all__ = ["at_speed", "effective_speed", "through_valve", "zone_water"]

TICK = 5.0
"""Between two readings of a logic that is not straight in time [s]."""

THINNED = 0.002
"""What a thinned row may be off, as a share of the largest value [1]."""

LEAST_ROLL_SPEED = 0.1 * M_PER_MIN
"""Below it the contact of rolls is that of this speed [m s-1]; common practice, no source."""


def at_speed(case: Case, speed: float) -> Case:
    """Return a case at another casting speed, for what its zones make of it; nothing is checked.

    Parameters
    ----------
    case : Case
        A checked case.
    speed : float
        [m s-1].

    Returns
    -------
    Case
        The same at its own speed.
    """
    if speed == case.speed:
        return case
    given = case.casting.model_copy(update={"speed_m_per_min": speed / M_PER_MIN})
    return replace(case, casting=given)


def effective_speed(clock: CastClock, logic: str, time: np.ndarray, middle: float, lag: float) -> np.ndarray:
    r"""Return the speed at which a logic reads the water table of a zone.

    Parameters
    ----------
    clock : CastClock
        Of the cast.
    logic : str
        ``"speed"``, ``"lagged"`` or ``"age"``.
    time : ndarray, shape (n,)
        Clock [s]; for ``"lagged"`` every time at which the speed bends is among them.
    middle : float
        Of the zone, from the meniscus [m].
    lag : float
        Time constant of ``"lagged"`` [s].

    Returns
    -------
    ndarray, shape (n,)
        [m s-1]. While nothing has changed for what is in the zone it is the casting speed to the last bit.

    Notes
    -----
    Lagged, with a delay :math:`\tau`, and by age, for what is in the middle :math:`z` of the zone:

    .. math:: \tau \frac{\mathrm{d}v^*}{\mathrm{d}t} = v - v^*, \qquad v^* = z / \text{age}(z, t)
    """
    speed = np.asarray(clock.speed_at(time))
    if logic == "speed":
        return speed
    if logic == "age":
        born = clock.when(clock.length(time) - middle)
        return np.where(clock.steady(born, time), speed, middle / np.maximum(time - born, 1e-9))
    found = speed.copy()
    for i in range(1, len(time)):
        span = float(time[i] - time[i - 1])
        gain = (speed[i] - speed[i - 1]) / span
        off = found[i - 1] - speed[i - 1]
        if off == 0.0 and gain == 0.0:
            found[i] = speed[i]
            continue
        fade = math.exp(-span / lag)
        left = off * fade - gain * lag * (1.0 - fade)
        found[i] = speed[i] if abs(left) < 1e-6 * max(speed[i], 1e-9) and gain == 0.0 else speed[i] + left
    return found


def through_valve(wanted: Signal, valve: Valve, low: float = 0.0, high: float = math.inf) -> Signal:
    """Return the water that a valve gives.

    Parameters
    ----------
    wanted : Signal
        [kg s-1]; two rows at the same time are a step.
    valve : Valve
        Its dead time and its largest rate.
    low, high : float
        Least and most that it gives [kg s-1].

    Returns
    -------
    Signal
        Exact for the straight pieces of what is wanted.
    """
    value = np.clip(wanted.value, low, high) if math.isfinite(high) or low > 0 else wanted.value
    aim_time = wanted.time + valve.dead
    if math.isinf(valve.rate):
        return Signal(aim_time, value)
    time, given = [float(aim_time[0])], [float(value[0])]
    for a, b, u0, u1 in zip(aim_time[:-1], aim_time[1:], value[:-1], value[1:], strict=True):
        _track(time, given, float(a), float(b), float(u0), float(u1), valve.rate)
    end = time[-1] + abs(float(value[-1]) - given[-1]) / valve.rate
    if end > time[-1]:
        time.append(end)
        given.append(float(value[-1]))
    return Signal(np.array(time), np.array(given))


def _track(
    time: list[float], given: list[float], a: float, b: float, u0: float, u1: float, rate: float
) -> None:
    """Follow one straight piece of what is wanted with a largest rate."""
    if b <= a:
        return
    slope, now = (u1 - u0) / (b - a), a
    while now < b:
        aim = u0 + slope * (now - a)
        off = aim - given[-1]
        pace = slope if abs(off) <= 1e-12 * max(abs(aim), 1.0) else math.copysign(math.inf, off)
        pace = min(max(pace, -rate), rate)
        closing = pace - slope
        until = b
        if off != 0.0 and closing * off > 0:
            until = min(b, now + off / closing)
        given.append(aim + slope * (until - now) if until < b else given[-1] + pace * (until - now))
        time.append(until)
        if until >= b - 1e-12:
            return
        now = until


def _zone_bounds(case: Case, zone: Zone) -> tuple[float, float]:
    return case.zone_bounds[[each.name for each in case.zone].index(zone.name)]


def water_at(case: Case, zone: Zone, speed: float) -> float:
    """Return all water of a zone at a casting speed [kg s-1]; NaN where it has none."""
    steel = case_steel(case)
    rate = cast_density(case, steel) * case.section_area * speed
    if zone.heat_flux_kW_per_m2 is not None or zone.heat_transfer_W_per_m2K is not None:
        return math.nan
    made = zone_cooling(at_speed(case, speed), zone, *_zone_bounds(case, zone), rate)
    return float(made.stretch.water)


def zone_water(cast: Cast, zone: Zone) -> Signal | None:
    """Return the water of a zone over the clock.

    Parameters
    ----------
    cast : Cast
        A cast.
    zone : Zone
        One of its case.

    Returns
    -------
    Signal or None
        All water on one strand [kg s-1]; None where the zone has no water that is known.
    """
    case, water = cast.case, cast.water
    if math.isnan(water_at(case, zone, case.speed)):
        return None
    depends = bool(zone.tables()) or zone.water_L_per_kg is not None
    if zone.name in water.rows:
        wanted = water.rows[zone.name]
    elif not depends or water.logic == "constant":
        aim = case.speed if math.isnan(water.at_speed) else water.at_speed
        return Signal.level(water_at(case, zone, aim if depends else case.speed))
    else:
        wanted = _by_logic(cast, zone)
    valve = water.valves.get(zone.name)
    if valve is None:
        return wanted
    litre = L_PER_MIN * 1e3 * WATER_LITRE_KG
    low, high = zone.water_min_L_per_min, zone.water_max_L_per_min
    return through_valve(wanted, valve, (low or 0.0) * litre, math.inf if high is None else high * litre)


def _by_logic(cast: Cast, zone: Zone) -> Signal:
    """Return the water that the table of a zone gives at the speed of a logic."""
    case, clock, logic = cast.case, cast.clock, cast.water.logic
    middle = 0.5 * sum(_zone_bounds(case, zone))
    bends = np.array(clock.bends())
    if not len(bends):
        return Signal.level(water_at(case, zone, float(clock.speed[0])))
    lag = cast.water.lag_share * middle / case.speed
    if logic == "speed":
        time = np.unique(np.concatenate([clock.time, *_crossings(clock, zone)]))
    else:
        reach = (
            12.0 * lag
            if logic == "lagged"
            else float(clock.when(clock.length(bends[-1]) + middle) - bends[-1])
        )
        grid = np.arange(bends[0] - TICK, bends[-1] + reach + 2 * TICK, TICK)
        time = np.unique(np.concatenate([grid, clock.time]))
    speed = effective_speed(clock, logic, time, middle, lag)
    known: dict[float, float] = {}
    value = np.array([known.setdefault(v, water_at(case, zone, v)) for v in speed.tolist()])
    return thinned(time, value, (1e-9 if logic == "speed" else THINNED) * float(value.max()))


def _crossings(clock: CastClock, zone: Zone) -> list[np.ndarray]:
    """Return when the speed passes a row of the water table of a zone [s]."""
    rows = [row[0] * M_PER_MIN for table in zone.tables().values() for row in table]
    found = []
    for t0, t1, v0, v1 in zip(
        clock.time[:-1], clock.time[1:], clock.speed[:-1], clock.speed[1:], strict=True
    ):
        inside = [v for v in rows if min(v0, v1) < v < max(v0, v1)]
        found.append(np.array([t0 + (v - v0) / (v1 - v0) * (t1 - t0) for v in inside]))
    return found
