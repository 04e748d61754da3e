"""From the keys of a case to what acts on the strand: numbers by hand, and the common misreadings."""

import numpy as np
import pytest

from solidify.grid import plate, uniform_depth
from solidify.marching import Face, march
from solidify.tables import steel_table

ROLLS = 4
"""Place of the rolls among the mechanisms."""


def cooled(face):
    """A 100 mm plate of plain numbers cooled on one face for 300 s."""
    table = steel_table(np.array([0.0, 1300.0]), 5e6 * np.array([0.0, 1300.0]), np.full(2, 30.0), np.ones(2))
    grid = plate(uniform_depth(0.1, 41))
    return march(table, grid, [face], initial=1200.0, times=np.array([100.0, 300.0]))


# --- roll contact over surface temperature


def test_a_level_curve_of_roll_contact_is_the_constant():
    """The row and the constant are one law; the heat is the rolls', against the ambient temperature."""
    level = cooled(
        Face(300.0, roll_htc=(np.array([0.0, 1600.0]), np.full(2, 80.0)), ambient_temperature=40.0)
    )
    constant = cooled(Face(300.0, roll_htc=80.0, ambient_temperature=40.0))
    assert np.array_equal(level.surface_temperature, constant.surface_temperature)
    assert level.booked[:, 0].sum() == level.booked[:, 0, ROLLS].sum() > 0


def test_roll_contact_may_rise_with_the_surface_temperature():
    """h = 0.1 T at a surface between 600 and 1200 degC: the flux of the march is h(T) (T - 40)."""
    curve = (np.array([0.0, 1600.0]), np.array([0.0, 160.0]))
    found = cooled(Face(300.0, roll_htc=curve, ambient_temperature=40.0))
    surface = found.surface_temperature[0]
    assert found.heat_flux[0] == pytest.approx(0.1 * surface * (surface - 40.0), rel=1e-6)
