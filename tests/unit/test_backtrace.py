"""Back-tracing: depth to place, time and zone on profiles known exactly, on two sides, and at the edges."""

import math
from dataclasses import replace

import numpy as np
import pytest

from solidify.analysis.backtrace import cold_depth, front_table, trace_depth
from solidify.case import demo_case
from solidify.errors import InputError
from solidify.report.trace import _trace, front_text, trace_text
from solidify.strand.solve import solve

MM = 1e-3
K = {0.3: 36.0, 0.7: 30.0, 1.0: 25.0}
"""Shells of the exact strand, s = K √t in mm and minutes, by solid fraction."""


def demo(name, **changes):
    return solve(demo_case(name).replace(changes))


@pytest.fixture(scope="module")
def bloom():
    return demo("bloom")


@pytest.fixture(scope="module")
def exact(bloom):
    """The demo bloom (0.75 m/min) with root shells and a surface that falls 100 K/m to 2.2 m, then rises 60 K/m
    to 3 m.
    """
    minutes = bloom.distance / 0.75
    shells = np.array([[np.minimum(k * MM * np.sqrt(minutes), 0.125) for k in K.values()]])
    z = [0.0, 2.2, 3.0, 25.0]
    surface = np.interp(bloom.distance, z, [1100.0, 880.0, 928.0, 900.0])
    length = 0.75 * (125.0 / K[1.0]) ** 2
    summary = bloom.summary | {"metallurgical_length": length}
    return replace(bloom, shell_thickness=shells, surface_temperature=surface[None], summary=summary)


def test_a_depth_is_traced_by_hand(exact):
    """50 mm: (50/30)² = 2.778 min at 0.7 and (50/25)² = 4 min at 1.0, which is 2.083 m and 3.0 m."""
    t = trace_depth(exact, 50 * MM)
    assert (t.start.time / 60, t.start.distance) == pytest.approx((2.7778, 2.0833), rel=1e-4)
    assert (t.end.time / 60, t.end.distance) == pytest.approx((4.0, 3.0), rel=1e-4)
    assert (t.start.zone, t.end.zone) == ("spray 1", "spray 2")
    assert t.zones == ("spray 1", "spray 2")
    assert t.met == ("end of spray 1 2.60 m",)
    assert t.start.surface_temperature == pytest.approx(891.7, abs=0.1)
    assert t.end.surface_temperature == pytest.approx(928.0, abs=0.1)


def test_the_surface_meanwhile_by_hand(exact):
    """From 1.58 to 3.5 m it falls with 100 K/m and rises 60 K/m; coldest at 2.2 m, 48 K up from there."""
    t = trace_depth(exact, 50 * MM)
    assert t.steepest_rise == pytest.approx(60.0, rel=1e-3)
    assert 2.2 - 1e-6 <= t.steepest_rise_at <= 2.5 + 1e-6
    assert t.steepest_fall == pytest.approx(100.0, rel=1e-3)
    assert (t.coldest_surface, t.coldest_at) == pytest.approx((880.0, 2.2), abs=0.03)
    assert t.largest_rise == pytest.approx(48.0, abs=0.1)


def test_what_came_later_is_not_blamed(exact):
    """25 mm is solid at 0.75 m: before the rise at 2.2 m, which is more than half a metre off."""
    t = trace_depth(exact, 25 * MM)
    assert t.end.distance == pytest.approx(0.75, rel=1e-4)
    assert t.largest_rise == 0.0
    assert t.steepest_rise < 0
    assert t.coldest_at == pytest.approx(t.end.distance)


def test_other_fractions(exact):
    """Between 0.3 and 0.7: a band of segregation forms before the crack does."""
    t = trace_depth(exact, 50 * MM, between=(0.3, 0.7))
    assert t.start.time / 60 == pytest.approx((50 / 36) ** 2, rel=1e-4)
    assert t.end.time / 60 == pytest.approx((50 / 30) ** 2, rel=1e-4)


def test_straightening_on_the_way_is_named(bloom):
    """A depth that freezes across the first straightening point, and one that does not."""
    slow = np.interp(bloom.distance, [0.0, 13.8, 16.0, 25.0], [0.0, 0.09, 0.11, 0.125])
    result = replace(bloom, shell_thickness=np.array([[slow + 0.01, slow + 0.008, slow]]))
    t = trace_depth(result, 100 * MM)
    assert t.start.distance < 14.3 < t.end.distance
    assert "straightening point 1 14.30 m" in t.met


def test_the_table_inverts_the_shell(exact):
    """Every row: the shell read at its place is its depth, and its time is its place over the speed."""
    rows = front_table(exact)
    assert [round(r[0].depth / MM) for r in rows] == [*range(10, 121, 10), 125]
    for row in rows:
        for front in row:
            shell = exact.shell_thickness[0, exact.fraction_index(front.solid_fraction)]
            assert exact.at(shell, front.distance) == pytest.approx(front.depth, rel=1e-6, abs=0.05 * MM)
            assert front.time == pytest.approx(front.distance / (0.75 / 60), rel=1e-9)


def test_the_middle_is_the_end_of_solidification(bloom):
    """At half the thickness and 1.0 it is the last liquid of the summary, not the next point of the profile."""
    front = front_table(bloom)[-1][-1]
    assert front.depth == bloom.half_thickness
    assert front.distance == bloom.summary["metallurgical_length"]


def test_two_sides_have_their_own_fronts_up_to_where_they_meet():
    """More water outside: the fixed side freezes the same depth sooner, and reaches beyond the middle."""
    zone = 'zone."spray 2"'
    changes = {"water_at_speed": None, "sprayed_faces": None}
    changes |= {"water_loose_L_per_min": 100.0, "water_fixed_L_per_min": 400.0}
    result = demo("slab", **{f"{zone}.{key}": value for key, value in changes.items()})
    loose, fixed = (trace_depth(result, 60 * MM, side=s) for s in ("loose", "fixed"))
    assert (loose.side, fixed.side) == ("loose", "fixed")
    assert fixed.end.distance < loose.end.distance
    deepest = [front_table(result, side=s)[-1][-1].depth for s in ("loose", "fixed")]
    assert sum(deepest) == pytest.approx(result.thickness)
    assert deepest[1] > result.half_thickness
    with pytest.raises(InputError, match="loose side"):
        trace_depth(result, deepest[1], side="loose")
    with pytest.raises(InputError, match="did you mean 'fixed'"):
        trace_depth(result, 0.06, side="fixd")


def test_a_depth_is_taken_as_it_is_printed():
    """The deepest depth of the table, read off and given back in its 0.1 mm, is traced; a millimetre more is not."""
    changes = {"section.shape": "slab", 'zone."spray 3".sprayed_faces': "wide"}
    changes |= {f'zone."{n}".sprayed_faces': "wide" for n in ("foot rolls", "spray 1", "spray 2")}
    result = demo("bloom", **changes, **{'zone."spray 3".run_off_W_per_m2K': 60.0})
    deepest = float(front_text(result).splitlines()[-4].split()[0])
    for depth in (deepest - 0.04, deepest):
        assert trace_depth(result, depth * MM).end.distance <= result.summary["metallurgical_length"] + 0.02
    at_most = max(row[-1].depth for row in front_table(result))
    assert trace_depth(result, at_most + 0.04 * MM).depth == at_most
    with pytest.raises(InputError, match="where the sides meet"):
        trace_depth(result, at_most + 1.0 * MM)


def test_no_advice_that_the_case_would_refuse(bloom):
    """A solid fraction outside what a case takes is refused without a word of running it again."""
    with pytest.raises(InputError) as caught:
        trace_depth(bloom, 0.05, between=(0.0, 1.2))
    assert str(caught.value).count("take one of these") == 2
    assert "run the case again" not in str(caught.value)


def test_the_open_strand_is_no_zone_to_freeze_in(bloom):
    """The middle of the demo bloom freezes in the open, a depth before it in zones or in both."""
    assert "freezing after the last zone" in trace_text(bloom, [124 * MM])
    border = 1e3 * np.interp(8.2, bloom.distance, bloom.shell_thickness[0, bloom.fraction_index(1.0)])
    assert "freezing in spray 3, after the last zone" in trace_text(bloom, [(border + 1.0) * MM])


def test_what_is_liquid_at_the_cut_off_has_no_place():
    """The core of a strand cast too fast: said, not guessed."""
    fast = demo("bloom", **{"casting.speed_m_per_min": 2.0})
    t = trace_depth(fast, fast.half_thickness)
    assert math.isnan(t.end.distance)
    assert t.end.zone == ""
    text = trace_text(fast, [fast.half_thickness])
    assert "1.0 solid  not before the cut-off" in text
    still = replace(t, steepest_rise=3.0, steepest_fall=0.2)
    assert "and does not fall over 0.5 m" in " ".join(_trace(fast, still))


def test_every_mistake_is_named_at_once(bloom):
    """Depth outside, a fraction not kept, the order: one message each."""
    with pytest.raises(InputError) as caught:
        trace_depth(bloom, 0.3, between=(0.9, 0.7))
    text = str(caught.value)
    assert "solid fraction: 0.9" in text
    assert "[shell] solid_fraction = 0.9" in text
    assert "the lower first" in text
    assert "depth: 300 mm" in text
    assert "up to 125 mm" in text
    with pytest.raises(InputError, match="depth: 0 mm"):
        front_table(bloom, [0.0])


def test_a_cold_sample_reads_less(bloom):
    """By the free strain from the solidus down: 2 to 3 % for plain steel."""
    assert cold_depth(bloom, 0.1) == pytest.approx(0.1 * (1 + bloom.steel.shrinkage[0]))
    assert 0.097 < cold_depth(bloom, 0.1) < 0.098


def test_the_sheets_say_it_in_plant_units(exact):
    """Distances, minutes, zones; what was computed and for what."""
    text = trace_text(exact, [50 * MM, 5 * MM])
    assert "from 0.7 solid  2.08 m, 2.78 min, spray 1, surface 892 °C" in text
    assert "to   1.0 solid  3.00 m, 4.00 min, spray 2, surface 928 °C" in text
    assert "rises by up to 60 K/m" in text
    assert "frozen inside the mould" in text
    assert "not what made it" in text
    table = front_text(exact)
    assert "depth mm  0.3 solid  0.7 solid  1.0 solid" in table
    row = next(line.split() for line in table.splitlines() if line.split()[:1] == ["50.0"])
    assert row == ["50.0", "1.45", "m", "2.08", "m", "3.00", "m", "4.00", "928", "spray", "2"]
    assert all(len(line) <= 100 for line in [*text.splitlines(), *table.splitlines()])
