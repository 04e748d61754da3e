"""How long the strand may stand: the longest stand for each water practice, what binds, and where that slice stood."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from solidify.cast.clock import CastClock, Signal
from solidify.cast.definition import Cast, Event, StandQuestion, Water
from solidify.cast.pieces import CORE, cast_limits, straightener_coldest
from solidify.cast.result import CastResult
from solidify.cast.run import run_cast
from solidify.cast.water import zone_water
from solidify.errors import InputError, Problem
from solidify.units import MINUTE

__all__ = ["StandCurve", "longest_stand", "stood_cast"]

SCAN = 60.0
"""Between two stands that are looked at first [s]."""

WITHIN = 6.0
"""How near the longest stand is found [s]."""

COLD = "coldest surface at the straightener"


@dataclass(frozen=True)
class StandCurve:
    """Stands by one water practice.

    Parameters
    ----------
    practice : str
        What the water does while the strand stands.
    stand : ndarray, shape (n,)
        Stands that were looked at, rising [s].
    lost : ndarray, shape (n,)
        Strand that does not meet a hard limit after each [m].
    longest : float
        Longest stand after which every hard limit is met [s]; that of the question where none binds.
    binds : tuple of str
        Labels of the hard limits that are not met after the next longer stand.
    stood_at : float
        Where the worst slice of the first of them stood [m]; NaN where none binds.
    """

    practice: str
    stand: np.ndarray
    lost: np.ndarray
    longest: float
    binds: tuple[str, ...]
    stood_at: float


def stood_cast(cast: Cast, stand: float, practice: int) -> Cast:
    """Return a cast whose strand stands once for some seconds.

    Parameters
    ----------
    cast : Cast
        With a question ``[stand]``; its own events are left out.
    stand : float
        [s].
    practice : int
        Which of the water practices.

    Returns
    -------
    Cast
    """
    ask = _question(cast)
    stop, v = ask.at + ask.brake, cast.case.speed
    begin, settled = stop + stand, stop + stand + ask.start
    clock = CastClock(
        np.array([ask.at - MINUTE, ask.at, stop, begin, settled]), np.array([v, v, 0.0, 0.0, v])
    )
    made = replace(
        cast,
        clock=clock,
        begin=ask.at,
        end=settled + MINUTE,
        dummy_bar=None,
        feed_ends=math.inf,
        tundish=None,
        tundish_temperature=None,
        events=(Event("stop", ask.at, settled),),
        joins=(stop,),
        water=replace(cast.water, rows={}),
        pieces=None,
    )
    water: Mapping[str, float] = ask.water[practice][1]
    rows = {}
    for zone in cast.case.zone:
        if zone.name in water and (usual := zone_water(made, zone)) is not None:
            rows[zone.name] = _during(usual, water[zone.name], stop + ask.after[practice], begin)
    return replace(made, water=Water(made.water.logic, made.water.at_speed, made.water.lag_share, rows))


def _question(cast: Cast) -> StandQuestion:
    if cast.stand is None:
        raise InputError(Problem(cast.name, "has no [stand]", do="add the table [stand] to the cast file"))
    return cast.stand


def _during(usual: Signal, water: float, begin: float, end: float) -> Signal:
    """Return the usual water with another one between two clock times [s], each reached within a second."""
    if end - begin < 2.0:
        return usual
    before, after = usual.time < begin, usual.time > end + 1.0
    marks = np.array([begin, begin + 1.0, end, end + 1.0])
    time = [usual.time[before], marks, usual.time[after]]
    inner = [float(usual.at(begin)), water, water, float(usual.at(end + 1.0))]
    return Signal(np.concatenate(time), np.concatenate([usual.value[before], inner, usual.value[after]]))


def _not_met(result: CastResult, silent: set[str]) -> tuple[float, dict[str, int]]:
    """Return the metres that do not meet a hard limit, and each such limit with its worst slice (-1: no slice)."""
    label = result.births.label
    widths = np.gradient(label) if len(label) > 1 else np.ones(1)
    bad = np.zeros(len(label), dtype=bool)
    found: dict[str, int] = {}
    for row in result.limits.values():
        if row.finding.label in silent or row.finding.hardness != "hard":
            continue
        own = result.hard_breached[:, row.row]
        if own.any():
            bad |= own
            margins = np.where(own, result.columns["margin"][:, row.row], np.inf)
            found[row.finding.label] = int(margins.argmin())
    cold, _ = straightener_coldest(result)
    own = np.nan_to_num(cold, nan=np.inf) < result.cast.cold_strand
    if own.any() and COLD not in silent:
        bad |= own
        found[COLD] = int(np.where(own, cold, np.inf).argmin())
    for limit in cast_limits(result):
        if limit.name == CORE and limit.verdict == "not met" and limit.label not in silent:
            found[limit.label] = -1
    return float(widths[bad].sum()), found


def longest_stand(cast: Cast, within: float = WITHIN) -> tuple[list[StandCurve], tuple[str, ...]]:
    """Find the longest stand for each water practice.

    Every slice that is in the machine when the strand is braked, and those born until a minute after it has its speed
    again, is marched through stop and restart. Stands are looked at minute by minute until a hard limit is not met, and
    halved from there.

    Parameters
    ----------
    cast : Cast
        With a question ``[stand]``.
    within : float
        How near [s].

    Returns
    -------
    list of StandCurve
        One for each practice.
    tuple of str
        Labels of hard limits that steady casting does not meet either; they are left out.

    Raises
    ------
    InputError
        If the cast has no question.
    """
    ask = _question(cast)
    v = cast.case.speed
    still = replace(
        stood_cast(cast, 1.0, 0),
        clock=CastClock(np.array([ask.at, ask.at + 1.0]), np.array([v, v])),
        end=ask.at + 1.0,
        water=Water(),
        slice_every=cast.case.cutoff,
    )
    silent = set(_not_met(run_cast(still), set())[1])
    curves = []
    for practice, (name, _) in enumerate(ask.water):
        known: dict[float, tuple[float, dict[str, int], float]] = {}

        def look(
            stand: float,
            practice: int = practice,
            known: dict[float, tuple[float, dict[str, int], float]] = known,
        ) -> bool:
            result = run_cast(stood_cast(cast, stand, practice))
            lost, bad = _not_met(result, silent)
            worst = next(iter(bad.values()), -1)
            at = float(result.columns["stood_place"][worst, 0]) if worst >= 0 else math.nan
            known[stand] = lost, bad, at
            return not bad

        low, high = 0.0, math.inf
        for stand in np.arange(SCAN, ask.longest + 0.5, SCAN).tolist():
            if not look(stand):
                high = stand
                break
            low = stand
        while math.isfinite(high) and high - low > within:
            middle = 0.5 * (low + high)
            low, high = (middle, high) if look(middle) else (low, middle)
        stands = np.array(sorted(known))
        lost = np.array([known[s][0] for s in stands.tolist()])
        _, bad, at = known[high] if math.isfinite(high) else (0.0, {}, math.nan)
        curves.append(StandCurve(name, stands, lost, low, tuple(bad), at))
    return curves, tuple(sorted(silent))
