"""What an analysis says on its own: bounds, ferrite potential, class, A1, A3 and arm spacing."""

import math

import numpy as np
import pytest

from solidify.errors import InputError
from solidify.steel.composition import (
    ae1_andrews,
    ae3_andrews,
    arm_spacing,
    carbon_equivalent,
    checked_composition,
    ferrite_potential,
    steel_class,
)


def test_three_mistakes_are_reported_at_once():
    with pytest.raises(InputError) as caught:
        checked_composition({"mn": 0.7, "Fe": 98.0, "C": 45.0, "Si": -0.1})
    first, second, third, fourth = caught.value.problems
    assert first.where == "composition mn"
    assert first.closest == "Mn"
    assert "iron is the rest" in second.do
    assert third.given == "45.0 mass %"
    assert third.allowed == "0 to 1.5 mass %"
    assert fourth.given == "-0.1 mass %"


@pytest.mark.parametrize("value", [True, "0.2", None, math.nan, math.inf])
def test_what_is_no_number_is_refused(value):
    with pytest.raises(InputError):
        checked_composition({"C": value})


def test_carbon_must_be_given():
    with pytest.raises(InputError, match="give the carbon content"):
        checked_composition({"Mn": 0.7})


def test_carbon_equivalent_takes_every_slope():
    """Cp = C + 0.04 Mn + 0.1 Ni + 0.7 N - 0.14 Si - 0.04 Cr - 0.1 Mo - 0.24 Ti: Wolf and Kurz, MTB 12B (1981)
    85, as quoted in a lecture text (evidence: seen)."""
    slopes = {"C": 1.0, "Mn": 0.04, "Ni": 0.1, "N": 0.7, "Si": -0.14, "Cr": -0.04, "Mo": -0.1, "Ti": -0.24}
    for element, slope in slopes.items():
        assert carbon_equivalent({element: 1.0}) == pytest.approx(slope)
    assert ferrite_potential({"C": 0.10}) == pytest.approx(1.0)
    assert ferrite_potential({"C": 0.50}) == pytest.approx(0.0)


@pytest.mark.parametrize(
    ("composition", "expected"),
    [
        ({"C": 0.003, "Mn": 0.15}, "ultra-low carbon"),
        ({"C": 0.05, "Mn": 0.30}, "low carbon"),
        ({"C": 0.12, "Si": 0.30, "Mn": 1.40}, "peritectic"),
        ({"C": 0.06, "Mn": 1.50}, "peritectic"),
        ({"C": 0.20, "Si": 0.25, "Mn": 0.80}, "medium carbon"),
        ({"C": 0.45, "Mn": 0.70}, "medium carbon"),
        ({"C": 0.78, "Mn": 0.70}, "high carbon"),
    ],
)
def test_steel_class(composition, expected):
    """0.10 to 0.16 % C in the binary is peritectic for the same lecture text (seen); manganese widens it."""
    assert steel_class(composition) == expected


def test_binary_peritectic_range_is_peritectic():
    for carbon in (0.10, 0.12, 0.14, 0.16):
        assert steel_class({"C": carbon}) == "peritectic"


def test_andrews_temperatures_worked_by_hand():
    """Andrews, JISI 203 (1965) 721, coefficients seen in two copies."""
    composition = {"C": 0.36, "Si": 0.25, "Mn": 0.80, "Cr": 1.0, "Ni": 0.1, "Mo": 0.2, "P": 0.01, "Al": 0.02}
    assert ae1_andrews(composition) == pytest.approx(723 - 8.56 - 1.69 + 7.275 + 16.9)
    expected = 910 - 203 * 0.6 - 1.52 + 11.175 + 6.3 - (24 + 11 - 7 - 8)
    assert ae3_andrews(composition) == pytest.approx(expected)


def test_andrews_carbon_term_against_computed_a3():
    """Computed binary A3 (derived): 869, 836.4, 787.1, 750.5 degC at 0.1, 0.2, 0.4, 0.6 % C. Andrews' carbon
    term lies up to 24 K below at low carbon and within 6 K at 0.4 and 0.6 % C."""
    for carbon, computed, most in (
        (0.1, 869.0, 24.0),
        (0.2, 836.4, 18.0),
        (0.4, 787.1, 6.0),
        (0.6, 750.5, 6.0),
    ):
        assert abs(ae3_andrews({"C": carbon}) - computed) < most


SPACINGS = {
    0.05: (415, 133, 43, 14),
    0.10: (302, 97, 31, 10),
    0.20: (260, 113, 49, 21),
    0.40: (415, 181, 79, 34),
}
"""um at 0.1, 1, 10, 100 K/s, the relation of Won and Thomas evaluated apart from this code (derived)."""


@pytest.mark.parametrize("carbon", SPACINGS)
def test_arm_spacing_values(carbon):
    for rate, expected in zip((0.1, 1.0, 10.0, 100.0), SPACINGS[carbon], strict=True):
        assert 1e6 * arm_spacing(carbon, rate) == pytest.approx(expected, abs=0.51)


def test_arm_spacing_is_smooth_where_the_published_pieces_jump():
    """19.6 to 38.9 um at 0.15 % C and 10 K/s by the pieces; here no step of 0.001 % C moves it by 4 %."""
    carbon = np.linspace(0.0, 1.0, 1001)
    spacing = np.array([arm_spacing(c, 10.0) for c in carbon])
    assert np.max(np.abs(np.diff(np.log(spacing)))) < 0.04
    assert 19.6e-6 < arm_spacing(0.15, 10.0) < 38.9e-6


def test_faster_cooling_means_finer_arms():
    for carbon in (0.0, 0.12, 0.15, 0.18, 1.0):
        assert arm_spacing(carbon, 10.0) < arm_spacing(carbon, 1.0) < arm_spacing(carbon, 0.1)
