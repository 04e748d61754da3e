"""A batch of slices laid out once, to be marched again and again: by the compiled march, or by its twin in C++."""

from __future__ import annotations

import ctypes
import inspect
import itertools
import shutil
import subprocess
import tempfile
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from pathlib import Path

import numpy as np

from solidify.solver import kernels
from solidify.solver.march import Slice, march_slices

SOURCE = Path(__file__).with_name("twin.cpp")
OPTIONS = ("-O3", "-march=native", "-ffp-contract=fast", "-fno-math-errno", "-Wno-psabi")
NOT_IN_TWIN = ("source", "source_start", "source_inverse", "profile_offset", "profile_times")
OUTPUTS = (
    "surface_out",
    "flux_out",
    "heat_out",
    "shell_out",
    "solid_out",
    "centre_out",
    "profile_out",
    "handed",
    "account",
)


class Marched:
    """A batch with its arrays laid out; `marches` is what came of it."""

    def __init__(self, batch: Sequence[Slice]) -> None:
        names = list(inspect.signature(kernels.march_batch.py_func).parameters)
        original, caught = kernels.march_batch, []

        def catch(*given):  # type: ignore[no-untyped-def]
            caught.append(dict(zip(names, given, strict=True)))
            original(*given)

        kernels.march_batch = catch
        try:
            self.marches = march_slices(batch)
        finally:
            kernels.march_batch = original
        self.arrays, self.count = caught[0], len(batch)

    def _clear(self) -> None:
        self.arrays["centre_solidified"][:] = -1.0
        self.arrays["booked"][:] = 0.0
        self.arrays["handed"][:] = 0.0

    def run(self, threads: int = 1) -> None:
        """March all strands in as many equal shares as threads."""
        self._clear()
        if threads == 1:
            kernels.march_batch(*self.arrays.values())
            return
        edges = np.linspace(0, self.count, threads + 1).astype(np.int64)
        calls = [
            self.arrays | {"strands": np.array(share), "work": np.zeros_like(self.arrays["work"])}
            for share in itertools.pairwise(edges)
        ]
        with ThreadPoolExecutor(threads) as pool:
            list(pool.map(lambda call: kernels.march_batch(*call.values()), calls))

    def twin_arrays(self) -> list[np.ndarray]:
        """What the twin takes, in its order; it writes its results into these arrays."""
        self._clear()
        a = self.arrays
        sizes = [
            a["weights"].shape[1],
            *a["shell_out"].shape[:0:-1],
            a["s_rows"].shape[1],
            a["t_rows"].shape[1],
        ]
        shape = np.array([*sizes, a["work"].shape[1]])
        return [shape, *(v for name, v in a.items() if name not in NOT_IN_TWIN)]

    def twin(self) -> None:
        """March them by the twin, into the same arrays."""
        given = self.twin_arrays()
        twin()(*(ctypes.c_void_p(v.ctypes.data) for v in given))

    def difference(self) -> float:
        """Largest difference between the twin and the march: surface and final temperature [K], shell [mm]; raises on steps.

        Raises
        ------
        AssertionError
            If they differ by more than rounding, or took other steps.
        """
        found = []
        for run in (self.run, self.twin):
            for name in OUTPUTS:
                self.arrays[name][:] = np.nan
            run()
            kept = {name: self.arrays[name].copy() for name in OUTPUTS}
            kept["centre_out"] = kept["centre_out"][
                0
            ]  # where is a matter of rounding while all liquid is as hot
            found.append(kept)
        ours, theirs = found
        counts = slice(2, 5)
        np.testing.assert_array_equal(ours["account"][:, counts], theirs["account"][:, counts])
        kelvin = float(np.nanmax(np.abs(ours["surface_out"] - theirs["surface_out"])))
        shell = float(np.nanmax(np.abs(ours["shell_out"] - theirs["shell_out"])))
        for name in OUTPUTS:
            np.testing.assert_allclose(theirs[name], ours[name], rtol=1e-6, atol=1e-6, err_msg=name)
        assert kelvin < 1e-6, kelvin
        assert shell < 1e-9, shell
        return kelvin


@cache
def compiler() -> str | None:
    """The C++ compiler, if there is one."""
    return shutil.which("c++") or shutil.which("g++") or shutil.which("clang++")


@cache
def twin():  # type: ignore[no-untyped-def]
    """Compile twin.cpp on the spot; returns its function."""
    folder = tempfile.mkdtemp()
    library = Path(folder) / "twin.so"
    command = [str(compiler()), *OPTIONS, "-shared", "-fPIC", str(SOURCE), "-o", str(library), "-lm"]
    subprocess.run(command, check=True)
    march = ctypes.CDLL(str(library)).march
    march.restype = None
    shutil.rmtree(folder)
    return march
