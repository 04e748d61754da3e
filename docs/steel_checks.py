"""Write ``steel-checks.md``: values of the steel room beside published and computed ones.

Run ``python docs/steel_checks.py`` after a change of the steel room; a test compares the page with what this
would write.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from janaf.table import Table

from solidify.sources import EVIDENCE
from solidify.steel import Steel, liquidus_relations, liquidus_temperature, steel_from_composition
from solidify.steel.liquidus import phase_lines
from solidify.steel.properties import phase_density, phase_enthalpy, solid_conductivity
from solidify.units import KJ, ZERO_CELSIUS

IRON_KG_PER_MOL = 0.055845
JANAF = "JANAF tables, Chase 1998"
EN = "EN 1993-1-2:2005, 3.4"
EQUILIBRIA = "Fe-C equilibria, open description solved with pycalphad"
LU = "volumes of Lu, Selleby, Sundman 2005"


@dataclass(frozen=True)
class Check:
    """One line of the page."""

    what: str
    ours: float
    reference: float
    unit: str
    source: str
    evidence: str
    decimals: int = 0
    fitted: bool = False

    def __str__(self) -> str:
        d = self.decimals
        difference = f"{self.ours - self.reference:+.{d}f}"
        if self.unit not in ("°C", "% C"):
            difference += f" ({100.0 * (self.ours / self.reference - 1.0):+.1f} %)"
        kind = "fit check" if self.fitted else "independent"
        cells = (self.what, f"{self.ours:.{d}f}", f"{self.reference:.{d}f}", self.unit, difference)
        return "| " + " | ".join((*cells, self.source, EVIDENCE[self.evidence], kind)) + " |"


def iron() -> Iterator[Check]:
    """Pure iron against the JANAF tables and handbooks."""
    frame = Table("Fe-007").df
    t, h = frame["T(K)"].to_numpy() - ZERO_CELSIUS, frame["H-H(Tr)"].to_numpy() / IRON_KG_PER_MOL
    base = float(np.interp(20.0, t, h))
    yield Check(
        "melting point of iron", liquidus_temperature({"C": 0.0}), 1538.0, "°C", "handbooks", "seen", 1
    )
    for what, hot, cold, kelvin in (
        ("heat of fusion of iron", "liquid", "delta", 1809.0),
        ("gamma to delta", "delta", "gamma", 1665.0),
        ("alpha to gamma", "gamma", "alpha", 1184.0),
    ):
        rows = np.flatnonzero(np.abs(t + ZERO_CELSIUS - kelvin) < 0.01)
        at = kelvin - ZERO_CELSIUS
        ours = float(phase_enthalpy(hot, at) - phase_enthalpy(cold, at)) / KJ
        yield Check(what, ours, float(np.ptp(h[rows])), "kJ/kg", JANAF, "seen", 1)
    phases = {
        200: "alpha",
        400: "alpha",
        600: "alpha",
        800: "alpha",
        1000: "gamma",
        1200: "gamma",
        1450: "delta",
    }
    for at, phase in {**phases, 1550: "liquid", 1650: "liquid"}.items():
        ours = float(phase_enthalpy(phase, at) - phase_enthalpy("alpha", 20.0)) / KJ
        yield Check(
            f"enthalpy of iron, {at} to 20 °C",
            ours,
            float(np.interp(at, t, h)) - base,
            "kJ/kg",
            JANAF,
            "seen",
        )


def liquidus() -> Iterator[Check]:
    """Liquidus and solidus of Fe-C and of steels."""
    carbon = np.linspace(0.3, 0.8, 50001)
    delta, gamma = phase_lines({"C": carbon})
    meet = int(np.argmin(np.abs(delta - gamma)))
    yield Check("peritectic temperature", float(delta[meet]), 1493.0, "°C", "web handbooks", "seen", 1)
    yield Check("peritectic temperature", float(delta[meet]), 1495.0, "°C", "Massalski, ASM", "recalled", 1)
    yield Check(
        "carbon of the peritectic liquid", float(carbon[meet]), 0.53, "% C", "Massalski, ASM", "recalled", 3
    )
    binary = {0.05: (1534.0, 1515.4), 0.10: (1530.1, 1494.6), 0.20: (1522.2, 1489.3), 0.40: (1505.6, 1453.1)}
    for c, (top, bottom) in {**binary, 0.60: (1489.8, 1417.8), 0.80: (1476.2, 1382.7)}.items():
        steel = steel_from_composition({"C": c}, path_model="lever")
        yield Check(f"liquidus, {c} % C", steel.liquidus, top, "°C", EQUILIBRIA, "derived", 1, True)
        yield Check(
            f"solidus by the lever rule, {c} % C", steel.solidus, bottom, "°C", EQUILIBRIA, "derived", 1, True
        )
    example = {"C": 0.22, "Si": 0.60, "Mn": 1.52, "P": 0.017, "S": 0.015, "Cu": 0.020, "Cr": 0.032}
    worked = "steelmaking examination problem"
    yield Check(
        "thomas_1987, worked example",
        liquidus_temperature(example, "thomas_1987"),
        1503.967,
        "°C",
        worked,
        "seen",
        1,
    )
    yield Check("default, same steel", liquidus_temperature(example), 1503.967, "°C", worked, "seen", 1)
    medium = {"C": 0.20, "Si": 0.25, "Mn": 0.80, "P": 0.020, "S": 0.015, "Al": 0.02}
    for relation in liquidus_relations()[1:]:
        value = liquidus_temperature(medium, relation)
        grade = "seen" if relation in ("thomas_1987", "roeser_wensel_1941") else "recalled"
        yield Check("default, 0.2 % C steel", liquidus_temperature(medium), value, "°C", relation, grade, 1)


def heat(mild: Steel) -> Iterator[Check]:
    """Heat to remove, and the enthalpy of the fire standard."""
    for c, expected in {0.05: 1318, 0.10: 1315, 0.20: 1309, 0.40: 1297, 0.60: 1286, 0.80: 1276}.items():
        steel = steel_from_composition({"C": c}, path_model="lever")
        ours = steel.heat_between(steel.liquidus + 25.0, 20.0) / KJ
        yield Check(f"liquidus + 25 K to 20 °C, {c} % C", ours, expected, "kJ/kg", EQUILIBRIA, "derived")
    t = np.linspace(20.0, 1200.0, 118001)
    low = 425.0 + 0.773 * t - 1.69e-3 * t**2 + 2.22e-6 * t**3
    rise, fall = 666.0 + 13002.0 / np.maximum(738.0 - t, 1.0), 545.0 + 17820.0 / np.maximum(t - 731.0, 1.0)
    specific = np.select([t < 600.0, t < 735.0, t < 900.0], [low, rise, fall], 650.0)
    integral = np.concatenate(([0.0], np.cumsum(0.5 * (specific[1:] + specific[:-1]) * np.diff(t))))
    for at in (400.0, 600.0, 900.0, 1200.0):
        expected = float(np.interp(at, t, integral)) / KJ
        yield Check(
            f"enthalpy, {at:.0f} to 20 °C, 0.2 % C",
            mild.heat_between(at, 20.0) / KJ,
            expected,
            "kJ/kg",
            EN,
            "seen",
        )


def conduction_and_length(mild: Steel) -> Iterator[Check]:
    """Conductivity and elongation against the fire standard, densities against volumes."""
    for at in (200.0, 600.0, 1000.0, 1200.0):
        expected = float(solid_conductivity(np.array([at]), {}, 0.2, "en_1993_1_2")[0])
        ours = float(np.interp(at, mild.temperature, mild.conductivity))
        yield Check(f"conductivity, {at:.0f} °C, 0.2 % C", ours, expected, "W/(m K)", EN, "seen", 1)
    for at, expected in ((400.0, 0.520), (700.0, 1.012), (1000.0, 1.380)):
        hot, cold = np.interp([at, 20.0], mild.temperature, mild.shrinkage)
        ours = 100.0 * ((1.0 + hot) / (1.0 + cold) - 1.0)
        yield Check(
            f"elongation from 20 to {at:.0f} °C, 0.2 % C", float(ours), expected, "% of length", EN, "seen", 3
        )
    for phase, at in (
        ("alpha", 20.0),
        ("alpha", 600.0),
        ("gamma", 1000.0),
        ("gamma", 1400.0),
        ("delta", 1450.0),
    ):
        kelvin = at + ZERO_CELSIUS
        if phase == "gamma":
            volume = 6.72092e-6 * np.exp(6.97895e-5 * kelvin)
        else:
            volume = 7.00790e-6 * np.exp(3.42756e-5 * kelvin + 8.14005e-9 * kelvin**2 + 0.291672 / kelvin)
        ours, expected = float(phase_density(phase, at)), IRON_KG_PER_MOL / float(volume)
        yield Check(f"density of {phase}, {at:.0f} °C, iron", ours, expected, "kg/m³", LU, "seen")
    expected = 7100.0 - 0.828 * (1550.0 + ZERO_CELSIUS - 1823.0)
    ours = float(phase_density("liquid", 1550.0))
    yield Check("density of liquid iron, 1550 °C", ours, expected, "kg/m³", "Jimbo and Cramb 1993", "seen")


def page() -> str:
    """Return the page as Markdown."""
    mild = steel_from_composition({"C": 0.20, "Si": 0.2, "Mn": 0.7})
    checks = [*iron(), *liquidus(), *heat(mild), *conduction_and_length(mild)]
    lines = [
        "# Checks of the steel room",
        "",
        "Written by `python docs/steel_checks.py`. *Independent* means that our relation was not fitted to the",
        "reference; a *fit check* only shows that the fit holds. The Fe-C equilibria can be computed again with",
        "`python benchmarks/iron_carbon.py`. Evidence is that of the reference, ours stands in `solidify/data/steel`.",
        "",
        "| quantity | ours | reference | unit | difference | reference is | known how | kind |",
        "|---|---|---|---|---|---|---|---|",
    ]
    return "\n".join([*lines, *map(str, checks), ""])


if __name__ == "__main__":
    Path(__file__).with_name("steel-checks.md").write_text(page(), encoding="utf-8")
