"""Bad studies: every problem at once, each with its line, what is allowed, the closest match, what to do."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from solidify.case import read_case
from solidify.cli import main
from solidify.errors import InputError
from solidify.study.definition import make_study, read_study

CASES = Path(__file__).parents[2] / "cases"


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "bloom.toml").write_text((CASES / "bloom.toml").read_text())
    return tmp_path


def problems(folder, text, table=None):
    (folder / "s.toml").write_text(text)
    if table is not None:
        (folder / "rows.csv").write_text(table)
    with pytest.raises(InputError) as caught:
        read_study(folder / "s.toml")
    return [str(p).replace(str(folder) + "/", "") for p in caught.value.problems]


HEAD = 'case = "bloom.toml"\n'
SPEED = '[vary]\n"casting.speed_m_per_min" = '

BAD = {
    "unknown key": (
        HEAD + "kep = []\n" + SPEED + "[0.7]",
        "s.toml:2: kep is not a key of a study.*mean 'keep'",
    ),
    "unknown path": (
        HEAD + '[vary]\n"casting.sped_m_per_min" = [1]',
        "s.toml:3: .vary. casting.sped_m_per_min is not a key.*mean 'casting.speed_m_per_min'",
    ),
    "unknown path in dots": (HEAD + "[vary]\ncasting.superheat = [1]", "casting.superheat is.*superheat_K"),
    "unknown zone": (
        HEAD + "[vary]\n'zone.\"spray 9\".water_L_per_min' = [80]",
        'zone."spray 9".water_L_per_min is not a key.*spray .".water_L_per_min',
    ),
    "value out of range": (
        HEAD + SPEED + "[0.7, 75]",
        r"s.toml:3: .*= 75 is outside its range.*0.05 to 12 m/min",
    ),
    "value of another kind": (HEAD + SPEED + '["fast"]', '= "fast" is no number'),
    "truth value": (HEAD + SPEED + "[true]", "= true is no number"),
    "not finite": (HEAD + SPEED + "[nan]", "= nan is no number"),
    "no end of digits": (HEAD + SPEED + f"[1{'0' * 400}]", "a whole number of many digits is no number"),
    "no end of digits in a range": (
        HEAD + 'sampling = "latin"\nruns = 4\n' + SPEED + f"{{ low = 0.7, high = 1{'0' * 400} }}",
        "has high = a whole number of many digits.*a finite number",
    ),
    "word that is none": (
        HEAD + '[vary]\n"cooling.spray_relation" = ["nozaki_1987"]',
        "is no word for it.*mean 'nozaki_1978'",
    ),
    "end of a range": (HEAD + SPEED + "{ from = 0.7, to = 99, steps = 3 }", "= 99 is outside its range"),
    "steps": (HEAD + SPEED + "{ from = 0.7, to = 0.8, steps = 1.5 }", "steps = 1.5.*whole number, 2 to"),
    "half a range": (HEAD + SPEED + "{ from = 0.7, to = 0.8 }", "has from, to.*from, to, steps"),
    "misspelt range": (HEAD + SPEED + "{ from = 0.7, too = 0.8, steps = 3 }", "has 'too'.*mean 'to'"),
    "one value": (HEAD + SPEED + "0.7", "= 0.7 does not vary.*goes into the case"),
    "no value": (HEAD + SPEED + "[]", "is an empty list"),
    "nothing varies": (HEAD + "[vary]\n", "vary names nothing"),
    "no vary": (HEAD, "vary missing"),
    "twice": (HEAD + SPEED + "[0.7]\ncasting.speed_m_per_min = [0.8]", "stands twice"),
    "distribution in a grid": (
        HEAD + SPEED + "{ mean = 0.7, sd = 0.01 }",
        "a distribution, which a grid cannot",
    ),
    "no spread": (
        HEAD + 'sampling = "latin"\nruns = 9\n' + SPEED + "{ mean = 0.7, sd = 0 }",
        "sd = 0.*above 0",
    ),
    "upside down": (
        HEAD + 'sampling = "latin"\nruns = 9\n' + SPEED + "{ low = 0.8, high = 0.7 }",
        "low lies below high",
    ),
    "no runs": (
        HEAD + 'sampling = "sobol"\n' + SPEED + "{ low = 0.6, high = 0.7 }",
        "runs missing.*wants a number",
    ),
    "runs of a grid": (HEAD + "runs = 9\n" + SPEED + "[0.7]", "s.toml:2: runs stands beside a grid"),
    "runs in parts": (
        HEAD + 'sampling = "latin"\nruns = 9.5\n' + SPEED + "[0.7]",
        "runs = 9.5 is no whole number",
    ),
    "sampling": (
        HEAD + 'sampling = "sobl"\nruns = 9\n' + SPEED + "[0.7]",
        "sampling = \"sobl\".*mean 'sobol'",
    ),
    "keep": (HEAD + 'keep = ["sumary"]\n' + SPEED + "[0.7]", "\"sumary\" cannot be kept.*mean 'summary'"),
    "keep no list": (HEAD + 'keep = "summary"\n' + SPEED + "[0.7]", "is no list"),
    "no case": (SPEED + "[0.7]", "case missing.*name the base case"),
    "case that is not there": (
        'case = "blom.toml"\n' + SPEED + "[0.7]",
        "no such case file.*mean 'bloom.toml'",
    ),
    "too many": (
        HEAD + SPEED + "{ from = 0.6, to = 0.7, steps = 100000 }\n"
        '"casting.superheat_K" = { from = 20, to = 30, steps = 100000 }',
        "makes 10000000000 runs",
    ),
    "not TOML": (HEAD + "[vary\n", "not TOML"),
    "a case": ((CASES / "bloom.toml").read_text(), "a case file.*a study names it: case = "),
}


@pytest.mark.parametrize("name", BAD)
def test_each_bad_study_says_what_is_wrong(folder, name):
    text, message = BAD[name]
    found = problems(folder, text)
    assert len(found) == 1, found
    assert re.search(message, " ".join(found[0].split())), found


TABLE = HEAD + 'table = "rows.csv"\n'

BAD_TABLES = {
    "unknown path": (
        "casting.sped_m_per_min\n0.7\n",
        "rows.csv: casting.sped_m_per_min: is not.*casting.speed_m",
    ),
    "twice": ("casting.superheat_K,casting.superheat_K\n20,21\n", "casting.superheat_K: stands twice"),
    "out of range": ("casting.speed_m_per_min\n0.7\n75\n", "rows.csv:3: .* = 75 is outside its range"),
    "no number": ("casting.speed_m_per_min\nfast\n", 'rows.csv:2: .*"fast" is no number'),
    "decimal comma": (
        "casting.speed_m_per_min\n0,7\n",
        "rows.csv:2: 2 cells under 1 key paths.*with a point",
    ),
    "no runs": ("casting.speed_m_per_min\n", "no runs"),
    "empty": ("", "no runs"),
}


@pytest.mark.parametrize("name", BAD_TABLES)
def test_each_bad_table_says_what_is_wrong(folder, name):
    table, message = BAD_TABLES[name]
    found = problems(folder, TABLE, table)
    assert re.search(message, " ".join(found[0].split())), found


def test_a_table_stands_alone(folder):
    found = problems(folder, 'seed = 3\nsampling = "grid"\n' + TABLE, "casting.speed_m_per_min\n0.7\n")
    assert [re.search(r": (\w+) stands beside a table", p)[1] for p in found] == ["sampling", "seed"]


def test_three_mistakes_are_told_at_once(folder, capsys):
    (folder / "s.toml").write_text(
        HEAD + 'kep = ["summary"]\nsampling = "latn"\n[vary]\n"casting.speed_m_per_min" = [0.7, 75]\n'
    )
    assert main(["sweep", str(folder / "s.toml"), "-o", str(folder / "s.h5")]) == 2
    said = capsys.readouterr().err
    for words in ("kep is not a key", "did you mean 'latin'?", "= 75 is outside its range", "s.toml:5:"):
        assert words in said
    assert not (folder / "s.h5.parts").exists()


def test_mistakes_of_the_case_and_the_study_are_told_together(folder):
    text = (folder / "bloom.toml").read_text().replace("superheat_K = 28", "superheat_K = 2800")
    (folder / "bloom.toml").write_text(text)
    found = problems(folder, HEAD + "kep = 1\n" + SPEED + "[0.7]")
    assert any("superheat_K" in p for p in found)
    assert any("kep" in p for p in found)


def test_studies_from_values_are_refused_alike():
    case = read_case(CASES / "bloom.toml")
    with pytest.raises(InputError, match="did you mean"):
        make_study(case, {"casting.sped_m_per_min": [0.7]})
    with pytest.raises(InputError, match="is not a key of the case"):
        make_study(case, rows=[{"casting.sped": 0.7}])
    with pytest.raises(InputError, match="no runs"):
        make_study(case, rows=[])


def test_paths_may_be_quoted_dotted_or_tables(folder):
    ways = (
        '[vary]\n"casting.speed_m_per_min" = [0.7]\n\'zone."spray 1".water_L_per_min\' = [90]',
        '[vary]\ncasting.speed_m_per_min = [0.7]\nzone."spray 1".water_L_per_min = [90]',
        '[vary.casting]\nspeed_m_per_min = [0.7]\n[vary.zone."spray 1"]\nwater_L_per_min = [90]',
    )
    found = []
    for text in ways:
        (folder / "s.toml").write_text(HEAD + text)
        found.append(read_study(folder / "s.toml"))
    assert found[0].inputs == ("casting.speed_m_per_min", 'zone."spray 1".water_L_per_min')
    assert found[0].fingerprint == found[1].fingerprint == found[2].fingerprint
