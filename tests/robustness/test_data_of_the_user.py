"""What stands on the disk is replaced only where this program wrote it for the same case; results stay as they are."""

from __future__ import annotations

import json
import os
import pickle
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import numpy as np
import pytest
from plants import ROUND_NUMBERS

from solidify.cli import main
from solidify.cli.replacing import check_replaceable
from solidify.errors import InputError, Problem
from solidify.files import reserved, write_all
from solidify.storage.checkpoint import Shards, clear_shards
from solidify.storage.result_file import load, save
from solidify.strand.solve import solve, solve_many

CASES = Path(__file__).parents[2] / "cases"


@pytest.fixture
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture(scope="module")
def result():
    return solve(ROUND_NUMBERS)


def rows(count):
    return {"marched_on": "here", "status": np.zeros(count, dtype="i1"), "value": np.arange(count) / 3}


def test_a_folder_of_parts_keeps_what_others_put_there(here):
    shards = Shards("s.h5", "one", 4, 2)
    shards.write(0, rows(2))
    (shards.folder / "notes.txt").write_text("kept")
    (shards.folder / "mine.part").write_text("kept")
    assert shards.missing() == [1]
    clear_shards(Path("s.h5"))
    assert sorted(os.listdir(shards.folder)) == ["mine.part", "notes.txt"]


def test_a_folder_that_no_study_made_is_left_alone(here):
    Path("s.h5.parts").mkdir()
    Path("s.h5.parts/0000000.npz").write_bytes(b"somebody's")
    with pytest.raises(InputError, match="no study is known to have made"):
        Shards("s.h5", "one", 4, 2)
    assert os.listdir("s.h5.parts") == ["0000000.npz"]


def test_a_link_for_a_folder_of_parts_is_refused(here):
    Path("elsewhere").mkdir()
    Path("s.h5.parts").symlink_to("elsewhere")
    with pytest.raises(InputError, match="a link"):
        Shards("s.h5", "one", 4, 2)


@pytest.mark.parametrize(
    "label", ["[]", "[" * 5000, "null", '{"fingerprint": "one"}', '{"fingerprint": "one", "chunk": 0}']
)
def test_a_label_that_makes_no_sense_is_told(here, label):
    Path("s.h5.parts").mkdir()
    Path("s.h5.parts/study.json").write_text(label)
    with pytest.raises(InputError, match="another study"):
        Shards("s.h5", "one", 4, 2)


def test_chunks_of_another_study_or_place_are_not_taken_in(here):
    shards, other = Shards("s.h5", "one", 4, 2), Shards("t.h5", "two", 4, 2)
    for own in (shards, other):
        own.write(0, rows(2))
        own.write(1, rows(2))
    os.replace(other.folder / "0000000.npz", shards.folder / "0000000.npz")
    with pytest.raises(InputError, match="another study or place"):
        shards.read(0)
    os.replace(other.folder / "0000001.npz", other.folder / "0000000.npz")
    with pytest.raises(InputError, match="another study or place"):
        other.failed(0)
    assert shards.read(1).keys() == rows(2).keys()


def test_nothing_in_a_chunk_is_unpickled(here):
    class Trap:
        def __reduce__(self):
            return os.mkdir, ("trapped",)

    shards = Shards("s.h5", "one", 2, 2)
    np.savez(
        shards.folder / "0000000.npz", study="one", index=0, failed=0, rows=np.array([Trap()], dtype=object)
    )
    with pytest.raises(InputError, match="damaged"):
        shards.read(0)
    assert not Path("trapped").exists()


def test_a_page_a_picture_and_a_table_of_the_user_stay(here, result, capsys):
    save(result, "plant.h5")
    for name in ("page.html", "plant.png", "plant-shell.png"):
        Path(name).write_text("the user's own")
    assert main(["report", "plant.h5", "-o", "page.html"]) == 2
    assert "a file that this program did not write stands here" in capsys.readouterr().err
    assert main(["plot", "plant.h5"]) == 2
    assert capsys.readouterr().err.count("did not write") == 2
    assert not Path("plant-heat.png").exists()
    assert {Path(n).read_text() for n in ("page.html", "plant.png")} == {"the user's own"}
    assert main(["report", "plant.h5", "-o", "page.html", "--force"]) == 0
    assert main(["plot", "plant.h5", "--force"]) == 0
    check_replaceable(
        map(Path, ("page.html", "plant.png", "plant-shell.png")), title=result.case.title
    )  # its own now


def test_the_page_of_another_case_stays(here, result, capsys):
    save(result, "plant.h5")
    assert main(["report", "plant.h5"]) == 0
    page = Path("plant.html")
    page.write_text(page.read_text().replace("Round numbers", "Square numbers"))
    assert main(["report", "plant.h5"]) == 2
    assert "the page of another case or study" in capsys.readouterr().err


def test_the_result_of_another_case_of_the_same_name_stays(here, capsys):
    text = (CASES / "billet.toml").read_text(encoding="utf-8")
    Path("a.toml").write_text(text, encoding="utf-8")
    assert main(["run", "a.toml", "--no-pictures"]) == 0
    before = Path("a.h5").read_bytes()
    title = text.partition('title = "')[2].partition('"')[0]
    Path("a.toml").write_text(text.replace(title, "Another plant (invented)"), encoding="utf-8")
    assert main(["run", "a.toml", "--no-pictures"]) == 2
    assert "the result of a case of another title" in capsys.readouterr().err
    assert Path("a.h5").read_bytes() == before
    assert main(["run", "a.toml", "--no-pictures", "--force"]) == 0
    assert main(["run", "a.toml", "--no-pictures"]) == 0


def test_a_write_protected_result_stays(here, result):
    save(result, "plant.h5")
    Path("plant.h5").chmod(0o444)
    before = Path("plant.h5").read_bytes()
    with pytest.raises(InputError, match="write-protected"):
        save(result, "plant.h5")
    assert Path("plant.h5").read_bytes() == before


def test_a_set_of_files_takes_its_names_together_or_not_at_all(here, monkeypatch):
    """A run killed between its pictures left some of the old ones beside the new result."""
    Path("a").write_text("old")
    Path("b").write_text("old")
    seen = []
    put = Path.replace

    def replace(self, target):
        seen.append(sorted(p.read_text() for p in self.parent.glob(".*.part")))
        return put(self, target)

    monkeypatch.setattr(Path, "replace", replace)
    write_all({Path("a"): "new", Path("b"): "new"})
    assert seen[0] == ["new", "new"]  # all were whole before the first took its name
    assert Path("a").read_text() == Path("b").read_text() == "new"

    def full(*_):
        raise OSError(28, "full")

    monkeypatch.setattr("solidify.files._write", full)
    with pytest.raises(InputError, match="the disk is full"):
        write_all({Path("a"): "newer", Path("b"): "newer"})
    assert Path("a").read_text() == "new"
    assert sorted(os.listdir()) == ["a", "b"]


def test_a_second_command_on_one_output_is_told(here, capsys):
    (here / "b.toml").write_text((CASES / "billet.toml").read_text(encoding="utf-8"), encoding="utf-8")
    with reserved("b.h5"):
        done = subprocess.run(
            [sys.executable, "-m", "solidify", "run", "b.toml", "--no-pictures"],
            capture_output=True,
            text=True,
        )
    assert done.returncode == 2
    assert "another command is writing it now" in done.stderr
    assert sorted(os.listdir()) == ["b.toml"]


@pytest.mark.parametrize(("number", "workers"), [(signal.SIGINT, "1"), (signal.SIGTERM, "2")])
def test_a_sweep_ends_within_a_second_and_says_what_is_kept(here, number, workers):
    (here / "billet.toml").write_text((CASES / "billet.toml").read_text(encoding="utf-8"), encoding="utf-8")
    speeds = '[vary]\n"casting.superheat_K" = { from = 10, to = 50, steps = 1000 }\n'
    Path("s.toml").write_text('case = "billet.toml"\n' + speeds)
    sweep = subprocess.Popen(
        [sys.executable, "-m", "solidify", "sweep", "s.toml", "--workers", workers],
        stderr=subprocess.PIPE,
        text=True,
    )
    while not list(Path().glob("s.h5.parts/*.npz")):
        assert sweep.poll() is None
        time.sleep(0.05)
    sweep.send_signal(number)
    began = time.monotonic()
    said = sweep.communicate(timeout=30)[1]
    assert time.monotonic() - began < 10  # a second where nothing else runs
    assert sweep.returncode == 1
    assert "a sweep keeps its finished runs for the same command" in said
    assert "Traceback" not in said


def test_a_sweep_goes_on_with_standard_error_closed(here):
    (here / "billet.toml").write_text((CASES / "billet.toml").read_text(encoding="utf-8"), encoding="utf-8")
    Path("s.toml").write_text('case = "billet.toml"\n[vary]\n"casting.superheat_K" = [20, 30]\n')
    command = f"{sys.executable} -m solidify sweep s.toml --workers 1"
    ways = (("2>&-", "a.h5"), ("2>/dev/full", "b.h5"))
    sweeps = [subprocess.Popen(f"{command} -o {name} {way} >/dev/null", shell=True) for way, name in ways]
    assert [sweep.wait() for sweep in sweeps] == [0, 0]
    assert all(Path(name).exists() for _, name in ways)


def test_arrays_of_a_result_cannot_be_changed(result):
    """`result.depth *= 1000` poisoned every later march of the same grid."""
    before = result.depth.copy()
    arrays = [
        result.depth,
        result.distance,
        result.surface_temperature,
        result.zones[0].mean_flux,
        result.balance.heat,
    ]
    arrays += [result.summary["shell_at_mould_exit"], result.mould.taper, result.section_temperature]
    for array in arrays:
        with pytest.raises(ValueError, match="read-only"):
            array *= 1000
    assert np.array_equal(solve(ROUND_NUMBERS).depth, before)


def test_a_result_equals_itself_and_what_is_read_back(result, here):
    save(result, "r.h5")
    again = load("r.h5")
    assert result == result
    assert again == load("r.h5")
    assert (result == 3) is False
    hotter = solve(ROUND_NUMBERS.replace({"casting.superheat_K": 29.0}))
    assert result != hotter


@pytest.mark.parametrize("place", [-0.1, 22.1, 1e9, [1.0, 1e9]])
def test_no_value_is_read_beyond_the_strand(result, place):
    with pytest.raises(InputError, match="distance from the meniscus"):
        result.at(result.centre_temperature, place)
    assert result.at(result.centre_temperature, 22.0) == result.centre_temperature[-1]


def test_a_chunk_of_no_cases_is_refused():
    with pytest.raises(InputError, match="chunk"):
        solve_many([ROUND_NUMBERS], chunk=0)


def test_a_refusal_travels_to_another_process_whole():
    """Pickled and back it said one letter a line."""
    error = InputError([Problem("a.toml:3:", "x = 3", "1 to 2"), Problem("b")])
    again = pickle.loads(pickle.dumps(error))
    assert (str(again), again.problems) == (str(error), error.problems)


def test_a_message_of_thousands_of_faults_is_cut():
    error = InputError([Problem(f"line {i}", "x" * 5_000) for i in range(3_000)])
    assert len(str(error)) < 400_000
    assert str(error).endswith("and 2900 more problems like these")
    assert len(error.problems) == 3_000


def test_pages_made_in_threads_are_alike(result):
    from solidify.assessment.judge import judge
    from solidify.report.strand_page import report_page

    judgement = judge(result)
    pages = [report_page(result, judgement)]
    threads = [
        threading.Thread(target=lambda: pages.append(report_page(result, judgement))) for _ in range(2)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(pages) == 3
    assert len(set(pages)) == 1


def test_the_label_of_a_study_is_json(here):
    Shards("s.h5", "one", 4, 2)
    assert json.loads(Path("s.h5.parts/study.json").read_text()) == {"fingerprint": "one", "chunk": 2}
