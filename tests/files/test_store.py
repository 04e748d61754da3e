"""Result files: whole, labelled, readable by others, and refused when they are not ours."""

import dataclasses
import errno
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import h5py
import numpy as np
import pytest
import xarray

from solidify.assessment.bands import Effect
from solidify.assessment.breakout import BreakoutRisk, Reason
from solidify.assessment.judge import Finding, Judgement, judge
from solidify.case import parse_case, read_case
from solidify.errors import FileFormatError, InputError, Notice
from solidify.solver.grid import SectionWeight
from solidify.steel import steel_from_composition, steel_from_numbers
from solidify.storage import result_file, schema
from solidify.storage.schema import AS_FINDING, BY_ROW, FLAG, LAYOUT, TEXT
from solidify.strand.result import MECHANISMS, SUMMARY, Balance, MouldResult, Result, ZoneResult
from solidify.strand.setup import case_steel
from solidify.strand.solve import solve

CASE = """
title = "Bloom 250 × 300, 0.45 %C (invented plant)"
[steel]
composition = { C = 0.45, Si = 0.25, Mn = 0.70, P = 0.015, S = 0.012 }
[section]
shape = "rectangle"
thickness_mm = 250
width_mm = 300
[casting]
speed_m_per_min = 0.75
superheat_K = 28
[mould]
length_mm = 700
level_below_top_mm = 100
lubricant = "powder"
mean_heat_flux_MW_per_m2 = 1.39
[[zone]]
name = "foot rolls"
end_m = 0.90
water_L_per_min = 50
[[zone]]
name = "spray 1"
end_m = 2.6
water_L_per_min = 90
[machine]
radius_m = 10.5
straightener_m = [15.5, 18.5]
support_end_m = 22.0
cutoff_m = 25.0
"""


NOTICES = (Notice("Dry & hot, 20 % ≤ x", "zone “spray 1”", 3), Notice("again"))


def made_up_result(sides=("both",), nd=400, seed=1, notices=NOTICES):
    """A result with made-up numbers in every array: what is stored need not be true, only given back."""
    random = np.random.default_rng(seed)
    case = parse_case(CASE, "bloom.toml")
    steel = steel_from_composition({"C": 0.45, "Si": 0.25, "Mn": 0.70, "P": 0.015, "S": 0.012})
    ns, nf, nx, ny = len(sides), 3, 12, 40

    def numbers(*shape):
        return 1000 * random.random(shape)

    zones = tuple(
        ZoneResult(name, kind, float(i), i + 1.0, water, *(numbers(ns) for _ in range(5)))
        for i, (name, kind, water) in enumerate(
            [("mould", "mould", 0.0), ("foot rolls", "zone", 1 / 3), ("spray 1", "zone", float("nan"))]
        )
    )
    summary = {name: float(random.random()) for name in SUMMARY}
    summary |= {"shell_at_mould_exit": random.random(nf), "surface_at_cutoff": float("nan")}
    return Result(
        case=case,
        steel=steel,
        shape_treatment="rectangle, mid-face",
        sides=sides,
        solid_fractions=np.array([0.3, 0.7, 1.0]),
        distance=np.linspace(0, 25, nd),
        time=np.linspace(0, 2000, nd),
        surface_temperature=numbers(ns, nd),
        shell_thickness=1e-4 * numbers(ns, nf, nd),
        equivalent_shell=1e-4 * numbers(ns, nd),
        centre_temperature=numbers(nd),
        centre_solid_fraction=random.random(nd),
        heat_flux=numbers(ns, nd),
        heat_transfer_coefficient=numbers(ns, nd),
        section_distance=np.linspace(0, 25, nx),
        depth=np.linspace(0, 0.125 * ns, ny),
        section_temperature=numbers(nx, ny),
        section_solid_fraction=random.random((nx, ny)),
        zones=zones,
        mould=MouldResult(
            1.39e6,
            0.7e6,
            "mean flux",
            "q = 2.680 - 0.279 sqrt(t) MW/m2",
            48.0,
            0.6,
            face=("loose", "fixed") if ns == 2 else (),
            face_flux=numbers(2 if ns == 2 else 0),
            taper_distance=np.linspace(0.0, 0.6, 7),
            taper=numbers(7),
            taper_gap=numbers(7),
            mean_taper=0.01,
        ),
        pouring_temperature=1523.1,
        tundish_temperature=1523.1,
        superheat=28.0,
        half_thickness=0.125,
        thickness=0.25,
        width=0.3,
        balance=Balance(
            numbers(ns, 3, len(MECHANISMS)), 1e-13, 1e-14, 1e-9, 812, 3, 1700, 81, numbers(ns, 3)
        ),
        summary=summary,
        sources=("nozaki_1978",),
        notices=notices,
        created_by="solidify 0.1.0",
        created_at="2026-01-01T00:00:00+00:00",
    )


def same(a, b):
    """True if two values are equal all the way down; NaN equals NaN."""
    if dataclasses.is_dataclass(a):
        return type(a) is type(b) and all(
            same_field(f.name, getattr(a, f.name), getattr(b, f.name)) for f in dataclasses.fields(a)
        )
    if isinstance(a, np.ndarray):
        return (
            isinstance(b, np.ndarray)
            and a.dtype == b.dtype
            and np.array_equal(a, b, equal_nan=a.dtype.kind == "f")
        )
    if isinstance(a, dict):
        return isinstance(b, dict) and a.keys() == b.keys() and all(same(a[k], b[k]) for k in a)
    if isinstance(a, tuple):
        return isinstance(b, tuple) and len(a) == len(b) and all(map(same, a, b))
    return type(a) is type(b) and (a == b or (a != a and b != b))


def same_field(name, a, b):
    if not same(a, b):
        raise AssertionError(f"{name} differs: {a!r} / {b!r}")
    return True


@pytest.fixture(scope="module")
def result():
    return made_up_result()


@pytest.fixture
def saved(result, tmp_path):
    path = tmp_path / "bloom.h5"
    result_file.save(result, path)
    return path


@pytest.mark.parametrize("sides", [("both",), ("loose", "fixed")])
def test_a_result_comes_back_equal(sides, tmp_path):
    """Everything bit for bit."""
    result = made_up_result(sides)
    result_file.save(result, tmp_path / "r.h5")
    assert same(result, result_file.load(tmp_path / "r.h5"))


def test_own_steel_numbers_come_back(tmp_path):
    """Without a composition there are no elements, phases or sources to store, and some figures are NaN."""
    numbers = {"liquidus": 1500.0, "solidus": 1450.0, "latent_heat": 260e3, "density": 7300.0}
    steel = steel_from_numbers(**numbers, specific_heat=680.0, conductivity=30.0)
    result = dataclasses.replace(made_up_result(), steel=steel)
    result_file.save(result, tmp_path / "r.h5")
    assert same(result, result_file.load(tmp_path / "r.h5"))


OWN = """temperature_C,enthalpy_kJ_per_kg,conductivity_W_per_mK,solid_fraction,density_kg_per_m3
20,0,50,1,7840
1000,650,28,1,7500
1450,980,32,1,7400
1500,1290,34,0,7000
1600,1365,35,0,6950
"""


def test_a_result_needs_its_property_file_no_more(tmp_path, monkeypatch):
    """Read back in another folder, the file gone: the case makes the same steel, and so do cases made from it."""
    own, other = tmp_path / "own.csv", tmp_path / "other.csv"
    own.write_text(OWN)
    other.write_text(OWN.replace("1450,980,32", "1450,980,33"))
    text = re.sub("composition = .*", 'property_file = "own.csv"', CASE)
    (tmp_path / "own.toml").write_text(text, encoding="utf-8")
    case = read_case(tmp_path / "own.toml")
    steel = case_steel(case)
    result_file.save(dataclasses.replace(made_up_result(), case=case, steel=steel), tmp_path / "r.h5")
    own.unlink()
    (tmp_path / "elsewhere").mkdir()
    monkeypatch.chdir(tmp_path / "elsewhere")
    again = result_file.load(tmp_path / "r.h5").case
    assert same(case_steel(again), steel)
    assert same(case_steel(again.replace({"casting.speed_m_per_min": 0.7})), steel)
    calm = case_steel(again.replace({"steel.liquid_conductivity_factor": 2.0}))
    assert calm.conductivity.max() < steel.conductivity.max()
    given = case_steel(case.replace({"steel.property_file": "other.csv"}))
    assert np.interp(1450.0, given.temperature, given.conductivity) == pytest.approx(33.0)
    with pytest.raises(InputError, match=r"third\.csv: no such property file"):
        case_steel(again.replace({"steel.property_file": "third.csv"}))


def test_no_notices_and_a_replaced_case_come_back(tmp_path):
    result = made_up_result(notices=())
    result = dataclasses.replace(result, case=result.case.replace({'zone."spray 1".water_L_per_min': 77.0}))
    result_file.save(result, tmp_path / "r.h5")
    again = result_file.load(tmp_path / "r.h5")
    assert again.notices == ()
    assert again.case.zone[1].water_L_per_min == 77.0
    assert again.case == result.case


@pytest.mark.parametrize(
    ("kind", "group", "apart"),
    [
        (ZoneResult, "/zone", set()),
        (MouldResult, "/mould", set()),
        (Balance, "/balance", {"zone", "mechanism", "share"}),
        (Finding, "/finding", {"bound"}),
        (Effect, "/effect", {"row", "finding"}),
        (Reason, "/breakout", set()),
        (Notice, "/warning", {"number"}),
    ],
)
def test_every_field_has_a_dataset(kind, group, apart):
    """A field added later with a default would come back as that default, unnoticed."""
    nested = {"effects"} if kind is Finding else set()
    assert {field.name for field in dataclasses.fields(kind)} - nested == set(LAYOUT[group]) - apart


def test_every_field_of_a_result_and_a_steel_is_kept(result, tmp_path):
    """As above, for what is spread over groups: no field may have its default where another value was given."""
    steel = dataclasses.replace(result.steel, steel_class="own", path_model="own", notices=NOTICES)
    weight = SectionWeight(0.4, 0.8, 0.5, 0.9)
    result = dataclasses.replace(result, steel=steel, headline=0.3, weight=weight)
    for thing in (result, steel):
        for field in dataclasses.fields(thing):
            if field.default is not dataclasses.MISSING:
                assert not same(getattr(thing, field.name), field.default), (
                    f"{field.name}: give it a value here"
                )
    result_file.save(result, tmp_path / "r.h5")
    assert same(result, result_file.load(tmp_path / "r.h5"))


def test_the_judgement_comes_back_equal(saved, result):
    judgement = result_file.judge(result)
    assert same(judgement, result_file.load_judgement(saved))
    assert len(judgement.findings) > 5


def test_what_is_judged_from_a_file_is_what_was_judged_from_the_march(tmp_path):
    """Every value to the last digit, those read from the section at mould exit too."""
    short = {"straightener_m": [2.8], "support_end_m": 3.0, "cutoff_m": 3.0}
    case = parse_case(CASE).replace({f"machine.{key}": value for key, value in short.items()})
    result = solve(case.replace({"steps.nodes": 20}))
    result_file.save(result, tmp_path / "r.h5")
    judgement = judge(result_file.load(tmp_path / "r.h5"))
    assert same(judgement, judge(result))
    assert not np.isnan(next(f.value for f in judgement.findings if f.name == "hot_strength"))


def test_a_given_judgement_is_stored_as_given(result, tmp_path):
    """Error bands and overridden limits are not judged anew; no findings at all is possible too."""
    finding = dataclasses.replace(
        result_file.judge(result).findings[0],
        low=11.5,
        high=float("inf"),
        limit=(10.0, 12.0),
        sense="within",
        overridden=True,
        reason="",
        effects=(Effect("superheat", 3.0, "K", -0.1, 0.25), Effect("casting speed", 1.5, "%", -0.2, 0.75)),
    )
    other = dataclasses.replace(finding, name="dwell", effects=())
    risk = BreakoutRisk("reason to look", (Reason("dwell", "look", "short"),))
    for given in (Judgement((finding, other), risk), Judgement((), BreakoutRisk("no reason found", ()))):
        result_file.save(result, tmp_path / "r.h5", given)
        assert same(given, result_file.load_judgement(tmp_path / "r.h5"))


def test_both_sides_of_a_limit_come_back(result, tmp_path):
    base = result_file.judge(result).findings[0]
    nan = float("nan")
    given = [("at least", 5.0), ("at most", 5.0), ("within", (4.0, 6.0)), ("within", nan), ("at most", nan)]
    findings = tuple(dataclasses.replace(base, sense=sense, limit=limit) for sense, limit in given)
    result_file.save(result, tmp_path / "r.h5", Judgement(findings, BreakoutRisk("no reason found", ())))
    assert same(findings, result_file.load_judgement(tmp_path / "r.h5").findings)


def test_saving_a_loaded_result_changes_nothing(saved, tmp_path):
    result_file.save(result_file.load(saved), tmp_path / "again.h5", result_file.load_judgement(saved))
    assert (tmp_path / "again.h5").read_bytes() == saved.read_bytes()


# Readable by others


def test_the_root_tells_what_it_is(saved):
    with h5py.File(saved) as file:
        words = {name: value.decode() for name, value in file.attrs.items() if isinstance(value, bytes)}
        assert words["file_type"] == "solidify result"
        assert file.attrs["format"] == 1
        assert words["title"] == "Bloom 250 × 300, 0.45 %C (invented plant)"
        assert words["Conventions"] == "CF-1.11"
        assert words["shape_treatment"] == "rectangle, mid-face"
        assert words["created_by"] == "solidify 0.1.0"
        assert words["created_at"] == "2026-01-01T00:00:00+00:00"
        assert file["steel"].attrs["liquidus"] > file["steel"].attrs["solidus"] > 1300


def test_every_numeric_dataset_has_units_and_every_dataset_a_long_name(saved):
    """Constants with half powers, and columns whose rows differ in unit, carry a note instead."""
    seen = []

    def look(name, item):
        if not isinstance(item, h5py.Dataset):
            return
        seen.append(name)
        assert item.attrs["long_name"], name
        if h5py.check_string_dtype(item.dtype) is None:
            assert ("units" in item.attrs) != ("units_note" in item.attrs), name
        for attribute in ("long_name", "units", "units_note"):
            if attribute in item.attrs:
                text = item.attrs.get_id(attribute).get_type()
                assert not text.is_variable_str(), f"{name}: {attribute} is of variable length"
        text = h5py.check_string_dtype(item.dtype)
        assert text is None or (text.length is None and text.encoding == "utf-8"), name

    with h5py.File(saved) as file:
        file.visititems(look)
        assert file["heat_flux"].attrs["units"] == b"W m-2"
        assert file["summary/k_mould_exit"].attrs["units_note"] == b"mm min-1/2"
        assert b"end of solidification" in file["summary/metallurgical_length"].attrs["long_name"]
    expected = {f"{g}/{name}".strip("/") for g, columns in LAYOUT.items() for name in columns}
    assert set(seen) == expected


def test_every_dimension_has_a_scale(saved):
    with h5py.File(saved) as file:

        def look(name, item):
            if isinstance(item, h5py.Dataset) and not item.is_scale:
                for axis in range(item.ndim):
                    assert len(item.dims[axis]) == 1, f"{name}, axis {axis}"
                    assert item.dims[axis][0].shape == (item.shape[axis],)

        file.visititems(look)


@pytest.mark.parametrize("sides", [("both",), ("loose", "fixed")])
def test_xarray_shows_labelled_profiles_at_once(sides, tmp_path):
    result = made_up_result(sides)
    result_file.save(result, tmp_path / "r.h5")
    with xarray.open_dataset(tmp_path / "r.h5", engine="h5netcdf") as data:
        assert data.surface_temperature.dims == ("side", "distance")
        assert data.shell_thickness.dims == ("side", "solid_fraction", "distance")
        assert data.section_temperature.dims == ("section_distance", "depth")
        assert list(data.side.values) == list(sides)
        assert not any(str(dim).startswith("phony") for dim in data.dims)
        shell = data.shell_thickness.sel(solid_fraction=0.7, side=sides[0]).interp(distance=0.6)
        assert float(shell) == pytest.approx(float(result.at(result.shell_thickness, 0.6)[0, 1]))
        assert data.heat_flux.attrs["units"] == "W m-2"
        assert data.time.dtype == np.float64


def test_xarray_opens_every_group(saved, result):
    with xarray.open_datatree(saved, engine="h5netcdf") as tree:
        assert {node.path for node in tree.subtree} == set(LAYOUT)
        for node in tree.subtree:
            assert not any(str(dim).startswith("phony") for dim in node.dims), node.path
        assert float(tree["zone"].water.sel(name="foot rolls")) == 1 / 3
        assert float(tree["finding"].margin.sel(name=result_file.judge(result).findings[0].name)) is not None
        assert str(tree["case"].toml.values) == CASE
        share = tree["balance"].share
        assert share.dims == ("side", "zone", "mechanism")
        assert float(share.sum()) == pytest.approx(1)
        assert "Nozaki" in str(tree["cooling"].reference.sel(source="nozaki_1978").values)
        carbon = tree["steel"].composition.sel(element="C")
        assert (float(carbon), carbon.attrs["units"]) == (0.45, "percent")


def test_readers_list_what_is_there_in_the_order_of_the_layout(saved):
    root = LAYOUT["/"]
    with xarray.open_dataset(saved, engine="h5netcdf") as data, h5py.File(saved) as file:
        assert list(data.data_vars) == [name for name, (dims, _, _) in root.items() if dims != (name,)]
        assert [f"/{name}" for name, item in file.items() if isinstance(item, h5py.Group)] == list(LAYOUT)[1:]
        assert list(file["zone"]) == list(LAYOUT["/zone"])


def test_the_effective_case_reads_back_to_an_equal_case(saved, result):
    with h5py.File(saved) as file:
        assert parse_case(file["case/effective"].asstr()[()]) == result.case


def test_units_are_spelt_as_udunits_spells_them():
    """A base or prefixed unit with an integer power, products by a space (UDUNITS-2 grammar, from memory)."""
    unit = r"(1|percent|degC|((m|s|K|kg|J|W)(-?\d)?))"
    for columns in LAYOUT.values():
        for name, (_, units, _) in columns.items():
            if units in (TEXT, FLAG, BY_ROW, AS_FINDING) or "/" in units:
                continue
            assert re.fullmatch(f"{unit}( {unit})*", units), (name, units)


def test_the_page_of_the_result_file_is_current():
    """After a change of the layout: python -m solidify.storage.schema."""
    page = Path(schema.__file__).parents[2] / "docs" / "result-file.md"
    assert page.read_text(encoding="utf-8") == schema.layout_text()


def test_the_example_of_the_page_runs(saved, monkeypatch):
    monkeypatch.chdir(saved.parent)
    (block,) = re.findall(r"```python\n(.*?)```", schema.layout_text(), re.DOTALL)
    names = {}
    exec(block, names)
    with names["profiles"], names["zones"]:
        assert names["shell"].dims == ("distance",)
        assert list(names["zones"].name) == ["mould", "foot rolls", "spray 1"]


# Refusals


def refusal(path, kind=InputError, judgement=True):
    """The error of loading; so is that of its judgement, unless told not to be."""
    with pytest.raises(kind) as caught:
        result_file.load(path)
    if judgement:
        with pytest.raises(type(caught.value)):
            result_file.load_judgement(path)
    assert str(path) in str(caught.value)
    return caught.value


def edit(path, change):
    with h5py.File(path, "r+") as file:
        change(file)


def test_a_missing_file_is_refused_with_the_closest_name(saved):
    error = refusal(saved.with_name("blom.h5"))
    assert error.problems[0].closest == "bloom.h5"


def test_a_folder_is_refused(tmp_path):
    assert refusal(tmp_path).problems[0].given == "a folder"


@pytest.mark.parametrize("content", [b"", b"title = 'x'\n", b"\0\1\2" * 999], ids=["empty", "text", "binary"])
def test_what_is_no_hdf5_is_refused(tmp_path, content):
    path = tmp_path / "x.h5"
    path.write_bytes(content)
    error = refusal(path)
    assert isinstance(error, FileFormatError)
    assert "no HDF5 file" in str(error)


def test_hdf5_of_another_program_is_refused(tmp_path):
    with h5py.File(tmp_path / "x.h5", "w") as file:
        file["a"] = 1.0
    assert "HDF5 file of another program" in str(refusal(tmp_path / "x.h5"))


def test_hdf5_of_another_kind_is_refused(saved):
    edit(saved, lambda file: file.attrs.modify("file_type", "solidify study"))
    assert "HDF5 file of type 'solidify study'" in str(refusal(saved))


@pytest.mark.parametrize("share", [0.02, 0.3, 0.7, 0.999])
def test_a_truncated_file_is_refused(saved, share):
    content = saved.read_bytes()
    saved.write_bytes(content[: int(len(content) * share)])
    error = refusal(saved)
    assert isinstance(error, FileFormatError)
    assert "truncated" in str(error)


def test_a_newer_format_is_refused_with_what_to_do(saved):
    edit(saved, lambda file: file.attrs.modify("format", 2))
    text = str(refusal(saved))
    assert "format 2 (made by solidify 0.1.0)" in text
    assert "update solidify" in text


@pytest.mark.parametrize("number", [0, "1", 1.5, [1, 2]])
def test_a_format_that_is_none_is_refused(saved, number):
    edit(saved, lambda file: file.attrs.create("format", number))
    assert "allowed: format 1" in str(refusal(saved))


def test_missing_datasets_are_all_named(saved):
    def remove(file):
        del file["heat_flux"], file["zone/kind"], file["summary/breakout_risk"], file["finding"]

    edit(saved, remove)
    error = refusal(saved, FileFormatError)
    assert [p.where.split(": ")[1] for p in error.problems] == [
        "/heat_flux",
        "/zone/kind",
        "/summary/breakout_risk",
    ]
    with pytest.raises(FileFormatError, match="/finding/name: missing"):
        result_file.load_judgement(saved)


def test_another_shape_is_refused(saved):
    def shorten(file):
        del file["heat_flux"]
        file["heat_flux"] = np.zeros((1, 7))

    edit(saved, shorten)
    assert "/heat_flux: shape (1, 7)" in str(refusal(saved, FileFormatError, judgement=False))


def test_words_where_numbers_belong_are_refused(saved):
    def swap(file):
        del file["time"]
        file["time"] = ["a"] * 400

    edit(saved, swap)
    assert "/time: words" in str(refusal(saved, FileFormatError, judgement=False))


def test_a_flipped_byte_is_noticed(saved, result):
    """Long arrays carry a checksum: a file gone bad on the disk is refused, not read."""
    with h5py.File(saved) as file:
        chunk = file["surface_temperature"].id.get_chunk_info(0)
        assert file["surface_temperature"].fletcher32
    content = bytearray(saved.read_bytes())
    content[chunk.byte_offset + chunk.size // 2] ^= 0xFF
    saved.write_bytes(content)
    assert "damaged" in str(refusal(saved, FileFormatError, judgement=False))


def test_missing_attributes_are_all_named(saved):
    def remove(file):
        del file.attrs["title"], file.attrs["created_at"]

    edit(saved, remove)
    text = str(refusal(saved, FileFormatError))
    assert "attribute title: missing" in text
    assert "attribute created_at: missing" in text


def test_whatever_goes_bad_is_refused_or_read_never_an_unexplained_error(saved):
    """Forty files with some bytes changed, half of them among the headers."""
    random = np.random.default_rng(7)
    whole, refused = saved.read_bytes(), 0
    for i in range(40):
        content = bytearray(whole)
        places = random.integers(len(content) // (1 + 19 * (i % 2)), size=random.integers(1, 30))
        for place in places:
            content[place] ^= int(random.integers(1, 256))
        saved.write_bytes(content)
        for read in (result_file.load, result_file.load_judgement):
            try:
                read(saved)
            except FileFormatError:
                refused += 1
    assert refused > 20


def test_a_case_that_cannot_be_read_any_more_says_which_file(saved):
    def swap(file):
        del file["case/toml"]
        file["case/toml"] = CASE.replace("speed_m_per_min", "sped_m_per_min")

    edit(saved, swap)
    error = refusal(saved, FileFormatError, judgement=False)
    assert "sped_m_per_min" in str(error)


# Atomic


@pytest.mark.parametrize("moment", ["judge", "image", "disk"])
def test_a_failed_save_leaves_the_older_file(saved, result, monkeypatch, moment):
    """Whatever fails, at whatever moment: judging, making the image, or writing it to a full disk."""
    before = saved.read_bytes()

    def fail(*_, **__):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(
        *{"judge": (result_file, "judge"), "image": (h5py.Dataset, "make_scale"), "disk": (os, "fsync")}[
            moment
        ],
        fail,
    )
    with pytest.raises(InputError if moment == "disk" else OSError):
        result_file.save(result, saved)
    monkeypatch.undo()
    assert saved.read_bytes() == before
    assert os.listdir(saved.parent) == ["bloom.h5"]


def test_a_full_disk_is_said_plainly(result, tmp_path):
    """On a real file system of 16 kB where one can be mounted."""
    disk = tmp_path / "disk"
    disk.mkdir()
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=16k", "tmpfs", disk], capture_output=True)
    if mounted.returncode:
        pytest.skip("may not mount a small disk here")
    try:
        with pytest.raises(InputError, match="the disk is full"):
            result_file.save(result, disk / "r.h5")
        assert os.listdir(disk) == []
    finally:
        subprocess.run(["umount", disk], check=True)


def test_no_folder_is_said_before_any_work(result, tmp_path, monkeypatch):
    monkeypatch.setattr(result_file, "judge", lambda _: pytest.fail("judged first"))
    with pytest.raises(InputError, match="no such folder"):
        result_file.save(result, tmp_path / "nowhere" / "r.h5")


def test_a_killed_save_leaves_a_whole_file(saved, tmp_path):
    """Killed at whatever moment of a save, what stands under the name is one of the whole versions."""
    code = (
        "import sys, dataclasses; from solidify.storage import result_file\n"
        "result, judgement = result_file.load(sys.argv[1]), result_file.load_judgement(sys.argv[1])\n"
        "for i in range(10**9):\n"
        "    result_file.save(dataclasses.replace(result, superheat=float(i)), sys.argv[1], judgement)"
    )
    for pause in (0.0, 0.013, 0.031):
        before = saved.stat().st_mtime_ns
        writer = subprocess.Popen([sys.executable, "-c", code, str(saved)])
        while saved.stat().st_mtime_ns == before and writer.poll() is None:
            time.sleep(0.01)
        time.sleep(pause)
        writer.send_signal(signal.SIGKILL)
        assert writer.wait() == -signal.SIGKILL
        assert result_file.load(saved).superheat >= 0
        for entry in tmp_path.iterdir():
            assert result_file.load(entry)


def test_a_result_replaces_a_result_and_nothing_else(result, tmp_path):
    """An older result goes, damaged or whole; a study, a text or another program's file stays as it was."""
    place = tmp_path / "window.h5"
    place.write_bytes(b"")
    result_file.save(result, place)
    place.write_bytes(place.read_bytes()[:2000])
    result_file.save(result, place)
    assert result_file.load(place).summary["throughput"] == result.summary["throughput"]
    with h5py.File(place, "w") as file:
        file.attrs["file_type"] = np.bytes_("solidify study")
    before = place.read_bytes()
    with pytest.raises(InputError, match="a study of many runs stands here"):
        result_file.save(result, place)
    assert place.read_bytes() == before
    with h5py.File(place, "w") as file:
        file.attrs["made_by"] = "a pyrometer"
    with pytest.raises(InputError, match="an HDF5 file of another program stands here"):
        result_file.save(result, place)
    place.write_text("notes of the shift")
    with pytest.raises(InputError, match="another file stands here"):
        result_file.save(result, place)
    assert place.read_text() == "notes of the shift"


def test_a_case_or_a_study_where_a_result_is_wanted_is_told_what_reads_it(tmp_path):
    (tmp_path / "bloom.toml").write_text('title = "a case"')
    with pytest.raises(FileFormatError, match=r"if it is a case: solidify run bloom\.toml"):
        result_file.load(tmp_path / "bloom.toml")
    with h5py.File(tmp_path / "study.h5", "w") as file:
        file.attrs["file_type"] = np.bytes_("solidify study")
    with pytest.raises(FileFormatError, match="solidify report and solidify plot read a study"):
        result_file.load(tmp_path / "study.h5")
