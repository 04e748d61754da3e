"""The figures of a strand as a plant prints them: words, unit and decimals of each figure of the summary."""

from __future__ import annotations

from dataclasses import dataclass

from solidify.units import MINUTE, MM, MW

__all__ = ["FIGURES", "Printed"]


@dataclass(frozen=True)
class Printed:
    """How a figure is printed.

    Parameters
    ----------
    label : str
        In words.
    unit : str
        Plant unit, empty for a share.
    one : float
        One of that unit in the unit of the summary.
    digits : int
        Decimals.
    """

    label: str
    unit: str
    one: float
    digits: int


FIGURES = {
    "shell_at_mould_exit": Printed("shell at mould exit", "mm", MM, 1),
    "surface_at_mould_exit": Printed("surface at mould exit", "°C", 1.0, 0),
    "mean_mould_heat_flux": Printed("mean mould heat flux", "MW/m²", MW, 2),
    "metallurgical_length": Printed("end of solidification", "m", 1.0, 2),
    "solidification_time": Printed("time to the end of solidification", "min", MINUTE, 1),
    "meeting_depth": Printed("last liquid below the loose side", "mm", MM, 1),
    "length_at_solid_fraction_0_3": Printed("length to centre 0.3 solid", "m", 1.0, 2),
    "length_at_solid_fraction_0_7": Printed("length to centre 0.7 solid", "m", 1.0, 2),
    "length_at_solid_fraction_0_9": Printed("length to centre 0.9 solid", "m", 1.0, 2),
    "length_at_solid_fraction_0_99": Printed("length to centre 0.99 solid", "m", 1.0, 2),
    "k_mould_exit": Printed("K at mould exit", "mm/√min", 1.0, 1),
    "k_mould_exit_at_solid_fraction_0_3": Printed("K at mould exit, 0.3 solid", "mm/√min", 1.0, 1),
    "k_mould_exit_at_solid_fraction_0_7": Printed("K at mould exit, 0.7 solid", "mm/√min", 1.0, 1),
    "k_mould_exit_equivalent": Printed("K at mould exit, equivalent solid", "mm/√min", 1.0, 1),
    "k_whole_machine": Printed("K of the whole machine", "mm/√min", 1.0, 1),
    "surface_at_straightener_in": Printed("surface at the first straightening point", "°C", 1.0, 0),
    "surface_at_straightener_out": Printed("surface at the last straightening point", "°C", 1.0, 0),
    "centre_solid_fraction_at_straightener_in": Printed(
        "centre solid at the first straightening point", "", 1.0, 2
    ),
    "surface_at_cutoff": Printed("surface at the cut-off", "°C", 1.0, 0),
    "centre_at_cutoff": Printed("centre at the cut-off", "°C", 1.0, 0),
    "specific_water": Printed("specific water", "L/kg", 1.0, 2),
    "throughput": Printed("steel cast", "kg/min", 1.0 / MINUTE, 0),
    "largest_reheating": Printed("largest reheating", "K", 1.0, 0),
    "largest_reheating_rate": Printed("steepest reheating over 0.5 m", "K/m", 1.0, 0),
    "largest_cooling_rate": Printed("steepest cooling over 0.5 m", "K/m", 1.0, 0),
}
"""Figure of `solidify.strand.result.SUMMARY` -> how it is printed, in the order of a sheet."""
