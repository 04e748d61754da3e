"""A Dask cluster in place of the processes of one machine, reached only where its address is given.

A scheduler and its workers run what they are sent: use those of a trusted network, or TLS. The library is asked for
here and nowhere else, when a cluster is.
"""

from __future__ import annotations

import pickle
import socket
import time
from collections.abc import Callable, Iterator
from concurrent.futures import CancelledError, Executor, Future
from contextlib import ExitStack, contextmanager
from importlib.metadata import PackageNotFoundError, version
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

from solidify.errors import InputError, Problem, SolidifyError

if TYPE_CHECKING:
    from ssl import SSLContext

    from distributed import Client

__all__ = ["Cluster", "cluster"]

ANSWER = 5.0
"""A scheduler that is there has answered by then [s]."""

PATIENCE = 30.0
"""How long a cluster may be without workers, at the start and later [s]; one that died is back long before."""

PULSE = 1.0
"""Least time between two looks at the workers [s]."""

GREETING = 65_536
"""No greeting of a scheduler is longer [bytes]."""

_GREETING = b"pickle-protocol"
"""What stands in it."""

AGAIN = "start the same command again: a sweep goes on where it stopped"


class Cluster(Executor):
    """The workers of a Dask cluster as an executor; made by `cluster`.

    A task whose worker died is given to another one, as often as the scheduler allows (``allowed-failures``, as a rule
    three times); then its future holds the library's ``KilledWorker``.

    Parameters
    ----------
    client : distributed.Client
        Connected.
    address : str
        Of the scheduler, for messages.
    """

    def __init__(self, client: Client, address: str) -> None:
        self.client, self.address = client, address
        self._executor = client.get_executor(pure=False)
        self._threads = 0
        self.gone = f"scheduler {address}: it went away; {AGAIN}"
        self._looked = self._seen = time.monotonic()

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        """Give out a task.

        Parameters
        ----------
        fn : callable
            A function of a module, or what else can be pickled.
        *args, **kwargs
            For it.

        Returns
        -------
        concurrent.futures.Future
        """
        self.watch()
        packed = pickle.dumps((fn, args, kwargs))  # else the scheduler would unpack it on the way
        return self._executor.submit(_unpacked, version("solidify"), packed)

    def __str__(self) -> str:
        threads = self.client.nthreads()
        return f"the cluster at {self.address}, workers: {len(threads)}, threads: {sum(threads.values())}"

    @property
    def _max_workers(self) -> int:
        """What executors of the standard library call it."""
        return max(self.threads(), 1)

    def threads(self) -> int:
        """Return how many threads all workers together have now, or had a moment ago.

        Returns
        -------
        int
        """
        self.watch()
        return self._threads

    def watch(self) -> None:
        """Look whether there are workers, from time to time; wait for none longer than `PATIENCE`.

        Raises
        ------
        SolidifyError
            If there have been none for so long, or the scheduler is gone.
        """
        now = time.monotonic()
        if self._threads and now - self._looked < PULSE:
            return
        self._looked = now
        try:
            self._threads = sum(self.client.nthreads().values())
        except OSError as error:
            raise SolidifyError(self.gone) from error
        if self._threads:
            self._seen = now
        elif now - self._seen > PATIENCE:
            do = f"start some, e.g.: dask worker {self.address} --nworkers auto --nthreads 1"
            raise InputError(Problem(f"scheduler {self.address}", f"no workers for {PATIENCE:.0f} s", do=do))


@contextmanager
def cluster(address: str) -> Iterator[Cluster]:
    """Use the workers of a Dask cluster as an executor.

    Parameters
    ----------
    address : str
        Of its scheduler, e.g. ``tcp://host:8786`` or ``tls://host:8786``; certificates are those of Dask's own
        configuration.

    Yields
    ------
    Cluster

    Raises
    ------
    InputError
        If the library is not installed, no scheduler answers, there are no workers, or one of them has another
        version of solidify, or none.
    SolidifyError
        If the scheduler went away.
    """
    client = _connected(address)
    with client:
        workers = Cluster(client, address)
        try:
            while not workers.threads():
                time.sleep(0.2)
            _check_versions(client)
            yield workers
        except CancelledError as error:
            raise SolidifyError(workers.gone) from error


def _connected(address: str) -> Client:
    """Connect to a scheduler; what the library would wait long for, or say in its own words, is looked at before."""
    where = f"scheduler {address}"
    try:
        from distributed import Client, Security
    except ImportError:
        do = 'install it, here and for the workers: pip install "solidify[cluster]"'
        raise InputError(Problem(where, "Dask is not installed", do=do)) from None
    scheme, host, port = _parts(address)
    if scheme not in ("tcp", "tls") or not host or not port:
        raise InputError(Problem(where, "no address of a scheduler", "tcp://HOST:PORT or tls://HOST:PORT"))
    encrypted = Security().get_connection_args("client")["ssl_context"] if scheme == "tls" else None
    if scheme == "tls" and encrypted is None:
        do = "name them in Dask's own configuration, under distributed: comm: tls"
        raise InputError(Problem(where, "no certificates for TLS", do=do))
    try:
        _check_greeting(host, port, encrypted)
        return Client(address, timeout=ANSWER, set_as_default=False)
    except OSError as error:
        do = "check the address, with the port of the scheduler, and that this runs there: dask scheduler"
        raise InputError(Problem(where, f"no scheduler answers: {error}", do=do)) from error


def _check_greeting(host: str, port: int, encrypted: SSLContext | None) -> None:
    """Hear what a port says first; raise OSError where that is not a scheduler's greeting.

    It begins with its length. The library would take that from any service, and ask for so much memory or wait for it
    without end.
    """
    until = time.monotonic() + ANSWER
    with ExitStack() as lines:
        line = lines.enter_context(socket.create_connection((host, port), timeout=ANSWER))
        if encrypted is not None:
            line = lines.enter_context(encrypted.wrap_socket(line, server_hostname=host))
        length = int.from_bytes(_heard(line, 8, until), "little")
        if length > GREETING or _GREETING not in _heard(line, length, until):
            raise OSError("another service is there")


def _heard(line: socket.socket, count: int, until: float) -> bytes:
    """Receive so many bytes by a time [s]."""
    found = b""
    while len(found) < count:
        left = until - time.monotonic()
        if left <= 0:
            raise TimeoutError("timed out")
        line.settimeout(left)
        more = line.recv(count - len(found))
        if not more:
            raise OSError("the connection was closed")
        found += more
    return found


def _parts(address: str) -> tuple[str, str | None, int | None]:
    """Split an address into scheme (``tcp`` without one), host and port."""
    try:
        parts = urlsplit(address if "://" in address else f"tcp://{address}")
        return parts.scheme, parts.hostname, parts.port
    except ValueError:  # a port that is no number
        return "", None, None


def _check_versions(client: Client) -> None:
    """Refuse a scheduler or workers of another version; what asks is in the standard library, so they all have it."""
    own = version("solidify")
    answers = client.run(version, "solidify", on_error="return")
    try:
        answers["the scheduler"] = client.run_on_scheduler(version, "solidify")
    except PackageNotFoundError as error:
        answers["the scheduler"] = error
    found: dict[str, list[str]] = {}
    for worker, answer in answers.items():
        given = "no solidify" if isinstance(answer, PackageNotFoundError) else f"solidify {answer}"
        found.setdefault(given, []).append(worker)
    found.pop(f"solidify {own}", None)
    do = f'install the same there: pip install "solidify[cluster]=={own}"'
    problems = [
        Problem(_some(workers), given, f"solidify {own}, as here", do=do)
        for given, workers in sorted(found.items())
    ]
    if problems:
        raise InputError(problems)


def _some(names: list[str]) -> str:
    return ", ".join(names[:3]) + (f" and {len(names) - 3} more" if len(names) > 3 else "")


def _unpacked(wanted: str, packed: bytes) -> Any:
    """Do a task on a worker, which may have joined later, but not with another version."""
    if version("solidify") != wanted:
        raise SolidifyError(f"a worker has solidify {version('solidify')}, the command {wanted}")
    fn, args, kwargs = pickle.loads(packed)
    return fn(*args, **kwargs)
