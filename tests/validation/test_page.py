"""docs/validation.md is what the data and the program of today give."""

from pathlib import Path

from validation import page as pages
from validation.series import Compared, Series

DOCS = Path(__file__).parents[2] / "docs"


def test_the_page_is_what_the_data_give():
    """After a change run ``python docs/validation_page.py``."""
    assert (DOCS / "validation.md").read_text(encoding="utf-8") == pages.page()


def test_an_empty_table_says_so():
    assert "There is no measured strand in this table" in pages.page()


def test_a_filled_table_no_longer_says_that_it_is_empty(monkeypatch):
    point = Compared("Invented, 4 m", "one", 50.0, 55.0, 0.02, "seen")
    series = Series("strand_0", "shell", "mm", "Invented.", (0.5, 2.0), "invented", (point,), ())
    monkeypatch.setattr(pages, "strand_series", lambda: (series,))
    text = pages.page()
    assert "no measured strand" not in text
    assert "| shell | 1 | 1.10 | – | – | – | 0.50 to 2.00: invented |" in text
    assert "| Invented, 4 m | 50 mm | 55 mm | 1.10 | 2 % (read in the source) | one |" in text
