"""The case: what a file may hold, what is said of the rest, and cases made from other cases."""

from importlib import resources

import pytest

from solidify.case import parse_case, read_case, starter_case

SHIPPED = ("bloom.toml", "slab.toml", "billet.toml", "starter.toml")


def shipped(name):
    return resources.files("solidify").joinpath("data", "cases", name).read_text(encoding="utf-8")


@pytest.mark.parametrize("name", SHIPPED)
def test_effective_toml_reads_back_to_an_equal_case(name):
    case = parse_case(shipped(name), name)
    assert parse_case(case.effective_toml(), name) == case


def test_starter_case_is_read_without_a_problem():
    assert parse_case(starter_case()).casting.speed_m_per_min == 0.75


def test_a_file_keeps_its_text(tmp_path):
    path = tmp_path / "bloom.toml"
    path.write_text(shipped("bloom.toml"), encoding="utf-8")
    case = read_case(path)
    assert case.text == shipped("bloom.toml")
    assert case.name == "bloom.toml"
