"""The page of the mould law and its picture say what the program does."""

import importlib.util
import re
import sys
from pathlib import Path

import numpy as np
import pytest

DOCS = Path(__file__).parents[2] / "docs"
NUMBER = re.compile(r"-?\d+\.?\d*")
NAMES = re.compile(r'(id="|#|url\(#)[^")]*')


@pytest.fixture(scope="module")
def script():
    spec = importlib.util.spec_from_file_location("mould_law", DOCS / "mould_law.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    yield module
    del sys.modules[spec.name]


def alike(ours, written, off):
    """Whether two texts have the same words, and numbers that are at most `off` of their last digit apart."""
    assert NUMBER.sub("#", ours) == NUMBER.sub("#", written)
    pairs = list(zip(NUMBER.findall(ours), NUMBER.findall(written), strict=True))
    digits = np.array([10.0 ** -len(b.partition(".")[2]) for _, b in pairs])
    apart = np.abs(np.array([float(a) - float(b) for a, b in pairs]))
    return len(pairs) > 100 and bool(np.all(apart <= off * digits))


def test_page_is_what_the_program_would_write(script):
    """After a change of the mould law run ``python docs/mould_law.py``."""
    assert alike(script.page(), script.PAGE.read_text(encoding="utf-8"), 1.01)


def test_picture_is_what_the_program_would_draw(script, tmp_path):
    """The same strokes to a tenth of a point, whatever the names of its parts."""
    script.draw(tmp_path / "drawn.svg")
    drawn, kept = (
        NAMES.sub("", path.read_text(encoding="utf-8")) for path in (tmp_path / "drawn.svg", script.PICTURE)
    )
    assert NUMBER.sub("#", drawn) == NUMBER.sub("#", kept)
    pairs = zip(NUMBER.findall(drawn), NUMBER.findall(kept), strict=True)
    assert max(abs(float(a) - float(b)) for a, b in pairs) < 0.3
