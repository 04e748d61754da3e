"""What moves a quantity of a study, and by how much: effects of each input, and Sobol indices of paired draws."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from solidify.errors import InputError, Problem
from solidify.storage.study_file import StudyTable
from solidify.study.answers.quantities import Quantity, base_value, varied
from solidify.study.answers.violations import CONFIDENCE

__all__ = ["InputEffect", "Effects", "Indices", "effects", "sobol_shares", "step_text"]

RESAMPLES = 500
"""Of the bootstrap."""

WAYS = {
    "sample": "change for one standard deviation more of the input, by a straight law in all inputs; "
    "bar: 95 % interval",
    "grid": "change from the lowest to the highest value of the input (of words, from least to most), mean over all "
    "values of the others; bar: from the least to the greatest of them",
    "single": "change from the lowest to the highest value of the input, all others as in the case",
}
"""How effects are had, by kind of study."""


@dataclass(frozen=True)
class InputEffect:
    """What one input does to a quantity.

    Parameters
    ----------
    input : str
        Key path.
    start, end : value
        The step of the input that makes the change, in its unit.
    change : float
        Of the quantity, in its unit.
    low, high : float
        How far the change is sure, or how far it depends on the other inputs; NaN where neither is known.
    rank : float
        Spearman's rank correlation [1]; NaN where it means nothing.
    rank_low, rank_high : float
        Its interval at `CONFIDENCE`, as of independent runs, by Fisher's transformation [1].
    """

    input: str
    start: float | str
    end: float | str
    change: float
    low: float = math.nan
    high: float = math.nan
    rank: float = math.nan
    rank_low: float = math.nan
    rank_high: float = math.nan


@dataclass(frozen=True)
class Effects:
    """What all inputs do to a quantity, the strongest first.

    Parameters
    ----------
    quantity : Quantity
        What is moved.
    kind : str
        One of `WAYS`.
    rows : tuple of InputEffect
        An input each.
    explained : float
        Share of the variance that the straight law explains [1]; NaN for other kinds.
    left_out : tuple of str
        Inputs that cannot be put on a scale, such as names of relations.
    """

    quantity: Quantity
    kind: str
    rows: tuple[InputEffect, ...]
    explained: float = math.nan
    left_out: tuple[str, ...] = ()


@dataclass(frozen=True)
class Indices:
    """Sobol indices of a quantity: the share of its variance that goes with each input.

    Parameters
    ----------
    quantity : Quantity
        Whose variance is shared out.
    inputs : tuple of str
        Key paths, the largest total first.
    first, total : ndarray, shape (inputs, 3)
        Alone, and together with the others: index, and its interval at `CONFIDENCE` by the bootstrap [1].
    draws, left_out : int
        Draws used, and draws in which a run has no value.
    """

    quantity: Quantity
    inputs: tuple[str, ...]
    first: np.ndarray
    total: np.ndarray
    draws: int
    left_out: int


def effects(table: StudyTable, quantity: Quantity) -> Effects:
    """Estimate what each input does to a quantity.

    In a grid the direct effect; where a table moves one input at a time likewise; otherwise a regression in all
    inputs at once, with Spearman's rank correlation beside it, which also sees what is not straight.

    Parameters
    ----------
    table : StudyTable
        From `solidify.storage.study_file.load_study`.
    quantity : Quantity
        From `solidify.study.answers.quantities.quantity`.

    Returns
    -------
    Effects
        Empty where no input varies or too few runs have a value.
    """
    names = varied(table)
    if table.sampling == "grid" and (found := _factorial(table, quantity, names)):
        return Effects(quantity, "grid", _sorted(found))
    if table.sampling == "table" and (found := _one_at_a_time(table, quantity, names)):
        return Effects(quantity, "single", _sorted(found))
    numbers = [n for n in names if table.inputs[n].dtype.kind == "f"]
    rows, explained = _regression(table, quantity, numbers)
    return Effects(quantity, "sample", _sorted(rows), explained, tuple(n for n in names if n not in numbers))


def _sorted(rows: Sequence[InputEffect]) -> tuple[InputEffect, ...]:
    return tuple(sorted(rows, key=lambda e: -abs(e.change)))


def _factorial(table: StudyTable, quantity: Quantity, names: Sequence[str]) -> list[InputEffect]:
    """Return the direct effects of a full grid, or nothing if it is none."""
    levels = [list(dict.fromkeys(table.inputs[name].tolist())) for name in table.inputs]
    shape = [len(own) for own in levels]
    if math.prod(shape) != table.runs:
        return []
    values = quantity.values.reshape(shape)
    found = []
    for axis, (name, own) in enumerate(zip(table.inputs, levels, strict=True)):
        if name not in names:
            continue
        by_level = np.moveaxis(values, axis, 0).reshape(len(own), -1)
        known = np.isfinite(by_level).any(axis=1)
        means = [float(np.nanmean(v)) if k else math.nan for v, k in zip(by_level, known, strict=True)]
        order = np.argsort(own if table.inputs[name].dtype.kind == "f" else means)
        order = order[known[order]]
        if len(order) < 2:
            continue
        first, last = order[0], order[-1]
        start, end = np.take(values, first, axis), np.take(values, last, axis)
        change = (end - start)[np.isfinite(end - start)]
        if change.size:
            ends = (float(change.min()), float(change.max())) if change.size > 1 else (math.nan, math.nan)
            found.append(InputEffect(name, own[first], own[last], float(change.mean()), *ends))
    return found


def _one_at_a_time(table: StudyTable, quantity: Quantity, names: Sequence[str]) -> list[InputEffect]:
    """Return the direct effects of rows that each move one input off the case, or nothing if they do not."""
    moved = np.array([[v != base_value(table, n) for v in table.inputs[n].tolist()] for n in names])
    if not len(names) or (moved.sum(axis=0) > 1).any():
        return []
    found = []
    for name, own in zip(names, moved, strict=True):
        rows = np.flatnonzero((own | ~moved.any(axis=0)) & np.isfinite(quantity.values))
        values = table.inputs[name][rows]
        if table.inputs[name].dtype.kind != "f" or len(set(values.tolist())) < 2:
            continue
        start, end = rows[int(np.argmin(values))], rows[int(np.argmax(values))]
        change = float(quantity.values[end] - quantity.values[start])
        found.append(InputEffect(name, float(values.min()), float(values.max()), change))
    return found


def _regression(
    table: StudyTable, quantity: Quantity, names: Sequence[str]
) -> tuple[list[InputEffect], float]:
    """Fit a straight law in all inputs; returns effects and the share of variance explained."""
    from scipy.stats import pearsonr, rankdata, t  # half a second to load

    inputs = np.array([table.inputs[name] for name in names]).reshape(len(names), table.runs)
    good = table.independent & np.isfinite(quantity.values) & np.isfinite(inputs).all(axis=0)
    x, y = inputs[:, good], quantity.values[good]
    free = len(y) - len(names) - 1
    if not len(names) or free < 1 or np.ptp(y) == 0 or (np.ptp(x, axis=1) == 0).any():
        return [], math.nan
    sd = x.std(axis=1, ddof=1)
    design = np.vstack([np.ones(len(y)), (x - x.mean(axis=1, keepdims=True)) / sd[:, None]]).T
    change, _, rank, _ = np.linalg.lstsq(design, y)
    if rank < design.shape[1]:
        return [], math.nan
    left = y - design @ change
    explained = 1.0 - float(left @ left) / float(((y - y.mean()) ** 2).sum())
    errors = np.sqrt(np.diag(np.linalg.inv(design.T @ design)) * float(left @ left) / free)
    reach = float(t.ppf(0.5 + CONFIDENCE / 2, free)) * errors
    rows = []
    for i, name in enumerate(names):
        own = pearsonr(rankdata(x[i]), rankdata(y))
        ends = own.confidence_interval(CONFIDENCE)
        middle, step = float(x[i].mean()), float(sd[i])
        effect = float(change[i + 1])
        low, high = effect - float(reach[i + 1]), effect + float(reach[i + 1])
        ranks = float(own.statistic), float(ends.low), float(ends.high)
        rows.append(InputEffect(name, middle, middle + step, effect, low, high, *ranks))
    return rows, explained


def sobol_shares(table: StudyTable, quantities: Sequence[Quantity]) -> list[Indices]:
    """Estimate Sobol indices from a study that was sampled for them.

    First-order and total indices by `scipy.stats.sobol_indices` (Saltelli and others 2010), intervals by its
    bootstrap over draws, from a fixed seed. A draw with a run that has no value is left out.

    Parameters
    ----------
    table : StudyTable
        With ``sampling = "sobol indices"``.
    quantities : sequence of Quantity
        Whose variance is to be shared out.

    Returns
    -------
    list of Indices
        Of the quantities that vary.

    Raises
    ------
    InputError
        If the study was sampled otherwise.
    """
    if table.sampling != "sobol indices":
        do = 'make a study with sampling = "sobol indices"'
        raise InputError(Problem("Sobol indices", f"a study with sampling {table.sampling!r}", do=do))
    names = list(table.inputs)
    found, values, counts = [], [], []
    for quantity in quantities:
        own = quantity.values.reshape(-1, len(names) + 2).copy()
        whole = np.isfinite(own).all(axis=1)
        if whole.sum() >= 2 and np.ptp(own[whole, :2]) > 0:
            own[~whole] = own[whole, :2].mean()  # adds nothing above nor below the line
            found.append(quantity)
            values.append(own)
            counts.append(int(whole.sum()))
    if not found:
        return []
    return [
        _ordered(quantity, names, *shares, count, len(values[0]) - count)
        for quantity, shares, count in zip(found, _indices(np.array(values)), counts, strict=True)
    ]


def _ordered(
    quantity: Quantity, names: Sequence[str], first: np.ndarray, total: np.ndarray, draws: int, left_out: int
) -> Indices:
    order = np.argsort(-total[:, 0], kind="stable")
    return Indices(quantity, tuple(names[i] for i in order), first[order], total[order], draws, left_out)


def _indices(values: np.ndarray) -> list[tuple[np.ndarray, np.ndarray]]:
    """Return first-order and total indices with their intervals from values by quantity, draw and run of it."""
    from scipy.stats import bootstrap, sobol_indices  # half a second to load

    outputs, draws, runs = values.shape

    def shares(chosen: np.ndarray) -> np.ndarray:
        a, b, *ab = np.moveaxis(values[:, chosen], 2, 0)
        own = sobol_indices(func={"f_A": a, "f_B": b, "f_AB": np.array(ab)}, n=draws)
        return np.stack([own.first_order, own.total_order]).reshape(2, outputs, runs - 2)

    everyone = np.arange(draws)
    middle = shares(everyone)
    spread = bootstrap(
        (everyone,), shares, n_resamples=RESAMPLES, confidence_level=CONFIDENCE, vectorized=False,
        method="percentile", rng=np.random.default_rng(0),
    ).confidence_interval  # fmt: skip
    cells = np.stack([middle, spread.low, spread.high], axis=-1)
    return list(zip(*cells, strict=True))


def step_text(table: StudyTable, effect: InputEffect, kind: str) -> str:
    """Say the step of an input that makes an effect, e.g. ``"+3 K"`` or ``"15 to 40 K"``.

    Parameters
    ----------
    table : StudyTable
        The study.
    effect : InputEffect
        From `solidify.study.answers.sensitivity.effects`.
    kind : str
        Of the effects.

    Returns
    -------
    str
    """
    start, end = effect.start, effect.end
    unit = table.units.get(effect.input, "")
    unit = "" if unit in ("", "1") else f" {unit}"
    if isinstance(start, str) or isinstance(end, str):
        return f"{start} to {end}"
    return f"{end - start:+.2g}{unit}" if kind == "sample" else f"{start:.4g} to {end:.4g}{unit}"
