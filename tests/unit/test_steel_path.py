"""The solidification path: limits of back-diffusion, the phase diagram, published behaviour, bounded end."""

import numpy as np
import pytest

from solidify.errors import InputError
from solidify.steel.path import BACK_DIFFUSION, LEAST_RANGE, back_diffusion, solidification_path

REST = {"Si": 0.34, "Mn": 1.52, "P": 0.012, "S": 0.015}
"""Alloying of the compositions below (mass %)."""

LEVER_SOLIDUS = {
    0.05: 1515.4,
    0.10: 1494.6,
    0.17: 1494.6,
    0.20: 1489.3,
    0.40: 1453.1,
    0.60: 1417.8,
    0.80: 1382.7,
}
"""Binary Fe-C equilibrium solidus [degC] from the open Cr-Fe-C description after Khvan and Hallstedt (2013),
solved with pycalphad (evidence: derived). The liquidus lines were fitted to it, the solidus follows from
partition coefficients read off the same diagram: a fit check."""

PROTOTYPE = {
    0.05: (1521.3, 1509.4, 1500.8, 1487.1),
    0.08: (1519.0, 1503.3, 1491.7, 1476.2),
    0.10: (1517.4, 1499.1, 1485.3, 1474.5),
    0.12: (1515.8, 1494.9, 1481.9, 1472.0),
    0.17: (1511.9, 1484.4, 1478.6, 1460.0),
    0.20: (1509.5, 1483.9, 1473.7, 1453.6),
    0.25: (1505.4, 1478.8, 1465.5, 1443.2),
    0.30: (1501.3, 1472.2, 1457.3, 1433.0),
    0.40: (1492.9, 1459.0, 1440.9, 1413.1),
    0.50: (1485.3, 1445.7, 1424.6, 1393.9),
    0.60: (1478.6, 1432.4, 1408.5, 1375.4),
    0.70: (1471.9, 1419.0, 1392.6, 1357.7),
    0.80: (1465.0, 1405.7, 1377.0, 1340.6),
}
"""Temperatures at solid fractions 0, 0.75, 0.90, 0.99 and 10 K/s from a separate point-by-point program
(evidence: derived): the vectorised solution must give the same."""

CLASSIC = {
    0.05: (1510.3, 1502.4, 1489.0),
    0.12: (1496.7, 1482.8, 1472.2),
    0.20: (1484.0, 1474.2, 1450.3),
    0.40: (1456.3, 1434.6, 1400.1),
    0.60: (1425.1, 1395.2, 1351.6),
    0.80: (1394.1, 1356.5, 1305.3),
}
"""The same program with the Ueshima set: solid fractions 0.75, 0.90, 0.99."""


def at(path, fraction):
    return float(np.interp(fraction, path.solid_fraction, path.temperature))


def test_clyne_kurz_limits():
    """beta -> 1 - 1/(2 alpha) for fast diffusion and -> 0 for slow (algebra; evidence: derived)."""
    for alpha in (20.0, 100.0, 1000.0):
        expected = 1.0 - 0.5 / alpha
        assert back_diffusion(alpha, "clyne_kurz_1981") == pytest.approx(expected, abs=0.4 / alpha**2)
    assert back_diffusion(1e-9, "clyne_kurz_1981") == pytest.approx(0.0, abs=3e-3)


@pytest.mark.parametrize("model", BACK_DIFFUSION)
def test_back_diffusion_rises_from_none_to_complete(model):
    beta = back_diffusion(np.geomspace(1e-3, 1e5, 400), model)
    assert np.all((beta >= 0.0) & (beta <= 1.0 + 1e-12))
    assert np.all(np.diff(beta) >= -1e-12)


def test_worked_back_diffusion_values():
    """Formulas evaluated by hand (derived): Ohnaka 4a/(1+4a), Brody-Flemings 2a, Clyne-Kurz at a = 0.5."""
    assert back_diffusion(0.25, "ohnaka_1986") == pytest.approx(0.5)
    assert back_diffusion(0.25, "brody_flemings_1966") == pytest.approx(0.5)
    assert back_diffusion(0.5, "clyne_kurz_1981") == pytest.approx(1 - np.exp(-2) - np.exp(-1))
    won = back_diffusion(0.15, "won_thomas_2001")
    assert won == pytest.approx(back_diffusion(0.5, "clyne_kurz_1981"))


@pytest.mark.parametrize("carbon", LEVER_SOLIDUS)
def test_lever_rule_gives_the_equilibrium_solidus(carbon):
    path = solidification_path({"C": carbon}, model="lever")
    assert path.temperature[-1] == pytest.approx(LEVER_SOLIDUS[carbon], abs=1.0)


def test_lever_rule_arrests_at_the_peritectic():
    """Handbook (seen 1493, recalled 1495; computed 1494.6 degC): the reaction stays at one temperature."""
    for carbon in (0.12, 0.17, 0.30, 0.45):
        path = solidification_path({"C": carbon}, model="lever")
        assert path.peritectic_start == pytest.approx(1494.5, abs=0.5)
        reacting = (path.gamma_share > 1e-6) & (path.gamma_share < 1.0 - 1e-6)
        assert np.ptp(path.temperature[reacting]) <= LEAST_RANGE


def test_peritectic_solid_compositions():
    """Below 0.09 % C only delta freezes, from 0.17 % C only austenite is left (handbook points, seen)."""
    assert solidification_path({"C": 0.085}, model="lever").gamma_share[-1] == 0.0
    assert 0.0 < solidification_path({"C": 0.13}, model="lever").gamma_share[-1] < 1.0
    assert solidification_path({"C": 0.18}, model="lever").gamma_share[-1] == 1.0
    assert solidification_path({"C": 0.54}, model="lever").gamma_share[0] == 1.0


@pytest.mark.parametrize("carbon", [0.03, 0.09, 0.12, 0.16, 0.25, 0.45, 0.80])
def test_lever_and_no_diffusion_bracket_every_model(carbon):
    paths = {m: solidification_path({"C": carbon, **REST}, model=m) for m in BACK_DIFFUSION}
    for fraction in (0.2, 0.5, 0.75, 0.9, 0.97, 0.99):
        upper, lower = at(paths["lever"], fraction), at(paths["no_diffusion"], fraction)
        for model, path in paths.items():
            assert lower - 1e-6 <= at(path, fraction) <= upper + LEAST_RANGE, (model, fraction)


@pytest.mark.parametrize("carbon", PROTOTYPE)
def test_path_agrees_with_a_separate_program(carbon):
    path = solidification_path({"C": carbon, **REST}, cooling_rate=10.0)
    for fraction, expected in zip((0.0, 0.75, 0.90, 0.99), PROTOTYPE[carbon], strict=True):
        assert at(path, fraction) == pytest.approx(expected, abs=0.5)


@pytest.mark.parametrize("carbon", CLASSIC)
def test_ueshima_set_agrees_with_a_separate_program(carbon):
    path = solidification_path({"C": carbon, **REST}, parameters="ueshima_1986", cooling_rate=10.0)
    for fraction, expected in zip((0.75, 0.90, 0.99), CLASSIC[carbon], strict=True):
        assert at(path, fraction) == pytest.approx(expected, abs=1.0)


def test_ueshima_set_has_its_own_peritectic():
    """Its parameters imply 1497.4 degC (algebra; evidence: derived), not the 1494.6 of the diagram."""
    path = solidification_path({"C": 0.30}, model="lever", parameters="ueshima_1986")
    assert path.peritectic_start == pytest.approx(1497.4, abs=0.3)


def test_hypoperitectic_reaction_temperatures():
    """10 K/s, 0.15 to 0.25 % C: start and end of the separate program (evidence: derived)."""
    for carbon, start, end in (
        (0.15, 1484, 1477),
        (0.17, 1485, 1480),
        (0.20, 1485, 1483),
        (0.25, 1486, 1485),
    ):
        path = solidification_path({"C": carbon, **REST}, cooling_rate=10.0)
        assert path.peritectic_start == pytest.approx(start, abs=1.0)
        assert path.peritectic_end == pytest.approx(end, abs=1.0)


def test_cooling_rate_hardly_moves_the_end():
    """Won and Thomas (2001, abstract read): rate and arm spacing partly cancel, the solidus 'does not change
    much'. From 0.1 to 100 K/s the 0.99 point moves below 1 K at 0.05 % C, by some 10 K at 0.40 % C."""
    moved = {}
    for carbon in (0.05, 0.40):
        slow, fast = (solidification_path({"C": carbon, **REST}, cooling_rate=r) for r in (0.1, 100.0))
        moved[carbon] = at(slow, 0.99) - at(fast, 0.99)
    assert abs(moved[0.05]) < 1.0
    assert 2.0 < abs(moved[0.40]) < 15.0


def test_phosphorus_and_sulphur_lower_the_end():
    """High sulphur lowers zero strength and zero ductility: nine carbon steels, Metals 10 (2020) 399 (read:
    abstract and conclusions)."""
    for carbon in (0.05, 0.12, 0.40):
        dirty = solidification_path({"C": carbon, **REST}, cooling_rate=10.0)
        clean = solidification_path({"C": carbon, **REST, "P": 0.006, "S": 0.0075}, cooling_rate=10.0)
        assert 4.0 < at(clean, 0.99) - at(dirty, 0.99) < 16.0


def test_end_is_bounded_and_said():
    """The last percent falls by 10 K at most, no path below the eutectic at 1148 degC (handbook, seen)."""
    rich = solidification_path({"C": 0.80, "Mn": 0.7, "P": 0.04, "S": 0.04})
    assert rich.capped
    assert at(rich, 0.99) - rich.temperature[-1] == pytest.approx(10.0, abs=1e-6)
    assert not solidification_path({"C": 0.05, **REST}).capped
    undiffused = solidification_path({"C": 0.80, **REST}, model="no_diffusion")
    assert undiffused.capped
    assert undiffused.temperature[-1] == pytest.approx(1148.0, abs=LEAST_RANGE)


def test_austenite_once_formed_stays():
    """The last liquid of a steel rich in Si and P would favour delta again; the share does not go back."""
    rich = {"C": 0.8125, "Si": 2.0, "P": 0.0703125}
    path = solidification_path(rich, model="brody_flemings_1966", cooling_rate=78.0)
    assert np.all(np.diff(path.gamma_share) >= 0.0)


def test_pure_iron_is_widened_to_the_least_range():
    path = solidification_path({"C": 0.0})
    assert path.temperature[0] - path.temperature[-1] == pytest.approx(LEAST_RANGE, abs=1e-9)


def test_path_holds_enough_points_refined_at_both_ends():
    path = solidification_path({"C": 0.45, **REST})
    assert path.solid_fraction.size >= 64
    steps = np.diff(path.solid_fraction)
    assert steps[0] < 0.3 * steps.max()
    assert steps[-1] < 0.3 * steps.max()
    for fraction in (0.3, 0.7, 0.75, 0.9, 0.99):
        assert fraction in path.solid_fraction


def test_points_do_not_move_the_path():
    """Twice the points change no temperature by more than 0.02 K: the grid is fine enough."""
    for carbon in (0.10, 0.16, 0.45):
        coarse = solidification_path({"C": carbon, **REST})
        fine = solidification_path({"C": carbon, **REST}, points=225)
        expected = np.interp(fine.solid_fraction, coarse.solid_fraction, coarse.temperature)
        assert np.max(np.abs(expected - fine.temperature)) < 0.06


def test_path_is_continuous_over_carbon():
    """A thousandth of a percent of carbon moves no temperature of the path by more than 1 K, the peritectic
    and the blended arm spacing included."""
    temperatures = []
    for carbon in np.arange(0.08, 0.20, 0.001):
        path = solidification_path({"C": float(carbon), **REST})
        temperatures.append([at(path, f) for f in (0.3, 0.7, 0.9, 0.99, 1.0)])
    assert np.max(np.abs(np.diff(temperatures, axis=0))) < 1.0


def test_wrong_names_are_refused():
    with pytest.raises(InputError, match="did you mean 'clyne_kurz_1981'"):
        solidification_path({"C": 0.2}, model="clyne_kurz")
    with pytest.raises(InputError, match="did you mean 'ueshima_1986'"):
        solidification_path({"C": 0.2}, parameters="ueshima")
