"""The printed sheet of a steel says what the curves say, in plant units."""

import dataclasses
import re

import numpy as np
import pytest

from solidify.errors import Notice
from solidify.report.steel import FRACTIONS, steel_text
from solidify.sources import source
from solidify.steel import steel_from_composition, steel_from_numbers

STEEL = steel_from_composition({"C": 0.45, "Si": 0.25, "Mn": 0.70, "P": 0.015, "S": 0.012})
OWN = steel_from_numbers(1500.0, 1450.0, 260e3, 7300.0, 680.0, 30.0)


def rows(text):
    return np.array([line.split() for line in text.splitlines() if re.match(r"^ *\d+\.\d( +\S+){5}$", line)])


def test_rows_run_from_hot_to_cold_and_read_the_curves():
    table = rows(steel_text(STEEL)).astype(float)
    assert np.all(np.diff(table[:, 0]) < 0)
    assert (table[0, 0], table[-1, 0]) == (1700, 20)
    for column, curve, factor, digits in (
        (1, STEEL.solid_fraction, 1.0, 3),
        (2, STEEL.enthalpy, 1e-3, 1),
        (3, STEEL.conductivity, 1.0, 1),
        (4, STEEL.density, 1.0, 0),
        (5, STEEL.shrinkage, -100.0, 3),
    ):
        even = np.isin(table[:, 0], np.arange(50, 1701, 50))  # the others are rounded in the first column
        expected = factor * np.interp(table[even, 0], STEEL.temperature, curve)
        np.testing.assert_allclose(table[even, column], expected, atol=0.51 * 10.0**-digits)


def test_liquidus_solidus_and_the_shell_fractions_have_rows():
    table = rows(steel_text(STEEL)).astype(float)
    for fraction in FRACTIONS:
        row = table[np.argmin(np.abs(table[:, 0] - STEEL.temperature_at_solid_fraction(fraction)))]
        assert row[1] == pytest.approx(fraction, abs=0.0006)


def test_temperatures_stand_in_words_from_hot_to_cold():
    lines = steel_text(STEEL).split("Temperatures, °C\n")[1].split("\n\n")[0].splitlines()
    found = {line[:22].strip(): float(line[22:]) for line in lines}
    assert list(found.values()) == sorted(found.values(), reverse=True)
    for name in ("zero strength", "liquid impenetrable", "zero ductility", "A3", "A1"):
        assert found[name] == pytest.approx(STEEL.temperatures[name], abs=0.051)
    assert found["liquidus"] == pytest.approx(STEEL.liquidus, abs=0.051)


def test_every_source_stands_once_with_what_rests_on_it():
    text = " ".join(steel_text(STEEL).split())
    for key in STEEL.sources:
        assert text.count(" ".join(str(source(key)).split())) == 1
    for quantity in STEEL.evidence:
        assert quantity in text


def test_what_own_numbers_do_not_give_is_left_out_or_dashed():
    text = steel_text(OWN)
    assert "nan" not in text
    assert "Composition" not in text
    assert "Ferrite" not in text
    assert set(rows(text)[:, 5]) == {"–"}
    assert "the user's own" in text


def test_notices_are_shown_and_lines_keep_the_width():
    steel = dataclasses.replace(STEEL, notices=(Notice("said at length " * 20, "steel"),))
    text = steel_text(steel, width=90)
    assert "To know\n  steel: said at length" in text
    assert max(map(len, text.splitlines())) <= 90
    assert "To know" not in steel_text(OWN)
