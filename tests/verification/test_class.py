"""The accuracy class: with the defaults, shells within 0.1 mm and surfaces within 2 K on every kind of strand.

Invented strands of `benchmarks/reference_strand.py` beside the same march on 500 nodes with a two-hundredth of the
tolerance; `benchmarks/speed.py` holds such a march against another program. Shells are compared until they reach 90 %
of the half thickness, surfaces after the first second. Guarded by counts as well: a class is cheap to reach by steps.
"""

from pathlib import Path

import numpy as np
import pytest

from solidify.grid import usual_nodes
from solidify.slices import march_slices

ROOT = Path(__file__).resolve().parents[2]
KINDS = (
    "plate",
    "two unequal sides",
    "a spray on the boiling branch",
    "mid-face, width 1.25 × thickness",
    "round",
    "0.10 %C",
    "0.16 %C",
    "0.80 %C",
)
SHELL, SURFACE = 0.1, 2.0  # [mm], [K]
MOST_ITERATIONS = 1100


@pytest.fixture(scope="module")
def reference():
    """Where the strands are."""
    with pytest.MonkeyPatch.context() as patch:
        patch.syspath_prepend(str(ROOT / "benchmarks"))
        import reference_strand

        yield reference_strand


@pytest.fixture(scope="module")
def marched(reference):
    """The march laid out, and its twin."""
    import marched

    return marched


def hold(reference, compare, strands, kind, name):
    nodes = usual_nodes(strands[0].half)
    truth = reference.answers(strands, 500, 5e-3, kind)
    shell, surface = reference.worst(reference.answers(strands, nodes, kind=kind), truth)
    compare(f"{name}: shell, {nodes} nodes", shell, 0.0, SHELL, "mm")
    compare(f"{name}: surface, {nodes} nodes", surface, 0.0, SURFACE, "K")
    marches = march_slices([reference.slice_of(s, nodes, kind=kind) for s in strands])
    assert max(m.iterations for m in marches) <= MOST_ITERATIONS


def test_every_kind_is_tried(reference):
    assert set(KINDS) == set(reference.KINDS)


@pytest.mark.parametrize("name", ["plate", "round"])
def test_class_of_the_reference_strand(name, reference, compare):
    hold(reference, compare, [reference.STRAND], reference.KINDS[name], f"reference strand, {name}")


@pytest.mark.full
@pytest.mark.parametrize("name", KINDS)
def test_class_of_a_kind(name, reference, compare):
    hold(reference, compare, reference.like_it()[::5], reference.KINDS[name], name)


@pytest.mark.full
@pytest.mark.parametrize("name", ["plate", "round", "0.16 %C"])
@pytest.mark.parametrize("thickness", [40, 130, 400])
def test_class_of_a_thickness(thickness, name, reference, compare):
    strands = [s.thick(0.5e-3 * thickness) for s in reference.like_it(2)]
    hold(reference, compare, strands, reference.KINDS[name], f"{thickness} mm, {name}")


def test_more_nodes_for_a_thicker_strand():
    counts = [usual_nodes(0.5e-3 * d) for d in (40, 100, 160, 250, 400)]
    assert counts == sorted(counts)
    assert usual_nodes(0.125) == 58
    assert np.all(np.array(counts) <= 80)


def test_the_twin_in_c_plus_plus_is_the_march(reference, marched):
    """Which the benchmark times beside it: as many steps and iterations, and every output."""
    if not marched.compiler():
        pytest.skip("no C++ compiler")
    strand = marched.Marched([reference.slice_of(reference.STRAND, usual_nodes(reference.STRAND.half))])
    assert strand.difference() < 1e-6
