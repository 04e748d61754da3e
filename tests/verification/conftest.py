"""What the verification tests share: an invented steel, tables for it, and one way to prove an order.

The steel-like material is invented: density 7400 kg/m3, latent heat 272 kJ/kg, solid 30 W/(m K) and
680 J/(kg K), freezing band 32 and 750, liquid 34 and 820.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from solidify.solver.enthalpy_table import SteelTable, steel_table

DENSITY = 7400.0
LATENT = 272e3
CONDUCTIVITY = (30.0, 32.0, 34.0)
SPECIFIC_HEAT = (680.0, 750.0, 820.0)


class Bench:
    """The invented steel and tables made from it; lengths in m, heat by volume."""

    density = DENSITY
    latent_heat = DENSITY * LATENT
    conductivity = CONDUCTIVITY
    heat_capacity = tuple(DENSITY * c for c in SPECIFIC_HEAT)
    diffusivity = CONDUCTIVITY[0] / (DENSITY * SPECIFIC_HEAT[0])

    solid_and_liquid: dict[str, Any] = {  # noqa: RUF012
        "conductivity": CONDUCTIVITY[::2],
        "heat_capacity": heat_capacity[::2],
        "latent_heat": latent_heat,
    }
    three_regions: dict[str, Any] = {  # noqa: RUF012
        "conductivity": CONDUCTIVITY,
        "heat_capacity": heat_capacity,
        "latent_heat": latent_heat,
    }

    @staticmethod
    def constant(conductivity: float, heat_capacity: float, low: float, high: float) -> SteelTable:
        """Nothing freezes, properties do not change."""
        t = np.array([low, high])
        return steel_table(t, heat_capacity * (t - low), np.full(2, conductivity), np.ones(2))

    @staticmethod
    def isothermal(
        melting: float,
        conductivity: tuple[float, float],
        heat_capacity: tuple[float, float],
        latent_heat: float,
        low: float,
        high: float,
        narrowest: float = 0.02,
    ) -> SteelTable:
        """All latent heat at one temperature, spread over `narrowest`."""
        (ks, kl), (cs, cl) = conductivity, heat_capacity
        h = cs * (melting - low)
        t = np.array([low, melting, melting, high])
        enthalpy = np.array([0.0, h, h + latent_heat, h + latent_heat + cl * (high - melting)])
        k, f = np.array([ks, ks, kl, kl]), np.array([1.0, 1.0, 0.0, 0.0])
        return steel_table(t, enthalpy, k, f, narrowest=narrowest)

    @classmethod
    def band(cls, solidus: float, liquidus: float, share: float = 0.0, narrowest: float = 0.02) -> SteelTable:
        """Solid fraction linear in temperature, `share` of the latent heat released at the solidus."""
        (ks, km, kl), (cs, cm, cl) = cls.conductivity, cls.heat_capacity
        low, high = 20.0, 1700.0
        h1 = cs * (solidus - low)
        h2 = h1 + share * cls.latent_heat
        h3 = h2 + cm * (liquidus - solidus) + (1.0 - share) * cls.latent_heat
        t = np.array([low, solidus, solidus, liquidus, liquidus, high])
        enthalpy = np.array([0.0, h1, h2, h3, h3, h3 + cl * (high - liquidus)])
        k = np.array([ks, ks, km, km, kl, kl])
        return steel_table(
            t, enthalpy, k, np.array([1.0, 1.0, 1.0 - share, 0.0, 0.0, 0.0]), narrowest=narrowest
        )


@pytest.fixture(scope="session")
def bench() -> type[Bench]:
    """The invented steel."""
    return Bench


@pytest.fixture
def prove(request: pytest.FixtureRequest) -> Callable[..., np.ndarray]:
    """Assert errors on successively halved grids or steps: the size of the last and the observed order.

    The order is the slope of the logarithms over the whole sequence; every error should be a maximum over
    many instants. What was observed goes to the page on accuracy; ``pytest -rP`` shows it too.
    """

    def check(
        quantity: str, sizes: Any, errors: Any, *, limit: float, order: float | None = None
    ) -> np.ndarray:
        size, error = np.asarray(sizes, dtype=float), np.asarray(errors, dtype=float)
        pairs = np.log(error[:-1] / error[1:]) / np.log(size[:-1] / size[1:])
        slope = float(np.polyfit(np.log(size), np.log(error), 1)[0])
        said = ", ".join(f"{s:.3g}: {e:.3g}" for s, e in zip(size, error, strict=True))
        said = f"{quantity}: {said}; order {slope:.2f} ({', '.join(f'{p:.2f}' for p in pairs)})"
        print(said)
        seen = {"quantity": quantity, "size": size.tolist(), "error": error.tolist(), "order": slope}
        request.node.user_properties.append(("proved", seen | {"limit": limit, "least_order": order}))
        assert np.all(np.isfinite(error)), said
        assert error[-1] <= limit, said
        if order is not None:
            assert slope >= order, said
        return pairs

    return check


@pytest.fixture
def compare(request: pytest.FixtureRequest) -> Callable[..., None]:
    """Assert that a number of the march lies within a distance of its reference; both go to the page on accuracy."""

    def check(quantity: str, ours: float, reference: float, within: float, unit: str = "1") -> None:
        off = abs(float(ours) - float(reference))
        seen = {
            "quantity": quantity,
            "ours": float(ours),
            "reference": float(reference),
            "within": float(within),
        }
        request.node.user_properties.append(("compared", seen | {"unit": unit}))
        assert off <= within, f"{quantity}: {ours:.7g} against {reference:.7g} {unit}, {within:.3g} allowed"

    return check


@pytest.fixture
def tell(request: pytest.FixtureRequest) -> Callable[[str, str], None]:
    """Put a sentence of what was found onto the page on accuracy."""

    def note(quantity: str, text: str) -> None:
        print(f"{quantity}: {text}")
        request.node.user_properties.append(("told", {"quantity": quantity, "text": text}))

    return note
