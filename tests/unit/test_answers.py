"""What a study answers: shares against counting and exact intervals, effects and indices against known functions."""

from __future__ import annotations

import csv
import io
import math
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import xarray
from scipy.special import betaincinv
from scipy.stats import sobol_indices, uniform

from solidify.assessment.judge import judge
from solidify.case import read_case
from solidify.cli import main
from solidify.errors import InputError
from solidify.plots.answers import draw_answers
from solidify.plots.spread import draw_spread
from solidify.report.csv_export import effects_csv, runs_csv
from solidify.report.study_page import study_page
from solidify.report.study_text import study_text
from solidify.storage.study_file import StudyTable, load_study
from solidify.storage.study_schema import VERDICT
from solidify.strand.result import SUMMARY
from solidify.strand.solve import solve
from solidify.study.answers.operating_window import operating_window
from solidify.study.answers.quantities import (
    Quantity,
    base_value,
    headline_quantities,
    input_label,
    input_words,
    pressing_quantity,
    quantity,
    quantity_names,
    varied,
)
from solidify.study.answers.sensitivity import effects, sobol_shares
from solidify.study.answers.violations import ANY_HARD, failures, hard_violated, never_judged, violations
from solidify.study.definition import make_study
from solidify.study.run import run_study

CASES = Path(__file__).parents[2] / "cases"
SPEED, SUPERHEAT, FACTOR = "casting.speed_m_per_min", "casting.superheat_K", "mould.heat_flux_factor"
WIDTH = "section.width_mm"


@pytest.fixture(scope="module")
def bloom():
    return read_case(CASES / "bloom.toml").replace({"limits.shell_floor": 15.0})


def swept(study, folder):
    run_study(study, folder / "s.h5")
    return load_study(folder / "s.h5")


@pytest.fixture(scope="module")
def window(bloom, tmp_path_factory):
    """Speeds and superheats of the demo bloom (invented plant) around the limits of its straightener and shell."""
    vary = {SPEED: {"from": 0.5, "to": 1.2, "steps": 8}, SUPERHEAT: [15, 25, 35]}
    return swept(make_study(bloom, vary), tmp_path_factory.mktemp("window"))


@pytest.fixture(scope="module")
def pairs(bloom, tmp_path_factory):
    vary = {
        SUPERHEAT: {"mean": 28, "sd": 3},
        SPEED: {"low": 0.7, "high": 0.8},
        FACTOR: {"mean": 1.0, "sd": 0.05},
    }
    study = make_study(bloom, vary, sampling="sobol indices", runs=16, seed=2)
    return swept(study, tmp_path_factory.mktemp("pairs"))


@pytest.fixture(scope="module")
def with_failures(bloom, tmp_path_factory):
    """The narrow width is no case, the thickness being larger."""
    vary = {SPEED: [0.6, 0.8, 1.5], WIDTH: [300, 200, 320]}
    return swept(make_study(bloom, vary), tmp_path_factory.mktemp("failures"))


def made_up(inputs, sampling="grid", title="made up", **columns) -> StudyTable:
    """A study of formulae in place of marches."""
    runs = len(next(iter(inputs.values())))
    shown = {"status": np.zeros(runs, dtype="i1"), "reason": np.array([""] * runs, dtype=object), **columns}
    inputs = {name: np.asarray(values) for name, values in inputs.items()}
    units = {SPEED: "m/min", SUPERHEAT: "K", FACTOR: "1"}
    return StudyTable(
        title,
        sampling,
        inputs,
        shown,
        np.array([0.3, 0.7, 1.0]),
        (),
        {},
        units,
        "",
        "",
        "solidify test",
        "",
        (),
    )


def of(values) -> Quantity:
    return Quantity("y", "a quantity", "m", 1, np.asarray(values, dtype=float))


# Quantities


def test_every_figure_of_a_result_has_words(window):
    assert set(quantity_names(window)) <= set(SUMMARY) | set(window.finding)
    for name in quantity_names(window):
        own = quantity(window, name)
        assert own.label
        assert own.values.shape == (window.runs,)


def test_figures_are_those_of_the_strand_in_plant_units(bloom, window):
    """Run 5 marched by itself."""
    changes = {name: float(values[4]) for name, values in window.inputs.items()}
    result = solve(bloom.replace(changes))
    found = {f.name: f for f in judge(result).findings}
    assert quantity(window, "metallurgical_length").values[4] == result.summary["metallurgical_length"]
    shell = 1e3 * result.summary["shell_at_mould_exit"][result.fraction_index(0.7)]
    assert quantity(window, "shell_at_mould_exit").values[4] == pytest.approx(shell, rel=1e-12)
    assert quantity(window, "throughput").values[4] == pytest.approx(60 * result.summary["throughput"])
    assert quantity(window, "straightener_surface").values[4] == found["straightener_surface"].value


def test_limits_are_told_in_the_unit_of_the_figure(bloom, window):
    """The last support of the demo bloom stands at 22 m and its cut-off at 25 m; 90 % and 0 m are the limits."""
    known = {(b.label, b.sense): b.value for b in quantity(window, "metallurgical_length").bounds}
    assert known["last liquid to last support", "at most"] == pytest.approx(0.9 * bloom.support_end)
    assert known["solid length before cut-off", "at most"] == pytest.approx(bloom.cutoff)
    (shell,) = quantity(window, "shell_at_mould_exit").bounds
    assert (shell.value, shell.sense, shell.hardness) == (15, "at least", "hard")
    flux = quantity(window, "mean_mould_heat_flux").bounds
    assert [b.sense for b in flux] == ["at least", "at most"]


def test_places_for_soft_reduction_are_quantities_with_effects_and_columns(window):
    """Faster and hotter, the centre reaches each fraction further down; 0.9 after 0.7 after 0.3, before the end."""
    names = [f"length_at_solid_fraction_0_{digit}" for digit in (3, 7, 9)]
    places = [quantity(window, name) for name in names]
    assert [q.title for q in places] == [f"length to centre 0.{digit} solid, m" for digit in (3, 7, 9)]
    ends = quantity(window, "metallurgical_length").values
    columns = np.array([*(q.values for q in places), ends])
    solid = np.isfinite(ends)
    assert (np.diff(columns[:, solid], axis=0) > 0).all()
    for own in places:
        assert all(e.change > 0 for e in effects(window, own).rows)
        assert set(draw_answers(window, own.name)) == {"window", "spread", "effects"}
    heads = runs_csv(window).splitlines()[0].split(",")
    assert {f"{name} [m]" for name in names} <= set(heads)


def test_a_limit_that_differs_from_run_to_run_is_no_line(bloom, tmp_path):
    table = swept(make_study(bloom, {"limits.shell_floor": [12, 14]}), tmp_path)
    assert quantity(table, "shell_at_mould_exit").bounds == ()


def test_an_unknown_quantity_is_refused_with_the_nearest(window):
    with pytest.raises(InputError, match="did you mean 'metallurgical_length'"):
        quantity(window, "metalurgical_length")


def test_inputs_are_said_in_words():
    units = {
        'zone."spray 1".water_L_per_min': "L/min", 'zone."spray 1".spray_factor': "1", WIDTH: "mm", SPEED: "m/min",
        SUPERHEAT: "K", "steel.composition.C": "%", "cooling.natural_convection_W_per_m2K": "W/(m² K)",
        "mould.mean_heat_flux_MW_per_m2": "MW/m²", "casting.tundish_temperature_C": "°C", "limits.shell_floor": "mm",
    }  # fmt: skip
    table = replace(made_up({name: [1.0, 2.0] for name in units}), units=units)
    assert [input_words(table, name) for name in units] == [
        "spray 1: water, L/min", "spray 1: spray factor", "section width, mm", "casting speed, m/min", "superheat, K",
        "C in the steel, %", "natural convection, W/(m² K)", "mould mean heat flux, MW/m²", "tundish temperature, °C",
        "limit: shell floor, mm",
    ]  # fmt: skip
    assert input_label(table, WIDTH) == "section width"


def test_the_base_case_is_known_by_key_path(bloom, window):
    assert base_value(window, SPEED) == bloom.value(SPEED)
    assert base_value(window, 'zone."spray 1".water_L_per_min') == 90
    assert varied(window) == [SPEED, SUPERHEAT]


def test_the_limit_that_presses_is_the_one_breached_most(window):
    counted = {
        name: (window.columns["verdict"][:, i] == VERDICT["breached"]).sum()
        for i, name in enumerate(window.finding)
        if window.words["finding_hardness"][i] == "hard"
    }
    assert counted[pressing_quantity(window).name] == max(counted.values()) > 0
    assert [q.name for q in headline_quantities(window)][:2] == [
        "shell_at_mould_exit",
        "metallurgical_length",
    ]


def unjudged(table, name):
    """The same study without a judgement by one limit, as of a steel of own numbers: its value stays known."""
    place = table.finding.index(name)
    columns = {n: v.copy() for n, v in table.columns.items()}
    columns["verdict"][:, place] = VERDICT["not judged"]
    columns["margin"][:, place] = math.nan
    return replace(table, columns=columns)


def test_a_limit_that_judged_no_run_does_not_press_and_is_named(window):
    """Not judged is not kept: sheet, page and picture name the hard limits that are silent, and no warning falls."""
    table = unjudged(window, "straightener_surface")
    assert never_judged(window) == ()
    assert never_judged(table) == ("surface at the straightener",)
    assert pressing_quantity(table).name != "straightener_surface"
    told = "hard limits that are judged in no run: surface at the straightener"
    assert told in study_text(table)
    assert told in study_page(table).replace("\xa0", " ")
    assert told not in study_text(window)
    assert told in " ".join(t.get_text() for t in draw_spread(table, pressing_quantity(table)).texts).replace(
        "\n", " "
    )


# Shares


def test_shares_are_those_of_counting(window):
    found = {b.name: b for b in violations(window)}
    hard = [i for i, h in enumerate(window.words["finding_hardness"]) if h == "hard"]
    beyond = window.columns["verdict"] == VERDICT["breached"]
    assert found[""].label == ANY_HARD
    assert found[""].breached == beyond[:, hard].any(axis=1).sum()
    for i, name in enumerate(window.finding):
        if name in found:
            assert (found[name].breached, found[name].judged) == (beyond[:, i].sum(), window.runs)
            assert math.isnan(found[name].low)  # a grid is no sample
    order = [(b.hardness, b.share) for b in violations(window)[1:]]
    assert order == sorted(order, key=lambda row: (row[0] != "hard", -row[1]))


def test_intervals_are_those_of_clopper_and_pearson(pairs):
    """Their ends are quantiles of beta distributions; Clopper and Pearson 1934, Biometrika 26 (form from memory).

    Of the pairs only two runs a draw are independent, so that 32 count, not 80.
    """
    seen = set()
    for b in violations(pairs):
        assert b.judged == 32
        k, n = b.breached, b.judged
        low = betaincinv(k, n - k + 1, 0.025) if k else 0.0
        high = betaincinv(k + 1, n - k, 0.975) if k < n else 1.0
        assert (b.low, b.high) == pytest.approx((low, high), abs=1e-9)
        seen.add(k > 0)
    assert seen == {True, False}


def test_a_breach_probability_is_within_the_interval_of_its_share(bloom, tmp_path):
    """Superheat drawn normal, 28 +- 5 K, against its own window: the tails of the normal distribution say it."""
    vary = {SUPERHEAT: {"mean": 28, "sd": 5}}
    study = make_study(bloom, vary, sampling="latin", runs=128, seed=4, keep=["findings"])
    table = swept(study, tmp_path)
    (found,) = (b for b in violations(table) if b.name == "superheat_window")
    low, high = table.columns["limit"][0, table.finding.index("superheat_window")]
    known = 1 - 0.5 * (math.erf((high - 28) / 5 / math.sqrt(2)) - math.erf((low - 28) / 5 / math.sqrt(2)))
    assert found.low < known < found.high
    assert found.share == pytest.approx(known, abs=2 / 128)


def test_shares_by_hand_where_limits_are_judged_in_some_runs_only():
    """Two hard limits and a soft one over five runs: four are judged by a hard one, two of them breach one."""
    words = [
        ("kept", "breached", "kept"),
        ("breached", "not judged", "breached"),
        ("not judged", "kept", "breached"),
        ("not judged", "not judged", "close"),
        ("close", "kept", "not judged"),
    ]
    verdict = np.array([[VERDICT[w] for w in run] for run in words])
    table = replace(
        made_up({SPEED: np.linspace(0.6, 1.0, 5)}, "latin", verdict=verdict),
        finding=("one", "two", "three"),
        words={"finding_label": ("one", "two", "three"), "finding_hardness": ("hard", "hard", "soft")},
    )
    found = {b.name: (b.hardness, b.breached, b.judged, b.share) for b in violations(table)}
    assert found == {
        "": ("hard", 2, 4, 0.5),
        "one": ("hard", 1, 3, pytest.approx(1 / 3)),
        "two": ("hard", 1, 3, pytest.approx(1 / 3)),
        "three": ("soft", 2, 4, 0.5),
    }
    judged, beyond = hard_violated(table)
    assert judged.tolist() == [True, True, True, False, True]
    assert beyond.tolist() == [True, True, False, False, False]
    unjudged = replace(table, columns=table.columns | {"verdict": np.full((5, 3), VERDICT["not judged"])})
    assert violations(unjudged) == []


def test_failures_are_counted_by_reason_and_are_in_no_share(with_failures):
    (failure,) = failures(with_failures)
    assert failure.runs == (2, 5, 8)
    assert "thickness" in failure.reason
    assert {b.judged for b in violations(with_failures)} == {6}


# Effects


def test_a_straight_law_is_found_exactly():
    rng = np.random.default_rng(1)
    x = rng.normal(28, 3, 60), rng.uniform(0.7, 0.8, 60)
    table = made_up({SUPERHEAT: x[0], SPEED: x[1]}, "latin")
    found = effects(table, of(5.0 + 0.2 * x[0] - 3.0 * x[1]))
    assert found.kind == "sample"
    assert found.explained == pytest.approx(1)
    assert {e.input: e.change for e in found.rows} == pytest.approx(
        {SUPERHEAT: 0.2 * x[0].std(ddof=1), SPEED: -3.0 * x[1].std(ddof=1)}
    )
    assert found.rows[0].input == SUPERHEAT
    assert found.rows[0].end - found.rows[0].start == pytest.approx(x[0].std(ddof=1))


def test_rows_that_move_two_inputs_at_once_are_not_read_as_direct_effects():
    """Speed and superheat rise together in every row: one less the other would count both for each."""
    x, y = np.array([0.61, 0.66, 0.71, 0.86, 0.91]), np.array([31.0, 36.0, 33.0, 41.0, 38.0])
    found = effects(made_up({SPEED: x, SUPERHEAT: y}, "table"), of(10 * x + 0.2 * y))
    assert found.kind == "sample"
    slopes = {e.input: e.change / (e.end - e.start) for e in found.rows}
    assert slopes == pytest.approx({SPEED: 10.0, SUPERHEAT: 0.2})


def test_intervals_of_effects_hold_as_often_as_they_say():
    """A law with normal scatter, drawn 400 times: 95 % of the intervals hold the truth, to three standard errors."""
    rng = np.random.default_rng(7)
    x = rng.normal(0, 1, (400, 30))
    kept = 0
    for row in x:
        table = made_up({SUPERHEAT: row, SPEED: rng.uniform(0, 1, 30)}, "latin")
        (own,) = (
            e for e in effects(table, of(2.0 * row + rng.normal(0, 1, 30))).rows if e.input == SUPERHEAT
        )
        kept += own.low <= 2.0 * row.std(ddof=1) <= own.high
    assert abs(kept / 400 - 0.95) < 3 * math.sqrt(0.95 * 0.05 / 400)


def test_a_rank_sees_what_is_not_straight():
    x = np.linspace(0.01, 1, 50)
    found = effects(made_up({SPEED: x}, "latin"), of(x**12))
    assert found.explained < 0.6
    assert found.rows[0].rank == pytest.approx(1)


def test_effects_of_a_grid_are_direct(with_failures):
    """From the lowest to the highest value, at each value of the others, which is how far they depend on them."""
    x, y = np.meshgrid([0.6, 0.7, 0.9], [20.0, 40.0], indexing="ij")
    table = made_up({SPEED: x.ravel(), SUPERHEAT: y.ravel()})
    found = effects(table, of((10 * x + 0.1 * x * y).ravel()))
    speed, superheat = found.rows
    assert (found.kind, speed.input, speed.start, speed.end) == ("grid", SPEED, 0.6, 0.9)
    assert (speed.change, speed.low, speed.high) == pytest.approx((0.3 * 13, 0.3 * 12, 0.3 * 14))
    assert superheat.change == pytest.approx(20 * 0.1 * np.mean([0.6, 0.7, 0.9]))
    real = effects(with_failures, quantity(with_failures, "throughput"))
    width = next(e for e in real.rows if e.input == WIDTH)
    assert (width.start, width.end) == (300, 320)  # every run at 200 failed


def test_rows_that_move_one_input_at_a_time_are_compared_with_the_case(bloom, tmp_path):
    rows = [{SPEED: 0.7}, {SPEED: 0.8}, {SUPERHEAT: 35}, {}]
    table = swept(make_study(bloom, rows=rows), tmp_path)
    found = effects(table, quantity(table, "metallurgical_length"))
    assert found.kind == "single"
    values = quantity(table, "metallurgical_length").values
    known = {SPEED: values[1] - values[0], SUPERHEAT: values[2] - values[3]}
    assert {e.input: e.change for e in found.rows} == pytest.approx(known)
    assert next(e for e in found.rows if e.input == SUPERHEAT).start == bloom.value(SUPERHEAT)


def test_words_are_left_out_of_a_straight_law_and_said():
    rng = np.random.default_rng(3)
    speed = rng.uniform(0, 1, 20)
    words = np.array(["a", "b"] * 10, dtype=object)
    found = effects(made_up({SPEED: speed, "cooling.spray_relation": words}, "latin"), of(speed))
    assert found.left_out == ("cooling.spray_relation",)
    assert [e.input for e in found.rows] == [SPEED]


# Sobol indices

A, B = 7.0, 0.1
"""Of the function of Ishigami and Homma."""


def ishigami(x):
    return np.sin(x[0]) + A * np.sin(x[1]) ** 2 + B * x[2] ** 4 * np.sin(x[0])


def ishigami_study(bloom, runs, seed):
    """The function in place of the march, of three inputs stretched from their ranges to -pi and pi."""
    ranges = {SPEED: (0.6, 0.8), SUPERHEAT: (20.0, 40.0), FACTOR: (0.9, 1.1)}
    vary = {name: {"low": low, "high": high} for name, (low, high) in ranges.items()}
    study = make_study(bloom, vary, sampling="sobol indices", runs=runs, seed=seed)
    columns = dict(zip(ranges, np.array(study.rows).T, strict=True))
    x = [np.pi * (2 * (columns[n] - low) / (high - low) - 1) for n, (low, high) in ranges.items()]
    return made_up(columns, "sobol indices"), of(ishigami(x))


def test_indices_are_those_of_a_function_with_known_ones(bloom):
    """Variances of the function in closed form; Ishigami and Homma 1990, First International Symposium on
    Uncertainty Modeling and Analysis, 398-403, doi 10.1109/ISUMA.1990.151285 (form from memory; each is an integral
    over sines and powers that can be done by hand)."""
    table, values = ishigami_study(bloom, 2048, 1)
    (found,) = sobol_shares(table, [values])
    one, two = 0.5 * (1 + B * np.pi**4 / 5) ** 2, A**2 / 8
    both = B**2 * np.pi**8 * (1 / 18 - 1 / 50)
    whole = one + two + both
    assert whole == pytest.approx(A**2 / 8 + B * np.pi**4 / 5 + B**2 * np.pi**8 / 18 + 0.5)
    first = {SPEED: one / whole, SUPERHEAT: two / whole, FACTOR: 0.0}
    total = {SPEED: (one + both) / whole, SUPERHEAT: two / whole, FACTOR: both / whole}
    for i, name in enumerate(found.inputs):
        assert found.first[i, 0] == pytest.approx(first[name], abs=0.02)
        assert found.total[i, 0] == pytest.approx(total[name], abs=0.02)
        assert found.first[i, 1] <= first[name] <= found.first[i, 2]
        assert found.total[i, 1] <= total[name] <= found.total[i, 2]
    assert found.inputs == (SPEED, SUPERHEAT, FACTOR)


def test_indices_are_the_library_s_own_for_the_same_draws(bloom):
    """`scipy.stats.sobol_indices` given the function and the seed draws and computes for itself."""
    table, values = ishigami_study(bloom, 256, 5)
    (found,) = sobol_shares(table, [values])
    even = [uniform(-np.pi, 2 * np.pi)] * 3
    known = sobol_indices(func=lambda x: ishigami(x), n=256, dists=even, rng=np.random.default_rng(5))
    order = [list(table.inputs).index(name) for name in found.inputs]
    np.testing.assert_allclose(found.first[:, 0], known.first_order[order], atol=1e-9)
    np.testing.assert_allclose(found.total[:, 0], known.total_order[order], atol=1e-9)


def test_a_draw_without_a_value_is_left_out(bloom):
    """What is left gives the indices of the draws that are left, by the estimator written out."""
    table, values = ishigami_study(bloom, 64, 3)
    holed = values.values.copy()
    holed[[7, 100]] = np.nan
    (found,) = sobol_shares(table, [of(holed)])
    assert (found.draws, found.left_out) == (62, 2)
    draws = holed.reshape(64, 5)
    a, b, *ab = draws[np.isfinite(draws).all(axis=1)].T
    middle, variance = np.mean([a, b]), np.var([a, b])
    first = [np.mean((b - middle) * (own - a)) / variance for own in ab]
    total = [0.5 * np.mean((a - own) ** 2) / variance for own in ab]
    order = [list(table.inputs).index(name) for name in found.inputs]
    np.testing.assert_allclose(found.first[:, 0], np.array(first)[order])
    np.testing.assert_allclose(found.total[:, 0], np.array(total)[order])


def test_indices_of_a_marched_study_name_what_moves_it(pairs):
    """The flux factor moves the shell at mould exit most, and not at all the steel cast in a minute."""
    names = ("shell_at_mould_exit", "throughput")
    shell, cast = sobol_shares(pairs, [quantity(pairs, name) for name in names])
    assert shell.inputs[0] == FACTOR
    assert cast.inputs[0] == SPEED
    assert cast.first[0, 0] == pytest.approx(1, abs=0.1)
    assert np.abs(cast.total[1:, 0]).max() < 1e-12
    again = sobol_shares(pairs, [quantity(pairs, name) for name in names])
    np.testing.assert_array_equal(again[0].first, shell.first)


def test_a_study_sampled_otherwise_has_no_indices(window):
    with pytest.raises(InputError, match='sampling = "sobol indices"'):
        sobol_shares(window, headline_quantities(window))


# The operating window


def border_of(case, name, low, high, changes):
    """Find where a finding turns from kept to breached by halving in with single marches."""

    def room(speed):
        found = judge(solve(case.replace({**changes, SPEED: speed}))).findings
        return next(f.margin for f in found if f.name == name)

    rising = room(low) < 0
    while high - low > 1e-4:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if (room(middle) < 0) == rising else (low, middle)
    return 0.5 * (low + high)


def crossing(window, border, superheat):
    """Read from the raster where the room to a limit is 0 at one superheat."""
    row = int(np.argmin(np.abs(window.y - superheat)))
    assert abs(window.y[row] - superheat) < 0.11
    known = np.isfinite(border.room[row])
    room, x = border.room[row][known], window.x[known]
    (at,) = np.flatnonzero(np.diff(np.sign(room)))
    share = room[at] / (room[at] - room[at + 1])
    return x[at] + share * (x[at + 1] - x[at])


@pytest.mark.parametrize(
    ("name", "low", "high"), [("straightener_surface", 0.5, 0.8), ("shell_floor", 0.9, 1.2)]
)
def test_borders_of_a_grid_lie_where_single_marches_find_them(bloom, window, name, low, high):
    """At a superheat of the grid, to 4 % of its step of 0.1 m/min, and between two of them, to 5 %."""
    found = operating_window(window, quantity(window, "metallurgical_length"), SPEED, SUPERHEAT)
    assert found.kind == "grid"
    border = next(b for b in found.borders if b.name == name)
    at = crossing(found, border, 25.0)
    assert at == pytest.approx(border_of(bloom, name, low, high, {SUPERHEAT: 25}), abs=0.004)
    at = crossing(found, border, 30.0)
    assert at == pytest.approx(border_of(bloom, name, low, high, {SUPERHEAT: 30}), abs=0.005)


def test_borders_between_strewn_runs_lie_where_single_marches_find_them(bloom, tmp_path):
    vary = {SPEED: {"low": 0.5, "high": 1.3}, SUPERHEAT: {"low": 15, "high": 40}}
    table = swept(make_study(bloom, vary, sampling="sobol", runs=64, seed=3, keep=["findings"]), tmp_path)
    found = operating_window(table, quantity(table, "straightener_surface"))
    assert (found.kind, found.across, found.up) == ("triangles", SPEED, SUPERHEAT)
    for name, low, high in (("straightener_surface", 0.5, 0.8), ("shell_floor", 0.9, 1.3)):
        border = next(b for b in found.borders if b.name == name)
        known = border_of(bloom, name, low, high, {SUPERHEAT: float(found.y[100])})
        assert crossing(found, border, found.y[100]) == pytest.approx(known, abs=0.0015)


def test_the_part_where_hard_limits_hold_is_that_of_the_runs(window):
    """At every run of the grid the raster says what the verdicts say."""
    found = operating_window(window, quantity(window, "metallurgical_length"), SPEED, SUPERHEAT)
    hard = [i for i, h in enumerate(window.words["finding_hardness"]) if h == "hard"]
    beyond = (window.columns["verdict"][:, hard] == VERDICT["breached"]).any(axis=1)
    assert 0 < beyond.sum() < window.runs
    said = set()
    for speed, superheat, bad in zip(*window.inputs.values(), beyond, strict=True):
        column, row = np.argmin(np.abs(found.x - speed)), np.argmin(np.abs(found.y - superheat))
        if abs(found.room[row, column]) > 0.02:  # the raster need not hold the run itself
            said.add(bool(bad))
            assert (found.room[row, column] < 0) == bad
    assert said == {False, True}


def test_a_centre_liquid_at_the_cutoff_has_a_border_where_marches_find_it(bloom, tmp_path):
    """The room to the cut-off has no bound beyond it; it is carried on smoothly, and the border stays true."""
    vary = {SPEED: {"from": 0.9, "to": 1.7, "steps": 9}, SUPERHEAT: [20, 30, 40]}
    table = swept(make_study(bloom, vary), tmp_path)
    i = table.finding.index("last_liquid_cutoff")
    assert np.isinf(table.columns["margin"][:, i]).any()
    found = operating_window(table, quantity(table, "metallurgical_length"))
    border = next(b for b in found.borders if b.name == "last_liquid_cutoff")
    known = border_of(bloom, "last_liquid_cutoff", 0.9, 1.7, {SUPERHEAT: 30})
    assert crossing(found, border, 30.0) == pytest.approx(known, abs=0.01)


def test_a_grid_of_three_inputs_is_cut_nearest_to_the_case_or_where_asked(bloom, tmp_path):
    vary = {SPEED: [0.6, 0.8, 1.0], SUPERHEAT: [20, 30], WIDTH: [260, 290, 320]}
    table = swept(make_study(bloom, vary), tmp_path)
    own = quantity(table, "metallurgical_length")
    found = operating_window(table, own, SPEED, SUPERHEAT)
    assert found.fixed == {WIDTH: 290}
    assert (table.inputs[WIDTH][found.runs] == 290).all()
    assert operating_window(table, own, SPEED, SUPERHEAT, {WIDTH: 260}).fixed == {WIDTH: 260}
    chosen = operating_window(table, own)
    assert (chosen.across, chosen.up) == (SPEED, WIDTH)  # what moves the end of solidification most
    with pytest.raises(InputError) as caught:
        operating_window(
            table, own, "casting.sped_m_per_min", SUPERHEAT, {WIDTH: 270, "steel.composition.C": 0.2}
        )
    said = str(caught.value)
    assert "did you mean 'casting.speed_m_per_min'" in said
    assert "260, 290, 320" in said
    assert "steel.composition.C: is no further input" in said


def test_nothing_is_read_between_runs_that_differ_in_more_than_is_shown(pairs):
    found = operating_window(pairs, quantity(pairs, "shell_at_mould_exit"))
    assert found.kind == "runs"
    assert len(found.loose) == 1
    assert {found.across, found.up, *found.loose} == {SPEED, FACTOR, SUPERHEAT}
    assert found.values.size == 0


def test_runs_on_one_line_are_drawn_as_they_are(bloom, tmp_path):
    rows = [{SPEED: 0.7 + 0.02 * i, SUPERHEAT: 20 + 5 * i} for i in range(4)]
    table = swept(make_study(bloom, rows=rows), tmp_path)
    assert operating_window(table, quantity(table, "metallurgical_length")).kind == "runs"


def test_a_failed_run_leaves_its_surroundings_unknown(bloom, tmp_path):
    """A width below the thickness is no case: what lies next to it is neither kept nor breached."""
    table = swept(make_study(bloom, {SPEED: [0.7, 0.8], WIDTH: [240, 260, 300]}), tmp_path)
    found = operating_window(table, quantity(table, "metallurgical_length"))
    below = found.y < 259
    assert np.isnan(found.room[below]).all()
    assert np.isfinite(found.room[found.y > 261]).all()


# Words and tables


def test_the_sheet_says_what_varied_failed_is_breached_and_moves(with_failures, pairs):
    text = study_text(with_failures)
    assert "section width: 200 to 320 mm, 3 values" in text
    assert "3, run 2 first: section.thickness_mm" in text
    assert "what moves: end of solidification, m" in text
    text = study_text(pairs)
    assert "80 runs, 0 failed; Sobol sequence in pairs" in text
    assert "Clopper and Pearson" in text
    assert "Sobol indices: shell at mould exit" in text
    assert max(map(len, text.splitlines())) <= 110


def test_runs_as_csv_are_those_of_the_file_with_units(with_failures, tmp_path):
    rows = list(csv.DictReader(io.StringIO(runs_csv(with_failures))))
    assert len(rows) == 9
    assert rows[1]["status"] == "failed"
    assert "thickness" in rows[1]["reason"]
    assert rows[1]["metallurgical_length [m]"] == ""
    assert rows[0]["shell_floor verdict"] in ("kept", "close", "breached")
    place = with_failures.finding.index("shell_floor")
    for column, known in (
        ("metallurgical_length [m]", with_failures.columns["metallurgical_length"]),
        (
            "shell_at_mould_exit at solid fraction 0.7 [mm]",
            1e3 * with_failures.columns["shell_at_mould_exit"][:, 1],
        ),
        ("mean_mould_heat_flux [MW/m²]", with_failures.columns["mean_mould_heat_flux"] / 1e6),
        ("solidification_time [min]", with_failures.columns["solidification_time"] / 60),
        ("shell_floor room [mm]", with_failures.columns["margin"][:, place]),
        (SPEED, with_failures.inputs[SPEED]),
    ):
        found = [float(row[column]) if row[column] else math.nan for row in rows]
        np.testing.assert_allclose(found, known, rtol=1e-9)
    assert not any(name.startswith("bulging") for name in rows[0])  # the demo bloom gives no roll pitch


def test_the_inputs_of_a_csv_are_the_table_of_another_study(bloom, with_failures):
    rows = list(csv.DictReader(io.StringIO(runs_csv(with_failures))))
    again = make_study(bloom, rows=[{name: float(row[name]) for name in (SPEED, WIDTH)} for row in rows])
    assert [tuple(again.values(i).values()) for i in range(9)] == list(
        zip(*with_failures.inputs.values(), strict=True)
    )


def test_a_csv_agrees_with_the_data_frame_of_xarray(bloom, tmp_path):
    study = make_study(bloom, {SPEED: [0.7, 0.8], SUPERHEAT: [20, 30]})
    run_study(study, tmp_path / "s.h5")
    with xarray.open_dataset(tmp_path / "s.h5", engine="h5netcdf") as data:
        frame = data[[SPEED, "metallurgical_length", "throughput"]].to_dataframe()
        wide = data["margin"].to_pandas()
    rows = list(csv.DictReader(io.StringIO(runs_csv(load_study(tmp_path / "s.h5")))))
    assert list(frame.index) == [int(row["run"]) for row in rows]
    for column, unit, one in (("metallurgical_length", "m", 1.0), ("throughput", "kg/min", 1 / 60)):
        printed = [float(row[f"{column} [{unit}]"]) * one for row in rows]
        np.testing.assert_allclose(frame[column], printed, rtol=1e-9)
    np.testing.assert_allclose(
        wide["shell_floor"], [float(row["shell_floor room [mm]"]) for row in rows], rtol=1e-9
    )


def test_effects_as_csv_hold_every_quantity_and_the_indices(pairs):
    rows = list(csv.DictReader(io.StringIO(effects_csv(pairs))))
    assert {row["quantity"] for row in rows} >= {"shell_at_mould_exit", "metallurgical_length", "shell_floor"}
    assert len({(row["quantity"], row["input"]) for row in rows}) == len(rows)
    (own,) = sobol_shares(pairs, [quantity(pairs, "shell_at_mould_exit")])
    for row in rows:
        if row["quantity"] == "shell_at_mould_exit":
            place = own.inputs.index(row["input"])
            assert float(row["first_order"]) == pytest.approx(own.first[place, 0], abs=1e-4)
            assert float(row["total_high"]) == pytest.approx(own.total[place, 2], abs=1e-4)


def test_the_page_of_a_study_holds_its_pictures_tables_and_cautions(pairs, with_failures):
    """One file that fetches nothing, the same every time; the share and its interval stand as text too."""
    text = study_page(pairs)
    assert text == study_page(pairs)
    assert text.count("<img") == 4
    assert "http" not in re.sub(r'(src|srcset)="data:[^"]*"', "", text).replace(
        "http://www.w3.org/2000/svg", ""
    )
    plain = text.replace("\xa0", " ")
    worst = max(violations(pairs), key=lambda b: b.breached)
    assert f"<td>{worst.breached}</td><td>32</td>" in plain
    assert worst.breached > 0
    for words in (
        "80 runs",
        "Sobol sequence in pairs",
        "Sobol indices",
        "16 draws; 95 % intervals by the bootstrap.",
        "No permission to cast.",
        "Water trapped under molten steel explodes and kills",
        "invented plant",
        "mould heat flux factor",
        "title = &#34;Bloom 250 x 300",
    ):
        assert words in plain, words
    assert "3 (run 2, 5, 8): section.thickness_mm" in study_page(with_failures).replace("\xa0", " ")


def test_a_study_in_which_nothing_came_out_has_a_page_too(bloom, tmp_path):
    table = swept(make_study(bloom, {WIDTH: [200, 210]}), tmp_path)
    text = study_page(table)
    assert "Nothing differs between the runs." in text
    assert "thickness" in text
    assert "2 runs, 2 failed" in study_text(table)


@pytest.mark.parametrize("keep", [("summary",), ("findings",), ("profiles",)])
def test_whatever_was_kept_is_summed_up(bloom, tmp_path, keep):
    table = swept(make_study(bloom, {SPEED: [0.7, 0.8, 0.9], SUPERHEAT: [20, 30]}, keep=keep), tmp_path)
    assert "6 runs, 0 failed" in study_text(table)
    assert len(runs_csv(table).splitlines()) == 7
    assert study_page(table).count("<img") == (0 if keep == ("profiles",) else 3)


def test_an_input_that_only_some_rows_give_is_drawn_where_it_is_given(tmp_path):
    bloom = read_case(CASES / "bloom.toml")
    rows = [{"limits.shell_floor": 14, SPEED: 0.7}, {SPEED: 0.8}, {"limits.shell_floor": 15}, {SUPERHEAT: 40}]
    table = swept(make_study(bloom, rows=rows), tmp_path)
    found = operating_window(table, quantity(table, "metallurgical_length"), SPEED, "limits.shell_floor")
    assert found.runs.tolist() == [0, 2]


def test_words_of_a_grid_are_compared_from_the_least_to_the_most(bloom, tmp_path):
    names = ["sasaki_1979", "mizikar_1970_low_pressure", "nozaki_1978"]
    table = swept(make_study(bloom, {"cooling.spray_relation": names}), tmp_path)
    own = quantity(table, "metallurgical_length")
    (effect,) = effects(table, own).rows
    values = dict(zip(names, own.values, strict=True))
    assert effect.start == min(values, key=values.get)
    assert effect.end == max(values, key=values.get)
    assert effect.change == pytest.approx(max(values.values()) - min(values.values()))


def test_the_verb_sums_up_a_study_and_writes_its_tables(bloom, tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    run_study(make_study(bloom, {SPEED: [0.7, 0.9]}), "s.h5")
    assert main(["report", "s.h5"]) == 0
    assert "casting speed: 0.7 to 0.9 m/min, 2 values" in capsys.readouterr().out
    assert [p.name for p in Path().iterdir()] == ["s.h5"]
    assert main(["report", "s.h5", "-o", "runs.csv"]) == 0
    assert "written: runs.csv, runs-effects.csv" in capsys.readouterr().out
    assert Path("runs-effects.csv").read_text().startswith("quantity,unit,input,way,from,to,change")
    assert main(["report", "s.h5", "-o", "page.html"]) == 0
    assert "<h1>Study: Bloom 250 x 300" in Path("page.html").read_text()
    assert main(["report", "s.h5", "-o", "page.pdf"]) == 2
    assert "runs.csv or page.html" in capsys.readouterr().err
