"""The command line: verbs, exit statuses, plain text, refusals in one block and nothing half written."""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import solidify
from solidify import cli
from solidify.cli import main, terminal

SHIPPED = Path(solidify.__file__).parent / "data" / "cases"
VERBS = sorted(cli.commands.commands)

THREE_MISTAKES = {
    "speed_m_per_min = 0.75": "sped_m_per_min = 0.75",
    "thickness_mm = 250": "thickness_mm = 25000",
    'lubricant = "powder"': 'lubricant = "powdr"',
}


@pytest.fixture(autouse=True)
def _folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(terminal, "ANNOUNCE_AFTER", 3600.0)  # the first test to march may have to compile


@pytest.fixture
def say(capsys):
    """Run the command line here; status, standard output, standard error."""

    def run(*arguments):
        status = main([str(a) for a in arguments])
        captured = capsys.readouterr()
        return status, captured.out, captured.err

    return run


@pytest.fixture(scope="module")
def solved(tmp_path_factory):
    """A result file of the shipped bloom."""
    path = tmp_path_factory.mktemp("solved") / "bloom.h5"
    assert main(["run", str(SHIPPED / "bloom.toml"), "-o", str(path), "--no-pictures"]) == 0
    return path


def process(*arguments, **options):
    """Run the command line as a process of its own."""
    command = [sys.executable, "-W", "error", "-m", "solidify", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, encoding="utf-8", **options)


def one_block(error):
    """True for what an expected error prints: a heading line and indented details a problem, no traceback."""
    return error.startswith("solidify: ") and "Traceback" not in error and "\n\n" not in error


# Help


def test_help_lists_every_verb_with_its_line(say):
    status, out, err = say("--help")
    assert (status, err) == (0, "")
    for verb in VERBS:
        assert re.search(rf"^  {verb} +[A-Z].*\.$", out, re.MULTILINE), verb
    assert "..." not in out.split("Commands:")[1], "a first line is too long to be shown"
    assert "no detector and no permission" in " ".join(out.split())


@pytest.mark.parametrize("verb", VERBS)
def test_help_of_every_verb_has_an_example_that_the_verb_takes(say, verb):
    status, out, _ = say(verb, "--help")
    assert status == 0
    example = re.search(rf"Examples?:\n +solidify {verb} (.*)", out)
    assert example, out
    for option in re.findall(r"(?:^| )(--?[a-z-]+)", example[1]):
        assert option in out.split("Example")[0]


def test_a_verb_misspelt_names_the_closest(say):
    status, _, err = say("chek", "a.toml")
    assert status == 2
    assert "check" in err


def test_help_and_version_come_without_the_heavy_libraries():
    code = (
        "import sys; from solidify.cli import main\n"
        "assert main(['--help']) == main(['--version']) == main(['run', '--help']) == 0\n"
        "print(*sys.modules, file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", code], capture_output=True, text=True, check=True
    )
    assert f"solidify, version {solidify.__version__}" in done.stdout
    assert not {"numpy", "numba", "scipy", "h5py", "matplotlib", "pydantic"} & set(done.stderr.split())


def test_python_dash_m_is_the_same_program():
    done = process("--version")
    assert (done.returncode, done.stdout.strip()) == (0, f"solidify, version {solidify.__version__}")


# run


def test_run_writes_the_result_under_the_cases_name_here_and_prints_the_summary(say):
    shutil.copy(SHIPPED / "bloom.toml", "tuesday.toml")
    status, out, err = say("run", "tuesday.toml", "--no-pictures")
    assert (status, err) == (0, "")
    assert sorted(os.listdir()) == ["tuesday.h5", "tuesday.toml"]
    assert out.rstrip().endswith("written: tuesday.h5")
    assert solidify.load("tuesday.h5").case == solidify.read_case("tuesday.toml")
    judgement = solidify.load_judgement("tuesday.h5")
    assert re.search(rf"Breakout risk +{judgement.breakout.words}", out)
    assert judgement.breakout.statement in out


def test_run_without_a_case_runs_the_shipped_one_and_says_it_is_invented(say):
    status, out, err = say("run", "--no-pictures")
    assert status == 0
    assert "invented plant" in err
    assert "invented plant" in out
    assert solidify.load("bloom.h5").case == solidify.read_case(SHIPPED / "bloom.toml")


def test_run_with_accuracy_adds_the_numerical_error_of_the_figures(say):
    status, out, _ = say("run", "--accuracy", "--no-pictures")
    assert status == 0
    block = out[out.index("Numerical error") :]
    assert re.search(r"shell at mould exit +\d+\.\d\d mm  (±|below) [\d.]+ mm", block)
    assert re.search(r"end of solidification +\d+\.\d+ m  (±|below) [\d.]+ m", block)
    assert "Numerical error" not in say("run", "--no-pictures")[1]


def test_run_writes_pictures_beside_the_result(say):
    os.mkdir("deep")
    status, out, _ = say("run", "-o", "deep/mine.h5")
    assert status == 0
    written = sorted(os.listdir("deep"))
    assert "mine.h5" in written
    assert "mine.png" in written
    assert all(f"{Path('deep', name)}" in out for name in written)


def test_a_breached_limit_is_a_finding_unless_asked_to_count(say):
    text = (SHIPPED / "bloom.toml").read_text(encoding="utf-8")
    Path("a.toml").write_text(
        re.sub(r"^superheat_K = \d+", "superheat_K = 60", text, flags=re.M), encoding="utf-8"
    )
    assert say("run", "a.toml", "--no-pictures")[0] == 0
    status, out, err = say("run", "a.toml", "--no-pictures", "--fail-on", "breached")
    assert (status, err) == (3, "")
    assert "breached" in out
    assert os.path.exists("a.h5")


def test_fail_on_breached_is_0_when_every_limit_is_met(say):
    assert say("run", "--no-pictures", "--fail-on", "breached")[0] == 0


def test_three_mistakes_come_in_one_block_with_nothing_written(say):
    text = (SHIPPED / "bloom.toml").read_text(encoding="utf-8")
    for right, wrong in THREE_MISTAKES.items():
        text, count = re.subn(rf"^{re.escape(right)}", wrong, text, flags=re.M)
        assert count == 1, right
    Path("bad.toml").write_text(text, encoding="utf-8")
    for verb in ("run", "check"):
        status, out, err = say(verb, "bad.toml")
        assert (status, out) == (2, "")
        assert one_block(err)
        for wrong in ("sped_m_per_min", "25000", "powdr"):
            assert wrong in err
        for right in ("speed_m_per_min", "powder"):
            assert f"did you mean '{right}'?" in err
    assert os.listdir() == ["bad.toml"]


@pytest.mark.parametrize(
    ("output", "said"),
    [
        ("nowhere/a.h5", "no such folder"),
        (".", "a folder"),
        ("case.toml", "no place for a result"),
        ("case.toml/a.h5", "not a folder"),
        ("/dev/full", "a device or pipe"),
    ],
)
def test_a_place_that_takes_no_result_is_refused_before_the_march(say, monkeypatch, output, said):
    shutil.copy(SHIPPED / "bloom.toml", "case.toml")
    before = Path("case.toml").read_bytes()
    monkeypatch.setattr("solidify.strand.solve.solve", lambda _: pytest.fail("marched first"))
    status, out, err = say("run", "case.toml", "-o", output)
    assert (status, out) == (2, "")
    assert one_block(err)
    assert said in err
    assert os.listdir() == ["case.toml"]
    assert Path("case.toml").read_bytes() == before


def test_a_march_that_fails_is_status_1_and_writes_nothing(say, monkeypatch):
    def fail(_):
        raise solidify.MarchError("the step became too small")

    monkeypatch.setattr("solidify.strand.solve.solve", fail)
    status, out, err = say("run")
    assert (status, out) == (1, "")
    assert err.endswith("solidify: the step became too small\n")
    assert os.listdir() == []


def test_a_full_disk_is_status_2_and_keeps_the_older_file(say, monkeypatch):
    older = b"\x89HDF\r\n\x1a\nolder"
    Path("bloom.h5").write_bytes(older)

    def full(_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    status, out, err = say("run", "--no-pictures")
    assert (status, out) == (2, "")
    assert "bloom.h5: the disk is full" in err
    assert os.listdir() == ["bloom.h5"]
    assert Path("bloom.h5").read_bytes() == older


def test_run_replaces_no_study_and_says_so_before_the_march(say, monkeypatch):
    """Hours of runs under the name that a result would take: refused at once, and kept."""
    import h5py
    import numpy as np

    with h5py.File("bloom.h5", "w") as file:
        file.attrs["file_type"] = np.bytes_("solidify study")
    before = Path("bloom.h5").read_bytes()
    monkeypatch.setattr("solidify.strand.solve.solve", lambda _: pytest.fail("marched"))
    status, out, err = say("run")
    assert (status, out) == (2, "")
    assert "bloom.h5: a study of many runs stands here" in err
    assert Path("bloom.h5").read_bytes() == before


def test_compiling_is_announced_only_while_nothing_is_compiled(capsys, monkeypatch):
    """The announcement waits a moment, so that a march read from the cache is not announced."""
    import time
    from types import SimpleNamespace

    from solidify.solver import kernels

    cached = SimpleNamespace(cache_path="somewhere")
    monkeypatch.setattr(terminal, "ANNOUNCE_AFTER", 0.01)
    for signatures, said in (([], True), (["compiled"], False)):
        monkeypatch.setattr(kernels, "march_batch", SimpleNamespace(signatures=signatures, stats=cached))
        with terminal.announced_compiling():
            time.sleep(0.2)
        assert ("compiling" in capsys.readouterr().err) is said
    monkeypatch.setattr(terminal, "ANNOUNCE_AFTER", 60.0)
    monkeypatch.setattr(kernels, "march_batch", SimpleNamespace(signatures=[], stats=cached))
    with terminal.announced_compiling():
        pass
    assert capsys.readouterr().err == ""


# check, plot, steel, new


def test_check_shows_every_zone_and_writes_nothing(say):
    status, out, err = say("check", SHIPPED / "bloom.toml")
    assert (status, err) == (0, "")
    for zone in solidify.read_case(SHIPPED / "bloom.toml").zone:
        assert zone.name in out
    assert os.listdir() == []


def test_check_loads_no_solver_no_file_library_and_no_pictures():
    code = (
        "import sys; from solidify.cli import main\n"
        f"assert main(['check', {str(SHIPPED / 'bloom.toml')!r}]) == 0\n"
        "print(*sys.modules, file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", code], capture_output=True, text=True, check=True
    )
    assert not {"numba", "scipy", "h5py", "matplotlib"} & set(done.stderr.split())


def test_plot_draws_into_a_new_folder(say, solved):
    status, out, err = say("plot", solved, "-o", "pictures")
    assert (status, err) == (0, "")
    names = sorted(os.listdir("pictures"))
    assert "bloom.png" in names
    assert all(f"{Path('pictures', name)}" in out for name in names)


def test_plot_refuses_what_is_no_result(say):
    Path("a.h5").write_text("title = 'x'")
    status, out, err = say("plot", "a.h5")
    assert (status, out) == (2, "")
    assert one_block(err)
    assert "no HDF5 file" in err


def test_plot_refuses_a_file_as_folder(say, solved):
    Path("taken").touch()
    status, _, err = say("plot", solved, "-o", "taken")
    assert status == 2
    assert one_block(err)
    assert "-o taken: a file" in err
    assert "allowed: a folder" in err
    assert os.path.isfile("taken")


def test_tune_refuses_a_file_as_folder_before_it_tunes(say, monkeypatch):
    monkeypatch.setattr("solidify.tuning.tune.tune", lambda *_: pytest.fail("tuned first"))
    Path("taken").touch()
    cases = SHIPPED.parents[2] / "cases"
    status, out, err = say("tune", cases / "billet.toml", cases / "billet-target.toml", "-o", "taken")
    assert (status, out) == (2, "")
    assert one_block(err)
    assert "-o taken: a file" in err


def test_trace_prints_the_table_or_a_depth(say, solved):
    """Without a depth every 10 mm; with some, each in full and between the fractions asked for."""
    status, out, err = say("trace", solved)
    assert (status, err) == (0, "")
    assert re.search(r"^ +120\.0 ", out, re.MULTILINE)
    status, out, _ = say("trace", solved, "--depth-mm", 22, "--depth-mm", 30.5, "--between", 0.3, 0.7)
    assert status == 0
    assert "Depth 22.0 mm" in out
    assert "Depth 30.5 mm" in out
    assert out.count("from 0.3 solid") == 2


def test_trace_names_every_depth_outside_at_once(say, solved):
    status, out, err = say("trace", solved, "--depth-mm", -3, "--depth-mm", 400, "--depth-mm", 20)
    assert (status, out) == (2, "")
    assert "-3 mm" in err
    assert "400 mm" in err
    assert one_block(err)


def test_steel_prints_the_sheet_of_a_composition_and_of_a_case(say):
    status, out, err = say("steel", "--composition", "C=0.45 Si=0.25, Mn=0.70; P=0.015 S=0.012")
    assert (status, err) == (0, "")
    steel = solidify.steel_from_composition({"C": 0.45, "Si": 0.25, "Mn": 0.7, "P": 0.015, "S": 0.012})
    assert re.search(rf"liquidus +{steel.liquidus:.1f}", out)
    assert re.search(r"^ +1200\.0 +1\.000", out, re.MULTILINE)
    status, out, _ = say("steel", SHIPPED / "bloom.toml")
    assert status == 0
    assert "zero strength" in out


def test_every_entry_of_a_composition_that_cannot_be_read_is_named(say):
    status, out, err = say("steel", "--composition", "C=0,45 Si Mn=0.7 Mn=0.8 P=x")
    assert (status, out) == (2, "")
    assert one_block(err)
    for entry in ("'C=0,45'", "'Si'", "'Mn=0.8'", "'P=x'"):
        assert entry in err
    assert "'Mn=0.7'" not in err
    assert "decimals with a point" in err


@pytest.mark.parametrize("composition", ["", "C=0.1 Qq=2", "Si=0.2", "C=3", "C=nan"])
def test_a_composition_that_is_no_steel_is_refused(say, composition):
    status, out, err = say("steel", "--composition", composition)
    assert (status, out) == (2, "")
    assert one_block(err)


def test_steel_wants_one_of_both(say):
    assert say("steel")[0] == 2
    assert say("steel", SHIPPED / "bloom.toml", "--composition", "C=0.1")[0] == 2


def test_new_writes_a_case_that_runs_and_never_replaces_a_file(say):
    status, out, err = say("new", "mine.toml")
    assert (status, err) == (0, "")
    assert "solidify check mine.toml" in out
    assert "#" in Path("mine.toml").read_text(encoding="utf-8")
    assert "invented" in Path("mine.toml").read_text(encoding="utf-8")
    assert say("run", "mine.toml", "--no-pictures")[0] == 0
    Path("mine.toml").write_text("mine")
    status, _, err = say("new", "mine.toml")
    assert status == 2
    assert "exists already" in err
    assert Path("mine.toml").read_text() == "mine"


def test_new_does_not_write_through_a_dangling_link(say):
    os.symlink("elsewhere.toml", "mine.toml")
    assert say("new", "mine.toml")[0] == 2
    assert os.listdir() == ["mine.toml"]


@pytest.mark.parametrize("verb", ["run", "check", "plot", "steel"])
def test_a_missing_file_is_refused_with_the_closest_name(say, verb):
    Path("bloom.toml").touch()
    status, out, err = say(verb, "blom.toml")
    assert (status, out) == (2, "")
    assert one_block(err)
    assert "did you mean 'bloom.toml'?" in err


# Plain text


def test_what_goes_into_a_pipe_is_plain():
    done = process("check", SHIPPED / "bloom.toml")
    assert done.returncode == 0
    assert "\x1b" not in done.stdout
    assert not any(line != line.rstrip() for line in done.stdout.splitlines())


def test_a_terminal_without_unicode_still_gets_the_text():
    environment = os.environ | {"PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"}
    done = process("steel", "--composition", "C=0.2 Mn=0.5", env=environment)
    assert done.returncode == 0, done.stderr
    assert "liquidus" in done.stdout


def test_a_reader_that_goes_away_is_no_failure():
    """As in ``solidify run | head -1``: no message, status as if all had been read, the result written."""
    command = [sys.executable, "-W", "error", "-m", "solidify", "run", "--no-pictures"]
    reading, writing = os.pipe()
    os.close(reading)
    done = subprocess.run(command, stdout=writing, stderr=subprocess.PIPE, text=True)
    os.close(writing)
    assert done.returncode == 0
    assert "Error" not in done.stderr
    assert "Exception" not in done.stderr
    assert solidify.load("bloom.h5").summary["metallurgical_length"] > 0


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="no device that is always full")
def test_a_full_disk_behind_standard_output_is_said():
    with open("/dev/full", "w") as full:
        command = [sys.executable, "-m", "solidify", "--help"]
        done = subprocess.run(command, stdout=full, stderr=subprocess.PIPE, text=True)
    assert done.returncode == 2
    assert done.stderr.startswith("solidify: standard output: the disk is full")


def test_an_interrupt_is_one_line_and_status_1(say, monkeypatch):
    def interrupt(_):
        raise KeyboardInterrupt

    monkeypatch.setattr("solidify.strand.solve.solve", interrupt)
    status, out, err = say("run")
    assert (status, out) == (1, "")
    assert "solidify: stopped" in err
    assert os.listdir() == []


def test_steel_draws_its_picture_where_asked_and_refuses_other_formats(tmp_path, capsys):
    picture = tmp_path / "steel.png"
    assert cli.main(["steel", "--composition", "C=0.2 Mn=0.8", "-o", str(picture)]) == 0
    assert picture.read_bytes().startswith(b"\x89PNG")
    assert f"written: {picture}" in capsys.readouterr().out
    assert cli.main(["steel", "--composition", "C=0.2", "-o", str(tmp_path / "steel.bmp")]) == 2
    assert "no format of pictures" in capsys.readouterr().err
