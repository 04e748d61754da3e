"""Processes killed at any moment, and what then lies on the disk: ``python kills.py sweep|run SEED KILLS``.

A sweep that was killed goes on with the same command, and its data are those of one that was not. A single command
leaves the set of files before it or the set after it, never some of each.
"""

from __future__ import annotations

import hashlib
import json
import os
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import h5py
import numpy as np

CASES = Path(__file__).parents[2] / "cases"

STUDY = 'case = "billet.toml"\n[vary]\n"casting.superheat_K" = { from = 10, to = 50, steps = 240 }\n'
SWEEP = ("sweep", "s.toml", "--workers", "1")
RUN = ("run", "a.toml", "--force")

LATEST = 4.0
"""A kill comes by then [s]."""


def killed(folder: Path, command: tuple[str, ...], after: float) -> bool:
    """Start a command and kill it with all that it started; whether it was still at work."""
    process = subprocess.Popen(
        [sys.executable, "-m", "solidify", *command],
        cwd=folder,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    try:
        process.wait(after)
        return False
    except subprocess.TimeoutExpired:
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()
        return True


def done(folder: Path, command: tuple[str, ...]) -> str:
    """Carry a command out; what it said, if it failed."""
    found = subprocess.run(
        [sys.executable, "-m", "solidify", *command], cwd=folder, capture_output=True, text=True
    )
    return "" if found.returncode == 0 else found.stderr[-500:]


def data(path: Path) -> str:
    """Digest of all datasets of a file."""
    digest = hashlib.sha256()

    def take(name: str, thing: object) -> None:
        if isinstance(thing, h5py.Dataset) and "marched_on" not in name:
            value = thing[()]
            digest.update(name.encode())
            digest.update(
                value.tobytes()
                if isinstance(value, np.ndarray) and value.dtype != object
                else repr(value).encode()
            )

    with h5py.File(path) as file:
        file.visititems(take)
    return digest.hexdigest()


def of_sweep(folder: Path, rng: np.random.Generator, reference: str) -> tuple[int, str]:
    """Kill a sweep up to five times, then let it end; compare its data with those of one that was left alone."""
    (folder / "billet.toml").write_text((CASES / "billet.toml").read_text(encoding="utf-8"), encoding="utf-8")
    (folder / "s.toml").write_text(STUDY)
    kills = 0
    while reference and kills < 5 and killed(folder, SWEEP, float(rng.uniform(0.3, LATEST))):
        kills += 1
    if said := done(folder, SWEEP):
        return kills, f"goes on no more: {said}"
    if not reference:
        return kills, data(folder / "s.h5")
    left = {p.name for p in folder.iterdir() if not p.name.startswith(".")}
    if left != {"billet.toml", "s.toml", "s.h5"}:
        return kills, f"left behind: {sorted(left)}"
    return kills, "" if data(folder / "s.h5") == reference else "other data"


def in_sweeps(seed: int, wanted: int) -> Iterator[tuple[int, str]]:
    """Kills so far, and what was wrong, sweep by sweep."""
    rng, kills, reference = np.random.default_rng([seed, 4]), 0, ""
    while kills < wanted:
        with tempfile.TemporaryDirectory(prefix="kills-") as folder:
            more, said = of_sweep(Path(folder), rng, reference)
        if not reference:
            reference = said
            continue
        kills += more
        yield kills, said


def in_runs(seed: int, wanted: int) -> Iterator[tuple[int, str]]:
    """Kills so far, and what was wrong, kill by kill: the set of files is that before the run or that after it.

    Half of the kills come at any moment of a run, half within a fifth of it about its end.
    """
    rng, kills = np.random.default_rng([seed, 5]), 0
    text = (CASES / "billet.toml").read_text(encoding="utf-8")
    texts = [text, text.replace("superheat_K = 32", "superheat_K = 20")]
    with tempfile.TemporaryDirectory(prefix="kills-") as name:
        folder, sets = Path(name), []
        for one in texts:
            (folder / "a.toml").write_text(one, encoding="utf-8")
            began = time.monotonic()
            if said := done(folder, RUN):
                yield kills, said
                return
            lasts = time.monotonic() - began
            sets.append(_set(folder))
        while kills < wanted:
            (folder / "a.toml").write_text(texts[kills % 2], encoding="utf-8")
            late = kills % 4 < 2
            after = float(rng.uniform(0.8, 1.2) if late else rng.uniform(0.1, 1.0)) * lasts
            began = time.monotonic()
            if not killed(folder, RUN, after):
                lasts = 0.95 * (time.monotonic() - began)
                continue
            kills += 1
            yield kills, "" if _set(folder) in sets else f"a mixed set, killed after {after:.3f} s"
        if said := done(folder, RUN):
            yield kills, f"goes on no more: {said}"


def _set(folder: Path) -> dict[str, str]:
    """Digest of each file of a run; of the result, of its data."""
    return {
        p.name: data(p) if p.suffix == ".h5" else hashlib.sha256(p.read_bytes()).hexdigest()
        for p in sorted(folder.glob("a*"))
        if p.suffix in (".h5", ".png")
    }


KINDS = {"sweep": in_sweeps, "run": in_runs}


def main(kind: str, seed: int, wanted: int) -> None:
    """Print a line of JSON for each: kills so far, and what was wrong."""
    for found in KINDS[kind](seed, wanted):
        print(json.dumps(found), flush=True)


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))
