"""The limits as data, and which of them holds for which strand."""

import math

import numpy as np
import pytest

from solidify.assessment.checks import MEASURES
from solidify.assessment.limits import PRODUCTS, Setting, limit, names, product_of, room_to, steel_words
from solidify.errors import InputError
from solidify.sources import EVIDENCE, load_data, source

DATA = load_data("limits", "default.toml")
LIMITS = DATA["limit"]
UNITS = {"% strain", "mm", "m", "s", "ms", "K", "degC", "K/m", "%", "MW/m²", "m/s", "L/kg", "1"}
ROW_KEYS = {
    "product",
    "size_mm",
    "steel",
    "carbon_percent",
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
    required = {"label", "definition", "unit", "sense", "hardness", "bounds", "evidence", "source", "row"}
    assert required <= set(data) <= required | {"close", "close_percent"}
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
        for bounds in (row.get("size_mm"), row.get("carbon_percent")):
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
        if "source" in entry:
            assert source(entry["source"]).reference
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
        ("round", 0.220, 0.220, "billet", 220.0),
        ("round", 0.300, 0.300, "bloom", 300.0),
    ],
)
def test_product_follows_shape_and_size(shape, thickness, width, product, size):
    """Thin slab below 100 mm, bloom above 220 mm by the square of equal area (sqrt(200 x 300) = 244.9)."""
    assert product_of(shape, thickness, width) == (product, size)


def test_steel_words_add_classes_by_content():
    """Nb, V or B from the figure of the data on make a steel microalloyed; sulphur, crack-sensitive."""
    assert words(Nb=0.0099) == {"medium carbon"}
    assert words(Nb=0.010) == {"medium carbon", "microalloyed", "crack-sensitive"}
    assert words(V=0.03) == words(B=0.0005) == words(Nb=0.03)
    assert words(S=0.020) == {"medium carbon"}
    assert words(S=0.021) == {"medium carbon", "crack-sensitive", "high-sulphur"}
    assert words("peritectic") == {"peritectic", "crack-sensitive"}


SLAB = Setting("slab", 220.0, words(), 0.15)
BLOOM = Setting("bloom", 273.9, words(), 0.45)
BILLET = Setting("billet", 150.0, words(), 0.20, "oil")
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
        ("last_liquid_support", SLAB, -INF, 90),
        ("last_liquid_cutoff", SLAB, 0, INF),
        ("straightener_surface", THIN, 850, INF),
        ("straightener_surface", SLAB, 890, INF),
        ("straightener_surface", PERITECTIC, 920, INF),
        ("straightener_surface", Setting("slab", 220.0, words("peritectic", Nb=0.03), 0.12), 950, INF),
        ("straightener_surface", Setting("billet", 150.0, words("high carbon"), 0.60), 870, INF),
        ("straightener_surface", Setting("billet", 150.0, words("high carbon"), 0.59), 890, INF),
        ("mould_flux_window", SLAB, 1.1, 1.7),
        ("mould_flux_window", PERITECTIC, 1.0, 1.4),
        ("mould_flux_window", BLOOM, 0.9, 1.4),
        ("mould_flux_window", BILLET, 1.6, 2.6),
        ("mould_flux_window", Setting("billet", 150.0), 1.2, 1.9),
        ("mould_flux_window", THIN, 2.0, 3.0),
        ("mould_flux_deviation", SLAB, -15, 15),
        ("mould_water_rise", SLAB, 3, 10),
        ("mould_water_velocity", BILLET, 8, 12),
        ("mould_water_velocity", SLAB, 6, 10),
        ("mould_water_velocity", THIN, 6, 10),
        ("copper_hot_face", BILLET, -INF, 300),
        ("negative_strip", BILLET, 100, 150),
        ("negative_strip", BLOOM, 100, 200),
        ("negative_strip", SLAB, 100, 200),
        ("superheat_window", SLAB, 15, 35),
        ("superheat_window", BLOOM, 15, 35),
        ("superheat_window", BILLET, 25, 50),
        ("superheat_window", Setting("billet", 150.0), 15, 35),
        ("dwell", BILLET, 10, INF),
        ("dwell", BLOOM, 25, INF),
        ("dwell", SLAB, 25, INF),
        ("liquid_core_straightener", BILLET, 1, INF),
        ("liquid_core_straightener", Setting("slab", 220.0, words(), 0.45), 1, INF),
        ("reheating_rate", SLAB, -INF, 100),
        ("reheating_total", SLAB, -INF, 100),
        ("reheating_total", PERITECTIC, -INF, 50),
        ("cooling_rate", BILLET, -INF, 200),
        ("cooling_rate", BLOOM, -INF, 200),
        ("cooling_rate", SLAB, -INF, 83),
        ("surface_ceiling", SLAB, -INF, 1150),
        ("zone_jump", SLAB, -INF, 2),
        ("bulging", SLAB, -INF, 0.3),
        ("strain_front", THIN, -INF, 0.4),
        ("strain_front", SLAB, -INF, 0.3),
        ("strain_front", PERITECTIC, -INF, 0.2),
        ("strain_front", Setting("slab", 220.0, words(S=0.025), 0.05), -INF, 0.2),
        ("strain_front", Setting("billet", 150.0, words(), 0.7), -INF, 0.2),
        ("strain_surface", BLOOM, -INF, 0.35),
        ("specific_water", SLAB, 0.3, 1.2),
        ("specific_water", BLOOM, 0.15, 0.6),
        ("specific_water", BILLET, 0.6, 2.2),
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
    by_size = {limit(name, Setting(product, mm, plain, 0.2)).reason for mm in np.arange(50.0, 600.0, 2.5)}
    assert len(by_size) == 1


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
