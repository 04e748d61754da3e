"""What is printed about squares and rectangles, against a two-dimensional quarter section of its own code.

The whole comparison is `benchmarks/section.py`, which writes docs/section-treatment.md; here a coarse part of it. The
reference itself is proved first. Steels and coolings are invented.
"""

import re
from pathlib import Path

import numpy as np
import pytest

from solidify.case import read_case
from solidify.solver.grid import mid_face, plate
from solidify.strand.setup import shape_notices

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def section():
    """The benchmark."""
    with pytest.MonkeyPatch.context() as patch:
        patch.syspath_prepend(str(ROOT / "benchmarks"))
        import section

        yield section


@pytest.fixture(scope="module")
def reference(section):
    """The two-dimensional solver."""
    import quarter_section

    return quarter_section


@pytest.fixture(scope="module")
def notice():
    """What a rectangle is told."""
    return shape_notices(read_case(ROOT / "solidify" / "data" / "cases" / "bloom.toml"))[0].text


def test_reference_follows_the_product_of_two_plates(reference, prove):
    """Convection on both faces, constant properties: Carslaw and Jaeger 1959, 1.15 and 3.11 (recalled)."""
    cells = np.array([8, 16, 32])
    prove("mid-face", 0.08 / cells, reference.product_errors(cells), limit=0.4, order=1.9)


def test_reference_freezes_a_corner(reference):
    """Fixed temperature on both faces: Rathjen and Jiji, J. Heat Transfer 93 (1971) 101-109 (recalled).

    Front over sqrt(4 a t) for superheat 0.3 and latent heat 0.25: 0.8956 on the diagonal, 0.70766 far away.
    """
    diagonal, far = reference.corner_front(80)
    assert diagonal == pytest.approx(0.8956, abs=0.012)
    assert far == pytest.approx(0.70766, abs=0.004)


def test_reference_keeps_heat_and_symmetry(section, reference):
    """A square loses what leaves through its faces and stays symmetric about its diagonal."""
    steel, curves, _ = section.materials("0.20 %C")
    dx = reference.widths(0.065, 0.002, 0.004)
    two = reference.quarter(
        curves,
        dx,
        dx,
        section.laws(0.13, "medium"),
        initial=steel.liquidus + 25,
        times=np.arange(10.0, 900.0, 10.0),
        level=curves.solidus,
    )
    start = np.interp(steel.liquidus + 25, curves.temperature, curves.enthalpy)
    lost = ((start - two.enthalpy) * dx[:, None] * dx[None, ::-1]).sum()
    assert 200 < two.end < 500
    assert lost == pytest.approx(two.removed, rel=1e-10)
    mirrored = two.enthalpy[:, ::-1]
    assert mirrored == pytest.approx(mirrored.T, rel=1e-12)


def test_flat_slice_is_a_wide_slab(section):
    """In the middle of a slab four times as wide as thick the second dimension is not felt."""
    found = section.compare(
        (220, 880), "0.20 %C", "medium", fine=0.5, treatments={"flat": lambda x, _: plate(x)}
    )
    assert abs(found.ends["flat"]) < 0.4
    low, high, cold, hot = found.bands["flat"]
    assert low > -1.2
    assert high < 1.2
    assert cold > -5
    assert hot < 5


@pytest.mark.parametrize(
    ("size", "steel", "cooling"),
    [((160, 160), "0.20 %C", "medium"), ((250, 330), "0.20 %C", "soft"), ((200, 200), "0.80 %C", "hard")],
)
def test_rectangles_keep_within_what_is_printed(section, notice, size, steel, cooling):
    """End of solidification, shell and surface of the weight in use lie within the bands of the notice."""
    found = section.compare(size, steel, cooling, fine=0.6, treatments={"in use": mid_face})
    low, high = map(float, re.search(r"solidification lies within ([-+]\d+) to ([-+]\d+) %", notice).groups())
    assert low <= found.ends["in use"] <= high
    thin, thick = map(float, re.search(r"shell lies within ([-+]\d+) to ([-+]\d+) %", notice).groups())
    cold, hot = map(float, re.search(r"surface within ([-+]\d+) to ([-+]\d+) °C", notice).groups())
    band = found.bands["in use"]
    assert thin <= band[0]
    assert band[1] <= thick
    assert cold <= band[2]
    assert band[3] <= hot


def test_flat_slice_of_a_square_solidifies_too_late(section):
    """As the notice of a flat slice says; and it holds only until the shell is about a third of the half thickness."""
    found = section.compare(
        (160, 160), "0.20 %C", "medium", fine=0.6, treatments={"flat": lambda x, _: plate(x)}
    )
    assert 50 < found.ends["flat"] < 110
    assert 0.25 < found.holds["flat"] < 0.5


def test_page_speaks_of_the_weight_in_use(section):
    """The page was written for the weight that the march applies."""
    text = (ROOT / "docs" / "section-treatment.md").read_text(encoding="utf-8")
    assert f'`shape = "rectangle"` uses the **{section.in_use()}**' in text
    assert "FAILED" not in text


def test_notice_prints_the_bands_of_the_page(notice):
    """Neither wider nor narrower ones."""
    text = (ROOT / "docs" / "section-treatment.md").read_text(encoding="utf-8").replace("−", "-")
    pattern = r"end of solidification (\S+ … \S+) %.*?shell (\S+ … \S+) %.*?surface\s(\S+ … \S+) K"
    end, shell, surface = re.search(pattern, text, re.DOTALL).groups()
    assert f"solidification lies within {end.replace(' … ', ' to ')} %" in notice
    assert f"shell lies within {shell.replace(' … ', ' to ')} %" in notice
    assert f"surface within {surface.replace(' … ', ' to ')} °C" in notice
