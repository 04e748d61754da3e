"""Whole files or none, and refusals that name the path."""

import errno
import os
import signal
import subprocess
import sys
import time

import pytest

from solidify import files
from solidify.errors import InputError


def problem_of(call, *arguments):
    with pytest.raises(InputError) as caught:
        call(*arguments)
    (problem,) = caught.value.problems
    return problem


def test_a_file_is_written_and_replaced_with_nothing_beside_it(tmp_path):
    path = tmp_path / "a.txt"
    files.write_whole(path, "first")
    files.write_whole(path, b"second \xc3\xbc")
    assert path.read_text(encoding="utf-8") == "second ü"
    assert os.listdir(tmp_path) == ["a.txt"]


def test_permissions_of_a_replaced_file_stay(tmp_path):
    path = tmp_path / "a.txt"
    files.write_whole(path, "first")
    assert path.stat().st_mode & 0o777 == 0o666 & ~_umask()
    path.chmod(0o640)
    files.write_whole(path, "second")
    assert path.stat().st_mode & 0o777 == 0o640


def _umask():
    now = os.umask(0)
    os.umask(now)
    return now


def test_a_symbolic_link_stays_a_link(tmp_path):
    (tmp_path / "link").symlink_to("real")
    files.write_whole(tmp_path / "link", "text")
    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "real").read_text() == "text"


@pytest.mark.parametrize("nameless", [True, False], ids=["nameless", "named"])
@pytest.mark.parametrize("call", ["fsync", "replace"])
def test_a_failure_leaves_the_older_file_and_nothing_beside_it(tmp_path, monkeypatch, call, nameless):
    """Whether the disk fills up before the bytes are safe or the name cannot be taken, on any file system."""
    path = tmp_path / "a.txt"
    files.write_whole(path, "older")
    if not nameless:
        monkeypatch.delattr(os, "O_TMPFILE", raising=False)

    def full(*_, **__):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, call, full)
    problem = problem_of(files.write_whole, path, "newer")
    monkeypatch.undo()
    assert problem.given == "the disk is full"
    assert problem.where == str(path)
    assert path.read_text() == "older"
    assert os.listdir(tmp_path) == ["a.txt"]


def test_an_interrupt_leaves_nothing_beside_the_older_file(tmp_path, monkeypatch):
    path = tmp_path / "a.txt"
    files.write_whole(path, "older")
    monkeypatch.delattr(os, "O_TMPFILE", raising=False)

    def interrupt(_):
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", interrupt)
    with pytest.raises(KeyboardInterrupt):
        files.write_whole(path, "newer")
    assert path.read_text() == "older"
    assert os.listdir(tmp_path) == ["a.txt"]


def test_a_file_that_may_not_grow_is_refused_part_way(tmp_path):
    """A real failure in the middle of the bytes: the system cuts the file off at 10 000."""
    path = tmp_path / "a.bin"
    files.write_whole(path, b"older")
    code = (
        "import resource, sys; from solidify import files\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (10_000, 10_000))\n"
        "try: files.write_whole(sys.argv[1], bytes(1_000_000))\n"
        "except files.InputError as error: print(error)"
    )
    done = subprocess.run([sys.executable, "-c", code, str(path)], capture_output=True, text=True, check=True)
    assert "may not grow so large" in done.stdout
    assert path.read_bytes() == b"older"
    assert os.listdir(tmp_path) == ["a.bin"]


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="no device that is always full")
def test_a_device_is_refused_not_replaced():
    problem = problem_of(files.write_whole, "/dev/full", "text")
    assert problem.given == "a device or pipe"
    assert not os.path.isfile("/dev/full")


def test_a_kill_leaves_a_whole_file(tmp_path):
    """Killed at whatever moment, the name stands for one whole version, and nothing half written lies by."""
    path = tmp_path / "a.bin"
    size = 300_000
    files.write_whole(path, b"\0" * size)
    code = (
        "import sys; from solidify import files\n"
        "for i in range(10**9): files.write_whole(sys.argv[1], bytes([i % 256]) * 300_000)"
    )
    for pause in (0.02, 0.05, 0.08, 0.11):
        writer = subprocess.Popen([sys.executable, "-c", code, str(path)])
        before = path.stat().st_mtime_ns
        while path.stat().st_mtime_ns == before and writer.poll() is None:
            time.sleep(0.005)
        time.sleep(pause)
        writer.send_signal(signal.SIGKILL)
        assert writer.wait() == -signal.SIGKILL
        content = path.read_bytes()
        assert content == content[:1] * size
        if hasattr(os, "O_TMPFILE"):
            assert all(entry.stat().st_size == size for entry in tmp_path.iterdir())


def test_a_missing_file_names_the_closest(tmp_path):
    (tmp_path / "bloom.toml").touch()
    problem = problem_of(files.check_readable, tmp_path / "blom.toml", "case file")
    assert (problem.given, problem.closest) == ("no such case file", "bloom.toml")


def test_a_missing_folder_names_the_closest_on_reading_and_writing(tmp_path):
    (tmp_path / "results").mkdir()
    (tmp_path / "resultz.txt").touch()
    for call in (files.check_readable, files.check_writable):
        problem = problem_of(call, tmp_path / "result" / "deep" / "a.h5")
        assert problem.where == str(tmp_path / "result")
        assert (problem.given, problem.closest) == ("no such folder", "results")


def test_a_folder_is_no_file(tmp_path):
    assert problem_of(files.check_readable, tmp_path).given == "a folder"
    assert problem_of(files.check_writable, tmp_path).given == "a folder"


def test_a_file_is_no_folder(tmp_path):
    (tmp_path / "a").touch()
    for call in (files.check_readable, files.check_writable):
        problem = problem_of(call, tmp_path / "a" / "b.h5")
        assert problem.where == str(tmp_path / "a")
        assert "not a folder" in problem.given


def test_a_pipe_is_refused_without_waiting(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    assert problem_of(files.check_readable, tmp_path / "pipe").given == "a device or pipe"
    assert problem_of(files.check_writable, tmp_path / "pipe").given == "a device or pipe"


def test_no_permission_is_said(tmp_path, monkeypatch):
    """By a stand-in, for a superuser may write anywhere."""
    monkeypatch.setattr(os, "access", lambda *_: False)
    problem = problem_of(files.check_writable, tmp_path / "a.h5")
    assert (problem.where, problem.given) == (str(tmp_path), "no permission")


@pytest.mark.skipif(not os.path.isdir("/proc/self"), reason="no folder that takes no files")
def test_a_folder_that_takes_no_files_is_refused():
    assert problem_of(files.write_whole, "/proc/a.h5", "text").where == "/proc/a.h5"


def test_a_name_too_long_is_refused(tmp_path):
    assert problem_of(files.write_whole, tmp_path / ("a" * 300), "text").given == "the name is too long"
