"""Speed ceilings: borders that hold on their safe side and break beyond, named by the limit that binds."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest

from solidify.assessment.error_bands import error_bands
from solidify.assessment.judge import judge
from solidify.case import read_case
from solidify.cli import main
from solidify.errors import InputError
from solidify.report.speeds import ceiling_csv, ceiling_page, ceiling_text
from solidify.strand.solve import solve
from solidify.study import speed_range as ceiling
from solidify.study.definition import make_study, read_study
from solidify.study.speed_range import (
    IMPOSSIBLE,
    SPEED,
    inner_speeds,
    scan_speeds,
    speed_ceilings,
    with_bands,
)

CASES = Path(__file__).parents[2] / "cases"


@pytest.fixture(scope="module")
def bloom():
    return read_case(CASES / "bloom.toml")


def breached(case, changes):
    findings = judge(solve(case.replace(changes))).findings
    return {f.label for f in findings if f.hardness == "hard" and f.verdict == "breached"}


def test_each_border_holds_on_its_side_and_breaks_beyond(bloom):
    """Each border is marched again by itself: clear there, and the limits named are breached just beyond."""
    study = make_study(bloom, {"casting.superheat_K": [20, 40], "steel.composition.C": [0.12, 0.45]})
    found = speed_ceilings(study, 0.4, 1.4, step=0.1, within=0.004)
    sides = set()
    for row in found:
        assert len(row.intervals) == 1
        for interval in row.intervals:
            for border, labels, beyond in (
                (interval.lowest, interval.below, -0.004),
                (interval.highest, interval.above, 0.004),
            ):
                assert breached(bloom, {**row.inputs, SPEED: border}) == set()
                assert labels
                assert set(labels) <= breached(bloom, {**row.inputs, SPEED: border + beyond})
                sides.add((beyond > 0, labels[0]))
    assert (False, "surface at the straightener") in sides
    assert {label for fast, label in sides if fast} & {"shell at mould exit", "last liquid to last support"}


def test_hotter_steel_is_cast_slower(bloom):
    study = make_study(bloom, {"casting.superheat_K": [20, 30, 40]})
    highest = [row.intervals[-1].highest for row in speed_ceilings(study, 0.9, 1.4, step=0.1)]
    assert highest == sorted(highest, reverse=True)
    assert highest[0] > highest[-1]


def made_up(limits, within=None):
    """Verdicts from windows of speed by label, in place of a march."""

    def verdicts(case, changes, banded=False):
        speaks = within or limits if banded else limits
        return [
            ceiling._Verdict(tuple(label for label, bad in speaks.items() if bad(own[SPEED])))
            for own in changes
        ]

    return verdicts


def test_every_interval_is_found(bloom, monkeypatch):
    limits = {
        "slow": lambda v: v < 0.512,
        "island": lambda v: 0.733 < v < 0.861,
        "fast": lambda v: v > 1.1,
        "faster": lambda v: v > 1.2,
    }
    monkeypatch.setattr(ceiling, "chunk_verdicts", made_up(limits))
    (row,) = speed_ceilings(make_study(bloom, {"casting.superheat_K": [30]}), 0.4, 1.4, within=0.001)
    assert [(i.below, i.above) for i in row.intervals] == [
        (("slow",), ("island",)),
        (("island",), ("fast",)),
    ]
    for interval, low, high in zip(row.intervals, (0.512, 0.861), (0.733, 1.1), strict=True):
        assert low <= interval.lowest <= low + 0.001
        assert high - 0.001 <= interval.highest <= high


def reached(case, changes):
    """Labels of the hard limits that are breached or that their error band reaches, one strand by itself."""
    changed = case.replace(changes)
    result = solve(changed)
    findings = [f for f in judge(result, error_bands(changed, result)).findings if f.hardness == "hard"]
    return {f.label for f in findings if f.verdict == "breached" or (f.banded and f.verdict == "close")}


def test_the_sure_part_holds_with_the_error_bands_and_breaks_beyond(bloom):
    """Each border marched again by itself with the strands of its bands: clear there, reached just beyond. The plant
    knows its sprays and surfaces better than the defaults grant, with which no speed is sure.
    """
    known = {"spray_percent": 10.0, "emissivity": 0.03, "view_factor": 0.03, "conductivity_percent": 3.0}
    known |= {"liquid_conductivity_times": 1.2, "section_surface_K": 5.0, "heat_flux_percent": 5.0}
    bloom = bloom.replace({f"uncertainty.{key}": value for key, value in known.items()})
    study = make_study(bloom, {"casting.superheat_K": [25, 45]})
    speeds = scan_speeds(study, 0.5, 1.3, 0.1)
    plain = speed_ceilings(study, 0.5, 1.3, step=0.1)
    found = with_bands(study, plain, speeds)
    assert len(inner_speeds(plain, speeds)) > 8
    for row, before in zip(found, plain, strict=True):
        assert row.banded
        (interval,) = row.intervals
        assert (interval.lowest, interval.highest) == (
            before.intervals[0].lowest,
            before.intervals[0].highest,
        )
        assert interval.lowest < interval.sure.lowest < interval.sure.highest < interval.highest
        for border, labels, beyond in (
            (interval.sure.lowest, interval.sure.below, -0.005),
            (interval.sure.highest, interval.sure.above, 0.005),
        ):
            assert reached(bloom, {**row.inputs, SPEED: border}) == set()
            assert labels
            assert set(labels) <= reached(bloom, {**row.inputs, SPEED: border + beyond})


def test_the_widest_sure_part_of_each_interval_is_told(bloom, monkeypatch):
    limits = {"slow": lambda v: v < 0.512, "fast": lambda v: v > 1.1}
    within = {"slow": lambda v: v < 0.6, "island": lambda v: 0.7 < v < 0.8, "fast": lambda v: v > 1.0}
    monkeypatch.setattr(ceiling, "chunk_verdicts", made_up(limits, within))
    study = make_study(bloom, {"casting.superheat_K": [30]})
    speeds = scan_speeds(study, 0.4, 1.4, 0.05)
    (row,) = with_bands(study, speed_ceilings(study, 0.4, 1.4, within=0.001), speeds, within=0.001)
    sure = row.intervals[0].sure
    assert 0.8 <= sure.lowest <= 0.801
    assert 0.999 <= sure.highest <= 1.0
    assert (sure.below, sure.above) == (("island",), ("fast",))


def test_an_interval_without_a_sure_part_says_none(bloom, monkeypatch):
    limits, within = {"fast": lambda v: v > 1.1}, {"fast": lambda v: v > 0.1}
    monkeypatch.setattr(ceiling, "chunk_verdicts", made_up(limits, within))
    study = make_study(bloom, {"casting.superheat_K": [30]})
    speeds = scan_speeds(study, 0.4, 1.4, 0.1)
    found = with_bands(study, speed_ceilings(study, 0.4, 1.4, step=0.1), speeds)
    assert found[0].intervals[0].sure is None
    (row,) = csv.DictReader(io.StringIO(ceiling_csv(found)))
    assert row["lowest_with_errors_m_per_min"] == row["highest_with_errors_m_per_min"] == "none"
    assert "none" in ceiling_page(found, bloom, speeds)


def test_the_page_holds_every_row_its_limits_and_the_cautions(bloom):
    """For the shift: one file that fetches nothing, with the cautions, the errors counted and the base case."""
    sure = ceiling.Interval(0.66, 0.98, ("slow",), ("fast",))
    some = ceiling.Interval(0.61234, 1.04567, ("slow",), ("fast & hot",), sure)
    rows = [
        ceiling.Ceiling({"section.width_mm": 300, "casting.superheat_K": 20}, (some,), (), ("silent",), True),
        ceiling.Ceiling({"section.width_mm": 260, "casting.superheat_K": 35}, (), ("shell",), (), True),
    ]
    text = ceiling_page(rows, bloom, [0.4, 0.5, 1.4], "2026-01-01T00:00:00+00:00")
    assert text == ceiling_page(rows, bloom, [0.4, 0.5, 1.4], "2026-01-01T00:00:00+00:00")
    for words in (
        "0.613–1.045",
        "0.660–0.980",
        "slower: slow",
        "faster: fast &amp; hot",
        "breached at the speeds looked at: shell",
        "width, mm",
        "superheat, K",
        "not judged at some speed, and so not counted: silent",
        "No permission to cast at any speed.",
        "Water trapped under molten steel explodes and kills",
        "invented plant",
        "2026-01-01 00:00 UTC",
    ):
        assert words in text.replace("\xa0", " "), words
    assert "http" not in text.replace("http://www.w3.org/2000/svg", "")
    assert "superheat 3 K, liquidus 2.5 K, mould heat flux 10 %, spray heat transfer 40 %" in text.replace(
        "\xa0", " "
    )


def test_a_border_where_the_scan_ends_names_no_limit(bloom, monkeypatch):
    monkeypatch.setattr(ceiling, "chunk_verdicts", made_up({"fast": lambda v: v > 0.9}))
    (row,) = speed_ceilings(make_study(bloom, {"casting.superheat_K": [30]}), 0.4, 1.4)
    (interval,) = row.intervals
    assert (interval.lowest, interval.below) == (0.4, ())
    assert interval.above == ("fast",)


def test_a_row_without_any_speed_says_what_forbids_it(bloom):
    study = make_study(bloom, {"limits.shell_floor": [60], "section.width_mm": [300, 200]})
    floor, impossible = speed_ceilings(study, 0.5, 1.0, step=0.25)
    assert floor.intervals == impossible.intervals == ()
    assert floor.everywhere[0] == "shell at mould exit"
    assert impossible.everywhere == (IMPOSSIBLE,)
    rows = list(csv.DictReader(io.StringIO(ceiling_csv([floor, impossible]))))
    assert [row["lowest_m_per_min"] for row in rows] == ["none", "none"]
    assert rows[1]["binds_below"] == IMPOSSIBLE


def test_limits_that_are_not_judged_are_told(bloom):
    """Without a composition the hot strength and others are silent, and the table says so."""
    case = read_case(CASES / "bloom.toml").replace(
        {
            "steel": {
                "liquidus_C": 1490,
                "solidus_C": 1430,
                "latent_heat_kJ_per_kg": 270,
                "density_kg_per_m3": 7300,
                "specific_heat_J_per_kgK": 680,
                "conductivity_W_per_mK": 30,
            }
        }
    )
    silent = [f.label for f in judge(solve(case)).findings if f.hardness == "hard" and not f.judged]
    assert silent
    (row,) = speed_ceilings(make_study(case, {"casting.superheat_K": [30]}), 0.6, 0.9, step=0.3)
    assert set(silent) <= set(row.not_judged)
    assert "not counted: " in ceiling_text([row], case)


def test_an_input_of_a_zone_names_its_zone(bloom):
    """Two zones with one key: neither the table of the terminal nor the page for the shift may confuse them."""
    inputs = {'zone."spray 1".spray_factor': 0.33, "zone.Z2.spray_factor": 1.0, "casting.superheat_K": 20}
    bloom = read_case(CASES / "bloom.toml").replace({'zone."spray 2".name': "Z2"})
    row = ceiling.Ceiling(inputs, (ceiling.Interval(0.6, 1.0, ("slow",), ("fast",)),), (), ())
    zones, heads, cells = ceiling_text([row], bloom).splitlines()[2:5]
    assert zones.split() == ["spray", "1", "Z2"]
    assert heads.split()[:3] == ["spray_factor", "spray_factor", "superheat_K"]
    assert cells.split()[:3] == ["0.33", "1", "20"]
    page = ceiling_page([row], bloom, [0.4, 0.5, 1.4]).replace("\xa0", " ")
    for words in ("spray 1: spray factor", "Z2: spray factor", "superheat, K"):
        assert words in page


def test_water_that_follows_the_speed_is_not_said_to_stand_still(bloom):
    """By a table for a loop on each side too; a dry zone has no water to follow it."""
    row = ceiling.Ceiling({}, (), (), ())
    changes = {f'zone."spray 1".water_{side}_at_speed': [[0.5, 10], [1.0, 20]] for side in ("loose", "fixed")}
    changes |= {'zone."spray 1".water_L_per_min': None, 'zone."spray 3".water_L_per_min': 0}
    case = bloom.replace(changes)
    told = ceiling_text([row], case).replace("\n", " ")
    assert "does not follow the speed in: foot rolls, spray 2 " in told


def test_how_the_mould_flux_goes_to_other_speeds_and_steels_is_told(bloom):
    row = ceiling.Ceiling({}, (), (), ())
    steels = ceiling.Ceiling({"steel.composition.C": 0.1}, (), (), ())
    none = {"mould.mean_heat_flux_MW_per_m2": None, "mould.expected_mean_heat_flux_MW_per_m2": None}

    def told(case, ceilings=row):
        return ceiling_text([ceilings], case).replace("\xa0", " ").replace("\n", " ").replace("  ", " ")

    assert "measured at 0.75 m/min goes to other speeds by the same law over the age" in told(bloom)
    assert "to other steels by the ratio of their carbon factors" in told(bloom, steels)
    assert "mould heat flux not measured: that of the handbook relation" in told(bloom.replace(none))
    means = {"mould.mean_heat_flux_at_speed": [[0.6, 1.2], [0.9, 1.4]]}
    assert "fitted to the means over the speed" in told(bloom.replace(none | means))
    law = {"mould.heat_flux_law": {"a_kW_per_m2": 2680, "b_kW_per_m2_per_sqrt_s": 280}}
    assert "is the law given" in told(bloom.replace(none | law))


def test_numbers_of_the_table_are_rounded_to_the_safe_side():
    interval = ceiling.Interval(0.61234, 1.04567, ("slow",), ("fast",))
    (row,) = csv.DictReader(io.StringIO(ceiling_csv([ceiling.Ceiling({"x": 1}, (interval,), (), ())])))
    assert (row["lowest_m_per_min"], row["highest_m_per_min"]) == ("0.613", "1.045")
    exact = ceiling.Interval(0.6, 1.1, (), ())
    (row,) = csv.DictReader(io.StringIO(ceiling_csv([ceiling.Ceiling({"x": 1}, (exact,), (), ())])))
    assert (row["lowest_m_per_min"], row["highest_m_per_min"]) == ("0.6", "1.1")


def test_a_study_that_varies_the_speed_and_a_scan_without_sense_are_refused(bloom):
    study = make_study(bloom, {SPEED: [0.7, 0.8]})
    with pytest.raises(InputError, match=r"varies in the study(.|\n)*rising, within 0.05 to 12 m/min"):
        speed_ceilings(study, 1.4, 0.4)
    with pytest.raises(InputError, match="step of the scan"):
        speed_ceilings(make_study(bloom, {"casting.superheat_K": [30]}), 0.4, 1.4, step=0)


def test_the_demo_rows_read():
    study = read_study(CASES / "speed-ceiling.toml")
    assert study.runs == 8
    assert SPEED not in study.inputs


def test_the_verb_writes_the_table_and_the_page(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("bloom.toml").write_text((CASES / "bloom.toml").read_text())
    Path("rows.toml").write_text('case = "bloom.toml"\n[vary]\n"casting.superheat_K" = [20, 40]\n')
    scan = ["--between", "0.5", "1.2", "--step", "0.1", "--workers", "1"]
    assert main(["ceiling", "rows.toml", *scan]) == 0
    said = capsys.readouterr()
    assert "straightener" in said.out
    assert "the water does not follow the speed in: foot rolls, spray 1" in said.out
    assert "some twenty strands each" in said.err
    rows = list(csv.DictReader(io.StringIO(Path("rows-speeds.csv").read_text())))
    assert [row["casting.superheat_K"] for row in rows] == ["20", "40"]
    for row in rows:
        assert row["lowest_m_per_min"] < row["lowest_with_errors_m_per_min"]
        assert float(row["highest_with_errors_m_per_min"]) < float(row["highest_m_per_min"])
    assert rows[0]["lowest_with_errors_m_per_min"] in Path("rows-speeds.html").read_text()
    assert main(["ceiling", "rows.toml", *scan, "--no-bands", "-o", "only.csv"]) == 0
    assert "lowest_with_errors" not in Path("only.csv").read_text()
    assert not Path("only.html").exists()
    assert main(["ceiling", "rows.toml", "-o", "rows.toml", "-o", "a.pdf"]) == 2
    said = capsys.readouterr().err
    assert "-o rows.toml" in said
    assert "-o a.pdf" in said
    assert main(["ceiling", "rows.toml", "--between", "1.2", "0.5"]) == 2


def test_all_that_is_wrong_with_a_command_is_told_at_once(tmp_path, capsys, monkeypatch):
    """A falling range, a step below nothing and a name for no table; a study that cannot be read beside a bad name."""
    monkeypatch.chdir(tmp_path)
    Path("bloom.toml").write_text((CASES / "bloom.toml").read_text())
    Path("rows.toml").write_text('case = "bloom.toml"\n[vary]\n"casting.superheat_K" = [20, 40]\n')
    assert main(["ceiling", "rows.toml", "--between", "2", "1", "--step", "-1", "-o", "x.pdf"]) == 2
    said = capsys.readouterr().err
    assert "speeds to scan: 2 to 1 m/min\n    allowed: rising, within" in said
    assert "step of the scan: -1 m/min\n    allowed:" in said
    assert "-o x.pdf: no name for a table" in said
    assert main(["ceiling", "none.toml", "-o", "x.pdf"]) == 2
    said = capsys.readouterr().err
    assert "none.toml" in said
    assert "-o x.pdf" in said
