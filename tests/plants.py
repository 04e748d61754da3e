"""An invented plant of round numbers: 250 x 300 mm, 0.9 m/min, zones of 1 m; the second is dry."""

from __future__ import annotations

from solidify.case import parse_case

__all__ = ["ROUND_NUMBERS"]

ROUND_NUMBERS = parse_case(
    """\
title = "Round numbers (invented plant)"
[steel]
liquidus_C = 1500
solidus_C = 1450
latent_heat_kJ_per_kg = 270
density_kg_per_m3 = 7400
specific_heat_J_per_kgK = 700
conductivity_W_per_mK = 30
[section]
shape = "rectangle"
thickness_mm = 250
width_mm = 300
[casting]
speed_m_per_min = 0.9
superheat_K = 28
[mould]
length_mm = 800
level_below_top_mm = 100
lubricant = "powder"
mean_heat_flux_MW_per_m2 = 1.3
[[zone]]
name = "one"
end_m = 1.7
water_L_per_min = 66
[[zone]]
name = "two"
end_m = 2.7
water_L_per_min = 0
[machine]
radius_m = 10
straightener_m = [15]
support_end_m = 20
cutoff_m = 22
""",
    "plant.toml",
)
