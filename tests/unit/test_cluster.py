"""A study on a Dask cluster of real processes: the same data whoever dies, and a clear word where it cannot go on."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import time
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path

import h5py
import pytest

from solidify.case import read_case
from solidify.cli import main
from solidify.errors import InputError, SolidifyError
from solidify.storage.study_file import load_study
from solidify.study import cluster as room
from solidify.study import speed_range as ceiling
from solidify.study.cluster import cluster
from solidify.study.definition import make_study
from solidify.study.run import run_study
from solidify.study.speed_range import speed_ceilings

CASES = Path(__file__).parents[2] / "cases"
SPEED, SUPERHEAT, WIDTH = "casting.speed_m_per_min", "casting.superheat_K", "section.width_mm"
DEADLY = 21

POISON = f"""
import os
from solidify.strand.solve import solve_stacked
from solidify.study import run, speed_range
def deadly(cases, **options):
    if any(case.casting.superheat_K == {DEADLY} for case in cases):
        os._exit(9)
    return solve_stacked(cases, **options)
run.solve_stacked = speed_range.solve_stacked = deadly
"""
"""Told to every worker before it starts: one superheat ends the process, as a lack of memory would."""


@contextmanager
def running(folder, *command, **more):
    """One process of Dask, killed at the end with all that it started."""
    environment = {**os.environ, "DASK_CONFIG": str(folder), **more}
    environment["DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES"] = "1"
    with (folder / f"{command[0]}.log").open("ab") as log:
        process = subprocess.Popen(
            [sys.executable, "-m", "dask", *command],
            cwd=folder,
            env=environment,
            stdout=log,
            stderr=log,
            start_new_session=True,
        )
        try:
            yield process
        finally:
            with suppress(ProcessLookupError):
                os.killpg(process.pid, signal.SIGKILL)
            process.wait()


@contextmanager
def scheduler(folder):
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = ("scheduler", "--host", "127.0.0.1", "--port", str(port), "--no-dashboard", "--no-show")
    with running(folder, *command) as process:
        until = time.monotonic() + 15
        while True:
            try:
                socket.create_connection(("127.0.0.1", port), timeout=1).close()
                break
            except OSError:
                assert time.monotonic() < until, (folder / "scheduler.log").read_text()
                time.sleep(0.05)
        yield f"tcp://127.0.0.1:{port}", process


def workers(folder, address, count, **more):
    (folder / "poison.py").write_text(POISON)
    options = ["--nworkers", str(count), "--nthreads", "1", "--no-dashboard", "--preload", "poison.py"]
    return running(folder, "worker", address, *options, "--local-directory", str(folder), **more)


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    """A scheduler and three workers, each a process of its own with a nanny that starts it again."""
    folder = tmp_path_factory.mktemp("cluster")
    with ExitStack() as stack:
        at, _ = stack.enter_context(scheduler(folder))
        stack.enter_context(workers(folder, at, 3))
        yield at


@pytest.fixture(scope="module")
def bloom():
    return read_case(CASES / "bloom.toml")


@pytest.fixture(scope="module")
def study(bloom):
    vary = {SPEED: {"from": 0.6, "to": 0.9, "steps": 20}, WIDTH: [300, 200]}
    return make_study(bloom, vary, keep=("summary", "findings", "profiles"))


@pytest.fixture(scope="module")
def done(study, tmp_path_factory):
    path = tmp_path_factory.mktemp("done") / "local.h5"
    run_study(study, path, chunk=2)
    return path


def contents(path):
    """All data of a file."""
    found = {}

    def take(name, thing):
        if isinstance(thing, h5py.Dataset):
            data = thing[...]
            found[name] = data.tolist() if data.dtype == object else (data.dtype, data.shape, data.tobytes())

    with h5py.File(path) as file:
        file.visititems(take)
    return found


def test_the_data_are_those_of_one_machine_though_a_worker_is_killed(address, study, done, tmp_path):
    """kill -9 to one of three processes while it works on a chunk."""
    with cluster(address) as executor:
        executor.client.wait_for_workers(3, timeout=20)
        pids = executor.client.run(os.getpid)
        assert len({*pids.values(), os.getpid()}) >= 3

        def kill(finished, failed, found):
            if finished >= 6 and pids:
                busy = [w for w, tasks in executor.client.processing().items() if tasks and w in pids]
                if busy:
                    os.kill(pids[busy[0]], signal.SIGKILL)
                    pids.clear()

        run_study(study, tmp_path / "s.h5", executor=executor, chunk=1, progress=kill)
        assert not pids, "no worker was killed"
    assert contents(tmp_path / "s.h5") == contents(done)


def test_speed_ceilings_are_those_of_one_machine(address, tmp_path, monkeypatch, capsys):
    """The verb marches on the workers, here nothing but the base case; table and page are the same."""
    monkeypatch.chdir(tmp_path)
    Path("bloom.toml").write_text((CASES / "bloom.toml").read_text())
    Path("rows.toml").write_text(f'case = "bloom.toml"\n[vary]\n"{SUPERHEAT}" = [20, 40]\n')
    scan = ["ceiling", "rows.toml", "--between", "0.6", "1.1", "--step", "0.25"]
    assert main([*scan, "--workers", "1", "-o", "here.csv"]) == 0
    here = capsys.readouterr().out
    monkeypatch.setattr(ceiling, "chunk_verdicts", None)
    assert main([*scan, "--scheduler", address, "-o", "there.csv"]) == 0
    there = capsys.readouterr()
    assert f"marching on the cluster at {address}" in there.err
    assert there.out == here.replace("here.csv", "there.csv")
    assert Path("there.csv").read_text() == Path("here.csv").read_text()


def test_strands_of_a_ceiling_that_kill_their_workers_are_told(address, bloom):
    study = make_study(bloom, {SUPERHEAT: [20, DEADLY]})
    told = r"^strands did not come back\n    KilledWorker: [^\n]*\n    start the same command again"
    with cluster(address) as executor, pytest.raises(SolidifyError, match=told):
        speed_ceilings(study, 0.6, 0.9, step=0.3, executor=executor)


@pytest.mark.full
def test_a_chunk_that_kills_its_workers_is_named_and_the_rest_is_finished(address, bloom, tmp_path):
    study = make_study(bloom, {SUPERHEAT: [20, 22, 24, 25, DEADLY, 26, 27, 28, 29, 30]}, keep=["summary"])
    named = r"^runs 5 to 6: KilledWorker: [^\n]*\n    finished runs are safe"
    with cluster(address) as executor, pytest.raises(SolidifyError, match=named):
        run_study(study, tmp_path / "s.h5", executor=executor, chunk=2)
    assert len([*(tmp_path / "s.h5.parts").glob("0*.npz")]) == 4
    assert run_study(study, tmp_path / "s.h5").found == 8  # here nothing is deadly
    run_study(study, tmp_path / "local.h5")
    assert contents(tmp_path / "s.h5") == contents(tmp_path / "local.h5")


def own_steel(latent):
    """A property file of an invented steel."""
    table = "temperature_C,enthalpy_kJ_per_kg,conductivity_W_per_mK,solid_fraction,density_kg_per_m3"
    rows = (
        "20,0,30,1,7800",
        "1400,950,31,1,7300",
        f"1500,{1000 + latent},33,0,7000",
        f"1600,{1080 + latent},33,0,6950",
    )
    return "\n".join([table, *rows]) + "\n"


def test_property_files_travel_with_the_chunks_that_name_them(address, tmp_path):
    """That of the case and those that runs name: gone from the disk, and on no worker, when they are marched."""
    files = [f"{name}.csv" for name in "abc"]
    for name, latent in zip(files, (250, 270, 290), strict=True):
        (tmp_path / name).write_text(own_steel(latent))
    text = re.sub("composition = .*", 'property_file = "a.csv"', (CASES / "bloom.toml").read_text())
    (tmp_path / "own.toml").write_text(text)
    case = read_case(tmp_path / "own.toml")
    study = make_study(case, {"steel.property_file": files, SPEED: [0.7, 0.75]}, keep=["summary"])
    run_study(study, tmp_path / "here.h5")
    lengths = load_study(tmp_path / "here.h5").columns["metallurgical_length"]
    assert len(set(lengths.tolist())) == 6
    for name in files:
        (tmp_path / name).unlink()
    with cluster(address) as executor:
        assert run_study(study, tmp_path / "there.h5", executor=executor, chunk=1).failed == 0
    assert contents(tmp_path / "there.h5") == contents(tmp_path / "here.h5")


@pytest.mark.full
def test_a_scheduler_that_dies_is_told_and_nothing_is_lost(study, done, tmp_path):
    with scheduler(tmp_path) as (at, process), workers(tmp_path, at, 1):

        def kill(finished, failed, found):
            if finished >= 4:
                process.kill()

        with pytest.raises(SolidifyError, match="it went away"), cluster(at) as executor:
            run_study(study, tmp_path / "s.h5", executor=executor, chunk=2, progress=kill)
    assert run_study(study, tmp_path / "s.h5").found >= 4
    assert contents(tmp_path / "s.h5") == contents(done)


@pytest.mark.full
def test_workers_of_another_version_and_without_workers(bloom, tmp_path, monkeypatch):
    other = tmp_path / "other" / "solidify-9.9.9.dist-info"
    other.mkdir(parents=True)
    (other / "METADATA").write_text("Metadata-Version: 2.1\nName: solidify\nVersion: 9.9.9\n")
    monkeypatch.setattr(room, "PATIENCE", 1.0)
    with scheduler(tmp_path) as (at, _):
        with pytest.raises(InputError, match=f"(?s){at}: no workers for 1 s.*dask worker {at}"), cluster(at):
            pass
        monkeypatch.setattr(room, "PATIENCE", 30.0)
        path = os.pathsep.join([str(other.parent), *filter(None, [os.environ.get("PYTHONPATH")])])
        refusal = r"^tcp://[\d.:]+: solidify 9.9.9\s+allowed: solidify 0.1.0, as here"
        with workers(tmp_path, at, 1, PYTHONPATH=path), pytest.raises(InputError, match=refusal), cluster(at):
            pass


@pytest.mark.full
def test_an_interrupt_stops_the_command_and_leaves_the_cluster_free(address, tmp_path):
    (tmp_path / "bloom.toml").write_text((CASES / "bloom.toml").read_text())
    (tmp_path / "s.toml").write_text(
        f'case = "bloom.toml"\n[vary]\n{SPEED} = {{ from = 0.6, to = 0.9, steps = 20000 }}\n'
    )
    command = [sys.executable, "-m", "solidify", "sweep", "s.toml", "--scheduler", address]
    process = subprocess.Popen(command, cwd=tmp_path, stderr=subprocess.PIPE, text=True)
    until = time.monotonic() + 30
    while not [*(tmp_path / "s.h5.parts").glob("0*.npz")]:
        assert process.poll() is None
        assert time.monotonic() < until, "no chunk comes back"
        time.sleep(0.05)
    process.send_signal(signal.SIGINT)
    _, said = process.communicate(timeout=15)
    assert process.returncode == 1
    assert re.search(f"marching on the cluster at {address}, workers: [123], threads: [123]\n", said)
    assert "solidify: stopped" in said
    assert "Traceback" not in said
    with cluster(address) as executor:
        until = time.monotonic() + 10
        while any(executor.client.processing().values()):
            assert time.monotonic() < until, "chunks of a stopped study are still being worked on"
            time.sleep(0.05)


# Before anything is sent


@pytest.fixture
def asked(tmp_path, monkeypatch, capsys):
    """Run the verb with an address and return what it said."""
    monkeypatch.chdir(tmp_path)
    Path("bloom.toml").write_text((CASES / "bloom.toml").read_text())
    Path("s.toml").write_text(f'case = "bloom.toml"\n[vary]\n{SPEED} = [0.7]\n')

    def ask(address):
        assert main(["sweep", "s.toml", "--scheduler", address]) == 2
        assert not Path("s.h5.parts").exists()
        return capsys.readouterr().err

    return ask


def test_a_cluster_and_workers_of_this_machine_are_not_both_asked_for(asked, capsys):
    for verb in ("sweep", "ceiling"):
        assert main([verb, "s.toml", "--scheduler", "tcp://host:8786", "--workers", "2"]) == 2
        assert "either --workers of this machine or the --scheduler" in capsys.readouterr().err


@pytest.mark.parametrize("given", ["host", "tcp://host", "foo://host:8786", "tcp://host:port", "tcp://:8786"])
def test_what_is_no_address_is_refused(asked, given):
    assert re.search(f"scheduler {given}: no address.*\n.*tcp://HOST:PORT", asked(given))


def test_a_scheduler_that_is_not_there_is_told_at_once(asked):
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
        assert f"127.0.0.1:{port}: no scheduler answers" in asked(f"tcp://127.0.0.1:{port}")


def test_what_answers_but_is_no_scheduler_is_told_too(asked, monkeypatch):
    monkeypatch.setattr(room, "ANSWER", 0.3)
    with socket.create_server(("127.0.0.1", 0)) as silent:
        given = f"tcp://127.0.0.1:{silent.getsockname()[1]}"
        assert f"{given}: no scheduler answers: timed out" in asked(given)


def test_encryption_needs_certificates(asked):
    assert "no certificates for TLS" in asked("tls://127.0.0.1:8786")


def test_without_the_library_it_says_what_to_install(asked, monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    assert 'pip install "solidify[cluster]"' in asked("tcp://127.0.0.1:8786")


def test_the_library_is_loaded_for_a_scheduler_only():
    code = "import sys, solidify.study.cluster, solidify.study.run; print('distributed' in sys.modules)"
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert said == "False\n"
