"""Overlaid pictures: the results' lines, told apart in grey and named at their ends; points where measured."""

import math
from pathlib import Path

import numpy as np
import pytest
from matplotlib.collections import LineCollection
from matplotlib.colors import to_rgb

import solidify
from solidify.analysis.measured import Point
from solidify.case import parse_case
from solidify.errors import InputError
from solidify.plots.embedded import narrow_sheet, svg_address, svg_text
from solidify.plots.overlay import MOST, draw_overlay
from solidify.plots.strand import draw_strand
from solidify.strand.solve import solve

SHIPPED = Path(solidify.__file__).parent / "data" / "cases"


def solved(name, **changes):
    case = parse_case((SHIPPED / f"{name}.toml").read_text(encoding="utf-8"), f"{name}.toml")
    return solve(case.replace(changes) if changes else case)


@pytest.fixture(scope="module")
def strands():
    loose = {'zone."spray 5".water_at_speed': None, 'zone."spray 5".water_loose_L_per_min': 90,
             'zone."spray 5".water_fixed_L_per_min': 40}  # fmt: skip
    return {
        "bloom": solved("bloom"),
        "faster": solved("bloom", **{"casting.speed_m_per_min": 0.9}),
        "longer": solved("bloom", **{"machine.cutoff_m": 28.0}),
        "two sides": solved("slab", **loose),
        "slab": solved("slab"),
        "billet": solved("billet"),
    }


POINTS = (
    Point(0.6, "shell_mm", 17.5, 1.0, 0.7, "tracer", "", "points.csv:2"),
    Point(5.0, "shell_mm", 60.0, math.nan, 0.3, "drained shell", "", "points.csv:3"),
    Point(15.5, "surface_C", 985.0, 15.0, math.nan, "pyrometer", "", "points.csv:4"),
)


def axes(figure, label):
    (found,) = (ax for ax in figure.axes if ax.get_label() == label)
    return found


def curve(figure, label, gid):
    (line,) = (line for line in axes(figure, label).lines if line.get_gid() == gid)
    return line


def words(figure):
    return [text.get_text() for text in figure.texts]


def boxes(figure):
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    renderer = FigureCanvasAgg(figure).get_renderer()
    return [(t.get_text(), t.get_window_extent(renderer)) for t in figure.texts]


def test_lines_are_those_of_the_results(strands):
    pair = [strands["bloom"], strands["faster"]]
    figure = draw_overlay(pair, ["before", "after"])
    for result, name in zip(pair, ("before", "after"), strict=True):
        surface = curve(figure, "surface temperature", f"surface {name}")
        np.testing.assert_array_equal(surface.get_xdata(), result.distance)
        np.testing.assert_array_equal(surface.get_ydata(), result.surface_temperature[0])
        shell = curve(figure, "shell", f"shell {name} 0.7")
        n = len(shell.get_xdata())
        np.testing.assert_allclose(shell.get_ydata(), 1e3 * result.shell_thickness[0, 1, :n])


def test_every_strand_is_named_at_its_end_in_both_panels(strands):
    names = list(strands)
    figure = draw_overlay(list(strands.values()), names)
    text = "\n".join(words(figure))
    for name, result in strands.items():
        sides = [name] if len(result.sides) == 1 else [f"{name}, loose", f"{name}, fixed"]
        for i, side in enumerate(sides):
            assert f"{side}\n{result.surface_temperature[i, -1]:.0f} °C" in text
        assert f"{name}, fixed: " not in text
        assert f"{name}: " in text  # two sides meet at one place, and one name stands for both


def test_lines_are_told_apart_without_colour(strands):
    figure = draw_overlay(list(strands.values()), list(strands))
    lines = [
        line
        for line in axes(figure, "surface temperature").lines
        if (line.get_gid() or "").startswith("surface")
    ]
    looks = {(str(line._unscaled_dash_pattern), round(line.get_linewidth(), 2)) for line in lines}
    assert len(looks) == len(lines) == MOST + 1


def test_lines_stand_out_from_the_paper(strands):
    figure = draw_overlay(list(strands.values()), list(strands))
    for ax in (axes(figure, "shell"), axes(figure, "surface temperature")):
        for line in ax.lines:
            assert np.dot(to_rgb(line.get_color()), (0.2126, 0.7152, 0.0722)) < 0.6


@pytest.mark.parametrize("count", [1, 2, 4, 6])
def test_no_text_covers_another_and_none_leaves_the_sheet(strands, count):
    names = [f"{name} with a longer name" for name in list(strands)[:count]]
    figure = draw_overlay(
        list(strands.values())[:count], names, POINTS if "two" not in "".join(names) else ()
    )
    found = boxes(figure)
    width, height = figure.get_size_inches() * figure.dpi
    for text, box in found:
        assert box.x0 > -1, text
        assert box.x1 < width + 1, text
        assert box.y0 > -1, text
        assert box.y1 < height + 1, text
    for i, (text, a) in enumerate(found):
        for other, b in found[i + 1 :]:
            apart = a.x1 <= b.x0 + 1 or b.x1 <= a.x0 + 1 or a.y1 <= b.y0 + 1.5 or b.y1 <= a.y0 + 1.5
            assert apart, (text, other)


def test_measured_points_stand_where_they_were_measured_with_their_bars(strands):
    figure = draw_overlay([strands["bloom"]], ["bloom"], POINTS)
    shell, surface = axes(figure, "shell"), axes(figure, "surface temperature")
    drawn = {(float(line.get_xdata()[0]), float(line.get_ydata()[0])): line.get_marker()
             for ax in (shell, surface) for line in ax.lines if len(line.get_xdata()) == 1}  # fmt: skip
    signs = [drawn[p.distance, p.value] for p in POINTS]
    assert len(set(signs)) == 3
    bars = [
        s
        for ax in (shell, surface)
        for c in ax.collections
        if isinstance(c, LineCollection)
        for s in c.get_segments()
    ]
    spans = sorted(tuple(np.asarray(s)[:, 1]) for s in bars if len(s) == 2 and s[0][0] == s[1][0])
    assert spans == [(16.5, 18.5), (970.0, 1000.0)]
    text = words(figure)
    assert "tracer, 0.7" in text
    assert "drained shell, 0.3" in text
    assert "pyrometer" in text


def test_shells_are_drawn_at_every_solid_fraction_measured(strands):
    figure = draw_overlay([strands["bloom"]], ["bloom"], POINTS)
    gids = {line.get_gid() for line in axes(figure, "shell").lines}
    assert {"shell bloom 0.7", "shell bloom 0.3"} <= gids
    assert "shell bloom 1" not in gids
    assert "shell at solid fraction 0.7 and 0.3" in words(figure)


def test_the_ruler_is_the_longest_strand_s_and_says_whose_zones_it_shows(strands):
    figure = draw_overlay([strands["bloom"], strands["longer"]], ["bloom", "longer"])
    assert axes(figure, "ruler").get_xlim() == (0.0, 28.0)
    assert axes(figure, "shell").get_xlim() == (0.0, 28.0)
    assert "zones and water of the ruler: longer" in " ".join(words(figure)).replace("\n", " ")
    alone = draw_overlay([strands["bloom"]] * 2, ["a", "b"])
    assert "zones and water of the ruler" not in " ".join(words(alone))


def test_more_strands_than_can_be_told_apart_are_refused(strands):
    with pytest.raises(InputError, match="in several pictures"):
        draw_overlay([strands["bloom"]] * (MOST + 1), ["x"] * (MOST + 1))
    with pytest.raises(InputError, match="0 strands"):
        draw_overlay([], [])
    with pytest.raises(InputError, match="1 strands, 2 names"):
        draw_overlay([strands["bloom"]], ["a", "b"])


# Pictures inside a page


def test_a_picture_for_a_page_is_small_and_the_same_each_time(strands):
    texts = {svg_text(draw_strand(strands["slab"])) for _ in range(2)}
    assert len(texts) == 1
    (text,) = texts
    assert text.startswith("<svg")
    assert len(text) < 100_000
    assert "<metadata" not in text


def test_an_address_may_stand_in_any_attribute(strands):
    address = svg_address(draw_strand(strands["bloom"]))
    assert address.startswith("data:image/svg+xml,")
    assert not set(address) & set(' \n"<>&#')


def test_lighter_outlines_look_the_same(strands):
    """No edge moves by more than a ninth of a pixel, so no area changes by more than that times its outline."""
    from matplotlib.collections import PolyCollection

    before, after = draw_strand(strands["slab"]), draw_strand(strands["slab"])
    svg_text(after)
    for full, light in zip(before.findobj(PolyCollection), after.findobj(PolyCollection), strict=True):
        (a,), (b,) = full.get_paths(), light.get_paths()
        a, b = (full.get_transform().transform(p.vertices) for p in (a, b))
        assert len(b) < len(a)
        area = [
            0.5 * abs(np.dot(v[:, 0], np.roll(v[:, 1], 1)) - np.dot(v[:, 1], np.roll(v[:, 0], 1)))
            for v in (a, b)
        ]
        outline = np.hypot(*np.diff(a, axis=0).T).sum()
        assert area[1] == pytest.approx(area[0], abs=outline / 9)


def test_words_that_look_like_coordinates_are_left_alone(strands):
    figure = draw_strand(strands["bloom"])
    figure.texts[0].set_text("d = 1.23456 <path d='0.98765'")
    assert "1.23456" in svg_text(figure)
    assert "0.98765" in svg_text(figure)


def test_a_phone_gets_a_tall_sheet_taller_for_two_sides(strands):
    one, two = (narrow_sheet(strands[n]).get_size_inches() for n in ("bloom", "two sides"))
    assert one[1] > 2 * one[0]
    assert two[1] > one[1]
