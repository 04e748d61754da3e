"""What a slice with the mean cooling of each zone can say of rolls and of swings of the surface."""

import numpy as np
import pytest

from solidify import judge, solve, summary_text
from solidify.case import demo_case, parse_case
from solidify.heat.surface import radiative_flux
from solidify.report.case import check_text
from solidify.report.speeds import ceiling_text
from solidify.report.strand_page import report_page
from solidify.strand.cooling import cooling_path
from solidify.strand.result import MECHANISMS
from solidify.strand.setup import case_steel

SWINGS = ("reheating_rate", "reheating_total", "cooling_rate", "zone_jump")
CONTACT = "roll_contact_W_per_m2K"
NO_CONTACT = {f'zone."spray {i}".{CONTACT}': None for i in range(1, 7)}


def faces(case):
    """The laws of the stretches below the mould, whose own law may have several parts."""
    path = cooling_path(case, case_steel(case))
    below = sum(stretch.kind != "mould" for stretch in path.stretches)
    return [made[0] for made in zip(*path.faces, strict=True)][-below:]


# --- roll contact where only the pitch is given


def test_a_slab_with_a_roll_pitch_gives_a_tenth_of_a_zones_heat_to_its_rolls():
    """The rolls of each zone take 10 % of all its heat, water, radiation, air and they themselves together."""
    result = solve(demo_case("slab").replace(NO_CONTACT))
    assert result.case.assumed_rolls == tuple(zone.name for zone in result.case.zone)
    heat = result.balance.heat[0]
    zones = [i for i, zone in enumerate(result.zones) if zone.kind == "zone"]
    share = heat[zones, MECHANISMS.index("rolls")] / heat[zones].sum(axis=1)
    assert share == pytest.approx(np.full(len(zones), 0.10), rel=1e-9)
    assert heat[-1, MECHANISMS.index("rolls")] == 0.0, "nothing after the last zone"


def test_what_is_given_of_rolls_stands():
    """A coefficient, a share or none for the zone or for all; and no rolls without a pitch, on blooms, in a flux."""
    slab = demo_case("slab").replace(NO_CONTACT)
    name = 'zone."spray 2"'
    for given in (
        {f"{name}.{CONTACT}": 0.0},
        {f"{name}.{CONTACT}": 30.0},
        {f"{name}.roll_contact_share": 0.2},
    ):
        own = slab.replace(given)
        assert "spray 2" not in own.assumed_rolls
        assert len(own.assumed_rolls) == 6
        assert own.value(next(iter(given))) == next(iter(given.values()))
    assert slab.replace({f"cooling.{CONTACT}": 0.0}).assumed_rolls == ()
    assert slab.replace({f"cooling.{CONTACT}": 0.0}).replace({f"cooling.{CONTACT}": None}) == slab
    assert "spray 2" not in slab.replace({f"{name}.roll_pitch_m": None}).assumed_rolls
    flux = {f"{name}.water_at_speed": None, f"{name}.heat_flux_kW_per_m2": 200}
    assert "spray 2" not in slab.replace(flux).assumed_rolls
    bloom = demo_case("bloom").replace({'zone."spray 1".roll_pitch_m': 0.3})
    assert bloom.assumed_rolls == ()
    assert bloom.value('zone."spray 1".roll_contact_share') is None


def test_a_case_written_out_reads_back_the_same_and_assumes_nothing():
    slab = demo_case("slab").replace(NO_CONTACT)
    again = parse_case(slab.effective_toml(), "again.toml")
    assert again == slab
    assert again.assumed_rolls == ()


def test_what_is_assumed_of_rolls_stands_at_the_top():
    """Within the first four lines of check and run, on the page before anything else, and once."""
    case = demo_case("slab")
    result = solve(case)
    judgement = judge(result)
    said = "Roll contact assumed: 10 % of the heat of foot rolls"
    for text in (check_text(case), summary_text(result, judgement)):
        top = " ".join(text.split("\n\n")[0].split())
        assert said in top
        assert "common practice 10 to 25 %" in top
        assert text.count("oll contact assumed") == 1
    html = report_page(result, judgement)
    assert html.index("roll contact assumed: 10") < html.index("Breakout risk")
    assert "roll contact assumed: 10 %" in " ".join(ceiling_text([], case).split())
    given = case.replace({f'zone."foot rolls".{CONTACT}': 20.0})
    assert "oll contact assumed" not in check_text(given)


def test_every_key_of_cooling_gives_its_value_and_takes_it_back():
    """Also where zones take what they need from it: a default put in must not speak for them."""
    slab = demo_case("slab").replace(NO_CONTACT)
    for path in slab.key_paths():
        if path.startswith(("cooling.", 'zone."spray 1".roll', 'zone."spray 1".view')):
            assert slab.replace({path: slab.value(path)}) == slab, path
    round_trip = slab.replace({"section.shape": "rectangle"})
    assert round_trip.cooling.roll_contact_W_per_m2K == 0.0
    assert round_trip.assumed_rolls == ()
    assert round_trip.replace({"section.shape": "slab"}) == slab


# --- view factor


def test_between_rolls_a_surface_sees_less_of_the_surroundings_than_in_open_air():
    """0.8 in zones with a roll pitch, 1 in the others and after the last; what is given holds everywhere."""
    slab = demo_case("slab")
    seen = [face.emissivity / 0.8 for face in faces(slab)]
    assert seen == pytest.approx([0.8] * 7 + [1.0])
    bloom = [face.emissivity / 0.8 for face in faces(demo_case("bloom"))]
    assert bloom == pytest.approx([1.0] * 5)
    given = [face.emissivity / 0.8 for face in faces(slab.replace({"cooling.view_factor": 0.7}))]
    assert given == pytest.approx([0.7] * 8)
    own = slab.replace({"cooling.view_factor": 0.7, 'zone."spray 1".view_factor': 0.9})
    assert [round(face.emissivity / 0.8, 9) for face in faces(own)[:3]] == [0.7, 0.9, 0.7]
    assert slab.replace({"cooling.view_factor": 0.7}).replace({"cooling.view_factor": None}) == slab


def test_the_account_of_radiation_carries_the_view_factor():
    """Mean radiation of a zone of the slab against 0.8 times the law of Stefan and Boltzmann over its surface."""
    result = solve(demo_case("slab"))
    i = next(i for i, zone in enumerate(result.zones) if zone.name == "spray 6")
    zone, where = result.zones[i], MECHANISMS.index("radiation")
    age = result.at(result.time, zone.end) - result.at(result.time, zone.start)
    surface = result.at(result.surface_temperature[0], np.linspace(zone.start, zone.end, 400))
    expected = radiative_flux(surface, 40.0, 0.8, 0.8).mean()
    assert result.balance.heat[0, i, where] / age == pytest.approx(expected, rel=2e-3)


# --- swings


@pytest.mark.parametrize("name", ["slab", "bloom", "billet"])
def test_a_swing_says_that_it_is_of_zone_means(name):
    judgement = judge(solve(demo_case(name)))
    for limit in SWINGS:
        assert judgement[limit].note.endswith("zone mean; rolls and jets swing more"), limit
    assert "zone mean" not in judgement["surface_ceiling"].note
