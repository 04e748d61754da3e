"""Time and error of the section in two dimensions beside a finite-element library on the same quarter section.

``pip install "solidify[bench]"``, then ``python benchmarks/section_2d.py`` writes benchmarks/SECTION.md (some minutes);
``--quick`` prints a part and writes nothing.
"""

from __future__ import annotations

import argparse
import os
import platform
from dataclasses import dataclass
from datetime import date
from importlib.metadata import version
from pathlib import Path
from time import process_time

import numpy as np
import quarter_section
import section
import skfem
from scipy.sparse import diags
from scipy.sparse.linalg import splu
from skfem.helpers import dot, grad

from solidify.case import demo_case
from solidify.section import march_section, section_nodes, section_table, solve_section
from solidify.section.grid import usual_section_nodes
from solidify.solver.enthalpy_table import SteelTable

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "benchmarks" / "SECTION.md"
SIZE, STEEL, COOLING = (250, 330), "0.20 %C", "medium"
BELOW = 0.5  # from so far below the mould on, surfaces count [m]
_SIGMA, _GAMMA = 5.670374419e-8, 1.0 - 0.5**0.5


@dataclass(frozen=True)
class Strand:
    """What is run."""

    table: SteelTable
    rows: list[section.Law]
    pouring: float
    half: float
    half_width: float
    times: np.ndarray

    @classmethod
    def invented(cls) -> Strand:
        """A bloom of the comparison of sections."""
        steel = section.materials(STEEL)[0]
        rows = section.laws(SIZE[0] / 1e3, COOLING)
        speed = section.ZONE_ENDS[0] / rows[0][0]
        times = np.linspace((section.ZONE_ENDS[0] + BELOW) / speed, 2000.0, 400)
        pouring = steel.liquidus + section.SUPERHEAT
        return cls(section_table(steel), rows, pouring, SIZE[0] / 2e3, SIZE[1] / 2e3, times)


@dataclass(frozen=True)
class Run:
    """One setting of one program."""

    name: str
    seconds: float
    steps: int
    nodes: int
    wide: np.ndarray
    corner: np.ndarray
    end: float


def ours(s: Strand, nodes: int, tolerance: float) -> Run:
    """March of solidify."""
    x, y = section_nodes(s.half, s.half_width, nodes)
    faces = section.faces(s.rows)
    begin = process_time()
    m = march_section(s.table, faces, faces, x, y, initial=s.pouring, times=s.times, tolerance=tolerance)
    took = process_time() - begin
    name = f"solidify, {len(x)} x {len(y)} nodes, tolerance {tolerance:g}"
    return Run(name, took, m.steps, len(x) * len(y), m.wide[0], m.corner[0], float(m.centre_solidified[-1]))


def elements(s: Strand, nodes: int, longest: float) -> Run:
    """Bilinear elements of scikit-fem, lumped enthalpy, a two-stage SDIRK of second order, Newton, sparse LU."""
    x, y = section_nodes(s.half, s.half_width, nodes)
    begin = process_time()
    mesh = skfem.MeshQuad.init_tensor(x, y).with_boundaries(
        {"wide": lambda p: p[0] < 1e-12, "narrow": lambda p: p[1] < 1e-12}
    )
    basis = skfem.Basis(mesh, skfem.ElementQuad1())
    stiffness = skfem.asm(skfem.BilinearForm(lambda u, v, w: dot(grad(u), grad(v))), basis).tocsc()
    whole = skfem.LinearForm(lambda v, w: 1.0 * v)
    mass = skfem.asm(whole, basis)
    area = sum(
        skfem.asm(whole, skfem.FacetBasis(mesh, skfem.ElementQuad1(), facets=mesh.boundaries[b]))
        for b in ("wide", "narrow")
    )
    on = np.flatnonzero(area)
    hot, cold = s.table.hot, s.table.cold

    def read(phi: np.ndarray, rows: np.ndarray, column: int) -> tuple[np.ndarray, np.ndarray]:
        b = hot[1:-1, 0].searchsorted(phi, side="right")
        return rows[b, column] + rows[b, column + 1] * (phi - hot[b, 0]), rows[b, column + 1]

    def out(phi: np.ndarray, t: float, law: section.Law) -> tuple[np.ndarray, np.ndarray]:
        """Heat out of the surface nodes and its derivative."""
        temp, rise = read(phi[on], cold, 0)
        kelvin, around = temp + 273.15, law[6] + 273.15
        q = max(law[1] - law[2] * t**0.5, 0.0) + law[3] * (temp - law[4])
        q = q + law[5] * _SIGMA * (kelvin**4 - around**4)
        return area[on] * q, area[on] * (law[3] + 4 * law[5] * _SIGMA * kelvin**3) * rise

    def solve(phi: np.ndarray, base: np.ndarray, t: float, dt: float, law: section.Law) -> np.ndarray:
        for _ in range(30):
            h, slope = read(phi, hot, 1)
            heat, steep = out(phi, t, law)
            left = base - mass * h - dt * (stiffness @ phi)
            left[on] -= dt * heat
            matrix = dt * stiffness + diags(mass * slope)
            matrix += diags(np.bincount(on, dt * steep, len(phi)))
            change = splu(matrix.tocsc()).solve(left)
            after = phi + change
            low, high = s.table.steep
            jump = ((phi < low) & (after > high)) | ((phi > high) & (after < low))
            phi = np.where(jump, 0.5 * (low + high), after)
            if np.abs(change).max() < 0.02 * s.table.scale:
                break
        return phi

    phi = np.full(basis.N, float(s.table.potential(s.pouring)))
    t, steps, trace, solidus = 0.0, 0, [], s.table.level(1.0)
    places = [
        int(np.argmin((mesh.p[0] - a) ** 2 + (mesh.p[1] - b) ** 2)) for a, b in ((0.0, y[-1]), (0.0, 0.0))
    ]
    hottest = [(0.0, float(phi.max()))]
    for law in s.rows:
        dt, stop = 0.05, min(law[0], float(s.times[-1]))
        while t < stop - 1e-9:
            dt = min(1.15 * dt, longest * max(1.0, t / 200.0), stop - t)
            h0 = mass * read(phi, hot, 1)[0]
            first = solve(phi, h0, t + _GAMMA * dt, _GAMMA * dt, law)
            rate = (mass * read(first, hot, 1)[0] - h0) / (_GAMMA * dt)
            phi = solve(first, h0 + (1 - _GAMMA) * dt * rate, t + dt, _GAMMA * dt, law)
            t, steps = t + dt, steps + 1
            trace.append((t, *phi[places]))
            hottest.append((t, float(phi.max())))
    took = process_time() - begin
    at, wide, corner = np.array(trace).T
    surface = [s.table.temperature(np.interp(s.times, at, v)) for v in (wide, corner)]
    ages, top = np.array(hottest).T
    last = int(np.argmax(top <= solidus))
    end = float(np.interp(-solidus, -top[last - 1 : last + 1], ages[last - 1 : last + 1]))
    name = f"scikit-fem, {len(x)} x {len(y)} nodes, steps up to {longest:g} s at first"
    return Run(name, took, steps, basis.N, surface[0], surface[1], end)


def explicit(s: Strand) -> Run:
    """The explicit program of the comparison of sections."""
    curves = section.materials(STEEL)[1]
    dx, dy = (quarter_section.widths(h, s.half / 100, s.half / 50) for h in (s.half, s.half_width))
    begin = process_time()
    two = quarter_section.quarter(
        curves, dx, dy, s.rows, initial=s.pouring, times=s.times, level=curves.solidus
    )
    took = process_time() - begin
    wide = np.interp(s.times, two.times, two.surface, right=np.nan)
    corner = np.full(len(s.times), np.nan)
    name = f"explicit, {len(dx)} x {len(dy)} cells"
    return Run(name, took, two.steps, len(dx) * len(dy), wide, corner, two.end)


def row(r: Run, right: Run, fastest: float) -> list[str]:
    """One line of the table."""
    wide = np.nanmax(np.abs(r.wide - right.wide))
    corner = np.abs(r.corner - right.corner).max()
    cells = [r.name, f"{r.seconds:.2f}", f"{r.seconds / fastest:.1f}", str(r.steps), f"{wide:.2f}"]
    return [*cells, "–" if np.isnan(corner) else f"{corner:.2f}", f"{100 * (r.end / right.end - 1):+.3f}"]


HEAD = ("program", "CPU, s", "times", "steps", "mid-face, K", "corner, K", "end, %")


def classes() -> list[list[str]]:
    """The demo cases in their class: against twice the nodes and a third of the tolerance."""
    rows = []
    for name in ("bloom", "billet", "slab"):
        case = demo_case(name)
        solve_section(case)
        begin = process_time()
        usual = solve_section(case)
        took = process_time() - begin
        fine = solve_section(case, nodes=2 * len(usual.depth), tolerance=0.3)
        below = usual.distance >= case.working_length + BELOW
        off = [
            np.abs(getattr(usual, w) - getattr(fine, w))[..., below].max()
            for w in ("wide_temperature", "narrow_temperature", "corner_temperature")
        ]
        end = 100 * (usual.metallurgical_length / fine.metallurgical_length - 1)
        nodes = f"{len(usual.depth)} x {len(usual.along)}"
        rows.append(
            [name, nodes, str(usual.balance.steps), f"{took:.2f}", *(f"{v:.2f}" for v in off), f"{end:+.3f}"]
        )
    return rows


CLASS_HEAD = ("case", "nodes", "steps", "CPU, s", "wide, K", "narrow, K", "corner, K", "end, %")


def main() -> None:
    """Run and write."""
    parser = argparse.ArgumentParser(description="Time the section beside a finite-element library.")
    parser.add_argument("--quick", action="store_true", help="a part; print only")
    quick = parser.parse_args().quick
    s = Strand.invented()
    steel = section.materials(STEEL)[0]
    nodes = usual_section_nodes(s.half, steel.liquidus - steel.temperature_at_solid_fraction(0.7))
    ours(s, 24, 3.0)
    right = ours(s, 60 if quick else round(2.2 * nodes), 0.3)
    runs = [min((ours(s, nodes, 1.0) for _ in range(3)), key=lambda r: r.seconds)]
    if not quick:
        runs += [
            min((ours(s, n, t) for _ in range(3)), key=lambda r: r.seconds) for n, t in ((32, 2.0), (64, 0.5))
        ]
    runs += [elements(s, n, d) for n, d in (((24, 4.0),) if quick else ((24, 4.0), (nodes, 2.0)))]
    runs.append(explicit(s))
    table = section._table(HEAD, [row(r, right, runs[0].seconds) for r in runs])
    print(table, flush=True)
    if quick:
        return
    demo = section._table(CLASS_HEAD, classes())
    print(demo)
    versions = ", ".join(f"{n} {version(n)}" for n in ("solidify", "numpy", "scipy", "numba", "scikit-fem"))
    PAGE.write_text(
        f"""# Time and error of a section in two dimensions

<!-- Written by `python benchmarks/section_2d.py`. Do not edit by hand. -->

## The demo cases

Warm, CPU time of one core for `solve_section`, its slice included. Errors: the largest of all profiles from {BELOW:g} m
below the mould to the cut-off, and the end of solidification, against twice the nodes in each direction and a third of
the tolerance. The class is 0.5 K at mid-faces and 0.2 % in the end of solidification.

{demo}

## Beside a finite-element library

A quarter of {SIZE[0]} x {SIZE[1]} mm, {STEEL}, invented: mould, three sprays, radiation, both faces alike, as on
[the page of section treatments](../docs/section-treatment.md), one steel table for all. Errors from {BELOW:g} m below the
mould on, against the march of solidify with {right.name.removeprefix("solidify, ")}; "times" is CPU time over that of
the first line. scikit-fem: bilinear elements on the same kind of grid, enthalpy lumped at the nodes, a two-stage SDIRK
of second order with given steps, Newton's method and sparse LU of scipy. Explicit: the program of the section
treatments, cell-centred, which shares only the property curves, not averaged over two kelvins as those of the others.

{table}

{date.today().isoformat()}, {platform.machine()}, {len(os.sched_getaffinity(0))} cores, used by others too; Python
{platform.python_version()}, {versions}.
""",
        encoding="utf-8",
    )
    print(f"wrote {PAGE.relative_to(ROOT)}")


if __name__ == "__main__":
    main()
