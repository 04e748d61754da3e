"""Result and study files as a stranger may hand them over: refused with the dataset's name before they do anything."""

from __future__ import annotations

import lzma
import os
import time
from pathlib import Path

import h5py
import numpy as np
import pytest

from solidify.cli import main
from solidify.errors import FileFormatError, InputError, printable
from solidify.storage.result_file import load, load_judgement
from solidify.storage.study_file import is_study, load_study

FORMATS = Path(__file__).parents[1] / "files" / "formats"
SECRET = "a line of a file that nobody asked for"


@pytest.fixture
def result(tmp_path):
    path = tmp_path / "result.h5"
    path.write_bytes(lzma.decompress((FORMATS / "result-1.h5.xz").read_bytes()))
    return path


@pytest.fixture
def study(tmp_path):
    path = tmp_path / "study.h5"
    path.write_bytes(lzma.decompress((FORMATS / "study-1.h5.xz").read_bytes()))
    return path


def refused(read, path, said):
    """What is said of a file; it names the file, and takes no more than a moment."""
    began = time.monotonic()
    with pytest.raises(FileFormatError) as caught:
        read(path)
    assert time.monotonic() - began < 5
    text = str(caught.value)
    assert said in text
    assert path.name in text
    assert SECRET not in text
    return text


def put(path, name, write):
    with h5py.File(path, "r+") as file:
        if name in file:
            del file[name]
        write(file, name)


def numbers(values):
    return lambda file, name: file.create_dataset(name, data=values)


def external(target):
    def write(file, name):
        made = h5py.h5p.create(h5py.h5p.DATASET_CREATE)
        made.set_external(str(target).encode(), 0, 80)
        h5py.h5d.create(file.id, name.encode(), h5py.h5t.NATIVE_DOUBLE, h5py.h5s.create_simple((10,)), made)

    return write


def virtual(file, name):
    layout = h5py.VirtualLayout(shape=(10,), dtype="f8")
    layout[:] = h5py.VirtualSource("secret.h5", "secret", shape=(10,))
    file.create_virtual_dataset(name, layout)


def plugin(file, name):
    """A filter that would be looked for among the programs of this machine."""
    made = h5py.h5p.create(h5py.h5p.DATASET_CREATE)
    made.set_chunk((10,))
    made.set_filter(32015, h5py.h5z.FLAG_OPTIONAL, ())
    h5py.h5d.create(file.id, name.encode(), h5py.h5t.NATIVE_DOUBLE, h5py.h5s.create_simple((10,)), made)


def link(kind):
    def write(file, name):
        file[name] = kind

    return write


ELSEWHERE = {
    "external storage": (external("secret.txt"), "its data lie in another file"),
    "a device as storage": (external("/dev/zero"), "its data lie in another file"),
    "virtual dataset": (virtual, "a virtual dataset"),
    "soft link": (link(h5py.SoftLink("/depth")), "a link to another place or file"),
    "external link": (link(h5py.ExternalLink("secret.h5", "/secret")), "a link to another place or file"),
    "link to a device": (link(h5py.ExternalLink("/dev/stdin", "/x")), "a link to another place or file"),
    "filter of a plugin": (plugin, "packed in a way that is not known here"),
    "object reference": (
        lambda file, name: file.create_dataset(name, data=file.ref, dtype=h5py.ref_dtype),
        "neither numbers nor words",
    ),
    "region reference": (
        lambda file, name: file.create_dataset(
            name, data=file["solid_fraction"].regionref[:2], dtype=h5py.regionref_dtype
        ),
        "neither numbers nor words",
    ),
    "opaque": (numbers(np.void(b"opaque")), "neither numbers nor words"),
    "compound": (numbers(np.zeros(3, dtype=[("a", "f8"), ("b", "i4")])), "neither numbers nor words"),
    "complex": (numbers(np.zeros(3, dtype=complex)), "neither numbers nor words"),
    "no data": (numbers(h5py.Empty("f8")), "no data"),
    "long numbers": (numbers(np.zeros(3, dtype=np.longdouble)), "numbers of 16 bytes"),
    "more than there is": (
        lambda file, name: file.create_dataset(name, shape=(2**33,), dtype="f8", chunks=(2**16,), compression=1),
        "bytes packed into",
    ),
    "blocks beyond memory": (
        lambda file, name: file.create_dataset(name, shape=(4,), maxshape=(None,), dtype="f8", chunks=(2**28,)),
        "packed in blocks larger than it can be",
    ),
    "a named type": (lambda file, name: file.__setitem__(name, np.dtype("f8")), "a type or a group"),
}  # fmt: skip


@pytest.mark.parametrize("which", ["result", "study"])
@pytest.mark.parametrize("kind", ELSEWHERE)
def test_what_lies_elsewhere_or_is_no_number_is_refused(which, kind, request, monkeypatch):
    path = request.getfixturevalue(which)
    monkeypatch.chdir(path.parent)
    (path.parent / "secret.txt").write_text(SECRET * 9)
    with h5py.File(path.parent / "secret.h5", "w") as file:
        file["secret"] = np.arange(10.0)
    write, said = ELSEWHERE[kind]
    name = "distance" if which == "result" else "value"
    put(path, name, write)
    assert f": /{name}" in refused(load if which == "result" else load_study, path, said)


def test_a_study_whose_words_lie_in_another_file_tells_nothing(study, capsys, monkeypatch):
    """It printed the other file's text into the terminal and onto the page."""
    monkeypatch.chdir(study.parent)
    Path("secret.txt").write_text(SECRET)

    def write(file, name):
        made = h5py.h5p.create(h5py.h5p.DATASET_CREATE)
        made.set_external(b"secret.txt", 0, len(SECRET))
        kind = h5py.h5t.C_S1.copy()
        kind.set_size(len(SECRET))
        h5py.h5d.create(file.id, name.encode(), kind, h5py.h5s.create(h5py.h5s.SCALAR), made)

    put(study, "reason", write)
    for verb in (["report", "study.h5"], ["report", "study.h5", "-o", "p.html"], ["plot", "study.h5"]):
        assert main(verb) == 2
        assert SECRET not in "".join(capsys.readouterr())
    assert not Path("p.html").exists()


@pytest.mark.parametrize("size", [2**31 - 1, 5_000_000])
def test_a_text_longer_than_the_file_is_refused(result, size):
    """A text claims its length where it stands: the library made room for it before it looked."""
    with h5py.File(result) as file:
        at = file["case/toml"].id.get_offset()
    raw = bytearray(result.read_bytes())
    raw[at : at + 4] = size.to_bytes(4, "little")
    result.write_bytes(raw)
    refused(load, result, f"/case/toml: a text of {size} bytes")


@pytest.mark.parametrize("name", ["case/toml", "finding/name", "zone/name"])
def test_a_zeroed_heap_of_texts_ends_at_once(result, name):
    """The library never came back from one."""
    with h5py.File(result) as file:
        at = file[name].id.get_offset()
    raw = bytearray(result.read_bytes())
    heap = int.from_bytes(raw[at + 4 : at + 12], "little")
    raw[heap + 16 : heap + 400] = bytes(384)
    result.write_bytes(raw)
    refused(lambda path: (load(path), load_judgement(path)), result, "damaged: a text that is not there")


CONTENT = {
    "axis that turns back": ("distance", lambda v: v[::-1], "numbers that do not rise"),
    "zeroed axis": ("distance", lambda v: 0 * v, "numbers that do not rise"),
    "zeroed steel": ("steel/temperature", lambda v: 0 * v, "numbers that do not rise"),
    "denormal axis": ("depth", lambda v: v * 1e-320, "as the case beside it says"),
    "NaN temperature": ("surface_temperature", lambda v: v * np.nan, "numbers that are not finite"),
    "huge temperature": ("centre_temperature", lambda v: v * 1e300, "-300 to 5000"),
    "transposed": ("section_temperature", lambda v: v.T, "shape"),
    "cut off": ("heat_flux", lambda v: v[:, :-1], "shape"),
    "one dimension more": ("time", lambda v: v[None], "shape"),
    "negative shell": ("shell_thickness", lambda v: -v - 1, "0 to 1000"),
    "shell of metres": ("shell_thickness", lambda v: 0 * v + 5, "more than the strand is thick"),
    "solid fraction of 2": ("centre_solid_fraction", lambda v: 0 * v + 2, "-1e-06 to 1"),
    "zeroed half thickness": ("strand/half_thickness", lambda v: 0.0, "as the case beside it says"),
    "another thickness": ("strand/thickness", lambda v: 2 * v, "as the case beside it says"),
    "cut-off elsewhere": ("distance", lambda v: v * 3, "as the case beside it says"),
    "zones that overlap": ("zone/start", lambda v: 0 * v, "do not follow one another"),
    "broken count": ("balance/steps", lambda v: 1.5, "broken numbers"),
    "solidus above": ("steel/solidus", lambda v: v + 500.0, "below the liquidus"),
    "other fractions": ("solid_fraction", lambda v: v * 0.5, "0.3, 0.7 and 1 among them"),
}


@pytest.mark.parametrize("kind", CONTENT)
def test_each_dataset_is_held_to_the_schema(kind, result):
    name, change, said = CONTENT[kind]
    with h5py.File(result, "r+") as file:
        values = file[name][()]
        del file[name]
        file[name] = change(values)
    assert name in refused(load, result, said)


WORDS = {
    "side": (["left"], "both, loose, fixed"),
    "zone/kind": (["mould"] + ["oven"] * 5, "mould, zone, open"),
    "zone/name": (["mould"] * 6, "a name twice"),
    "cooling/source": (["nobody_1900", "nobody_1901"], "a source of the bibliography"),
    "mould/law": ("red: \x1b[31m", "control characters"),
    "warning/text": (["a", "\u202eb", "c"], "control characters"),
}


@pytest.mark.parametrize("name", WORDS)
def test_words_are_those_of_the_schema_and_steer_no_terminal(name, result):
    given, said = WORDS[name]
    put(result, name, lambda file, name: file.create_dataset(name, data=given, dtype=h5py.string_dtype()))
    text = refused(load, result, said)
    assert printable(text) == text


STUDY = {
    "status": (np.full(8, 7, dtype="i1"), "codes that mean nothing"),
    "verdict": (np.zeros((24, 8), dtype="i1"), "shape"),
    "metallurgical_length": (np.full(8, 1e300), "-1e+30 to 1e+30"),
    "casting.speed_m_per_min": (np.full(3, 1.0), "shape"),
    "run": (np.zeros(8, dtype=int), "numbers that do not rise"),
    "margin": ("words", "numbers"),
    "solid_fraction": (np.zeros(0), "no runs"),
}


@pytest.mark.parametrize("name", STUDY)
def test_each_column_of_a_study_is_held_to_the_schema(name, study):
    given, said = STUDY[name]
    with h5py.File(study, "r+") as file:
        attributes = dict(file[name].attrs)
        del file[name]
        file[name] = given
        if "key_path" in attributes:
            file[name].attrs["key_path"] = attributes["key_path"]
    refused(load_study, study, said)


def test_the_case_of_a_result_opens_no_file(result, monkeypatch):
    """A property file that the stored case names was read from the folder of whoever opened the result."""
    monkeypatch.chdir(result.parent)
    Path("own.csv").write_text(SECRET)
    with h5py.File(result) as file:
        text = file["case/toml"].asstr()[()]
    head, _, rest = text.partition("[steel")
    text = head + '[steel]\nproperty_file = "own.csv"\n' + rest[rest.index("[section]") :]
    put(
        result,
        "case/toml",
        lambda file, name: file.create_dataset(name, data=text, dtype=h5py.string_dtype()),
    )
    read = Path.open
    monkeypatch.setattr(
        Path,
        "open",
        lambda self, *a, **k: pytest.fail("opened") if self.name == "own.csv" else read(self, *a, **k),
    )
    assert load(result).case.property_text == ""


def test_a_case_of_brackets_and_one_of_megabytes_are_refused(result):
    for text in ("x = " + "[" * 5000, "#" * 4_100_000):
        kept = {"data": text, "dtype": h5py.string_dtype()}
        put(result, "case/toml", lambda file, name, kept=kept: file.create_dataset(name, **kept))
        refused(load, result, "case")


def test_a_pipe_is_no_result(tmp_path, capsys):
    """Opened, it would wait for a writer for good."""
    os.mkfifo(tmp_path / "pipe.h5")
    for verb in ("plot", "report", "trace", "compare"):
        assert main([verb, str(tmp_path / "pipe.h5")]) == 2
        assert "a device or pipe" in capsys.readouterr().err
    with pytest.raises(InputError, match="a device or pipe"):
        is_study(tmp_path / "pipe.h5")


def test_a_flipped_byte_of_the_header_is_told(result, study):
    for path, read in ((result, load), (study, load_study)):
        whole = path.read_bytes()
        for place in (9, 13, 14, 24, 30, 44, 64):  # version, sizes, base address, end of file, root
            raw = bytearray(whole)
            raw[place] ^= 0x11
            path.write_bytes(raw)
            refused(read, path, "")
