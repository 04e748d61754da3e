"""Plant units at the edges, SI inside: every conversion of the project is one of these.

Temperatures are in degrees Celsius everywhere (a unit of the SI); only radiation and diffusion laws turn
them into kelvin, by `ZERO_CELSIUS`.
"""

from __future__ import annotations

__all__ = [
    "L_PER_MIN",
    "MINUTE",
    "MM",
    "MW",
    "KJ",
    "KW",
    "M_PER_MIN",
    "STEFAN_BOLTZMANN",
    "WATER_LITRE_KG",
    "ZERO_CELSIUS",
]

ZERO_CELSIUS = 273.15
"""Ice point [K]; SI Brochure, 9th edition, BIPM 2019, section 2.3.1 (from memory)."""

STEFAN_BOLTZMANN = 5.670374419e-8
"""Stefan-Boltzmann constant [W m-2 K-4]; CODATA 2018 (from memory)."""

MINUTE = 60.0
"""One minute [s]."""

MM = 1e-3
"""One millimetre [m]."""

KW = 1e3
"""One kilowatt [W]."""

MW = 1e6
"""One megawatt [W]."""

KJ = 1e3
"""One kilojoule [J]."""

M_PER_MIN = 1.0 / 60.0
"""One metre per minute [m s-1]."""

L_PER_MIN = 1e-3 / 60.0
"""One litre per minute [m3 s-1]."""

WATER_LITRE_KG = 1.0
"""Mass of one litre of spray water as the trade counts it, for L/kg and L/(m2 s) = kg/(m2 s) [kg]."""
