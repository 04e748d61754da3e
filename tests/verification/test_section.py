"""What is printed about squares and rectangles, against a two-dimensional quarter section of its own code.

The whole comparison is `benchmarks/section.py`, which writes docs/section-treatment.md; here a coarse part of it. The
reference itself is proved first. Steels and coolings are invented.
"""

import re
from pathlib import Path

import numpy as np
import pytest

from solidify.case import read_case
from solidify.case.treatment import treatment_band
from solidify.solver.grid import mid_face, plate, section_weight
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
        (220, 880), "0.20 %C", "medium", fine=0.67, treatments={"flat": lambda x, _: plate(x)}
    )
    assert abs(found.ends["flat"]) < 0.4
    low, high, cold, hot = found.bands["flat"]
    assert low > -1.2
    assert high < 1.2
    assert cold > -5
    assert hot < 5


def printed(text):
    """Bands that a notice prints: end of solidification [%], shell [% of half thickness], surface [K]."""
    patterns = (
        r"solidification lies within ([-+]\d+) to ([-+]\d+) %",
        r"the shell within ([-+]\d+) to ([-+]\d+) %",
        r"time of solidification, within ([-+]\d+) to ([-+]\d+) K",
    )
    return [tuple(map(float, re.search(pattern, text).groups())) for pattern in patterns]


def within(section, notice, strand, fine):
    """Assert that a strand lies within what is printed, from mould exit to twice the time of solidification."""
    found = section.compare(*strand, fine=fine, treatments={"in use": mid_face})
    (slow, late), (thin, thick), (cold, hot) = printed(notice)
    assert slow <= found.ends["in use"] <= late
    low, high, coldest, hottest = found.bands["in use"]
    assert thin <= low
    assert high <= thick
    assert cold <= coldest
    assert hottest <= hot
    # at twice the time, where the fixed weight is 50 K too hot
    assert abs(found.errors["in use"][-1, 1]) <= 15.0


@pytest.mark.parametrize(
    "strand",
    [
        ((160, 160), "0.20 %C", "medium", "power"),
        ((250, 330), "0.20 %C", "soft", "root"),
        ((200, 200), "0.80 %C", "hard", "root"),
    ],
)
def test_rectangles_keep_within_what_is_printed(section, notice, strand):
    """End of solidification, shell and surface, the time after the end included."""
    within(section, notice, strand, fine=0.7)


@pytest.mark.full
def test_the_whole_table_keeps_within_what_is_printed(section, notice):
    """Sections of the page to 320 mm, soft and hard, the two mould laws in turn."""
    sizes = [size for size in section.SECTIONS if size[0] <= section.THICK and size[1] < 3 * size[0]]
    for i, size in enumerate(sizes[::2]):
        for j, steel in enumerate(("0.04 %C", "0.80 %C")):
            for k, cooling in enumerate(("soft", "hard")):
                mould = tuple(section.MOULDS)[(i + j + k) % 2]
                within(section, notice, (size, steel, cooling, mould), fine=0.8)


@pytest.mark.full
def test_other_machines_keep_within_what_is_printed(section, notice, monkeypatch):
    """Machines and sections that no number was fitted to: long soft sprays, short hard ones, other lengths."""
    machines = {
        "long": ((0.8, 1.2, 5.0, 12.0), (500.0, 250.0, 160.0)),
        "short": ((0.8, 1.1, 2.2, 3.2), (1200.0, 700.0, 400.0)),
    }
    for name, (ends, coefficients) in machines.items():
        monkeypatch.setattr(section, "ZONE_ENDS", ends)
        monkeypatch.setitem(section.COOLING, name, coefficients)
        for size in ((140, 140), (180, 220), (250, 320)):
            within(section, notice, (size, "0.04 %C", name, "power"), fine=0.8)
            within(section, notice, (size, "0.80 %C", name, "root"), fine=0.8)


def test_flat_slice_of_a_square_solidifies_too_late(section):
    """As the notice of a flat slice says; and it holds only until the shell is about a third of the half thickness."""
    found = section.compare(
        (160, 160), "0.20 %C", "medium", fine=0.8, treatments={"flat": lambda x, _: plate(x)}
    )
    assert 50 < found.ends["flat"] < 110
    assert 0.25 < found.holds["flat"] < 0.5


def test_page_speaks_of_the_weight_in_use(section):
    """The page was written for the numbers that the march applies."""
    text = (ROOT / "docs" / "section-treatment.md").read_text(encoding="utf-8")
    for a, b in section.SECTIONS:
        w = section_weight(a / b, a / 2e3)
        assert f"| {a} × {b} | {w.tube:.3f} | {w.power:.3f} | {w.begins:.2f} | {w.ends:.2f} |" in text
    assert "FAILED" not in text


def test_notices_print_the_bands_of_the_page(notice):
    """Neither wider nor narrower ones; thick sections have their own."""
    text = (ROOT / "docs" / "section-treatment.md").read_text(encoding="utf-8").replace("−", "-")
    pattern = r"end of solidification (\S+) … (\S+) %.*?shell\s(\S+) … (\S+) %.*?surface\s(\S+) … (\S+) K"
    usual, thick = re.findall(pattern, text, re.DOTALL)[:2]
    assert [x for pair in printed(notice) for x in pair] == [float(x) for x in usual]
    band = treatment_band("rectangle", 0.4)
    assert [*band.end, *band.shell, *band.surface] == [float(x) for x in thick]
