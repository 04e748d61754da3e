"""Invented plants of sound practice: what an engineer of the caster would sign, and that every check of it can fail."""

from functools import cache
from pathlib import Path

import pytest

from solidify.assessment.judge import judge
from solidify.case import read_case
from solidify.errors import InputError
from solidify.strand.solve import solve

PLANTS = Path(__file__).parents[1] / "files" / "plants"
NAMES = ("billet-130", "round-200", "slab-1600", "slab-1600-peritectic")

TOLD = {"billet-130": {"liquid_core_straightener"}}
"""What the strand breaks by its own choice: 130 mm at 3 m/min on a radius of 6 m are unbent with a liquid core."""

TROUBLE = (
    {"casting.speed_m_per_min": 12.0},
    {"casting.speed_m_per_min": 0.25},
    {"casting.superheat_K": 80.0},
    {"mould.oscillation_cycles_per_min": 30},
    {"mould.copper_wall_mm": 60},
    {"mould.water_gap_mm": 20},
    {"rise": 2.0},
    {"rise": 11.0},
    {"water": 0.0},
    {"water": 4.0},
    {"first zone": 0.0},
    {"third zone": 6.0},
    {"machine.radius_m": 3.0},
    {"roll pitch": 0.6},
    {"machine.radius_m": 3.0, "roll pitch": 0.6},
    {"machine.radius_m": 3.0, "casting.speed_m_per_min": 2.5},
    {"mould.decay_exponent": 0.8, "casting.speed_m_per_min": 0.4},
)
"""Troubles of a plant; one alone breaks some limits."""


@cache
def judged(name, trouble=None):
    case = read_case(PLANTS / f"{name}.toml")
    return judge(solve(case if trouble is None else case.replace(changed(case, dict(TROUBLE[trouble])))))


def changed(case, changes):
    """The keys of the case behind the plain words of a trouble."""
    rise, water, pitch = (changes.pop(word, None) for word in ("rise", "water", "roll pitch"))
    shares = {0: changes.pop("first zone", water), 2: changes.pop("third zone", water)}
    for i, zone in enumerate(case.zone):
        share = shares.get(i, water)
        for key, rows in zone.tables().items() if share is not None else ():
            changes[f'zone."{zone.name}".{key}'] = [[speed, share * flow] for speed, flow in rows]
        if pitch is not None and zone.roll_pitch_m is not None:
            changes[f'zone."{zone.name}".roll_pitch_m'] = pitch
    if rise is not None:
        faces = [] if case.mould.face_water_rise_K is None else ["loose", "fixed", "left", "right"]
        keys = [f"face_water_rise_K.{face}" for face in faces] or ["water_rise_K"]
        changes |= {f"mould.{key}": rise for key in keys}
    if "machine.radius_m" in changes:
        wide = [50.0 + i for i in range(len(case.machine.straightener_m) - 1)]
        changes["machine.radius_after_m"] = [*wide, float("inf")]
    return changes


@pytest.mark.parametrize("name", NAMES)
def test_sound_plant_breaks_nothing_that_it_does_not_choose(name):
    """Every hard limit is met, and of the soft ones only what is told of the plant is not."""
    judgement = judged(name)
    breached = {f.name for f in judgement.findings if f.verdict == "breached"}
    assert breached == TOLD.get(name, set())
    assert not {f.name for f in judgement.findings if f.hardness == "hard" and f.verdict == "breached"}
    assert judgement.breakout.words == "no reason found"


@pytest.mark.parametrize("name", NAMES)
def test_every_check_of_a_sound_plant_can_fail(name):
    """One trouble or another breaks each limit that is judged: none is so far off that it says nothing."""
    checks = {f.name for f in judged(name).findings if f.judged}
    broken = set()
    for trouble in range(len(TROUBLE)):
        try:
            broken |= {f.name for f in judged(name, trouble).findings if f.verdict == "breached"}
        except InputError:
            continue
    assert checks - broken == set()


@pytest.mark.parametrize("trouble", range(len(TROUBLE)))
def test_every_trouble_is_one_of_some_plant(trouble):
    """None is refused by all of them: it would break nothing."""
    solved = 0
    for name in NAMES:
        try:
            judged(name, trouble)
        except InputError:
            continue
        solved += 1
    assert solved > 0


def test_a_billet_supports_itself_and_a_wide_slab_does_not():
    """Solid beyond its last support, the billet is held to straightener and cut-off; the slab to its last roll."""
    billet, slab = judged("billet-130"), judged("slab-1600")
    assert "last_liquid_support" not in {f.name for f in billet.findings}
    assert billet["last_liquid_cutoff"].note.startswith("a billet supports itself")
    assert slab["last_liquid_support"].verdict == "kept"


def test_sulphur_of_rebar_lowers_no_limit_of_a_billet():
    """0.030 % S: reheating 100 K and 0.35 % of strain, as without."""
    billet = judged("billet-130")
    assert (billet["reheating_total"].limit, billet["strain_front"].limit) == (100, 0.35)


def test_strength_reads_in_the_order_of_the_sections():
    """Rolls a short way apart carry a slab better than corners a billet; a hoop needs no bending."""
    assert judged("slab-1600")["face_strength"].value > judged("billet-130")["face_strength"].value > 1
    for name in NAMES:
        assert 3 < judged(name)["hot_strength"].value < 20
    with pytest.raises(KeyError):
        judged("round-200")["face_strength"]


def test_peritectic_slab_is_the_weaker():
    """The same machine: a shell of less heat flux, of more delta ferrite, thinned more."""
    plain, peritectic = judged("slab-1600"), judged("slab-1600-peritectic")
    for name in ("hot_strength", "face_strength", "strength_floor"):
        assert peritectic[name].value < 0.7 * plain[name].value
