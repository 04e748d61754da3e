"""Sweeps: each run as it would be alone, whatever the chunks, workers and interruptions."""

from __future__ import annotations

import gc
import io
import math
import multiprocessing
import os
import random
import signal
import subprocess
import sys
import time
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from pathlib import Path

import h5py
import numpy as np
import pytest
import xarray
from scipy.special import betaincinv
from scipy.stats import sobol_indices, uniform

from solidify.assessment.judge import judge
from solidify.case import parse_case, read_case
from solidify.cli import main
from solidify.errors import InputError, SolidifyError
from solidify.report.study_text import sweep_text
from solidify.storage import study_schema, study_writer
from solidify.storage.checkpoint import Shards
from solidify.storage.study_file import is_study, load_study
from solidify.storage.study_schema import BREAKOUT, VERDICT
from solidify.strand.result_batch import Results
from solidify.strand.solve import solve, solve_many
from solidify.study import run as sweep
from solidify.study.definition import make_study, read_study
from solidify.study.progress import Progress
from solidify.study.run import run_study

CASES = Path(__file__).parents[2] / "cases"
SPEED, SUPERHEAT, WIDTH = "casting.speed_m_per_min", "casting.superheat_K", "section.width_mm"
PROPERTIES = "steel.property_file"
WATER = 'zone."spray 1".water_L_per_min'


@pytest.fixture(scope="module")
def bloom():
    return read_case(CASES / "bloom.toml")


@pytest.fixture(scope="module")
def small(bloom):
    """Nine runs; the three of the narrow width are no case, the thickness being larger."""
    vary = {SPEED: {"from": 0.6, "to": 0.9, "steps": 3}, WIDTH: [300, 200, 320]}
    return make_study(bloom, vary, keep=("summary", "findings", "profiles"))


@pytest.fixture(scope="module")
def done(small, tmp_path_factory):
    path = tmp_path_factory.mktemp("done") / "small.h5"
    run_study(small, path, chunk=4)
    return path


def contents(path):
    """All data and attributes of a file, but for the time it was made at."""
    found = {}

    def take(name, thing):
        found[name, "attributes"] = {
            k: np.asarray(v).tolist()
            for k, v in thing.attrs.items()
            if k not in ("DIMENSION_LIST", "REFERENCE_LIST", "created_at")
        }
        if isinstance(thing, h5py.Dataset):
            data = thing[...]
            found[name] = data.tolist() if data.dtype == object else (data.dtype, data.shape, data.tobytes())

    with h5py.File(path) as file:
        take("/", file)
        file.visititems(take)
    return found


# The study as values


def test_a_grid_combines_every_value_the_last_input_fastest(bloom):
    study = make_study(bloom, {SPEED: [0.7, 0.8], SUPERHEAT: {"from": 20, "to": 30, "steps": 3}})
    assert study.runs == 6
    runs = [tuple(study.values(i).values()) for i in range(6)]
    assert runs == [(0.7, 20), (0.7, 25), (0.7, 30), (0.8, 20), (0.8, 25), (0.8, 30)]


def test_latin_sampling_puts_one_run_in_each_share_of_every_input(bloom):
    vary = {SPEED: {"low": 0.6, "high": 0.8}, SUPERHEAT: {"mean": 28, "sd": 3}}
    study = make_study(bloom, vary, sampling="latin", runs=50, seed=3)
    speed, superheat = np.array([list(study.values(i).values()) for i in range(50)]).T
    assert sorted(np.floor((speed - 0.6) / 0.2 * 50).astype(int)) == list(range(50))
    assert abs(superheat.mean() - 28) < 0.3
    assert 2.5 < superheat.std() < 3.5


@pytest.mark.parametrize("sampling", ["latin", "sobol"])
def test_the_seed_decides_the_sample(bloom, sampling):
    def rows(seed):
        vary = {SPEED: {"mean": 0.75, "sd": 0.02}, WATER: [90, 100]}
        return make_study(bloom, vary, sampling=sampling, runs=11, seed=seed).rows

    assert rows(1) == rows(1)
    assert rows(1) != rows(2)
    assert {row[1] for row in rows(1)} == {90, 100}


def test_pairs_for_sobol_indices_are_laid_out_as_the_library_takes_them(bloom):
    """scipy hands its function the draws A, B and all AB; the rows of the study hold the same numbers."""
    asked = []

    def remember(x):
        asked.append(x.copy())
        return x[:1].copy()

    even = uniform(0.6, 0.2), uniform(20, 15), uniform(80, 40)
    sobol_indices(func=remember, n=8, dists=even, rng=np.random.default_rng(5))
    (a, b), ab = (x.T for x in asked[:2]), asked[2].T.reshape(8, 3, 3)
    vary = {
        SPEED: {"low": 0.6, "high": 0.8},
        SUPERHEAT: {"low": 20, "high": 35},
        WATER: {"low": 80, "high": 120},
    }
    study = make_study(bloom, vary, sampling="sobol indices", runs=8, seed=5)
    rows = np.array(study.rows).reshape(8, 5, 3)
    for found, known in ((rows[:, 0], a), (rows[:, 1], b), (rows[:, 2:], ab)):
        np.testing.assert_allclose(found, known, rtol=1e-12)


def test_sobol_indices_want_a_power_of_two_and_two_inputs(bloom):
    with pytest.raises(InputError, match=r"power of two(.|\n)*64 or 128(.|\n)*with one input"):
        make_study(bloom, {SPEED: {"low": 0.6, "high": 0.8}}, sampling="sobol indices", runs=100)
    with pytest.raises(InputError, match="sobol indices wants a number of runs"):
        make_study(bloom, {SPEED: [0.6, 0.8], SUPERHEAT: [20, 30]}, sampling="sobol indices")
    with pytest.raises(InputError, match="did you mean 'sobol indices'"):
        make_study(bloom, {SPEED: [0.6, 0.8]}, sampling="sobol index")


def test_a_normal_distribution_stays_within_its_key_and_its_own_bounds(bloom):
    vary = {SUPERHEAT: {"mean": 1, "sd": 20}, SPEED: {"mean": 0.75, "sd": 0.1, "low": 0.7, "high": 0.78}}
    study = make_study(bloom, vary, sampling="sobol", runs=64)
    superheat, speed = np.array(study.rows).T
    assert superheat.min() >= 0
    assert 0.7 <= speed.min() < 0.71
    assert 0.77 < speed.max() <= 0.78


def test_the_demo_studies_read(bloom):
    window, scatter = (read_study(CASES / f"{name}.toml") for name in ("operating-window", "plant-scatter"))
    assert window.runs == 15 * 5
    assert scatter.runs == 256
    assert scatter.inputs[-1] == 'zone."spray 1".spray_factor'
    assert window.case == bloom


def test_a_column_holds_one_input_of_every_run(bloom):
    grid = make_study(bloom, {SPEED: [0.7, 0.8], SUPERHEAT: [20, 25, 30], WATER: [90, 100]})
    rows = make_study(bloom, rows=[{SPEED: 0.7}, {WATER: 120}, {SUPERHEAT: 20, WATER: 80}])
    for study in (grid, rows):
        for place, name in enumerate(study.inputs):
            known = [study.values(run).get(name, bloom.value(name)) for run in range(study.runs)]
            assert study.column(place) == known


def test_a_zone_may_have_any_name(bloom):
    """Key paths are matched as the case writes them, letters of all alphabets included."""
    text = bloom.text.replace('"spray 1"', '"Sprühzone „1“"')
    name = 'zone."Sprühzone „1“".water_L_per_min'
    study = make_study(parse_case(text), {name: [90, 110]})
    assert study.inputs == (name,)
    assert study.values(1) == {name: 110}


def test_a_table_gives_every_run_and_an_empty_cell_keeps_the_case(bloom, tmp_path):
    (tmp_path / "bloom.toml").write_text((CASES / "bloom.toml").read_text())
    (tmp_path / "rows.csv").write_text(f"{SPEED},{WATER_CELL}\n0.7,\n,120\n")
    (tmp_path / "s.toml").write_text('case = "bloom.toml"\ntable = "rows.csv"\n')
    study = read_study(tmp_path / "s.toml")
    assert [study.values(i) for i in range(2)] == [{SPEED: 0.7}, {WATER: 120}]
    run_study(study, tmp_path / "s.h5")
    table = load_study(tmp_path / "s.h5")
    assert table.inputs[SPEED].tolist() == [0.7, 0.75]
    assert table.inputs[WATER].tolist() == [90, 120]
    rows = [{SPEED: 0.7}, {WATER: 120}]
    assert make_study(bloom, rows=rows).rows == study.rows


WATER_CELL = '"' + WATER.replace('"', '""') + '"'


# Each run as it would be alone


def test_every_run_is_that_of_the_case_alone_bit_for_bit(small, done):
    """Figures, findings and profiles of a run in a batch equal those of `solve`, exactly."""
    table = load_study(done)
    with h5py.File(done) as file:
        profile, shell, distance = (
            file[name][...] for name in ("surface_temperature", "shell_thickness", "distance")
        )
    for run in range(small.runs):
        if small.values(run)[WIDTH] == 200:
            continue
        result = solve(small.case.replace(small.values(run)))
        for name, value in result.summary.items():
            np.testing.assert_array_equal(table.columns[name][run], value, err_msg=name)
        judgement = judge(result)
        assert table.columns["breakout_risk"][run] == BREAKOUT[judgement.breakout.words]
        found = {f.name: f for f in judgement.findings}
        for i, name in enumerate(table.finding):
            verdict = found[name].verdict if name in found else "no such limit"
            assert table.columns["verdict"][run, i] == VERDICT[verdict]
            if name in found:
                assert (table.columns["value"][run, i] == found[name].value) or np.isnan(found[name].value)
                np.testing.assert_array_equal(table.columns["margin"][run, i], found[name].margin)
        np.testing.assert_array_equal(distance, result.distance)
        for side in range(2):
            np.testing.assert_array_equal(profile[run, side], result.surface_temperature[0].astype("f4"))
            np.testing.assert_array_equal(shell[run, side], result.shell_thickness[0, 1].astype("f4"))


@pytest.mark.parametrize("chunk", [1, 3, 64])
def test_the_file_does_not_depend_on_the_chunks(small, done, tmp_path, chunk):
    run_study(small, tmp_path / "s.h5", chunk=chunk)
    assert contents(tmp_path / "s.h5") == contents(done)


@pytest.mark.parametrize("size", [1, 30_000])
def test_the_file_does_not_depend_on_how_much_is_put_into_it_at_a_time(
    small, done, tmp_path, monkeypatch, size
):
    monkeypatch.setattr(study_writer, "AT_ONCE", size)
    run_study(small, tmp_path / "s.h5", chunk=1)
    assert contents(tmp_path / "s.h5") == contents(done)


@pytest.mark.parametrize("count", [1, 2, 4])
def test_the_file_does_not_depend_on_the_number_of_threads_nor_who_is_first(
    small, done, tmp_path, count, monkeypatch
):
    honest, order = sweep.chunk_rows, []

    def dawdling(task):
        time.sleep(random.uniform(0, 0.03))
        return honest(task)

    monkeypatch.setattr(sweep, "chunk_rows", dawdling)
    honest_write = Shards.write
    monkeypatch.setattr(Shards, "write", lambda self, i, rows: order.append(i) or honest_write(self, i, rows))
    with ThreadPoolExecutor(count) as threads:
        run_study(small, tmp_path / "s.h5", executor=threads, chunk=1)
    assert sorted(order) == [*range(9)]
    assert contents(tmp_path / "s.h5") == contents(done)


def test_the_file_does_not_depend_on_processes(small, done, tmp_path):
    run_study(small, tmp_path / "s.h5", workers=2, chunk=2)
    assert contents(tmp_path / "s.h5") == contents(done)


def test_runs_do_not_depend_on_their_order(small, done, tmp_path):
    rows = [small.values(run) for run in reversed(range(small.runs))]
    run_study(make_study(small.case, rows=rows, keep=small.keep), tmp_path / "s.h5", chunk=4)
    forth, back = load_study(done), load_study(tmp_path / "s.h5")
    for name, values in forth.columns.items():
        np.testing.assert_array_equal(values[::-1], back.columns[name], err_msg=name)


def test_headline_fractions_may_differ_within_a_study(bloom, tmp_path):
    study = make_study(bloom, {"shell.solid_fraction": [0.7, 0.8]})
    run_study(study, tmp_path / "s.h5")
    table = load_study(tmp_path / "s.h5")
    assert table.solid_fraction.tolist() == [0.3, 0.7, 1.0]
    assert not table.columns["status"].any()
    assert table.columns["k_mould_exit"][0] > table.columns["k_mould_exit"][1]


def test_a_batch_takes_cases_with_headline_fractions_of_their_own(bloom):
    cases = [bloom.replace({"shell.solid_fraction": f}) for f in (0.7, 0.8, 0.7)]
    for case, result in zip(cases, solve_many(cases), strict=True):
        np.testing.assert_array_equal(result.shell_thickness, solve(case).shell_thickness)


def test_the_share_of_breaches_is_that_of_a_known_distribution(bloom, tmp_path):
    """Superheat drawn normal, 28 +- 5 K, against its own window: the tails of the normal distribution say it."""
    vary = {SUPERHEAT: {"mean": 28, "sd": 5}}
    study = make_study(bloom, vary, sampling="sobol", runs=256, keep=["findings"])
    run_study(study, tmp_path / "s.h5")
    table = load_study(tmp_path / "s.h5")
    place = table.finding.index("superheat_window")
    low, high = table.columns["limit"][0, place]
    known = 1 - 0.5 * (math.erf((high - 28) / 5 / math.sqrt(2)) - math.erf((low - 28) / 5 / math.sqrt(2)))
    found = (table.columns["verdict"][:, place] == VERDICT["breached"]).mean()
    assert 0.05 < known < 0.2
    assert abs(found - known) <= 2 / 256  # one draw in each of 256 equal shares


@pytest.mark.parametrize(
    ("runs", "workers", "chunk"), [(9, 2, 8), (256, 2, 32), (256, 32, 8), (10**5, 2, 128)]
)
def test_every_worker_has_chunks_of_a_small_study(bloom, tmp_path, runs, workers, chunk):
    class Stop(ThreadPoolExecutor):
        def submit(self, fn, task):
            raise KeyboardInterrupt(len(task.changes))

    study = make_study(bloom, {SPEED: {"from": 0.6, "to": 0.9, "steps": runs}})
    with Stop(workers) as executor, pytest.raises(KeyboardInterrupt, match=f"^{chunk}$"):
        run_study(study, tmp_path / "s.h5", executor=executor)


# Failures


def test_a_run_that_fails_keeps_its_row_and_its_reason(small, done):
    table = load_study(done)
    bad = table.inputs[WIDTH] == 200
    assert bad.sum() == 3
    assert table.columns["status"].tolist() == bad.astype(int).tolist()
    assert all(
        ("thickness" in reason) == is_bad for reason, is_bad in zip(table.columns["reason"], bad, strict=True)
    )
    assert np.isnan(table.columns["metallurgical_length"][bad]).all()
    assert np.isfinite(table.columns["metallurgical_length"][~bad]).all()
    assert (table.columns["verdict"][bad] == VERDICT["no such limit"]).all()
    text = sweep_text(done)
    assert "9 runs, 3 failed" in text
    assert "3, run 2 first: section.thickness_mm" in text


def test_a_poisoned_run_does_not_stop_the_rest(bloom, tmp_path, monkeypatch):
    """Whatever a run does that nobody foresaw, the others of its chunk come out, and it says what it was."""
    honest = sweep.solve_stacked

    def poisoned(cases, **options):
        if any(case.casting.superheat_K == 21 for case in cases):
            raise ZeroDivisionError("poison")
        return honest(cases, **options)

    monkeypatch.setattr(sweep, "solve_stacked", poisoned)
    study = make_study(bloom, {SUPERHEAT: [20, 21, 22, 23]}, keep=["summary"])
    assert run_study(study, tmp_path / "s.h5").failed == 1
    table = load_study(tmp_path / "s.h5")
    assert table.columns["status"].tolist() == [0, 1, 0, 0]
    assert table.columns["reason"][1] == "unexpected: ZeroDivisionError: poison"
    alone = solve(bloom.replace({SUPERHEAT: 22}))
    assert table.columns["metallurgical_length"][2] == alone.summary["metallurgical_length"]


@pytest.mark.full
def test_poisoned_runs_among_thousands_do_not_stop_the_rest(bloom, tmp_path, monkeypatch):
    """Of 2,048 runs one is no case and one fails in a way nobody foresaw; each neighbour is as it would be alone."""
    honest = sweep.solve_stacked

    def poisoned(cases, **options):
        if any(case.casting.superheat_K == 30.5 for case in cases):
            raise ZeroDivisionError("poison")
        return honest(cases, **options)

    monkeypatch.setattr(sweep, "solve_stacked", poisoned)
    rows = [{SUPERHEAT: 20 + 10 * i / 2048} for i in range(2048)]
    rows[700], rows[1500] = {WIDTH: 200}, {SUPERHEAT: 30.5}
    coarse = bloom.replace({"steps.nodes": 20, "steps.output_step_m": 0.5})
    study = make_study(coarse, rows=rows, keep=["summary"])
    assert run_study(study, tmp_path / "s.h5").failed == 2
    table = load_study(tmp_path / "s.h5").columns
    assert np.flatnonzero(table["status"]).tolist() == [700, 1500]
    assert "thickness" in table["reason"][700]
    assert "poison" in table["reason"][1500]
    for run in (0, 699, 701, 1472, 1499, 1501, 2047):
        alone = solve(coarse.replace(rows[run])).summary["metallurgical_length"]
        assert table["metallurgical_length"][run] == alone


def test_warnings_are_kept_with_the_run_they_belong_to(bloom, tmp_path):
    """Those that the base case has as well are not said again."""
    name = 'zone."spray 3".water_L_per_min'
    study = make_study(bloom.replace({name: 46}), {name: [46, 0.05]})
    run_study(study, tmp_path / "s.h5")
    usual, dry = load_study(tmp_path / "s.h5").columns["warning"]
    assert usual == ""
    assert "in spray 3, made for" in dry


def test_machines_that_round_differently_are_named(small, tmp_path, monkeypatch):
    """A study begun on one processor and ended on another."""
    monkeypatch.setattr(sweep, "machine", lambda: "An older processor")
    interrupted(small, tmp_path / "s.h5", 4)
    monkeypatch.undo()
    run_study(small, tmp_path / "s.h5")
    assert load_study(tmp_path / "s.h5").marched_on == ("An older processor", sweep.machine())
    assert "last digits may:\n  An older processor\n  Linux" in sweep_text(tmp_path / "s.h5")


def test_a_study_of_one_machine_names_it_and_says_nothing(done):
    (only,) = load_study(done).marched_on
    assert only == sweep.machine()
    assert f"numpy {np.__version__}" in only
    assert "digits" not in sweep_text(done)


# Nothing lost


FORKS = """
import os, sys
from solidify.strand.solve import solve
from solidify.study.definition import read_study
from solidify.study.run import run_study
study = read_study(sys.argv[1])
solve(study.case)  # compiled and loaded, so that the children begin at once
for path in sys.stdin:
    child = os.fork()
    if not child:
        run_study(study, path.strip(), chunk=2)
        os._exit(0)
    print(child, flush=True)
    print(os.waitpid(child, 0)[1], flush=True)
"""
"""For each path on its input: a child that works on the study, its number, and how it ended."""


@pytest.mark.skipif(not hasattr(os, "fork"), reason="forks")
@pytest.mark.full
def test_killed_at_any_moment_it_goes_on_and_ends_the_same(tmp_path):
    """kill -9 at moments drawn afresh, half of them while the file is put together; the data are always the same."""
    (tmp_path / "bloom.toml").write_text((CASES / "bloom.toml").read_text())
    (tmp_path / "s.toml").write_text(
        'case = "bloom.toml"\nkeep = ["summary", "findings", "profiles"]\n'
        f"[vary]\n{SPEED} = {{ from = 0.6, to = 0.9, steps = 12 }}\n{WIDTH} = [300, 200]\n"
    )
    study = read_study(tmp_path / "s.toml")
    run_study(study, tmp_path / "whole.h5", chunk=2)
    whole, draw, kills, late = contents(tmp_path / "whole.h5"), random.Random(), 0, 0
    command = [sys.executable, "-c", FORKS, tmp_path / "s.toml"]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        for attempt in range(10):
            path = tmp_path / f"{attempt}.h5"
            folder = path.with_name(path.name + ".parts")
            for wanted in (draw.randint(0, 11), 12):  # of 12 chunks: one study is killed twice
                print(path, file=process.stdin, flush=True)
                child = int(process.stdout.readline())
                until = time.monotonic() + 10
                while not path.exists() and len([*folder.glob("0*.npz")]) < wanted:
                    assert time.monotonic() < until, "the study does not go on"
                    time.sleep(0.0005)
                time.sleep(draw.uniform(0.0, 0.03))
                os.kill(child, signal.SIGKILL)
                killed = int(process.stdout.readline()) == signal.SIGKILL
                kills += killed
                late += killed and wanted == 12
            run_study(study, path)
            assert contents(path) == whole
            assert not folder.exists()
        process.stdin.close()
    assert kills >= 12
    assert late >= 3


def interrupted(study, path, after, chunk=2):
    """Stop a study when some runs are done."""

    def stop(done, failed, found):
        if done >= after:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        run_study(study, path, chunk=chunk, progress=stop)


def test_what_was_finished_is_not_marched_again(small, done, tmp_path, monkeypatch):
    interrupted(small, tmp_path / "s.h5", 4)
    marched = []
    honest = sweep.chunk_rows
    monkeypatch.setattr(sweep, "chunk_rows", lambda task: marched.append(len(task.changes)) or honest(task))
    outcome = run_study(small, tmp_path / "s.h5", chunk=5)  # it keeps its chunks of 2
    assert outcome.found >= 4
    assert outcome.failed == 3
    assert sum(marched) == 9 - outcome.found
    assert contents(tmp_path / "s.h5") == contents(done)


def test_a_finished_study_is_not_marched_again(small, done, monkeypatch):
    monkeypatch.setattr(sweep, "chunk_rows", None)
    outcome = run_study(small, done)
    assert (outcome.runs, outcome.failed, outcome.found) == (9, 3, 9)


def test_rubbish_of_a_killed_writer_is_cleared_away(small, done, tmp_path, monkeypatch):
    interrupted(small, tmp_path / "s.h5", 2)
    folder = tmp_path / "s.h5.parts"
    for name in (".0000003.npz.abc.part", "merged.part"):
        (folder / name).write_bytes(b"half a")
    run_study(small, tmp_path / "s.h5")
    assert contents(tmp_path / "s.h5") == contents(done)
    assert [p.name for p in tmp_path.iterdir()] == ["s.h5"]


def test_a_full_disk_loses_nothing(small, done, tmp_path, monkeypatch):
    """The disk fills up while a chunk is written, and later has room again."""
    from solidify import files

    honest, count = files._write, []

    def full(path, content):
        count.append(path)
        if len(count) == 4:
            raise OSError(28, "No space left on device")
        honest(path, content)

    monkeypatch.setattr(files, "_write", full)
    with pytest.raises(InputError, match="disk is full"):
        run_study(small, tmp_path / "s.h5", chunk=2)
    assert not (tmp_path / "s.h5").exists()
    outcome = run_study(small, tmp_path / "s.h5")
    assert outcome.found == 4
    assert contents(tmp_path / "s.h5") == contents(done)


@pytest.mark.parametrize("share", [0.3, 0.6, 0.9])
def test_a_disk_that_fills_up_at_the_end_loses_nothing(small, done, tmp_path, share):
    """While the chunks are put together; here a limit on the size of a file is what refuses."""
    resource = pytest.importorskip("resource")
    interrupted(small, tmp_path / "s.h5", small.runs, chunk=1)
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (int(share * done.stat().st_size), hard))
    try:
        with pytest.raises(InputError, match="may not grow so large"):
            run_study(small, tmp_path / "s.h5")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert not (tmp_path / "s.h5").exists()
    assert run_study(small, tmp_path / "s.h5").found == small.runs
    assert contents(tmp_path / "s.h5") == contents(done)


def test_a_disk_that_refuses_still_gives_back_what_was_written(tmp_path):
    """HDF5 reads again what it wrote, and ends the process where it finds other bytes."""
    resource = pytest.importorskip("resource")
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    found = bytearray(260)

    def fill():
        with study_writer._Patient(tmp_path / "s.h5") as disk:
            for place, byte, count in ((0, b"a", 200), (150, b"b", 100), (240, b"c", 20)):
                disk.seek(place)
                assert disk.write(byte * count) == count
            disk.seek(0)
            assert disk.readinto(found) == 260

    resource.setrlimit(resource.RLIMIT_FSIZE, (100, hard))
    try:
        with pytest.raises(OSError, match="large"):
            fill()
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert found == b"a" * 150 + b"b" * 90 + b"c" * 20


def test_a_dead_worker_is_said_and_the_study_goes_on(small, done, tmp_path):
    with ProcessPoolExecutor(1, mp_context=multiprocessing.get_context("spawn")) as processes:
        os.kill(processes.submit(os.getpid).result(), signal.SIGKILL)
        with pytest.raises(SolidifyError, match="a worker process died"):
            run_study(small, tmp_path / "s.h5", executor=processes, chunk=2)
    run_study(small, tmp_path / "s.h5")
    assert contents(tmp_path / "s.h5") == contents(done)


@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="looks for children in /proc")
@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGINT])
def test_no_worker_outlives_the_command(tmp_path, how):
    """Killed or interrupted: the processes that march end too, and what was finished is gone on with."""
    (tmp_path / "bloom.toml").write_text((CASES / "bloom.toml").read_text())
    (tmp_path / "s.toml").write_text(
        f'case = "bloom.toml"\n[vary]\n{SPEED} = {{ from = 0.6, to = 0.9, steps = 5000 }}\n'
    )
    command = [sys.executable, "-m", "solidify", "sweep", "s.toml", "--workers", "2"]
    process = subprocess.Popen(
        command, cwd=tmp_path, stderr=subprocess.PIPE, text=True, start_new_session=True
    )
    folder = tmp_path / "s.h5.parts"
    while len([*folder.glob("0*.npz")]) < 2:
        assert process.poll() is None
        time.sleep(0.01)
    children = Path(f"/proc/{process.pid}/task/{process.pid}/children").read_text().split()
    assert len(children) >= 2
    if how == signal.SIGINT:
        os.killpg(process.pid, how)  # as a terminal does: to all of them
    else:
        process.send_signal(how)
    _, said = process.communicate(timeout=60)
    assert "Traceback" not in said
    if how == signal.SIGINT:
        assert process.returncode == 1
        assert "solidify: stopped" in said
    until = time.monotonic() + 30
    while any(Path(f"/proc/{child}").exists() for child in children):
        assert time.monotonic() < until, "a worker lives on"
        time.sleep(0.05)
    assert len([*folder.glob("0*.npz")]) >= 2


def test_another_study_of_the_same_name_is_refused(bloom, small, done, tmp_path, monkeypatch):
    other = make_study(bloom, {SPEED: [0.7]})
    before = done.read_bytes()
    with pytest.raises(InputError, match="another study stands here"):
        run_study(other, done)
    assert done.read_bytes() == before
    interrupted(small, tmp_path / "s.h5", 2)
    with pytest.raises(InputError, match="finished chunks of another study"):
        run_study(other, tmp_path / "s.h5")
    (tmp_path / "notes.h5").write_text("mine")
    with pytest.raises(InputError, match="another file stands here"):
        run_study(other, tmp_path / "notes.h5")
    assert (tmp_path / "notes.h5").read_text() == "mine"


def own_steel(latent):
    """A property file of an invented steel."""
    rows = ("20,0,30,1,7800", "1400,950,31,1,7300", f"1500,{1000 + latent},33,0,7000", "1600,1400,33,0,6950")
    head = "temperature_C,enthalpy_kJ_per_kg,conductivity_W_per_mK,solid_fraction,density_kg_per_m3"
    return "\n".join([head, *rows]) + "\n"


@pytest.fixture
def owned(tmp_path):
    """A case with a property file of its own, and another beside it."""
    for name, latent in (("a.csv", 250), ("b.csv", 290)):
        (tmp_path / name).write_text(own_steel(latent))
    text = (CASES / "bloom.toml").read_text()
    (tmp_path / "own.toml").write_text(
        "\n".join(
            'property_file = "a.csv"' if "composition =" in line else line for line in text.splitlines()
        )
    )
    return tmp_path / "own.toml"


@pytest.mark.parametrize("changed", ["a.csv", "b.csv"])
def test_a_study_does_not_go_on_with_a_changed_property_file(owned, changed):
    """Neither that of the case nor one that runs name; what was begun is marched with what it was begun with."""

    def study():
        return make_study(
            read_case(owned), {PROPERTIES: ["a.csv", "b.csv"], SPEED: [0.7, 0.75]}, keep=["summary"]
        )

    begun = study()
    path = owned.parent / "s.h5"
    interrupted(begun, path, 2)
    (owned.parent / changed).write_text(own_steel(270))
    with pytest.raises(InputError, match="chunks of another study stand here: another case or property file"):
        run_study(study(), path)
    assert run_study(begun, path).failed == 0
    with pytest.raises(InputError, match="another study stands here: another case or property file"):
        run_study(study(), path)
    lengths = load_study(path).columns["metallurgical_length"]
    for file, latent, found in (("a.csv", 250, lengths[0]), ("b.csv", 290, lengths[2])):
        (owned.parent / file).write_text(own_steel(latent))
        alone = read_case(owned).replace({PROPERTIES: file, SPEED: 0.7})
        assert found == solve(alone).summary["metallurgical_length"]


def test_property_files_that_cannot_be_read_are_told_at_once(owned):
    case = read_case(owned)
    (owned.parent / "c.csv").write_bytes(b"\xff")
    with pytest.raises(InputError, match=r"(?s)property_file = \"d.csv\": no such.*mean '[abc].csv'.*0.01"):
        make_study(case, {PROPERTIES: ["a.csv", "d.csv"], SPEED: [0.01]})
    with pytest.raises(InputError, match=r"rows2: steel.property_file = \"d.csv\": no such"):
        make_study(case, rows=[{PROPERTIES: "b.csv"}, {PROPERTIES: "d.csv"}])
    with pytest.raises(InputError, match=r"c.csv: not text in UTF-8"):
        make_study(case, {PROPERTIES: ["a.csv", "c.csv"]})


def test_two_processes_do_not_work_on_one_study(small, tmp_path):
    def again(done, failed, found):
        with pytest.raises(InputError, match="another process"):
            run_study(small, tmp_path / "s.h5")

    run_study(small, tmp_path / "s.h5", progress=again)


@pytest.mark.parametrize(
    "change",
    [
        lambda case: make_study(case.replace({SUPERHEAT: 29}), {SPEED: [0.7]}),
        lambda case: make_study(case, {SPEED: [0.71]}),
        lambda case: make_study(case, {SPEED: [0.7]}, keep=["summary"]),
        lambda case: make_study(case, {SPEED: [0.7], SUPERHEAT: [28]}),
    ],
)
def test_whatever_changes_a_result_makes_another_study(bloom, change):
    assert change(bloom).fingerprint != make_study(bloom, {SPEED: [0.7]}).fingerprint


def test_a_study_begun_without_a_figure_is_another_study(bloom, monkeypatch):
    """Its finished chunks do not have it."""
    whole = make_study(bloom, {SPEED: [0.7]}).fingerprint
    monkeypatch.delitem(study_schema.SUMMARY, "length_at_solid_fraction_0_3")
    assert make_study(bloom, {SPEED: [0.7]}).fingerprint != whole


# Memory


@pytest.mark.parametrize("runs", [8, 32])
def test_no_more_strands_are_in_memory_than_a_chunk_has(bloom, tmp_path, monkeypatch, runs):
    """Counted, not weighed: strands alive when a chunk is written, whatever the number of runs."""
    alive = []

    def strands():
        gc.collect()
        return sum(len(thing) for thing in gc.get_objects() if isinstance(thing, Results))

    def count(done, failed, found):
        alive.append(strands())

    before = strands()
    study = make_study(bloom, {SPEED: {"from": 0.7, "to": 0.8, "steps": runs}}, keep=["summary"])
    run_study(study, tmp_path / "s.h5", chunk=4, progress=count)
    assert len(alive) == runs // 4 + 1
    assert max(alive) - before <= 2 * 4


def test_chunks_are_given_out_a_few_at_a_time(bloom, tmp_path):
    """Counted where they are given out: what waits to be marched or written does not grow with the study."""
    given, written, most = [], [0], []

    class Counting(ThreadPoolExecutor):
        def submit(self, *arguments):
            given.append(super().submit(*arguments))
            most.append(len(given) - written[-1])
            return given[-1]

    study = make_study(bloom, {SPEED: {"from": 0.7, "to": 0.8, "steps": 40}}, keep=["summary"])
    with Counting(2) as threads:
        run_study(
            study,
            tmp_path / "s.h5",
            chunk=1,
            executor=threads,
            progress=lambda done, failed, found: written.append(done),
        )
    assert len(given) == written[-1] == 40
    assert max(most) <= 2 * 2


# The file and what is said


def test_other_readers_see_labelled_runs_with_units(done):
    with xarray.open_dataset(done, engine="h5netcdf") as data:
        assert data.metallurgical_length.dims == ("run",)
        assert data.metallurgical_length.units == "m"
        assert data.shell_at_mould_exit.dims == ("run", "solid_fraction")
        assert data.margin.sel(finding="shell_floor", run=1) > 0
        assert data[SPEED].units == "m min-1"
        assert data[SPEED].attrs["key_path"] == SPEED
        assert data.surface_temperature.dims == ("run", "side", "distance")
        assert data.verdict.attrs["flag_meanings"].split()[3] == "breached"
        assert data.attrs["file_type"] == "solidify study"


def test_a_study_is_told_from_other_files_and_keeps_units_and_the_base_case(bloom, done, tmp_path):
    (tmp_path / "words.h5").write_text("no study")
    assert is_study(done)
    assert not is_study(tmp_path / "words.h5")
    with pytest.raises(InputError, match="no such result or study file"):
        is_study(tmp_path / "nothing.h5")
    table = load_study(done)
    assert table.units[SPEED] == "m/min"
    assert table.units[WIDTH] == "mm"
    assert table.units["metallurgical_length"] == "m"
    assert table.units["k_mould_exit"] == "mm min-1/2"
    assert table.units["reason"] == ""
    assert table.effective == bloom.effective_toml()


def test_every_number_has_a_unit_or_says_why_not(done):
    with h5py.File(done) as file:
        for name, data in file.items():
            if isinstance(data, h5py.Dataset) and data.dtype.kind in "fi":
                assert {"units", "units_note", "flag_values"} & set(data.attrs), name
                assert data.attrs["long_name"]


def test_a_log_gets_sparse_lines():
    ticks = iter([0.0, 0.0, 10.0, 20.0, 31.0, 40.0, 50.0])
    stream = io.StringIO()
    with Progress(100, stream, clock=lambda: next(ticks)) as progress:
        for done in (20, 30, 40, 60, 80, 100):
            progress(done, 1 if done > 50 else 0, 20)
    assert stream.getvalue().splitlines() == [
        "20 of 100 runs",
        "60 of 100 runs, 1 failed, 1 a second, 31 s left",
        "100 of 100 runs, 1 failed, 2 a second",
    ]


def test_a_terminal_gets_a_bar():
    class Terminal(io.StringIO):
        def isatty(self):
            return True

    stream = Terminal()
    with Progress(100, stream) as progress:
        progress(40, 2, 20)
    assert "40/100" in stream.getvalue()
    assert "failed=2" in stream.getvalue()


def test_the_verb_runs_a_study_and_says_what_came_of_it(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("bloom.toml").write_text((CASES / "bloom.toml").read_text())
    Path("s.toml").write_text(
        f'case = "bloom.toml"\n[vary]\n"{SPEED}" = [0.7, 1.1]\n"{WIDTH}" = [300, 200]\n'
    )
    assert main(["sweep", "s.toml", "--workers", "1"]) == 0
    out, err = capsys.readouterr()
    assert "4 runs, 2 failed" in out
    assert "2, run 2 first: section.thickness_mm" in out
    assert "median" in out
    assert "written: s.h5" in out
    assert "4 of 4 runs, 2 failed" in err
    assert main(["sweep", "s.toml"]) == 0
    assert "4 of 4 runs were finished before" in capsys.readouterr().err
    Path("s.toml").write_text(Path("s.toml").read_text().replace("1.1", "1.2"))
    assert main(["sweep", "s.toml"]) == 2
    assert "another study stands here" in capsys.readouterr().err


def test_a_drawn_study_says_how_sure_its_shares_are(bloom, tmp_path):
    study = make_study(bloom, {SPEED: {"low": 0.7, "high": 1.5}}, sampling="sobol", runs=16)
    run_study(study, tmp_path / "s.h5")
    table = load_study(tmp_path / "s.h5")
    place = table.finding.index("liquid_core_straightener")
    share = (table.columns["verdict"][:, place] == VERDICT["breached"]).mean()
    assert 0 < share < 1
    k = round(16 * share)
    low, high = 100 * betaincinv(k, 17 - k, 0.025), 100 * betaincinv(k + 1, 16 - k, 0.975)
    assert f"{100 * share:.1f} %  {low:.1f} to {high:.1f} %" in sweep_text(tmp_path / "s.h5")


@pytest.mark.full
def test_the_process_that_compiles_rounds_like_the_ones_that_find_the_cache(tmp_path):
    """Else a study stopped in its first minute would go on with other last bits."""
    code = (
        "import hashlib, sys; from solidify.case import read_case; from solidify.strand.solve import solve_many\n"
        "case = read_case(sys.argv[1])\n"
        "made = solve_many([case.replace({'casting.speed_m_per_min': 0.6 + 0.01 * i}) for i in range(30)])\n"
        "print(hashlib.sha256(b''.join(r.surface_temperature.tobytes() for r in made)).hexdigest())"
    )
    environment = {**os.environ, "NUMBA_CACHE_DIR": str(tmp_path)}
    said = [
        subprocess.run(
            [sys.executable, "-c", code, CASES / "bloom.toml"],
            env=environment,
            capture_output=True,
            check=True,
        ).stdout
        for _ in range(2)
    ]
    assert said[0] == said[1]
