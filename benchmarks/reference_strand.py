"""The strand that speed and accuracy are measured on, strands like it, and other kinds of strand; all invented.

Half of a 250 mm plate, 1800 s; a freezing range of 50 K, liquid conduction x 5; a mould flux a - b sqrt(t) for 30 s,
then spray and radiation in three pieces; a sample every second. Errors: shell (solid fraction 0.7) until it is 90 % of
the half thickness, surface after the first second.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from solidify.heat import spray
from solidify.solver.boundary import schedule
from solidify.solver.enthalpy_table import SteelTable, steel_table
from solidify.solver.grid import Grid, cylinder, graded_depth, mid_face, plate, usual_nodes
from solidify.solver.march import Slice, march_slices
from solidify.steel import Steel, steel_from_composition, steel_from_numbers
from solidify.strand.solve import BoundaryCondition

HALF = 0.125  # [m]
END = 1800.0  # [s]
TIMES = np.arange(0.0, END + 0.5)
SHELL = 0.7
WATER, AROUND, EMISSIVITY = 25.0, 40.0, 0.8
LIQUIDUS = 1510.0  # [degC]


@dataclass(frozen=True)
class Strand:
    """One strand: mould flux a - b sqrt(t), ends of the stretches and their coefficients, temperature at the start."""

    a: float = 2.6e6  # [W m-2]
    b: float = 0.27e6  # [W m-2 s-1/2]
    ends: tuple[float, ...] = (30.0, 120.0, 400.0, END)  # [s]; the first is the mould's
    htc: tuple[float, ...] = (550.0, 320.0, 120.0)  # [W m-2 K-1]
    pouring: float = 1535.0  # [degC]
    half: float = HALF  # [m]

    @property
    def times(self) -> np.ndarray:
        """When it is sampled [s]."""
        return np.linspace(0.0, self.ends[-1], len(TIMES))

    @property
    def faces(self) -> list[BoundaryCondition]:
        """The same for the march."""
        mould = BoundaryCondition(self.ends[0], flux=self.a, flux_times_sqrt_time=-self.b, mechanism="mould")
        return [mould] + [
            BoundaryCondition(
                e, htc=h, water_temperature=WATER, emissivity=EMISSIVITY, ambient_temperature=AROUND
            )
            for e, h in zip(self.ends[1:], self.htc, strict=True)
        ]

    @property
    def rows(self) -> np.ndarray:
        """The same for the peers: end [s], a, b, h."""
        htc = (0.0, *self.htc)
        flux = [(self.a, self.b)] + [(0.0, 0.0)] * len(self.htc)
        return np.array([(e, *f, h) for e, f, h in zip(self.ends, flux, htc, strict=True)])

    def cooled(self, flux: float, spray: float) -> Strand:
        """The same with other cooling."""
        htc = tuple(h * spray for h in self.htc)
        return replace(self, a=flux * self.a, b=flux * self.b, htc=htc)

    def thick(self, half: float) -> Strand:
        """The same thicker or thinner, its times below the mould as a freezing front needs them or a little shorter."""
        mould, *below = self.ends
        longer = (half / self.half) ** 1.7
        return replace(self, half=half, ends=(mould, *(mould + longer * (e - mould) for e in below)))


STRAND = Strand()
FAST = Strand(3.2e6, 0.49e6, (13.0, 120.0, 400.0, END), (1500.0, 1000.0, 600.0))  # hard sprays


def like_it(count: int = 24, seed: int = 7) -> list[Strand]:
    """Strands with flux x 0.8-1.2, sprays x 0.4-1.8 and pouring at 1515-1545 degC."""
    rng = np.random.default_rng(seed)
    out = []
    for _ in range(count):
        flux, spray, pouring = rng.uniform(0.8, 1.2), rng.uniform(0.4, 1.8), rng.uniform(1515.0, 1545.0)
        out.append(replace(STRAND.cooled(flux, spray), pouring=pouring))
    return out


def zoned(zones: int) -> Strand:
    """The reference strand with the mould and its sprays in as many zones, each with the mean coefficient there."""
    edges = STRAND.ends[0] + (END - STRAND.ends[0]) * np.linspace(0.0, 1.0, zones) ** 2
    steps = np.diff(STRAND.ends)
    so_far = np.interp(edges, STRAND.ends, np.concatenate([[0.0], np.cumsum(steps * STRAND.htc)]))
    htc = np.diff(so_far) / np.diff(edges)
    return replace(STRAND, ends=tuple(map(float, edges)), htc=tuple(map(float, htc)))


@cache
def steel() -> Steel:
    """The invented steel."""
    return steel_from_numbers(
        liquidus=LIQUIDUS,
        solidus=1460.0,
        latent_heat=272e3,
        density=7400.0,
        specific_heat=[[20.0, 480.0], [700.0, 640.0], [1460.0, 680.0]],
        conductivity=[[20.0, 50.0], [800.0, 26.0], [1460.0, 32.0]],
        liquid_specific_heat=820.0,
        liquid_conductivity=35.0,
    )


@dataclass(frozen=True)
class Kind:
    """What else a strand may be: its section, its steel, another side that is cooled less, boiling in its second spray."""

    grid: Callable[[np.ndarray], Grid] = plate
    steel: tuple[tuple[str, float], ...] = ()  # mass percent
    two_sides: bool = False
    boiling: bool = False


def _composition(**percent: float) -> tuple[tuple[str, float], ...]:
    return tuple(percent.items())


KINDS = {
    "plate": Kind(),
    "two unequal sides": Kind(two_sides=True),
    "a spray on the boiling branch": Kind(boiling=True),
    "mid-face, width 1.25 × thickness": Kind(lambda depth: mid_face(depth, 0.8)),
    "round": Kind(cylinder),
    "0.10 %C": Kind(steel=_composition(C=0.10, Si=0.20, Mn=0.80, P=0.015, S=0.012)),
    "0.16 %C": Kind(steel=_composition(C=0.16, Si=0.25, Mn=1.20, P=0.015, S=0.010)),
    "0.80 %C": Kind(steel=_composition(C=0.80, Si=0.25, Mn=0.70, P=0.015, S=0.015)),
}
PLATE = KINDS["plate"]


def low_carbon(percent: float) -> Kind:
    """Return a plate of a steel that is all but pure, most of which freezes within a few kelvin."""
    return Kind(steel=_composition(C=percent, Si=0.05, Mn=0.30, P=0.010, S=0.005))


LESS = 0.92, 0.6  # mould flux and sprays of the other side
BOILING = "wendelstorf_2008", 6.0  # relation, and water at the spray of `STRAND` [kg m-2 s-1]
SURFACE = np.linspace(0.0, 1600.0, 801)  # [degC]


@cache
def table_of(kind: Kind) -> tuple[SteelTable, float]:
    """Table and liquidus [degC] of a kind."""
    s = steel_from_composition(dict(kind.steel)) if kind.steel else steel()
    table = steel_table(
        s.temperature, s.march_density * s.enthalpy, s.conductivity, s.solid_fraction, kinks=s.kinks
    )
    return table, s.liquidus if kind.steel else LIQUIDUS


def default_nodes(half: float, kind: Kind = PLATE) -> int:
    """Return the nodes a case of this half thickness [m] and kind has unless it says otherwise."""
    s = steel_from_composition(dict(kind.steel)) if kind.steel else steel()
    return usual_nodes(half, s.liquidus - s.temperature_at_solid_fraction(SHELL))


@cache
def _grid(kind: Kind, half: float, nodes: int) -> Grid:
    if kind.two_sides:
        return kind.grid(graded_depth(2.0 * half, 2 * nodes - 1, both_ends=True))
    return kind.grid(graded_depth(half, nodes))


def slice_of(strand: Strand, nodes: int, tolerance: float = 1.0, kind: Kind = PLATE) -> Slice:
    """Make a strand ready for the march; another steel is poured as far above its liquidus as the one above."""
    table, liquidus = table_of(kind)
    grid = _grid(kind, strand.half, nodes)
    outer = strand.faces
    if kind.boiling:
        relation, water = BOILING
        water *= strand.htc[1] / STRAND.htc[1]
        outer[2] = replace(outer[2], htc=(SURFACE, spray.coefficient(relation, water, SURFACE, WATER)))
    inner = strand.cooled(*LESS).faces if kind.two_sides else None
    poured = float(table.potential(liquidus + strand.pouring - LIQUIDUS))
    return Slice(
        table,
        grid,
        schedule(outer, inner),
        np.full(grid.nodes, poured),
        strand.times,
        np.zeros(0),
        (0.3, SHELL, 1.0),
        sides=1 + kind.two_sides,
        tolerance=tolerance,
    )


@dataclass(frozen=True)
class Answer:
    """What is compared: shell [m] and surface [degC] at the times of its strand, of one side or of two.

    `others` are the shells at solid fractions of 0.3 and 1, (side, fraction, time) [m].
    """

    shell: np.ndarray
    surface: np.ndarray
    strand: Strand = STRAND
    others: np.ndarray | None = None

    def errors(self, reference: Answer) -> tuple[float, float]:
        """Largest errors of shell [mm] and surface [K]."""
        grows = reference.shell <= 0.9 * self.strand.half
        late = self.strand.times >= 1.0
        return (
            float(np.where(grows, np.abs(self.shell - reference.shell), 0.0).max() * 1e3),
            float(np.abs(self.surface - reference.surface)[..., late].max()),
        )

    def error_of_others(self, reference: Answer) -> float:
        """Largest error of the shells at solid fractions of 0.3 and 1 [mm], likewise."""
        assert self.others is not None
        assert reference.others is not None
        grows = reference.others <= 0.9 * self.strand.half
        return float(np.where(grows, np.abs(self.others - reference.others), 0.0).max() * 1e3)


def answers(
    strands: Sequence[Strand], nodes: int, tolerance: float = 1.0, kind: Kind = PLATE
) -> list[Answer]:
    """March strands of a kind."""
    marches = march_slices([slice_of(s, nodes, tolerance, kind) for s in strands])
    return [
        Answer(m.shell[:, 1], m.surface_temperature, s, m.shell[:, ::2])
        for m, s in zip(marches, strands, strict=True)
    ]


def worst(found: Sequence[Answer], truth: Sequence[Answer]) -> np.ndarray:
    """Largest errors of many strands: shell [mm] and surface [K]."""
    return np.max([a.errors(t) for a, t in zip(found, truth, strict=True)], axis=0)
