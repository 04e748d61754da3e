"""What a heat plan is made of: ladles, tundishes, strands, the sequence and the cuts, checked and in SI."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from solidify.case import Case
from solidify.case.lines import key_lines
from solidify.plan.cut_plan import Cut
from solidify.plan.ladle import Ladle
from solidify.plan.nozzle import Nozzle
from solidify.plan.tundish import Tundish
from solidify.strand.setup import case_steel

__all__ = ["Assumed", "Band", "Plan", "PlannedStrand"]


@dataclass(frozen=True)
class Assumed:
    """A number that the plan file did not give.

    Parameters
    ----------
    label : str
        In words.
    value, sd : float
        What was taken, and one standard deviation of it, in `unit`; `sd` 0 where it is a choice.
    unit : str
        Plant unit.
    origin : str
        Where it comes from, in words.
    settings : tuple of (tuple, float, float)
        Key path of the file, value and standard deviation in the unit of the key, for each place it was taken at.
    """

    label: str
    value: float
    sd: float
    unit: str
    origin: str
    settings: tuple[tuple[tuple[str | int, ...], float, float], ...] = ()


@dataclass(frozen=True)
class Band:
    """Least, aim and most of a quantity."""

    least: float
    aim: float
    most: float


@dataclass(frozen=True)
class PlannedStrand:
    """A strand of the plan.

    Parameters
    ----------
    name : str
        Of the file.
    case : Case
        Section, steel, mould and machine.
    tundish : int
        Place of its tundish.
    speed : Band
        Of casting [m/s].
    keep_speed : bool
        Whether its speed stays at the aim when the others change to finish in time.
    nozzle : Nozzle or None
        None where the plan asks for no bore.
    cut : Cut or None
        None where the plan asks for no pieces.
    """

    name: str
    case: Case
    tundish: int
    speed: Band
    keep_speed: bool = False
    nozzle: Nozzle | None = None
    cut: Cut | None = None

    @property
    def mass_per_metre(self) -> float:
        """Density used for the strand times its hot section [kg/m]."""
        return case_steel(self.case).march_density * self.case.section_area

    @property
    def bound(self) -> bool:
        """Whether something else than the plan sets its speed: its own wish, or the bore of a metering nozzle."""
        given = self.nozzle is not None and self.nozzle.sets_speed and not math.isnan(self.nozzle.bore)
        return self.keep_speed or given


@dataclass(frozen=True)
class Plan:
    """A heat plan as given, made by `solidify.read_plan`.

    Parameters
    ----------
    title, name : str
        Of the plan, and of its file.
    ladles : tuple of Ladle
        In the order of casting.
    gate_most : float
        Most flow of the ladle gate, all tundishes together [kg/s].
    tundishes : tuple of Tundish
        One or two.
    strands : tuple of PlannedStrand
        One to eight.
    shut : float
        Least time from the end of a ladle to the opening of the next [s].
    finish : float
        Wanted casting time of the mean ladle [s]; NaN where the aim speeds give it.
    superheat : Band
        In the tundish [K].
    liquid_density, liquid_heat : float
        Of the steel in ladle and tundish [kg/m3], [J/(kg K)].
    scale : float
        Share of the mass that scales [1].
    assumed : tuple of Assumed
        What the file did not give.
    notices : tuple of str
        What a reader of the plan should know of the inputs.
    text : str
        The file as given.
    data : mapping
        Its tables.
    """

    title: str
    name: str
    ladles: tuple[Ladle, ...]
    gate_most: float
    tundishes: tuple[Tundish, ...]
    strands: tuple[PlannedStrand, ...]
    shut: float
    finish: float
    superheat: Band
    liquid_density: float
    liquid_heat: float
    scale: float
    assumed: tuple[Assumed, ...] = ()
    notices: tuple[str, ...] = ()
    text: str = field(default="", repr=False)
    data: Mapping[str, Any] = field(default_factory=dict, repr=False)

    __hash__ = None  # type: ignore[assignment]

    @property
    def liquidus(self) -> float:
        """Highest liquidus of the strands [degC]; one ladle is one steel."""
        return max(case_steel(strand.case).liquidus for strand in self.strands)

    @property
    def poured(self) -> float:
        """Steel that leaves the mean ladle [kg]."""
        return sum(ladle.poured for ladle in self.ladles) / len(self.ladles)

    def line(self, *path: str | int) -> str:
        """Return the file and the line of a key, for messages; without the line where the key is not given."""
        at = key_lines(self.text).get(path) if self.text else None
        return f"{self.name}:" if at is None else f"{self.name}:{at}:"

    def of_tundish(self, place: int) -> list[int]:
        """Return the places of the strands that a tundish feeds."""
        return [i for i, strand in enumerate(self.strands) if strand.tundish == place]
