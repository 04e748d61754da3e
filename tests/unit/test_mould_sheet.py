"""The mould, the heat and the meeting of the shells in words."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from solidify.report.mould import meeting_text, mould_entries, shares_text
from solidify.strand.result import MECHANISMS, MouldResult

BARE = MouldResult(1.3e6, 6e5, "mean flux", "a law", 48.0, 0.6)


def words(**changes):
    return dict(mould_entries(replace(BARE, **changes)))


def test_nothing_is_said_of_what_is_not_given():
    assert words() == {}


def test_what_a_shift_compares():
    said = words(expected_mean_flux=1.4e6, water_rise=7.24, water_velocity=8.35, copper_hot_face=211.4)
    assert said["Mould against normal"] == "-7 % to 1.40 MW/m²"
    assert said["Mould water"] == "rise 7.2 K, 8.3 m/s, hot face of the copper about 211 °C"
    assert words(face=("loose", "fixed"), face_flux=np.array([1.21e6, 1.19e6])) == {
        "Mould faces": "loose 1.21, fixed 1.19 MW/m²"
    }


def test_oscillation_in_words():
    said = words(
        negative_strip_time=0.144, negative_strip_ratio=0.5, mould_speed_ratio=2.356, mark_pitch=0.008
    )
    assert said["Oscillation"] == (
        "negative strip 0.144 s, peak mould speed 2.36 x casting speed, mean 1.50 x; marks every 8.0 mm"
    )


def taper(gap, single=np.nan):
    z = np.linspace(0.0, 0.6, 7)
    free = np.array([0.02, 0.02, 0.02, 0.01, 0.01, 0.005, 0.005])
    return words(
        taper_distance=z, taper=free, taper_gap=np.array(gap) * 1e-3, mean_taper=0.012, single_taper=single
    )["Taper"]


def test_taper_tells_its_thirds_and_where_the_gap_opens():
    text = taper([0, 0.1, 0.3, 0.2, 0.1, 0.05, 0])
    assert (
        "1.20 %/m of the width, both sides together, in the mean, by thirds from the meniscus 2.0, 1.0, 0.5"
        in text
    )
    assert text.endswith("one taper of 1.20 %/m leaves 0.30 mm a side at 0.20 m")
    assert taper([0, 0.1, 0.3, 0.2, 0.1, 0.05, 0.04], 0.011).endswith("at 0.20 m, 0.04 mm at mould exit")
    assert taper([0, 0.1, 0.3, 0.2, 0, -0.1, -0.2], 0.013).endswith(
        "presses 0.20 mm a side into the shell at mould exit"
    )
    assert taper([0, -0.1, -0.3, -0.2, -0.1, -0.1, -0.2], 0.03).endswith(
        "one taper of 3.00 %/m leaves no gap"
    )


def test_no_taper_is_advised_where_the_surface_warms_up_inside_the_mould():
    z, free = np.linspace(0.0, 0.6, 7), np.array([0.02, 0.02, 0.01, 0.01, 0.005, -0.002, -0.003])
    text = words(taper_distance=z, taper=free, taper_gap=np.zeros(7), mean_taper=0.012, single_taper=np.nan)[
        "Taper"
    ]
    assert text == (
        "no advice: the surface warms up again inside the mould, near 0.60 m; check the mould flux"
    )


def strand(shape="slab", length=10.0, **changes):
    """Mould 2, a zone of water 6 and radiation 2 up to 10 m, then radiation 4 up to 20 m."""
    heat = np.zeros((1, 3, len(MECHANISMS)))
    for zone, mechanism, value in (
        (0, "mould", 2),
        (1, "water", 6),
        (1, "radiation", 2),
        (2, "radiation", 4),
    ):
        heat[0, zone, MECHANISMS.index(mechanism)] = value
    return SimpleNamespace(
        case=SimpleNamespace(section=SimpleNamespace(shape=shape, product=None), working_length=0.8),
        thickness=0.22,
        width=1.5,
        sides=("both",),
        distance=np.array([0.0, 20.0]),
        balance=SimpleNamespace(heat=heat),
        zones=[SimpleNamespace(start=s, end=e) for s, e in ((0, 1), (1, 10), (10, 20))],
        summary={"metallurgical_length": length, "meeting_depth": 0.104},
        **changes,
    )


@pytest.mark.parametrize(
    ("length", "start"),
    [
        (
            10.0,
            "mould 20 (10 to 20) % of all, below it water 75 (45 to 60), radiation 25 (20 to 30), rolls 0 (10",
        ),
        (15.0, "mould 17 (10 to 20) % of all, below it water 60 (45 to 60), radiation 40 "),
        (np.nan, "mould 14 (10 to 20) % of all, below it water 50 (45 to 60), radiation 50 "),
    ],
)
def test_usual_shares_stand_beside_those_to_the_end_of_solidification(length, start):
    """2 of 10 in the mould by 10 m; half of the last 4 by 15 m; all of it where the strand stays liquid."""
    assert shares_text(strand(length=length)).startswith(start)
    assert shares_text(strand(shape="rectangle")) == ""


def test_where_the_shells_met_is_told_of_two_sides():
    two = strand()
    assert meeting_text(two) == ""
    two.sides = ("loose", "fixed")
    assert meeting_text(two) == "the shells met 104.0 mm from the loose side"
    two.summary["meeting_depth"] = np.nan
    assert meeting_text(two) == ""


def test_no_shrinkage_has_no_sign():
    """A surface that stays above the solidus shrinks by -0.0: neither the mean nor a third reads "-0.00"."""
    z, none = np.linspace(0.0, 0.6, 7), np.full(7, -0.0)
    text = words(taper_distance=z, taper=none, taper_gap=none, mean_taper=-0.0, single_taper=np.nan)["Taper"]
    assert "asks for 0.00 %/m" in text
    assert "0.0, 0.0, 0.0; one taper of 0.00 %/m leaves no gap" in text
    assert "-0" not in text
