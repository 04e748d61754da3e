"""Tables in CSV as spreadsheets of several countries write them, through everything that reads one."""

import math

import pytest

from solidify.analysis.measured import read_points
from solidify.case import demo_case
from solidify.csv_table import column_name, csv_number, csv_table
from solidify.errors import InputError
from solidify.steel import steel_from_text
from solidify.study.definition import read_study

POINTS = "distance_m,quantity,value,side\n15.5,surface_C,985.5,loose\n"
STEEL = (
    "temperature_C,enthalpy_kJ_per_kg,conductivity_W_per_mK,solid_fraction,density_kg_per_m3\n"
    "20,0.5,30.5,1,7400\n1450,1000.5,30.5,1,7400\n1500,1300.5,30.5,0,7400\n1600,1400.5,30.5,0,7400\n"
)


def local(text):
    """The same table with semicolons, decimal commas, capitals and spaces."""
    head, *rows = text.strip().split("\n")
    names = [f" {name.capitalize().replace('_', ' ')} " for name in head.split(",")]
    return "\n".join([";".join(names), *(row.replace(",", ";").replace(".", ",") for row in rows)]) + "\n"


def read(text, tmp_path, case=None):
    path = tmp_path / "points.csv"
    path.write_text(text, encoding="utf-8")
    return read_points(path, case)


def test_names_of_columns():
    assert column_name("DISTANCE_M") == column_name(" Distance [m] ") == "distance_m"
    assert column_name("Conductivity W/mK") == column_name("conductivity_W_per_mK")
    assert column_name('zone."Spray 1".water_L_per_min') == "zone_spray_1_water_l_per_min"


def test_measured_points_of_another_country(tmp_path):
    (plain,), (other,) = read(POINTS, tmp_path), read(local(POINTS), tmp_path)
    assert (plain.distance, plain.value) == (15.5, 985.5)
    assert other == plain


def test_a_property_file_of_another_country():
    plain, other = steel_from_text(STEEL, "a.csv"), steel_from_text(local(STEEL), "a.csv")
    assert other.conductivity[0] == plain.conductivity[0] == 30.5
    assert other.enthalpy.tolist() == plain.enthalpy.tolist()


def test_a_study_table_of_another_country(tmp_path):
    case = demo_case("bloom").text
    (tmp_path / "bloom.toml").write_text(case, encoding="utf-8")
    (tmp_path / "study.toml").write_text('case = "bloom.toml"\ntable = "rows.csv"\n', encoding="utf-8")
    head = 'Casting.Speed m per min;"zone.""spray 1"".water_L_per_min"'
    (tmp_path / "rows.csv").write_text(f"# a remark\n{head}\n0,75;100\n\n0,8;110,5\n", encoding="utf-8")
    study = read_study(tmp_path / "study.toml")
    assert study.inputs == ("casting.speed_m_per_min", 'zone."spray 1".water_L_per_min')
    assert [study.values(i)["casting.speed_m_per_min"] for i in range(2)] == [0.75, 0.8]
    assert study.values(1)['zone."spray 1".water_L_per_min'] == 110.5


def test_a_study_asks_for_the_unit_too(tmp_path):
    (tmp_path / "bloom.toml").write_text(demo_case("bloom").text, encoding="utf-8")
    files = {
        "rows.csv": "casting.speed_m_per_min\n750\n",
        "a.toml": 'case = "bloom.toml"\ntable = "rows.csv"\n',
        "b.toml": 'case = "bloom.toml"\n[vary]\ncasting.speed_m_per_min = [0.7, 750]\n',
    }
    for name, text in files.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    for name in ("a.toml", "b.toml"):
        with pytest.raises(InputError) as caught:
            read_study(tmp_path / name)
        assert "mm/min? 750 mm/min is 0.75 m/min" in str(caught.value)


def test_decimals_of_two_kinds_are_refused(tmp_path):
    with pytest.raises(InputError) as caught:
        read("distance_m;quantity;value\n1,5;surface_C;950\n2.5;surface_C;950\n", tmp_path)
    assert "all of them with a comma" in str(caught.value)


def test_lines_are_those_of_the_file():
    table = csv_table("# first\n\na\tb\n# between\n1,5\tx\n\n2\ty\n", "t.csv", ["A"])
    assert table.line == 3
    assert table.header == ("A", "b")
    assert table.rows == ((5, ("1.5", "x")), (7, ("2", "y")))


def test_words_with_commas_stay_words():
    table = csv_table('a;note\n1,5;"warm, dry"\n2,5;1,2,3\n', "t.csv")
    assert [row[1] for _, row in table.rows] == ["warm, dry", "1,2,3"]


def test_what_is_no_csv_is_said_with_its_line():
    with pytest.raises(InputError) as caught:
        csv_table('a,b\n1,"2"3\n', "t.csv")
    assert caught.value.problems[0].where == "t.csv:2"


def test_numbers():
    assert csv_number("1e3") == 1000.0
    assert all(math.isnan(csv_number(text)) for text in ("", "nan", "inf", "1,5", "word"))


def test_points_count_from_where_the_case_counts(tmp_path):
    """100 mm of mould above the steel: 15.6 m from the mould top are 15.5 m from the meniscus; above it is nothing."""
    case = demo_case("bloom").replace({"machine.distances_from": "mould top"})
    (point,) = read(POINTS.replace("15.5", "15.6"), tmp_path, case)
    assert point.distance == pytest.approx(15.5)
    with pytest.raises(InputError) as caught:
        read(POINTS.replace("15.5", "0.05"), tmp_path, case)
    assert "0.1 m, the meniscus, or more" in str(caught.value)
    (same,) = read(POINTS, tmp_path, demo_case("bloom"))
    assert same.distance == 15.5


@pytest.mark.parametrize(("word", "side"), [("inner", "loose"), ("Outer", "fixed"), ("LOOSE", "loose")])
def test_inner_and_outer_are_loose_and_fixed(word, side, tmp_path):
    (point,) = read(POINTS.replace("loose", word), tmp_path)
    assert point.side == side
