"""Times of things run in turn, and of commands."""

from __future__ import annotations

import os
import platform
import subprocess
import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from time import perf_counter

import numpy as np

ROOT = Path(__file__).resolve().parent.parent


class Times:
    """Times of one thing [s]."""

    def __init__(self, values: Sequence[float]) -> None:
        self.values = np.array(values)

    @property
    def best(self) -> float:
        """Shortest."""
        return float(self.values.min())

    def text(self, scale: float = 1e3, share: int = 1) -> str:
        """Shortest, median and quartiles, per strand where many were run."""
        v = self.values * scale / share
        low, middle, high = np.percentile(v, [25, 50, 75])
        return f"{three(v.min())} | {three(middle)} ({three(low)} … {three(high)})"


def three(value: float) -> str:
    """Three significant digits without an exponent."""
    if value >= 1000:
        return f"{value:.0f}"
    return f"{value:#.3g}".rstrip(".")


def interleaved(things: Mapping[str, Callable[[], object]], rounds: Mapping[str, int]) -> dict[str, Times]:
    """Run every thing once, unless once is enough, then time them in turn, each as many rounds as asked."""
    found: dict[str, list[float]] = {name: [] for name in things}
    for name, thing in things.items():
        if rounds[name] > 1:
            thing()
    for turn in range(max(rounds.values())):
        for name, thing in things.items():
            if turn < rounds[name]:
                begin = perf_counter()
                thing()
                found[name].append(perf_counter() - begin)
    return {name: Times(v) for name, v in found.items()}


def command(*arguments: str, cache: str | None = None) -> Callable[[], str]:
    """Make a call of the interpreter that runs this."""
    environment = os.environ | ({"NUMBA_CACHE_DIR": cache} if cache else {})
    environment["PYTHONPATH"] = os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")])

    def call() -> str:
        done = subprocess.run(
            [sys.executable, *arguments],
            env=environment,
            check=True,
            capture_output=True,
            text=True,
            cwd=ROOT,
        )
        return done.stdout

    return call


def processor() -> str:
    """Name of the processor."""
    try:
        lines = Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines()
    except OSError:
        return platform.processor() or platform.machine()
    return next(
        (line.split(":", 1)[1].strip() for line in lines if line.startswith("model name")), platform.machine()
    )
