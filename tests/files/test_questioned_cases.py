"""Cases that are no error and look like one: each sample states at its end what must be asked of it."""

from pathlib import Path

import pytest

from solidify.assessment.judge import judge
from solidify.case import demo_case, parse_case, read_case, starter_case
from solidify.case.questions import QUESTIONS, questions
from solidify.case.reading import DEMOS
from solidify.report.case import check_text
from solidify.report.strand_text import summary_text
from solidify.strand.solve import solve

SAMPLES = sorted((Path(__file__).parent / "questioned").glob("*.toml"))
MARK = "# Expected: what is asked\n"


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_every_question_of_a_case_is_asked(path):
    stated = [
        line.removeprefix("# ") for line in path.read_text(encoding="utf-8").split(MARK)[1].splitlines()
    ]
    assert stated
    assert [str(n) for n in questions(read_case(path))] == stated
    assert all("?" in line for line in stated)


def test_every_question_has_a_sample():
    """A question without a sample could be deleted and no test would notice."""
    cases = [read_case(path) for path in SAMPLES]
    assert not [ask.__name__ for ask in QUESTIONS if not any(any(ask(case)) for case in cases)]


@pytest.mark.parametrize(
    "case", [*map(demo_case, DEMOS), parse_case(starter_case())], ids=[*DEMOS, "starter"]
)
def test_sound_plants_are_asked_nothing(case):
    assert questions(case) == ()
    for speed in (0.5, 1.0, 1.5):
        assert (
            questions(case.replace({"casting.speed_m_per_min": speed * case.casting.speed_m_per_min})) == ()
        )


def test_a_question_stays_with_the_result_and_stands_in_the_sheets():
    case = read_case(next(path for path in SAMPLES if path.stem == "water_in_fahrenheit"))
    (asked,) = questions(case)
    result = solve(case)
    assert asked in result.notices
    for text in (check_text(case), summary_text(result, judge(result))):
        assert "°F? 82 °F is 28 °C" in " ".join(text.split())


def test_inner_and_outer_are_the_loose_and_the_fixed_side():
    """The same case in both words, in a file, from Python and in every table that tells sides apart."""
    sides = "water_loose_L_per_min = 20\nwater_fixed_L_per_min = 30"
    shares = "water_L_per_min = 51\nside_shares = { loose = 0.2, fixed = 0.3, narrow = 0.5 }"
    text = (
        demo_case("bloom").text.replace("water_L_per_min = 90", sides).replace("water_L_per_min = 51", shares)
    )
    assert sides in text
    assert shares in text
    other = text.replace("loose", "inner").replace("fixed", "outer")
    assert parse_case(other) == parse_case(text)
    key = 'zone."spray 1".water_{}_L_per_min'
    case = parse_case(text)
    assert case.replace({key.format("outer"): 40}) == case.replace({key.format("fixed"): 40})
    assert case.value(key.format("inner")) == 20
    tables = {"loose": [[0.5, 10], [1, 20]], "fixed": [[0.5, 15], [1, 30]]}
    zone = 'zone."spray 3"'
    own = {
        f"{zone}.water_{word}_at_speed": tables[side]
        for word, side in (("inner", "loose"), ("outer", "fixed"))
    }
    looped = demo_case("bloom").replace({f"{zone}.water_L_per_min": None, **own})
    assert looped.zone[3].water_loose_at_speed == ((0.5, 10), (1, 20))
    face = demo_case("slab").replace(
        {
            "mould.water_flow_L_per_min": None,
            "mould.water_rise_K": None,
            "mould.face_water_flow_L_per_min": {"inner": 3500, "outer": 3700, "left": 500, "right": 500},
            "mould.face_water_rise_K": {"inner": 7.0, "outer": 7.2, "left": 7.0, "right": 7.0},
        }
    )
    assert face.mould.face_water_flow_L_per_min.loose == 3500


def test_a_zone_may_be_named_inner():
    text = demo_case("bloom").text.replace('name = "spray 1"', 'name = "inner"')
    case = parse_case(text).replace({"zone.inner.water_L_per_min": 90})
    assert case.zone[1].water_L_per_min == 90
