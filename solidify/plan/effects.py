"""What one standard deviation of each number that was not given does to the plan."""

from __future__ import annotations

from dataclasses import dataclass

from solidify.errors import SolidifyError
from solidify.plan.heat_plan import HeatPlan, heat_plan
from solidify.plan.plan import Assumed
from solidify.plan.plan_file import shifted_plan

__all__ = ["PlanEffect", "plan_effects"]


@dataclass(frozen=True)
class PlanEffect:
    """What an assumed number does.

    Parameters
    ----------
    assumed : Assumed
        The number.
    ladle : float
        Change of the casting time of a ladle for one standard deviation more [s].
    end : float
        Change of the end of the sequence [s].
    least, most : float
        Change of the least and most ladle temperature in mid-sequence [K].
    bore : float
        Largest change of a wanted bore [m].
    good : float
        Change of the yield [%].
    reason : str
        Why the plan does not exist with the moved number; else empty.
    """

    assumed: Assumed
    ladle: float = 0.0
    end: float = 0.0
    least: float = 0.0
    most: float = 0.0
    bore: float = 0.0
    good: float = 0.0
    reason: str = ""


def plan_effects(found: HeatPlan) -> tuple[PlanEffect, ...]:
    """Plan again with each number that was not given moved by one standard deviation.

    Parameters
    ----------
    found : HeatPlan
        From `solidify.heat_plan`.

    Returns
    -------
    tuple of PlanEffect
        In the order of `Plan.assumed`; choices without a standard deviation are left out.
    """
    effects = []
    for assumed in found.plan.assumed:
        if not assumed.sd:
            continue
        try:
            moved = heat_plan(shifted_plan(found.plan, assumed))
        except SolidifyError as error:
            effects.append(PlanEffect(assumed, reason=str(error).splitlines()[0]))
            continue
        bores = [
            b.nozzle.bore - a.nozzle.bore
            for a, b in zip(found.strands, moved.strands, strict=True)
            if a.nozzle is not None and b.nozzle is not None
        ]
        effects.append(
            PlanEffect(
                assumed,
                moved.ladle_time - found.ladle_time,
                moved.end - found.end,
                moved.window.least - found.window.least,
                moved.window.most - found.window.most,
                max(bores, key=abs, default=0.0),
                moved.yields.percent - found.yields.percent,
            )
        )
    return tuple(effects)
