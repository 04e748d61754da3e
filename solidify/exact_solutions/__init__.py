"""Exact solutions of conduction and freezing, to check a march against and to think with.

All are for one density, no flow in the liquid, and properties constant within each phase unless a function
says otherwise. Depths run from the cooled face, temperatures are in degrees Celsius, and every function takes
arrays wherever it takes a depth or a time.
"""

from solidify.exact_solutions.conduction import (
    cylinder_constant_flux,
    cylinder_convection,
    cylinder_convection_heat,
    lumped_radiation_time,
    plate_constant_flux,
    plate_convection,
    plate_convection_heat,
    semi_infinite_convection,
    semi_infinite_fixed,
    semi_infinite_flux,
)
from solidify.exact_solutions.fronts import (
    convective_freezing_bounds,
    travelling_front,
    travelling_front_flux,
)
from solidify.exact_solutions.kirchhoff import (
    kirchhoff_plate_flux,
    kirchhoff_potential,
    kirchhoff_steady,
    kirchhoff_temperature,
)
from solidify.exact_solutions.similarity import (
    FreezingSolution,
    freezing_band,
    line_sink,
    neumann,
    stefan,
)

__all__ = [
    "FreezingSolution",
    "convective_freezing_bounds",
    "cylinder_constant_flux",
    "cylinder_convection",
    "cylinder_convection_heat",
    "freezing_band",
    "kirchhoff_plate_flux",
    "kirchhoff_potential",
    "kirchhoff_steady",
    "kirchhoff_temperature",
    "line_sink",
    "lumped_radiation_time",
    "neumann",
    "plate_constant_flux",
    "plate_convection",
    "plate_convection_heat",
    "semi_infinite_convection",
    "semi_infinite_fixed",
    "semi_infinite_flux",
    "stefan",
    "travelling_front",
    "travelling_front_flux",
]
