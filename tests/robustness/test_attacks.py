"""Thousands of mangled files and mutated cases through every verb: a refusal or a result, never anything else.

A few of each kind in every run; the large sets with ``-m attacks``, in processes of their own that are ended when one
attack takes too long.
"""

from __future__ import annotations

import json
import re
import select
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from robustness import attacks
from verification.test_robustness import cases

from solidify.case import demo_case, parse_case
from solidify.errors import InputError, MarchError
from solidify.strand.bounds import WARMER
from solidify.strand.result import Result
from solidify.strand.solve import solve_each

LONGEST, MOST_MEMORY = 10.0, 500
"""One attack [s], on a machine that does nothing else, and what its process may need at most [MB]."""

PATIENCE = 6.0
"""How many times as long an attack may take before its process is ended."""

FAST = {"result": 4, "study": 6, "case": 24, "text": 20}
FULL = {"result": 3000, "study": 2000, "case": 20_000, "text": 2000}


@pytest.mark.parametrize("kind", FAST)
def test_a_few_attacks_of_each_kind(kind):
    found = [(seed, attacks.attack(kind, seed)) for seed in range(1, FAST[kind] + 1)]
    assert [(seed, said) for seed, said in found if said not in ("", "refused")] == []
    assert any(said == "refused" for _, said in found)


def carried_out(kind, first, count):
    """Seed, what was wrong, seconds and memory of each attack; one that hangs ends its process and counts."""
    while count > 0:
        process = subprocess.Popen(
            [sys.executable, attacks.__file__, kind, str(first), str(count)],
            stdout=subprocess.PIPE,
            text=True,
        )
        assert process.stdout is not None
        while count > 0:
            ready, _, _ = select.select([process.stdout], [], [], LONGEST * PATIENCE)
            line = process.stdout.readline() if ready else ""
            if not line:
                process.kill()
                yield first, "hang" if not ready else f"died: {process.wait()}", LONGEST * PATIENCE, 0
                first, count = first + 1, count - 1
                break
            yield tuple(json.loads(line))
            first, count = first + 1, count - 1
        process.wait()


@pytest.mark.attacks
@pytest.mark.parametrize("kind", FULL)
def test_thousands_of_attacks(kind, record_property):
    began = time.monotonic()
    done = list(carried_out(kind, 1000, FULL[kind]))
    wrong = [(seed, said) for seed, said, *_ in done if said not in ("", "refused")]
    record_property("attacks", len(done))
    record_property("refused", sum(said == "refused" for _, said, *_ in done))
    record_property("seconds", round(time.monotonic() - began))
    record_property("memory", max(row[3] for row in done))
    assert wrong == []
    assert max(row[3] for row in done) < MOST_MEMORY


def physical(made):
    """Hold results to the minimum and maximum principle, independently of what the march itself is held to."""
    done = solve_each(made)
    for case, r in zip(made, done, strict=True):
        if not isinstance(r, Result):
            assert isinstance(r, MarchError | InputError)
            continue
        sinks = [case.cooling.ambient_temperature_C]
        for own in map(case.cooling_in, case.zone):
            sinks += [own.ambient_temperature_C, own.water_temperature_C]
        sinks = [s for s in sinks if s is not None]
        everything = (r.surface_temperature, r.centre_temperature, r.section_temperature)
        assert max(v.max() for v in everything) <= max(r.pouring_temperature, *sinks) + 1e-9
        assert r.surface_temperature.min() >= min(sinks) - 1.0
        deepest = case.thickness if len(r.sides) == 2 else case.half_thickness
        for shell in (r.shell_thickness, r.equivalent_shell):
            assert shell.min() >= -1e-6 * deepest
            assert shell.max() <= deepest * (1 + 2e-6)
        if len(r.sides) == 2:
            assert r.equivalent_shell.sum(axis=0).max() <= case.thickness * (1 + 1e-6)
        assert r.balance.worst < 0.02
    return sum(isinstance(r, Result) for r in done)


def test_random_strands_stay_within_what_a_strand_can_be():
    assert physical(cases(21, 30)) > 24


@pytest.mark.attacks
@pytest.mark.parametrize("seed", range(30, 40))
def test_ten_thousand_random_strands_stay_within_what_a_strand_can_be(seed):
    made = cases(seed, 1000)
    assert sum(physical(made[i : i + 50]) for i in range(0, 1000, 50)) > 900


@pytest.mark.parametrize(("flux", "said"), [(2000.0, "below the coldest water or air so far"), (100.0, "")])
def test_a_prescribed_flux_that_cools_below_all_that_cools_is_told(flux, said):
    case = demo_case("billet")
    zone = case.zone[-1].name
    ways = [
        f'zone."{zone}".{key}' for key in (*case.zone[-1].model_fields_set,) if key not in ("name", "end_m")
    ]
    (found,) = solve_each([case.replace(dict.fromkeys(ways) | {f'zone."{zone}".heat_flux_kW_per_m2': flux})])
    if not said:
        assert isinstance(found, Result)
        return
    assert isinstance(found, MarchError)
    assert said in str(found)
    assert zone in str(found)


def test_a_pool_that_the_grid_warms_is_shown_as_poured_and_told():
    """A steel that freezes within a kelvin, on few nodes: the node ahead of the front holds what the cell must."""
    (case,) = [c for i, c in enumerate(cases(5, 189)) if i == 188]
    (found,) = solve_each([case])
    assert isinstance(found, Result)
    assert found.centre_temperature.max() <= found.pouring_temperature
    (told,) = [n.text for n in found.notices if n.where == "numbers"]
    warmer = float(re.search(r"up to (\d+) K", told)[1])
    assert 1 < warmer < WARMER


def test_two_sides_meet_within_the_strand():
    """The vertex of a parabola about a node that was the hottest no more lay metres outside: shells of -4 to 5 m."""
    made = [c for i, c in enumerate(cases(5, 113)) if i in (18, 31, 112)]
    assert physical(made) == 3


def _effective(case):
    again = parse_case(case.effective_toml(), "effective.toml")
    assert again == case


WAYS = {
    "heat_flux_kW_per_m2": 300.0,
    "heat_transfer_W_per_m2K": 300.0,
    "water_L_per_kg": 0.2,
    "water_flux_L_per_m2s": 3.0,
    "water_flux_L_per_m2_min": 100.0,
    "nozzles": {"count": 10, "flow_L_per_min": 3.0, "reference_bar": 2.0, "pressure_bar": 3.0},
}


@pytest.mark.parametrize("name", ["billet", "bloom", "slab"])
def test_the_effective_case_reads_back_to_an_equal_case(name):
    """It was refused for every zone with a prescribed flux: `spray_factor` was written beside it."""
    case = demo_case(name)
    _effective(case)
    for zone in case.zone:
        own = set(zone.model_fields_set) - {"name", "end_m"}
        for key, value in WAYS.items():
            drop = {f'zone."{zone.name}".{k}': None for k in own}
            _effective(case.replace(drop | {f'zone."{zone.name}".{key}': value}))


def _anything(seed, count):
    """A case with one key at an end or in the middle of its range, or left out, again and again."""
    rng = np.random.default_rng(seed)
    for _ in range(count):
        case = demo_case(("billet", "bloom", "slab")[int(rng.integers(3))])
        for _ in range(int(rng.integers(1, 4))):
            path = str(rng.choice(case.key_paths()))
            about = case.about(path)
            values = [None, *about.get("enum", ())]
            if about.get("type") in ("number", "integer") and {"minimum", "maximum"} <= about.keys():
                low, high = about["minimum"], about["maximum"]
                values += [low, high, (low + high) / 2 if about["type"] == "number" else (low + high) // 2]
            try:
                case = case.replace({path: values[int(rng.integers(len(values)))]})
            except InputError:
                continue
        yield case


def test_any_effective_case_reads_back_to_an_equal_case():
    for case in [*cases(7, 10), *_anything(1, 30)]:
        _effective(case)


@pytest.mark.attacks
def test_thousands_of_effective_cases_read_back_to_equal_cases():
    for case in [*cases(8, 1000), *_anything(2, 5000)]:
        _effective(case)


def test_a_title_is_drawn_and_printed_as_it_stands(tmp_path, monkeypatch):
    """Dollars were parsed as mathematics, and the first letter makes a formula of a cell."""
    monkeypatch.chdir(tmp_path)
    text = (attacks.CASES / "billet.toml").read_text(encoding="utf-8")
    title = text.partition('title = "')[2].partition('"')[0]
    Path("a.toml").write_text(
        text.replace(title, "=$5 and $6^{2}_{ <script>alert(1)</script>"), encoding="utf-8"
    )
    assert attacks.checked("run", "a.toml") == ""
    assert attacks.checked("report", "a.h5") == ""
    assert "<script>alert" not in Path("a.html").read_text()


@pytest.mark.parametrize(
    "letter", ["\x1b", "\x07", "\x9b", "\u202e", "\u2066", "\u200f", "\u2028", "\u200b", "\ufeff"]
)
def test_control_and_format_letters_in_titles_and_names_are_refused(letter):
    text = (attacks.CASES / "billet.toml").read_text(encoding="utf-8")
    title = text.partition('title = "')[2].partition('"')[0]
    written = f"\\u{ord(letter):04x}"
    with pytest.raises(InputError, match="title"):
        parse_case(text.replace(title, f"a{written}b"), "a.toml")
    name = demo_case("billet").zone[0].name
    with pytest.raises(InputError, match="name"):
        parse_case(text.replace(f'"{name}"', f'"a{written}b"'), "a.toml")


def test_a_nul_in_the_name_of_a_case_is_told(tmp_path, capsys):
    from solidify.cli import main

    study = tmp_path / "s.toml"
    study.write_text('case = "a\\u0000b.toml"\n[vary]\n"casting.superheat_K" = [20]\n')
    assert main(["sweep", str(study)]) == 2
    said = capsys.readouterr().err
    assert "no name of a file" in said
    assert "\x00" not in said


def test_a_name_that_is_not_utf8_is_read_and_written(tmp_path, monkeypatch):
    import os

    monkeypatch.chdir(tmp_path)
    name = os.fsdecode(b"caf\xe9.toml")
    Path(name).write_text((attacks.CASES / "billet.toml").read_text(encoding="utf-8"), encoding="utf-8")
    assert attacks.checked("run", name, "--no-pictures") == ""
    assert attacks.checked("trace", os.fsdecode(b"caf\xe9.h5")) == ""


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ("casting.superheat_K,casting.superheat_K\n20,30\n", "stands twice"),
        ('"casting.\nsuper\nheat"\n20\n', "is not a key of the case"),
        ("casting.superheat_K\n" + "9" * 140_000 + "\n", "field larger than field limit"),
        ("casting.superheat_K\n" + "[" * 1500 + "\n", "casting.superheat_K"),
    ],
)
def test_odd_tables_of_a_study_are_told(table, said, tmp_path):
    from solidify.study.definition import read_study

    (tmp_path / "billet.toml").write_text(
        (attacks.CASES / "billet.toml").read_text(encoding="utf-8"), encoding="utf-8"
    )
    (tmp_path / "s.toml").write_text('case = "billet.toml"\ntable = "t.csv"\n')
    (tmp_path / "t.csv").write_text(table)
    with pytest.raises(InputError, match=said):
        read_study(tmp_path / "s.toml")


def test_results_of_one_name_in_two_folders_are_compared(tmp_path, monkeypatch):
    import lzma

    monkeypatch.chdir(tmp_path)
    for folder in ("a", "b"):
        Path(folder).mkdir()
        Path(folder, "r.h5").write_bytes(lzma.decompress((attacks.FORMATS / "result-1.h5.xz").read_bytes()))
    assert attacks.checked("compare", "a/r.h5", "b/r.h5") == ""
    assert [p.name for p in Path().iterdir() if p.is_file()] == ["a-r-and-b-r-compared.png"]


@pytest.mark.parametrize("key", ["specific_heat_J_per_kgK = 0.69", "conductivity_W_per_mK = 3400"])
def test_property_files_are_held_to_the_ranges_of_the_case_file(key):
    from solidify.steel.property_file import steel_from_text

    good = {
        "liquidus_C": 1500,
        "solidus_C": 1450,
        "latent_heat_kJ_per_kg": 270,
        "density_kg_per_m3": 7400,
        "specific_heat_J_per_kgK": 690,
        "conductivity_W_per_mK": 30,
    }
    assert steel_from_text("\n".join(f"{k} = {v}" for k, v in good.items()), "a.toml").liquidus == 1500
    del good[key.split(" =")[0]]
    with pytest.raises(InputError, match="check the unit"):
        steel_from_text("\n".join([*(f"{k} = {v}" for k, v in good.items()), key]), "a.toml")


def test_no_cell_of_words_is_a_formula():
    from solidify.report.spreadsheet import table_text

    rows = [("=1+1", "+x", "-x", "@x", "\tx"), ("-1.5", "+2", -3.0, "plain", "a=b")]
    assert table_text(rows) == "'=1+1,'+x,'-x,'@x,'\tx\n-1.5,+2,-3.0,plain,a=b\n"
