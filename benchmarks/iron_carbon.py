"""Compute the Fe-C equilibria that the steel tests hold as frozen numbers.

Needs two packages that are no part of the project: ``pip install pycalphad kawin``. The thermodynamic
description is the open one of Cr-Fe-C after A. V. Khvan and B. Hallstedt (2013) and B. Hallstedt et al. (2010)
that kawin carries for its own tests; pycalphad solves it. Run it with ``python benchmarks/iron_carbon.py`` and
compare what it prints with the tables in ``tests/unit/test_steel_liquidus.py``, ``test_steel_path.py`` and
``test_steel_curve.py``. The liquidus lines of the project were fitted to this description, its enthalpies were
not.
"""

from __future__ import annotations

import importlib.util
import warnings
from pathlib import Path

import numpy as np
import pycalphad
from pycalphad import Database, equilibrium
from pycalphad import variables as v

CARBON = (0.0, 0.001, 0.05, 0.10, 0.17, 0.20, 0.40, 0.53, 0.60, 0.80, 1.0)
"""mass %"""

IRON, CARBON_ATOM = 55.845, 12.011
ZERO_CELSIUS = 273.15
HOT = ("LIQUID", "BCC_A2", "FCC_A1")
COLD = ("BCC_A2", "FCC_A1", "CEMENTITE_D011")


def description() -> Database:
    """Return the Cr-Fe-C description from the kawin package, without importing the package."""
    path = Path(pycalphad.__file__).parents[1] / "kawin" / "tests" / "databases.py"
    spec = importlib.util.spec_from_file_location("descriptions", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return Database(module.FECRC_DB)


def state(data: Database, carbon: float, temperature: float, phases: tuple[str, ...]) -> tuple[float, float]:
    """Return the enthalpy [J/kg] and the liquid share of the moles at one temperature [degC]."""
    moles = carbon / CARBON_ATOM
    x = max(moles / (moles + (100.0 - carbon) / IRON), 1e-8)
    conditions = {v.X("C"): x, v.T: temperature + ZERO_CELSIUS, v.P: 101325, v.N: 1}
    found = equilibrium(data, ["FE", "C", "VA"], list(phases), conditions, output="HM")
    names, shares = found.Phase.values.ravel(), found.NP.values.ravel()
    liquid = float(np.nansum(shares[names == "LIQUID"]))
    mass = 1e-3 * (x * CARBON_ATOM + (1.0 - x) * IRON)
    return float(found.HM.values.ravel()[0]) / mass, liquid


def boundary(data: Database, carbon: float, share: float) -> float:
    """Return the temperature at which the liquid share passes `share` [degC]."""
    low, high = 1300.0, 1560.0
    while high - low > 0.02:
        middle = 0.5 * (low + high)
        if state(data, carbon, middle, HOT)[1] > share:
            high = middle
        else:
            low = middle
    return 0.5 * (low + high)


def main() -> None:
    """Print liquidus, solidus and heats [kJ/kg] for every carbon content."""
    warnings.simplefilter("ignore")
    data = description()
    print("  C %   liquidus  solidus   over range   liquidus+25 to 20   to 1000 degC")
    for carbon in CARBON:
        top, bottom = boundary(data, carbon, 1.0 - 1e-6), boundary(data, carbon, 1e-6)
        heat = [state(data, carbon, t, HOT)[0] for t in (top + 0.02, bottom - 0.02, top + 25.0)]
        cold, thousand = (state(data, carbon, t, COLD)[0] for t in (20.0, 1000.0))
        row = [1e-3 * d for d in (heat[0] - heat[1], heat[2] - cold, heat[2] - thousand)]
        print(f"{carbon:6.3f}{top:10.1f}{bottom:9.1f}{row[0]:13.0f}{row[1]:20.0f}{row[2]:15.0f}")
    print("\nenthalpy over 20 degC at 0.2 % C, kJ/kg")
    base = state(data, 0.2, 20.0, COLD)[0]
    for t in (
        100,
        200,
        300,
        400,
        500,
        600,
        700,
        800,
        900,
        1000,
        1100,
        1200,
        1300,
        1400,
        1450,
        1500,
        1550,
        1600,
        1650,
    ):
        phases = HOT if t > 1350 else COLD
        print(f"{t:6d}{1e-3 * (state(data, 0.2, t, phases)[0] - base):8.0f}")


if __name__ == "__main__":
    main()
