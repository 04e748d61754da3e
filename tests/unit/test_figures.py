"""How the figures of a strand are printed: each of the summary once, in a plant unit that fits its SI unit."""

import pytest

from solidify.strand.result import SUMMARY
from solidify.strand.summary import FIGURES

SI = {
    "mm": ("m", 1e-3),
    "m": ("m", 1),
    "°C": ("degC", 1),
    "K": ("K", 1),
    "K/m": ("K m-1", 1),
    "min": ("s", 60),
    "MW/m²": ("W m-2", 1e6),
    "mm/√min": ("mm min-1/2", 1),
    "L/kg": ("kg kg-1", 1),
    "kg/min": ("kg s-1", 1 / 60),
    "": ("1", 1),
}


def test_every_figure_of_the_summary_is_printed_and_no_other():
    assert set(FIGURES) == set(SUMMARY)


@pytest.mark.parametrize("name", FIGURES)
def test_the_printed_unit_is_that_of_the_figure(name):
    """Minutes are 60 s and so on: a factor the wrong way round would print seconds as minutes times 60."""
    printed = FIGURES[name]
    assert (SUMMARY[name][0], printed.one) == SI[printed.unit]
