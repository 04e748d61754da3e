"""Who does the work of a study: threads, processes or a cluster, and how chunks of it are given out."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import (
    FIRST_COMPLETED,
    BrokenExecutor,
    CancelledError,
    Executor,
    Future,
    ProcessPoolExecutor,
    ThreadPoolExecutor,
    wait,
)
from contextlib import contextmanager
from itertools import islice
from typing import Any

from solidify.errors import SolidifyError

__all__ = ["chunk_size", "cores", "threads_of", "work", "workers_of"]

AHEAD = 32
"""Workers of an executor that does not say how many it has."""

GIVE_UP = 8
"""Chunks that may get lost before the rest is not tried any more."""

SHARES = 4
"""Chunks for each worker, where there is enough work."""

PULSE = 0.2
"""Longest wait for a chunk before the executor is asked whether it still has workers [s]."""


def cores() -> int:
    """Return how many cores this process may use.

    Returns
    -------
    int
    """
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@contextmanager
def workers_of(count: int, executor: Executor | None = None) -> Iterator[Executor]:
    """Give what marches: the executor given, else processes, or for one worker a thread of this process.

    Parameters
    ----------
    count : int
        Workers.
    executor : concurrent.futures.Executor, optional
        Used as it is, and left open.

    Yields
    ------
    concurrent.futures.Executor

    Raises
    ------
    SolidifyError
        If a worker died.
    """
    try:
        if executor is not None:
            yield executor
        elif count > 1:
            fresh = multiprocessing.get_context("spawn")
            with ProcessPoolExecutor(count, mp_context=fresh, initializer=_end_with_parent) as processes:
                try:
                    yield processes
                except (
                    KeyboardInterrupt
                ):  # a chunk in work takes tenths of a second; a worker killed may hold a lock
                    processes.shutdown(wait=False, cancel_futures=True)
                    raise
        else:
            with ThreadPoolExecutor(1) as thread:
                yield thread
    except BrokenExecutor as error:
        do = "start the same command again, perhaps with fewer workers: a sweep goes on where it stopped"
        raise SolidifyError(f"a worker process died (out of memory, or killed); {do}") from error


def _end_with_parent() -> None:
    """Let the parent answer an interrupt, and end when it is gone, were it killed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()

    def follow() -> None:
        if parent is not None:
            parent.join()
            os._exit(1)

    threading.Thread(target=follow, daemon=True).start()


def threads_of(executor: Executor) -> int:
    """Return how many tasks an executor works on at a time; `AHEAD` if it does not say.

    Parameters
    ----------
    executor : concurrent.futures.Executor
        Those of the standard library say it.

    Returns
    -------
    int
    """
    return getattr(executor, "_max_workers", None) or AHEAD


def chunk_size(count: int, workers: int, least: int, most: int) -> int:
    """Choose how many go into a chunk, so that each worker has some chunks and the first are soon done.

    Parameters
    ----------
    count : int
        In all.
    workers : int
        Working at a time.
    least, most : int
        In a chunk.

    Returns
    -------
    int
    """
    return min(most, max(-(-count // (SHARES * workers)), least))


def work(
    executor: Executor,
    function: Callable[[Any], Any],
    todo: Sequence[int],
    task: Callable[[int], Any],
    take: Callable[[int, Any], None],
    poll: Callable[[], None] = lambda: None,
) -> dict[int, Exception]:
    """Give out chunks of work, a few ahead of the workers, and take each as it comes back.

    Parameters
    ----------
    executor : concurrent.futures.Executor
        From `workers_of`.
    function : callable
        What to do with a task; a function of a module, so that it travels.
    todo : sequence of int
        Numbers of the chunks.
    task : callable
        Makes the task of a chunk when its turn has come.
    take : callable
        Told the number of a chunk and what the function returned.
    poll : callable
        Called several times a second; what it raises stops the work.

    Returns
    -------
    dict of int to Exception
        The chunks that did not come back, e.g. because every worker that had them died, and why; they were tried
        once more, each with nothing beside it that could have brought its worker down. At `GIVE_UP` of them the
        rest is not tried.
    """
    lost = _given_out(executor, function, todo, task, take, poll)
    return {
        i: error
        for one in lost
        for i, error in _given_out(executor, function, [one], task, take, poll).items()
    }


def _given_out(
    executor: Executor,
    function: Callable[[Any], Any],
    todo: Sequence[int],
    task: Callable[[int], Any],
    take: Callable[[int, Any], None],
    poll: Callable[[], None],
) -> dict[int, Exception]:
    """Do `work` once."""
    watch = getattr(executor, "watch", lambda: None)
    waiting: dict[Future[Any], int] = {}
    lost: dict[int, Exception] = {}
    queue = iter(todo)
    try:
        while len(lost) < GIVE_UP:
            most = 2 * threads_of(executor)
            for index in islice(queue, max(most - len(waiting), 0)):
                waiting[executor.submit(function, task(index))] = index
            if not waiting:
                break
            for future in wait(waiting, PULSE, FIRST_COMPLETED).done:
                index = waiting.pop(future)
                try:
                    found = future.result()
                except (BrokenExecutor, CancelledError):
                    raise
                except Exception as error:  # e.g. its worker died, each time it was tried
                    lost[index] = error
                else:
                    take(index, found)
            watch()
            poll()
        return lost
    finally:
        for future in waiting:
            future.cancel()
