"""Speeds a few percent apart with which the strands end on whole pieces: an offer, never taken by itself."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from solidify.plan.heat_plan import HeatPlan, StrandPlan
from solidify.plan.plan import PlannedStrand

__all__ = ["WITHIN", "WholePieces", "whole_pieces"]

WITHIN = 0.03
"""Speeds are moved by this share at most [1]."""

_MOVED = 1.0
"""What moving a strand by all its speed costs [kg]: of equal offers the one that moves least wins."""


@dataclass(frozen=True)
class WholePieces:
    """Speeds with which less steel makes no piece.

    Parameters
    ----------
    speeds : tuple of float
        Of the strands, in their order [m/s].
    pieces : tuple of int
        Of each strand; those that are not moved as planned.
    rest, rest_before : float
        Steel that makes no piece, all strands together, with these speeds and as planned [kg].
    """

    speeds: tuple[float, ...]
    pieces: tuple[int, ...]
    rest: float
    rest_before: float

    @property
    def saved(self) -> float:
        """Steel that becomes pieces besides [kg]."""
        return self.rest_before - self.rest


def _movable(s: StrandPlan, given: PlannedStrand) -> bool:
    """Whether a strand may be moved: cut to one length, without joins, and with an error of its metres that is small.

    Metres that are known no better than half a piece are not worth moving.
    """
    cut = s.strand.cut
    if cut is None or cut.least != cut.most or s.joins or given.bound:
        return False
    error = s.strand.case.uncertainty.speed_percent / 100.0 * s.metres
    return error < 0.5 * cut.span(cut.most)


def whole_pieces(found: HeatPlan) -> WholePieces | None:
    """Share the steel of the sequence out over the strands so that most of it becomes whole pieces.

    Parameters
    ----------
    found : HeatPlan
        From `solidify.heat_plan`.

    Returns
    -------
    WholePieces or None
        None where nothing is gained, or fewer than two strands can be moved.

    Notes
    -----
    A small integer programme: most mass in pieces, no more steel than the moved strands have, each within 3 % of its
    planned speed and within its range. All end when they would; the other strands stay as they are.
    """
    place = [i for i, s in enumerate(found.strands) if _movable(s, found.plan.strands[i])]
    if len(place) < 2:
        return None
    strands = [found.strands[i] for i in place]
    mass = np.array([s.strand.mass_per_metre for s in strands])
    metres = np.array([s.metres for s in strands])
    speed = np.array([s.speed for s in strands])
    cuts = [s.strand.cut for s in strands if s.strand.cut is not None]
    span = np.array([cut.span(cut.most) for cut in cuts])
    crops = np.array([cut.head + cut.tail for cut in cuts])
    slowest = np.maximum(1 - WITHIN, [s.strand.speed.least / s.speed for s in strands])
    fastest = np.minimum(1 + WITHIN, [s.strand.speed.most / s.speed for s in strands])
    planned = np.array([s.count for s in strands])
    size, none = len(place), np.zeros((len(place), len(place)))
    one, weights = np.eye(size), np.diag(1 / metres)
    # unknowns: pieces, metres over the planned ones, and how far those lie from 1
    done = milp(
        np.concatenate([-mass * span, np.zeros(size), np.full(size, _MOVED)]),
        constraints=[
            LinearConstraint(np.hstack([weights * -span, one, none]), lb=crops / metres),
            LinearConstraint(
                np.concatenate([np.zeros(size), mass * metres, np.zeros(size)])[None], *[mass @ metres] * 2
            ),
            LinearConstraint(np.hstack([none, -one, one]), lb=-np.ones(size)),
            LinearConstraint(np.hstack([none, one, one]), lb=np.ones(size)),
        ],
        bounds=Bounds(
            np.concatenate([np.zeros(size), slowest, np.zeros(size)]),
            np.concatenate([np.full(size, np.inf), fastest, np.ones(size)]),
        ),
        integrality=np.concatenate([np.ones(size), np.zeros(2 * size)]),
    )
    if done.x is None:
        return None
    count, ratio = np.round(done.x[:size]), done.x[size : 2 * size]
    steel = float(mass @ (metres - crops))
    before = steel - float((mass * span) @ planned)
    rest = steel - float((mass * span) @ count)
    if before - rest < 1.0:
        return None
    speeds = [s.speed for s in found.strands]
    pieces = [s.count for s in found.strands]
    for i, v, n in zip(place, speed * ratio, count, strict=True):
        speeds[i], pieces[i] = float(v), int(n)
    return WholePieces(tuple(speeds), tuple(pieces), rest, before)
