"""Bias and scatter by hand, from samples of known bias, and the worked example of the source."""

import math

import numpy as np
import pytest
from scipy import stats

from solidify.errors import InputError
from validation.scatter import scatter, truth


def test_three_pairs_by_hand():
    """Ratios e^0.1, e^0.3, e^-0.1 with errors of 5 %: mean 0.1, variance 0.04, sigma_M^2 = 0.0375 (arithmetic)."""
    measured = np.array([10.0, 20.0, 40.0])
    found = scatter(measured * np.exp([0.1, 0.3, -0.1]), measured, [0.05] * 3)
    assert found.total_sd == pytest.approx(0.2)
    assert found.measured_sd == pytest.approx(0.05)
    assert found.model_sd == pytest.approx(math.sqrt(0.0375))
    assert found.bias == pytest.approx(math.exp(0.1 + (0.0375 - 0.0025) / 2))
    half = 4.302653 * 0.2 / math.sqrt(3)  # Student's 97.5 % quantile for two degrees of freedom, from tables
    assert (found.low, found.high) == pytest.approx(
        (found.bias / math.exp(half), found.bias * math.exp(half))
    )
    assert (found.count, found.limited) == (3, False)


def test_the_worked_example_of_the_source():
    """A rise of 155 K with bias 1.13 and scatter 20 %: 157 and 27 degC from 20, over 200 degC with 6 % (read)."""
    mean, sd = truth(155.0, 1.13, 0.20)
    assert (round(20.0 + mean), round(sd)) == (157, 27)
    assert round(stats.norm.sf(200.0, 20.0 + mean, sd), 2) == 0.06


def test_bias_and_scatter_are_recovered_from_samples():
    """4000 measurements with 8 %, a model with bias 1.2 and 15 %: both come back within 1 %."""
    rng = np.random.default_rng(11)
    true = rng.uniform(50.0, 500.0, 4000)
    measured = true * (1.0 + 0.08 * rng.standard_normal(4000))
    model = 1.2 * true * (1.0 + 0.15 * rng.standard_normal(4000))
    found = scatter(model, measured, np.full(4000, 0.08))
    assert found.bias == pytest.approx(1.2, rel=0.01)
    assert found.model_sd == pytest.approx(0.15, abs=0.01)


def test_the_interval_holds_the_true_bias_as_often_as_it_says():
    """1000 sets of eight pairs with equal relative errors of 5 %: 93 to 97 % of the intervals hold the bias."""
    rng = np.random.default_rng(5)
    held = 0
    for _ in range(1000):
        measured, model = (100.0 * np.exp(0.05 * rng.standard_normal(8)) for _ in range(2))
        found = scatter(0.9 * model, measured, np.full(8, 0.01))
        held += found.low < 0.9 < found.high
    assert 930 <= held <= 970


def test_a_model_is_never_better_than_the_measurement():
    """Two equal ratios and errors of 10 %: what scatters is shared, and the bias is the mean ratio."""
    found = scatter([1.0, 2.02, 3.0], [1.0, 2.0, 3.0], [0.1] * 3)
    assert found.limited
    assert found.model_sd == found.measured_sd == pytest.approx(found.total_sd / math.sqrt(2))
    assert found.bias == pytest.approx(1.01 ** (1 / 3))


def test_too_few_points_give_a_bias_alone():
    found = scatter([1.1, 1.1], [1.0, 1.0], [0.1, 0.1])
    assert found.bias == pytest.approx(1.1)
    assert math.isnan(found.model_sd)
    assert math.isnan(found.low)


def test_everything_wrong_is_told_at_once():
    with pytest.raises(InputError) as caught:
        scatter([1.0, -2.0], [0.0, 3.0, 4.0], [0.1, float("nan")])
    text = str(caught.value)
    for words in (
        "(2,), (3,), (2,)",
        "model[1]: -2",
        "measured[0]: 0",
        "error[1]: nan",
        "above 0",
        "0 or more",
    ):
        assert words in text
    with pytest.raises(InputError, match="one point or more"):
        scatter([], [], [])
