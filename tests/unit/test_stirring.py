"""Stirring of the pool: it conducts ahead of the dendrites, not inside them."""

import pytest

from solidify import solve
from solidify.case import demo_case

CALM = {"casting.superheat_K": 0}


def exit_shells(case, *fractions):
    """Shells at mould exit [mm]."""
    result = solve(case)
    shells = result.at(result.shell_thickness[0], result.mould.working_length) * 1e3
    return [float(shells[result.fraction_index(f)]) for f in fractions]


@pytest.mark.parametrize(("name", "most"), [("slab", 0.2), ("billet", 0.2), ("bloom", 0.3)])
def test_where_there_is_nothing_to_stir_stirring_moves_no_shell(name, most):
    """Without superheat the pool has no heat to give: factor 1 to 5 moves the shell at 0.7 by less than 0.2 mm.

    The bloom freezes over 87 K, and a fifth of that stands ahead of the dendrites: 0.3 mm.
    """
    still, stirred = (
        exit_shells(demo_case(name).replace(CALM | {"steel.liquid_conductivity_factor": f}), 0.7, 1.0)
        for f in (1, 5)
    )
    assert still == pytest.approx(stirred, abs=most)


def test_limits_deep_in_the_mushy_zone_conduct_between_the_dendrites():
    """The limits 0.3 and 0.7 stay to be chosen, and move the shell without superheat by more than half a millimetre."""
    deep = demo_case("slab").replace(CALM | {"steel.stirred_liquid_fraction": [0.3, 0.7]})
    (still,), (stirred,) = (
        exit_shells(deep.replace({"steel.liquid_conductivity_factor": f}), 0.7) for f in (1, 5)
    )
    assert still - stirred > 0.5


def test_stirring_brings_the_superheat_to_the_shell():
    """With 50 K of superheat a stirred pool thins the shell at mould exit."""
    hot = demo_case("slab").replace({"casting.superheat_K": 50})
    (still,), (stirred,) = (
        exit_shells(hot.replace({"steel.liquid_conductivity_factor": f}), 0.7) for f in (1, 5)
    )
    assert still - stirred > 0.5
