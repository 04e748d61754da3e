"""Hot strength: the published law inverted, its ends, and the tension of whole shells by hand."""

import numpy as np
import pytest

from solidify.assessment.strength import carried_tension, creep_rate, flow_stress, pull_of_head

TABLE = {900: 64.8, 1000: 43.2, 1100: 27.9, 1200: 17.9, 1300: 11.7, 1400: 7.8}
"""Stress [MPa] at 0.1 %C and 1e-3 per second, from the published law (austenite_creep_1992) by hand."""


def test_flow_stress_inverts_the_law():
    """Against an evaluation made apart; slower pulls find less, carbon softens."""
    stress = flow_stress(list(TABLE), 0.1, 1490.0)
    assert stress / 1e6 == pytest.approx(list(TABLE.values()), abs=0.06)
    assert creep_rate(stress, list(TABLE), 0.1) == pytest.approx(np.full(6, 1e-3), rel=1e-9)
    assert float(flow_stress(1200.0, 0.1, 1490.0, 1e-4)) / 1e6 == pytest.approx(10.1, abs=0.06)
    by_carbon = [float(flow_stress(1200.0, c, 1490.0)) / 1e6 for c in (0.0, 0.1, 0.4, 0.8)]
    assert by_carbon == pytest.approx([19.0, 17.9, 14.6, 10.5], abs=0.06)


def test_flow_stress_ends_at_zero_strength_and_stays_flat_below():
    """Half-way between 1400 °C and zero strength half is left; 700 °C counts as 900."""
    top, half, none, cold = flow_stress([1400.0, 1440.0, 1480.0, 700.0], 0.2, 1480.0)
    assert half == pytest.approx(0.5 * top)
    assert none == 0.0
    assert cold == flow_stress(900.0, 0.2, 1480.0)


def test_a_zero_strength_below_the_range_cuts_it_off():
    """High carbon: nothing is carried above its zero strength though the law goes on."""
    assert float(flow_stress(1390.0, 1.0, 1380.0)) == 0.0
    assert float(flow_stress(1370.0, 1.0, 1380.0)) > 0.0


def test_tension_of_an_even_shell():
    """17.88 MPa over 10 mm is 178.8 kN/m; what lies beyond the zero strength adds nothing."""
    depth = [0.0, 0.01, 0.01001, 0.1]
    assert carried_tension(depth, [1200, 1200, 1500, 1500], 0.1, 1480.0) == pytest.approx(178.8e3, rel=2e-3)


def test_tension_does_not_hang_on_the_nodes():
    """A straight profile on 5 and on 100 nodes."""
    coarse, fine = (np.linspace(0, 0.03, n) for n in (5, 100))
    tension = [carried_tension(x, 1100 + 400 * x / 0.03, 0.2, 1470.0) for x in (coarse, fine)]
    assert tension[0] == pytest.approx(tension[1], rel=5e-3)


def test_a_face_without_shell_carries_nothing():
    """Liquid from the surface on."""
    assert carried_tension([0.0, 0.1], [1500.0, 1520.0], 0.1, 1480.0) == 0.0


def test_pull_of_the_head():
    """1 m of liquid steel presses with 68.6 kPa; on half of 0.2 m it pulls with 6.86 kN/m."""
    assert pull_of_head(68.65e3, 0.2) == pytest.approx(6865.0)
