"""What `check` prints: areas, both units of water, coefficient and litres per kilogram, and what is to be known."""

import re
from pathlib import Path

from solidify.case import read_case
from solidify.report.case import check_text

CASES = Path(__file__).parents[2] / "cases"


def sheet(changes=None):
    return check_text(read_case(CASES / "bloom.toml").replace(changes or {}))


def row(text, name):
    line = next(line for line in text.splitlines() if line.startswith(f"{name} "))
    return re.split(r"\s{2,}", line)


def test_a_zone_shows_area_water_in_both_units_coefficient_and_litres_per_kilogram():
    """1.7 m x 2 (0.30 + 0.25) m = 1.87 m2; 90 L/min over it; 7549 kg/m3 x 0.075 m2 x 0.75 m/min = 424.6 kg/min."""
    _, start, end, faces, area, litres, minute, second, h, by_kilogram = row(sheet(), "spray 1")
    assert (start, end, faces, area, litres) == ("0.90", "2.60", "all", "1.870", "90.0")
    assert float(minute) == round(90 / 1.87, 1)
    assert float(second) == round(90 / 1.87 / 60, 3)
    assert float(h) == round(392.5 * (90 / 1.87 / 60) ** 0.55 * (1 - 0.0075 * 25))
    assert abs(float(by_kilogram) - 90 / 424.6) < 0.001


def test_the_water_of_all_zones_stands_below_them():
    """46 + 90 + 51 + 21 L/min over 424.6 kg/min; nothing where a zone is cooled by a coefficient."""
    litres, by_kilogram = row(sheet(), "all zones")[1:]
    assert litres == "208.0"
    assert abs(float(by_kilogram) - 208 / 424.6) < 0.001
    own = {'zone."spray 3".water_L_per_min': None, 'zone."spray 3".heat_transfer_W_per_m2K': 120}
    assert "all zones" not in sheet(own)


def test_two_sides_show_two_figures():
    changes = {'zone."spray 1".run_off_W_per_m2K': 50}
    text = sheet(changes)
    assert row(text, "spray 1")[8] == "332/282"
    assert "Two figures: loose/fixed side." in " ".join(text.split())
    assert "Two figures" not in sheet()


def test_water_of_each_side_is_told_where_the_case_tells_the_sides_apart():
    shares = {"loose": 0.3, "fixed": 0.3, "narrow": 0.4}
    text = sheet({'zone."spray 1".side_shares': shares})
    assert "Water by side, L/min:\n  spray 1: loose 27.0, fixed 27.0, narrow 36.0" in text
    assert "Water by side" not in sheet()


def test_shares_relations_and_notices_are_shown():
    changes = {"cooling.spray_relation": "ishiguro_1974", "cooling.wetted_share": 0.3}
    text = sheet(changes)
    assert row(text, "spray 1")[8] == "30 %"
    assert "ishiguro_1974: Ishiguro et al. 1974; made for the water under a spray" in text
    assert "nozaki" not in text
    assert "wetted is the share under a spray" in " ".join(text.split())
    assert "wetted" not in sheet()
    assert 'zone "spray 3"' not in text.split("to know:")[1]
    assert "made for the zone mean" in sheet()


def test_the_mould_is_shown_before_the_run():
    changes = {
        "mould.oscillation_cycles_per_min": 120,
        "mould.oscillation_stroke_mm": 6,
        "mould.copper_wall_mm": 12,
    }
    panel = {"mould.water_flow_L_per_min": 2000, "mould.water_gap_mm": 4}
    text = sheet(changes | panel)
    assert "against normal: -1 % to 1.31 MW/m²" in text
    assert "marks every 6.2 mm" in text
    assert re.search(r"water: rise 6\.\d K, \d\.\d m/s, hot face of the copper about [12]\d\d °C", text)


def test_a_strand_without_sprays_uses_no_relation():
    dry = {f'zone."{name}".water_L_per_min': 0 for name in ("foot rolls", "spray 1", "spray 2", "spray 3")}
    assert "No spray relation is used." in sheet(dry)
