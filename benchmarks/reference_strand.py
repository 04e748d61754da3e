"""The strand that speed and accuracy are measured on, and 24 like it: half of a 250 mm plate, 1800 s, invented.

A freezing range of 50 K, liquid conduction x 5; a mould flux a - b sqrt(t) for 30 s, then spray and radiation in three
pieces; a sample every second. Errors: shell (solid fraction 0.7) until it is 90 % of the half thickness, surface after
the first second.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from solidify.grid import Grid, cylinder, graded_depth, mid_face, plate
from solidify.marching import Face
from solidify.schedule import schedule
from solidify.slices import March, Slice, march_slices
from solidify.steel import Steel, steel_from_composition, steel_from_numbers
from solidify.tables import SteelTable, steel_table

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

    @property
    def faces(self) -> list[Face]:
        """The same for the march."""
        mould = Face(self.ends[0], flux=self.a, flux_times_sqrt_time=-self.b, mechanism="mould")
        return [mould] + [
            Face(e, htc=h, water_temperature=WATER, emissivity=EMISSIVITY, ambient_temperature=AROUND)
            for e, h in zip(self.ends[1:], self.htc, strict=True)
        ]

    @property
    def rows(self) -> np.ndarray:
        """The same for the peers: end [s], a, b, h."""
        htc = (0.0, *self.htc)
        flux = [(self.a, self.b)] + [(0.0, 0.0)] * len(self.htc)
        return np.array([(e, *f, h) for e, f, h in zip(self.ends, flux, htc, strict=True)])


STRAND = Strand()


def like_it(count: int = 24, seed: int = 7) -> list[Strand]:
    """Strands with flux x 0.8-1.2, sprays x 0.4-1.8 and pouring at 1515-1545 degC."""
    rng = np.random.default_rng(seed)
    out = []
    for _ in range(count):
        flux, spray, pouring = rng.uniform(0.8, 1.2), rng.uniform(0.4, 1.8), rng.uniform(1515.0, 1545.0)
        htc = tuple(h * spray for h in STRAND.htc)
        out.append(replace(STRAND, a=flux * STRAND.a, b=flux * STRAND.b, htc=htc, pouring=pouring))
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


SHAPES: dict[str, Callable[[np.ndarray], Grid]] = {
    "plate": plate,
    "mid-face, width 1.25 × thickness": lambda depth: mid_face(depth, 0.8),
    "round": cylinder,
}
STEELS: dict[str, dict[str, float]] = {  # invented compositions, mass percent
    "0.10 %C": {"C": 0.10, "Si": 0.20, "Mn": 0.80, "P": 0.015, "S": 0.012},
    "0.16 %C": {"C": 0.16, "Si": 0.25, "Mn": 1.20, "P": 0.015, "S": 0.010},
    "0.80 %C": {"C": 0.80, "Si": 0.25, "Mn": 0.70, "P": 0.015, "S": 0.015},
}


@cache
def table_of(name: str) -> SteelTable:
    """Table of one of `STEELS`, or of the steel above for another name."""
    s = steel_from_composition(STEELS[name]) if name in STEELS else steel()
    return steel_table(
        s.temperature, s.march_density * s.enthalpy, s.conductivity, s.solid_fraction, kinks=s.kinks
    )


@cache
def _grid(shape: str, nodes: int) -> Grid:
    return SHAPES[shape](graded_depth(HALF, nodes))


def slice_of(
    strand: Strand, nodes: int, tolerance: float = 1.0, *, shape: str = "plate", steel: str = ""
) -> Slice:
    """Make a strand ready for the march; another steel is poured as far above its liquidus as the one above."""
    grid, table = _grid(shape, nodes), table_of(steel)
    superheat = strand.pouring - LIQUIDUS
    initial = np.full(nodes, float(table.potential(liquidus(steel) + superheat)))
    fractions = (0.3, SHELL, 1.0)
    return Slice(
        table, grid, schedule(strand.faces), initial, TIMES, np.zeros(0), fractions, tolerance=tolerance
    )


@cache
def liquidus(name: str) -> float:
    """Liquidus of one of `STEELS`, or of the steel above for another name [degC]."""
    return steel_from_composition(STEELS[name]).liquidus if name in STEELS else LIQUIDUS


@dataclass(frozen=True)
class Answer:
    """What is compared: shell [m] and surface [degC] at `TIMES`."""

    shell: np.ndarray
    surface: np.ndarray

    @classmethod
    def of(cls, m: March) -> Answer:
        """Take it from a march."""
        return cls(m.shell[0, 1], m.surface_temperature[0])

    def errors(self, reference: Answer) -> tuple[float, float]:
        """Largest errors of shell [mm] and surface [K]."""
        grows = reference.shell <= 0.9 * HALF
        return (
            float(np.abs(self.shell - reference.shell)[grows].max() * 1e3),
            float(np.abs(self.surface - reference.surface)[1:].max()),
        )


def fine(
    strands: Sequence[Strand],
    nodes: int = 1200,
    tolerance: float = 1e-3,
    *,
    shape: str = "plate",
    steel: str = "",
) -> list[Answer]:
    """Reference answers by the march itself, far finer."""
    return [
        Answer.of(m)
        for m in march_slices([slice_of(s, nodes, tolerance, shape=shape, steel=steel) for s in strands])
    ]
