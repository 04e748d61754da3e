"""Lanes compiled do what they say in numpy."""

import numpy as np
import pytest
from numba import njit

from solidify.solver.simd import (
    LANES,
    broadcast,
    ctz,
    least,
    load,
    load_some,
    most,
    movemask,
    select,
    shift_in,
    sqrt,
    store,
    store_some,
    top,
    total,
)


@njit(error_model="numpy")
def everything(a, b, rows, numbers):
    """Each function and operator once."""
    x, y = load(a, 1), load(b, 0)
    store(rows[0], 0, shift_in(x, y))
    store(rows[1], 0, least(x, y))
    store(rows[2], 0, most(x, y))
    store(rows[3], 0, select(x < y, x, 2.0))
    store(rows[4], 0, sqrt(abs(x)) + broadcast(0.5))
    store(rows[5], 0, 1.0 - x * y / (2.0 + abs(y)))
    store(rows[6], 0, load_some(a, 2, 3))
    store_some(rows[7], 1, x, 2)
    z = broadcast(1.0)
    z += y
    store(rows[8], 0, least(most(z, 0.0), 1.0))
    numbers[0] = movemask((x < y) | (x >= 1.0))
    numbers[1] = movemask((x > y) & (y <= 0.5))
    numbers[2] = ctz(numbers[0])
    numbers[3] = ctz(40)
    rows[9, 0] = top(x)
    rows[9, 1] = total(x)
    rows[9, 2] = least(rows[9, 0], rows[9, 1])
    rows[9, 3] = most(rows[9, 0], rows[9, 1])


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_compiled_lanes_are_those_of_numpy(seed):
    """To the last bit; what is not a number never wins a comparison, and nothing is written past what is asked for."""
    a, b = np.random.default_rng(seed).normal(size=(2, LANES + 1))
    a[1], b[0] = -2.0, 2.0  # one flag at least
    if seed == 3:
        b[5] = np.nan
    found = []
    for run in (everything, getattr(everything, "py_func", everything)):
        rows, numbers = np.full((10, LANES), 7.0), np.zeros(4, dtype=np.int64)
        run(a, b, rows, numbers)
        found.append((rows, numbers))
    (rows, numbers), (meant, flags) = found
    np.testing.assert_array_equal(rows, meant)
    np.testing.assert_array_equal(numbers, flags)
    np.testing.assert_array_equal(rows[0], [a[LANES], *b[: LANES - 1]])
    np.testing.assert_array_equal(rows[6], [*a[2:5], *np.zeros(LANES - 3)])
    np.testing.assert_array_equal(rows[7], [7.0, *a[1:3], *np.full(LANES - 3, 7.0)])
    assert numbers[3] == 3
