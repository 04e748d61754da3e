"""A steel from one's own numbers and from a property file."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from solidify.errors import InputError
from solidify.steel import steel_from_file, steel_from_numbers

SET_A = {
    **{"liquidus": 1510.0, "solidus": 1460.0, "latent_heat": 272e3, "density": 7400.0},
    **{
        "specific_heat": 680.0,
        "conductivity": 30.0,
        "liquid_specific_heat": 820.0,
        "liquid_conductivity": 34.0,
    },
}
"""Round numbers for a steel (invented)."""

GOOD = """# invented steel
temperature_C,enthalpy_kJ_per_kg,conductivity_W_per_mK,solid_fraction,density_kg_per_m3
20,0,50,1,7840
200,90,48,1,7800
400,205,43,1,7740
600,345,36,1,7680
700,425,32,1,7620
760,520,28,1,7600
900,620,28,1,7560
1100,750,29.5,1,7500
1300,880,32,1,7420
1460,985,33,1,7340
1490,1180,34,0.3,7200
1510,1290,34,0,7050
1600,1365,35,0,6980
"""


def write(folder, name, text):
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def problems(call, *args, **kwargs):
    with pytest.raises(InputError) as caught:
        call(*args, **kwargs)
    return [str(p) for p in caught.value.problems]


def test_solid_fraction_is_linear():
    steel = steel_from_numbers(**SET_A)
    t = steel.temperature
    assert steel.solid_fraction == pytest.approx(np.clip((1510.0 - t) / 50.0, 0.0, 1.0), abs=1e-12)
    assert steel.temperatures["zero strength"] == pytest.approx(1472.5)
    assert steel.temperature_at_solid_fraction(0.7) == pytest.approx(1475.0)


def test_enthalpy_is_the_integral_of_the_blended_specific_heat():
    steel = steel_from_numbers(**SET_A)
    assert steel.heat_between(1460.0, 20.0) == pytest.approx(680.0 * 1440.0)
    assert steel.heat_between(1510.0, 1460.0) == pytest.approx(272e3 + 50.0 * 750.0)
    assert steel.heat_between(1700.0, 1510.0) == pytest.approx(820.0 * 190.0)
    middle = 272e3 * 0.5 + 680 * 25 * 0.75 + 820 * 25 * 0.25
    assert steel.heat_between(1485.0, 1460.0) == pytest.approx(middle, rel=1e-4)


def test_enthalpy_of_a_table_is_exact():
    """Straight pieces integrate to trapezia: 400 to 800 J/(kg K) from 100 to 500 degC is 240 kJ/kg."""
    steel = steel_from_numbers(**{**SET_A, "specific_heat": [[100.0, 400.0], [500.0, 800.0]]})
    assert steel.heat_between(500.0, 100.0) == pytest.approx(240e3)
    assert steel.heat_between(100.0, 20.0) == pytest.approx(400.0 * 80.0)
    assert steel.heat_between(1000.0, 500.0) == pytest.approx(800.0 * 500.0)
    assert {100.0, 500.0} <= set(steel.kinks)


@pytest.mark.parametrize("factor", [1.0, 5.0])
def test_conductivity_rule(factor):
    """k = fs ks + (1 - fs) kl (1 + (factor - 1) r), here r = 0 to 0.3 liquid, then linear to 1 at 0.7."""
    steel = steel_from_numbers(**SET_A, liquid_conductivity_factor=factor, stirred_liquid_fraction=(0.3, 0.7))
    for liquid, r in ((0.0, 0.0), (0.2, 0.0), (0.3, 0.0), (0.5, 0.5), (0.7, 1.0), (0.9, 1.0), (1.0, 1.0)):
        expected = (1 - liquid) * 30.0 + liquid * 34.0 * (1 + (factor - 1) * r)
        at = 1460.0 + 50.0 * liquid
        assert np.interp(at, steel.temperature, steel.conductivity) == pytest.approx(expected, rel=2e-3)


def test_liquid_takes_after_the_solid_at_the_liquidus_by_default():
    heat, conductivity = [[20.0, 480.0], [1510.0, 700.0]], [[20.0, 50.0], [1510.0, 33.0]]
    steel = steel_from_numbers(1510.0, 1460.0, 272e3, 7400.0, heat, conductivity)
    assert steel.heat_between(1700.0, 1510.0) == pytest.approx(700.0 * 190.0)
    assert steel.conductivity[-1] == pytest.approx(5.0 * 33.0)


def test_a_range_below_the_least_is_widened_downwards_and_said():
    steel = steel_from_numbers(**{**SET_A, "solidus": 1509.9})
    assert (steel.liquidus, steel.solidus) == (1510.0, pytest.approx(1509.8))
    assert "widened to 0.2 K" in steel.notices[0].text
    assert steel.heat_between(1510.0, 1509.8) == pytest.approx(272e3 + 0.2 * 750.0)
    assert steel_from_numbers(**SET_A).notices == ()


def test_density_and_unknown_shrinkage():
    steel = steel_from_numbers(**SET_A)
    assert steel.march_density == 7400.0
    assert np.all(steel.density == 7400.0)
    assert np.all(np.isnan(steel.shrinkage))
    assert steel.steel_class == "unknown"
    assert steel.sources == ("user",)


def test_curve_is_fine_enough_for_the_march():
    steel = steel_from_numbers(**SET_A)
    t = steel.temperature
    assert np.count_nonzero((t > 1460.0) & (t < 1510.0)) >= 64
    assert np.max(np.diff(t)) <= 10.0
    assert np.all(np.isin(steel.kinks, t))
    assert set(steel.kinks) >= {1460.0, 1500.0, 1510.0}


def test_every_mistake_is_reported_at_once():
    found = problems(
        steel_from_numbers, 1500.0, 1560.0, -1.0, 7.4, [[20.0, 480.0], [20.0, 500.0], [10.0, -3.0]], "thirty"
    )
    assert len(found) == 6
    assert found[0].startswith("latent_heat: -1.0 J/kg")
    assert found[1].startswith("density: 7.4 kg/m3")
    assert found[2].startswith("specific_heat row 2: 20 degC after 20 degC")
    assert found[3].startswith("specific_heat row 3: -3.0 J/(kg K)")
    assert found[4].startswith("specific_heat row 3: 10 degC after 20 degC")
    assert found[5].startswith("conductivity: 'thirty'")
    (only,) = problems(steel_from_numbers, **{**SET_A, "solidus": 1520.0})
    assert "at most the liquidus, 1510 degC" in only


@pytest.mark.parametrize("table", [[], [[20.0]], [[20.0, 1.0, 2.0]], [20.0, 30.0], None, True, [["a", "b"]]])
def test_what_is_no_table_is_refused(table):
    (only,) = problems(steel_from_numbers, **{**SET_A, "conductivity": table})
    assert only.startswith("conductivity")


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    st.floats(1300.0, 1530.0),
    st.floats(0.0, 200.0),
    st.floats(1e3, 4e5),
    st.lists(st.tuples(st.floats(0.0, 1600.0), st.floats(300.0, 5000.0)), min_size=1, max_size=8),
)
def test_any_numbers_give_a_rising_enthalpy(liquidus, width, latent, table):
    rows = sorted({round(t): v for t, v in table}.items())
    steel = steel_from_numbers(liquidus, liquidus - width, latent, 7400.0, rows, 30.0)
    with np.errstate(all="raise"):
        assert np.all(np.diff(steel.temperature) > 0.0)
        assert np.all(np.diff(steel.enthalpy) > 0.0)
        assert np.all(np.diff(steel.solid_fraction) <= 0.0)
        assert np.all(np.isin(steel.kinks, steel.temperature))


def test_csv_file(tmp_path):
    steel = steel_from_file(write(tmp_path, "mine.csv", GOOD), liquid_conductivity_factor=1.0)
    assert (steel.liquidus, steel.solidus, steel.march_density) == (1510.0, 1460.0, 7340.0)
    t = steel.temperature
    assert np.interp([300.0, 1475.0, 1650.0], t, steel.enthalpy) == pytest.approx(
        [147.5e3, 1082.5e3, 1406.667e3]
    )
    assert np.interp([300.0, 1475.0, 1650.0], t, steel.conductivity) == pytest.approx([45.5, 33.5, 35.0])
    assert steel.temperature_at_solid_fraction(0.3) == pytest.approx(1490.0)
    assert steel.shrinkage[0] == pytest.approx((7340 / 7840) ** (1 / 3) - 1)
    assert 220e3 < steel.latent_heat < 290e3
    assert steel.notices == ()


def test_stirring_multiplies_the_liquid_share_of_the_file(tmp_path):
    steel = steel_from_file(write(tmp_path, "mine.csv", GOOD))
    assert steel.conductivity[-1] == pytest.approx(5.0 * 35.0)
    assert np.interp(1465.0, steel.temperature, steel.conductivity) == pytest.approx(33.0 + 1 / 6, rel=1e-3)
    assert "multiplied by up to 5 for stirring" in steel.notices[-1].text


def test_other_units_and_separators_give_the_same_steel(tmp_path):
    plain = steel_from_file(write(tmp_path, "a.csv", GOOD))
    rows = [line.split(",") for line in GOOD.splitlines()[2:]]
    header = "temperature_K;enthalpy_J_per_kg;conductivity_W_per_mK;solid_fraction;density_g_per_cm3"
    lines = [header] + [
        f"{float(t) + 273.15};{float(h) * 1e3};{k};{f};{float(d) / 1e3}" for t, h, k, f, d in rows
    ]
    other = steel_from_file(write(tmp_path, "b.csv", "\n".join(lines)))
    assert other.liquidus == pytest.approx(plain.liquidus)
    at = np.linspace(20.0, 1700.0, 400)
    for name in ("enthalpy", "conductivity", "density", "solid_fraction"):
        values = [np.interp(at, s.temperature, getattr(s, name)) for s in (plain, other)]
        assert values[1] == pytest.approx(values[0], rel=1e-9, abs=1e-9), name


def test_toml_table_gives_the_same_steel(tmp_path):
    plain = steel_from_file(write(tmp_path, "a.csv", GOOD))
    header, *rows = [line.split(",") for line in GOOD.splitlines()[1:]]
    text = 'title = "invented"\n[table]\n'
    for key, column in zip(header, zip(*rows, strict=True), strict=True):
        text += f"{key} = [{', '.join(column)}]\n"
    other = steel_from_file(write(tmp_path, "a.toml", text))
    assert np.array_equal(plain.enthalpy, other.enthalpy)
    assert np.array_equal(plain.kinks, other.kinks)


def test_toml_keys_of_ones_own_numbers(tmp_path):
    text = """
    liquidus_C = 1510
    solidus_C = 1460
    latent_heat_kJ_per_kg = 272
    density_kg_per_m3 = 7400
    specific_heat_J_per_kgK = 680
    conductivity_W_per_mK = [[20, 50], [1000, 28], [1500, 34]]
    liquid_specific_heat_J_per_kgK = 820
    """
    steel = steel_from_file(write(tmp_path, "mine.toml", text))
    assert steel.heat_between(1510.0, 1460.0) == pytest.approx(272e3 + 50.0 * 750.0)


def test_file_with_many_mistakes_names_every_line(tmp_path):
    text = """temperature_C,enthalpy_kJ_per_kg,conductivity_W_per_mK,solid_fracton
20,0,50,1
600,330,-3,1
500,320,35,1
1460,,30,1
1510,12a,30,0
"""
    found = problems(steel_from_file, write(tmp_path, "bad.csv", text))
    starts = [line.splitlines()[0] for line in found]
    assert starts == [
        "bad.csv:1 solid_fracton: an unknown column",
        "bad.csv:1: no column of solid fraction",
        "bad.csv:1: no column of density",
        "bad.csv:3 conductivity_W_per_mK: -3 W/(m K)",
        "bad.csv:4 temperature_C: 500 after 600",
        "bad.csv:4 enthalpy_kJ_per_kg: 320 after 330",
        "bad.csv:5 enthalpy_kJ_per_kg: a gap",
        "bad.csv:6 enthalpy_kJ_per_kg: 12a",
    ]
    assert "did you mean 'solid_fraction'?" in found[0]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("enthalpy_kJ_per_kg", "enthalpy_J_per_kg", "check the unit"),
        ("600,345,36", "600,195,36", "195 after 205"),
        ("1510,1290,34,0,", "1510,1290,34,0.4,", "0.4 after 0.3"),
        ("20,0,50,1,", "20,0,50,0.9,", "1 after 0.9"),
        ("1600,1365,35,0,", "1600,1365,35,0,6980,", "6 cells"),
        ("600,345,36", "400,345,36", "where tables overlap keep one"),
        ("density_kg_per_m3", "conductivity_W_per_mK", "stands twice"),
        ("7840", "7.84", "5000 to 9000 kg/m³"),
        ("1490,1180,34,0.3,7200\n1510,1290", "1460.1,1285,34,0,7200\n1510,1330", "widen it"),
        ("36,", "3 6,", "3 6"),
    ],
)
def test_one_bad_file_for_every_rule(tmp_path, old, new, said):
    assert old in GOOD
    assert said in "\n".join(problems(steel_from_file, write(tmp_path, "bad.csv", GOOD.replace(old, new, 1))))


def test_solid_fraction_must_reach_both_ends(tmp_path):
    rows = GOOD.splitlines()
    found = problems(steel_from_file, write(tmp_path, "bad.csv", "\n".join(rows[:-2])))
    assert found == ["bad.csv:2 solid_fraction: 1 to 0.3\n    allowed: from 1 (cold) to 0 (hot)"]


def test_gaps_between_rows_and_short_files_are_said(tmp_path):
    rows = GOOD.splitlines()
    text = "\n".join(rows[:2] + rows[3:7] + rows[10:])
    texts = [str(n) for n in steel_from_file(write(tmp_path, "short.csv", text)).notices]
    assert "short.csv: no row between 700 and 1300 °C: a straight line is taken" in texts
    assert any("rows run from 200 to 1600 °C" in t for t in texts)


def test_a_long_table_keeps_its_sharp_breaks_as_kinks(tmp_path):
    t = np.arange(20.0, 1701.0, 10.0)
    fs = np.clip((1510.0 - t) / 50.0, 0.0, 1.0)
    h = 680.0 * (t - 20.0) + 272e3 * (1.0 - fs)
    rows = [f"{a},{b},30,{c},7400" for a, b, c in zip(t, h, fs, strict=True)]
    header = "temperature_C,enthalpy_J_per_kg,conductivity_W_per_mK,solid_fraction,density_kg_per_m3"
    steel = steel_from_file(write(tmp_path, "long.csv", "\n".join([header, *rows])))
    assert steel.kinks == pytest.approx([1460.0, 1500.0, 1510.0])
    assert steel.latent_heat == pytest.approx(272e3)


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("a.xlsx", "x", ".csv or .toml"),
        ("a.csv", "# nothing\n", "an empty file"),
        ("a.csv", GOOD.splitlines()[1] + "\n20,0,50,1,7840\n", "3 rows or more"),
        ("a.toml", "a = [", "correct the TOML"),
        ("a.toml", "liquidus = 1500\n", "did you mean 'liquidus_C'?"),
        ("a.toml", "[table]\ntemperature_C = 20\n", "an array of numbers"),
        ("a.toml", "[table]\ntemperature_C = [20, 30, 40]\nsolid_fraction = [1, 0]\n", "2 values"),
        ("a.toml", "table = 3\n", "arrays of numbers"),
        ("a.toml", "titel = 3\n[table]\ntemperature_C = [20, 30, 40]\n", "titel"),
    ],
)
def test_files_of_another_kind_are_refused(tmp_path, name, text, said):
    assert said in "\n".join(problems(steel_from_file, write(tmp_path, name, text)))


def test_absent_file_names_its_neighbour(tmp_path):
    write(tmp_path, "mine.csv", GOOD)
    (only,) = problems(steel_from_file, tmp_path / "mime.csv")
    assert "did you mean 'mine.csv'?" in only


def test_wrong_values_in_a_toml_file_name_its_keys(tmp_path):
    text = "liquidus_C = 1510\nsolidus_C = 1460\nlatent_heat_kJ_per_kg = -272\ndensity_kg_per_m3 = 7400\n"
    text += "specific_heat_J_per_kgK = [[20, 5], [10, 6]]\nconductivity_W_per_mK = true\n"
    found = problems(steel_from_file, write(tmp_path, "a.toml", text))
    assert [f.splitlines()[0].split(":")[1].strip().split()[0] for f in found] == [
        "latent_heat_kJ_per_kg",
        "specific_heat_J_per_kgK",
        "conductivity_W_per_mK",
    ]
