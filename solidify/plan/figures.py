"""Figures of ladle, tundish, nozzle and cut that stand in where a plan gives none, with their spread."""

from __future__ import annotations

from dataclasses import dataclass

from solidify.sources import EVIDENCE, load_data, source

__all__ = ["Figure", "figure", "ladle_cooling"]


@dataclass(frozen=True)
class Figure:
    """A figure of the trade.

    Parameters
    ----------
    value, sd : float
        In its unit; `sd` is one standard deviation, 0 where the figure is a limit.
    unit : str
        Plant unit.
    evidence : str
        One of `solidify.sources.EVIDENCE`.
    note : str
        What it is and the range it is taken from.
    source : str
        Key of the bibliography; empty for common practice.
    """

    value: float
    sd: float
    unit: str
    evidence: str
    note: str
    source: str = ""

    @property
    def origin(self) -> str:
        """Where it comes from, in words."""
        words = EVIDENCE[self.evidence]
        return f"{words}: {source(self.source).reference.split(',')[0]}" if self.source else words


def figure(*path: str) -> Figure:
    """Return a figure of ``data/casting.toml``.

    Parameters
    ----------
    *path : str
        Its table, e.g. ``"tundish", "loss"``.

    Returns
    -------
    Figure
    """
    table = load_data("casting.toml")
    for key in path:
        table = table[key]
    return Figure(
        table["value"],
        table.get("sd", 0.0),
        table["unit"],
        table["evidence"],
        table["note"],
        table.get("source", ""),
    )


def ladle_cooling(weight_t: float) -> Figure:
    """Return how fast a ladle at rest cools, by its weight [K/min].

    Parameters
    ----------
    weight_t : float
        Steel in the ladle [t].

    Returns
    -------
    Figure
        In K/min; straight between two weights and constant beyond.
    """
    table = load_data("casting.toml")["ladle"]["cooling"]
    (low, high), (first, last) = table["weights_t"], table["values"]
    share = min(max((weight_t - low) / (high - low), 0.0), 1.0)
    value = first + share * (last - first)
    return Figure(value, table["sd"], table["unit"], table["evidence"], table["note"])
