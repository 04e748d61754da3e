"""The section of a case: what acts on its faces, what it says beside its slice, its file, sheet, pictures and verb."""

import dataclasses
import re

import h5py
import numpy as np
import pytest
from click.testing import CliRunner
from matplotlib.text import Text

from solidify.case import demo_case
from solidify.cli.program import commands
from solidify.errors import FileFormatError, InputError, MarchError
from solidify.plots.section_maps import plot_section_maps
from solidify.plots.section_strand import plot_section_strand
from solidify.report.section import section_text
from solidify.section import Side, Strip, march_section, section_nodes, section_table, solve_section
from solidify.solver.boundary import BoundaryCondition
from solidify.storage.section_file import LAYOUT, load_section, save_section
from solidify.strand.result import MECHANISMS
from solidify.strand.setup import case_steel
from solidify.strand.solve import solve

COARSE = {"steps.nodes": 32, "steps.output_step_m": 0.1}


def solved(changes=None, name="bloom"):
    return solve_section(demo_case(name).replace(COARSE | (changes or {})))


@pytest.fixture(scope="module")
def bloom():
    return solved()


@pytest.fixture(scope="module")
def sides():
    """More water stands on the loose side: a half section."""
    return solved({'zone."spray 2".run_off_W_per_m2K': 200.0})


def test_the_heat_of_the_mould_is_its_mean_flux_on_all_faces(bloom):
    """Mean flux x girth x working length, over the speed; what a hand calculation gives."""
    case = bloom.case
    girth = 2 * (case.thickness + case.width)
    by_hand = 1.3e6 * girth * case.working_length / case.speed
    assert bloom.balance.heat[:, 0, MECHANISMS.index("mould")].sum() == pytest.approx(by_hand, rel=2e-3)
    assert bloom.balance.heat[0, 0].sum() / bloom.balance.heat[1, 0].sum() == pytest.approx(
        300 / 250, rel=1e-3
    )


def test_the_account_of_heat_closes_and_states_what_the_steel_lost(bloom):
    """Heat removed against the enthalpy of the last map and of the pouring temperature."""
    assert bloom.balance.flux_error < 1e-11
    assert bloom.balance.recount_error < 1e-6
    assert bloom.balance.table_error < 1e-4
    case, table = bloom.case, section_table(case_steel(bloom.case))
    last = table.enthalpy(table.potential(bloom.maps[-1].temperature))
    mean = np.trapezoid(np.trapezoid(last, bloom.depth, axis=1), bloom.along) / (
        bloom.depth[-1] * bloom.along[-1]
    )
    poured = float(table.enthalpy(table.potential(solve(case).pouring_temperature)))
    assert bloom.balance.heat.sum() == pytest.approx((poured - mean) * case.section_area, rel=1e-3)


def test_points_lie_in_the_order_that_cooling_from_both_faces_gives(bloom):
    below = bloom.distance > bloom.case.working_length
    assert np.all(bloom.corner_temperature[0, below] < bloom.narrow_temperature[below])
    assert np.all(bloom.wide_temperature[0, below] < bloom.centre_temperature[below])
    assert np.all(bloom.hottest_temperature >= bloom.centre_temperature - 1e-9)
    assert np.all(np.diff(bloom.equivalent_solid) >= -1e-6)
    assert bloom.equivalent_solid[-1] == pytest.approx(1.0)
    assert bloom.wide_shell[0, 1, -1] == pytest.approx(bloom.case.half_thickness)


def test_the_comparison_is_slice_less_section(bloom):
    one, c = solve(bloom.case), bloom.comparison
    first, last = bloom.case.straightener[0], bloom.case.straightener[-1]
    for point, found in ((first, c.straightener_in), (last, c.straightener_out)):
        there = one.at(one.surface_temperature[0], point) - bloom.at(bloom.wide_temperature[0], point)
        assert found == pytest.approx(there, abs=1e-6)
    assert c.length_percent == pytest.approx(
        100 * (one.summary["metallurgical_length"] / bloom.metallurgical_length - 1)
    )
    below = bloom.distance >= bloom.case.working_length + 0.5
    off = (one.surface_temperature - bloom.wide_temperature)[0, below]
    assert abs(c.largest) == pytest.approx(np.abs(off).max())
    assert 2 < c.straightener_in < 15  # the slice is a little too hot after the end, see docs/section.md


def test_a_wide_slab_is_its_slice_at_mid_width():
    slab = solved(name="slab")
    assert abs(slab.comparison.largest) < 2.5
    assert abs(slab.comparison.length_percent) < 0.3
    assert slab.along[-1] == pytest.approx(0.75)
    zone = next(i for i, z in enumerate(slab.zones) if z.name == "spray 2")
    assert slab.balance.heat[1, zone, MECHANISMS.index("water")] == 0.0  # narrow faces are dry
    assert slab.balance.heat[1, zone, MECHANISMS.index("radiation")] > 0.0
    assert any("no water reaches the narrow faces" in n.text for n in slab.notices)


def test_narrow_water_of_its_own_acts_on_the_narrow_faces():
    zone = 'zone."spray 1".'
    sides = {
        zone + "water_L_per_min": None,
        zone + "water_loose_L_per_min": 24.5,
        zone + "water_fixed_L_per_min": 24.5,
    }
    water = [
        solved(sides | {zone + "water_narrow_L_per_min": w}).balance.heat[1, 2, MECHANISMS.index("water")]
        for w in (41.0, 82.0)
    ]
    assert water[1] > 1.3 * water[0] > 0
    even = solved().balance.heat[1, 2, MECHANISMS.index("water")]
    assert water[0] == pytest.approx(even, rel=0.03)  # 41 of 90 L/min is the share of the area


def test_the_panel_shows_the_narrow_faces_apart():
    panel = {
        "mould.mean_heat_flux_MW_per_m2": None,
        "mould.expected_mean_heat_flux_MW_per_m2": None,
        "mould.face_water_flow_L_per_min": {"loose": 500, "fixed": 500, "left": 400, "right": 400},
        "mould.face_water_rise_K": {"loose": 7.0, "fixed": 7.0, "left": 6.0, "right": 5.0},
    }
    s = solved(panel)
    wide, narrow = (s.balance.heat[i, 0].sum() / length for i, length in ((0, 0.30), (1, 0.25)))
    # flow x rise over the width of each face
    assert narrow / wide == pytest.approx((400 * 5.5 / 0.25) / (500 * 7.0 / 0.30), rel=5e-3)
    assert any("two narrow faces differ by 18 %" in n.text for n in s.notices)


def test_rolls_touch_the_wide_faces_alone():
    s = solved({"cooling.roll_contact_share": 0.1})
    rolls = s.balance.heat[..., MECHANISMS.index("rolls")].sum(axis=1)
    assert rolls[0] > 0.0
    assert rolls[1] == 0.0


def test_beside_the_sprayed_width_the_wide_face_is_dry():
    zone = 'zone."spray 1".'
    part = {
        zone + "sprayed_width_mm": 200.0,
        zone + "water_L_per_min": None,
        zone + "water_flux_L_per_m2s": 1.0,
    }
    whole = part | {zone + "sprayed_width_mm": 300.0}
    water = [solved(c).balance.heat[0, 2, MECHANISMS.index("water")] for c in (part, whole)]
    assert 0.62 < water[0] / water[1] < 0.72  # two thirds of the face; beside it the surface is hotter
    assert any("beside the sprayed width" in n.text for n in solved(part).notices)


def test_unequal_sides_are_a_half_section(sides, bloom):
    assert sides.sides == ("loose", "fixed")
    assert sides.depth[-1] == pytest.approx(sides.case.thickness)
    assert sides.faces == ("loose", "narrow", "fixed")
    at = float(sides.at(sides.wide_temperature[0], 5.0)), float(sides.at(sides.wide_temperature[1], 5.0))
    assert at[0] < at[1] - 50
    assert at[1] == pytest.approx(float(bloom.at(bloom.wide_temperature[0], 5.0)), abs=6)
    assert sides.balance.recount_error < 1e-6


def test_corner_factors_act_beside_the_corner_and_not_on_the_slice(bloom):
    changes = {"mould.corner_heat_flux_factor": 0.6, "cooling.corner_spray_factor": 0.5}
    s = solved(changes)
    exit_at = bloom.case.working_length
    assert s.at(s.corner_temperature[0], exit_at) > bloom.at(bloom.corner_temperature[0], exit_at) + 150
    assert abs(s.at(s.wide_temperature[0], exit_at) - bloom.at(bloom.wide_temperature[0], exit_at)) < 1.0
    # by hand: of the girth, eight strips of 25 mm have 0.6 of the flux
    girth = 2 * (0.25 + 0.30)
    share = 1 - 0.4 * 8 * 0.025 / girth
    assert s.balance.heat[:, 0].sum() / bloom.balance.heat[:, 0].sum() == pytest.approx(share, rel=1e-3)
    plain, given = (solve(demo_case("bloom").replace(COARSE | c)) for c in ({}, changes))
    assert np.array_equal(plain.surface_temperature, given.surface_temperature)
    assert any("corner factors act in two dimensions alone" in n.text for n in given.notices)
    assert not any("corner factors act in" in n.text for n in s.notices)
    narrow = solved(changes | {"section.corner_width_mm": 10.0})
    assert narrow.balance.heat[:, 0].sum() > s.balance.heat[:, 0].sum()


def test_one_zone_may_have_a_corner_factor_of_its_own(bloom):
    s = solved({'zone."spray 2".corner_spray_factor': 2.0})
    assert s.at(s.corner_temperature[0], 5.0) < bloom.at(bloom.corner_temperature[0], 5.0) - 10
    assert s.at(s.corner_temperature[0], 2.5) == pytest.approx(
        float(bloom.at(bloom.corner_temperature[0], 2.5)), abs=1
    )


def test_the_corner_is_judged_by_the_criterion_of_the_case(bloom):
    points = {c.point: c for c in bloom.checks}
    assert list(points) == ["middle of the wide face", "middle of the narrow face", "corner"]
    corner = points["corner"]
    at = bloom.at(bloom.corner_temperature[0], bloom.case.straightener)
    assert corner.value == pytest.approx(at.min())
    assert corner.verdict == "not met"
    assert corner.margin == pytest.approx(corner.value - 890.0)
    assert corner.margin_text == f"short by {-corner.margin:.0f} K"
    assert "without a gap" in corner.note
    trough = solved({"limits.ductility_trough": [700, 760]})
    assert next(c for c in trough.checks if c.point == "middle of the wide face").verdict == "met"


def test_a_strand_without_straightener_has_no_checks():
    case = demo_case("bloom").replace(
        COARSE | {"machine.straightener_m": None, "machine.radius_after_m": None, "machine.radius_m": None}
    )
    s = solve_section(case)
    assert s.checks == ()
    assert [m.name for m in s.maps] == ["mould exit", "cut-off"]
    assert "straightener" not in section_text(s)


def test_a_strand_still_liquid_at_the_cutoff_says_so():
    s = solved({"casting.speed_m_per_min": 1.8})
    assert np.isnan(s.metallurgical_length)
    assert "not by the cut-off at 25.0 m" in section_text(s)
    assert s.hottest_temperature[-1] > s.solidus


def test_a_round_is_refused(tmp_path):
    case = demo_case("bloom").replace(
        {
            "section.shape": "round",
            "section.thickness_mm": None,
            "section.width_mm": None,
            "section.diameter_mm": 200.0,
        }
    )
    with pytest.raises(InputError, match='"slab" or "rectangle"'):
        solve_section(case)


def test_a_steel_that_freezes_at_one_temperature_is_refused():
    own = {
        "steel.composition": None, "steel.liquidus_C": 1500.0, "steel.solidus_C": 1499.0,
        "steel.latent_heat_kJ_per_kg": 260.0, "steel.density_kg_per_m3": 7200.0,
        "steel.specific_heat_J_per_kgK": 680.0, "steel.conductivity_W_per_mK": 30.0,
    }  # fmt: skip
    with pytest.raises(InputError, match=r"freezes within 1\.0 K"):
        solve_section(demo_case("bloom").replace(own))


def test_too_few_nodes_are_refused():
    with pytest.raises(InputError, match="8 or more"):
        solve_section(demo_case("bloom"), nodes=4)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"depth": np.array([0.0, 0.1])}, "depth: four or more"),
        ({"along": np.array([0.1, 0.2, 0.3, 0.4])}, "along: four or more"),
        ({"times": np.array([2.0, 1.0])}, "times: must not decrease"),
        ({"keep": [99.0]}, "keep: must lie"),
        ({"times": np.array([500.0])}, "faces must last"),
        ({"wide": [BoundaryCondition(60.0, temperature=20.0)]}, "no temperature can be fixed"),
    ],
)
def test_numbers_out_of_order_are_refused(change, told):
    nodes = np.linspace(0, 0.1, 8)
    face = [BoundaryCondition(60.0, htc=100.0)]
    given = {"wide": face, "narrow": face, "depth": nodes, "along": nodes, "times": np.array([60.0])} | change
    table = section_table(case_steel(demo_case("bloom")))
    with pytest.raises(ValueError, match=told):
        march_section(table, initial=1500.0, **given)


def test_a_march_that_leaves_the_steel_table_stops_with_a_reason():
    nodes = np.linspace(0, 0.1, 12)
    face = [BoundaryCondition(600.0, flux=3e6)]
    table = section_table(case_steel(demo_case("bloom")))
    with pytest.raises(
        MarchError, match=r"march of the section stopped at .* left the range of the steel table"
    ):
        march_section(table, face, face, nodes, nodes, initial=1500.0, times=np.array([600.0]))


def test_the_later_strip_acts_where_two_overlap():
    table = section_table(case_steel(demo_case("bloom")))
    x, y = section_nodes(0.1, 0.1, 16)
    none, one, two = ((BoundaryCondition(10.0, flux=q),) for q in (0.0, 1e5, 2e5))
    side = Side(none, (Strip(one, (0.05,)), Strip(two, (0.02,))))
    m = march_section(table, side, Side(none), x, y, initial=1400.0, times=np.array([10.0]))
    assert m.heat[0, -1] == pytest.approx(10.0 * (0.03 * 1e5 + 0.02 * 2e5), rel=1e-9)


def test_nodes_are_fine_at_the_faces_and_reach_the_middle():
    x, y = section_nodes(0.11, 0.75, 44)
    for nodes, length in ((x, 0.11), (y, 0.75)):
        assert nodes[0] == 0.0
        assert nodes[-1] == length
        assert np.all(np.diff(nodes) > 0)
        assert np.all(np.diff(nodes)[1:] / np.diff(nodes)[:-1] < 1.6)
    assert np.diff(x)[0] < 0.3 * np.diff(x).max()
    assert len(y) < 2.0 * len(x)
    whole, _ = section_nodes(0.11, 0.75, 44, whole=True)
    assert whole == pytest.approx(0.22 - whole[::-1])


def test_the_table_keeps_the_heat_content_and_the_temperatures():
    """Averaged over two kelvins: the same outside the freezing range, and the same content across it."""
    for name in ("bloom", "billet", "slab"):
        steel = case_steel(demo_case(name))
        table = section_table(steel)
        t = np.array([300.0, 800.0, 1100.0, steel.solidus - 20, steel.liquidus + 20])
        exact = steel.march_density * np.interp(t, steel.temperature, steel.enthalpy)
        assert table.enthalpy(table.potential(t)) - table.enthalpy(table.potential(300.0)) == pytest.approx(
            exact - exact[0], rel=2e-4, abs=1e4
        )
        assert float(table.temperature(table.level(1.0))) == pytest.approx(steel.solidus, abs=0.01)


# Sheet, pictures, file, verb


def test_the_sheet_holds_what_was_found(bloom, sides):
    for s in (bloom, sides):
        text = section_text(s)
        assert max(map(len, text.splitlines())) <= 100
        assert f"{s.metallurgical_length:.2f} m" in text
        assert "short by" in text
        assert "it authorises no action" in " ".join(text.split())
        assert "+0 " not in text
        assert "-0 " not in text
    assert re.search(r"surface at the straightener +\+\d+ K at the first point", section_text(bloom))
    assert "half section" in section_text(sides)


def texts(figure):
    return [t.get_text() for t in figure.findobj(Text) if t.get_text()]


def test_the_pictures_name_every_line_and_number_the_isotherms(bloom, sides):
    words = " ".join(texts(plot_section_strand(bloom)))
    for name in (
        "wide face",
        "narrow face",
        "corner",
        "centre",
        "slice",
        "liquidus",
        "straightener",
        "limit 890 °C",
    ):
        assert name in words
    for s in (bloom, sides):
        figure = plot_section_maps(s)
        words = texts(figure)
        assert {"1200", "1000", "900", "800"} <= set(words)
        for place in s.maps:
            assert f"{place.name}, {place.distance:.2f} m" in words
    assert "loose side" in " ".join(texts(plot_section_strand(sides)))


def equal(a, b):
    if dataclasses.is_dataclass(a) and type(a).__name__ != "Case":
        return type(a) is type(b) and all(
            equal(getattr(a, f.name), getattr(b, f.name)) for f in dataclasses.fields(a)
        )
    if isinstance(a, tuple):
        return len(a) == len(b) and all(map(equal, a, b))
    if isinstance(a, np.ndarray):
        return a.dtype == b.dtype and np.array_equal(a, b, equal_nan=True)
    return type(a) is type(b) and (a == b or a != a)


@pytest.mark.parametrize("which", ["bloom", "sides"])
def test_a_section_read_back_is_the_one_saved(which, tmp_path, request):
    s = request.getfixturevalue(which)
    path = tmp_path / "s.h5"
    save_section(s, path)
    save_section(s, path)  # an older section is replaced
    back = load_section(path)
    for field in dataclasses.fields(s):
        assert equal(getattr(s, field.name), getattr(back, field.name)), field.name
    with h5py.File(path) as file:
        assert file.attrs["file_type"] == b"solidify section"
        for group, columns in LAYOUT.items():
            for name, (_, units, _) in columns.items():
                data = file[group][name]
                assert data.attrs["long_name"]
                assert units == "text" or data.attrs["units"].decode() == units


def test_xarray_shows_the_profiles(bloom, tmp_path):
    xarray = pytest.importorskip("xarray")
    save_section(bloom, tmp_path / "s.h5")
    with xarray.open_dataset(tmp_path / "s.h5", engine="h5netcdf") as data:
        assert data.corner_temperature.dims == ("side", "distance")
        assert data.map_temperature.dims == ("map_distance", "along", "depth")
        assert data.corner_temperature.attrs["units"] == "degC"


def test_files_that_are_no_section_are_refused(bloom, tmp_path):
    path = tmp_path / "s.h5"
    save_section(bloom, path)
    with h5py.File(path, "a") as file:
        del file["corner_temperature"], file["check/value"]
    with pytest.raises(FileFormatError, match="corner_temperature") as caught:
        load_section(path)
    assert len(caught.value.problems) == 2
    (tmp_path / "text.h5").write_text("no file")
    with pytest.raises(FileFormatError, match="no HDF5 file"):
        load_section(tmp_path / "text.h5")
    with pytest.raises(InputError, match="another file stands here"):
        save_section(bloom, tmp_path / "text.h5")
    assert (tmp_path / "text.h5").read_text() == "no file"
    with h5py.File(path, "a") as file:
        file.attrs["format"] = 99
    with pytest.raises(FileFormatError, match="format 99"):
        load_section(path)
    with h5py.File(tmp_path / "other.h5", "w") as file:
        file.attrs["file_type"] = np.bytes_("solidify result")
    with pytest.raises(
        FileFormatError, match=r"'solidify result'[\s\S]*solidify report and solidify plot read it"
    ):
        load_section(tmp_path / "other.h5")
    with pytest.raises(InputError, match="no such file"):
        load_section(tmp_path / "none.h5")


def test_the_verb_prints_and_writes(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    done = CliRunner().invoke(commands, ["section"])
    assert done.exit_code == 0, done.output
    assert "The slice of this case less the section" in done.output
    assert "written: bloom-section.h5" in done.output
    assert sorted(p.name for p in tmp_path.iterdir()) == [
        "bloom-section-maps.png", "bloom-section.h5", "bloom-section.png",
    ]  # fmt: skip
    assert load_section("bloom-section.h5").comparison.straightener_out > 0


def test_the_verb_refuses_before_any_work_and_leaves_nothing(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "taken.h5").write_text("mine")
    (tmp_path / "taken.png").mkdir()
    done = CliRunner().invoke(commands, ["section", "-o", "taken.h5"])
    assert isinstance(done.exception, InputError)
    assert len(done.exception.problems) == 2
    assert (tmp_path / "taken.h5").read_text() == "mine"
    assert not (tmp_path / "taken-maps.png").exists()
