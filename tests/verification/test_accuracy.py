"""The estimate of the numerical error is honest: beside exact solutions and beside much finer marches."""

from pathlib import Path

import numpy as np
import pytest
from scipy import optimize

from solidify import exact_solutions as ex
from solidify.analysis.accuracy import FIGURES, numerical_errors, size_of_error
from solidify.case import read_case
from solidify.errors import InputError
from solidify.report.accuracy import accuracy_text
from solidify.solver.grid import graded_depth, plate
from solidify.strand.result import SUMMARY
from solidify.strand.solve import BoundaryCondition, march, solve

CASES = Path(__file__).parents[2] / "cases"
FACTOR = 3.0
"""Estimate over true error lies between 1/3 and 3 where the error is worth a figure."""


def test_estimate_beside_the_exact_freezing_range(bench, tell):
    """Shells and surface flux of the similarity solution at twelve times: 60 nodes, estimated by 160.

    Between two nodes an error passes through zero, so each quantity is judged by its rms over the times.
    """
    exact = ex.freezing_band(wall=1000, solidus=1460, liquidus=1510, initial=1540, **bench.three_regions)
    times, length = np.linspace(30.0, 250.0, 12), 0.2

    def read(nodes, tolerance):
        depth = graded_depth(length, nodes)
        m = march(
            bench.band(1460.0, 1510.0),
            plate(depth),
            [BoundaryCondition(1e9, temperature=1000.0)],
            initial=1540.0,
            times=times,
            tolerance=tolerance,
        )
        return np.array([1e3 * m.equivalent_shell[0], 1e3 * m.shell[0, 2], m.heat_flux[0] / 1e3])

    def truth():
        shell = 1e3 * exact.equivalent_shell(times)
        solidus = 1e3 * optimize.brentq(lambda x: float(exact.temperature(x, 1.0)) - 1460.0, 1e-6, 0.02)
        return np.array([shell, solidus * np.sqrt(times), exact.surface_heat_flux(times) / 1e3])

    value, finer, right = read(60, 1.0), read(160, 0.02), truth()
    for k, (name, unit) in enumerate(
        (("equivalent shell", "mm"), ("solidus", "mm"), ("surface flux", "kW/m²"))
    ):
        estimate = np.sqrt(np.mean(size_of_error(value[k], finer[k], 159 / 59) ** 2))
        error = np.sqrt(np.mean((value[k] - right[k]) ** 2))
        tell(f"exact freezing range, {name}", f"estimated {estimate:.2g}, true {error:.2g} {unit}")
        assert 1 / FACTOR < estimate / error < FACTOR, name


@pytest.mark.parametrize("name", ["bloom", "slab", "billet"])
def test_estimate_beside_a_much_finer_march(name, tell):
    """The demo cases beside 400 nodes and a hundredth of the tolerance; errors below a floor are noise."""
    case = read_case(CASES / f"{name}.toml")
    floor = {"m": 3e-5, "degC": 0.05, "mm min-1/2": 0.01}
    fine = solve(case.replace({"steps.nodes": 400, "steps.tolerance": 0.01}))
    found = numerical_errors(case)
    assert [e.name for e in found] == list(FIGURES)
    for e in found:
        right = fine.summary[e.name]
        right = float(right[fine.fraction_index(fine.headline)] if np.ndim(right) else right)
        least = 3e-3 if e.name == "metallurgical_length" else floor[e.unit]
        error = abs(e.value - right)
        factor, unit = {"degC": (1.0, "°C"), "m": (1e3, "mm")}.get(e.unit, (1.0, "mm/√min"))
        said = f"estimated {factor * e.error:.2g}, true {factor * error:.2g} {unit}"
        tell(f"{name}, {SUMMARY[e.name][1].split(',')[0]}", said)
        assert e.error < FACTOR * max(error, least), e
        assert error < FACTOR * max(e.error, least), e


def test_a_coarse_grid_is_found_out():
    """Twenty nodes, small steps: the error of the end of solidification is many times that of sixty, and known."""
    case, name = read_case(CASES / "slab.toml").replace({"steps.tolerance": 0.01}), "metallurgical_length"
    coarse, usual = (
        next(e for e in numerical_errors(case.replace({"steps.nodes": n})) if e.name == name)
        for n in (20, 60)
    )
    fine = solve(case.replace({"steps.nodes": 400})).summary[name]
    assert coarse.error > 4 * usual.error
    assert coarse.error == pytest.approx(abs(coarse.value - fine), rel=0.5)


def test_more_nodes_than_can_be_refined_are_refused():
    with pytest.raises(InputError, match="150 or fewer"):
        numerical_errors(read_case(CASES / "bloom.toml").replace({"steps.nodes": 151}))


def test_the_printed_block_says_what_it_is_not():
    case = read_case(CASES / "bloom.toml").replace(
        {"casting.speed_m_per_min": 1.6, "steps.output_step_m": 0.1}
    )
    text = accuracy_text(numerical_errors(case))
    assert text.startswith("Numerical error")
    assert "not of inputs" in " ".join(text.split())
    assert "end of solidification" not in text  # not by the cut-off, in neither march
    assert "shell at mould exit" in text
