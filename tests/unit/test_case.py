"""The case: what a file may hold, what is said of the rest, and cases made from other cases."""

import doctest
import json
import math
import pickle
import re
import tomllib
from dataclasses import FrozenInstanceError
from importlib import resources
from pathlib import Path

import numpy as np
import pytest
import tomli_w
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from pydantic import ValidationError

from solidify.case import (
    Case,
    case_schema,
    demo_case,
    lines,
    parse_case,
    paths,
    read_case,
    schema,
    starter_case,
    values,
)
from solidify.case.__main__ import FILES
from solidify.case.checks import ValidTables
from solidify.case.lines import key_lines
from solidify.case.model import Composition
from solidify.case.schema import key_range, schema_at
from solidify.case.width import left_behind
from solidify.errors import InputError
from solidify.sources import load_data

PROJECT = Path(__file__).parents[2]
DEMOS = ("bloom.toml", "slab.toml", "billet.toml")
SHIPPED = (*DEMOS, "starter.toml")


PLANT = """\
title = "A strand for these tests (invented plant)"
[steel]
composition = { C = 0.45, Si = 0.25, Mn = 0.70, Al = 0.03 }
[section]
shape = "rectangle"
thickness_mm = 250
width_mm = 300
[casting]
speed_m_per_min = 0.75
superheat_K = 28
[mould]
length_mm = 700
level_below_top_mm = 100
lubricant = "powder"
mean_heat_flux_MW_per_m2 = 1.39
expected_mean_heat_flux_MW_per_m2 = 1.40
[cooling]
spray_relation = "nozaki_1978"
[[zone]]
name = "foot rolls"
end_m = 0.90
water_L_per_min = 50
roll_pitch_m = 0.25
[[zone]]
name = "spray 1"
end_m = 2.60
water_at_speed = [[0.5, 60], [0.75, 90], [0.95, 114]]
[machine]
vertical_length_m = 2.5
radius_m = 10.5
bending_m = [2.5, 3.0]
straightener_m = [15.5, 18.5]
radius_after_m = [20, inf]
support_end_m = 22.0
cutoff_m = 25.0
"""


def shipped(name):
    return resources.files("solidify").joinpath("data", "cases", name).read_text(encoding="utf-8")


def plant():
    return parse_case(PLANT, "plant.toml")


def problems_of(call, *arguments):
    with pytest.raises(InputError) as caught:
        call(*arguments)
    return caught.value.problems


# ------------------------------------------------------------------------------- what is shipped and written


@pytest.mark.parametrize("name", DEMOS)
def test_demo_cases_beside_the_package_are_the_shipped_ones(name):
    assert (PROJECT / "cases" / name).read_bytes() == shipped(name).encode()


@pytest.mark.parametrize("name", SHIPPED)
def test_shipped_cases_say_that_they_are_invented(name):
    assert "nvented plant" in shipped(name).splitlines()[0]
    assert "invented" in parse_case(shipped(name)).title


@pytest.mark.parametrize("name", FILES)
def test_written_files_follow_from_the_definitions(name):
    """After a change of keys, ranges, rules or limits: python -m solidify.case."""
    assert (PROJECT / name).read_text(encoding="utf-8") == FILES[name]()


@pytest.mark.parametrize("name", DEMOS)
def test_a_demo_case_is_the_file_of_that_name(name):
    assert demo_case(name.removesuffix(".toml")).text == (PROJECT / "cases" / name).read_text(
        encoding="utf-8"
    )


def test_another_demo_case_is_refused_with_the_nearest():
    with pytest.raises(InputError, match=r"(?s)'blum'.*billet, bloom, slab.*did you mean 'bloom'"):
        demo_case("blum")


def test_starter_case_names_every_key_and_its_choices_are_accepted():
    text = starter_case()
    schema = case_schema()
    table = ()
    named = {("title",)}
    for line in text.splitlines():
        if header := re.match(r"\[+(\w+)\]", line):
            table = (header[1], 0) if header[1] == "zone" else (header[1],)
        elif pair := re.match(r"(?:# )?(\w+) = (.*)", line):
            path = (*table, pair[1])
            named.add(path)
            at = schema_at(schema, path)
            value = tomllib.loads(f"value = {pair[2]}")["value"]
            assert at, line
            assert not list(Draft202012Validator({"$defs": schema["$defs"], **at}).iter_errors(value)), line
    wanted = {("title",)}
    for name, at in schema["properties"].items():
        path = (name, 0) if at.get("type") == "array" else (name,)
        wanted |= {(*path, key) for key in schema_at(schema, path).get("properties", {}) if name != "limits"}
    shared = {("zone", 0, key) for key in schema_at(schema, ("cooling",))["properties"]}
    assert wanted - named <= shared


def test_elements_are_those_that_the_steel_room_knows():
    most = load_data("steel", "composition.toml")["most"]
    ranges = {element: schema_at(case_schema(), ("steel", "composition", element)) for element in most}
    assert set(Composition.model_fields) == set(most)
    assert {element: at["maximum"] for element, at in ranges.items()} == most
    assert sum(most.values()) < 50, "the ranges alone must leave iron the larger part"


# ------------------------------------------------------------------------------------------------ schema


def test_schema_is_one_of_the_standard_and_accepts_the_shipped_cases():
    Draft202012Validator.check_schema(case_schema())
    for name in SHIPPED:
        Draft202012Validator(case_schema()).validate(tomllib.loads(shipped(name)))


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ("speed_m_per_min", "speed_m_per_mn"),
        ("speed_m_per_min = 0.75", "speed_m_per_min = 75"),
        ('"powder"', '"sand"'),
        ('"nozaki_1978"', '"nobody_1900"'),
        ("[machine]", "[limits]\nshell_floors = 1\n[machine]"),
        ("C = 0.45, ", ""),
        ("length_mm = 700", "length_mm = true"),
    ],
)
def test_schema_refuses_what_the_reader_refuses(right, wrong):
    assert right in PLANT
    text = PLANT.replace(right, wrong)
    assert list(Draft202012Validator(case_schema()).iter_errors(tomllib.loads(text)))
    assert problems_of(parse_case, text)


def test_every_key_has_a_meaning_and_every_number_a_unit_and_a_range():
    for name, at in case_schema()["$defs"].items():
        for key, field in at["properties"].items():
            assert field["description"], (name, key)
            if field.get("type") in ("number", "integer") or "array" in field.get("type", ""):
                assert field["unit"], (name, key)
                assert key_range(field), (name, key)


BY_NAME = ("Composition", "FaceFlow", "FaceRise")
WITHOUT = ("1", "m/min, L/min", "m/min, MW/m²")
"""Tables whose keys are elements or faces; their unit stands in the name of the table's key."""


def test_the_unit_in_the_name_of_a_key_is_the_unit_of_its_range():
    spelt = {
        "mm": "mm", "m": "m", "m_per_min": "m/min", "K": "K", "C": "°C", "MW_per_m2": "MW/m²",
        "L_per_min": "L/min", "percent": "%", "W_per_mK": "W/(m K)",
        "kW_per_m2": "kW/m²", "kW_per_m2_per_sqrt_s": "kW/m²/√s", "W_per_m2K": "W/(m² K)",
        "L_per_m2_min": "L/(m² min)", "L_per_m2s": "L/(m² s)", "kJ_per_kg": "kJ/kg", "kg_per_m3": "kg/m³",
        "J_per_kgK": "J/(kg K)", "L_per_kg": "L/kg", "bar": "bar", "deg": "°", "mm2": "mm²", "m_per_s": "m/s",
        "cycles_per_min": "cycles/min", "percent_per_m": "%/m", "K_per_s": "K/s", "Pa_s": "Pa s",
    }  # fmt: skip
    for name, at in case_schema()["$defs"].items():
        for key, field in at["properties"].items():
            ends = [end for end in spelt if key.endswith(f"_{end}")]
            if "unit" in field and name not in BY_NAME and field["unit"] not in WITHOUT:
                assert spelt[max(ends, key=len)] == field["unit"], key


# ----------------------------------------------------------------------------------------- values and text


@pytest.mark.parametrize("name", SHIPPED)
def test_effective_toml_reads_back_to_an_equal_case(name):
    case = parse_case(shipped(name), name)
    again = parse_case(case.effective_toml(), name)
    assert again == case
    assert again.effective_toml() == case.effective_toml()


@pytest.mark.parametrize("name", SHIPPED)
def test_effective_toml_states_the_defaults(name):
    effective = tomllib.loads(parse_case(shipped(name), name).effective_toml())
    assert effective["uncertainty"]["spray_percent"] == 40
    if effective["section"]["shape"] == "slab":
        assert effective["zone"][0]["roll_contact_share"] == 0.1, "the first gives its roll pitch alone"
        assert all(zone["view_factor"] == 0.8 for zone in effective["zone"])
    else:
        assert effective["cooling"]["roll_contact_W_per_m2K"] == 0
    assert all(
        {"sprayed_faces", "sprayed_width_mm", "spray_factor"} <= zone.keys() for zone in effective["zone"]
    )
    assert effective["steps"] == {"tolerance": 1.0, "output_step_m": 0.02}


def test_a_file_keeps_its_text_and_its_name(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_bytes(b"\xef\xbb\xbf" + PLANT.replace("\n", "\r\n").encode())
    case = read_case(path)
    assert case.name == "mine.toml"
    assert case.text == PLANT.replace("\n", "\r\n")
    assert case == plant()


def test_lines_are_counted_in_files_with_other_line_ends():
    text = PLANT.replace("speed_m_per_min = 0.75", "speed_m_per_min = 75")
    line = text[: text.index("speed_m_per_min = 75")].count("\n") + 1
    for ends in ("\n", "\r\n"):
        (problem,) = problems_of(parse_case, text.replace("\n", ends), "b.toml")
        assert problem.where == f"b.toml:{line}:"
        assert problem.given == "[casting] speed_m_per_min = 75 is outside 0.05 to 12 m/min"


def test_a_case_cannot_be_changed_and_can_be_sent_to_another_process():
    case = plant()
    with pytest.raises(ValidationError, match="frozen"):
        case.casting.speed_m_per_min = 1.0
    with pytest.raises(FrozenInstanceError):
        case.casting = None
    again = pickle.loads(pickle.dumps(case))
    assert (again, again.text, again.name) == (case, case.text, case.name)


def test_properties_in_si():
    case = plant()
    assert case.speed == pytest.approx(0.0125)
    assert (case.thickness, case.width, case.half_thickness) == (0.25, 0.3, 0.125)
    assert case.section_area == pytest.approx(0.075)
    assert case.working_length == pytest.approx(0.6)
    assert case.zone_bounds[0] == pytest.approx((0.6, 0.9))
    assert [start for start, _ in case.zone_bounds[1:]] == [end for _, end in case.zone_bounds[:-1]]
    assert (case.straightener[0], case.support_end, case.cutoff) == (15.5, 22.0, 25.0)


def test_a_round_has_its_diameter_twice_and_its_own_area():
    case = plant().replace(
        {
            "section.shape": "round",
            "section.thickness_mm": None,
            "section.width_mm": None,
            "section.diameter_mm": 200,
        }
    )
    assert (case.thickness, case.width) == (0.2, 0.2)
    assert case.section_area == pytest.approx(math.pi * 0.01)
    assert case.zone[0].sprayed_width_mm is None


def test_distances_from_the_mould_top_are_shifted_by_the_level():
    case = plant()
    moved = case.replace({"machine.distances_from": "mould top"})
    assert moved.zone_bounds[0] == pytest.approx((0.6, 0.8))
    assert moved.cutoff == pytest.approx(case.cutoff - 0.1)
    assert moved.vertical_length == pytest.approx(2.4)
    assert moved.bending == pytest.approx([z - 0.1 for z in case.bending])
    assert moved.from_meniscus(0.0) == 0.0


@pytest.mark.parametrize(
    ("shape", "given", "faces"),
    [
        ("slab", {"water_L_per_min": 50}, "wide"),
        ("rectangle", {"water_L_per_min": 50}, "all"),
        ("slab", {"water_loose_L_per_min": 20, "water_fixed_L_per_min": 30}, "wide"),
        ("rectangle", {"water_loose_L_per_min": 20, "water_fixed_L_per_min": 30}, "wide"),
        (
            "slab",
            {"water_loose_L_per_min": 2, "water_fixed_L_per_min": 3, "water_narrow_L_per_min": 1},
            "all",
        ),
        ("rectangle", {"heat_flux_kW_per_m2": 300}, None),
    ],
)
def test_sprayed_faces_follow_from_the_shape_and_the_water(shape, given, faces):
    case = plant().replace({"section.shape": shape, "zone": [{"name": "one", "end_m": 2.0, **given}]})
    assert case.zone[0].sprayed_faces == faces


def test_a_zone_overrides_the_cooling_table():
    case = plant().replace(
        {
            "zone.'spray 1'.emissivity": 0.6,
            'zone."spray 1".roll_contact_share': 0.1,
            "cooling.view_factor": 0.9,
        }
    )
    own, other = case.cooling_in(case.zone[1]), case.cooling_in(case.zone[0])
    assert (own.emissivity, own.roll_contact_share, own.roll_contact_W_per_m2K) == (0.6, 0.1, None)
    assert (other.emissivity, other.roll_contact_share, other.roll_contact_W_per_m2K) == (0.8, None, 0.0)
    assert own.view_factor == other.view_factor == 0.9


def rich_plant():
    """The plant with every table in a table, and relations in place of numbers."""
    rolls = {f'zone."{name}".roll_pitch_m': 0.25 for name in ("foot rolls", "spray 1")}
    nozzles = {"count": 24, "flow_L_per_min": 2.0, "reference_bar": 2, "pressure_bar": 3.5}
    spray = {"width_angle_deg": 90, "length_angle_deg": 25, "stand_off_mm": 150, "row_pitch_mm": 250}
    return plant().replace(
        rolls
        | {
            "mould.mean_heat_flux_MW_per_m2": None,
            "mould.face_water_flow_L_per_min": {"loose": 600, "fixed": 590, "left": 480},
            "mould.face_water_rise_K": {"loose": 6.5, "fixed": 6.6, "left": 6.2},
            "cooling.emissivity_relation": "touloukian",
            "cooling.roll_contact_relation": "diener",
            "cooling.roll_radius_mm": 150,
            "cooling.roll_contact_angle_deg": 7,
            'zone."spray 1".water_at_speed': None,
            'zone."spray 1".nozzles': nozzles | spray | {"nozzles_across": 1},
            'zone."spray 1".emissivity': 0.7,
        }
    )


def test_tables_in_tables_and_relations_read_back_and_go_by_path():
    case = rich_plant()
    assert parse_case(case.effective_toml()) == case
    assert parse_case(case.text) == case
    assert case.mould.measured_at_speed_m_per_min == 0.75
    assert case.value('zone."spray 1".nozzles.pressure_bar') == 3.5
    assert case.replace({'zone."spray 1".nozzles.pressure_bar': 5.0}).zone[1].nozzles.pressure_bar == 5.0
    assert case.replace({"mould.face_water_rise_K.left": 6.0}).mould.face_water_rise_K.left == 6.0


def test_a_relation_stands_in_place_of_the_number_and_the_other_way_round():
    case = rich_plant()
    common, own = case.cooling_in(case.zone[0]), case.cooling_in(case.zone[1])
    assert (common.emissivity, common.emissivity_relation) == (None, "touloukian")
    assert (own.emissivity, own.emissivity_relation) == (0.7, None)
    assert (common.roll_contact_W_per_m2K, common.roll_contact_relation) == (None, "diener")
    plain_case = plant()
    assert (plain_case.cooling.emissivity, plain_case.cooling.roll_contact_W_per_m2K) == (0.8, 0.0)


def test_a_speed_outside_the_water_table_is_noticed():
    case = plant()
    assert case.notices == ()
    notices = case.replace({"casting.speed_m_per_min": 0.3}).notices
    assert [notice.where for notice in notices] == ['zone "spray 1"']


# ------------------------------------------------------------------------------------ cases from other cases


def test_replace_leaves_the_old_case_and_checks_the_new():
    case = plant()
    other = case.replace({"casting.speed_m_per_min": 1, 'zone."foot rolls".water_L_per_min': 60.0})
    assert (case.casting.speed_m_per_min, case.zone[0].water_L_per_min) == (0.75, 50)
    assert (other.casting.speed_m_per_min, other.zone[0].water_L_per_min) == (1, 60)
    assert parse_case(other.text) == other


def test_replace_takes_numbers_and_arrays_of_numpy():
    case = plant().replace(
        {"casting.speed_m_per_min": np.float64(0.8), "machine.straightener_m": np.array([15.0, 16.0]),
         "machine.radius_after_m": None, "steps.nodes": np.int64(80)}
    )  # fmt: skip
    assert case.machine.straightener_m == (15.0, 16.0)
    assert case.steps.nodes == 80


def test_replace_names_every_wrong_key_and_value_by_its_path():
    case = plant()
    first, second = problems_of(
        case.replace, {"casting.sped_m_per_min": 1, 'zone."foot rols".end_m': 1, "steps.nodes": 80}
    )
    assert (first.where, first.closest) == ("casting.sped_m_per_min", "casting.speed_m_per_min")
    assert second.closest == 'zone."foot rolls".end_m'
    first, second = problems_of(case.replace, {"casting.speed_m_per_min": 28, 'zone."spray 1".end_m': 0.7})
    assert str(first) == "casting.speed_m_per_min: 28 is outside 0.05 to 12 m/min"
    assert second.where == 'zone."spray 1".end_m'


@pytest.mark.parametrize("demo", DEMOS)
def test_a_replaced_case_is_the_one_that_is_read_and_checked_anew(demo, monkeypatch):
    """Only what changed is read again, and only the checks that it can break are made: the same comes of it."""
    case = parse_case(shipped(demo), demo)
    changes = []
    for key in case.key_paths():
        about = case.about(key)
        values = (None, about.get("minimum"), about.get("maximum"), *about.get("enum", ()))
        changes += [{key: value} for value in dict.fromkeys(values)]
    tables = [tomllib.loads(shipped(name)) for name in SHIPPED]
    for name in ("steel", "section", "casting", "mould", "zone", "machine"):
        changes += [{name: other[name]} for other in tables]
    zones = [zone for other in tables for zone in other["zone"]]
    ends = [{"name": f"zone {i}", "end_m": 1.0 + i / 10} for i in range(len(zones))]
    changes += [{"zone": [zone | end for zone, end in zip(zones, ends, strict=True)]}]
    changes += [{"zone": [*changes[-1]["zone"][:-1], ends[-1]]}]
    width = case.section.width_mm
    changes += [
        {"section.width_mm": width + 1},
        {"section.width_mm": width + 1, "section.thickness_mm": width},
    ]
    sizes = {"section.thickness_mm": None, "section.width_mm": None, "section.diameter_mm": 200}
    changes += [{"section.shape": "round", **sizes, "zone": zones[:1]}, {"section.shape": "round", **sizes}]
    quick = [made(case.replace, change) for change in changes]
    monkeypatch.setattr(ValidTables, "checks_on", lambda tables, paths: None)
    monkeypatch.setattr(Case, "_unchanged", lambda case, data: {})
    assert quick == [made(case.replace, change) for change in changes]
    assert len({str(problems) for _, problems in quick}) > 50
    assert sum(replaced is not None for replaced, _ in quick) > 50


def test_a_case_replaced_twice_is_held_to_the_rules_as_it_stands():
    """Only the rules of a round ask which faces are sprayed."""
    sizes = {"section.thickness_mm": None, "section.width_mm": None, "section.diameter_mm": 200}
    case = plant().replace({"casting.superheat_K": 30}).replace({"section.shape": "round", **sizes})
    (problem,) = problems_of(case.replace, {'zone."foot rolls".sprayed_faces': "wide"})
    assert problem.where == 'zone."foot rolls".sprayed_faces'


def test_values_of_one_change_are_set_one_after_the_other():
    """A key within a table or a list of zones that is new too goes into the new one."""
    case = plant()
    zones = [{"name": "only", "end_m": 2.0, "water_L_per_min": 20}]
    one = case.replace({"zone": zones, "zone.only.end_m": 3.0, "shell": {}, "shell.solid_fraction": 0.5})
    assert (one.zone[0].name, one.zone[0].end_m, one.shell.solid_fraction) == ("only", 3.0, 0.5)
    (problem,) = problems_of(case.replace, {"zone": zones, 'zone."foot rolls".end_m': 1.0})
    assert problem.where == 'zone."foot rolls".end_m'
    renamed = case.replace({'zone."foot rolls".name': "foot", 'zone."foot rolls".end_m': 1.0})
    assert (renamed.zone[0].name, renamed.zone[0].end_m) == ("foot", 1.0)


@pytest.mark.parametrize(
    ("table", "key"), [("zone", 'zone."foot rolls".end_m'), ("casting", "casting.superheat_K")]
)
@pytest.mark.parametrize("wrong", [5, False, "word", [], [1]])
def test_a_key_of_a_table_that_is_none_is_told_without_a_traceback(table, key, wrong):
    assert problems_of(plant().replace, {table: wrong, key: 1.0})


@pytest.mark.parametrize(
    "path", ["", ".", "casting.", "zone", "a = 1\nb", "casting", "zone.0.end_m", "[casting]"]
)
def test_no_path_gives_a_traceback(path):
    case = plant()
    assert problems_of(case.replace, {path: 1.5})


def test_replacing_by_none_removes_a_key():
    case = plant().replace({"casting.superheat_K": None, "casting.tundish_temperature_C": 1520})
    assert case.casting.superheat_K is None
    (problem,) = problems_of(case.replace, {"casting.tundish_temperature_C": None})
    assert problem.given == "has neither superheat_K nor tundish_temperature_C"


def test_a_measured_mould_flux_stays_with_the_speed_of_the_file():
    """The speed of a study is not the speed at which the plant read its panel."""
    case = plant()
    faster = case.replace({"casting.speed_m_per_min": 0.9})
    assert case.mould.measured_at_speed_m_per_min == 0.75
    assert faster.mould.measured_at_speed_m_per_min == 0.75
    assert parse_case(faster.text).mould.measured_at_speed_m_per_min == 0.75
    assert faster.replace({"casting.speed_m_per_min": 0.75}) == case
    law = {"a_kW_per_m2": 2680, "b_kW_per_m2_per_sqrt_s": 280}
    own = {"mould.mean_heat_flux_MW_per_m2": None, "mould.expected_mean_heat_flux_MW_per_m2": None}
    assert faster.replace({**own, "mould.heat_flux_law": law}).mould.measured_at_speed_m_per_min is None


def test_every_key_path_gives_its_value_and_takes_it_back():
    case = plant()
    given = {path: case.value(path) for path in case.key_paths()}
    assert given["casting.speed_m_per_min"] == 0.75
    assert given['zone."foot rolls".roll_pitch_m'] == 0.25
    assert given["steel.composition.Al"] == 0.030
    assert given["mould.heat_flux_law.a_kW_per_m2"] is None
    for path, value in given.items():
        assert case.replace({path: value}) == case, path


def test_cases_that_differ_in_one_number_are_unequal():
    case = plant()
    numbers = [path for path in case.key_paths() if isinstance(case.value(path), float)]
    for path in numbers:
        near = case.value(path) * 0.999 or 1e-3
        assert case.replace({path: near}) != case, path
    assert len(numbers) > 30


@pytest.mark.parametrize("end", [0.9, 0.6])
def test_a_zone_without_length_is_refused(end):
    """Ending exactly where the zone before it or the mould ends."""
    name = "spray 1" if end == 0.9 else "foot rolls"
    (problem,) = problems_of(plant().replace, {f'zone."{name}".end_m': end})
    assert problem.where == f'zone."{name}".end_m'


def test_an_unknown_path_has_no_value():
    (problem,) = problems_of(plant().value, "mould.lenght_mm")
    assert problem.closest == "mould.length_mm"


def test_limits_go_by_name():
    case = plant().replace({"limits.shell_floor": 14, "limits.superheat_window": [18, 35]})
    assert case.limits == {"shell_floor": 14, "superheat_window": (18, 35)}
    assert parse_case(case.effective_toml()) == case
    assert case.value("limits.shell_floor") == 14


# --------------------------------------------------------------------------------- any text, any value

JUNK = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.integers(10**400, 10**401),
    st.floats(),
    st.text(max_size=5),
    st.dates(),
    st.lists(st.floats(), max_size=3),
    st.lists(st.lists(st.integers(), max_size=3), max_size=3),
    st.dictionaries(st.text(max_size=3), st.integers(), max_size=2),
)


def _leaves(at, path=()):
    yield path
    for key, below in at.items() if isinstance(at, dict) else enumerate(at) if isinstance(at, list) else ():
        yield from _leaves(below, (*path, key))


def read(text):
    return made(parse_case, text, "c.toml")


def made(call, *arguments):
    """A case and no problems, or no case and its problems; anything else is a failure."""
    try:
        return call(*arguments), ()
    except InputError as error:
        return None, error.problems


@settings(max_examples=300, deadline=None)
@given(st.data())
def test_any_one_wrong_value_is_told_with_a_line(data):
    tables = tomllib.loads(shipped(data.draw(st.sampled_from(SHIPPED))))
    path = data.draw(st.sampled_from([p for p in _leaves(tables) if p]))
    value = data.draw(JUNK)
    at = tables
    for key in path[:-1]:
        at = at[key]
    if value is None:
        del at[path[-1]]
    else:
        at[path[-1]] = value
    text = tomli_w.dumps(tables)
    case, problems = read(text)
    for problem in problems:
        missing = problem.given.endswith("is missing") and value is None
        assert missing or re.fullmatch(r"c\.toml:\d+:", problem.where), str(problem)
        assert len(problem.given) < 200
    assert problems or parse_case(case.effective_toml()) == case


def change_of(case, draw):
    """Up to three keys, tables or zones and their new values, of which some fit and some do not."""
    other = parse_case(shipped(draw(st.sampled_from(SHIPPED))))
    tables = tomllib.loads(other.text)
    zones = [f"zone.{json.dumps(zone.name)}" for zone in case.zone]
    keys, groups = st.sampled_from(case.key_paths()), st.sampled_from([*zones, *tables])
    found = {}
    for name in draw(st.lists(keys | groups, min_size=1, max_size=3, unique=True)):
        if any(name.startswith(before) or before.startswith(name) for before in found):
            continue
        about = case.about(name)
        ends = [about[end] for end in ("minimum", "maximum") if end in about]
        likely = [None, case.value(name), *about.get("enum", ()), *ends, *(1.01 * end for end in ends)]
        if name in zones:
            likely = tables["zone"]
        elif name in tables:
            likely = [tables[name]]
        found[name] = draw(st.sampled_from(likely) | JUNK.filter(lambda value: value is not None))
    return found


def with_change(case, change):
    """Text of the case with other values, put in without the help of the case."""
    tables = tomllib.loads(case.text)
    for name, value in change.items():
        *_, keys = _leaves(tomllib.loads(f"{name} = 0"))
        if keys[0] == "zone" and keys[1:]:
            keys = ("zone", [zone.name for zone in case.zone].index(keys[1]), *keys[2:])
        set_in(tables, keys, value)
    return tomli_w.dumps(tables)


def set_in(at, keys, value):
    """Set a value in tables, or remove it where there is none; tables on the way are made for a value."""
    key, *below = keys
    if below and value is not None and isinstance(at, dict):
        at.setdefault(key, {})
    if below:
        if isinstance(at, list) or key in at:
            set_in(at[key], below, value)
    elif value is None:
        at.pop(key, None)
    else:
        at[key] = value


def of_the_case_alone(case):
    """Notices without those that remember the section and the steel of the file."""
    remembered = left_behind(case)
    return tuple(notice for notice in case.notices if notice not in remembered)


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_a_replaced_case_is_what_a_file_with_its_values_gives(data):
    """The same case with the same notices, or the same problems; and so again from what came out."""
    case = demo_case(data.draw(st.sampled_from(DEMOS)).removesuffix(".toml"))
    for _ in range(data.draw(st.integers(1, 4))):
        if case.section.width_rule not in (None, "given"):
            return  # water follows the section then, which no file says: test_width.py
        change = change_of(case, data.draw)
        replaced, problems = made(case.replace, change)
        again, said = read(with_change(case, change) if replaced is None else replaced.text)
        assert (again, again and again.notices) == (replaced, replaced and of_the_case_alone(replaced))
        left = list(said)
        for problem in problems:
            left.remove(next(p for p in left if alike(problem, p)))
        assert not left
        case = replaced or case


def alike(replaced, read):
    """Whether two problems differ in nothing but where they are said to stand."""
    same = all(getattr(replaced, part) == getattr(read, part) for part in ("allowed", "closest", "do"))
    return same and read.given.endswith(replaced.given)


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_any_change_of_the_text_gives_a_case_or_problems(data):
    text = shipped("starter.toml")
    at = data.draw(st.integers(0, len(text)))
    cut = data.draw(st.integers(0, 3))
    text = text[:at] + data.draw(st.text(max_size=3)) + text[at + cut :]
    case, problems = read(text)
    assert problems or parse_case(case.effective_toml()) == case


KEYS = st.text(max_size=4)
TABLES = st.recursive(
    st.one_of(st.integers(-5, 5), st.text(max_size=6), st.booleans(), st.floats(allow_nan=False), st.dates()),
    lambda below: st.lists(below, max_size=3) | st.dictionaries(KEYS, below, max_size=3),
    max_leaves=12,
)


@settings(max_examples=300, deadline=None)
@given(st.dictionaries(KEYS, TABLES, max_size=4), st.booleans())
def test_every_key_of_any_toml_has_the_line_it_stands_on(tables, multiline):
    text = tomli_w.dumps(tables, multiline_strings=multiline)
    found = key_lines(text)
    rows = text.split("\n")
    assert set(found) == {path for path in _leaves(tomllib.loads(text)) if path}
    for path, line in found.items():
        assert 1 <= line <= len(rows)
        if isinstance(path[-1], str) and re.fullmatch(r"[A-Za-z0-9_-]+", path[-1]):
            assert path[-1] in rows[line - 1]


def test_lines_of_every_form_of_toml():
    text = '''# head
title = "not a # comment"
a.b."c.d" = 'x = 1'
text = """
[no.table]
key = 1
"""
raw = \'\'\'
it's ""quoted""
\'\'\'

[[zone]] # first
table = [
  [0.5, 40], # low
  [0.75,
   57],
]
[zone.sub]
when = 1979-05-27 07:32:00
[[zone]]
inline = { x = 1, y = { z = [1, 2] } }
'''
    tomllib.loads(text)
    found = key_lines(text)
    assert found[("a", "b", "c.d")] == 3
    assert (found[("text",)], found[("raw",)]) == (4, 8)
    assert (found[("zone",)], found[("zone", 0)], found[("zone", 1)]) == (12, 12, 20)
    assert (found[("zone", 0, "table", 1)], found[("zone", 0, "table", 1, 1)]) == (15, 16)
    assert found[("zone", 0, "sub", "when")] == 19
    assert found[("zone", 1, "inline", "y", "z", 1)] == 21
    assert ("no", "table") not in found


@pytest.mark.parametrize("module", [lines, paths, schema, values])
def test_examples_in_the_docstrings_hold(module):
    done = doctest.testmod(module)
    assert done.attempted
    assert not done.failed


def test_the_schema_is_plain_json():
    assert json.loads(json.dumps(case_schema())) == case_schema()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('case = "bloom.toml"\n[vary]\n"casting.superheat_K" = [20, 30]\n', "solidify sweep other.toml"),
        ('case = "bloom.toml"\ntable = "rows.csv"\n', "solidify sweep other.toml"),
        ('speeds_m_per_min = [0.7]\n[aim]\nleast = "water"\n', "solidify tune CASE.toml other.toml"),
    ],
)
def test_a_file_of_another_verb_is_told_what_reads_it(text, words):
    """One sentence in place of a dozen missing tables; a case with a stray key still hears of every mistake."""
    with pytest.raises(InputError) as caught:
        parse_case(text, "other.toml")
    assert len(caught.value.problems) == 1
    assert words in str(caught.value)
    with pytest.raises(InputError, match="is not a known table"):
        parse_case(starter_case() + '\n[vary]\n"casting.superheat_K" = [20, 30]\n')
