"""Pictures of a study: lines lie where the limits are, what holds is tinted, every share and effect is drawn true."""

from __future__ import annotations

import subprocess
import sys
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from drawn import artist, misplaced, panel, texts
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_hex

from solidify.case import read_case
from solidify.cli import main
from solidify.plots.answers import draw_answers
from solidify.plots.influence import draw_effects, draw_indices
from solidify.plots.palette import FIELD, WATER
from solidify.plots.pictures import picture_bytes
from solidify.plots.spread import draw_spread
from solidify.plots.window import draw_line, draw_window
from solidify.storage.study_file import StudyTable, load_study
from solidify.storage.study_schema import VERDICT
from solidify.study.answers.operating_window import operating_line, operating_window
from solidify.study.answers.quantities import quantity
from solidify.study.answers.sensitivity import effects, sobol_shares
from solidify.study.answers.violations import violations
from solidify.study.definition import make_study
from solidify.study.run import run_study

CASES = Path(__file__).parents[2] / "cases"
SPEED, SUPERHEAT, FACTOR = "casting.speed_m_per_min", "casting.superheat_K", "mould.heat_flux_factor"
BASE = "[casting]\nspeed_m_per_min = 0.8\nsuperheat_K = 28\n[mould]\nheat_flux_factor = 1.0\n"


def made_up(inputs, sampling="grid", failed=()) -> StudyTable:
    """A study of formulae for an invented plant: a hard limit that is too slow, one that is too fast, a soft one."""
    inputs = {name: np.asarray(v, dtype=float).ravel() for name, v in inputs.items()}
    speed, superheat = inputs[SPEED], inputs[SUPERHEAT]
    runs = len(speed)
    value = np.column_stack([600 + 400 * speed, 30 - 12 * speed - 0.2 * superheat, superheat])
    limit = np.array([[880.0, np.nan], [13.0, np.nan], [15.0, 35.0]])
    limit = np.repeat(limit[None], runs, axis=0)
    margin = np.nanmin([value - limit[:, :, 0], limit[:, :, 1] - value], axis=0)
    verdict = np.where(margin < 0, VERDICT["breached"], VERDICT["kept"]).astype("i1")
    columns = {
        "status": np.zeros(runs, "i1"), "reason": np.array([""] * runs, object),
        "metallurgical_length": 17 * speed + 0.02 * superheat, "verdict": verdict, "value": value, "margin": margin,
        "limit": limit,
    }  # fmt: skip
    for run in failed:
        columns["status"][run], columns["reason"][run] = 1, "the section is thicker than it is wide"
        columns["verdict"][run] = VERDICT["no such limit"]
        for name in ("value", "margin", "limit", "metallurgical_length"):
            columns[name][run] = np.nan
    words = {
        "finding_label": ("surface at the straightener", "shell at mould exit", "superheat in the tundish"),
        "finding_unit": ("°C", "mm", "K"), "finding_hardness": ("hard", "hard", "soft"),
    }  # fmt: skip
    units = {SPEED: "m/min", SUPERHEAT: "K", FACTOR: "1"}
    names = ("straightener_surface", "shell_floor", "superheat_window")
    return StudyTable(
        "Bloom of formulae (invented plant)", sampling, inputs, columns, np.array([0.3, 0.7, 1.0]), names, words, units,
        BASE, "", "solidify test", "", (),
    )  # fmt: skip


def grid(failed=()):
    x, y = np.meshgrid(np.linspace(0.6, 1.1, 11), np.linspace(10, 45, 8), indexing="ij")
    return made_up({SPEED: x, SUPERHEAT: y}, failed=failed)


def strewn(inputs=2, sampling="sobol", seed=1):
    rng = np.random.default_rng(seed)
    found = {SPEED: rng.uniform(0.6, 1.1, 120), SUPERHEAT: rng.uniform(10, 45, 120)}
    found |= {FACTOR: rng.normal(1, 0.1, 120)} if inputs > 2 else {}
    return made_up(found, sampling)


def windowed(table, **options):
    return draw_window(table, operating_window(table, quantity(table, "metallurgical_length"), **options))


STUDIES = {
    "grid": grid(),
    "strewn": strewn(),
    "three inputs": strewn(3),
    "failures": grid(failed=(3, 40)),
}


@cache
def drawn_study(name):
    return draw_answers(STUDIES[name])


@pytest.mark.parametrize("name", STUDIES)
def test_no_text_overlaps_or_leaves_the_figure(name):
    for figure in drawn_study(name).values():
        assert misplaced(figure) == []


def lines_of(figure, gid):
    return [p.vertices for p in artist(figure, gid).get_paths() if len(p.vertices)]


@pytest.mark.parametrize("table", [grid(), strewn()], ids=["grid", "strewn"])
def test_limit_lines_lie_where_the_limit_is(table):
    """600 + 400 v = 880 at 0.7 m/min; 30 - 12 v - 0.2 T = 13: both straight, and read so between the runs."""
    figure = windowed(table)
    (slow,) = lines_of(figure, "limit straightener_surface")
    np.testing.assert_allclose(slow[:, 0], 0.7, atol=1e-3)
    for points in lines_of(figure, "limit shell_floor"):
        np.testing.assert_allclose(12 * points[:, 0] + 0.2 * points[:, 1], 17, atol=5e-3)
    (window,) = [ax for ax in figure.axes if ax.get_label() == "window"]
    assert window.get_xlabel() == "casting speed, m/min"
    assert window.get_ylabel() == "superheat, K"


def pixel(figure, ax, x, y):
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    u, v = ax.transData.transform((x, y))
    image = np.asarray(canvas.buffer_rgba())
    patch = image[image.shape[0] - int(v) - 6 : image.shape[0] - int(v) + 6, int(u) - 6 : int(u) + 6, :3]
    return patch.reshape(-1, 3) / 255


def test_what_keeps_every_hard_limit_is_tinted_and_the_rest_hatched():
    figure = windowed(grid())
    ax = panel(figure, "window")
    inside, beyond = pixel(figure, ax, 0.83, 22.3), pixel(figure, ax, 1.03, 42.3)
    assert to_hex(np.median(inside, axis=0)) == WATER.lower()
    assert to_hex(np.median(beyond, axis=0)) == "#ffffff"
    assert len({to_hex(c) for c in beyond}) > 1  # the strokes of the hatching


def test_ticks_stand_on_the_side_beyond_a_hard_limit():
    """More ink lies on the forbidden side of each line: left of the slow one, right of the fast one."""
    x, y = np.meshgrid(np.linspace(0.6, 1.1, 11), [20.0, 20.01], indexing="ij")
    figure = windowed(made_up({SPEED: x, SUPERHEAT: y}))
    figure.set_dpi(200)
    ax = panel(figure, "window")
    for shade in figure.findobj(lambda a: a.get_gid() == "a hard limit is breached"):
        shade.remove()
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    dark = np.asarray(canvas.buffer_rgba())[:, :, :3].sum(axis=2) < 200
    for border, side in ((0.7, -1), (13.0 / 12.0, 1)):
        u, low = ax.transData.transform((border, 20.001))
        high = ax.transData.transform((border, 20.009))[1]
        rows = dark[int(dark.shape[0] - high) : int(dark.shape[0] - low)]
        left, right = rows[:, int(u) - 8 : int(u) - 3].sum(), rows[:, int(u) + 4 : int(u) + 9].sum()
        assert (right - left) * side > 100


def test_every_limit_that_crosses_the_window_is_named_and_no_other():
    words = " ".join(t.replace("\n", " ") for t in texts(windowed(grid())))
    assert "surface at the straightener" in words
    assert "shell at mould exit" in words
    assert "superheat in the tundish" in words
    x, y = np.meshgrid(np.linspace(0.75, 0.85, 5), np.linspace(20, 30, 4), indexing="ij")
    inside = " ".join(texts(windowed(made_up({SPEED: x, SUPERHEAT: y}))))
    assert "shell at mould exit" not in inside


def test_a_limit_that_no_line_can_show_is_named():
    """Above 0.75 m/min the hard limit of the straightener holds, below 0.69 it is breached wherever one looks."""
    x, y = np.meshgrid(np.linspace(0.5, 0.69, 5), np.linspace(10, 45, 8), indexing="ij")
    slow = windowed(made_up({SPEED: x, SUPERHEAT: y}))
    told = "breached everywhere: surface at the straightener (hard)"
    assert told in " ".join(texts(slow)).replace("\n", " ")
    assert "breached everywhere" not in " ".join(texts(windowed(grid()))).replace("\n", " ")


def test_every_bin_of_the_legend_has_a_colour_of_its_own():
    """End of solidification 11.6 to 18.8 m, by the metre: more bins than the field has colours."""
    rng = np.random.default_rng(3)
    inputs = {
        SPEED: rng.uniform(0.66, 1.06, 60),
        SUPERHEAT: rng.uniform(10, 45, 60),
        FACTOR: rng.normal(1, 0.1, 60),
    }
    figure = windowed(made_up(inputs, "sobol"))
    colours = artist(figure, "runs").get_cmap()
    assert len(FIELD) < colours.N
    assert len({to_hex(colours(i)) for i in range(colours.N)}) == colours.N
    assert [to_hex(colours(i)).upper() for i in (0, colours.N - 1)] == [FIELD[0], FIELD[-1]]


def test_contours_are_those_of_the_quantity():
    """17 v + 0.02 T on each line is its level."""
    figure = windowed(grid())
    drawn = artist(figure, "quantity")
    for level, path in zip(drawn.levels, drawn.get_paths(), strict=True):
        points = path.vertices
        np.testing.assert_allclose(17 * points[:, 0] + 0.02 * points[:, 1], level, atol=2e-3)
    assert {t for t in texts(figure) if t.endswith(" m")}


def test_the_case_is_marked_where_it_lies_in_the_window():
    line = artist(windowed(grid()), "case")
    assert (line.get_xdata()[0], line.get_ydata()[0]) == (0.8, 28)
    x, y = np.meshgrid([0.9, 1.0], [20, 30], indexing="ij")
    assert "the case" not in texts(windowed(made_up({SPEED: x, SUPERHEAT: y})))


def test_failed_runs_are_crossed_counted_and_named():
    figure = windowed(STUDIES["failures"])
    assert len(artist(figure, "failed").get_xdata()) == 2
    words = " ".join(
        t.replace("\n", " ") for t in texts(draw_spread(STUDIES["failures"], quantity(grid(), "shell_floor")))
    )
    assert "2 failed" in words
    assert "the section is thicker" in words


def test_runs_that_differ_in_more_are_drawn_one_by_one_with_what_varied_too():
    table = strewn(3)
    figure = windowed(table, across=SPEED, up=SUPERHEAT)
    points = artist(figure, "runs").get_offsets()
    assert len(points) == 120
    crossed = len(artist(figure, "breached").get_xdata())
    assert crossed == (table.columns["verdict"][:, :2] == VERDICT["breached"]).any(axis=1).sum()
    words = " ".join(t.replace("\n", " ") for t in texts(figure))
    assert "varied too, from run to run: mould heat flux factor" in words
    assert "shell at mould exit" in words
    assert not figure.findobj(lambda a: a.get_gid() == "quantity")
    figure.draw_without_rendering()
    used = {to_hex(c) for c in artist(figure, "runs").get_facecolors()}
    assert used <= {c.lower() for c in FIELD}


def test_the_histogram_counts_the_runs_and_the_limit_stands_where_it_is():
    table = strewn()
    figure = draw_spread(table, quantity(table, "shell_floor"))
    ax = panel(figure, "spread")
    assert sum(bar.get_height() for bar in ax.patches) == 120
    words = texts(figure)
    assert "shell at mould exit, hard: ≥ 13.0 mm" in words
    middle = float(np.median(table.columns["value"][:, 1]))
    assert f"half of the runs below {middle:.1f} mm" in words


def test_shares_are_drawn_with_their_intervals_or_without():
    table = strewn()
    figure = draw_spread(table, quantity(table, "shell_floor"))
    found = [b for b in violations(table) if b.breached or b.hardness == "hard"]
    drawn = [a.get_xdata() for a in figure.findobj(lambda a: a.get_gid() == "interval")]
    np.testing.assert_allclose(drawn, [[100 * b.low, 100 * b.high] for b in found])
    assert f"{found[0].breached} of 120" in " ".join(texts(figure))
    figure = draw_spread(grid(), quantity(grid(), "shell_floor"))
    assert not figure.findobj(lambda a: a.get_gid() == "interval")
    assert any("no probabilities" in t for t in texts(figure))


def test_bars_are_as_long_as_the_effects_the_longest_first():
    table = strewn(3)
    found = [effects(table, quantity(table, name)) for name in ("metallurgical_length", "shell_floor")]
    figure = draw_effects(table, found)
    for own in found:
        ax = panel(figure, f"effects {own.quantity.name}")
        bars = [p for p in ax.patches if (p.get_gid() or "").startswith("effect ")]
        assert [p.get_width() for p in bars] == pytest.approx([e.change for e in own.rows])
        assert [p.get_gid().removeprefix("effect ") for p in bars] == [e.input for e in own.rows]
    assert misplaced(figure) == []


def test_indices_are_drawn_as_they_are():
    rng = np.random.default_rng(2)
    shape = (16, 5)
    inputs = {n: rng.uniform(low, high, shape).ravel() for n, low, high in
              ((SPEED, 0.6, 1.1), (SUPERHEAT, 10, 45), (FACTOR, 0.9, 1.1))}  # fmt: skip
    table = made_up(inputs, "sobol indices")
    (found,) = sobol_shares(table, [quantity(table, "metallurgical_length")])
    figure = draw_indices(table, [found])
    ax = panel(figure, "indices metallurgical_length")
    widths = np.array([p.get_width() for p in ax.patches]).reshape(3, 2)
    np.testing.assert_allclose(widths, np.column_stack([found.first[:, 0], found.total[:, 0]]))
    assert misplaced(figure) == []


def test_every_picture_names_the_invented_plant_and_gives_no_permission():
    for name in STUDIES:
        for figure in drawn_study(name).values():
            words = " ".join(t.replace("\n", " ") for t in texts(figure))
            assert "invented plant" in words, name
            assert "no permission to cast" in words


def test_pictures_are_the_same_bytes_every_time():
    first, second = drawn_study("grid"), draw_answers(grid())
    for name in first:
        assert picture_bytes(first[name], "svg") == picture_bytes(second[name], "svg")


def test_one_input_alone_is_drawn_as_a_line_with_the_limits_it_crosses():
    """600 + 400 v = 880 at 0.7 m/min, 30 - 12 v - 5.6 = 13 at 0.95; the end of solidification along 17 v + 0.56."""
    table = made_up({SPEED: np.linspace(0.6, 1.1, 6), SUPERHEAT: [28.0] * 6})
    figures = draw_answers(table)
    assert set(figures) == {"line", "spread", "effects"}
    figure = figures["line"]
    assert misplaced(figure) == []
    for name, speed in (("straightener_surface", 0.7), ("shell_floor", 0.95)):
        (line,) = lines_of(figure, f"limit {name}")
        np.testing.assert_allclose(line[:, 0], speed, atol=1e-3)
    drawn = artist(figure, "quantity")
    np.testing.assert_allclose(drawn.get_ydata(), 17 * drawn.get_xdata() + 0.56, rtol=1e-9)
    case = artist(figure, "case")
    assert (case.get_xdata()[0], case.get_ydata()[0]) == pytest.approx((0.8, 17 * 0.8 + 0.56))
    own = quantity(table, "shell_floor")
    edges = draw_line(table, operating_line(table, own)).findobj(lambda a: a.get_gid() == "edge")
    assert len(edges) == len(own.bounds) == 1


def test_a_line_wants_one_number_and_nothing_else():
    assert operating_line(grid(), quantity(grid(), "metallurgical_length")) is None


def test_the_verb_knows_a_study_from_a_result_and_says_all_that_is_wrong(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    case = read_case(CASES / "bloom.toml")
    run_study(make_study(case, {SPEED: [0.7, 0.8, 0.9], SUPERHEAT: [20, 30, 40]}), "s.h5")
    assert main(["plot", "s.h5", "-o", "pictures"]) == 0
    assert {p.name for p in Path("pictures").iterdir()} == {"s-window.png", "s-spread.png", "s-effects.png"}
    wrong = [
        "--of",
        "metalurgical_length",
        "--across",
        "casting.sped_m_per_min",
        "--at",
        "section.width_mm=300",
    ]
    assert main(["plot", "s.h5", "-o", "none", *wrong]) == 2
    said = capsys.readouterr().err
    assert "did you mean 'metallurgical_length'" in said
    assert f"did you mean {SPEED!r}" in said
    assert "section.width_mm: is no further input" in said
    assert not Path("none").exists()
    assert main(["plot", "s.h5", "--at", "wide"]) == 2
    assert "KEY=VALUE" in capsys.readouterr().err
    assert main(["run", str(CASES / "bloom.toml"), "--no-pictures"]) == 0
    assert main(["plot", "bloom.h5", "--of", "metallurgical_length"]) == 2
    assert "bloom.h5 is no study" in capsys.readouterr().err
    Path("words.h5").write_text("neither")
    assert main(["plot", "words.h5"]) == 2


def test_pictures_of_the_demo_bloom_s_own_scatter_are_clean(tmp_path):
    """What the plant's input errors do to the demo bloom, drawn in every picture."""
    vary = {
        SUPERHEAT: {"mean": 28, "sd": 3}, SPEED: {"mean": 0.75, "sd": 0.03}, FACTOR: {"mean": 1, "sd": 0.1},
        'zone."spray 1".spray_factor': {"low": 0.8, "high": 1.2},
    }  # fmt: skip
    study = make_study(read_case(CASES / "bloom.toml"), vary, sampling="sobol indices", runs=8)
    run_study(study, tmp_path / "s.h5")
    figures = draw_answers(load_study(tmp_path / "s.h5"))
    assert set(figures) == {"window", "spread", "effects", "indices"}
    for figure in figures.values():
        assert misplaced(figure) == []


def test_no_window_opens():
    code = "import sys, solidify.plots.answers; assert 'matplotlib.pyplot' not in sys.modules"
    subprocess.run([sys.executable, "-c", code], check=True)
