"""Pictures of a result: no physics is computed, nothing is shown, and saved only when asked."""

# ruff: noqa: E402 (the drawing library first)
from solidify.plots.backend import load_matplotlib

load_matplotlib()

from solidify.plots.handbook import plot_handbook
from solidify.plots.heat import plot_heat
from solidify.plots.pictures import save_pictures
from solidify.plots.section import plot_section
from solidify.plots.steel import plot_steel
from solidify.plots.strand import draw_strand, plot_shell, plot_temperature

__all__ = [
    "draw_strand",
    "plot_handbook",
    "plot_heat",
    "plot_section",
    "plot_shell",
    "plot_steel",
    "plot_temperature",
    "save_pictures",
]
