"""docs/accuracy.md leaves out no case, and its list of cases leaves out no test."""

import ast
import re
import tomllib
from fnmatch import fnmatchcase
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
TESTS = ROOT / "tests" / "verification"
CASES = tomllib.loads((TESTS / "cases.toml").read_text(encoding="utf-8"))
PAGE = (ROOT / "docs" / "accuracy.md").read_text(encoding="utf-8")
FILES = ("conduction", "dimensionless", "freezing", "manufactured", "published", "section_march", "strand")

NAMES = [f"V{i:02d}" for i in range(1, 36) if i != 12] + [f"X{i:02d}" for i in range(1, 6)]
NAMES += [f"S{i:02d}" for i in range(1, 6)]
NAMES += ["V22b", "V26b", "V27b", "V28b", "V29b", "V30b", "V31b"]


def functions() -> dict[str, list[str]]:
    """Names of the verification tests by file, and with them the parameters that are written out as strings."""
    found = {}
    for name in FILES:
        tree = ast.parse((TESTS / f"test_{name}.py").read_text(encoding="utf-8"))
        found[f"test_{name}.py"] = [
            node.name
            for node in tree.body
            if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")
        ]
    return found


def test_every_case_is_listed():
    """Thirty-four numbered cases (no V12), seven variants with constants of one, five published, five of a section."""
    assert sorted(CASES) == sorted(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_the_page_has_a_row_of_measured_numbers_for(name):
    rows = re.findall(rf"^\| {name} \|.*$", PAGE, re.MULTILINE)
    assert len(rows) >= 2, "one row says what it is, the others what was measured"
    assert all(re.search(r"\d", row.split("|", 2)[2]) for row in rows[1:])
    assert CASES[name]["title"] in rows[0]
    assert CASES[name]["reference"] in rows[0]


@pytest.mark.parametrize("name", NAMES)
def test_the_tests_of_a_case_exist(name):
    for pattern in CASES[name]["tests"]:
        file, _, function = pattern.partition("::")
        function = re.split(r"[\[*]", function)[0]
        assert any(f.startswith(function) for f in functions()[file]), pattern


def test_every_verification_test_belongs_to_a_case():
    patterns = [p.partition("[[]")[0] + "*" for case in CASES.values() for p in case["tests"]]
    for file, names in functions().items():
        for name in names:
            assert any(fnmatchcase(f"{file}::{name}", p) for p in patterns), f"{file}::{name}"


def test_nothing_on_the_page_exceeds_what_its_test_allows():
    """Of the columns error and allowed, in the same unit."""
    block = PAGE.split("## Errors and orders")[1].split("\n## ")[0]
    rows = [row.split("|") for row in re.findall(r"^\| [VX]\d.*$", block, re.MULTILINE)]
    assert len(rows) > 80
    for row in rows:
        error, allowed = (float(cell.split()[0]) for cell in (row[4], row[5]))
        assert error <= allowed, row


def test_the_page_links_what_it_does_not_show():
    assert "](section-treatment.md)" in PAGE
    assert "Do not edit by hand" in PAGE
