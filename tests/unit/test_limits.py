"""The limits as data, and which of them holds for which strand."""

import math
from pathlib import Path

import numpy as np
import pytest

from solidify.assessment.checks import MEASURES, reserve_rule
from solidify.assessment.limits import (
    PRODUCTS,
    Setting,
    limit,
    names,
    peritectic_edges,
    product_of,
    room_to,
    steel_words,
)
from solidify.errors import InputError
from solidify.report.limits import limits_text
from solidify.sources import EVIDENCE, load_data, source
from solidify.steel.coefficients import entries
from solidify.steel.composition import carbon_equivalent

DATA = load_data("limits", "default.toml")
LIMITS = DATA["limit"]
UNITS = {"% strain", "mm", "m", "s", "ms", "K", "degC", "K/m", "%", "MW/m²", "m/s", "L/kg", "1"}
ROW_KEYS = {
    "product",
    "size_mm",
    "steel",
    "cp_percent",
    "cutoff_percent",
    "lubricant",
    "place",
    "value",
    "close",
    "close_percent",
    "factor",
    "until",
    "evidence",
    "source",
    "note",
    "reason",
}


def words(steel_class="medium carbon", **composition):
    return steel_words(steel_class, composition)


# ------------------------------------------------------------------------------------------ the data


def test_every_limit_is_measured_and_every_measure_has_a_limit():
    """A limit nobody measures would be a promise, a measure without a limit dead code."""
    assert set(LIMITS) == set(MEASURES)


@pytest.mark.parametrize("name", LIMITS)
def test_limit_is_complete(name):
    """Label, definition, unit, sense, hardness, bounds, close width, evidence, source: all from
    known words.
    """
    data = LIMITS[name]
    required = {
        "label",
        "definition",
        "unit",
        "sense",
        "hardness",
        "bounds",
        "evidence",
        "source",
        "row",
        "binds",
    }
    factor = {"factor_evidence", "factor_source"} if any("factor" in row for row in data["row"]) else set()
    assert required | factor <= set(data) <= required | factor | {"close", "close_percent", "reach"}
    assert data["unit"] in UNITS
    assert data["sense"] in {"at least", "at most", "within"}
    assert data["hardness"] in {"hard", "soft"}
    assert len(data["label"]) <= 28, "the summary's column"
    assert ("close" in data) != ("close_percent" in data)
    assert data.get("close", data.get("close_percent")) > 0


@pytest.mark.parametrize("name", LIMITS)
def test_rows_are_well_formed(name):
    """Known keys, known products, values of the shape that the sense asks for and inside the bounds."""
    data = LIMITS[name]
    low, high = data["bounds"]
    assert low < high
    for row in data["row"]:
        assert set(row) <= ROW_KEYS
        assert ("value" in row) != ("reason" in row), "a row has a value or says why not"
        assert set(row.get("product", ())) <= set(PRODUCTS)
        assert row.get("lubricant", "oil") in {"powder", "oil"}
        for bounds in (row.get("size_mm"), row.get("cp_percent")):
            assert bounds is None or bounds[0] < bounds[1]
        if "value" in row:
            pair = isinstance(row["value"], list)
            assert pair == (data["sense"] == "within")
            values = row["value"] if pair else [row["value"]]
            assert values == sorted(values)
            assert all(low <= v <= high for v in values)


@pytest.mark.parametrize("name", LIMITS)
def test_evidence_and_source_resolve(name):
    """Every limit and row names a grade that exists and a source of the bibliography."""
    for entry in (LIMITS[name], *LIMITS[name]["row"]):
        if "evidence" in entry:
            assert entry["evidence"] in EVIDENCE
        for key in entry.keys() & {"source", "factor_source"}:
            assert source(entry[key]).reference
        assert entry.get("factor_evidence", "practice") in EVIDENCE
    first = LIMITS[name]
    if first["evidence"] == "seen":
        assert source(first["source"]).evidence == "seen"


def test_classes_name_elements_and_a_source():
    """A class of steel rests on contents, a grade and a source as any value does."""
    for rule in DATA["class"].values():
        assert rule["evidence"] in EVIDENCE
        assert source(rule["source"]).reference
        contents = rule.get("any", {}) | rule.get("above", {})
        assert contents
        assert all(0 < content < 1 for content in contents.values())


def test_hard_limits_come_first():
    """The order of the file is the order of print."""
    hardness = [LIMITS[n]["hardness"] for n in names()]
    assert hardness == sorted(hardness, key=["hard", "soft"].index)


# ------------------------------------------------------------------------------------------ product and class


@pytest.mark.parametrize(
    ("shape", "thickness", "width", "product", "size"),
    [
        ("slab", 0.220, 1.5, "slab", 220.0),
        ("slab", 0.100, 1.5, "slab", 100.0),
        ("slab", 0.0999, 1.5, "thin slab", 99.9),
        ("rectangle", 0.250, 0.300, "bloom", 273.9),
        ("rectangle", 0.220, 0.220, "billet", 220.0),
        ("rectangle", 0.221, 0.221, "bloom", 221.0),
        ("rectangle", 0.200, 0.300, "bloom", 244.9),
        ("rectangle", 0.150, 0.150, "billet", 150.0),
        ("round", 0.220, 0.220, "round", 220.0),
        ("round", 0.300, 0.300, "round", 300.0),
    ],
)
def test_product_follows_shape_and_size(shape, thickness, width, product, size):
    """Thin slab below 100 mm, bloom above 220 mm by the square of equal area (sqrt(200 x 300) = 244.9)."""
    assert product_of(shape, thickness, width) == (product, size)


@pytest.mark.parametrize(
    ("section", "use", "product", "size"),
    [
        (("rectangle", 0.240, 0.240), "billet", "billet", 240.0),
        (("rectangle", 0.160, 0.160), "bloom", "bloom", 160.0),
        (("rectangle", 0.200, 0.500), "slab", "slab", 200.0),
        (("slab", 0.200, 0.500), "bloom", "bloom", 316.2),
        (("slab", 0.090, 1.500), "slab", "thin slab", 90.0),
        (("slab", 0.120, 1.500), "thin slab", "thin slab", 120.0),
    ],
)
def test_use_of_the_product_goes_before_its_size(section, use, product, size):
    """A 240 mm square that is rolled as a billet is judged as one."""
    assert product_of(*section, use) == (product, size)


def test_classes_of_steel_and_rows_share_their_edges():
    """Peritectic by the ferrite potential, 1.05 to 0.8, is C_p 0.08 to 0.18: 0.5 less the potential over 2.5."""
    band, potential = (
        entries("composition")["peritectic_band"]["value"],
        entries("composition")["ferrite_potential"],
    )
    edges = sorted(potential["offset"] - fp / potential["factor"] for fp in band)
    assert edges == pytest.approx([0.08, 0.18])
    for data in LIMITS.values():
        shared = [e for e in peritectic_edges(data["row"]) if 0.05 < e < 0.3]
        assert shared == pytest.approx(edges) or not shared


@pytest.mark.parametrize("name", LIMITS)
@pytest.mark.parametrize("product", PRODUCTS)
def test_limits_move_continuously_with_the_carbon_equivalent(name, product):
    """From step to step of 0.002 % no limit moves by more than a tenth of what it moves in all over 0.02 %."""
    at = np.arange(0.0, 0.7, 0.002)
    rules = [limit(name, Setting(product, 200.0, words(), float(c))) for c in at]
    for values in ([r.lower for r in rules], [r.upper for r in rules], [r.factor for r in rules]):
        known = np.array([v for v in values if math.isfinite(v)])
        if len(known) == len(at):  # else a limit that holds for some steels alone
            assert np.abs(np.diff(known)).max() <= 0.101 * np.ptp(known) + 1e-9


def test_little_carbon_does_not_jump_a_class():
    """0.06 %C without silicon, 0.50 % Mn: C_p 0.08, half-way between 850 and 920 °C; 0.001 %C more moves it 3.5 K."""
    equivalent = carbon_equivalent({"C": 0.06, "Mn": 0.50})
    assert equivalent == pytest.approx(0.08)
    at = [
        limit("straightener_surface", Setting("slab", 220.0, words(), c)).lower
        for c in (0.069, 0.08, 0.081, 0.091)
    ]
    assert at == pytest.approx([850.0, 885.0, 888.5, 920.0])
    middle = limit("strength_floor", Setting("slab", 220.0, words(), 0.08))
    assert (middle.factor, middle.note) == (pytest.approx(0.65), "between other steel and peritectic")
    flux = limit("mould_flux_window", Setting("slab", 220.0, words(), 0.175))
    assert (flux.lower, flux.upper) == pytest.approx((1.025, 1.475))


def test_steel_words_add_classes_by_content():
    """Nb, V or B from the figure of the data on make a steel microalloyed; sulphur, crack-sensitive."""
    assert words(Nb=0.0099) == {"medium carbon"}
    assert words(Nb=0.010) == {"medium carbon", "microalloyed"}
    assert words(V=0.03) == words(B=0.0005) == words(Nb=0.03)
    assert words(S=0.020) == {"medium carbon"}
    assert words(S=0.021) == {"medium carbon", "high-sulphur"}


SLAB = Setting("slab", 220.0, words(), 0.20)
BLOOM = Setting("bloom", 273.9, words(), 0.45)
BILLET = Setting("billet", 150.0, words(), 0.20, "oil")
ROUND = Setting("round", 200.0, words(), 0.26)
LARGE_ROUND = Setting("round", 300.0, words(), 0.26)
REBAR = Setting("billet", 130.0, words(S=0.030), 0.23, "oil")
THIN = Setting("thin slab", 70.0, words("low carbon"), 0.05)
PERITECTIC = Setting("slab", 220.0, words("peritectic"), 0.12)
INF = math.inf


@pytest.mark.parametrize(
    ("name", "setting", "lower", "upper"),
    [
        ("shell_floor", Setting("billet", 139.9), 7, INF),
        ("shell_floor", Setting("billet", 140.0), 8, INF),
        ("shell_floor", Setting("billet", 180.0), 10, INF),
        ("shell_floor", Setting("billet", 220.0), 10, INF),
        ("shell_floor", BLOOM, 13, INF),
        ("shell_floor", SLAB, 12, INF),
        ("shell_floor", Setting("slab", 120.0), 10, INF),
        ("shell_floor", THIN, 8, INF),
        ("strength_floor", SLAB, 3, INF),
        ("strength_floor", PERITECTIC, 3, INF),
        ("strength_floor", Setting("slab", 220.0), 3, INF),
        ("hot_strength", SLAB, 1, INF),
        ("hot_strength", PERITECTIC, 1, INF),
        ("hot_strength", Setting("slab", 220.0), 1, INF),
        ("face_strength", SLAB, 1, INF),
        ("shell_floor", ROUND, 10, INF),
        ("shell_floor", LARGE_ROUND, 13, INF),
        ("last_liquid_support", SLAB, -INF, 90),
        ("last_liquid_support", LARGE_ROUND, -INF, 90),
        ("last_liquid_cutoff", SLAB, 0, INF),
        ("cutoff_reserve", SLAB, 2, INF),
        ("straightener_surface", THIN, 850, INF),
        ("straightener_surface", SLAB, 890, INF),
        ("straightener_surface", PERITECTIC, 920, INF),
        ("straightener_surface", Setting("slab", 220.0, words("peritectic", Nb=0.03), 0.12), 950, INF),
        ("straightener_surface", Setting("billet", 150.0, words("high carbon"), 0.62), 870, INF),
        ("straightener_surface", Setting("billet", 150.0, words("high carbon"), 0.58), 890, INF),
        ("mould_flux_window", SLAB, 1.1, 1.7),
        ("mould_flux_window", PERITECTIC, 1.0, 1.4),
        ("mould_flux_window", BLOOM, 0.9, 1.4),
        ("mould_flux_window", BILLET, 1.6, 2.6),
        ("mould_flux_window", Setting("billet", 150.0), 1.2, 1.9),
        ("mould_flux_window", THIN, 2.0, 3.0),
        ("mould_flux_window", ROUND, 1.0, 1.8),
        ("mould_flux_window", LARGE_ROUND, 0.9, 1.5),
        ("mould_flux_deviation", SLAB, -15, 15),
        ("mould_water_rise", SLAB, 3, 10),
        ("mould_water_velocity", BILLET, 8, 12),
        ("mould_water_velocity", SLAB, 6, 10),
        ("mould_water_velocity", THIN, 6, 10),
        ("copper_hot_face", SLAB, -INF, 300),
        ("copper_hot_face", BILLET, -INF, 350),
        ("negative_strip", BILLET, 80, 150),
        ("negative_strip", ROUND, 80, 150),
        ("negative_strip", BLOOM, 100, 200),
        ("negative_strip", SLAB, 100, 200),
        ("superheat_window", SLAB, 15, 35),
        ("superheat_window", BLOOM, 15, 35),
        ("superheat_window", BILLET, 25, 50),
        ("superheat_window", Setting("billet", 150.0), 15, 35),
        ("dwell", BILLET, 10, INF),
        ("dwell", BLOOM, 25, INF),
        ("dwell", SLAB, 25, INF),
        ("dwell", ROUND, 10, INF),
        ("dwell", LARGE_ROUND, 25, INF),
        ("liquid_core_straightener", BILLET, 1, INF),
        ("liquid_core_straightener", ROUND, 1, INF),
        ("liquid_core_straightener", Setting("slab", 220.0, words(), 0.45), 1, INF),
        ("reheating_rate", SLAB, -INF, 100),
        ("reheating_rate", BILLET, -INF, 150),
        ("reheating_total", SLAB, -INF, 100),
        ("reheating_total", PERITECTIC, -INF, 50),
        ("reheating_total", Setting("slab", 220.0, words(S=0.025), 0.22), -INF, 50),
        ("reheating_total", BILLET, -INF, 100),
        ("reheating_total", REBAR, -INF, 100),
        ("reheating_total", Setting("billet", 130.0, words(Nb=0.02), 0.2), -INF, 80),
        ("cooling_rate", BILLET, -INF, 200),
        ("cooling_rate", BLOOM, -INF, 200),
        ("cooling_rate", SLAB, -INF, 83),
        ("surface_ceiling", SLAB, -INF, 1150),
        ("surface_ceiling", ROUND, -INF, 1200),
        ("zone_jump", SLAB, -INF, 2),
        ("bulging", SLAB, -INF, 0.3),
        ("strain_front", THIN, -INF, 0.5),
        ("strain_front", SLAB, -INF, 0.35),
        ("strain_front", PERITECTIC, -INF, 0.25),
        ("strain_front", Setting("slab", 220.0, words(S=0.025), 0.05), -INF, 0.25),
        ("strain_front", REBAR, -INF, 0.35),
        ("strain_front", Setting("billet", 150.0, words(), 0.7), -INF, 0.25),
        ("strain_surface", BLOOM, -INF, 0.35),
        ("strain_surface", REBAR, -INF, 0.6),
        ("strain_surface", ROUND, -INF, 0.5),
        ("strain_surface", LARGE_ROUND, -INF, 0.35),
        ("specific_water", SLAB, 0.3, 1.2),
        ("specific_water", BLOOM, 0.15, 0.6),
        ("specific_water", BILLET, 0.6, 2.2),
        ("specific_water", ROUND, 0.3, 1.2),
        ("specific_water", LARGE_ROUND, 0.15, 0.6),
    ],
)
def test_default_of_each_product_and_class(name, setting, lower, upper):
    """The shipped figures, row by row (common practice, no source, but for the three with one)."""
    found = limit(name, setting)
    assert (found.lower, found.upper, found.reason) == (lower, upper, "")


@pytest.mark.parametrize(
    ("name", "setting"),
    [
        ("straightener_surface", Setting("slab", 220.0)),
        ("mould_flux_window", Setting("slab", 220.0, words(), 0.2, "oil")),
        ("bulging", BLOOM),
        ("last_liquid_support", BILLET),
        ("last_liquid_support", ROUND),
        ("copper_hot_face", THIN),
        ("face_strength", ROUND),
        ("strain_front", Setting("slab", 220.0)),
        ("dwell", THIN),
        ("cooling_rate", THIN),
        ("specific_water", THIN),
        ("liquid_core_straightener", SLAB),
    ],
)
def test_what_is_not_judged_says_why(name, setting):
    """No figure is invented where the trade has none."""
    found = limit(name, setting)
    assert found.reason
    assert math.isnan(found.lower)
    assert math.isnan(found.upper)


def test_unevenness_is_worst_for_peritectic_and_for_unknown_steel():
    """0.75 in general, 0.55 peritectic; an unknown steel gets the cautious one."""
    assert limit("strength_floor", SLAB).factor == 0.75
    assert limit("strength_floor", PERITECTIC).factor == 0.55
    assert limit("strength_floor", Setting("slab", 220.0)).factor == 0.55
    assert limit("shell_floor", PERITECTIC).factor == 1.0, "never on a practice floor"
    for setting in (SLAB, PERITECTIC, Setting("slab", 220.0)):
        assert limit("hot_strength", setting).factor == limit("strength_floor", setting).factor


@pytest.mark.parametrize("name", LIMITS)
@pytest.mark.parametrize("product", PRODUCTS)
def test_no_size_and_no_carbon_falls_between_two_rows(name, product):
    """Rows meet: from one row to the next there is no strand that gets no figure, or gets another reason."""
    plain = words("medium carbon")
    by_carbon = {limit(name, Setting(product, 200.0, plain, c)).reason for c in np.arange(0.0, 1.5, 0.005)}
    assert len(by_carbon) == 1 or name == "liquid_core_straightener"
    supports_itself = product == "round" and name in {"last_liquid_support", "liquid_core_straightener"}
    by_size = {limit(name, Setting(product, mm, plain, 0.2)).reason for mm in np.arange(50.0, 600.0, 2.5)}
    assert len(by_size) == 1 + supports_itself


def test_first_pair_of_zones_has_its_own_limit():
    """Foot rolls to the first spray zone may jump threefold, any other pair twofold."""
    assert limit("zone_jump", SLAB, None, "first zone").upper == 3
    assert limit("zone_jump", SLAB, None, "").upper == 2


def test_close_widths():
    """A width in the unit, a width of the row that wins over it, and a share of the nearer limit."""

    def room(rule, value):
        return [float(x) for x in room_to(np.array(value), *rule.numbers)]

    assert room(limit("shell_floor", BLOOM), 14.0) == [1.0, 1.5]
    assert room(limit("shell_floor", BILLET), 9.0) == [1.0, 1.0]
    assert room(limit("mould_flux_window", SLAB), 1.2) == pytest.approx([0.1, 0.055])
    assert room(limit("mould_flux_window", SLAB), 1.8) == pytest.approx([-0.1, 0.085])


# ------------------------------------------------------------------------------------------ the user's own


@pytest.mark.parametrize(
    ("name", "own", "lower", "upper"),
    [
        ("shell_floor", 15.0, 15.0, INF),
        ("last_liquid_support", 85, -INF, 85.0),
        ("superheat_window", (20, 30), 20.0, 30.0),
        ("mould_flux_deviation", (-10, 10), -10.0, 10.0),
    ],
)
def test_override_replaces_the_limit_and_says_so(name, own, lower, upper):
    """A number or a pair in the unit of the limit; graded as the user's own."""
    found = limit(name, SLAB, own)
    assert (found.lower, found.upper) == (lower, upper)
    assert (found.overridden, found.evidence, found.source, found.note) == (True, "user", "", "")
    assert found.hardness == limit(name, SLAB).hardness


def test_override_judges_what_ships_no_limit():
    """A thin slab has no dwell limit until its plant gives one."""
    assert limit("dwell", THIN).reason
    own = limit("dwell", THIN, 9.0)
    assert (own.lower, own.reason) == (9.0, "")


def test_override_keeps_the_unevenness():
    """Another strength floor is still compared with the thinnest place."""
    assert limit("strength_floor", PERITECTIC, 4.0).factor == 0.55


def test_unknown_limit_is_named_with_the_closest():
    """A misspelt name is answered with the nearest one."""
    with pytest.raises(InputError) as caught:
        limit("shel_floor", SLAB)
    assert caught.value.problems[0].closest == "shell_floor"


def test_reserve_before_the_cutoff_is_two_metres_or_a_tenth():
    """2 m to a cut-off at 18 m, 3.4 m to one at 34 m; one's own reserve stands alone."""
    rule = limit("cutoff_reserve", SLAB)
    assert [reserve_rule(rule, cutoff).lower for cutoff in (18.0, 34.0)] == [2.0, 3.4]
    assert reserve_rule(limit("cutoff_reserve", SLAB, 1.0), 34.0).lower == 1.0


def test_the_page_of_limits_is_written_from_the_data():
    """docs/limits.md is what `python -m solidify.report.limits` writes, and names every limit and every source."""
    text = limits_text()
    assert (Path(__file__).parents[2] / "docs" / "limits.md").read_text(encoding="utf-8") == text
    for name, data in LIMITS.items():
        assert f"`{name}`" in text
        assert f"`{data['source']}`: {source(data['source']).reference}" in text


def test_the_summary_of_the_page_says_what_applies():
    """A line a limit, four products; hand-read cells of the table."""
    lines = {
        line.split(" | ")[0].strip("| *"): line
        for line in limits_text().splitlines()
        if line.startswith("| ")
    }
    for data in LIMITS.values():
        assert lines[data["label"]].count("|") == 8
        assert lines[data["label"]].startswith("| **") == (data["hardness"] == "hard")
    assert "| ≥ 12 mm | ≥ 13 mm | ≥ 8 mm | ≥ 10 mm |" in lines["shell at mould exit"]
    assert "| ≤ 90 % | ≤ 90 % | – | – |" in lines["last liquid to last support"]
    assert (
        "| 0.3 to 1.2 L/kg | 0.15 to 0.6 L/kg | 0.6 to 2.2 L/kg | 0.3 to 1.2 L/kg |"
        in lines["specific water"]
    )
