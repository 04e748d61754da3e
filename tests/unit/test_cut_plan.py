"""Cut plans: against exhaustion, closed forms and invariances; the hot length by EN 1993-1-2."""

import csv
import io
import itertools
import math
import re
from pathlib import Path

import numpy as np
import pytest
from drawn import artist, misplaced, texts
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from solidify import InputError, cut_plan
from solidify.case import read_case
from solidify.cli import main
from solidify.plan.cut import KINDS, Cut, Stretch, clean_cut, hot_over_cold, tracking_error
from solidify.plan.cut_file import mean_temperature, plan_cuts, read_cut_file
from solidify.plots.cut import draw_cut
from solidify.report.cut import cut_csv, cut_sentence, cut_text
from solidify.strand.solve import solve

CASES = Path(__file__).parents[2] / "cases"

WHOLE = {
    "lengths_m": [6, 12],
    "length_step_m": 1,
    "aim_m": 8,
    "kerf_mm": 0,
    "hot_factor": 1,
    "head_crop_m": 0,
    "tail_crop_m": 0,
}
BAD = [(13.2, 14.1, "suspect"), (27.0, 27.4, "suspect")]


def test_d01_two_suspect_stretches_in_40_m():
    """By exhaustion of the three clean stretches: 13 + 12 + 12 m; 8 m throughout leaves 24 m."""
    plan = cut_plan(40.0, WHOLE, BAD)
    assert plan.worth == pytest.approx(37.0, abs=1e-9)
    assert plan.plain.worth == pytest.approx(24.0, abs=1e-9)
    assert plan.against_plain == pytest.approx(13.0, abs=1e-9)
    assert plan.metres["scrap"] == pytest.approx(3.0, abs=1e-9)


def test_d02_hot_length_at_900_and_700():
    """EN 1993-1-2, elongation of steel, from memory."""
    assert hot_over_cold(900.0) - 1 == pytest.approx(0.0118, abs=1e-9)
    assert hot_over_cold(700.0) - 1 == pytest.approx(0.0101184, abs=1e-9)
    assert 6 * hot_over_cold(900.0) == pytest.approx(6.0708, abs=1e-6)
    assert hot_over_cold(20.0) == pytest.approx(1.0, abs=1e-6)


def test_d07_the_tracking_error_widens_suspect_metres():
    assert tracking_error(1.5, 31.0) == pytest.approx(0.465, abs=1e-9)
    plan = cut_plan(40.0, WHOLE | {"margin_m": 0.465}, BAD)
    assert (plan.stretches[0].start, plan.stretches[0].end) == pytest.approx((12.735, 14.565))


def exhausted(cells, lengths, worths):
    """Return the most worth of a strand of unit cells, by going through every division into pieces and scrap."""
    n = len(cells)
    best = [0.0] * (n + 1)
    for q in range(1, n + 1):
        best[q] = best[q - 1]
        for k in lengths:
            if k <= q:
                best[q] = max(best[q], best[q - k] + k * min(worths[c] for c in cells[q - k : q]))
    return best[n]


def brute(cells, lengths, worths):
    """The same by listing all divisions: no table, for short strands."""
    n = len(cells)

    def walk(at):
        if at == n:
            return 0.0
        found = walk(at + 1)
        for k in lengths:
            if at + k <= n:
                found = max(found, k * min(worths[c] for c in cells[at : at + k]) + walk(at + k))
        return found

    return walk(0)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.sampled_from(["good"] * 6 + ["soft", "mixed", "suspect"]), min_size=4, max_size=15),
    st.integers(2, 4),
    st.integers(0, 3),
)
def test_the_plan_is_the_best_of_all_divisions(cells, least, more):
    worths = {"good": 1.0, "soft": 0.8, "mixed": 0.5, "suspect": 0.0}
    lengths = range(least, least + more + 1)
    stretches = [(i, i + 1.0, kind) for i, kind in enumerate(cells) if kind != "good"]
    cut = WHOLE | {"lengths_m": [least, least + more], "aim_m": least, "worth": {"soft": 0.8, "mixed": 0.5}}
    plan = cut_plan(float(len(cells)), cut, stretches)
    assert brute(cells, lengths, worths) == pytest.approx(exhausted(cells, lengths, worths))
    assert plan.worth >= brute(cells, lengths, worths) - 1e-3  # cuts off the whole metres may do better
    whole = all(abs(p.start - round(p.start)) < 1e-9 for p in plan.pieces)
    assert not whole or plan.worth == pytest.approx(brute(cells, lengths, worths), abs=1e-3)


def strands():
    """Random strands: metres, lengths, kerf, crops and stretches."""
    stretch = st.tuples(st.floats(0, 0.95), st.floats(0.002, 0.08), st.sampled_from(list(KINDS)))
    return st.tuples(
        st.floats(5, 90),
        st.floats(1.5, 9),
        st.floats(0, 4),
        st.floats(0, 0.02),
        st.floats(0, 2),
        st.floats(0, 2),
        st.lists(stretch, max_size=5),
    )


def made(given_):
    length, least, more, kerf, head, tail, rows = given_
    cut = Cut(least, least + more, least + 0.4 * more, 0.0, kerf, 1.012, head, tail, 0.3, 0.0, 0.1)
    found = [Stretch(a * length, min((a + b) * length, length), kind) for a, b, kind in rows]
    return length, cut, found


@settings(max_examples=60, deadline=None)
@given(strands())
def test_d05_every_metre_is_somewhere_once(given_):
    length, cut, stretches = made(given_)
    for plan in (own := cut_plan(length, cut, stretches), own.plain):
        assert sum(plan.metres.values()) == pytest.approx(length, abs=1e-9)
        assert plan.metres["kerfs"] > -1e-9
        assert plan.pieces[0].start == pytest.approx(0.0, abs=1e-9)
        assert plan.pieces[-1].end == pytest.approx(length, abs=1e-9)
        for a, b in itertools.pairwise(plan.pieces):
            assert -1e-9 <= b.start - a.end <= cut.kerf + 1e-9
        for piece in plan.pieces:
            if piece.sold:
                assert cut.least - 1e-6 <= piece.cold <= cut.most + 1e-6
                assert not any(
                    s.start < piece.end - 1e-9 and s.end > piece.start + 1e-9 and not cut.worth(s.kind)
                    for s in plan.stretches
                )


@settings(max_examples=60, deadline=None)
@given(strands())
def test_the_plan_is_never_worth_less_than_the_plain_one(given_):
    length, cut, stretches = made(given_)
    plan = cut_plan(length, cut, stretches)
    cells = 0.011 * (1 + len(plan.pieces))  # what the grid may cost
    assert plan.worth >= plan.plain.worth - cells


@settings(max_examples=60, deadline=None)
@given(strands())
def test_d06_nothing_suspect_equals_the_plain_plan_and_more_suspect_never_yields_more(given_):
    length, cut, stretches = made(given_)
    single = Cut(cut.least, cut.least, cut.least, 0.0, cut.kerf, 1.012, cut.head, cut.tail)
    clean = cut_plan(length, single)
    assert clean.worth == pytest.approx(clean.plain.worth, abs=1e-6)
    assert sum(p.sold for p in clean.pieces) == clean_cut(length, single).pieces
    longer = [Stretch(max(s.start - 0.5, 0), min(s.end + 0.7, length), s.kind) for s in stretches]
    assert cut_plan(length, cut, longer).worth <= cut_plan(length, cut, stretches).worth + 1e-3


def test_of_equal_plans_the_one_with_fewer_cuts_then_nearer_to_the_aim():
    base = {"lengths_m": [5, 10], "kerf_mm": 0, "hot_factor": 1, "head_crop_m": 0, "tail_crop_m": 0}
    assert [p.cold for p in cut_plan(20.0, base | {"aim_m": 5}).pieces] == pytest.approx([10, 10])
    assert [p.cold for p in cut_plan(15.0, base | {"aim_m": 8}).pieces] == pytest.approx([7.5, 7.5])


def test_scrap_is_as_long_as_the_table_carries():
    cut = {
        "lengths_m": 6,
        "kerf_mm": 0,
        "hot_factor": 1,
        "head_crop_m": 0,
        "tail_crop_m": 0,
        "shortest_on_table_m": 1,
    }
    plan = cut_plan(30.0, cut, [(9.0, 9.2, "suspect")])
    scrap = [p for p in plan.pieces if p.kind == "scrap"]
    assert all(p.end - p.start >= 1.0 - 1e-9 for p in scrap)


def test_scrap_beside_a_crop_needs_no_length_of_its_own():
    cut = {"lengths_m": [6, 12], "kerf_mm": 0, "hot_factor": 1, "head_crop_m": 1.2, "tail_crop_m": 1.5}
    plan = cut_plan(40.0, cut | {"shortest_on_table_m": 1}, [(1.3, 1.5, "suspect"), (38.2, 38.4, "suspect")])
    good = [p for p in plan.pieces if p.sold]
    assert good[0].start == pytest.approx(1.5, abs=0.011)
    assert good[-1].end == pytest.approx(38.2, abs=0.011)


def test_what_is_cut_already_stays():
    plan = cut_plan(60.0, {"lengths_m": [8, 12], "aim_m": 10}, [(20.0, 22.0, "suspect")], made=[11.4, 21.6])
    assert [p.made for p in plan.pieces].count(True) >= 2
    done = [p for p in plan.pieces if p.made]
    assert done[-1].end == pytest.approx(21.6 - 0.008)
    assert done[-1].kind == "suspect"
    assert next(p for p in plan.pieces if not p.made).start == pytest.approx(21.6)


def test_a_join_is_cropped_to_either_side():
    plan = cut_plan(50.0, {"lengths_m": [4, 6], "join_crop_m": 0.5}, [(25.0, 25.0, "join")])
    assert (plan.stretches[0].start, plan.stretches[0].end) == (24.5, 25.5)
    assert not any(p.sold and p.start < 25.5 and p.end > 24.5 for p in plan.pieces)


def test_everything_wrong_with_a_call_is_told_at_once():
    with pytest.raises(InputError) as caught:
        cut_plan(40.0, {"lengths_m": [12, 6], "kerf": 8, "aim_m": 99})
    told = str(caught.value)
    assert "exchange the two" in told
    assert "did you mean 'kerf_mm'?" in told
    assert "0.5 to 40 m" in told
    with pytest.raises(InputError) as caught:
        cut_plan(40.0, {"lengths_m": 6}, [(3.0, 2.0, "suspect"), (1.0, 50.0, "sfot")], made=[50.0])
    assert len(caught.value.problems) == 3


# The cut file


@pytest.fixture(scope="module")
def request_():
    return read_cut_file(CASES / "cut-plan.toml")


@pytest.fixture(scope="module")
def demo(request_):
    return plan_cuts(request_)


def test_the_header_of_the_demo_tells_its_headline(demo):
    header = (CASES / "cut-plan.toml").read_text(encoding="utf-8")
    assert "invented plant" in header
    assert f"worth {demo.worth:.2f} m of good length, 8 m throughout {demo.plain.worth:.2f} m" in header


def test_a27_the_clock_of_a_piece(request_):
    """Head crop 1.2 m, pieces of 10 m, cut-off at 31 m, 1.2 m/min: the third lies from 21.2 to 31.2 m."""
    assert [request_.born(x) / 60 for x in (21.2, 31.2)] == pytest.approx([17.6667, 26.0], abs=1e-4)
    assert [request_.cut_at(x) / 60 for x in (21.2, 31.2)] == pytest.approx([43.5, 51.8333], abs=1e-4)


def test_the_hot_factor_of_a_slab_comes_from_its_slice(request_):
    case = read_case(CASES / "slab.toml")
    result = solve(case)
    mean = mean_temperature(result)
    assert result.summary["surface_at_cutoff"] < mean < result.summary["centre_at_cutoff"]
    assert request_.cut.hot_factor == pytest.approx(hot_over_cold(mean), abs=1e-6)
    assert request_.cut.margin == pytest.approx(0.015 * case.cutoff)


def test_a_round_is_weighed_by_its_area():
    case = read_case(CASES / "billet.toml")
    case = case.replace({"section": {"shape": "round", "diameter_mm": 150}})
    result = solve(case)
    depth, warm = result.depth, result.section_temperature[-1]
    radius = depth[-1] - depth
    ring = np.abs(np.diff(radius**2))
    rings = (ring * 0.5 * (warm[1:] + warm[:-1])).sum() / ring.sum()
    assert mean_temperature(result) == pytest.approx(rings, abs=0.5)


def test_sheet_and_csv_of_the_demo(request_, demo):
    text = cut_text(request_, demo)
    assert max(map(len, text.splitlines())) <= 100
    assert cut_sentence(demo) in " ".join(text.split())
    rows = list(csv.DictReader(io.StringIO(cut_csv(request_, demo))))
    assert len(rows) == len(demo.pieces)
    hot = sum(float(r["hot_m"]) for r in rows)
    assert hot + demo.metres["kerfs"] == pytest.approx(demo.length, abs=0.01)
    mass = 0.22 * 1.5 * request_.mass_per_metre / (0.22 * 1.5)
    assert float(rows[1]["mass_t"]) == pytest.approx(float(rows[1]["hot_m"]) * mass / 1e3, abs=1e-3)


def test_a_reason_that_a_spreadsheet_would_run_is_quoted(request_):
    plan = cut_plan(40.0, {"lengths_m": 6}, [Stretch(0.0, 40.0, "soft", "=1+1")])
    assert ",=1+1" not in cut_csv(request_, plan)
    assert ",'=1+1" in cut_csv(request_, plan)


def test_the_picture_shows_both_plans_and_the_strand(demo):
    figure = draw_cut(demo, "Slab strand (invented)", cut_sentence(demo))
    assert misplaced(figure) == []
    bars = [artist(figure, f"piece 0 {n}") for n in range(len(demo.pieces))]
    widths = [bar.get_width() for bar in bars]
    assert sum(widths) + demo.metres["kerfs"] == pytest.approx(demo.length)
    said = " ".join(texts(figure))
    assert "8 m throughout" in said
    assert f"{demo.pieces[1].cold:.2f}" in said


def test_the_verb_prints_and_writes(tmp_path, capsys):
    assert main(["cut", str(CASES / "cut-plan.toml"), "-o", str(tmp_path)]) == 0
    out = capsys.readouterr().out
    assert "more than 8 m throughout" in out
    assert {p.name for p in tmp_path.iterdir()} == {"cut-plan-pieces.csv", "cut-plan-cuts.png"}


def test_a_bad_cut_file_says_all_that_is_wrong_with_lines(tmp_path, capsys):
    file = tmp_path / "c.toml"
    file.write_text(
        'title = "x"\nlength_m = 50\ncase = "nowhere.toml"\n[[stretch]]\nfrom_m = 9\nto_m = 3\n[[stretch]]\n'
        'from_m = 1\nto_m = 2\nkind = "suspct"\n[cut]\nlengths_m = [8, 12]\naim_m = 13\ntorch = 3\n',
        encoding="utf-8",
    )
    assert main(["cut", str(file)]) == 2
    err = capsys.readouterr().err
    for told in (
        "c.toml:3:",
        "no such case file",
        "c.toml:4: [[stretch]] 1: = 9 to 3 m",
        "c.toml:10: [[stretch]] 2 kind",
        "did you mean 'suspect'?",
        "c.toml:13: [cut] aim_m: = 13",
        "the nearest that goes is 12",
        "c.toml:14: [cut] torch",
    ):
        assert told in err, told
    assert list(tmp_path.iterdir()) == [file]


VALUES = ("-1", "0", "1e30", "nan", "inf", '"x"', "true", "[]", "{}", "[1]", "[3, 2, 1]", "7", '"\\u001b[2J"')


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.integers(0, 15), st.sampled_from(VALUES))
def test_any_value_anywhere_makes_a_plan_or_is_refused(tmp_path, place, value):
    """Nothing but an InputError, whatever stands at a key."""
    text = (CASES / "cut-plan.toml").read_text(encoding="utf-8")
    text = text.replace('case = "slab.toml"', f'case = "{CASES / "slab.toml"}"\ncuts_made_m = [11.4]')
    places = list(re.finditer(r"^\w+ = ([^#\n]*)", text, re.M))
    found = places[place % len(places)]
    file = tmp_path / "c.toml"
    file.write_text(
        text[: found.start(1)] + value + "\n" + text[found.end(1) :].lstrip(" "), encoding="utf-8"
    )
    try:
        request = read_cut_file(file)
        plan = plan_cuts(request)
    except InputError:
        return
    assert sum(plan.metres.values()) == pytest.approx(plan.length)
    assert cut_text(request, plan).isprintable() or "\x1b" not in cut_text(request, plan)


def test_the_torch_needs_its_time(tmp_path, capsys):
    file = tmp_path / "c.toml"
    file.write_text(
        "length_m = 50\nspeed_m_per_min = 3\n[cut]\nlengths_m = [4, 12]\ntorch_cycle_s = 120\n",
        encoding="utf-8",
    )
    assert main(["cut", str(file), "--no-files"]) == 2
    err = capsys.readouterr().err
    least = 120 * 3 / 60 / 1.012
    assert f"{least:.2f} m or more" in err
    assert f"the nearest that goes is {math.ceil(least * 100) / 100:g}" in err
