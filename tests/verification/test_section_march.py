"""The march of a section in two dimensions against exact products, a plate, constant flux and an explicit program."""

from pathlib import Path

import numpy as np
import pytest

from solidify.exact_solutions import plate_constant_flux, plate_convection, plate_convection_heat
from solidify.section.grid import section_nodes
from solidify.section.march import Side, Strip, march_section
from solidify.section.steel import section_table
from solidify.solver.boundary import BoundaryCondition
from solidify.solver.grid import plate, uniform_depth
from solidify.solver.march import march

ROOT = Path(__file__).resolve().parents[2]

K, C, H, WATER, HOT = 30.0, 7400.0 * 680.0, 450.0, 30.0, 1200.0
HALF, HALF_WIDTH = 0.08, 0.12


@pytest.fixture(scope="module")
def section():
    """The benchmark with the explicit program."""
    with pytest.MonkeyPatch.context() as patch:
        patch.syspath_prepend(str(ROOT / "benchmarks"))
        import section

        yield section


def section_steel(section):
    """A steel with 0.20 %C and its table for a section."""
    steel, _, _ = section.materials("0.20 %C")
    return steel, section_table(steel)


def cooled(bench, nodes, times, **settings):
    """A bar of 160 x 240 mm with constant properties in water."""
    table = bench.constant(K, C, 0.0, 1300.0)
    face = [BoundaryCondition(times[-1], htc=H, water_temperature=WATER)]
    x, y = uniform_depth(HALF, nodes), uniform_depth(HALF_WIDTH, nodes)
    return march_section(table, face, face, x, y, initial=HOT, times=times, keep=times[::3], **settings)


def product(times, depth, along):
    """Exact temperature of the bar: product of two plates."""
    across = plate_convection(K / C * times / HALF**2, 1.0 - depth / HALF, H * HALF / K)
    other = plate_convection(K / C * times / HALF_WIDTH**2, 1.0 - along / HALF_WIDTH, H * HALF_WIDTH / K)
    return WATER + (HOT - WATER) * across * other


def test_a_bar_in_water_is_the_product_of_two_plates(bench, prove, compare):
    """Carslaw and Jaeger 1959, 1.15 and 3.11 (from memory): mid-faces, corner, centre and the whole field."""
    times = np.linspace(60.0, 600.0, 10)
    errors, nodes = [], np.array([9, 17, 33, 65])
    for n in nodes:
        m = cooled(bench, n, times, tolerance=0.02)
        points = {
            (0.0, HALF_WIDTH): m.wide[0],
            (HALF, 0.0): m.narrow,
            (0.0, 0.0): m.corner[0],
            (HALF, HALF_WIDTH): m.centre,
        }
        off = [np.abs(found - product(times, *place)).max() for place, found in points.items()]
        for t, field in zip(m.kept_times, m.temperature, strict=True):
            off.append(np.abs(field - product(t, m.depth[None, :], m.along[:, None])).max())
        errors.append(max(off))
    prove("temperature anywhere, K, over spacing, m", HALF / (nodes - 1), errors, limit=0.15, order=1.9)
    kept = (1 - plate_convection_heat(K / C * 600.0 / HALF**2, H * HALF / K)) * (
        1 - plate_convection_heat(K / C * 600.0 / HALF_WIDTH**2, H * HALF_WIDTH / K)
    )
    whole = C * (HOT - WATER) * HALF * HALF_WIDTH
    compare("heat lost in 600 s, share", m.heat[:, -1].sum() / whole, float(1 - kept), 5e-5)


def test_second_order_in_time(bench, prove):
    """The same bar on one grid, fixed steps against one fine enough; the start left out, where a jump is smoothed."""
    times = np.linspace(100.0, 600.0, 11)
    steps = np.array([25.0, 12.5, 6.25, 3.125])
    right = cooled(bench, 17, times, step=0.2)
    errors = [
        max(np.abs(getattr(m, name) - getattr(right, name)).max() for name in ("wide", "corner", "centre"))
        for m in (cooled(bench, 17, times, step=s) for s in steps)
    ]
    prove("temperature, K, over step, s", steps, errors, limit=0.05, order=1.8)


def test_a_solid_square_under_constant_flux(bench, compare):
    """K6: the mean falls at 4 q/(D rho c); mid-face, corner and centre lie apart as two plates do, added."""
    q, size, end = 60e3, 0.15, 800.0
    table = bench.constant(K, C, 0.0, 1300.0)
    x, y = section_nodes(0.5 * size, 0.5 * size, 24)
    face, times = [BoundaryCondition(end, flux=q)], np.array([400.0, end])
    m = march_section(table, face, face, x, y, initial=HOT, times=times)
    mean = HOT - 4.0 * q / (size * C) * times
    lost = m.heat.sum(axis=0) / (C * 0.25 * size**2)
    compare("mean after 800 s, °C", HOT - lost[1], mean[1], 1e-6 * (HOT - mean[1]), "°C")
    fourier = K / C * times / (0.5 * size) ** 2
    drop, unit = plate_constant_flux, q * 0.5 * size / K
    surface, middle = drop(fourier, 1.0), drop(fourier, 0.0)
    for name, found, exact in (
        ("mid-face", m.wide[0], HOT - unit * (surface + middle)),
        ("corner", m.corner[0], HOT - 2 * unit * surface),
        ("centre", m.centre, HOT - 2 * unit * middle),
    ):
        compare(f"{name} after 800 s, °C", found[1], exact[1], 0.1, "°C")
    rate = (m.wide[0, 1] - m.wide[0, 0]) / 400.0
    compare("rate of the surface over 4 q/(D rho c)", -rate / (4.0 * q / (size * C)), 1.0, 0.03)


def test_a_corner_freezes_as_the_exact_solution_says(bench, compare):
    """Fixed temperature on both faces: Rathjen and Jiji, J. Heat Transfer 93 (1971) 101-109 (from memory).

    Front over sqrt(4 a t) for superheat 0.3 and latent heat 0.25 times c (freezing - wall): 0.8956 on the diagonal,
    0.70766 far away. A large coefficient holds the wall.
    """
    a, melting, end, length = 1e-5, 1000.0, 250.0, 0.25
    table = bench.isothermal(melting, (a, a), (1.0, 1.0), 0.25 * melting, -100.0, 1500.0, narrowest=10.0)
    nodes = uniform_depth(length, 101)
    face = [BoundaryCondition(end, htc=1.0, water_temperature=0.0)]
    m = march_section(
        table,
        face,
        face,
        nodes,
        nodes,
        initial=1300.0,
        times=np.array([end]),
        keep=[end],
        solid_fractions=(0.5, 1.0),
    )
    scale = 2.0 * np.sqrt(a * end)
    solid = m.solid_fraction[0]
    diagonal = np.trapezoid(np.diagonal(solid), nodes)
    compare("on the diagonal", diagonal / scale, 0.8956, 0.012)
    compare("far from the corner", m.wide_shell[0, 0, 0] / scale, 0.70766, 0.004)


def test_a_wide_section_is_a_plate_at_its_middle(section, compare):
    """A slab eight times as wide as thick, mould and sprays: the one-dimensional march on a flat slice."""
    steel, table = section_steel(section)
    rows = section.laws(0.16, "medium")
    faces = section.faces(rows)
    times = np.linspace(40.0, 1500.0, 147)
    x, y = section_nodes(0.08, 0.64, 40)
    pouring = steel.liquidus + section.SUPERHEAT
    m = march_section(table, faces, faces, x, y, initial=pouring, times=times)
    one = march(table, plate(uniform_depth(0.08, 321)), faces, initial=pouring, times=times, tolerance=0.1)
    off = np.abs(m.wide - one.surface_temperature)[0, times > times[0] + 20]
    compare("surface, K", off.max(), 0.0, 1.0, "K")
    compare(
        "end of solidification, s",
        m.centre_solidified[-1],
        one.centre_solidified[-1],
        0.002 * one.centre_solidified[-1],
        "s",
    )
    grows = one.shell[0, 1] < 0.06
    compare("shell, mm", 1e3 * np.abs(m.wide_shell[0] - one.shell[0])[1, grows].max(), 0.0, 0.4, "mm")


@pytest.mark.parametrize("size", [(160, 160), (250, 330)])
def test_an_explicit_program_finds_the_same_strand(section, compare, size):
    """Mould and sprays, freezing range: benchmarks/quarter_section.py, its own code, explicit, cell-centred."""
    import quarter_section

    (steel, table), curves = section_steel(section), section.materials("0.20 %C")[1]
    rows, half, half_width = section.laws(size[0] / 1e3, "medium"), size[0] / 2e3, size[1] / 2e3
    pouring = steel.liquidus + section.SUPERHEAT
    times = np.linspace(rows[0][0] + 20.0, 120.0 * (half / 0.024) ** 2, 200)
    dx, dy = (quarter_section.widths(h, half / 120, half / 40) for h in (half, half_width))
    two = quarter_section.quarter(curves, dx, dy, rows, initial=pouring, times=times, level=curves.solidus)
    x, y = section_nodes(half, half_width, 40)
    faces = section.faces(rows)
    m = march_section(table, faces, faces, x, y, initial=pouring, times=times)
    name, count = f"{size[0]} x {size[1]} mm", len(two.times)
    compare(f"{name}, end of solidification, s", m.centre_solidified[-1], two.end, 0.003 * two.end, "s")
    off = np.abs(m.wide[0, :count] - two.surface).max()
    compare(f"{name}, surface, K", off, 0.0, 2.5, "K")
    front = two.front(table.level(0.7), half)
    grows = front < 0.75 * half
    shell = np.abs(m.wide_shell[0, 1, :count] - front)[grows].max()
    compare(f"{name}, shell, mm", 1e3 * shell, 0.0, 10.0 * half, "mm")  # 0.4 cells of the explicit program


def test_a_square_is_symmetric_and_keeps_its_heat(section, compare):
    """Field against its transpose; heat through the faces against heat lost, and recounted from the last field."""
    steel, table = section_steel(section)
    faces = section.faces(section.laws(0.16, "medium"))
    x, y = section_nodes(0.08, 0.08, 32)
    times = np.linspace(0.0, 900.0, 91)
    m = march_section(
        table, faces, faces, x, y, initial=steel.liquidus + 25, times=times, keep=[60.0, 300.0, 900.0]
    )
    skew = max(np.abs(field - field.T).max() for field in m.temperature)
    compare("skewness, K", skew, 0.0, 0.01, "K")
    compare("heat through one face over the other", m.heat[0, -1] / m.heat[1, -1], 1.0, 1e-6)
    for name in ("flux_error", "recount_error"):
        compare(name.replace("_", " "), getattr(m, name), 0.0, 1e-6)
    assert m.table_error < 1e-4
    assert m.booked.sum() == pytest.approx(m.heat[:, -1].sum(), rel=1e-12)


def test_a_half_section_with_equal_sides_is_two_quarters(section, compare):
    """Loose and fixed side given alike: a half section, and the quarter."""
    steel, table = section_steel(section)
    faces = section.faces(section.laws(0.16, "medium"))
    times, pouring = np.linspace(30.0, 700.0, 68), steel.liquidus + 25
    x, y = section_nodes(0.08, 0.1, 32)
    quarter = march_section(table, faces, faces, x, y, initial=pouring, times=times)
    x, y = section_nodes(0.08, 0.1, 32, whole=True)
    half = march_section(table, faces, faces, x, y, initial=pouring, times=times, fixed=faces)
    for name in ("wide", "corner"):
        off = np.abs(getattr(half, name) - getattr(quarter, name)).max()
        compare(f"{name}, K", off, 0.0, 0.6, "K")
    compare("heat", half.heat[:, -1].sum() / quarter.heat[:, -1].sum(), 2.0, 1e-4)
    compare("end, s", half.centre_solidified[-1], quarter.centre_solidified[-1], 0.6, "s")


def test_a_strip_takes_its_share_of_the_face(bench):
    """A flux on strips of 20 mm beside the corner alone takes flux x width x time, wherever the nodes lie."""
    table = bench.constant(K, C, 0.0, 1300.0)
    x, y = section_nodes(0.08, 0.1, 24)
    q, end = 2e5, 60.0
    none, some = (BoundaryCondition(end),), (BoundaryCondition(end, flux=q),)
    side = Side(none, (Strip(some, (0.02,)),))
    m = march_section(table, side, Side(none), x, y, initial=HOT, times=np.array([end]))
    assert m.heat[:, -1] == pytest.approx([q * 0.02 * end, 0.0], rel=1e-9)
    half, _ = section_nodes(0.04, 0.1, 24, whole=True)
    narrow = Side(none, (Strip(some, (0.02,)),))
    m = march_section(table, side, narrow, half, y, initial=HOT, times=np.array([end]), fixed=Side(none))
    assert m.heat[:, -1] == pytest.approx(
        [q * 0.02 * end, q * 0.04 * end, 0.0], rel=1e-9
    )  # a corner at either end
    assert m.corner[0, 0] < m.narrow[0] < HOT
