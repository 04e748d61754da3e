"""Water properties against an implementation of IAPWS-95 and against the check values of the release."""

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from solidify.errors import InputError
from solidify.heat import water


@pytest.mark.parametrize(
    ("function", "output", "tolerance"),
    [
        (water.density, "D", 1e-6),
        (water.specific_heat, "C", 5e-5),
        (water.viscosity, "V", 1e-4),
        (water.conductivity, "L", 1e-4),
        (water.prandtl, "PRANDTL", 2e-4),
    ],
)
def test_property_agrees_with_reference_library(function, output, tolerance):
    """CoolProp carries IAPWS-95 and the IAPWS transport formulations; 0.1 MPa, 2 to 95 degC."""
    temperature = np.linspace(2.0, 95.0, 32)
    reference = [PropsSI(output, "T", t + 273.15, "P", 1e5, "Water") for t in temperature]
    np.testing.assert_allclose(function(temperature), reference, rtol=tolerance)


@pytest.mark.parametrize(
    ("function", "value"),
    [
        (water.density, 997.047013),
        (water.specific_heat, 4181.44618),
        (water.viscosity, 889.996774e-6),
        (water.conductivity, 0.606502308),
    ],
)
def test_check_value_of_the_release_at_298_15_kelvin(function, value):
    """IAPWS SR6-08(2011), Table 8, T = 298.15 K, p = 0.1 MPa: density and viscosity as two open
    transcriptions quote the table; specific heat and conductivity from memory."""
    assert float(function(25.0)) == pytest.approx(value, rel=2e-9)


def test_mould_pressure_hardly_matters():
    """At 8 bar the heat a litre takes up differs by less than 0.1 % from 1 bar: no pressure is asked for."""
    at_8_bar = [PropsSI(x, "T", 308.15, "P", 8e5, "Water") for x in "DC"]
    at_1_bar = float(water.density(35.0)) * float(water.specific_heat(35.0))
    assert at_1_bar == pytest.approx(at_8_bar[0] * at_8_bar[1], rel=1e-3)


@pytest.mark.parametrize("temperature", [-30.0, 115.0, 303.15, float("nan")])
def test_temperature_outside_the_range_is_refused_and_named(temperature):
    """A value in kelvin is the likely mistake: it must not pass as hot water."""
    with pytest.raises(InputError, match="water temperature") as caught:
        water.density([20.0, temperature])
    assert f"{temperature:g} °C" in str(caught.value)
    assert "-20 to 110 °C" in str(caught.value)
