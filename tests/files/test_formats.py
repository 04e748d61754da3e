"""Files of every format there has been open, and say what they said when they were written.

For each number of a layout a small file stands in ``formats``, packed, with what was read from it on the day beside it.
``python tests/files/test_formats.py`` writes those of the layouts of today where there are none yet, and touches no
others.
"""

import csv
import json
import lzma
from pathlib import Path

import h5py
import numpy as np
import pytest

from solidify.assessment.error_bands import error_bands
from solidify.assessment.judge import judge
from solidify.case import read_case
from solidify.cli import main as solidify
from solidify.storage import schema, study_schema
from solidify.storage.result_file import load, load_judgement, save
from solidify.storage.study_file import load_study
from solidify.strand.result import ADDED, SUMMARY
from solidify.strand.solve import solve
from solidify.strand.summary import FIGURES
from solidify.study.answers.quantities import quantity_names
from solidify.study.definition import make_study
from solidify.study.run import run_study

FORMATS = Path(__file__).parent / "formats"

UNITS = {name: FIGURES[name].unit for name in ADDED}
"""Plant units of the figures that older files lack."""
CASES = Path(__file__).parents[2] / "cases"
RESULTS = [f"result-{number}" for number in range(1, schema.FORMAT + 1)]
STUDIES = [f"study-{number}" for number in range(1, study_schema.FORMAT + 1)]


def plain(value):
    """What is read from a file as JSON holds it: NaN as null, numbers to the last bit."""
    if isinstance(value, dict):
        return {key: plain(below) for key, below in value.items()}
    if isinstance(value, list | tuple | np.ndarray):
        return [plain(below) for below in value]
    value = value.item() if hasattr(value, "item") else value
    return None if isinstance(value, float) and np.isnan(value) else value


def read_result(path):
    """What a result file says: case, profiles, sections, zones, mould, steel, figures, judgement."""
    result, judgement = load(path), load_judgement(path)
    profiles = ("distance", "surface_temperature", "shell_thickness", "centre_temperature", "heat_flux")
    return plain(
        {
            "title": result.case.title,
            "case": result.case.text,
            "created": (result.created_by, result.created_at),
            "sides": result.sides,
            "shape_treatment": result.shape_treatment,
            "solid_fractions": result.solid_fractions,
            **{name: getattr(result, name) for name in profiles},
            "section": (result.section_distance[-1], result.depth, result.section_temperature[-1]),
            "zones": [(z.name, z.kind, z.start, z.end, z.water, z.mean_flux) for z in result.zones],
            "mould": (result.mould.mean_flux, result.mould.working_length, result.mould.dwell),
            "steel": (result.steel.liquidus, result.steel.solidus, result.steel.enthalpy[::20]),
            "balance": (result.balance.worst, result.balance.steps),
            "summary": result.summary,
            "sources": result.sources,
            "notices": [str(notice) for notice in result.notices],
            "findings": [
                (f.name, f.verdict, f.value, f.margin, f.limit, f.low, f.high) for f in judgement.findings
            ],
            "breakout": (judgement.breakout.words, [str(r.text) for r in judgement.breakout.reasons]),
        }
    )


def read_study_file(path):
    """What a study file says, and the profiles that readers of HDF5 find in it."""
    table = load_study(path)
    with h5py.File(path) as file:
        profiles = {
            name: file[name][...] for name in ("distance", "surface_temperature", "centre_temperature")
        }
    return plain(
        {
            "title": table.title,
            "case": (table.given, table.effective),
            "created": (table.created_by, table.created_at, table.marched_on),
            "sampling": table.sampling,
            "inputs": table.inputs,
            "columns": table.columns,
            "solid_fraction": table.solid_fraction,
            "finding": table.finding,
            "words": table.words,
            "units": table.units,
            "profiles": profiles,
        }
    )


READ = {name: read_result for name in RESULTS} | {name: read_study_file for name in STUDIES}


def unpacked(name, folder):
    path = folder / f"{name}.h5"
    path.write_bytes(lzma.decompress((FORMATS / f"{name}.h5.xz").read_bytes()))
    return path


@pytest.mark.parametrize("name", READ)
def test_a_file_of_each_format_says_what_it_said(name, tmp_path):
    """Figures thought of since are not known, and nothing else was added."""
    said = json.loads((FORMATS / f"{name}.json").read_text(encoding="utf-8"))
    found = READ[name](unpacked(name, tmp_path))
    figures = "summary" if name in RESULTS else "columns"
    since = found[figures].keys() - said[figures].keys()
    assert since <= set(ADDED)
    for figure in since:
        assert found[figures].pop(figure) in (None, [None] * 8)
        assert name in RESULTS or found["units"].pop(figure) == SUMMARY[figure][0]
    assert found == said


def test_figures_that_an_old_result_lacks_are_not_known_beside_a_new_one(tmp_path, monkeypatch, capsys):
    """It is compared, drawn and reported; saved again it keeps them as not known."""
    monkeypatch.chdir(tmp_path)
    old = unpacked("result-1", tmp_path)
    save(solve(coarse()), "new.h5")
    assert solidify(["compare", old.name, "new.h5"]) == 0
    line = next(line for line in capsys.readouterr().out.splitlines() if "length to centre 0.3 solid" in line)
    place = load("new.h5").summary["length_at_solid_fraction_0_3"]
    assert line.split()[-4:] == ["m", "–", f"{place:.2f}", "–"]
    for verb in ("plot", "report"):
        assert solidify([verb, old.name]) == 0
    save(load(old), "again.h5", load_judgement(old))
    assert [np.isnan(load("again.h5").summary[name]) for name in ADDED] == [True] * len(ADDED)


def test_figures_that_an_old_study_lacks_are_not_known(tmp_path, monkeypatch, capsys):
    """It is drawn, summed up and written as CSV; asked for one of them it names those it can answer for."""
    monkeypatch.chdir(tmp_path)
    old = unpacked("study-1", tmp_path)
    table = load_study(old)
    for name in ADDED:
        assert np.isnan(table.columns[name]).all()
        assert name not in quantity_names(table)
    assert solidify(["plot", old.name]) == 0
    assert solidify(["report", old.name, "-o", "runs.csv"]) == 0
    with open("runs.csv", encoding="utf-8", newline="") as file:
        assert {row[f"{name} [{UNITS[name]}]"] for row in csv.DictReader(file) for name in ADDED} == {""}
    assert solidify(["plot", old.name, "--of", ADDED[0]]) == 2
    assert f"--of {ADDED[0]}: is no quantity of the study" in capsys.readouterr().err


def test_a_study_without_figures_lacks_none(tmp_path):
    path = unpacked("study-1", tmp_path)
    with h5py.File(path, "r+") as file:
        for name in SUMMARY.keys() - set(ADDED):
            del file[name]
    assert load_study(path).columns.keys().isdisjoint(SUMMARY)


def test_a_study_from_before_machines_were_named_opens_and_names_none(tmp_path):
    path = unpacked("study-1", tmp_path)
    named = read_study_file(path)
    with h5py.File(path, "r+") as file:
        del file.attrs["marched_on"]
    assert load_study(path).marched_on == ()
    assert read_study_file(path) == named | {"created": [*named["created"][:2], []]}


def coarse():
    """A strand that is small on the disk, with a spray zone whose sides differ."""
    case = read_case(CASES / "bloom.toml")
    return case.replace({"title": "Old format (invented plant)", "steps.nodes": 20, "steps.output_step_m": 1})


def write_result(path):
    result = solve(coarse())
    save(result, path, judge(result, error_bands(result.case, result)))


def write_study_file(path):
    vary = {
        "casting.speed_m_per_min": [0.7, 0.8],
        "section.width_mm": [300, 200],
        "mould.lubricant": ["powder", "oil"],
    }
    run_study(make_study(coarse(), vary, keep=("summary", "findings", "profiles")), path)


def main():
    import tempfile

    for name, write in ((RESULTS[-1], write_result), (STUDIES[-1], write_study_file)):
        packed = FORMATS / f"{name}.h5.xz"
        if packed.exists():
            continue
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / f"{name}.h5"
            write(path)
            packed.write_bytes(lzma.compress(path.read_bytes(), preset=9))
            said = json.dumps(READ[name](path), ensure_ascii=False, indent=0, sort_keys=True)
        (FORMATS / f"{name}.json").write_text(said + "\n", encoding="utf-8")
        print(f"wrote {packed.name}")


if __name__ == "__main__":
    main()
