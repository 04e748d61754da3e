"""The plant of the checks of heat plans: round numbers, invented; one ladle of 80 t, two tundishes, four strands."""

from solidify.plan.plan_file import parse_plan

CASE = """title = "Round numbers, {thickness} x {width} (invented)"
[steel]
liquidus_C = 1495
solidus_C = 1435
latent_heat_kJ_per_kg = 270
density_kg_per_m3 = 7300
specific_heat_J_per_kgK = 700
conductivity_W_per_mK = 30
[section]
shape = "{shape}"
thickness_mm = {thickness}
width_mm = {width}
[casting]
speed_m_per_min = {speed}
superheat_K = 28
[mould]
length_mm = 700
level_below_top_mm = 100
lubricant = "powder"
mean_heat_flux_MW_per_m2 = 1.4
[cooling]
ambient_temperature_C = 40
water_temperature_C = 25
emissivity = 0.8
[[zone]]
name = "spray"
end_m = 8
heat_transfer_W_per_m2K = 300
[machine]
support_end_m = 22
cutoff_m = 25
"""

CASES = {
    "a.toml": CASE.format(shape="rectangle", thickness=250, width=300, speed=0.75),
    "c.toml": CASE.format(shape="rectangle", thickness=200, width=200, speed=1.15),
    "d.toml": CASE.format(shape="rectangle", thickness=160, width=160, speed=1.9),
    "slab.toml": CASE.format(shape="slab", thickness=220, width=1500, speed=1.2),
}

_TUNDISH = """[[tundish]]
name = "{name}"
weight_t = 8
least_weight_t = 4
start_weight_t = 5
rest_t = 1.0
level_at_weight = [[0, 0], [4, 420], [8, 800]]
loss_kW = 60
first_heat_K = 15
first_heat_fades_min = 12
"""

_STRAND = """[[strand]]
name = "{name}"
case = "{case}.toml"
tundish = "{tundish}"
speed_m_per_min = {{ least = {least}, aim = {aim}, most = {most} }}
nozzle = {{ kind = "metering", coefficient = 0.85, clog_percent_per_heat = 0, wear_mm_per_h = 0 }}
"""

_STRANDS = (
    ("A", "a", "left", 0.5, 0.75, 0.95),
    ("B", "a", "left", 0.5, 0.75, 0.95),
    ("C", "c", "right", 0.8, 1.15, 1.4),
    ("D", "d", "right", 1.3, 1.9, 2.3),
)

FOUR = (
    """title = "Four strands, three sections, one ladle of 80 t (invented)"
[ladle]
weight_t = 80
stays_t = 1.0
cooling_K_per_min = 0.5
stream_drop_K = 12
gate_most_t_per_min = 5
"""
    + "".join(_TUNDISH.format(name=name) for name in ("left", "right"))
    + "".join(
        _STRAND.format(name=n, case=c, tundish=t, least=a, aim=b, most=d) for n, c, t, a, b, d in _STRANDS
    )
    + """[sequence]
heats = 3
shut_min = 2.5
superheat_K = { least = 10, aim = 28, most = 45 }
[cut]
lengths_m = 6
kerf_mm = 8
hot_factor = 1.0118
head_crop_m = 0.8
tail_crop_m = 0.5
join_crop_m = 0.5
scale_percent = 0.6
"""
)
"""Four strands through metering nozzles; the plant of the checks E03 to E08, E12, E17 and D03."""

SLAB = """title = "Two slab strands, one ladle of 250 t (invented)"
[ladle]
weight_t = 250
stays_t = 2
cooling_K_per_min = 0.5
stream_drop_K = 12
gate_most_t_per_min = 12
[[tundish]]
name = "tundish"
weight_t = 45
least_weight_t = 25
start_weight_t = 30
rest_t = 6
area_m2 = 6
loss_kW = 500
first_heat_K = 0
lining_min = 600
[[strand]]
name = "1"
case = "slab.toml"
speed_m_per_min = { least = 0.4, aim = 1.2, most = 1.5 }
nozzle = { kind = "stopper", drop_to_mould_mm = 800, coefficient = 0.82, clog_percent_per_heat = 4 }
[[strand]]
name = "2"
case = "slab.toml"
speed_m_per_min = { least = 0.4, aim = 1.2, most = 1.5 }
nozzle = { kind = "stopper", drop_to_mould_mm = 800, coefficient = 0.82, clog_percent_per_heat = 4 }
[sequence]
heats = 6
shut_min = 2.5
superheat_K = { least = 18, aim = 28, most = 38 }
"""
"""Two throttled slab strands; the plant of the checks E09 to E11 and E16."""


def plan_of(text, *changes):
    """Return the plan of a text in which each (old, new) was exchanged."""
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    return parse_plan(text, "plan.toml", cases=CASES)
