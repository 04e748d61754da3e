"""Sampling: how the values that an input may take become those of the runs."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from scipy.special import ndtr, ndtri

from solidify.case import Case

__all__ = ["choices", "sampled"]


def choices(spec: Any) -> tuple[Any, ...]:
    """Return the values of a list or range.

    Parameters
    ----------
    spec : sequence or mapping
        A list, or ``{from, to, steps}``.

    Returns
    -------
    tuple
    """
    if isinstance(spec, Mapping):
        return tuple(np.linspace(spec["from"], spec["to"], spec["steps"]).tolist())
    return tuple(v.item() if hasattr(v, "item") else v for v in spec)


def sampled(
    specs: Sequence[Any], sampling: str, runs: int, seed: int, inputs: Sequence[str], case: Case
) -> tuple[tuple[Any, ...], ...]:
    """Draw the runs: even shares in 0 to 1 from scipy, turned into values input by input.

    Parameters
    ----------
    specs : sequence
        What each input may be: a list, a range or a distribution.
    sampling : str
        ``"latin"``, ``"sobol"`` or ``"sobol indices"``.
    runs, seed : int
        How many draws, and what decides them.
    inputs : sequence of str
        Key paths.
    case : Case
        The base case; it knows the range of each key.

    Returns
    -------
    tuple of tuple
        The values of every run, in the order of the inputs.
    """
    from scipy.stats import qmc  # a second to load, and only sampled studies want it

    rng = np.random.default_rng(seed)
    if sampling == "latin":
        shares = qmc.LatinHypercube(len(specs), rng=rng).random(runs)
    elif sampling == "sobol indices":
        shares = _pairs(qmc.Sobol(2 * len(specs), rng=rng, bits=64).random(runs))
    else:
        shares = qmc.Sobol(len(specs), rng=rng).random_base2(max(runs - 1, 0).bit_length())[:runs]
    columns = []
    for spec, share, name in zip(specs, shares.T, inputs, strict=True):
        if isinstance(spec, Mapping) and "steps" not in spec:
            columns.append(_drawn(spec, share, case.about(name)).tolist())
        else:
            values = choices(spec)
            columns.append([values[min(int(s * len(values)), len(values) - 1)] for s in share])
    return tuple(zip(*columns, strict=True))


def _pairs(shares: np.ndarray) -> np.ndarray:
    """Lay out the runs of each draw: A, B, then A with one input after the other taken from B.

    Two draws side by side in `shares`, as `scipy.stats.sobol_indices` makes them (Saltelli and others 2010).
    """
    a, b = np.hsplit(shares, 2)
    draws, inputs = a.shape
    runs = np.repeat(a[:, None], inputs + 2, axis=1)
    runs[:, 1] = b
    i = np.arange(inputs)
    runs[:, 2 + i, i] = b
    return runs.reshape(draws * (inputs + 2), inputs)


def _drawn(spec: Mapping[str, float], share: np.ndarray, about: Mapping[str, Any]) -> np.ndarray:
    """Turn even shares into draws; a normal distribution without bounds ends at the range of its key."""
    if "sd" not in spec:
        return spec["low"] + share * (spec["high"] - spec["low"])
    low = spec.get("low", about.get("minimum", about.get("exclusiveMinimum", -math.inf)))
    high = spec.get("high", about.get("maximum", math.inf))
    a, b = ndtr((np.array([low, high]) - spec["mean"]) / spec["sd"])
    drawn = spec["mean"] + spec["sd"] * ndtri(a + share * (b - a))
    return np.clip(drawn, low, high)
