"""Liquidus relations: worked examples, published values, and how far they are from one another."""

from itertools import pairwise

import pytest

from solidify.errors import InputError
from solidify.steel import liquidus_relations, liquidus_temperature
from solidify.steel.coefficients import entries, outside
from solidify.steel.liquidus import disagreement, phase_lines

STEELS = {
    "ultra-low": {"C": 0.003, "Si": 0.01, "Mn": 0.15, "P": 0.010, "S": 0.008, "Al": 0.04},
    "low": {"C": 0.05, "Si": 0.02, "Mn": 0.30, "P": 0.012, "S": 0.010, "Al": 0.04},
    "peritectic": {"C": 0.12, "Si": 0.30, "Mn": 1.40, "P": 0.015, "S": 0.008, "Al": 0.03},
    "medium": {"C": 0.20, "Si": 0.25, "Mn": 0.80, "P": 0.020, "S": 0.015, "Al": 0.02},
    "42CrMo4": {
        **{"C": 0.42, "Si": 0.25, "Mn": 0.75, "P": 0.012, "S": 0.020},
        **{"Cr": 1.05, "Mo": 0.20, "Ni": 0.10, "Cu": 0.10, "Al": 0.02},
    },
    "rail": {"C": 0.78, "Si": 0.25, "Mn": 0.70, "P": 0.015, "S": 0.010},
}
"""Typical compositions of classes of steel (invented, mass %)."""

BY_HAND = {
    "kawawa_1973": (1534.2, 1529.5, 1516.6, 1513.2, 1494.3, 1468.9),
    "thomas_1987": (1535.4, 1530.3, 1516.4, 1512.4, 1490.6, 1462.2),
    "roeser_wensel_1941": (1534.4, 1530.4, 1518.1, 1516.0, 1499.2, 1479.1),
    "aymard_detrez_1974": (1536.4, 1532.7, 1518.9, 1515.7, 1491.0, 1471.4),
    "phase_lines": (1536.0, 1531.4, 1517.0, 1514.0, 1491.7, 1470.8),
}
"""The relations evaluated apart from this code [degC] (evidence: derived)."""

COMPUTED = (1536.0, 1531.5, 1517.2, 1514.4, 1493.1, 1472.4)
"""Equilibria of C, Si, Mn, Cr from an open multicomponent description solved with pycalphad, less dilute P
and S (evidence: derived). The Si, Mn, Cr slopes of phase_lines come from the same description: for it this is
a check of the fit, for the published relations it is independent."""

IRON_CARBON = {
    0.001: 1537.7,
    0.05: 1534.0,
    0.10: 1530.1,
    0.17: 1524.6,
    0.20: 1522.2,
    0.40: 1505.6,
    0.53: 1494.5,
    0.60: 1489.8,
    0.80: 1476.2,
    1.0: 1462.0,
}
"""Binary Fe-C liquidus [degC] from the open Cr-Fe-C description after Khvan and Hallstedt (2013), solved with
pycalphad (evidence: derived; phase_lines was fitted to it, so this is a fit check)."""


@pytest.mark.parametrize("relation", BY_HAND)
def test_relation_gives_the_values_worked_out_apart(relation):
    for composition, expected in zip(STEELS.values(), BY_HAND[relation], strict=True):
        assert liquidus_temperature(composition, relation) == pytest.approx(expected, abs=0.06)


def test_published_worked_example():
    """1503.967 degC: a steelmaking examination problem, worked with the same slopes (evidence: seen)."""
    composition = {"C": 0.22, "Si": 0.60, "Mn": 1.52, "P": 0.017, "S": 0.015, "Cu": 0.020, "Cr": 0.032}
    # the problem prints -33.033 for terms that sum to 32.793: its own sum is 0.24 K off
    assert liquidus_temperature(composition, "thomas_1987") == pytest.approx(1503.967, abs=0.25)
    assert liquidus_temperature(composition, "thomas_1987") == pytest.approx(1537.0 - 32.793, abs=1e-9)


def test_default_follows_the_iron_carbon_diagram():
    """Fit check: the quadratic lines hold the computed binary liquidus within 0.3 K up to 1 % C."""
    for carbon, expected in IRON_CARBON.items():
        assert liquidus_temperature({"C": carbon}) == pytest.approx(expected, abs=0.3)


def test_handbook_melting_point_of_iron():
    """1538 degC, ITS-90 (binary phase diagram handbooks; evidence: seen in three web handbooks)."""
    assert liquidus_temperature({"C": 0.0}) == pytest.approx(1538.0, abs=1.0)


def test_peritectic_of_the_lines():
    """Handbooks (evidence: seen and recalled): 1493 to 1495 degC, liquid of 0.53 % C."""
    delta, gamma = phase_lines({"C": 0.528})
    assert delta == pytest.approx(gamma, abs=0.3)
    assert delta == pytest.approx(1494.6, abs=0.5)


def test_default_stays_within_its_stated_error_of_computed_equilibria():
    stated = entries("liquidus")["phase_lines"]["error"]
    apart = [liquidus_temperature(c) - t for c, t in zip(STEELS.values(), COMPUTED, strict=True)]
    assert max(abs(d) for d in apart) < 0.5 * stated


@pytest.mark.parametrize(("relation", "largest_rms"), [("kawawa_1973", 2.0), ("aymard_detrez_1974", 1.5)])
def test_independent_relations_agree_with_computed_equilibria(relation, largest_rms):
    """Published measurements scatter 2.1 +- 1.6 K about the best relation (Bernhard et al., MTB 52 (2021)
    2821; abstract read): two relations that were fitted to other data come as close to the equilibria."""
    squares = [
        (liquidus_temperature(c, relation) - t) ** 2 for c, t in zip(STEELS.values(), COMPUTED, strict=True)
    ]
    assert (sum(squares) / len(squares)) ** 0.5 < largest_rms


@pytest.mark.parametrize("name", list(STEELS))
def test_every_valid_relation_lies_within_ten_kelvin_of_the_default(name):
    composition = STEELS[name]
    here = liquidus_temperature(composition)
    for relation in liquidus_relations():
        if not outside(entries("liquidus")[relation], composition, ""):
            assert abs(liquidus_temperature(composition, relation) - here) < 10.0


def test_disagreement_is_said_from_medium_carbon_up():
    assert disagreement(STEELS["ultra-low"]) == ()
    assert disagreement(STEELS["low"]) == ()
    (notice,) = disagreement(STEELS["rail"])
    assert "differ by up to 8 K" in notice.text
    assert "roeser_wensel_1941 1479" in notice.text


def test_disagreement_leaves_out_relations_beyond_their_validity():
    (notice,) = disagreement(STEELS["rail"])
    assert "thomas_1987" not in notice.text
    assert "kawawa_1973" not in notice.text


def test_a_wrong_name_lists_the_right_ones():
    with pytest.raises(InputError) as caught:
        liquidus_temperature({"C": 0.2}, "kawava_1973")
    (problem,) = caught.value.problems
    assert problem.closest == "kawawa_1973"
    assert problem.allowed == ", ".join(liquidus_relations())


def test_carbon_lowers_the_liquidus_in_every_relation():
    """Over steps of 0.05 %: the two pieces of aymard_detrez_1974 miss one another by 1 K at 0.5 % C."""
    for relation in liquidus_relations():
        temperatures = [liquidus_temperature({"C": 0.05 * i}, relation) for i in range(21)]
        assert all(b < a for a, b in pairwise(temperatures)), relation
