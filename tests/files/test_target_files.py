"""Target files: what they may hold, and every mistake said at once with its table and key."""

import math
from pathlib import Path

import pytest

from solidify.case import read_case
from solidify.errors import InputError
from solidify.tuning.target import water_at
from solidify.tuning.target_file import parse_target, read_target

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
    assert water_at(billet) == (76.0, 239.0, 190.0, 78.0)
    assert water_at(other)[:3] == (76.0, 239.0, 190.0)
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
        ('[aim] least: = "watr"', "did you mean 'water'?"),
        ("[aim] flattest: stands beside least", "keep one"),
        ('[aim] keep: = "soft"', '"all" limits or "hard" ones'),
        ('[aim] rising_with_speed: = "yes"', "true or false"),
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
        ("speeds_m_per_min = [true]", "= true"),
        (f"speeds_m_per_min = [1{'0' * 400}]", "= a whole number of many digits"),
    ],
)
def test_one_mistake(billet, text, words):
    (found,) = said(text, billet)
    assert words in found


def test_a_zone_that_a_table_cannot_carry_is_fixed_and_says_so_when_asked(billet):
    nozzles = {"count": 24, "flow_L_per_min": 2, "reference_bar": 2, "pressure_bar": 8}
    case = billet.replace({'zone."spray 1".water_L_per_min': None, 'zone."spray 1".nozzles': nozzles})
    assert parse_target("speeds_m_per_min = [2.5]", case).valves[1].fixed
    (found,) = said('speeds_m_per_min = [2.5]\n[valve."spray 1"]\nmax_L_per_min = 300', case)
    assert "give it one total in the case, or fixed = true" in found


def test_shares_loops_and_sides_are_read(billet):
    slab = read_case(CASES / "slab.toml")
    target = parse_target(
        """
speeds_m_per_min = [1.2]
[[surface]]
distance_m = 12.4
temperature_C = 940
side = "both"
[valve."spray 3"]
side_shares = { loose = 0.45, fixed = 0.55 }
[valve."spray 4"]
side_shares = { loose = [0.4, 0.5], fixed = [0.5, 0.6] }
[loop."lower"]
feeds = ["spray 3 fixed", "spray 4 fixed", "spray 5"]
max_L_per_min = 300
""",
        slab,
    )
    assert [(p.side, p.place) for p in target.points] == [
        ("loose", "12.40 m"),
        ("fixed", "12.40 m, fixed side"),
    ]
    assert target.valves[3].shares == (("loose", 0.45, 0.45), ("fixed", 0.55, 0.55))
    assert target.valves[4].shares == (("loose", 0.4, 0.5), ("fixed", 0.5, 0.6))
    (loop,) = target.loops
    assert loop.feeds == (("spray 3", "fixed"), ("spray 4", "fixed"), ("spray 5", ""))
    assert (loop.low, loop.high) == (0.0, 300.0)
    thirds = parse_target(
        'speeds_m_per_min = [2.5]\n[valve."spray 1"]\n'
        "side_shares = { loose = 0.333, fixed = 0.333, narrow = 0.333 }",
        billet,
    )
    assert thirds.valves[1].shares[0][1] == pytest.approx(1 / 3, abs=1e-12)


def test_every_mistake_of_sides_and_loops_at_once():
    slab = read_case(CASES / "slab.toml")
    text = """
speeds_m_per_min = [1.2]
[[surface]]
distance_m = 8
temperature_C = 960
side = "losse"
[valve."foot rolls"]
side_shares = { loose = 0.5, fixed = 0.5 }
[valve."spray 1"]
side_shares = { loose = 0.4, fixed = 0.5 }
[valve."spray 2"]
side_shares = { loose = [0.5, 0.4], fixed = [0.3, 0.4, 0.5] }
[valve."spray 3"]
side_shares = { loose = 0.4, fixd = 0.6 }
[valve."spray 4"]
tied_to = "spray 5"
ratio = 2
side_shares = { loose = [0.4, 0.5], fixed = [0.5, 0.6] }
[valve."spray 5"]
side_shares = { loose = [0.1, 0.3], fixed = [0.2, 0.5] }
[loop.upper]
feeds = ["spray 9", "spray 6 loose", "spray 4 loose"]
min_L_per_min = 90
max_L_per_min = 80
[loop.lower]
feeds = ["spray 4"]
[loop.narrow]
"""
    found = said(text, slab)
    expected = [
        ('[[surface]] 1 side: = "losse"', "did you mean 'loose'?"),
        ('[valve."foot rolls"] side_shares narrow: is missing', "0 when the narrow faces stay dry"),
        ('[valve."spray 1"] side_shares: adds up to 0.9', "correct a share"),
        ('[valve."spray 2"] side_shares loose: = [0.5, 0.4]', "exchange the two"),
        ('[valve."spray 2"] side_shares fixed: = [0.3, 0.4, 0.5]', "[least, most]"),
        ('[valve."spray 3"] side_shares fixd: is not a known key', "did you mean 'fixed'?"),
        ('[valve."spray 3"] side_shares fixed: is missing', "add it"),
        ('[valve."spray 4"] side_shares: has a range, but the zone is tied', "give numbers"),
        ('[valve."spray 5"] side_shares: adds up to between 0.3 and 0.8', "correct a share"),
        ('[loop."upper"] feeds: "spray 9": no such zone', "did you mean 'spray 6'?"),
        ('[loop."upper"] feeds: "spray 6 loose": nothing tells the water of spray 6', "give side_shares"),
        ('[loop."upper"] min_L_per_min: = 90 L/min is above the most, 80 L/min', "exchange"),
        ('[loop."lower"] feeds: "spray 4" is fed by "upper" already', "name it once"),
        ('[loop."narrow"] feeds: is missing', "a list of zones"),
    ]
    for one, (start, rest) in zip(found, expected, strict=False):
        assert start in one
        assert rest in one
    assert len(found) == len(expected)


def test_shares_do_not_fit_a_round(billet):
    changes = {"section": {"shape": "round", "diameter_mm": 150}}
    (found,) = said(
        'speeds_m_per_min = [2.5]\n[valve."spray 1"]\nside_shares = { loose = 0.5, fixed = 0.5 }',
        billet.replace(changes),
    )
    assert "does not fit a round" in found


def test_files_that_are_none(billet, tmp_path):
    with pytest.raises(InputError, match="no such"):
        read_target(tmp_path / "target.toml", billet)
    (tmp_path / "target.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(InputError, match="not text in UTF-8"):
        read_target(tmp_path / "target.toml", billet)


def test_points_count_from_where_the_case_counts(billet):
    """100 mm of mould stand above the steel: 8.1 m from the mould top are 8 m from the meniscus."""
    text = "speeds_m_per_min = [2.5]\n[[surface]]\ndistance_m = 8.1\ntemperature_C = 1000\n"
    top = billet.replace({"machine.distances_from": "mould top"})
    assert parse_target(text, top).points[0].distance == pytest.approx(8.0)
    assert parse_target(text, billet).points[0].distance == 8.1
    assert parse_target(text.replace("8.1", "21.95"), top).points[0].distance == pytest.approx(21.85)
    (found,) = said(text.replace("8.1", "0.85"), top)
    assert "0.9 to 22" in found
    assert "from the mould top as in the case" in found


def test_inner_and_outer_are_the_loose_and_the_fixed_side():
    slab = read_case(CASES / "slab.toml")
    text = """speeds_m_per_min = [1.2]
[[surface]]
distance_m = 8
temperature_C = 1000
side = "{outer}"
[valve."spray 4"]
side_shares = {{ {inner} = [0.3, 0.5], {outer} = [0.5, 0.7] }}
"""
    words, same = ({"inner": a, "outer": b} for a, b in (("inner", "outer"), ("loose", "fixed")))
    first, second = (parse_target(text.format(**own), slab) for own in (words, same))
    assert first.points == second.points
    assert first.points[0].side == "fixed"
    assert first.valves == second.valves
