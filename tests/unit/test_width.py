"""Studies of other widths: water, sprayed width and mould water follow by the rule of the case, or say why not."""

import numpy as np
import pytest

from solidify.case import demo_case
from solidify.errors import InputError
from solidify.report.csv_export import runs_csv
from solidify.report.speeds import ceiling_csv, ceiling_page, ceiling_text
from solidify.report.study_page import study_page
from solidify.report.study_text import sweep_text
from solidify.storage.study_file import load_study
from solidify.strand.cooling import cooling_path
from solidify.strand.setup import case_steel
from solidify.study.definition import make_study
from solidify.study.run import run_study
from solidify.study.speed_range import scan_speeds, speed_ceilings

WIDTH = "section.width_mm"


def zone(name, key):
    return f'zone."{name}".{key}'


def slab(rule, **own):
    changes = {"section.width_rule": rule, zone("spray 2", "sprayed_width_mm"): 1300}
    return demo_case("slab").replace(changes | own)


def fluxes(case):
    """Water on a square metre of each zone and the mean mould flux."""
    path = cooling_path(case, case_steel(case))
    return (
        [s.water_flux.tolist() for s in path.stretches[1:]],
        path.mould.mean_flux,
        path.mould.water_velocity,
    )


@pytest.mark.parametrize("rule", ["scale", "margin"])
def test_water_on_a_square_metre_and_mould_flux_stay(rule):
    case = slab(rule)
    water, *mould = fluxes(case)
    narrow, *narrow_mould = fluxes(case.replace({WIDTH: 1200}))
    assert np.array(narrow) == pytest.approx(np.array(water))
    assert narrow_mould == pytest.approx(mould)


def test_the_sprayed_width_by_hand():
    """1300 of 1500 mm: at 1200 mm the same share is 1040, the same margin of 100 mm a side 1000; water goes with it."""
    for rule, width in (("scale", 1040.0), ("margin", 1000.0)):
        narrow = slab(rule).replace({WIDTH: 1200}).zone[2]
        assert narrow.sprayed_width_mm == pytest.approx(width)
        assert narrow.water_at_speed[1] == (1.2, pytest.approx(440 * width / 1300))
    assert slab("given").replace({WIDTH: 1400}).zone[2].water_at_speed[1] == (1.2, 440)


def test_loops_are_switched_whole():
    """1300 mm of spray at 1500; 1250 mm wide leaves the loops that make 1000 mm, 900 mm none of them."""
    case = slab("loops", **{zone("spray 2", "spray_widths_mm"): [1000, 1300]})
    assert [case.replace({WIDTH: w}).zone[2].sprayed_width_mm for w in (1500, 1310, 1250)] == [
        1300,
        1300,
        1000,
    ]
    assert case.replace({WIDTH: 1250}).zone[2].water_at_speed[1] == (1.2, pytest.approx(440 * 1000 / 1300))
    assert case.replace({WIDTH: 1250}).zone[3].sprayed_width_mm == 1250, (
        "other zones keep their margin, here none"
    )
    with pytest.raises(InputError) as caught:
        case.replace({WIDTH: 900})
    assert 'zone."spray 2": cannot spray a width of 900 mm: the narrowest spray is 1000 mm' in str(
        caught.value
    )


def test_sides_shares_and_narrow_faces_follow_their_own_size():
    """A bloom of 250 x 300 becomes 300 x 450: wide faces have half as much again, narrow ones a fifth more."""
    own = {
        zone("spray 1", "water_L_per_min"): None,
        zone("spray 1", "water_loose_L_per_min"): 30,
        zone("spray 1", "water_fixed_L_per_min"): 40,
        zone("spray 1", "water_narrow_L_per_min"): 50,
        zone("spray 2", "side_shares"): {"loose": 0.2, "fixed": 0.3, "narrow": 0.5},
        "section.width_rule": "margin",
    }
    case = demo_case("bloom").replace(own).replace({WIDTH: 450, "section.thickness_mm": 300})
    first, second, third = case.zone[1:4]
    sides = (first.water_loose_L_per_min, first.water_fixed_L_per_min, first.water_narrow_L_per_min)
    assert sides == pytest.approx((45, 60, 60))
    assert second.water_L_per_min == pytest.approx(51 * (0.5 * 1.5 + 0.5 * 1.2))
    assert second.side_shares.narrow == pytest.approx(0.6 / 1.35)
    assert third.water_L_per_min == pytest.approx(21 * 750 / 550)


def test_a_round_follows_its_girth():
    shape = {"shape": "round", "diameter_mm": 200, "width_rule": "scale"}
    zones = demo_case("bloom").replace({"section": shape})
    assert zones.replace({"section.diameter_mm": 250}).zone[0].water_L_per_min == pytest.approx(46 * 1.25)


def test_what_is_set_by_name_stays_as_it_was_set():
    case = slab("margin").replace({WIDTH: 1200, zone("spray 3", "water_at_speed"): [[1.0, 200], [1.4, 300]]})
    assert case.zone[3].water_at_speed == ((1.0, 200), (1.4, 300))
    back = slab("margin").replace({WIDTH: 1200}).replace({WIDTH: 1500})
    assert back.zone[2].water_at_speed[1][1] == pytest.approx(440)
    assert back.mould.water_flow_L_per_min == pytest.approx(8200)


def test_nozzles_cannot_follow():
    nozzles = {"count": 40, "flow_L_per_min": 5, "reference_bar": 2, "pressure_bar": 2}
    own = {zone("spray 6", "water_at_speed"): None, zone("spray 6", "nozzles"): nozzles}
    with pytest.raises(InputError) as caught:
        slab("margin", **own).replace({WIDTH: 1200})
    assert "has nozzles, whose number does not follow the width" in str(caught.value)


def test_without_a_rule_the_result_says_that_water_stays():
    """Only where the section is another one than that of the file, and never with a rule."""
    case = demo_case("slab").replace({zone("foot rolls", "roll_contact_W_per_m2K"): 20})
    assert not case.notices
    (said,) = case.replace({WIDTH: 1200}).notices
    assert "width_mm 1500 to 1200" in said.text
    assert "the water of 7 zones and the flow of the mould water stay" in said.text
    assert not case.replace({"section.width_rule": "given"}).replace({WIDTH: 1400}).notices


@pytest.fixture(scope="module")
def rows():
    """Two widths of a slab with loops that cannot spray the narrower one."""
    case = slab("loops", **{zone("spray 2", "spray_widths_mm"): [1000, 1300]})
    return make_study(case, {WIDTH: [900, 1400]})


def test_a_row_of_ceilings_says_why_it_cannot_be_solved(rows):
    found = speed_ceilings(rows, 1.1, 1.3, step=0.1)
    why = "cannot spray a width of 900 mm: the narrowest spray is 1000 mm"
    assert why in found[0].why[0]
    assert not found[1].why
    assert why in ceiling_csv(found)
    for text in (
        ceiling_text(found, rows.case),
        ceiling_page(found, rows.case, scan_speeds(rows, 1.1, 1.3, 0.1), "2026-01-01T00:00:00"),
    ):
        assert why in " ".join(text.replace("\xa0", " ").split())


def test_ceilings_say_what_does_not_follow():
    study = make_study(demo_case("slab"), {WIDTH: [1200, 1500]})
    found = speed_ceilings(study, 1.1, 1.3, step=0.1)
    assert "width_rule in [section] lets them follow" in " ".join(ceiling_text(found, study.case).split())


def test_a_run_of_a_sweep_says_why_it_cannot_be_solved(rows, tmp_path):
    path = tmp_path / "study.h5"
    assert run_study(rows, path).failed == 1
    table = load_study(path)
    for text in (sweep_text(path), runs_csv(table), study_page(table)):
        assert "cannot spray a width of 900 mm" in " ".join(text.replace("\xa0", " ").split())
