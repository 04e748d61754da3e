"""The measured data: well formed, compared in their own units, and refused as a whole when wrong."""

from dataclasses import replace

import pytest

from solidify.case import demo_case
from solidify.errors import InputError
from solidify.sources import EVIDENCE
from solidify.strand.solve import solve
from validation.models import UNITS, mass_percent
from validation.series import DATA, read, steel_series, strand_series

STEEL = {series.key: series for series in steel_series()}


@pytest.mark.parametrize("key", STEEL)
def test_the_bias_of_each_series_lies_in_its_bounds(key):
    """Against the measurements of its sources; the bounds and why they are so wide stand in steel.toml."""
    low, high = STEEL[key].allowed
    assert low < STEEL[key].scatter.bias < high


def test_measured_values_are_those_of_their_sources():
    """By hand: 65.31 cal/g x 4.184 = 273.3 kJ/kg; 12.7 kJ/mol / 55.845 g/mol = 227.4; 0.9 J/(g K) = 900."""
    assert STEEL["heat_of_fusion"].points[0].measured == pytest.approx(273.26, abs=0.01)
    assert STEEL["heat_of_fusion"].points[3].measured == pytest.approx(227.4, abs=0.05)
    assert STEEL["liquid_specific_heat"].points[0].measured == pytest.approx(900.0)


def test_falls_of_the_liquidus_follow_from_the_temperatures_of_the_data_set():
    """Liquidus [K] of the leanest and the richest alloy as read there; nothing is smoothed."""
    read_there = {
        "Mn": (1795.65, 1764.15),
        "Cr": (1803.65, 1794.65),
        "Cu": (1789.15, 1769.15),
        "V": (1804.15, 1783.15),
    }
    points = read(DATA / "steel.toml")["series"]["liquidus_fall"]["point"]
    for p in points:
        lean, rich = read_there[p["input"]["element"]]
        assert p["value"] == pytest.approx(lean - rich)
    assert len(points) == len(read_there)


def test_atomic_percent_becomes_mass_percent():
    """10 atomic % V: 509.42 g in 509.42 + 90 x 55.845 = 5535.47 g (arithmetic)."""
    assert mass_percent("V", 10.0) == pytest.approx(100 * 509.42 / 5535.47)


def test_every_source_says_what_was_read_and_is_used():
    sources = read(DATA / "steel.toml")["source"]
    assert {p.source for s in STEEL.values() for p in s.points} == set(sources)
    for source in sources.values():
        assert source["evidence"] in EVIDENCE
        assert len(source["read"]) > 4
    assert set(UNITS.values()) > {1.0}


def test_there_is_no_measured_strand_and_what_was_sought_is_named():
    assert strand_series() == ()
    for row in read(DATA / "strand.toml")["sought"]:
        assert row["holds"]
        assert row["reference"]
        assert row["read"] in ("abstract", "opening")


BAD = """
[source.one]
reference = "Invented"
read = ""
evidence = "sure"
[series.first]
quantity = "heat of fusion"
unit = "kJ/kg"
model = "heat_of_fushion"
says = "Invented."
allowed = [1.2, 0.8]
why = "invented"
point = [
  { source = "two", input = { C = 0.1 }, value = -3.0, unit = "cal/kg", error = 0.0, error_evidence = "sen" },
  { source = "one", input = { C = 0.1 }, unit = "cal/g" },
]
[series.second]
quantity = "nothing"
"""


def test_everything_wrong_with_a_file_is_told_at_once(tmp_path):
    path = tmp_path / "bad.toml"
    path.write_text(BAD, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        steel_series(path)
    text = str(caught.value)
    for words in (
        "bad.toml: [source.one] read",
        "[source.one] evidence: sure",
        "did you mean 'heat_of_fusion'?",
        "[series.first] allowed: 1.2 to 0.8",
        "point 1 source: two",
        "did you mean 'cal/g'?",
        "point 1 value: -3",
        "point 1 error: 0",
        "did you mean 'seen'?",
        "point 2 value",
        "[series.second] point",
    ):
        assert words in text
    assert len(caught.value.problems) == 18


CASE = 'strand = [{ title = "Invented", source = "one", case = "slab.toml", points = "points.csv", pool = POOL }]\n'
SOURCE = '[source.one]\nreference = "Invented"\nread = "all"\nevidence = "derived"\n'


@pytest.fixture(scope="module")
def slab():
    case = demo_case("slab")
    return case, solve(case)


def test_a_measured_strand_is_compared_quantity_by_quantity(tmp_path, slab):
    """Invented measurements 10 % under shell and pool and 50 K under the surface: the biases come back."""
    case, result = slab
    side = f",{result.sides[0]}" if len(result.sides) > 1 else ","
    rows = []
    for z in (0.7, 4.0, 8.0):
        row = result.fraction_index(0.7)
        shell = 1e3 * float(result.at(result.shell_thickness[0, row], z))
        surface = float(result.at(result.surface_temperature[0], z))
        rows += [
            f"{z},shell_mm,{shell / 1.1!r},1.0,nail{side}",
            f"{z},surface_C,{surface - 50.0!r},15,pyrometer{side}",
        ]
    (tmp_path / "points.csv").write_text(
        "\n".join(["distance_m,quantity,value,sd,method,side", *rows]), encoding="utf-8"
    )
    (tmp_path / "slab.toml").write_text(case.text, encoding="utf-8")
    pool = result.summary["metallurgical_length"] / 1.1
    (tmp_path / "strand.toml").write_text(
        CASE.replace("POOL", f"{{ value = {pool!r}, sd = 0.3 }}") + SOURCE, encoding="utf-8"
    )
    found = {series.quantity: series for series in strand_series(tmp_path / "strand.toml")}
    assert list(found) == ["shell", "surface, rise above 20 °C", "pool length"]
    assert found["shell"].scatter.bias == pytest.approx(1.1, rel=1e-4)
    assert found["pool length"].scatter.bias == pytest.approx(1.1, rel=1e-6)
    surfaces = found["surface, rise above 20 °C"].points
    first = float(result.at(result.surface_temperature[0], 0.7))
    assert surfaces[0].measured == pytest.approx(first - 50.0 - 20.0)
    for p in surfaces:
        assert p.model - p.measured == pytest.approx(50.0, abs=1e-6)
        assert p.error == pytest.approx(15.0 / p.measured)


def test_a_strand_without_errors_of_measurement_is_refused(tmp_path, slab):
    """Three mistakes, told together: a point without sd, a pool without sd, a strand without its source."""
    (tmp_path / "points.csv").write_text(
        "distance_m,quantity,value,method\n4.0,shell_mm,50,nail\n", encoding="utf-8"
    )
    (tmp_path / "slab.toml").write_text(slab[0].text, encoding="utf-8")
    first = CASE.replace("POOL", "{ value = 20.0 }").rstrip("]\n")
    second = ', { title = "Other", source = "two", case = "slab.toml", points = "points.csv" }]\n'
    (tmp_path / "strand.toml").write_text(first + second + SOURCE, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        strand_series(tmp_path / "strand.toml")
    text = str(caught.value)
    assert len(caught.value.problems) == 3
    for words in ("points.csv:2 sd: a gap", "strand 1 pool", "strand 2 source: two"):
        assert words in text


def test_a_series_moves_with_its_points():
    """Doubling one model value moves the bias: no number of a series is fixed."""
    series = STEEL["liquidus_fall"]
    moved = replace(
        series, points=(replace(series.points[0], model=2 * series.points[0].model), *series.points[1:])
    )
    assert moved.scatter.bias > 1.1 * series.scatter.bias
