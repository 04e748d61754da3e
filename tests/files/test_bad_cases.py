"""Bad case files: one sample for each rule, and each sample states at its end what must be said of it."""

import re
import tomllib
from pathlib import Path

import pytest
from pydantic import ValidationError

from solidify.case import demo_case, parse_case, read_case
from solidify.case.checks import checks_of
from solidify.case.file import CaseFile
from solidify.case.given import RawCase
from solidify.case.rules import RULES
from solidify.case.values import frozen
from solidify.errors import InputError

SAMPLES = sorted((Path(__file__).parent / "bad").glob("*.toml"))
MARK = "# Expected, as line: what is said -> nearest word\n"


def refused(call, *arguments):
    with pytest.raises(InputError) as caught:
        call(*arguments)
    return caught.value.problems


def repr_short(value):
    return repr(value)[:12]


def in_short(problem, name):
    """A problem as the samples state it."""
    line = problem.where.removeprefix(f"{name}:").rstrip(":") or "-"
    return f"{line}: {problem.given}" + (f" -> {problem.closest}" if problem.closest else "")


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_every_problem_of_a_bad_case_is_told_with_its_line(path):
    stated = path.read_text(encoding="utf-8").split(MARK)[1].splitlines()
    problems = refused(read_case, path)
    assert [in_short(p, str(path)) for p in problems] == [line.removeprefix("# ") for line in stated]


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_every_problem_says_what_is_allowed_or_what_to_do(path):
    for problem in refused(read_case, path):
        told = re.search(r"outside .* to |is needed|not above|must rise|pair", problem.given)
        assert problem.allowed or problem.do or problem.closest or told, str(problem)


def test_every_rule_has_a_sample_that_breaks_it():
    """A rule without a sample could be deleted and no test would notice."""
    silent = {rule.__name__ for rule in RULES}
    for path in SAMPLES:
        try:
            data = frozen(tomllib.loads(path.read_text(encoding="utf-8")))
        except ValueError:
            continue
        case = RawCase(data, _wrong_values(data))
        silent -= {check.rule.__name__ for check in checks_of(case) if any(check.issues(case))}
    assert not silent


def _wrong_values(data):
    try:
        CaseFile.model_validate(data)
    except ValidationError as error:
        return {item["loc"] for item in error.errors()}
    return set()


def test_problems_stand_in_the_order_of_the_file():
    for path in SAMPLES:
        lines = [int(p.where.split(":")[-2]) for p in refused(read_case, path) if p.where[-2].isdigit()]
        assert lines == sorted(lines)


# ------------------------------------------------------------------------------- not a case file at all


def test_a_missing_file_names_the_nearest_in_its_folder(tmp_path):
    (tmp_path / "bloom.toml").write_text("")
    (problem,) = refused(read_case, tmp_path / "blom.toml")
    assert problem.where == str(tmp_path / "blom.toml")
    assert problem.closest == "bloom.toml"


def test_a_folder_is_refused(tmp_path):
    (problem,) = refused(read_case, tmp_path)
    assert problem.given == "a folder"


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "the file is empty"),
        (b" \n\t\r\n", "the file is empty"),
        (b"# a case to come\n", "the file holds only comments"),
        (b"\x00\x01\x02", "a binary file"),
        (b"\x89HDF\r\n\x1a\n\x00", "an HDF5 file, perhaps a result"),
        ("title = 'é'".encode("utf-16"), "a binary file"),
    ],
)
def test_content_that_is_no_case_is_named(tmp_path, content, said):
    path = tmp_path / "a.toml"
    path.write_bytes(content)
    (problem,) = refused(read_case, path)
    assert problem.given == said
    assert problem.allowed or problem.do


def test_another_encoding_is_named_with_its_line(tmp_path):
    path = tmp_path / "a.toml"
    path.write_bytes("# one\ntitle = 'Knüppel'\n".encode("latin-1"))
    (problem,) = refused(read_case, path)
    assert problem.where == f"{path}:2:"
    assert problem.do == "save the file as UTF-8"


def test_a_huge_file_is_refused_unread(tmp_path):
    path = tmp_path / "a.toml"
    with path.open("wb") as file:
        file.truncate(10**10)
    (problem,) = refused(read_case, path)
    assert problem.given == "too large for a case file"


def test_brackets_beyond_depth_are_refused_without_a_traceback():
    (problem,) = refused(parse_case, "a = " + "[" * 100_000)
    assert problem.where == "case:"


def test_a_number_beyond_all_digits_is_refused_without_a_traceback():
    (problem,) = refused(parse_case, f"speed = {'9' * 5000}\n")
    assert problem.do


def test_a_missing_property_file_is_told_with_the_other_problems(tmp_path):
    sample = (Path(__file__).parent / "bad" / "out_of_range.toml").read_text(encoding="utf-8")
    text = re.sub("composition = .*", 'property_file = "min.csv"', sample)
    path = tmp_path / "mine.toml"
    path.write_text(text, encoding="utf-8")
    (tmp_path / "mine.csv").write_text("")
    first, *others = refused(read_case, path)
    assert first.where == f"{path}:3:"
    assert first.given == '[steel] property_file = "min.csv": no such property file'
    assert first.closest == "mine.csv"
    assert len(others) == 2


HUGE = 10**400


@pytest.mark.parametrize(
    "key", ["shell_floor", "superheat_window", "ductility_trough", "ductility_criterion"]
)
@pytest.mark.parametrize(
    "value", [HUGE, -HUGE, [HUGE, 5], [], [[]], {}, {"a": 1}, True, "word", -0.5], ids=repr_short
)
def test_any_value_of_a_limit_is_told_without_a_traceback(key, value):
    """Limits take any value of TOML up to their own rules, whole numbers of any length among them."""
    problems = refused(demo_case("bloom").replace, {f"limits.{key}": value})
    assert [p.where for p in problems] == [f"limits.{key}"]


@pytest.mark.parametrize(
    "curve", [HUGE, [[700, HUGE], [800, 500]], [[-HUGE, 500], [800, 500]]], ids=repr_short
)
def test_a_curve_of_numbers_beyond_all_size_is_told_without_a_traceback(curve):
    numbers = {"liquidus_C": 1495, "solidus_C": 1430, "latent_heat_kJ_per_kg": 260, "density_kg_per_m3": 7400}
    steel = numbers | {"specific_heat_J_per_kgK": curve, "conductivity_W_per_mK": 30}
    (problem,) = refused(demo_case("bloom").replace, {"steel": steel})
    assert problem.where == "steel.specific_heat_J_per_kgK"
    assert len(problem.given) < 200


@pytest.mark.parametrize(("name", "length"), [("", "short"), ("x" * 401, "long")])
def test_a_text_too_short_or_too_long_says_how_long_it_may_be(name, length):
    (problem,) = refused(demo_case("bloom").replace, {"steel": {"property_file": name}})
    assert problem.where == "steel.property_file"
    assert problem.given.endswith(f" is too {length}")
    assert problem.allowed == "1 to 400 characters"


@pytest.mark.parametrize(
    ("sample", "asked"),
    [
        ("speed_in_mm_per_min", "mm/min? 750 mm/min is 0.75 m/min"),
        ("speed_in_m_per_s", "m/s? 0.0125 m/s is 0.75 m/min"),
        ("carbon_in_points", "hundredths of a percent? 45 hundredths of a percent is 0.45 %"),
        ("inlet_in_fahrenheit", "°F? 82 °F is 27.78 °C"),
        ("one_mistake_in_twelve_zones", "%? 30 % is 0.3"),
        ("mould_water_in_m3_per_h", "115 m³/h is 1917 L/min"),
        ("face_water_in_m3_per_h", "228 m³/h is 3800 L/min"),
        ("percent_as_a_share", "write heat_flux_percent = 10, or 0 to leave it out"),
        ("sprayed_beyond_the_face", "in studies of other widths, width_rule in [section] lets it follow"),
    ],
)
def test_what_was_probably_meant_is_asked(sample, asked):
    path = next(path for path in SAMPLES if path.stem == sample)
    assert asked in [problem.do for problem in refused(read_case, path)]


@pytest.mark.parametrize(
    ("key", "value", "asked"),
    [
        ("mould.mean_heat_flux_MW_per_m2", 1300, "kW/m²? 1300 kW/m² is 1.3 MW/m²"),
        ("casting.tundish_temperature_C", 2775, "°F? 2775 °F is 1524 °C"),
        ("machine.cutoff_m", 25000, "mm? 25000 mm is 25 m"),
        ("mould.length_mm", 0.7, "m? 0.7 m is 700 mm"),
        ("casting.speed_m_per_min", 75, ""),
        ("casting.superheat_K", 400, ""),
    ],
)
def test_a_number_in_another_unit_is_asked_about_and_no_other(key, value, asked):
    own = {"casting.superheat_K": None} if "tundish" in key else {}
    (problem, *_) = refused(demo_case("bloom").replace, own | {key: value})
    assert problem.do == asked
