"""The pages about steel say what the program does."""

import importlib.util
import re
import sys
from pathlib import Path

import pytest

from solidify.steel import steel_from_file
from solidify.steel.property_file import COLUMNS

DOCS = Path(__file__).parents[2] / "docs"


def test_page_of_checks_is_what_the_program_would_write(monkeypatch):
    """After a change of the steel room run ``python docs/steel_checks.py``."""
    spec = importlib.util.spec_from_file_location("steel_checks", DOCS / "steel_checks.py")
    module = importlib.util.module_from_spec(spec)
    monkeypatch.setitem(sys.modules, spec.name, module)
    spec.loader.exec_module(module)
    assert (DOCS / "steel-checks.md").read_text(encoding="utf-8") == module.page()


PAGE = (DOCS / "property-file.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```(csv|toml)\n(.*?)```", PAGE, re.S)


@pytest.mark.parametrize("number", range(3))
def test_examples_of_the_property_page_can_be_read(tmp_path, number):
    kind, text = BLOCKS[number]
    path = tmp_path / f"mine.{kind}"
    path.write_text(text, encoding="utf-8")
    steel = steel_from_file(path)
    assert (steel.liquidus, steel.solidus) == (1515.0, 1450.0)
    assert 200e3 < steel.latent_heat < 300e3


def test_property_page_names_every_column():
    for column in COLUMNS:
        assert f"`{column}`" in PAGE
