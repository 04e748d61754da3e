"""How well a one-dimensional slice stands for a rectangle: comparison with a plain two-dimensional quarter section.

``python benchmarks/section.py`` writes docs/section-treatment.md and its picture benchmarks/section-treatment.svg (some
minutes on two cores); ``--quick`` prints a small version and writes nothing. The two-dimensional march is that of `solidify section`; a plain
explicit program (quarter_section.py) checks it.
"""

from __future__ import annotations

import argparse
import math
import os
import platform
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import date
from functools import cache
from importlib.metadata import version
from itertools import pairwise
from pathlib import Path
from time import perf_counter

import numpy as np
from quarter_section import NAN, Check, Curves, Law, corner_front, product_errors, quarter, widths

from solidify.section import march_section, section_nodes, section_table, usual_section_nodes
from solidify.solver.enthalpy_table import SteelTable, steel_table
from solidify.solver.grid import Grid, graded_depth, mid_face, plate, section_weight, weighted
from solidify.steel import Steel, steel_from_composition
from solidify.strand.solve import BoundaryCondition, march

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "section-treatment.md"
PICTURE = ROOT / "benchmarks" / "section-treatment.svg"

SHELL = 0.7  # solid fraction of the shell that is compared
FRACTIONS = (0.05, 0.15, 0.25, 0.5, 0.8, 0.95, 1.2, 1.5, 2.0)  # of the two-dimensional solidification time
STRETCHES = (0.0, 0.3, 0.6, 1.0, 1.5, 2.0)  # of that time; the first begins at mould exit
UNTIL = 0.75  # the band of the shell holds until it is this share of the half thickness: later it runs away
THICK = 320  # thickest section of the band that is printed [mm]; thicker ones have one of their own

SECTIONS: tuple[tuple[int, int], ...] = (  # thickness, width [mm]
    (130, 130),
    (160, 160),
    (200, 200),
    (250, 250),
    (320, 320),
    (400, 400),
    (250, 280),
    (250, 330),
    (280, 380),
    (160, 240),
    (220, 440),
    (220, 660),
    (220, 1500),
)
STEELS: dict[str, dict[str, float]] = {  # invented compositions, mass percent
    "0.04 %C": {"C": 0.04, "Si": 0.02, "Mn": 0.25, "P": 0.010, "S": 0.010},
    "0.20 %C": {"C": 0.20, "Si": 0.20, "Mn": 0.80, "P": 0.020, "S": 0.015},
    "0.80 %C": {"C": 0.80, "Si": 0.25, "Mn": 0.70, "P": 0.015, "S": 0.015},
}
COOLING = {"soft": (400.0, 220.0, 130.0), "medium": (700.0, 380.0, 230.0), "hard": (1100.0, 650.0, 400.0)}
ZONE_ENDS = (0.8, 1.1, 2.8, 6.0)  # mould exit and ends of three spray zones [m]
SUPERHEAT = 25.0  # [K]
MOULD_FLUX = 1.8e6  # mean over a dwell of 20 s [W/m2]; longer dwells have less

MOULDS = ("root", "power")  # falling with the root of time; a power of time below a cap
POWER = (7.3e6, 0.5, 2.5e6)  # q = min(top, c (1 - n) t^-n): c [W s^n m-2], n, top [W m-2]

# ----------------------------------------------------------------------------------------------------------------
# one-dimensional treatments


def stream_tube(depth: np.ndarray, ratio: float) -> Grid:
    """A'/A = (alpha/r)(1 - (r/R)^2) inwards, alpha = (a/b)^3, all the time."""
    alpha = ratio**3

    def area(x: np.ndarray) -> np.ndarray:
        r = np.maximum(1.0 - np.asarray(x) / depth[-1], 0.0)
        return np.asarray(r**alpha * np.exp(0.5 * alpha * (1.0 - r * r)))

    return weighted(depth, area)


Treatment = Callable[[np.ndarray, float], Grid]

TREATMENTS: dict[str, Treatment] = {
    "flat": lambda depth, ratio: plate(depth),
    "fixed": stream_tube,
    "turning": mid_face,
}
IN_USE = "turning"
"""What solidify applies to `rectangle`."""


# ----------------------------------------------------------------------------------------------------------------
# what is run


def laws(thickness: float, cooling: str, mould: str = "root") -> list[Law]:
    """Mould flux by one of `MOULDS`, three spray zones, then air; the same on both faces; lengths in m."""
    speed = 2.4 * (0.160 / thickness) ** 2 / 60.0
    ends = [z / speed for z in ZONE_ENDS]
    fall = 0.55  # the flux at the mould exit is 45 % of the first
    a = MOULD_FLUX * (20.0 / ends[0]) ** 0.4 / (1.0 - fall * 2.0 / 3.0)
    rows: list[Law] = [(ends[0], a, fall * a / ends[0] ** 0.5, 0.0, 25.0, 0.0, 25.0, NAN)]
    if mould == "power":
        c, n, top = POWER
        rows = [
            ((c * (1.0 - n) / top) ** (1.0 / n), top, 0.0, 0.0, 25.0, 0.0, 25.0, NAN),
            (ends[0], 0.0, 0.0, 0.0, 25.0, 0.0, 25.0, NAN, c * (1.0 - n)),
        ]
    rows += [(e, 0.0, 0.0, h, 25.0, 0.8, 40.0, NAN) for e, h in zip(ends[1:], COOLING[cooling], strict=True)]
    rows.append((1e9, 0.0, 0.0, 8.0, 40.0, 0.8, 40.0, NAN))
    return rows


def faces(rows: Sequence[Law]) -> list[BoundaryCondition]:
    """Give the same laws to the march."""
    out = []
    for row in rows:
        end, a, b, h, water, emissivity, around, _, d = (*row, 0.0)[:9]
        if a or d:
            falling = {"flux_times_sqrt_time": -b, "flux_decay": d, "flux_range": (0.0, np.inf)}
            out.append(BoundaryCondition(end, flux=a, mechanism="mould", **falling))
        else:
            out.append(
                BoundaryCondition(
                    end, htc=h, water_temperature=water, emissivity=emissivity, ambient_temperature=around
                )
            )
    return out


@cache
def materials(name: str) -> tuple[Steel, Curves, SteelTable]:
    """Build a steel, its curves for the reference and its table for the march."""
    s = steel_from_composition(STEELS[name])
    h = s.march_density * s.enthalpy
    curves = Curves.of(s.temperature, h, s.conductivity, s.solid_fraction)
    return s, curves, steel_table(s.temperature, h, s.conductivity, s.solid_fraction, kinks=s.kinks)


@dataclass(frozen=True)
class Reference:
    """Two dimensions, from mould exit to twice the solidification time, in the middle of the wide face."""

    times: np.ndarray  # [s]
    surface: np.ndarray  # [degC]
    front: np.ndarray  # [m]
    end: float  # of solidification [s]


def reference(
    section: tuple[int, int],
    steel: str,
    cooling: str,
    mould: str = "root",
    *,
    fine: float = 1.0,
    times: np.ndarray | None = None,
) -> Reference:
    """March a section [mm] in two dimensions by the product's own march; `fine` multiplies its nodes each way."""
    properties, _, _ = materials(steel)
    thickness, width = section[0] / 1e3, section[1] / 1e3
    half = 0.5 * thickness
    rows = laws(thickness, cooling, mould)
    exit_age = laws(thickness, cooling)[0][0]
    longest = 120.0 * (half / 0.024) ** 2  # more than twice what any of them needs [s]
    if times is None:
        early, late = np.linspace(0.25, 1.0, 16) * exit_age, np.linspace(exit_age, longest, 500)
        times = np.concatenate([early, late[1:]])
    mushy = properties.liquidus - properties.temperature_at_solid_fraction(SHELL)
    depth, along = section_nodes(half, 0.5 * width, round(fine * usual_section_nodes(half, mushy)))
    two = march_section(
        section_table(properties),
        faces(rows),
        faces(rows),
        depth,
        along,
        initial=properties.liquidus + SUPERHEAT,
        times=times,
        solid_fractions=(SHELL, 1.0),
    )
    end = float(two.centre_solidified[1])
    seen = two.times <= 2.0 * end
    front = np.where(two.times < two.centre_solidified[0], two.wide_shell[0, 0], half)
    return Reference(two.times[seen], two.wide[0][seen], front[seen], end)


@dataclass(frozen=True)
class Comparison:
    """One section, steel, cooling and mould: the reference and every treatment against it (one less two dimensions)."""

    section: tuple[int, int]  # thickness, width [mm]
    steel: str
    cooling: str
    mould: str
    end: float  # of solidification in the reference [s]
    reference: np.ndarray  # (fraction, 2): shell [mm], surface [degC]
    ends: dict[str, float]  # error of the end of solidification [%]
    errors: dict[str, np.ndarray]  # (fraction, 2): shell [mm], surface [K]
    bands: dict[
        str, tuple[float, float, float, float]
    ]  # lowest and highest: shell [% of half thickness], surface [K]
    stretches: dict[str, np.ndarray]  # (stretch, 2): lowest and highest error of the surface [K]
    holds: dict[
        str, float
    ]  # shell / half thickness until which the shell is within 2 % of the latter, surface 15 K

    @property
    def ratio(self) -> float:
        """Width over thickness."""
        return self.section[1] / self.section[0]


def compare(
    section: tuple[int, int],
    steel: str,
    cooling: str,
    mould: str = "root",
    *,
    fine: float = 1.0,
    treatments: dict[str, Treatment] = TREATMENTS,
) -> Comparison:
    """Run the reference and every treatment for a section [mm]; `fine` divides the reference's cells."""
    properties, _, table = materials(steel)
    thickness, width = section[0] / 1e3, section[1] / 1e3
    half = 0.5 * thickness
    rows = laws(thickness, cooling, mould)
    pouring = properties.liquidus + SUPERHEAT
    two = reference(section, steel, cooling, mould, fine=fine)
    front, count, shared = two.front, len(two.times), two.times / two.end
    below = two.times >= laws(thickness, cooling)[0][0] * (1.0 - 1e-12)
    grows = below & (front <= UNTIL * half)
    later = np.concatenate([two.times, np.linspace(two.times[-1], 3.0 * two.end, 60)[1:]])
    values = np.column_stack([np.interp(FRACTIONS, shared, v) for v in (front * 1e3, two.surface)])
    ends, errors, bands, stretches, holds = {}, {}, {}, {}, {}
    for name, treatment in treatments.items():
        grid = treatment(graded_depth(half, 80), thickness / width)
        one = march(
            table,
            grid,
            faces(rows),
            initial=pouring,
            times=later,
            tolerance=0.3,
            solid_fractions=(SHELL, 1.0),
        )
        shell, surface = one.shell[0, 0, :count] - front, one.surface_temperature[0, :count] - two.surface
        share = 100.0 * shell / half
        ends[name] = 100.0 * float(one.centre_solidified[1] / two.end - 1.0)
        errors[name] = np.column_stack([np.interp(FRACTIONS, shared, v) for v in (shell * 1e3, surface)])
        s, t = share[grows], surface[below]
        bands[name] = float(s.min()), float(s.max()), float(t.min()), float(t.max())
        parts = [surface[below & (shared >= a) & (shared <= b)] for a, b in pairwise(STRETCHES)]
        stretches[name] = np.array([(p.min(), p.max()) if len(p) else (np.nan, np.nan) for p in parts])
        off = below & (shared < 1.0) & ((np.abs(share) > 2.0) | (np.abs(surface) > 15.0))
        holds[name] = float(front[np.argmax(off)] / half) if off.any() else 1.0
    return Comparison(section, steel, cooling, mould, two.end, values, ends, errors, bands, stretches, holds)


def band(found: Sequence[Comparison], treatment: str) -> tuple[float, ...]:
    """Lowest and highest error of end of solidification [%], shell [% of half thickness] and surface [K]."""
    ends = [c.ends[treatment] for c in found]
    low, high = (
        np.min([c.bands[treatment] for c in found], axis=0),
        np.max([c.bands[treatment] for c in found], axis=0),
    )
    return min(ends), max(ends), low[0], high[1], low[2], high[3]


# ----------------------------------------------------------------------------------------------------------------
# the reference against what is known


def verify() -> list[Check]:
    """Prove the reference: product solution and its order, corner freezing, one-dimensional limit, heat, cells."""
    errors = product_errors((10, 20, 40))
    order = float(np.polyfit(np.log([10, 20, 40]), -np.log(errors), 1)[0])
    checks = [
        Check(
            "product of two plate solutions, constant properties; 10, 20, 40 cells a side",
            f"largest error {', '.join(f'{e:.2f}' for e in errors)} K, order {order:.2f}",
            "order 2",
            order > 1.8,
        )
    ]
    diagonal, far = corner_front(160)
    checks.append(
        Check(
            "freezing beside a corner at fixed temperature (K.A. Rathjen and L.M. Jiji, J. Heat Transfer 93 (1971) "
            "101–109; values recalled): depth over √(4at)",
            f"{diagonal:.3f} on the diagonal, {far:.4f} far from it",
            "0.896 and 0.7077",
            abs(diagonal - 0.8956) < 0.01 and abs(far - 0.70766) < 0.005,
        )
    )
    properties, curves, table = materials("0.20 %C")
    rows, half = laws(0.16, "medium"), 0.08
    pouring = properties.liquidus + SUPERHEAT
    dx, times = widths(half, 0.0008, half / 32), np.linspace(40.0, 1500.0, 147)
    two = quarter(
        curves, dx, np.full(4, 0.02), rows, initial=pouring, times=times, level=curves.solidus, both=False
    )
    flat = plate(graded_depth(half, 160))
    one = march(
        table, flat, faces(rows), initial=pouring, times=times, tolerance=0.1, solid_fractions=(SHELL, 1.0)
    )
    count = len(two.times)
    surface = float(np.abs(two.surface - one.surface_temperature[0, :count]).max())
    front = two.front(table.level(SHELL), half)
    grows = front < UNTIL * half
    shell = float(np.abs(front - one.shell[0, 0, :count])[grows].max() * 1e3)
    late = 100 * (two.end / float(one.centre_solidified[1]) - 1)
    checks.append(
        Check(
            "narrow face insulated, against the march of solidify on a flat slice of 160 mm, from 40 s on",
            f"surface {surface:.1f} K, shell {shell:.2f} mm, end of solidification {late:+.2f} %",
            "the same",
            surface < 4 and shell < 0.3 and abs(late) < 0.2,
        )
    )
    two = quarter(curves, dx, dx, rows, initial=pouring, times=times, level=curves.solidus)
    start = float(np.interp(pouring, curves.temperature, curves.enthalpy))
    lost = float(((start - two.enthalpy) * dx[:, None] * dx[None, ::-1]).sum())
    mirror = two.enthalpy[:, ::-1]
    open_heat, skew = abs(lost / two.removed - 1), float(np.abs(mirror - mirror.T).max() / start)
    checks.append(
        Check(
            "160 mm square to its end: heat lost less removed (closes by construction); skewness about the diagonal",
            f"{open_heat:.0e}; {skew:.0e}",
            "round-off",
            open_heat < 1e-10 and skew < 1e-10,
        )
    )
    own = reference((160, 160), "0.20 %C", "medium", times=times)
    count = min(len(own.times), len(two.times))
    seen = float(np.abs(own.surface[:count] - two.surface[:count]).max())
    depth = own.front[:count] - two.front(table.level(SHELL), half)[:count]
    apart = float(np.abs(depth[own.front[:count] < UNTIL * half]).max() * 1e3)
    late = 100 * (own.end / two.end - 1)
    checks.append(
        Check(
            "160 mm square: the march of `solidify section` against the explicit program, from 40 s on",
            f"surface {seen:.1f} K, shell {apart:.2f} mm, end of solidification {late:+.2f} %",
            "the same",
            seen < 4 and apart < 0.8 and abs(late) < 0.3,
        )
    )
    coarse, fine = (compare((160, 160), "0.20 %C", "medium", fine=f, treatments={}) for f in (1.0, 2.0))
    change = np.abs(coarse.reference - fine.reference).max(axis=0)
    off = 100 * (coarse.end / fine.end - 1)
    checks.append(
        Check(
            "160 mm square, twice the nodes each way, the march of `solidify section`",
            f"shell {change[0]:.2f} mm, surface {change[1]:.1f} K, end {off:+.2f} %",
            "small against the bands",
            change[0] < 0.8 and change[1] < 2 and abs(off) < 0.2,
        )
    )
    return checks


# ----------------------------------------------------------------------------------------------------------------
# the page

GROUPS: tuple[tuple[str, Callable[[Comparison], bool]], ...] = (
    (f"squares to {THICK} mm", lambda c: c.ratio == 1 and c.section[0] <= THICK),
    (f"squares above {THICK} mm", lambda c: c.ratio == 1 and c.section[0] > THICK),
    ("1.1 to 1.5 times as wide as thick", lambda c: 1 < c.ratio <= 1.5),
    ("2 times as wide as thick and wider", lambda c: c.ratio > 1.5),
)


def outward(low: float, high: float) -> str:
    """Print a band, rounded outwards."""
    return f"{math.floor(low + 1e-3):+d} … {math.ceil(high - 1e-3):+d}".replace("-", "−").replace("+0", "0")


def _table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    lines = ["| " + " | ".join(head) + " |", "|" + "---|" * len(head)]
    return "\n".join(lines + ["| " + " | ".join(r) + " |" for r in rows])


def _rms(found: Sequence[Comparison], name: str) -> float:
    return float(np.sqrt(np.mean([c.ends[name] ** 2 for c in found])))


def _bands_table(found: Sequence[Comparison]) -> str:
    rows = []
    for label, belongs in GROUPS:
        some = [c for c in found if belongs(c)]
        for name in TREATMENTS:
            b = band(some, name)
            rows.append(
                (label, name, outward(*b[:2]), f"{_rms(some, name):.1f}", outward(*b[2:4]), outward(*b[4:]))
            )
    head = (
        "sections",
        "treatment",
        "end of solidification, %",
        "its rms, %",
        "shell, % of half thickness",
        "surface, K",
    )
    return _table(head, rows)


def _sections_table(found: Sequence[Comparison]) -> str:
    rows = []
    for section in SECTIONS:
        some = [c for c in found if c.section == section]
        cells = [
            f"{section[0]} × {section[1]}",
            f"{min(c.end for c in some):.0f} … {max(c.end for c in some):.0f}",
        ]
        for name in TREATMENTS:
            b = band(some, name)
            cells.append("; ".join((outward(*b[:2]), outward(*b[2:4]), outward(*b[4:]))))
        cells.append(f"{min(c.holds['flat'] for c in some):.2f}")
        rows.append(cells)
    return _table(("section, mm", "2-D end, s", *TREATMENTS, "flat holds to"), rows)


def _history_table(c: Comparison) -> str:
    rows = []
    for i, f in enumerate(FRACTIONS):
        cells = [f"{f:.2f}", f"{c.reference[i, 0]:.1f}", f"{c.reference[i, 1]:.0f}"]
        cells += [f"{e[i, 0]:+.1f} / {e[i, 1]:+.0f}".replace("-", "−") for e in c.errors.values()]
        rows.append(cells)
    head = ("share of the 2-D time", "2-D shell, mm", "2-D surface, °C", *(f"{n}, mm / K" for n in c.errors))
    return _table(head, rows)


def _stretches_table(found: Sequence[Comparison]) -> str:
    names = ["mould exit to 0.3", *(f"{a:g} to {b:g}" for a, b in pairwise(STRETCHES[1:]))]
    rows = []
    for i, label in enumerate(names):
        cells = [label]
        for name in TREATMENTS:
            parts = np.array([c.stretches[name][i] for c in found])
            cells.append(outward(np.nanmin(parts[:, 0]), np.nanmax(parts[:, 1])))
        rows.append(cells)
    return _table(("share of the 2-D time", *(f"{n}, K" for n in TREATMENTS)), rows)


def page(found: Sequence[Comparison], checks: Sequence[Check], seconds: float) -> str:
    """Write the page."""
    usual = [c for c in found if c.section[0] <= THICK]
    thick = [c for c in found if c.section[0] > THICK]
    b, t = band(usual, IN_USE), band(thick, IN_USE)
    flat_square = band([c for c in found if c.ratio == 1], "flat")
    flat_wide = band([c for c in found if c.ratio > 1.5], "flat")
    square, bloom = (
        next(c for c in found if (c.section, c.steel, c.cooling, c.mould) == (s, "0.20 %C", "medium", "root"))
        for s in ((250, 250), (250, 330))
    )
    ranges = ", ".join(f"{materials(n)[0].liquidus - materials(n)[0].solidus:.0f}" for n in STEELS)
    sprays = "; ".join(f"{k} {', '.join(f'{h:.0f}' for h in v)}" for k, v in COOLING.items())
    proofs = _table(
        ("check", "found", "expected", ""),
        [(c.name, c.found, c.expected, "good" if c.good else "FAILED") for c in checks],
    )
    weights = _table(
        ("section, mm", "α", "β", "begins to turn", "has turned"),
        [
            (f"{x} × {y}", f"{w.tube:.3f}", f"{w.power:.3f}", f"{w.begins:.2f}", f"{w.ends:.2f}")
            for x, y in SECTIONS
            for w in [section_weight(x / y, x / 2e3)]
        ],
    )
    c, n, top = POWER
    versions = ", ".join(f"{name} {version(name)}" for name in ("solidify", "numpy", "numba"))
    return f"""# Squares and rectangles in one dimension

<!-- Written by `python benchmarks/section.py`. Do not edit by hand. -->

A slice of one dimension has no corner. In a square or a bloom heat also leaves through the narrow faces, and the
middle of the wide face feels that once the shell has grown to a third or a half of the half thickness. The slice
therefore has a cross-section A(x) that narrows with the depth x below the surface. This page compares such slices
with a two-dimensional quarter section, at the middle of the wide face. With a the thickness, b ≥ a the width,
k = a/b, R = a/2 and r = R − x:

- **flat**: A = 1, what `shape = "slab"` takes;
- **fixed**: A = (r/R)^α exp(α (1 − (r/R)²)/2) with α = k³, which solves A'/A = (α/r)(1 − (r/R)²) inwards;
- **turning**: the same form with α = 0.66 k^3.5 √(100 mm/R) at birth, which goes over to A = (r/R)^β with
  β = k^1.5 min(1, 4 k²) while the equivalent solid fraction of the half thickness rises from 0.4 + (1 − k) to
  0.82 + 0.36 (1 − k) + 0.11 ln(R/100 mm), at most 1. `shape = "rectangle"` uses this one.

The first form says that heat flows straight in at first and converges on the centre late; α and the two solid
fractions are fitted. The second form is the quasi-steady one of a solid section: with the same heat flux all round,
the potential is a parabola along either axis and β = k; with faces at one temperature, far below that of the core,
β = k². β = k^1.5 lies between the two; where the section is more than twice as wide as thick the cold of the narrow
faces has not reached the middle by then, and β is less. A square has β = 1 in either case: its slice then holds as
much steel per area of face, R/2, as the section does, and cools as fast.

{weights}

## What to expect

For the weight in use, over {len(usual)} strands to {THICK} mm thick: end of solidification {outward(*b[:2])} %
(rms {_rms(usual, IN_USE):.1f} %); shell {outward(*b[2:4])} % of the half thickness, until it is three quarters of it;
surface {outward(*b[4:])} K from mould exit to twice the time of solidification, straightener and cut-off included.
Over {len(thick)} strands above {THICK} mm: end of solidification {outward(*t[:2])} %; shell {outward(*t[2:4])} % of
the half thickness; surface {outward(*t[4:])} K. A flat slice puts the end of solidification of squares
{outward(*flat_square[:2])} % off, that of sections twice as wide as thick and wider {outward(*flat_wide[:2])} %.

{_bands_table(found)}

Error = one dimension less two dimensions; lowest … highest over all steels, coolings, mould laws and times from the
mould exit on, rounded outwards. Shell: solid fraction {SHELL}. Even cooling of both faces is assumed, corner included;
real corners and uneven sprays are outside this comparison. Corners and off-corner cracks are not represented by any
of these slices.

![Lowest and highest error by section and treatment](../benchmarks/section-treatment.svg)

## Surface by stretch

To {THICK} mm thick; the time of solidification in two dimensions is 1:

{_stretches_table(usual)}

## By section

Each cell: end of solidification, %; shell, % of the half thickness; surface, K. Last column: shell over half thickness
up to which a flat slice holds (shell within 2 % of the half thickness and surface within 15 K), the worst case.

{_sections_table(found)}

## Along the strand

A 250 mm square, 0.20 %C, medium cooling, solid after {square.end:.0f} s:

{_history_table(square)}

A 250 × 330 mm bloom, the same steel and cooling, solid after {bloom.end:.0f} s:

{_history_table(bloom)}

## What was run

Sections as listed; three invented steels ({", ".join(STEELS)}; freezing ranges {ranges} K; liquid conduction × 5),
superheat {SUPERHEAT:.0f} K. Invented machines: speed 2.4 m/min at 160 mm, falling with the square of the thickness;
two mould laws: a flux falling with the root of time to 45 % of its first value, mean {MOULD_FLUX / 1e6:.1f} MW/m² over
20 s and less over longer dwells; and q = min({top / 1e6:.1f} MW/m², c (1 − n) t^−n) with
c = {c / 1e6:.1f} MW/m² s^{n:g} and n = {n:g}. Three spray zones from {ZONE_ENDS[0]} to
{", ".join(map(str, ZONE_ENDS[1:]))} m with heat-transfer coefficients {sprays} W/(m² K);
radiation with emissivity 0.8 and still air after the mould. One dimension: 80 nodes, a third of the default tolerance.
Two dimensions: the march of `solidify section` with its usual nodes; an explicit program of its own, which shares only
the property curves, checks it below.

## The reference is right

{proofs}

## Again

`python benchmarks/section.py` writes this page. This one: {date.today().isoformat()}, {seconds:.0f} s on
{platform.machine()}, {len(os.sched_getaffinity(0))} cores (Python {platform.python_version()}, {versions}).
"""


def draw(found: Sequence[Comparison], path: Path) -> None:
    """Draw the range of the errors by section."""
    import matplotlib

    matplotlib.use("svg")
    matplotlib.rcParams["svg.hashsalt"] = "section"
    from matplotlib import pyplot

    figure, axes = pyplot.subplots(1, 3, figsize=(11, 5.2), sharey=True, layout="constrained")
    styles = {"flat": ("0.55", "s"), "fixed": ("#0072b2", "o"), "turning": ("#d55e00", "D")}
    titles = ("end of solidification [%]", "shell [% of half thickness]", "surface [K]")
    for k, (ax, title) in enumerate(zip(axes, titles, strict=True)):
        for j, (name, (colour, mark)) in enumerate(styles.items()):
            for i, section in enumerate(SECTIONS):
                low, high = band([c for c in found if c.section == section], name)[2 * k : 2 * k + 2]
                y = i + 0.25 * (j - 1)
                label = name if i == 0 else None
                ax.plot(
                    (low, high), (y, y), color=colour, marker=mark, markersize=4, linewidth=1.5, label=label
                )
        ax.axvline(0.0, color="black", linewidth=0.8)
        ax.set_xlabel(title)
        ax.grid(axis="x", color="0.9")
    axes[0].set_yticks(range(len(SECTIONS)), [f"{a} × {b} mm" for a, b in SECTIONS])
    axes[0].invert_yaxis()
    axes[0].legend(loc="lower right", fontsize="small")
    figure.suptitle(
        "One dimension less two dimensions at the middle of the wide face: lowest to highest error"
    )
    figure.savefig(path, metadata={"Date": None})
    pyplot.close(figure)


def main() -> None:
    """Run and write."""
    parser = argparse.ArgumentParser(
        description="Compare section treatments with a two-dimensional quarter section."
    )
    parser.add_argument(
        "--quick", action="store_true", help="two sections, one steel, one cooling; print only"
    )
    options = parser.parse_args()
    quick = options.quick
    start = perf_counter()
    jobs = [
        (s, steel, cooling, mould)
        for s in SECTIONS
        for steel in STEELS
        for cooling in COOLING
        for mould in MOULDS
    ]
    if quick:
        jobs = [((160, 160), "0.20 %C", "medium", "root"), ((250, 330), "0.20 %C", "medium", "power")]
    for name in STEELS:
        materials(name)
    with ThreadPoolExecutor(len(os.sched_getaffinity(0))) as pool:
        found = list(pool.map(lambda job: compare(*job), jobs))
    if quick:
        for c in found:
            print(
                f"{c.section[0]} x {c.section[1]} mm, {c.steel}, {c.cooling} cooling: solid after {c.end:.0f} s"
            )
            for name in TREATMENTS:
                low, high, cold, hot = c.bands[name]
                shell, surface = f"shell {low:+.1f}..{high:+.1f} %", f"surface {cold:+.0f}..{hot:+.0f} K"
                print(f"  {name:12} end {c.ends[name]:+.1f} %, {shell}, {surface}")
        return
    checks = verify()
    PAGE.write_text(page(found, checks, perf_counter() - start), encoding="utf-8")
    draw(found, PICTURE)
    for check in checks:
        print(("good    " if check.good else "FAILED  ") + f"{check.name}: {check.found}")
    print(f"wrote {PAGE.relative_to(ROOT)} and {PICTURE.relative_to(ROOT)} in {perf_counter() - start:.0f} s")


if __name__ == "__main__":
    main()
