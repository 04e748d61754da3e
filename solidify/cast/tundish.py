"""The tundish as a stirred tank with a plug-flow share: temperature and share of the new steel over the clock."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

__all__ = ["SPECIFIC_HEAT", "Ladle", "Tundish", "TundishCourse", "tank_step"]

SPECIFIC_HEAT = 820.0
"""Of liquid steel [J kg-1 K-1]; common practice, no source."""


@dataclass(frozen=True)
class Ladle:
    """A ladle that is opened.

    Parameters
    ----------
    opened : float
        Clock [s].
    temperature : float
        Of the steel that enters the tundish when it is opened [degC].
    cooling : float
        By which that falls [K s-1].
    shut : float
        How long no steel came before [s].
    new_tundish : bool
        Whether it fills another tundish, which begins with its steel.
    """

    opened: float
    temperature: float
    cooling: float = 0.0
    shut: float = 0.0
    new_tundish: bool = False


@dataclass(frozen=True)
class TundishCourse:
    """What a tundish does over the clock.

    Parameters
    ----------
    time : ndarray, shape (n,)
        [s].
    weight : ndarray, shape (n,)
        Steel in it [kg].
    temperature : ndarray, shape (n,)
        Of what leaves it [degC].
    new_share : ndarray, shape (n,)
        Share of the steel of the ladle opened last in what leaves it [1].
    inflow, outflow : ndarray, shape (n,)
        [kg s-1].
    """

    time: np.ndarray
    weight: np.ndarray
    temperature: np.ndarray
    new_share: np.ndarray
    inflow: np.ndarray
    outflow: np.ndarray


def tank_step(
    value: float, weight: float, inflow: float, outflow: float, entering: float, sink: float, span: float
) -> tuple[float, float]:
    r"""Return what a stirred tank holds after some time of even flows; exact.

    Parameters
    ----------
    value : float
        Temperature or share in it.
    weight : float
        [kg].
    inflow, outflow : float
        [kg s-1].
    entering : float
        Temperature or share of what comes in.
    sink : float
        What is lost, as mass flow times the value, e.g. a heat loss over the specific heat [K kg s-1].
    span : float
        [s].

    Returns
    -------
    value, weight : float
        At the end.

    Notes
    -----
    .. math:: M \frac{\mathrm{d}T}{\mathrm{d}t} = \dot m_i (T_i - T) - s, \quad
              \frac{\mathrm{d}M}{\mathrm{d}t} = \dot m_i - \dot m_o
    """
    rate = inflow - outflow
    after = weight + rate * span
    # integral of dt / M
    grown = np.log(after / weight) / rate if abs(rate) * span > 1e-9 * weight else span / weight
    if inflow <= 0.0:
        return float(value - sink * grown), after
    aim = entering - sink / inflow
    return float(aim - (aim - value) * np.exp(-inflow * grown)), after


@dataclass(frozen=True)
class Tundish:
    """A tundish.

    Parameters
    ----------
    weight : float
        Steel in it when full [kg].
    temperature : float
        At the beginning [degC].
    least_weight : float
        Least that may remain in it [kg].
    refill : float
        Most that a ladle gives [kg s-1].
    loss : float
        Heat loss [W].
    strands : int
        How many it feeds, all alike.
    plug_share, dead_share : float
        Shares of its steel that are passed like a plug, and that take no part [1].
    ladles : tuple of Ladle
        In the order of the clock; the first is open at the beginning.
    """

    weight: float
    temperature: float
    least_weight: float = 0.0
    refill: float = np.inf
    loss: float = 0.0
    strands: int = 1
    plug_share: float = 0.0
    dead_share: float = 0.0
    ladles: tuple[Ladle, ...] = ()

    def times(self) -> Sequence[float]:
        """Return when a ladle is shut and when the next is opened [s]."""
        return [t for ladle in self.ladles for t in (ladle.opened - ladle.shut, ladle.opened)]

    def course(self, time: np.ndarray, outflow: np.ndarray) -> TundishCourse:
        """Follow the tundish over the clock.

        Parameters
        ----------
        time : ndarray, shape (n,)
            Clock [s], rising; flows are taken as even between two of them.
        outflow : ndarray, shape (n,)
            Steel that all strands take [kg s-1].

        Returns
        -------
        TundishCourse

        Notes
        -----
        Mass and temperature are exact for the flows of each step. What was stirred leaves by a plug of constant mass:
        what leaves now was stirred when that mass less had left.
        """
        n = len(time)
        weight, pool, share, inflow = (np.zeros(n) for _ in range(4))
        live = 1.0 - self.plug_share - self.dead_share
        weight[0], pool[0] = self.weight, self.temperature
        share[0] = float(bool(self.ladles) and self.ladles[0].opened < time[0])
        for i in range(n - 1):
            now, span = time[i], time[i + 1] - time[i]
            out = 0.5 * (outflow[i] + outflow[i + 1])
            ladle = next((each for each in reversed(self.ladles) if each.opened <= now + 1e-9), None)
            following = next((each for each in self.ladles if each.opened > now + 1e-9), None)
            if ladle is not None and abs(ladle.opened - now) < 1e-9 and ladle is not self.ladles[0]:
                share[i] = 0.0
                if ladle.new_tundish:
                    pool[i], share[i], weight[i] = ladle.temperature, 1.0, self.weight
            shut = following is not None and now >= following.opened - following.shut - 1e-9
            entering = self.temperature
            if ladle is not None:
                entering = ladle.temperature - ladle.cooling * (now + 0.5 * span - ladle.opened)
            wanted = out + (self.weight - weight[i]) / span
            come = 0.0 if shut or ladle is None else min(max(wanted, 0.0), max(self.refill, out))
            inflow[i] = come
            stirred = max(weight[i] - (1.0 - live) * self.weight, 1e-3 * self.weight)
            sink = self.loss / SPECIFIC_HEAT
            pool[i + 1], left = tank_step(pool[i], stirred, come, out, entering, sink, span)
            share[i + 1], _ = tank_step(share[i], stirred, come, out, 1.0, 0.0, span)
            weight[i + 1] = weight[i] + (come - out) * span
            if left <= 0.0:
                weight[i + 1] = weight[i]
        inflow[-1] = inflow[-2] if n > 1 else 0.0
        gone = np.append(0.0, np.cumsum(0.5 * (outflow[1:] + outflow[:-1]) * np.diff(time)))
        before = gone - self.plug_share * self.weight
        then = np.interp(before, gone, time)
        leaving = np.where(before < 0, pool[0], np.interp(then, time, pool))
        new = np.where(before < 0, 0.0, np.interp(then, time, share))
        return TundishCourse(time, weight, leaving, new, inflow, outflow)
