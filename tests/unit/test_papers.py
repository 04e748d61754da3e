"""README and manual: every block of Python runs, every command is what CI and the program know."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

import solidify

TOP = Path(__file__).parents[2]
PAGES = sorted([TOP / "README.md", TOP / "DEVELOPERS.md", *(TOP / "docs").glob("*.md")])


def blocks(page: Path, language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", page.read_text(encoding="utf-8"), re.S)


WITH_PYTHON = [page for page in PAGES if blocks(page, "python")]


@pytest.mark.parametrize("page", WITH_PYTHON, ids=lambda p: p.name)
def test_every_block_of_python_runs(page, tmp_path):
    """The blocks of a page run one after the other, as its reader would run them, warnings as errors."""
    (tmp_path / "cases").symlink_to(TOP / "cases")
    if page.name == "result-file.md":
        case = solidify.read_case(TOP / "cases" / "bloom.toml")
        solidify.save(solidify.solve(case), tmp_path / "bloom.h5")
    script = "\n\n".join(blocks(page, "python"))
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", script],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() or page.name == "result-file.md"


def test_every_verb_of_the_pages_exists():
    from solidify.cli import commands

    shell = "\n".join(block for page in PAGES for block in blocks(page, "sh"))
    verbs = set(re.findall(r"(?:^|&& |bin/)solidify ([a-z]+)", shell, re.M))
    assert verbs
    assert verbs <= set(commands.commands)


def test_ci_finds_the_test_command_in_the_readme():
    pattern = re.search(r"grep -E '([^']+)' README.md", (TOP / ".ci" / "run").read_text()).group(1)
    found = [line for line in (TOP / "README.md").read_text().splitlines() if re.search(pattern, line)]
    assert len(found) == 1
    assert "[test]" in found[0]


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)
def test_links_between_pages_lead_somewhere(page):
    for target in re.findall(r"\]\(([^)#:]+)\)", page.read_text(encoding="utf-8")):
        assert (page.parent / target).exists(), f"{page.name}: {target}"
