"""Pictures: what is drawn equals the result, nothing overlaps, and equal pictures are equal files.

The strands here are made of simple formulae (a root law for the shell, straight and curved pieces for the
temperatures) for invented plants, so that every awkward layout can be had; they are not marched.
"""

import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from drawn import artist, covered, misplaced, panel, texts, visible_boxes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import LineCollection, PolyCollection
from matplotlib.colors import to_hex, to_rgb
from matplotlib.figure import Figure
from matplotlib.text import Text

import solidify
from solidify.analysis import handbook
from solidify.assessment.breakout import BreakoutRisk
from solidify.assessment.judge import Finding, Judgement
from solidify.errors import InputError
from solidify.plots import (
    draw_strand,
    palette,
    plot_heat,
    plot_section,
    plot_shell,
    plot_steel,
    plot_temperature,
    save_pictures,
)
from solidify.plots.palette import number, span
from solidify.plots.pictures import picture_bytes
from solidify.plots.sheet import broken, spread, text_size
from solidify.plots.shell import handbook_shell
from solidify.plots.temperature import reheating
from solidify.strand.result import Balance, MouldResult, Result, ZoneResult

CASES = Path(__file__).parents[2] / "cases"
FRACTIONS = np.array([0.3, 0.7, 1.0])


def make_steel(liquidus: float = 1495.0, solidus: float = 1435.0) -> SimpleNamespace:
    t = np.unique(np.concatenate([np.linspace(20, 1700, 337), [solidus, liquidus]]))
    fs = np.clip((liquidus - t) / (liquidus - solidus), 0, 1) ** 0.8
    return SimpleNamespace(
        temperature=t,
        solid_fraction=fs,
        enthalpy=650 * (t - 20) + 270e3 * (1 - fs),
        conductivity=30.0 * (1 + 4 * (1 - fs)),
        shrinkage=1.9e-5 * (t - solidus),
        liquidus=liquidus,
        solidus=solidus,
        march_density=7400.0,
        latent_heat=270e3,
        steel_class="medium carbon",
        composition={"C": 0.45, "Mn": 0.7},
        temperatures={
            "zero strength": solidus + 20,
            "liquid impenetrable": solidus + 12,
            "zero ductility": solidus + 2,
            "A3": 780.0,
            "peritectic start": float("nan"),
        },
    )


def make_shells(time: np.ndarray, thickness: float, k: tuple[float, ...], uneven: float) -> np.ndarray:
    """Root law, one side to the half thickness or two that meet."""
    grown = np.array(k)[:, None] * np.sqrt(time / 60) * 1e-3
    if not uneven:
        return np.minimum(grown, thickness / 2)[None]
    shells = np.array([(1 - uneven) * grown, (1 + uneven) * grown])
    for i in range(len(k)):
        met = np.flatnonzero(shells[:, i].sum(axis=0) >= thickness)
        if met.size:
            shells[0, i, met[0] :] = shells[0, i, met[0]]
            shells[1, i, met[0] :] = thickness - shells[0, i, met[0]]
    return shells


def make_result(
    title="Bloom 250 x 300 (invented plant)",
    shape="rectangle",
    thickness=0.25,
    width=0.30,
    speed=0.75,
    mould=0.6,
    zones=(("foot rolls", 0.9, 50), ("spray 1", 2.6, 90), ("spray 2", 5.2, 57), ("spray 3", 8.2, 23)),
    straightener=(15.5, 16.25, 17.0, 17.75, 18.5),
    bending=(),
    support=22.0,
    cutoff=25.0,
    k=(31.0, 28.0, 26.5),
    uneven=0.0,
    dip=60.0,
    shift=0.0,
) -> Result:
    z = np.linspace(0, cutoff, 501)
    time = z / (speed / 60)
    sides = ("loose", "fixed") if uneven else ("both",)
    shells = make_shells(time, thickness, k, uneven)
    half = thickness / 2
    done = shells.sum(axis=0) >= thickness - 1e-9 if uneven else shells[0] >= half - 1e-9
    end = float(z[np.argmax(done[2])]) if done[2].any() else float("nan")
    last = end if np.isfinite(end) else 1.3 * cutoff
    below = np.clip(z - mould, 0, None)
    surface = np.where(
        z < mould, 1510 - 430 * (z / mould) ** 0.5, 1080 - 90 * (1 - np.exp(-below / 6)) - 4 * below
    )
    surface = surface - dip * np.exp(-(((z - 3.5) / 1.2) ** 2))
    surface = np.array([surface + 15 * bool(uneven), surface - 25][: len(sides)])
    centre = np.where(
        z < last, 1500 - 60 * (z / last) ** 3, 1435 - 330 * (1 - np.exp(-(z - last).clip(0) / 5))
    )
    edges = [0.0, mould, *(end for _, end, _ in zones)]
    names = [("mould", "mould", 0.0), *((n, "zone", q / 60) for n, _, q in zones)]
    if edges[-1] < cutoff:
        edges.append(cutoff)
        names.append(("after the last zone", "open", 0.0))
    none = np.full(len(sides), np.nan)
    parts = tuple(
        ZoneResult(n, kind, a, b, water, none, none, none, none, none)
        for (n, kind, water), a, b in zip(names, edges[:-1], edges[1:], strict=True)
    )
    heat = np.zeros((len(sides), len(parts), 6))
    for i, part in enumerate(parts):
        dwell = (part.end - part.start) / (speed / 60)
        flux = {"mould": (1.4e6, 0, 0, 0), "zone": (0, 1.5e5, 8e4, 8e3), "open": (0, 0, 6e4, 7e3)}[part.kind]
        heat[:, i, :4] = np.array(flux) * dwell
    depth = np.linspace(0, thickness if uneven else half, 40)
    inward = 1 - np.abs(depth / half - 1)
    section = surface[0, ::10, None] + (centre[::10] - surface[0, ::10])[:, None] * inward
    case = SimpleNamespace(
        title=title,
        section=SimpleNamespace(shape=shape),
        casting=SimpleNamespace(speed_m_per_min=speed),
        machine=SimpleNamespace(
            straightener_m=tuple(straightener),
            bending_m=tuple(bending),
            support_end_m=support,
            cutoff_m=cutoff + shift,
        ),
        bending=tuple(bending),
        straightener=tuple(straightener),
        support_end=support,
        cutoff=cutoff,
    )
    return Result(
        case,
        make_steel(),
        "rectangle, mid-face",
        sides,
        FRACTIONS,
        z,
        time,
        surface,
        shells,
        shells.mean(axis=1),
        centre,
        np.clip((1495 - centre) / 60, 0, 1),
        surface * 0,
        surface * 0,
        z[::10],
        depth,
        section,
        section * 0,
        parts,
        MouldResult(1.4e6, 1e6, "mean flux", "", mould / (speed / 60), mould),
        1523.0,
        1523.0,
        28.0,
        half,
        thickness,
        width,
        Balance(heat, 0.0, 0.0, 0.0),
        {"metallurgical_length": end, "solidification_time": end / (speed / 60)},
        created_by="solidify 0.0",
    )


def make_finding(name, label, value, limit, unit, sense, room, verdict, hardness="hard") -> Finding:
    sign = 1 if sense == "at least" else -1
    return Finding(
        name,
        label,
        value,
        np.nan,
        np.nan,
        unit,
        limit,
        sense,
        sign * (value - limit),
        1.0,
        room,
        verdict,
        hardness,
        "",
        "practice",
        "",
    )


def make_judgement(result: Result, surface: float = 890.0) -> Judgement:
    end = float(result.summary["metallurgical_length"])
    support = 100 * end / result.case.machine.support_end_m if np.isfinite(end) else np.inf
    coldest = min(
        (float(result.at(result.surface_temperature[0], z)) for z in result.case.machine.straightener_m),
        default=np.nan,
    )
    liquid = "still liquid at the cut-off"
    found = [
        make_finding(
            "shell_floor", "shell at mould exit", 17.2, 13.0, "mm", "at least", "4.2 mm room", "kept"
        ),
        make_finding(
            "last_liquid_support",
            "last liquid against last support",
            support,
            90.0,
            "%",
            "at most",
            "26 % room" if np.isfinite(end) else liquid,
            "kept" if support <= 90 else "breached",
        ),
        make_finding(
            "last_liquid_cutoff",
            "solid length before the cut-off",
            result.distance[-1] - end,
            0.0,
            "m",
            "at least",
            "10.9 m room" if np.isfinite(end) else liquid,
            "kept" if np.isfinite(end) else "breached",
        ),
        make_finding(
            "straightener_surface",
            "surface at the straightener",
            coldest,
            surface,
            "degC",
            "at least",
            f"{abs(coldest - surface):.0f} K {'room' if coldest > surface else 'beyond'}",
            "kept" if coldest > surface else "breached",
        ),
        make_finding(
            "surface_ceiling",
            "highest surface",
            1080.0,
            1150.0,
            "degC",
            "at most",
            "70 K room",
            "kept",
            "soft",
        ),
        make_finding(
            "reheating_total", "reheating", 40.0, 100.0, "K", "at most", "60 K room", "kept", "soft"
        ),
    ]
    return Judgement(tuple(found), BreakoutRisk("no reason found", ()))


SLAB_ZONES = (
    ("foot rolls", 1.15, 313),
    ("zone 1", 2.4, 450),
    ("zone 2", 4.6, 409),
    ("zone 3", 8.0, 347),
    ("zone 4", 12.4, 251),
    ("zone 5", 17.6, 140),
    ("zone 6", 24.0, 77),
)
SLAB = {
    "shape": "slab",
    "thickness": 0.22,
    "width": 1.5,
    "speed": 1.2,
    "mould": 0.8,
    "zones": SLAB_ZONES,
    "straightener": (15.2, 16.1, 17.1, 18.0, 19.0),
    "bending": (2.5, 3.0, 3.5, 4.0),
    "support": 27.0,
    "cutoff": 31.0,
    "k": (29.0, 26.0, 25.0),
}
STRANDS = {
    "bloom": {},
    "slab": SLAB,
    "billet": {
        "thickness": 0.13,
        "width": 0.13,
        "speed": 2.9,
        "mould": 0.8,
        "dip": 150.0,
        "straightener": (12.6, 14.5),
        "zones": (
            ("foot rolls", 1.1, 76),
            ("spray 1", 3.0, 239),
            ("spray 2", 5.6, 172),
            ("spray 3", 8.2, 62),
        ),
        "support": 16.0,
        "cutoff": 22.0,
        "k": (32.0, 29.0, 28.0),
    },
    "unequal sides": SLAB | {"uneven": 0.1},
    "liquid at the cut-off": SLAB | {"thickness": 0.30, "speed": 1.6, "zones": SLAB_ZONES[:4]},
    "small zones": {
        "zones": (
            ("foot rolls", 0.75, 50),
            ("ring a", 0.9, 30),
            ("ring b", 1.05, 30),
            ("ring c", 1.2, 0),
            ("ring d", 1.35, 30),
            ("spray 1", 2.6, float("nan")),
            ("spray 2", 5.2, 57),
            ("spray 3", 5.4, 23),
        ),
    },
    "long names": {
        "zones": (
            ("foot rolls with flat nozzles, loose and fixed", 0.9, 50),
            ("upper ring with full-cone nozzles", 2.6, 90),
            ("second secondary cooling zone of segment one", 5.2, 57),
            ("incomprehensibilities-of-mist", 8.2, 23),
        ),
        "title": "A bloom whose title runs on for longer than a title has any reason to run, to the end " * 2,
        "straightener": (15.5,),
    },
    "short machine": {
        "thickness": 0.16,
        "width": 0.16,
        "speed": 1.9,
        "zones": (("foot rolls", 0.9, 50),),
        "straightener": (),
        "support": 12.0,
        "cutoff": 14.0,
        "k": (33.0, 30.5, 29.6),
    },
}
DRAWINGS = [draw_strand, plot_shell, plot_temperature, plot_heat, plot_section]


@pytest.fixture(scope="module", params=STRANDS)
def strand(request) -> tuple[Result, Judgement]:
    result = make_result(**STRANDS[request.param])
    return result, make_judgement(result)


@pytest.fixture(scope="module")
def bloom() -> tuple[Result, Judgement]:
    result = make_result()
    return result, make_judgement(result)


@pytest.mark.parametrize("draw", DRAWINGS)
def test_no_text_overlaps_leaves_the_figure_or_lies_under_a_line(strand, draw):
    """A figure in a plant report is read without a second copy at hand."""
    result, judgement = strand
    figure = draw(result, judgement)
    assert misplaced(figure) == []
    assert covered(figure) == []


def test_no_text_overlaps_without_a_judgement(bloom):
    assert misplaced(draw_strand(bloom[0])) == []


@pytest.mark.parametrize("size", [(10.0, 5.63), (6.3, 7.5)])
def test_no_text_overlaps_at_other_sizes(strand, size):
    """A slide of 16:9, and a narrow column."""
    result, judgement = strand
    assert misplaced(draw_strand(result, judgement, Figure(figsize=size))) == []


@pytest.mark.parametrize("name", ["bloom", "slab", "billet"])
def test_demo_cases_are_drawn_clean(name):
    """The marched strands of the shipped cases, in every picture."""
    result = solidify.solve(solidify.read_case(CASES / f"{name}.toml"))
    judgement = solidify.judge(result)
    for draw in DRAWINGS:
        figure = draw(result, judgement)
        assert misplaced(figure) == []
        assert covered(figure) == []
    assert misplaced(plot_steel(result.steel)) == []


def colours(figure: Figure, spots: list[tuple[float, float]]) -> list[str]:
    """Return the colour printed at places of the shell panel, distance [m] and depth [mm]."""
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    pixels = np.asarray(canvas.buffer_rgba())
    at = panel(figure, "shell").transData.transform(spots).astype(int)
    return [to_hex(pixels[len(pixels) - 1 - y, x] / 255).upper() for x, y in at]


@pytest.mark.parametrize("name", ["bloom", "unequal sides"])
def test_tints_mark_what_is_solid(name):
    """Liquid is paper, the freezing band dark, the solid pale; on both sides of a whole thickness."""
    result = make_result(**STRANDS[name])
    z = 8.0
    middle, front = [], 1e3 * result.at(result.shell_thickness, z)
    for side, (s3, s7, s10) in enumerate(front):
        depths = np.array([0.5 * s10, 0.5 * (s10 + s7), 0.5 * (s7 + s3), s3 + 5])
        middle += [(z, d) for d in (220 - depths if side else depths)]
    wanted = [palette.SOLID, palette.BAND, palette.BAND_EDGE, palette.PAPER]
    assert colours(plot_shell(result), middle) == wanted * len(result.sides)


def test_overlap_is_found():
    """The check itself must be able to fail."""
    figure = Figure(figsize=(4, 3))
    figure.text(0.5, 0.5, "one text")
    figure.text(0.52, 0.5, "another")
    figure.text(0.98, 0.1, "over the edge")
    assert len(misplaced(figure)) == 2


def test_type_is_large_enough_for_print(strand):
    """At 180 mm width nothing is smaller than 7 pt."""
    result, judgement = strand
    figure = draw_strand(result, judgement)
    assert figure.get_size_inches()[0] * 25.4 == pytest.approx(180.0)
    assert min(t.get_fontsize() for t in figure.findobj(Text) if t.get_text().strip()) >= 7.0


def test_ruler_names_zones_with_their_water(bloom):
    found = texts(draw_strand(*bloom))
    for words in (
        "mould",
        "foot rolls\n50 L/min",
        "spray 1\n90 L/min",
        "spray 2\n57 L/min",
        "spray 3\n23 L/min",
    ):
        assert words in found
    assert "m from the\nmeniscus" in found


def test_ruler_says_dry_and_not_given():
    found = texts(draw_strand(make_result(**STRANDS["small zones"])))
    assert "ring c\ndry" in found
    assert "spray 1\nwater not given" in found


@pytest.mark.parametrize("draw", [draw_strand, plot_shell, plot_temperature, plot_section])
def test_each_panel_carries_the_ruler(bloom, draw):
    """A panel saved alone still tells where the machine's points are."""
    found = texts(draw(*bloom))
    for words in ("straightener\n15.5–18.5 m", "last support\n22 m", "cut-off\n25 m", "foot rolls\n50 L/min"):
        assert words in found


def test_ruler_strip_is_drawn_to_scale(bloom):
    result, _ = bloom
    figure = draw_strand(*bloom)
    for zone in result.zones:
        strip = artist(figure, f"zone {zone.name}")
        assert (strip.get_x(), strip.get_width()) == pytest.approx((zone.start, zone.end - zone.start))
    assert {tuple(ax.get_xlim()) for ax in (panel(figure, n) for n in ("shell", "ruler", "temperature"))} == {
        (0, 25.0)
    }


def test_no_border_runs_through_a_number_of_the_ruler():
    """Borders at whole metres, where the numbers stand: these step aside, the ticks stay."""
    figure = draw_strand(make_result(zones=(("a", 2.0, 50), ("b", 4.0, 90), ("c", 8.0, 57))))
    borders = [artist(figure, f"zone {name}").get_window_extent().x1 for name in ("mould", "a", "b", "c")]
    strip = artist(figure, "zone a").get_window_extent()
    numbers = [
        (text, box) for text, box in visible_boxes(figure) if text.isdigit() and strip.y0 < box.y0 < strip.y1
    ]
    assert {"2", "4", "6", "8"} <= {text for text, _ in numbers}
    for text, box in numbers:
        assert not any(box.x0 < border < box.x1 for border in borders), text


def test_ruler_counts_from_the_meniscus():
    """Distances given from the top of the mould are turned by the case."""
    result = make_result(shift=0.1)
    assert "cut-off\n25 m" in texts(draw_strand(result))


def test_bending_points_are_bracketed():
    assert "bending\n2.5–4 m" in texts(draw_strand(make_result(**SLAB)))


def test_last_liquid_is_pinned_with_metres_and_minutes(bloom):
    result, judgement = bloom
    figure = draw_strand(result, judgement)
    end = result.summary["metallurgical_length"]
    minutes = result.summary["solidification_time"] / 60
    assert f"end of solidification\n{end:.1f} m, {minutes:.1f} min" in texts(figure)
    (x,), (y,) = artist(figure, "end of solidification").get_data()
    assert (x, y) == pytest.approx((end, 125.0))


def test_liquid_at_the_cutoff_is_said():
    result = make_result(**STRANDS["liquid at the cut-off"])
    found = texts(draw_strand(result, make_judgement(result)))
    share = float(result.centre_solid_fraction[-1])
    assert f"liquid core at the cut-off,\ncentre {share:.2f} solid" in found
    assert not any("end of solidification" in words for words in found)
    assert any("still liquid" in words for words in found)


def test_shell_lines_equal_the_result(bloom):
    result, judgement = bloom
    figure = draw_strand(result, judgement)
    for i, fraction in enumerate(result.solid_fractions):
        z, depth = artist(figure, f"shell {fraction:g} upper").get_data()
        np.testing.assert_allclose(depth, 1e3 * result.shell_thickness[0, i, : len(depth)], rtol=1e-14)
        np.testing.assert_array_equal(z, result.distance[: len(z)])
        assert depth[-1] == pytest.approx(125.0)
    assert panel(figure, "shell").get_ylim() == (125.0, 0.0)


def test_headline_shell_is_heaviest(bloom):
    result, _ = bloom
    for headline in (0.7, 1.0):
        figure = draw_strand(replace(result, headline=headline))
        width = {f: artist(figure, f"shell {f:g} upper").get_linewidth() for f in FRACTIONS}
        assert max(width, key=width.get) == headline


def test_temperature_lines_equal_the_result(bloom):
    result, judgement = bloom
    figure = plot_temperature(result, judgement)
    for gid, values in (("surface", result.surface_temperature[0]), ("centre", result.centre_temperature)):
        z, t = artist(figure, gid).get_data()
        np.testing.assert_array_equal(z, result.distance)
        np.testing.assert_array_equal(t, values)
    assert artist(figure, "centre").get_linestyle() != "-"


def test_unequal_sides_are_drawn_over_the_whole_thickness():
    result = make_result(**STRANDS["unequal sides"])
    figure = draw_strand(result, make_judgement(result))
    assert panel(figure, "shell").get_ylim() == pytest.approx((220.0, 0.0))
    _, fixed = artist(figure, "shell 1 lower").get_data()
    np.testing.assert_allclose(fixed, 220.0 - 1e3 * result.shell_thickness[1, 2, : len(fixed)])
    (x,), (y,) = artist(figure, "end of solidification").get_data()
    met = 1e3 * float(result.at(result.shell_thickness[0, 2], x))
    assert y == pytest.approx(met)
    assert y < 110.0, "the weakly cooled loose side grows less than half"
    found = texts(figure)
    assert {"loose side", "fixed side"} <= set(found)
    assert artist(figure, "fixed side").get_linestyle() == "--"


def test_handbook_curve_is_the_root_law_of_the_product():
    result = make_result(**SLAB)
    z, s = artist(plot_shell(result), "handbook").get_data()
    k = handbook.k_window("slab").usual
    inside = s < 110.0
    np.testing.assert_allclose(s[inside], 1e3 * k * np.sqrt(result.time[: len(z)][inside]))
    assert handbook_shell(result)[1] == pytest.approx(k / handbook.MM_PER_SQRT_MIN)
    assert any(words.startswith("practice 26.5√t") for words in texts(plot_shell(result)))


def test_handbook_constant_follows_the_steel_and_the_section():
    square = make_result(thickness=0.2, width=0.2)
    assert handbook_shell(square)[1] == pytest.approx(
        handbook.k_window("square").usual / handbook.MM_PER_SQRT_MIN
    )
    hard = replace(square, steel=SimpleNamespace(**vars(square.steel) | {"composition": {"C": 0.8}}))
    assert handbook_shell(hard)[1] < handbook_shell(square)[1]


def test_limits_are_hatched_edges_only_with_a_judgement(bloom):
    result, judgement = bloom
    hatches = [a for a in draw_strand(result, judgement).findobj(LineCollection) if a.get_gid() == "limit"]
    assert len(hatches) == 5, "shell floor, two of the last liquid, straightener, ceiling"
    assert not [a for a in draw_strand(result).findobj(LineCollection) if a.get_gid() == "limit"]


def test_a_trough_is_tinted_between_two_edges_with_the_room_beside_the_nearer(bloom):
    result, judgement = bloom
    for margin, edge in ((120.0, 850), (-180.0, 700)):
        own = {
            "limit": (700.0, 850.0),
            "sense": "outside",
            "value": 970.0 if margin > 0 else 520.0,
            "verdict": "kept",
        }
        own |= {"margin": 120.0 if margin > 0 else 180.0, "room": "some room"}
        found = tuple(
            replace(f, **own) if f.name == "straightener_surface" else f for f in judgement.findings
        )
        figure = draw_strand(result, replace(judgement, findings=found))
        (band,) = [a for a in figure.findobj(PolyCollection) if a.get_gid() == "trough"]
        corners = band.get_paths()[0].vertices
        assert (corners[:, 1].min(), corners[:, 1].max()) == (700, 850)
        hatches = [a for a in figure.findobj(LineCollection) if a.get_gid() == "limit"]
        assert len(hatches) == 6, "both edges of the trough beside the four others"
        assert f"{edge} °C: some room" in texts(figure)


def test_limit_not_judged_is_not_drawn(bloom):
    result, judgement = bloom
    silent = tuple(replace(f, verdict="not judged", limit=np.nan, room="") for f in judgement.findings)
    figure = draw_strand(result, replace(judgement, findings=silent))
    assert not [a for a in figure.findobj(LineCollection) if a.get_gid() == "limit"]
    assert "not judged" in texts(figure)


def test_room_stands_beside_each_limit(bloom):
    found = " | ".join(texts(draw_strand(*bloom)))
    for finding in bloom[1].findings:
        assert finding.room in found


def test_inset_gives_the_three_shells_at_mould_exit(bloom):
    result, judgement = bloom
    found = " | ".join(texts(plot_shell(result, judgement)))
    for i, name in enumerate(("0.3", "0.7", "1.0")):
        shell = 1e3 * float(result.at(result.shell_thickness[0, i], 0.6))
        assert f"solid fraction {name}: {shell:.1f} mm" in found


def test_reheating_is_an_upward_arrow_with_kelvins_over_metres(bloom):
    result, judgement = bloom
    side, low, high = reheating(result)
    rise = np.diff(np.interp([low, high], result.distance, result.surface_temperature[side]))[0]
    arrow = artist(plot_temperature(result, judgement), "reheating")
    assert arrow.xy[1] - arrow.xyann[1] == pytest.approx(rise)
    assert arrow.xy[0] == arrow.xyann[0] == high
    words = f"reheating {rise:.0f} K over {number(high - low, 2)} m"
    assert any(t.startswith(words) for t in texts(plot_temperature(result, judgement)))


def test_no_arrow_without_reheating():
    figure = plot_temperature(make_result(dip=0.0))
    assert not figure.findobj(lambda a: a.get_gid() == "reheating")


def test_title_gives_case_and_worst_verdict(bloom):
    result, judgement = bloom
    found = texts(draw_strand(result, judgement))
    assert result.case.title in found
    assert any(t.startswith("kept") for t in found)
    cold = make_judgement(result, surface=1000.0)
    assert any(
        t.startswith("breached: surface at the straightener, ") for t in texts(draw_strand(result, cold))
    )


UNITS = {
    "shell": (", m", ", mm"),
    "section": (", m", ", mm"),
    "temperature": (", m", ", °C"),
    "ruler": (", m", ""),
    "heat": (", %", ""),
}
"""What the words at the two axes of a panel end with."""


def test_every_axis_has_a_unit(bloom):
    seen = set()
    for draw in DRAWINGS:
        for ax in draw(*bloom).axes:
            if ax.get_label() in UNITS:
                seen.add(ax.get_label())
                along, up = UNITS[ax.get_label()]
                assert ax.get_xlabel().endswith(along)
                assert ax.get_ylabel().endswith(up)
    assert seen == set(UNITS)


def test_heat_shares_add_up_and_follow_the_balance(bloom):
    result, _ = bloom
    figure = plot_heat(result)
    found = " | ".join(texts(figure))
    assert "100 %" in found
    mould = 100 * result.balance.heat[0, 0].sum() / result.balance.heat.sum()
    power = result.balance.heat[0, 0].sum() * 0.75 / 60 / 1e3
    assert f"{mould:.0f} %   {power:.0f} kW/m" in found
    widths = sum(p.get_width() for p in panel(figure, "heat").patches if p.get_y() < 0.3)
    assert widths == pytest.approx(100.0)


def test_the_heat_of_a_slab_is_that_of_the_strand_as_the_sheet_prints_it():
    """The heat that crosses a metre of face, times both wide faces."""
    result = make_result(**SLAB)
    found = " | ".join(texts(plot_heat(result)))
    speed = float(result.distance[-1] / result.time[-1])
    strand = result.balance.heat.mean(axis=0).sum() * speed / 1e3 * 2 * result.width
    assert f"100 %   {strand:.0f} kW |" in found
    assert "kW/m" not in found
    assert "kW of one strand, both wide faces" in found


def test_letters_that_the_type_lacks_draw_without_a_warning(tmp_path):
    """A title and a zone in Japanese: drawn, measured and saved, warnings being errors here."""
    result = make_result(
        title="鋼 250 x 300 (invented plant)", zones=(("水 1", 0.9, 50), ("spray 2", 8.2, 90))
    )
    figure = draw_strand(result)
    assert "水 1\n50 L/min" in texts(figure)
    for form in ("png", "svg", "pdf"):
        assert picture_bytes(figure, form)


def test_isotherms_are_numbered(bloom):
    result, _ = bloom
    found = texts(plot_section(result))
    for level in (1000, 1100, 1200, 1300, 1400):
        assert str(level) in found


def test_steel_curves_equal_the_steel():
    steel = make_steel()
    figure = plot_steel(steel)
    assert misplaced(figure) == []
    _, h = artist(figure, "enthalpy").get_data()
    np.testing.assert_array_equal(h, steel.enthalpy / 1e3)
    _, fs = artist(figure, "solid fraction").get_data()
    np.testing.assert_array_equal(fs, steel.solid_fraction[: len(fs)])
    found = " | ".join(texts(figure))
    for words in ("liquidus 1495 °C", "solidus 1435 °C", "zero strength 1455 °C", "zero ductility 1437 °C"):
        assert words in found
    assert "nan" not in found


def test_pictures_are_the_same_bytes_every_time(bloom):
    """A report kept under version control changes only when the result does."""
    for form in ("svg", "png", "pdf"):
        assert picture_bytes(draw_strand(*bloom), form) == picture_bytes(draw_strand(*bloom), form)


def test_svg_keeps_text_as_text_and_no_date(bloom):
    svg = picture_bytes(draw_strand(*bloom), "svg").decode()
    assert ">spray 1</" in svg or ">spray 1<" in svg
    assert "<dc:date>" not in svg


def test_reader_settings_do_not_change_the_picture(bloom):
    """Someone's own matplotlib settings must not reach a plant report."""
    import matplotlib

    usual = picture_bytes(draw_strand(*bloom), "svg")
    with matplotlib.rc_context(
        {"font.size": 20, "axes.grid": True, "lines.linewidth": 7, "svg.hashsalt": "x"}
    ):
        assert picture_bytes(draw_strand(*bloom), "svg") == usual


def test_save_writes_four_pictures_each_format(bloom, tmp_path):
    paths = save_pictures(*bloom, tmp_path, "bloom", ("png", "svg"))
    assert [p.name for p in paths] == [
        f"bloom{part}.{form}" for part in ("", "-shell", "-temperature", "-heat") for form in ("png", "svg")
    ]
    assert sorted(p.name for p in tmp_path.iterdir()) == sorted(p.name for p in paths)
    assert paths[0].read_bytes().startswith(b"\x89PNG")


def test_save_refuses_an_unknown_format_before_writing(bloom, tmp_path):
    with pytest.raises(InputError, match=r"'pngg'[\s\S]*pdf, png, svg[\s\S]*'png'"):
        save_pictures(*bloom, tmp_path, "bloom", ("pngg", "tiff"))
    assert list(tmp_path.iterdir()) == []


def test_save_refuses_a_folder_that_is_not_there(bloom, tmp_path):
    with pytest.raises(InputError, match="nowhere"):
        save_pictures(*bloom, tmp_path / "nowhere", "bloom")


def test_failed_save_keeps_the_older_picture(bloom, tmp_path, monkeypatch):
    old = tmp_path / "bloom.png"
    old.write_bytes(b"older")

    def fail(*args, **kwargs):
        raise OSError("no")

    monkeypatch.setattr(Figure, "savefig", fail)
    with pytest.raises(OSError, match="no"):
        save_pictures(*bloom, tmp_path, "bloom")
    assert old.read_bytes() == b"older"
    assert list(tmp_path.iterdir()) == [old]


def test_pyplot_stays_out():
    """Nothing is left open and no window system is asked for."""
    code = "import sys, solidify.plots; sys.exit('matplotlib.pyplot' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def grey(colour: str) -> float:
    """Return lightness of print, 0 black to 1 white (Rec. 709 luminance of linear light, cube root)."""
    rgb = np.array(to_rgb(colour))
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    return float(linear @ (0.2126, 0.7152, 0.0722)) ** (1 / 3)


def test_fills_and_lines_are_told_apart_in_grey():
    """Neighbours in a picture differ by at least 0.12 in lightness; white paper counts."""
    for row in (
        (palette.PLUM, palette.BAND, palette.BAND_EDGE, palette.SOLID),
        (palette.PLUM, palette.PETROL, palette.OCHRE, palette.WATER),
        palette.FIELD[::2],
    ):
        steps = np.diff([grey(colour) for colour in row])
        assert (steps > 0.08).all()


def test_number_and_span():
    assert [number(x) for x in (0.0, 13.8123, 22.0, 0.05, -3.25, float("nan"))] == [
        "0",
        "13.8",
        "22",
        "0.05",
        "−3.25",
        "–",
    ]
    assert span((2.5, 4.0)) == "2.5–4"


def test_spread_keeps_order_and_distance():
    places = spread([1.0, 1.0, 1.0, 9.0], [2.0, 2.0, 2.0, 2.0], 0.0, 12.0)
    np.testing.assert_allclose(places, [1.0, 3.0, 5.0, 9.0])
    assert spread([], [], 0.0, 1.0).size == 0


def test_broken_text_fits():
    words = "second secondary cooling zone of segment one with incomprehensibilities"
    text = broken(words, 20.0, lines=3)
    assert text.count("\n") == 2
    assert text_size(text)[0] <= 20.0
