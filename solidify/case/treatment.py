"""How far the slice of a section may be off, as found against two-dimensional sections with even cooling."""

from __future__ import annotations

from dataclasses import dataclass

from solidify.sources import load_data
from solidify.units import MM

__all__ = ["TreatmentBand", "treatment_band"]


@dataclass(frozen=True)
class TreatmentBand:
    """Lowest and highest error of a slice against two-dimensional sections.

    Parameters
    ----------
    end : tuple of float
        End of solidification [%].
    shell : tuple of float
        Shell to a solid fraction of 0.7, until it is three quarters of the half thickness [% of the half thickness].
    surface : tuple of float
        Middle of the wide face, from mould exit to twice the time of solidification [K].
    """

    end: tuple[float, float]
    shell: tuple[float, float]
    surface: tuple[float, float]


def treatment_band(shape: str, thickness: float) -> TreatmentBand:
    """Return how far the slice of a section may be off.

    Parameters
    ----------
    shape : str
        ``"slab"``, ``"rectangle"`` or ``"round"``; the slice of a slab and of a round is exact for even cooling.
    thickness : float
        Of the section [m].

    Returns
    -------
    TreatmentBand
        From data/uncertainty.toml, which the tests hold to docs/section-treatment.md.
    """
    for row in load_data("uncertainty.toml")["treatment"].get(shape, ()):
        if thickness <= row["to_thickness_mm"] * MM:
            return TreatmentBand(
                tuple(row["length_percent"]), tuple(row["shell_percent"]), tuple(row["surface_K"])
            )
    return TreatmentBand((0.0, 0.0), (0.0, 0.0), (0.0, 0.0))
