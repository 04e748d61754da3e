"""How far long work has come: a bar on a terminal, now and then a line in a log."""

from __future__ import annotations

import signal
import sys
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from types import FrameType, TracebackType
from typing import Any, TextIO

from tqdm import tqdm

__all__ = ["Progress"]

EVERY = 30.0
"""Least time between two lines of a log [s]."""


class _Log:
    """A stream that nobody needs: what cannot be written to it, closed or full, is let go."""

    def __init__(self, stream: TextIO | None) -> None:
        self.stream = stream

    def write(self, text: str) -> int:
        with suppress(OSError, ValueError):
            return self.stream.write(text) if self.stream else 0
        return 0

    def flush(self) -> None:
        with suppress(OSError, ValueError):
            if self.stream:
                self.stream.flush()

    def isatty(self) -> bool:
        with suppress(OSError, ValueError):
            return bool(self.stream and self.stream.isatty())
        return False

    def __getattr__(self, name: str) -> Any:
        return getattr(self.stream, name)


class Progress:
    """Shows runs done, runs that failed, the rate and the time left on standard error.

    Within its block an interrupt from the keyboard stops the work at the next chunk, where nothing is half done; an
    exception raised at any moment could be lost in a callback of the interpreter. A second one stops at once.

    Parameters
    ----------
    total : int
        Runs in all.
    stream : text stream, optional
        Standard error by default. A terminal shows a bar; anything else gets a line at the beginning, one
        every half minute, and one at the end.
    clock : callable
        Tells the time [s].
    """

    def __init__(
        self, total: int, stream: TextIO | None = None, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self.total, self.clock = total, clock
        self.stream = _Log(sys.stderr if stream is None else stream)
        self.bar = tqdm(total=total, file=self.stream, unit="run", disable=None)
        self.began = self.told = clock()
        self.stopping = False
        self.former: dict[int, Any] = {}

    def __enter__(self) -> Progress:
        if threading.current_thread() is threading.main_thread():
            self.former = {
                number: signal.signal(number, self._interrupted) for number in (signal.SIGINT, signal.SIGTERM)
            }
        return self

    def _interrupted(self, number: int, frame: FrameType | None) -> None:
        if self.stopping:
            raise KeyboardInterrupt
        self.stopping = True
        print("stopping at the next chunk; once more to stop at once", file=self.stream, flush=True)

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.bar.close()
        for number, handler in self.former.items():
            signal.signal(number, handler)

    def poll(self) -> None:
        """Stop where an interrupt came since.

        Raises
        ------
        KeyboardInterrupt
        """
        if self.stopping:
            raise KeyboardInterrupt

    def __call__(self, done: int, failed: int, found: int) -> None:
        """Tell how far it has come.

        Parameters
        ----------
        done, failed, found : int
            Runs done, those of them that failed, and those that were done before this start.

        Raises
        ------
        KeyboardInterrupt
            If an interrupt came since.
        """
        self.poll()
        if not self.bar.disable:
            self.bar.initial = found
            self.bar.set_postfix({"failed": failed} if failed else {}, refresh=False)
            self.bar.update(done - self.bar.n)  # drawn now and then
            return
        now = self.clock()
        if done > found and done < self.total and now - self.told < EVERY:
            return
        self.told = now
        text = f"{done} of {self.total} runs" + (f", {failed} failed" if failed else "")
        rate = (done - found) / max(now - self.began, 1e-9)
        if done > found:
            text += f", {rate:.0f} a second"
            text += f", {(self.total - done) / rate:.0f} s left" if done < self.total else ""
        print(text, file=self.stream, flush=True)
