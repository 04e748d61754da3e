"""Target files: what they may hold, and every mistake said at once with its table and key."""

import math
from pathlib import Path

import pytest

from solidify.case import read_case
from solidify.errors import InputError
from solidify.studies.target import parse_target, read_target, water_at

CASES = Path(__file__).parents[2] / "cases"


@pytest.fixture(scope="module")
def billet():
    return read_case(CASES / "billet.toml")


def said(text, case):
    with pytest.raises(InputError) as caught:
        parse_target(text, case, "t.toml")
    return [str(p).replace("\n   ", "") for p in caught.value.problems]


@pytest.mark.parametrize("name", ["billet", "slab"])
def test_the_demo_targets_fit_their_cases(name):
    case = read_case(CASES / f"{name}.toml")
    target = read_target(CASES / f"{name}-target.toml", case)
    assert [v.zone for v in target.valves] == [z.name for z in case.zone]
    assert not any(v.assumed for v in target.valves if not v.fixed)


def test_a_short_target_takes_defaults(billet):
    target = parse_target("speeds_m_per_min = [2.5]", billet)
    assert (target.aim, target.soft, target.rising, target.room) == ("least", True, True, 0.2)
    assert [(v.low, v.high, v.assumed) for v in target.valves][1] == (0.0, 3 * 239.0, True)
    pointed = parse_target(
        "speeds_m_per_min = [2.5]\n[[surface]]\ndistance_m = 5\ntemperature_C = 1000", billet
    )
    assert (pointed.aim, pointed.points[0].band) == ("nearest", 15.0)


def test_valves_of_the_case_count_and_those_of_the_target_win(billet):
    case = billet.replace(
        {'zone."spray 1".water_min_L_per_min': 50, 'zone."spray 1".water_max_L_per_min': 400}
    )
    text = 'speeds_m_per_min = [2.5]\n[valve."spray 1"]\nmax_L_per_min = 350\n'
    valve = parse_target(text, case).valves[1]
    assert (valve.low, valve.high, valve.assumed) == (50.0, 350.0, False)


def test_water_of_today_in_litres_whatever_way_it_is_given(billet):
    other = billet.replace(
        {'zone."spray 3".water_L_per_min': None, 'zone."spray 3".heat_transfer_W_per_m2K': 200}
    )
    assert water_at(billet) == (76.0, 239.0, 172.0, 62.0)
    assert water_at(other)[:3] == (76.0, 239.0, 172.0)
    assert math.isnan(water_at(other)[3])


def test_every_mistake_at_once(billet):
    text = """
speed_m_per_min = [2.5]
speeds_m_per_min = [2.5, 2.0, 40]
[[surface]]
distance_m = 0.5
temperature_C = 10000
[[surface]]
distance_m = 5
[aim]
least = "watr"
flattest = "surface"
rising_with_speed = "yes"
room = -1
keep = "soft"
[valve."spray 11"]
fixed = true
[valve."spray 1"]
min_L_per_min = 300
max_L_per_min = 100
[valve."spray 2"]
tied_to = "spray 33"
[valve."spray 3"]
fixed = true
ratio = 2
"""
    found = said(text, billet)
    expected = [
        ("t.toml: speed_m_per_min: is not a known key", "did you mean 'speeds_m_per_min'?"),
        ("speeds_m_per_min: = 40", "0.05 to 12 m/min"),
        ("[[surface]] 1 distance_m: = 0.5", "0.8 to 22 m"),
        ("[[surface]] 1 temperature_C: = 10000", "300 to 1500 °C"),
        ("[[surface]] 2: temperature_C missing", "add it"),
        ("[aim] least: = 'watr'", "did you mean 'water'?"),
        ("[aim] flattest: stands beside least", "keep one"),
        ("[aim] keep: = 'soft'", '"all" limits or "hard" ones'),
        ("[aim] rising_with_speed: = 'yes'", "true or false"),
        ("[aim] room: = -1", "0 to 5"),
        ('[valve."spray 11"]: no such zone', "did you mean 'spray 1'?"),
        ('[valve."spray 1"] min_L_per_min: = 300 L/min is above the most, 100 L/min', "exchange"),
        ('[valve."spray 2"] ratio: is missing', "add it"),
        ('[valve."spray 3"] ratio: has no effect without tied_to', "drop it"),
        ('[valve."spray 2"] tied_to: = "spray 33"', "did you mean 'spray 3'?"),
    ]
    for one, (start, rest) in zip(found, expected, strict=False):
        assert start in one
        assert rest in one
    assert len(found) == len(expected)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("speeds_m_per_min = [2.5, 2.0]", "rising speeds"),
        ("speeds_m_per_min = 2.5", "a list of one or more speeds"),
        ('[aim]\nleast = "water"', "speeds_m_per_min: is missing"),
        ('speeds_m_per_min = [2.5]\n[aim]\nnearest = "target"', "has no [[surface]]"),
        ("speeds_m_per_min = [2.5]\n[surface]\ndistance_m = 3", "write [[surface]], in two brackets"),
        ("speeds_m_per_min = [2.5]\nvalve = 3", "is no table"),
        ("speeds_m_per_min = [2.5", "not TOML"),
        (
            'speeds_m_per_min = [2.5]\n[valve."spray 1"]\ntied_to = "spray 2"\nratio = 1\n'
            '[valve."spray 2"]\ntied_to = "spray 3"\nratio = 1',
            "which is itself tied",
        ),
        (
            'speeds_m_per_min = [2.5]\n[valve."spray 1"]\ntied_to = "spray 2"\nratio = 1\nmin_L_per_min = 600\n'
            "max_L_per_min = 700",
            "its valve takes 600 to 700 L/min",
        ),
        (
            "speeds_m_per_min = [2.5]\n"
            + "".join(
                f'[valve."{z}"]\nfixed = true\n' for z in ("foot rolls", "spray 1", "spray 2", "spray 3")
            ),
            "every zone is fixed",
        ),
        ("speeds_m_per_min = [true]", "= True"),
    ],
)
def test_one_mistake(billet, text, words):
    (found,) = said(text, billet)
    assert words in found


def test_a_zone_that_a_table_cannot_carry_is_fixed_and_says_so_when_asked(billet):
    sides = {'zone."spray 1".water_L_per_min': None}
    sides |= {f'zone."spray 1".water_{side}_L_per_min': 60 for side in ("loose", "fixed", "narrow")}
    case = billet.replace(sides)
    assert parse_target("speeds_m_per_min = [2.5]", case).valves[1].fixed
    (found,) = said('speeds_m_per_min = [2.5]\n[valve."spray 1"]\nmax_L_per_min = 300', case)
    assert "give it one total in the case, or fixed = true" in found


def test_files_that_are_none(billet, tmp_path):
    with pytest.raises(InputError, match="no such"):
        read_target(tmp_path / "target.toml", billet)
    (tmp_path / "target.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(InputError, match="is not text in UTF-8"):
        read_target(tmp_path / "target.toml", billet)
