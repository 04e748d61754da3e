"""Single published facts that the program must keep to, each with its source."""

import numpy as np
import pytest

from solidify.assessment.ductility import ductility
from solidify.assessment.limits import Setting, steel_words
from solidify.case import parse_case
from solidify.heat.mould.mean_flux import carbon_factor
from solidify.steel import liquidus_temperature, steel_class, steel_from_composition
from solidify.steel.coefficients import entries
from solidify.steel.properties import liquid_conductivity, phase_density, phase_enthalpy
from solidify.strand.solve import solve

CALORIE = 4.184


def test_heat_of_pearlite_of_eutectoid_steel():
    """19.6 cal/g at 727 degC, within its 5 %: Hagel, Pound and Mehl, Acta Metall. 1956 (abstract read).

    Manganese lowers it to 18 cal/g at 1.85 %; the program has no such term and is 9 % high there.
    """
    ours = float(phase_enthalpy("gamma", 727.0, 0.80) - phase_enthalpy("alpha", 727.0, 0.80)) / 1e3 / CALORIE
    assert ours == pytest.approx(19.6, rel=0.05)
    assert ours / 18.0 == pytest.approx(1.085, abs=0.02)


def test_densities_of_solid_and_liquid():
    """7.86 g/cm3 solid, 7.06 liquid: Encyclopaedia Britannica, Solidification processes (opening read).

    Neither temperature stands there: the liquid must lie between 7.00 and 7.10 at 1550 degC.
    """
    assert float(phase_density("alpha", 20.0)) / 1e3 == pytest.approx(7.86, abs=0.03)
    assert 7.00 <= float(phase_density("liquid", 1550.0)) / 1e3 <= 7.10


P245NB = {"C": 0.12, "Mn": 1.0, "Si": 0.3}
"""A peritectic composition (invented; that of the steel P245NB does not stand in the abstract)."""


@pytest.mark.parametrize(("temperature", "brittle"), [(800, True), (1050, False), (1100, False)])
def test_the_peritectic_trough_holds_what_one_steel_showed(temperature, brittle):
    """P245NB: ductile at 1100 and 1050 degC, brittle at 800: Arikan, Metals 5 (2015) 986 (abstract read)."""
    name = steel_class(P245NB)
    found = ductility(
        Setting("slab", 220.0, steel_words(name, P245NB), 0.12), P245NB, "published_troughs", ()
    )
    assert (found.low < temperature < found.high) is brittle
    assert "one steel" in found.parts[0].words


@pytest.mark.parametrize("carbon", [0.1, 0.2, 0.3, 0.4, 0.5, 0.6])
@pytest.mark.parametrize("others", [{}, {"Si": 0.3, "Mn": 0.8, "P": 0.02, "S": 0.015}])
def test_the_upper_zone_of_low_ductility_holds_the_zero_ductility_temperature(carbon, others):
    """Low ductility above 1340 degC: Brimacombe and Sorimachi, MTB 8B (1977) 489 (abstract read).

    Zero ductility is taken at a solid fraction of 0.99, just above the solidus; both must lie in that zone.
    """
    steel = steel_from_composition({"C": carbon, **others})
    zero = steel.temperatures["zero ductility"]
    assert 1340.0 < steel.solidus <= zero < steel.liquidus


def test_the_liquidus_claims_no_more_than_the_best_equation_reaches():
    """180 measurements by DSC and DTA: 2.1 +- 1.6 degC off at best, MTB 52 (2021) 2821 (abstract read).

    Root of the squares: 2.6 K. The error that the default relation states for itself must not be smaller.
    """
    assert entries("liquidus")["phase_lines"]["error"] >= np.hypot(2.1, 1.6)


def test_conductivity_of_liquid_iron():
    """Reference correlation, 13.7 % at 95 %: Assael et al., High Temp. High Press. 46 (2017) 391 (abstract read).

    Its value, about 36 W/(m K) at the melting point, is from memory.
    """
    assert float(liquid_conductivity(1538.0)) == pytest.approx(36.0, rel=0.137)


def test_iron_melts_where_the_liquidus_of_iron_lies():
    """1538 degC on today's scale (handbooks); the alloys of Hellawell extrapolate 5 to 7 K lower (arithmetic)."""
    iron = liquidus_temperature({"C": 0.0})
    assert iron == pytest.approx(1538.0, abs=0.5)
    kelvin = {"Mn": (1.8697, 1795.65, 4.5681, 1783.15), "Cr": (1.7620, 1803.65, 4.1092, 1800.15)}
    for low, t_low, high, t_high in kelvin.values():
        at_zero = t_low + low * (t_low - t_high) / (high - low) - 273.15
        assert 4.5 < 1538.0 - at_zero < 7.5


SLAB = """\
title = "Slab on the handbook flux (invented plant)"
[steel.composition]
C = 0.05
Si = 0.05
Mn = 0.30
[section]
shape = "slab"
thickness_mm = 220
width_mm = 1500
[casting]
speed_m_per_min = {speed}
superheat_K = 25
[mould]
length_mm = 900
level_below_top_mm = 100
lubricant = "powder"
[[zone]]
name = "one"
end_m = 2
water_L_per_min = 100
[machine]
radius_m = 10
straightener_m = [15]
support_end_m = 20
cutoff_m = 22
"""


def test_the_flux_at_a_fixed_place_does_not_fall_with_speed():
    """Flux rises with speed throughout the mould: MTB 34B (2003) 685 (abstract read, a computed finding there)."""
    moulds = [solve(parse_case(SLAB.format(speed=v), "slab.toml")).mould for v in (0.8, 1.2, 1.6)]
    for name in ("mean_flux", "exit_flux"):
        assert np.all(np.diff([getattr(m, name) for m in moulds]) >= 0.0), name


def test_steel_with_a_tenth_per_cent_of_carbon_gives_less_heat():
    """The shrinkage of delta to gamma lowers the flux at 0.1 % C: Kelly et al., MTA 19A (1988) 2589 (abstract read)."""
    for lubricant in ("powder", "oil"):
        low, tenth, high = carbon_factor(np.array([0.03, 0.10, 0.30]), lubricant)
        assert tenth < 0.95 * min(low, high)
