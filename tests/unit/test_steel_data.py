"""The data files of the steel room: every set has unit, source, place, evidence; every source exists."""

import pytest

from solidify.sources import EVIDENCE, load_data, sources
from solidify.steel.coefficients import entries, outside, recalled

FILES = ("composition", "conductivity", "density", "enthalpy", "liquidus", "segregation", "transformation")
SETS = [(f, n) for f in FILES for n, entry in entries(f).items() if isinstance(entry, dict) and n != "most"]


@pytest.mark.parametrize(("file", "name"), SETS)
def test_every_set_says_where_it_comes_from(file, name):
    entry = entries(file)[name]
    for key in ("unit", "source", "place", "evidence"):
        assert entry[key], key
    assert entry["source"] in sources()
    assert entry["evidence"] in EVIDENCE
    for low, high in entry.get("valid", {}).values():
        assert low < high
    for key in entry.get("borrowed", {}).values():
        assert key in sources()


def test_no_recalled_publication_is_passed_off_as_read():
    """A set may say more than its publication only for what was read elsewhere and said in `place`."""
    for file, name in SETS:
        entry = entries(file)[name]
        if entry["evidence"] == "seen" and sources()[entry["source"]].evidence != "seen":
            assert "read" in entry["place"]


def test_every_source_of_the_room_is_used():
    own = set(load_data("sources", "steel.toml"))
    used = {entries(f)[n]["source"] for f, n in SETS} | {entries("composition")["source"], "user"}
    used |= {key for f, n in SETS for key in entries(f)[n].get("borrowed", {}).values()}
    from solidify.steel.path import BACK_DIFFUSION

    used |= {key for key, _ in BACK_DIFFUSION.values()}
    assert own - used == set()


def test_validity_is_judged_element_by_element():
    entry = {"valid": {"C": [0.0, 0.5], "Si": [0.0, 1.0], "temperature": [20.0, 900.0]}}
    assert outside(entry, {"C": 0.5}, "this") == ()
    (notice,) = outside(entry, {"C": 0.6, "Si": 1.2}, "this")
    assert notice.text == "this is used outside its range: C = 0.6 % (0 to 0.5), Si = 1.2 % (0 to 1)"


def test_recalled_terms_are_named_only_when_in_use():
    entry = {"evidence": "seen", "recalled": ["Ti"]}
    assert recalled(entry, ["C"]) == "read in the source"
    assert recalled(entry, ["C", "Ti"]) == "read in the source; Ti from memory"
