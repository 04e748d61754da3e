"""The shell beside common practice: laws put in come out, closures by hand, the exact solution, sheet and picture."""

import math
from dataclasses import replace

import numpy as np
import pytest
from matplotlib import pyplot

from solidify.analysis.derived import product_window
from solidify.analysis.growth import LAWS, STRETCHES, compare_with_handbook
from solidify.analysis.handbook import MM_PER_SQRT_MIN
from solidify.case import demo_case, parse_case
from solidify.exact_solutions import freezing_band
from solidify.plots import plot_handbook
from solidify.report.growth import growth_text
from solidify.strand.solve import solve

MM = 1e-3
LAW = {0.3: (33.0, 0.5, 2.0), 0.7: (30.0, 0.5, 3.0), 1.0: (24.0, 0.54, 0.0)}
"""Shells of the exact strand, s = a t^n - C in mm and minutes, by solid fraction."""


def demo(name, **changes):
    return solve(demo_case(name).replace(changes))


@pytest.fixture(scope="module")
def bloom():
    return demo("bloom")


@pytest.fixture(scope="module")
def exact(bloom):
    """The demo bloom with shells by `LAW`, closed where they reach 125 mm; its centre freezes accordingly."""
    minutes = bloom.time / 60
    closed = {f: ((125.0 + c) / a) ** (1 / n) for f, (a, n, c) in LAW.items()}
    shells = [np.clip(a * minutes**n - c, 0.0, 125.0) * MM for a, n, c in LAW.values()]
    centre = np.interp(minutes, [5.0, *closed.values()], [0.0, *closed])
    summary = bloom.summary | {"solidification_time": 60 * closed[1.0]}
    return replace(bloom, shell_thickness=np.array([shells]), centre_solid_fraction=centre, summary=summary)


def test_the_laws_put_in_come_out(exact):
    """Each definition by its own law, over the mould and over the whole machine, with intervals of no width."""
    found = compare_with_handbook(exact)
    for where in STRETCHES:
        for g, (a, n, c) in zip(found.rows[where], LAW.values(), strict=True):
            fit = g.fits["a·t^n − C"]
            assert (fit.one_minute, fit.exponent, fit.delay) == pytest.approx((a * MM, n, c * MM), abs=2e-6)
            assert fit.rms < 1e-8
        root = found.rows[where][1].fits["K√t − C"]
        assert (root.one_minute, root.delay) == pytest.approx((30.0 * MM, 3.0 * MM), rel=1e-5)
        free = found.rows[where][2].fits["a·t^n"]
        assert (free.one_minute, free.exponent) == pytest.approx((24.0 * MM, 0.54), rel=1e-5)


def test_k_by_hand(exact):
    """At 0.7 after 0.8 min: (30 √0.8 - 3)/√0.8 = 26.65; to the middle in (128/30)² = 18.20 min: 29.30."""
    found = compare_with_handbook(exact)
    mould, whole = (found.rows[where][1] for where in STRETCHES)
    assert mould.k / MM_PER_SQRT_MIN == pytest.approx(26.646, abs=0.01)
    assert whole.time / 60 == pytest.approx(18.204, abs=0.03)
    assert whole.k / MM_PER_SQRT_MIN == pytest.approx(29.297, abs=0.03)
    assert whole.shell == exact.half_thickness


def test_a_wrong_law_leaves_what_it_cannot_follow(exact):
    """A free exponent without delay on 30√t - 3: the exponent comes out high, and the interval does not hold
    1/2.
    """
    fit = compare_with_handbook(exact).rows["whole machine"][1].fits["a·t^n"]
    assert fit.exponent_interval[0] > 0.5
    assert fit.rms > 0.1 * MM


def test_wider_confidence_wider_interval(bloom):
    """99 % against 50 % on a marched strand, whose curve follows no law."""
    wide, narrow = (
        compare_with_handbook(bloom, confidence=c).rows["whole machine"][1].fits["a·t^n"].exponent_interval
        for c in (0.99, 0.5)
    )
    assert wide[0] < narrow[0] < narrow[1] < wide[1]


def test_k_agrees_with_the_summary(bloom):
    """K of the headline at mould exit and of the last liquid are those of the run."""
    found = compare_with_handbook(bloom)
    mould, whole = found.rows["mould exit"][1], found.rows["whole machine"][2]
    assert mould.k / MM_PER_SQRT_MIN == pytest.approx(bloom.summary["k_mould_exit"])
    assert whole.k / MM_PER_SQRT_MIN == pytest.approx(bloom.summary["k_whole_machine"])
    assert found.window["mould exit"].low / MM_PER_SQRT_MIN == pytest.approx(17.0)


def test_the_window_goes_by_the_product(bloom):
    """A rectangle, a square, and one of wide freezing range, whose window lies 1 to 2 lower."""

    def low(result):
        return product_window(result, "whole machine").low / MM_PER_SQRT_MIN

    assert low(bloom) == pytest.approx(26.0)
    assert low(replace(bloom, width=bloom.thickness)) == pytest.approx(28.0)
    steel = replace(bloom.steel, composition={"C": 0.8})
    assert low(replace(bloom, steel=steel)) == pytest.approx(24.0)


OWN = """
title = "Slab of constant properties (invented)"
[steel]
liquidus_C = 1510
solidus_C = 1460
latent_heat_kJ_per_kg = 270
density_kg_per_m3 = 7400
specific_heat_J_per_kgK = 700
conductivity_W_per_mK = 30
liquid_conductivity_factor = 1
[section]
shape = "slab"
thickness_mm = 220
width_mm = 1200
[casting]
speed_m_per_min = 1.0
superheat_K = 30
[mould]
length_mm = 900
level_below_top_mm = 100
lubricant = "powder"
mean_heat_flux_MW_per_m2 = 1.4
[[zone]]
name = "spray"
end_m = 12
heat_transfer_W_per_m2K = 350
[machine]
support_end_m = 28
cutoff_m = 30
"""


def test_the_exact_solution_is_that_of_the_steel():
    """Constant properties: the three-region solution with the case's own numbers, at the mean surface."""
    result = solve(parse_case(OWN))
    found = compare_with_handbook(result).exact["mould exit"]
    inside = result.time <= result.mould.dwell + 1e-9
    time, surface = result.time[inside], result.surface_temperature[0, inside]
    wall = np.trapezoid(surface, time) / time[-1]
    solution = freezing_band(
        wall=wall,
        solidus=1460,
        liquidus=1510,
        initial=1540,
        conductivity=(30, 30, 30),
        heat_capacity=(7400 * 700,) * 3,
        latent_heat=7400 * 270e3,
    )
    assert found.surface == pytest.approx(wall, abs=0.5)
    assert found.k == pytest.approx(2 * solution.roots[0] * math.sqrt(30 / (7400 * 700)), rel=5e-3)


def test_a_strand_that_stays_open_has_no_k_of_the_machine():
    """Cast too fast: no K, no exact solution over the machine, but fits to what has grown, and words for it."""
    fast = demo("bloom", **{"casting.speed_m_per_min": 2.2})
    found = compare_with_handbook(fast)
    last = found.rows["whole machine"][2]
    assert math.isnan(last.k)
    assert set(last.fits) <= set(LAWS)
    assert last.fits["a·t^n"].count > 100
    assert "whole machine" not in found.exact
    line = next(
        x for x in growth_text(fast).split("whole machine")[1].splitlines() if x.split()[:1] == ["1.0"]
    )
    assert line.split()[1:4] == ["–", "–", "–"]


def test_a_mould_with_few_points_fits_nothing():
    """Half a metre between points: K is told, no law is fitted, and the sheet says so."""
    coarse = demo("bloom", **{"steps.output_step_m": 0.5})
    row = compare_with_handbook(coarse).rows["mould exit"][1]
    assert row.fits == {}
    assert row.k > 0
    assert "not found" in growth_text(coarse)


def test_the_sheet(exact):
    """K and the constants with half their interval, in mm and minutes, no line too long."""
    text = growth_text(exact)
    assert "mould exit: K of practice 17 to 23 at 0.3 solid (common practice, no source)" in text
    row = next(x for x in text.splitlines() if x.split()[:1] == ["0.7"])
    assert row.split()[:6] == ["0.7", "23.8", "0.80", "26.6", "0.00", "K√t"]
    assert "how closely the law follows the computed curve" in text
    assert max(map(len, text.splitlines())) <= 100
    assert all(x == x.rstrip() for x in text.splitlines())


def test_the_sheet_names_the_side():
    """Two sides: the one asked for, each with its own shell."""
    zone = 'zone."spray 2"'
    changes = {"water_at_speed": None, "sprayed_faces": None}
    changes |= {"water_loose_L_per_min": 100.0, "water_fixed_L_per_min": 400.0}
    result = demo("slab", **{f"{zone}.{key}": value for key, value in changes.items()})
    loose, fixed = (compare_with_handbook(result, side=i) for i in (0, 1))
    assert fixed.rows["whole machine"][2].shell > loose.rows["whole machine"][2].shell
    assert "fixed side" in growth_text(result, fixed)


def line(ax, gid):
    return next(x for x in ax.lines if x.get_gid() == gid)


def test_the_picture_shows_shells_and_residuals(exact):
    """Shells end in the middle; the residual of the law that is true is nothing; the wedge is the window."""
    figure = plot_handbook(exact)
    growth, root, free = figure.axes
    x, y = line(growth, "0.7 solid").get_data()
    assert (x[-1], y[-1]) == pytest.approx((math.sqrt(18.204), 125.0), abs=0.01)
    assert y == pytest.approx(np.clip(30 * x - 3, 0, 125), abs=1e-2)
    assert np.abs(line(root, "K√t − C 0.7 solid").get_ydata()).max() < 0.02
    assert np.abs(line(free, "a·t^n 1.0 solid".replace("1.0", "1")).get_ydata()).max() < 0.02
    assert np.abs(line(root, "K√t − C 1 solid").get_ydata()).max() > 0.2
    assert line(growth, "usual").get_ydata()[10] == pytest.approx(
        29.0 * line(growth, "usual").get_xdata()[10]
    )
    assert growth.get_xlim() == root.get_xlim() == free.get_xlim()
    assert root.get_ylim() == free.get_ylim()
    words = " ".join(t.get_text() for t in figure.texts)
    assert "practice 26 to 31 at 1.0\nsolid" in words
    assert "at 0.7 solid: K 30, C 3 mm" in words
    assert not pyplot.get_fignums(), "nothing is shown"


@pytest.mark.parametrize("speed", [0.75, 2.2])
def test_no_text_of_the_picture_leaves_the_paper_or_covers_another(speed):
    """Open and closed strands, with every text measured."""
    figure = plot_handbook(demo("bloom", **{"casting.speed_m_per_min": speed, "shell.solid_fraction": 0.5}))
    figure.draw_without_rendering()
    page = figure.bbox
    texts = [*figure.texts, *(ax.xaxis.label for ax in figure.axes)]
    boxes = [t.get_window_extent() for t in texts]
    for box in boxes:
        assert page.x0 <= box.x0
        assert box.x1 <= page.x1
        assert page.y0 <= box.y0
        assert box.y1 <= page.y1
    for i, a in enumerate(boxes):
        assert not any(a.overlaps(b) for b in boxes[i + 1 :]), texts[i].get_text()
