"""Plan files: what they may hold, and every mistake said at once with its line and the closest word."""

import math
import re
from pathlib import Path

import pytest
from heat_plants import CASES, FOUR, SLAB, plan_of
from hypothesis import given, settings
from hypothesis import strategies as st

from solidify import InputError, heat_plan, read_plan
from solidify.plan.plan_file import parse_plan
from solidify.units import M_PER_MIN, MINUTE

HERE = Path(__file__).parents[2] / "cases"


def said(text, cases=CASES):
    with pytest.raises(InputError) as caught:
        parse_plan(text, "p.toml", cases=cases)
    return [str(p).replace("\n   ", "") for p in caught.value.problems]


def swapped(*changes, text=FOUR):
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    return text


def line_of(text, start):
    return next(i for i, line in enumerate(text.splitlines(), 1) if line.startswith(start))


def test_the_demo_plan_reads():
    plan = read_plan(HERE / "heat-plan.toml")
    assert [s.name for s in plan.strands] == list("12345678")
    assert [t.name for t in plan.tundishes] == ["left", "right"]
    assert len(plan.ladles) == 6
    assert plan.strands[0].case.title.startswith("Bloom 250 x 300")
    assert plan.strands[7].speed.aim / M_PER_MIN == pytest.approx(1.9)


def test_a_short_plan_takes_figures_and_tells_them():
    text = """
[ladle]
weight_t = 80
[[tundish]]
weight_t = 8
[[strand]]
case = "a.toml"
"""
    plan = parse_plan(text, cases=CASES)
    assert len(plan.ladles) == 1
    assert plan.tundishes[0].name == "tundish"
    assert plan.strands[0].speed.aim / M_PER_MIN == pytest.approx(0.75)
    assert plan.strands[0].bound is False
    assert (plan.superheat.least, plan.superheat.aim, plan.superheat.most) == (18, 28, 38)
    told = {a.label: a for a in plan.assumed}
    assert told["least weight of a tundish"].value == pytest.approx(0.4 * 8)
    assert told["most flow of the ladle gate"].value == pytest.approx(2 * 0.410625)
    assert told["cooling of the ladle"].value == pytest.approx(0.9)
    assert told["drop from ladle to tundish"].origin == "common practice, no source"
    assert plan.shut == 2.5 * MINUTE
    assert math.isnan(plan.finish)


def test_what_is_given_is_not_assumed():
    text = FOUR.replace("lengths_m = 6", "lengths_m = 6 # all")
    assert {a.label for a in parse_plan(text, cases=CASES).assumed} == set()


def test_lists_give_each_ladle_its_own():
    plan = plan_of(SLAB, ("weight_t = 250", "weight_t = [250, 240]"), ("heats = 6", "at_min = [0, 47.5]"))
    assert [ladle.weight for ladle in plan.ladles] == [250e3, 240e3]
    assert plan.ladles[1].arrival == 47.5 * 60


def test_every_mistake_at_once():
    text = swapped(
        ("weight_t = 80", "weight_t = 800"),
        ("stays_t = 1.0", "stay_t = 1.0"),
        ("least_weight_t = 4", "least_weight_t = 9"),
        ("level_at_weight = [[0, 0], [4, 420], [8, 800]]", "level_at_weight = [[0, 0], [4, 820], [8, 800]]"),
        ('kind = "metering"', 'kind = "meterin"'),
        ('tundish = "right"', 'tundish = "rigt"'),
        ("{ least = 1.3, aim = 1.9, most = 2.3 }", "{ least = 2.3, aim = 1.9, most = 1.3 }"),
        ("heats = 3", "heats = 2.5"),
        ("shut_min = 2.5", "shut_min = 2.5\narrive_every_min = 50\nat_min = [0, 50, 100]"),
        ("lengths_m = 6", "lengths_m = [8, 6]"),
    )
    found = said(text)
    lines = {
        "[ladle] weight_t": "weight_t = 800",
        "[ladle] stay_t": "stay_t",
        "[[tundish]] 1 least_weight_t": "least_weight_t = 9",
        "[[tundish]] 1 level_at_weight": "level_at_weight = [[0, 0], [4, 820]",
        "[sequence] heats": "heats",
        "[sequence] at_min": "at_min",
        "[cut] lengths_m": "lengths_m",
    }
    for where, start in lines.items():
        at = line_of(text, start)
        assert any(p.startswith(f"p.toml:{at}: {where}") for p in found), (where, at, found)
    told = "\n".join(found)
    for words in (
        "a number from 1 to 400 t",
        "did you mean 'stays_t'?",
        "the tundish would run below its least",
        "a level that rises with the weight",
        "did you mean 'metering'?",
        "did you mean 'right'?",
        "least, aim and most in rising order",
        "a whole number from 1 to 60",
        "stands beside arrive_every_min",
        "exchange the two",
    ):
        assert words in told, words
    assert sum("[cut] lengths_m" in p for p in found) == 1, "a mistake in the cut of all strands is told once"


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (('name = "B"', 'name = "A"'), "[[strand]] 2 name: = \"A\" stands twice"),
        (("gate_most_t_per_min = 5", "gate_most_t_per_min = 1.2"), "more than the strands take"),
        (("stays_t = 1.0", "stays_t = 80"), "ladle 1 holds 80 t"),
        (("start_weight_t = 5", "start_weight_t = 9"), "the strands would never be opened"),
        (("level_at_weight = [[0, 0], [4, 420], [8, 800]]\n", ""), "nozzles need the level"),
        (("level_at_weight = [[0, 0], [4, 420], [8, 800]]", "level_at_weight = [[0, 0], [4, 420]]"), "ends at 4 t"),
        (("level_at_weight = [[0, 0], [4", "level_at_weight = [[1, 9], [4"), "the empty tundish"),
        (("level_at_weight", "area_m2 = 2\nlevel_at_weight"), "stands beside level_at_weight"),
        (('kind = "metering", ', 'kind = "stopper", '), "drop_to_mould_mm: is missing"),
        (('kind = "metering", ', 'kind = "metering", drop_to_mould_mm = 3, '), "has no effect on a free stream"),
        (('case = "a.toml"', 'case = "z.toml"'), "z.toml"),
        (('case = "a.toml"\n', ""), "[[strand]] 1 case: is missing"),
        (("[sequence]", "[sequense]"), "did you mean 'sequence'?"),
        (("weight_t = 80", "weight_t = 8"), "less than the tundishes need to start"),
        (("weight_t = 80", "weight_t = [80, 80]"), "one for each of 3 heats"),
        (("title = ", "titel = "), "did you mean 'title'?"),
        (("superheat_K = { least = 10", "superheat_K = { low = 10"), "[sequence] superheat_K.low"),
        (("[ladle]", "[[ladle]]"), "is no table"),
        (("shut_min = 2.5", "shut_min = 2.5\nat_min = [0, 60, 50]"), "rising times that begin at 0"),
    ],
)  # fmt: skip
def test_one_mistake_is_told_in_its_words(change, told):
    found = "\n".join(said(swapped(change)))
    assert told in found, found


def test_steels_that_cannot_come_from_one_ladle():
    other = CASES["d.toml"].replace("liquidus_C = 1495", "liquidus_C = 1499")
    found = said(FOUR, CASES | {"d.toml": other})
    assert "A has a liquidus of 1495.0 °C, D of 1499.0 °C" in found[0]
    assert "one ladle is one steel" in found[0]


def test_a_wrong_case_is_told_with_its_own_lines():
    broken = CASES["a.toml"].replace("thickness_mm = 250", "thickness_mm = -250")
    found = said(FOUR, CASES | {"a.toml": broken})
    assert any("[section] thickness_mm" in p for p in found)
    assert sum("cannot be taken" in p for p in found) == 2  # both strands name it


def test_another_kind_of_file_is_refused():
    assert "a case file" in said(CASES["a.toml"])[0]
    assert "a cut file" in said("length_m = 40\n[cut]\nlengths_m = 6\n")[0]
    assert "not TOML" in said("title = ")[0]


def test_more_strands_than_eight_are_refused():
    more = FOUR.replace(
        "[sequence]",
        "".join(f'[[strand]]\nname = "x{i}"\ncase = "a.toml"\ntundish = "left"\n' for i in range(5))
        + "[sequence]",
    )
    assert any("stands 9 times" in p and "1 to 8" in p for p in said(more))


def test_water_tables_that_end_before_the_speed_are_told():
    text = (
        CASES["d.toml"]
        .replace("heat_transfer_W_per_m2K = 300", "water_at_speed = [[1.5, 100], [2.0, 130]]")
        .replace("emissivity = 0.8", 'emissivity = 0.8\nspray_relation = "nozaki_1978"')
    )
    plan = parse_plan(FOUR, cases=CASES | {"d.toml": text})
    assert any("tabled from 1.5 to 2 m/min only" in n for n in plan.notices)


MANGLED = (
    "",
    "[ladle]",
    "strand = 3",
    "ladle = 3\ntundish = [1]\nstrand = [[]]\ncut = 1\nsequence = []",
    "[[strand]]\nnozzle = 3\ncase = 3\nspeed_m_per_min = [1]\ncut = 2",
    "[[tundish]]\nname = 3\nweight_t = true\nlevel_at_weight = [[]]",
    "[sequence]\nheats = true\nat_min = 3\nsuperheat_K = 'hot'\n[ladle]\nweight_t = [[1]]\nstays_t = []",
)


@pytest.mark.parametrize("text", MANGLED)
def test_mangled_plans_are_refused_in_words(text):
    assert said(text)


KEYS = sorted(set(re.findall(r"^(\w+) = ", FOUR + SLAB, re.M)) | {"kind", "aim", "least", "most", "bore_mm"})
VALUES = (
    "-1",
    "0",
    "1e30",
    "nan",
    "inf",
    '"x"',
    "true",
    "[]",
    "{}",
    "[1]",
    "[[0, 0], [1, 1]]",
    "[1, 2, 3]",
    "{ aim = 1 }",
)


@settings(max_examples=150, deadline=None)
@given(st.sampled_from([FOUR, SLAB]), st.sampled_from(KEYS), st.sampled_from(VALUES), st.integers(0, 5))
def test_any_value_anywhere_makes_a_plan_or_is_refused(text, key, value, place):
    """Nothing but an InputError, whatever stands at a key."""
    places = [m for m in re.finditer(rf"\b{key} = (\[.*\]|\{{.*\}}|[^,\n}}]*)", text)]
    if not places:
        return
    found = places[place % len(places)]
    changed = text[: found.start(1)] + value + text[found.end(1) :]
    try:
        made = heat_plan(parse_plan(changed, "p.toml", cases=CASES))
    except InputError:
        return
    assert math.isfinite(made.end)
    assert made.trace.weight.min() > -1e-6
