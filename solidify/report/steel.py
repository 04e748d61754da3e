"""The printed sheet of a steel: its temperatures, a table of its properties, and what they rest on."""

from __future__ import annotations

import math

import numpy as np

from solidify.report.ductility import criteria_rows
from solidify.report.text import WIDTH, columns, entries, listed, page
from solidify.sources import EVIDENCE, source
from solidify.steel import Steel
from solidify.units import KJ

__all__ = ["steel_text"]

STEP = 50.0
"""Spacing of the table [K]."""

FRACTIONS = (0.0, 0.3, 0.7, 1.0)
"""Solid fractions that have a row of their own, whatever their temperature [1]."""


def steel_text(steel: Steel, width: int = WIDTH) -> str:
    """Write what a steel is taken to be.

    Parameters
    ----------
    steel : Steel
        From a composition, own numbers or a property file.
    width : int
        Longest line of the running text [characters].

    Returns
    -------
    str
        Plain text: class, temperatures, what each criterion of ductility asks, a property table from hot to cold,
        sources, notices.
    """
    blocks = [_head(steel), _temperatures(steel), _ductility(steel, width), _table(steel)]
    blocks += [
        listed("Sources", _sources(steel), width),
        listed("To know", map(str, steel.notices), width),
    ]
    return page(blocks)


def _head(steel: Steel) -> list[str]:
    parts = " ".join(f"{element} {percent:g}" for element, percent in steel.composition.items() if percent)
    figures = {
        "Steel class": steel.steel_class,
        "Composition, mass %": parts,
        "Solid fraction by": steel.path_model,
        "Latent heat": f"{steel.latent_heat / KJ:.1f} kJ/kg",
        "Density that marches": f"{steel.march_density:.0f} kg/m³",
        "Carbon equivalent": _or_nothing(steel.carbon_equivalent, "{:.3f} %"),
        "Ferrite potential": _or_nothing(steel.ferrite_potential, "{:.2f}"),
        "Nominal cooling rate": _or_nothing(steel.cooling_rate, "{:g} K/s"),
    }
    return entries([(name, value) for name, value in figures.items() if value])


def _or_nothing(value: float, form: str) -> str:
    return "" if math.isnan(value) else form.format(value)


def _temperatures(steel: Steel) -> list[str]:
    named = {"liquidus": steel.liquidus, **steel.temperatures, "solidus": steel.solidus}
    rows = sorted(named.items(), key=lambda item: -item[1])
    return ["Temperatures, °C", *columns([(name, f"{value:.1f}") for name, value in rows], indent="  ")]


def _ductility(steel: Steel, width: int) -> list[str]:
    title = "Surface at the straightener, by ductility_criterion"
    return [title, *columns(criteria_rows(steel), "llw", width, indent="  ")]


def _table(steel: Steel) -> list[str]:
    even = np.arange(STEP * math.ceil(steel.temperature[0] / STEP), steel.temperature[-1] + 1e-9, STEP)
    freezing = [steel.temperature_at_solid_fraction(fraction) for fraction in FRACTIONS]
    rows = np.unique([*even, steel.temperature[0], *freezing])[::-1]
    names = ("solid_fraction", "enthalpy", "conductivity", "density", "shrinkage")
    curves = [np.interp(rows, steel.temperature, getattr(steel, name)) for name in names]
    cells = [
        ("Temperature", "Solid fraction", "Enthalpy", "Conductivity", "Density", "Shrinkage"),
        ("°C", "1", "kJ/kg", "W/(m K)", "kg/m³", "%"),
    ]
    for t, fs, h, k, rho, strain in zip(rows, *curves, strict=True):
        shrunk = "–" if math.isnan(strain) else f"{0.0 - 100 * strain:.3f}"
        cells.append((f"{t:.1f}", f"{fs:.3f}", f"{h / KJ:.1f}", f"{k:.1f}", f"{rho:.0f}", shrunk))
    return [
        *columns(cells, "r"),
        "Conductivity includes the stirring of the pool; enthalpy counts from the lowest row.",
    ]


def _sources(steel: Steel) -> list[str]:
    """One line a source: what rests on it, and where a part of that is known less well."""
    lines = []
    for key in steel.sources:
        words = EVIDENCE[source(key).evidence]
        used = [
            quantity if known == words else f"{quantity} ({known.removeprefix(words).strip('; ')})"
            for quantity, (own, known) in steel.evidence.items()
            if own == key
        ]
        lines.append(f"{', '.join(used)}: {source(key)}")
    return lines
