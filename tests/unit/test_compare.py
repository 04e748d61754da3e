"""Results side by side and against measured points: by hand, from bad tables, and as printed."""

import math
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import solidify
from solidify.analysis.compare import compare, constants, flat, flattened, value_text
from solidify.analysis.handbook import MM_PER_SQRT_MIN
from solidify.analysis.measured import (
    COLUMNS,
    Point,
    agreements,
    deviations,
    method_words,
    methods,
    read_points,
)
from solidify.assessment.judge import judge
from solidify.case import demo_case
from solidify.cli import main
from solidify.errors import InputError
from solidify.report.comparison import compare_text
from solidify.sources import sources
from solidify.storage.result_file import save
from solidify.strand.solve import solve

SHIPPED = Path(solidify.__file__).parent / "data" / "cases"
CHANGES = {"casting.speed_m_per_min": 0.9, 'zone."spray 1".water_L_per_min': 140, "title": "Faster"}

GOOD = """\
# invented
distance_m;quantity;value;sd;method;side;note
0.6;shell_mm;17.5;1.0;tracer;;
0.6;shell_mm;20;2;drained shell;;
5.0;shell_mm;52;2;pin;;
15.5;surface_C;985;15;pyrometer;;before the straightener
18.5;surface_C;960;;pyrometer;;
"""


def shipped(name, **changes):
    return demo_case(name).replace(changes) if changes else demo_case(name)


@pytest.fixture(scope="module")
def bloom():
    return solve(shipped("bloom"))


@pytest.fixture(scope="module")
def faster():
    return solve(shipped("bloom", **CHANGES))


@pytest.fixture(scope="module")
def two_sides():
    return solve(
        shipped("slab", **{'zone."spray 5".water_at_speed': None, 'zone."spray 5".water_loose_L_per_min': 90,
                           'zone."spray 5".water_fixed_L_per_min': 40})
    )  # fmt: skip


@pytest.fixture(scope="module")
def found(bloom, faster):
    return compare([bloom, faster], [judge(bloom), judge(faster)], ["before", "after"])


def points(text, tmp_path, name="points.csv"):
    (tmp_path / name).write_text(text, encoding="utf-8")
    return read_points(tmp_path / name)


def point(distance, quantity, value, sd=math.nan, fraction=math.nan, method="", side=""):
    return Point(distance, quantity, value, sd, fraction, method, side, "points.csv:2")


# Results


def test_exactly_the_changed_inputs_are_listed(found):
    assert {row.key: row.values for row in found.inputs} == {
        "casting.speed_m_per_min": (0.75, 0.9),
        'zone."spray 1".water_L_per_min': (90, 140),
    }


def test_a_key_that_one_case_lacks_is_a_dash(bloom):
    other = solve(
        shipped(
            "bloom", **{'zone."spray 3".water_L_per_min': None, 'zone."spray 3".heat_transfer_W_per_m2K': 120}
        )
    )
    rows = compare([bloom, other], [judge(bloom), judge(other)], ["a", "b"]).inputs
    values = {row.key: row.values for row in rows}
    assert values['zone."spray 3".water_L_per_min'] == (21, None)
    assert values['zone."spray 3".heat_transfer_W_per_m2K'] == (None, 120)
    assert value_text(None) == "–"


def test_figures_are_those_of_the_results_in_plant_units(found, bloom, faster):
    rows = {row.label: row for row in found.figures}
    end = rows["end of solidification"]
    assert end.values == (bloom.summary["metallurgical_length"], faster.summary["metallurgical_length"])
    assert end.changes[1] == pytest.approx(end.values[1] - end.values[0])
    assert end.changes[1] > 1.0  # faster casting freezes later
    shell = rows["shell at mould exit, solid fraction 0.7"]
    assert shell.values[0] == pytest.approx(1e3 * bloom.summary["shell_at_mould_exit"][1])
    assert rows["steel cast"].values[0] == pytest.approx(60 * bloom.summary["throughput"])
    assert rows["mean mould heat flux"].values[0] == pytest.approx(1.30, abs=0.005)


def test_every_figure_of_the_summary_is_compared(found, bloom):
    scalars = [n for n, v in bloom.summary.items() if np.ndim(v) == 0 and not math.isnan(v)]
    assert len(found.figures) == len(scalars) + len(bloom.solid_fractions)


def test_findings_stand_side_by_side_and_changes_are_told(found, bloom, faster):
    tables = [{f.label: f for f in judge(r).findings} for r in (bloom, faster)]
    assert {row.label for row in found.findings} == set(tables[0]) | set(tables[1])
    for row in found.findings:
        assert row.findings == tuple(t.get(row.label) for t in tables)
        assert row.changed == (row.findings[0].verdict != row.findings[1].verdict)
    assert any(row.changed for row in found.findings)
    hardness = [row.findings[0].hardness for row in found.findings]
    assert hardness == sorted(hardness, key=lambda h: h != "hard")


def test_a_result_beside_itself_differs_in_nothing(bloom):
    same = compare([bloom, bloom], [judge(bloom)] * 2, ["a", "b"])
    assert same.inputs == ()
    assert all(change == 0 for row in same.figures for change in row.changes)
    assert not any(row.changed for row in same.findings)
    assert "Inputs: all alike" in compare_text([bloom, bloom], [judge(bloom)] * 2, ["a", "b"])


def test_results_need_their_judgements_and_names(bloom):
    with pytest.raises(InputError, match="2 results, 1 judgements, 2 names"):
        compare([bloom, bloom], [judge(bloom)], ["a", "b"])
    with pytest.raises(InputError, match="0 results"):
        compare([], [], [])


def test_flat_values_read_back_to_the_case(bloom):
    values = flat(bloom.case)
    assert values["casting.speed_m_per_min"] == 0.75
    assert values['zone."foot rolls".end_m'] == 0.9
    for key in values:
        if not key.startswith(("steel.composition", "limits")):
            own = bloom.case.value(key)
            assert (list(own) if isinstance(own, tuple) else own) == values[key]


def test_arrays_of_tables_other_than_zones_stay_whole():
    assert flattened({"a": {"b": [1, 2]}, "zone": [{"name": "x.y", "c": 1}]}) == {
        "a.b": [1, 2],
        'zone."x.y".c': 1,
    }


# K of practice


def test_k_is_said_to_lie_inside_above_or_below_its_window(bloom):
    rows = {k.where: k for k in constants(bloom)}
    low, high = (x / MM_PER_SQRT_MIN for x in (rows["mould exit"].window.low, rows["mould exit"].window.high))
    assert (low, high) == pytest.approx((17, 23))
    exit_k = rows["mould exit"].value / MM_PER_SQRT_MIN
    assert exit_k == pytest.approx(bloom.summary["k_mould_exit_at_solid_fraction_0_3"])
    assert exit_k > bloom.summary["k_mould_exit"] == bloom.summary["k_mould_exit_at_solid_fraction_0_7"]
    assert "(practice 17 to 23 at 0.3 solid)" in rows["mould exit"].text
    assert f"{bloom.summary['k_mould_exit']:.1f} at 0.7 solid" in rows["mould exit"].text
    assert f"{bloom.summary['k_mould_exit_equivalent']:.1f} by equivalent solid" in rows["mould exit"].text
    for k, words in (
        (18.0, "18.0 mm/√min, inside"),
        (24.5, "1.5 above"),
        (15.0, "2.0 below"),
        (math.nan, "not known"),
    ):
        assert words in replace(rows["mould exit"], value=k * MM_PER_SQRT_MIN).text


def test_a_square_and_a_high_carbon_steel_have_their_own_windows():
    square, hard = (solve(shipped("billet")), solve(shipped("bloom", **{"steel.composition.C": 0.8})))
    low = [constants(r)[1].window.low / MM_PER_SQRT_MIN for r in (square, hard)]
    assert low == pytest.approx([28, 24])  # 26 of a rectangle, less 2 for a wide freezing range


# Points


def test_points_are_read_with_their_methods_and_units(tmp_path):
    read = points(GOOD, tmp_path)
    assert [p.method for p in read] == ["tracer", "drained shell", "nail", "pyrometer", "pyrometer"]
    assert [p.solid_fraction for p in read[:3]] == [0.7, 0.3, 0.7]
    assert math.isnan(read[3].solid_fraction)
    assert math.isnan(read[4].sd)
    assert read[3].place == "points.csv:6"


def test_a_given_solid_fraction_wins_over_the_method(tmp_path):
    text = "distance_m,quantity,value,method,solid_fraction\n5,shell_mm,50,nail,1.0\n5,shell_mm,50,,0.5\n"
    assert [p.solid_fraction for p in points(text, tmp_path)] == [1.0, 0.5]


BAD = {
    "distance_m,quantity,value\n-1,surface_C,950\n": ["points.csv:2 distance_m: -1 m", "allowed: 0 to 500 m"],
    "distance_m,quantity,value\n1,surfaceC,950\n": ["did you mean 'surface_C'?"],
    "distance_m,quantity,value\n1,surface_C,95\n": ["points.csv:2 value: 95 °C", "allowed: 300 to 1600 °C"],
    "distance_m,quantity,value,method\n1,shell_mm,0.017,nail\n": ["value: 0.017 mm", "allowed: 0.5 to 400 mm"],
    "distance_m,quantity,value\n1,shell_mm,17\n": ["neither method nor solid_fraction", "a shell has no thickness"],
    "distance_m,quantity,value,method\n1,shell_mm,17,nial\n": ["method: nial", "did you mean 'nail'?"],
    "distance_m,quantity,value,method\n1,shell_mm,17,pyrometer\n": ["method: pyrometer", "tracer, nail, drained shell"],
    "distance_m,quantity,value,sd\n1,surface_C,950,0\n": ["points.csv:2 sd: 0", "leave it empty"],
    "distance_m,quantity,value,sd\n1,surface_C,950,-5\n": ["points.csv:2 sd: -5 °C"],
    "distance_m,quantity,value,solid_fraction\n1,surface_C,950,0.7\n": ["solid_fraction: 0.7", "empty for a surface"],
    "distance_m,quantity,value,solid_fraction\n1,shell_mm,17,1.7\n": ["solid_fraction: 1.7", "0.01 to 1"],
    "distance_m,quantity,value,side\n1,surface_C,950,lose\n": ["side: lose", "did you mean 'loose'?"],
    "distance_m,quantity,value\n1,surface_C,\n": ["points.csv:2 value: a gap"],
    "distance_m;quantity;value\n1,5;surface_C;950.5\n": ["distance_m: 1,5 m", "or all of them with a comma"],
    "distance_m,quantity,value\n1,5,surface_C,950\n": ["4 cells", "with decimal commas, part the cells by semicolons"],
    "distance_m,quantity,value\n1,surface_C,nan\n": ["value: nan °C"],
    "distance_m,quantity,value\n1,surface_C,950,extra\n": ["points.csv:2: 4 cells", "3 cells"],
    "distance,quantity,value\n1,surface_C,950\n": ["'distance': not a column", "'distance_m'?", "no column distance_m"],
    "distance_m,quantity,value,value\n1,surface_C,950,951\n": ["column value stands twice"],
    "distance_m,quantity,value\n": ["a header without rows"],
    "# nothing\n": ["no rows"],
}  # fmt: skip


@pytest.mark.parametrize("text", BAD, ids=[words[0] for words in BAD.values()])
def test_each_mistake_of_a_table_is_said_with_its_line(text, tmp_path):
    with pytest.raises(InputError) as caught:
        points(text, tmp_path)
    for words in BAD[text]:
        assert words in str(caught.value)


def test_all_mistakes_are_said_at_once(tmp_path):
    rows = ["-1,surface_C,950,", "1,shell_mm,17,", "2,surface_C,50,spot", "3,surface_C,950,"]
    text = "\n".join(["distance_m,quantity,value,method", *rows])
    with pytest.raises(InputError) as caught:
        points(text, tmp_path)
    assert [p.where for p in caught.value.problems] == [
        "points.csv:2 distance_m",
        "points.csv:3 method",
        "points.csv:4 value",
        "points.csv:4 method",
    ]


def test_a_table_that_is_not_text_or_not_there_is_refused(tmp_path):
    (tmp_path / "points.csv").write_bytes(b"\xff\xfe\x00d")
    with pytest.raises(InputError, match="not text in UTF-8"):
        read_points(tmp_path / "points.csv")
    with pytest.raises(InputError, match=r"did you mean 'points.csv'"):
        read_points(tmp_path / "point.csv")


def test_what_each_method_shows_has_evidence_and_a_source():
    for name, row in methods().items():
        assert row["quantity"] in ("surface_C", "shell_mm")
        assert row["source"] in sources()
        assert row["evidence"] in ("seen", "recalled", "practice")
        assert (row["quantity"] == "shell_mm") == ("solid_fraction" in row)
        if "solid_fraction" in row:
            assert f"{row['solid_fraction']:g} solid" in row["meaning"], "words and number say the same"
        assert row["label"] in method_words(name)
    assert "from memory" in method_words("nail")


# Deviations


def test_the_surface_is_read_where_it_was_measured(bloom):
    z = float(bloom.distance[400])
    (off,) = deviations(bloom, [point(z, "surface_C", 900.0)])
    assert off.computed == pytest.approx(bloom.surface_temperature[0, 400])
    assert off.value == pytest.approx(bloom.surface_temperature[0, 400] - 900.0)


def test_a_shell_is_compared_at_its_own_solid_fraction(bloom):
    off = deviations(bloom, [point(0.6, "shell_mm", 15.0, fraction=f) for f in (0.3, 0.7, 1.0)])
    assert [d.computed for d in off] == pytest.approx(
        1e3 * np.asarray(bloom.summary["shell_at_mould_exit"]), rel=1e-6
    )


def test_a_solid_fraction_between_lies_between_and_agrees_at_the_ends(bloom):
    """The kept sections give the depth of any fraction; at those with a line they agree within 0.3 mm."""
    z = float(bloom.section_distance[30])
    shells = [
        deviations(bloom, [point(z, "shell_mm", 50.0, fraction=f)])[0].computed
        for f in (1.0, 0.9, 0.7, 0.5, 0.3)
    ]
    assert shells == sorted(shells)
    near = [deviations(bloom, [point(z, "shell_mm", 50.0, fraction=f)])[0].computed for f in (0.701, 0.301)]
    assert near == pytest.approx([shells[2], shells[4]], abs=0.3)


def test_a_shell_that_has_met_its_other_half_is_half_the_thickness(bloom):
    off = deviations(bloom, [point(24.0, "shell_mm", 120.0, fraction=f) for f in (1.0, 0.5)])
    assert [d.computed for d in off] == pytest.approx([125.0, 125.0])


def test_points_say_their_side_where_the_two_differ(two_sides):
    z = 14.0
    loose, fixed = deviations(two_sides, [point(z, "surface_C", 900.0, side=s) for s in ("loose", "fixed")])
    assert fixed.computed > loose.computed + 5.0  # less water on the fixed side
    z = 13.0
    shells = deviations(
        two_sides, [point(z, "shell_mm", 90.0, fraction=0.5, side=s) for s in ("loose", "fixed")]
    )
    rows = [1e3 * two_sides.at(two_sides.shell_thickness[i], z) for i in (0, 1)]
    for off, row in zip(shells, rows, strict=True):
        assert row[1] < off.computed < row[0]
    with pytest.raises(InputError, match="cooled differently on its two sides"):
        deviations(two_sides, [point(z, "surface_C", 900.0)])


def test_points_beyond_the_cut_off_are_refused_all_at_once(bloom):
    with pytest.raises(InputError) as caught:
        deviations(bloom, [point(z, "surface_C", 900.0) for z in (26.0, 10.0, 30.0)])
    assert len(caught.value.problems) == 2
    assert "0 to 25 m" in str(caught.value)


def test_bias_rms_and_count_by_hand(bloom):
    """Measured 10 and 30 K below what is computed: bias 20 K, rms sqrt((100 + 900)/2) = 22.36 K."""
    z = [float(bloom.distance[i]) for i in (400, 600)]
    true = [float(bloom.surface_temperature[0, i]) for i in (400, 600)]
    measured = [point(z[0], "surface_C", true[0] - 10, 6.0, method="pyrometer"),
                point(z[1], "surface_C", true[1] - 30, 10.0, method="pyrometer")]  # fmt: skip
    (row,) = agreements(deviations(bloom, measured))
    assert row.bias == pytest.approx(20.0)
    assert row.rms == pytest.approx(22.3607, rel=1e-5)
    assert (row.count, row.known, row.inside) == (2, 2, 1)
    assert row.largest.point is measured[1]
    assert row.text == (
        "surface (pyrometer), 2 points: computed 20 K hotter than measured on average, rms 22 K, "
        f"farthest off +30 K at {z[1]:.2f} m; 1 of 2 within two standard deviations"
    )


def test_kinds_are_kept_apart(bloom, tmp_path):
    rows = agreements(deviations(bloom, points(GOOD, tmp_path)))
    assert [(r.method, r.count) for r in rows] == [
        ("tracer", 1),
        ("drained shell", 1),
        ("nail", 1),
        ("pyrometer", 2),
    ]


# Print


def test_the_sheet_shows_all_of_it(bloom, faster, tmp_path):
    judgements = [judge(bloom), judge(faster)]
    text = compare_text([bloom, faster], judgements, ["before", "after"], points(GOOD, tmp_path))
    assert "A  before: Bloom 250 x 300, 0.45 %C (invented plant)\nB  after: Faster" in text
    assert re.search(r'zone."spray 1"\.water_L_per_min +90 +140\n', text)
    assert "B less A" in text
    changed = [line for line in text.splitlines() if line.startswith("* ")]
    assert changed
    assert "mould exit" in text[text.index("K against common practice") :]
    assert "17.5 ± 1" in text
    assert "within two standard deviations" in text
    assert "no measurement, no detector and no permission" in text
    assert "nan" not in text.split()
    assert not [line for line in text.splitlines() if line != line.rstrip()]


def test_one_result_alone_stands_against_practice(bloom):
    text = compare_text([bloom], [judge(bloom)], ["bloom"])
    assert "Shell growth beside common practice" in text
    assert "whole machine: K of practice 26 to 31 at 1.0 solid" in text
    assert "less A" not in text


# The verb


@pytest.fixture
def files(bloom, faster, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    save(bloom, "before.h5")
    save(faster, "after.h5")
    Path("points.csv").write_text(GOOD, encoding="utf-8")
    return tmp_path


def test_the_verb_prints_and_draws(files, capsys):
    assert main(["compare", "before.h5", "after.h5", "--measured", "points.csv", "-o", "both.svg"]) == 0
    out = capsys.readouterr().out
    assert "casting.speed_m_per_min" in out
    assert out.rstrip().endswith("written: both.svg")
    assert "measured" in Path("both.svg").read_text(encoding="utf-8")


def test_without_a_name_the_picture_takes_those_of_the_results(files, capsys):
    assert main(["compare", "before.h5", "after.h5"]) == 0
    assert "written: before-and-after-compared.png" in capsys.readouterr().out
    assert Path("before-and-after-compared.png").read_bytes().startswith(b"\x89PNG")


def test_a_result_alone_is_drawn_beside_practice(files, capsys):
    assert main(["compare", "before.h5", "-o", "alone.svg"]) == 0
    assert "Shell growth beside common practice" in capsys.readouterr().out
    assert "√t, √min" in Path("alone.svg").read_text(encoding="utf-8")


def test_files_of_one_name_are_told_apart(files, capsys):
    Path("other").mkdir()
    Path("after.h5").rename("other/before.h5")
    assert main(["compare", "before.h5", "other/before.h5", "--no-pictures"]) == 0
    out = capsys.readouterr().out
    assert "A  before: " in out
    assert "B  other/before: " in out.replace("\\", "/")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["before.h5", "-o", "both.gif"], "no format of pictures"),
        (["befor.h5"], "did you mean 'before.h5'?"),
        (["before.h5", "--measured", "before.h5"], "not text in UTF-8"),
        (["before.h5", *["after.h5"] * 6], "7 results in one picture"),
        (["before.h5", "-o", "nowhere/both.png"], "nowhere"),
    ],
)
def test_the_verb_refuses_what_it_cannot_do_and_writes_nothing(files, capsys, arguments, words):
    before = sorted(p.name for p in files.iterdir())
    assert main(["compare", *arguments]) == 2
    assert words in capsys.readouterr().err
    assert sorted(p.name for p in files.iterdir()) == before


def test_the_manual_shows_every_column():
    page = (Path(__file__).parents[2] / "docs" / "measured-points.md").read_text(encoding="utf-8")
    for name, meaning in COLUMNS.items():
        assert f"| `{name}` | {meaning} |" in page


def test_the_example_of_the_manual_can_be_read(tmp_path):
    page = (Path(__file__).parents[2] / "docs" / "measured-points.md").read_text(encoding="utf-8")
    table = page.split("```csv\n")[1].split("```")[0]
    assert len(points(table, tmp_path)) == 3
