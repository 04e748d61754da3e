"""Files as a stranger, a failing disk or a slip of the hand makes them, and what the program does with each.

Every attack is a number: the same one makes the same file. ``python attacks.py KIND FIRST COUNT`` carries out some and
prints a line of JSON for each, so that whoever started it sees where one hangs or takes the process with it.
"""

from __future__ import annotations

import contextlib
import io
import json
import lzma
import os
import re
import resource
import shutil
import sys
import tempfile
import traceback
from collections.abc import Callable
from pathlib import Path

import h5py
import numpy as np

ROOT = Path(__file__).parents[2]
FORMATS = ROOT / "tests" / "files" / "formats"
CASES = ROOT / "cases"
SECRET = "a line of a file that nobody asked for"

ODD_WORDS = (
    "",
    "$x$",
    "$$",
    "$\\frac{1}{0}$",
    "a^b_c\\d{",
    "\x1b[31mred",
    "\u202eback",
    "\u2028",
    "a\x00b",
    "<script>alert(1)</script>",
    "=1+1",
    "@SUM(A1)",
    "é鋼🙂",
    "x" * 70000,
    "%s%n{}",
    "../../etc/passwd",
    "nan",
)
ODD_NUMBERS = (0.0, -0.0, -1.0, 1e-320, 1e-30, 1e30, 1e308, -1e308, np.nan, np.inf, -np.inf, 1e9, 0.5)


def flipped(rng: np.random.Generator, data: bytes) -> bytes:
    """Bytes flipped, zeroed, cut off, doubled or exchanged."""
    raw = bytearray(data)
    for _ in range(int(rng.integers(1, 4))):
        kind, at = rng.integers(6), int(rng.integers(len(raw)))
        size = int(min(rng.integers(1, 600), len(raw) - at))
        if kind == 0:
            raw[at] ^= 1 << int(rng.integers(8))
        elif kind == 1:
            raw[at] = int(rng.integers(256))
        elif kind == 2:
            raw[at : at + size] = bytes(size)
        elif kind == 3:
            raw[at : at + size] = b"\xff" * size
        elif kind == 4:
            other = int(rng.integers(len(raw) - size + 1))
            raw[at : at + size] = raw[other : other + size]
        else:
            del raw[max(at, 64) :]
    return bytes(raw)


def _datasets(file: h5py.File) -> list[str]:
    found: list[str] = []
    file.visititems(lambda name, thing: found.append(name) if isinstance(thing, h5py.Dataset) else None)
    return found


def rewritten(rng: np.random.Generator, path: Path) -> str:
    """One dataset, attribute or link of an HDF5 file made into something else; says which and what."""
    with h5py.File(path, "r+") as file:
        names = _datasets(file)
        name = str(rng.choice(names))
        data = file[name]
        value = data[()]
        text = h5py.check_string_dtype(data.dtype) is not None
        kind = int(rng.integers(18))
        if kind < 7 and not text and np.size(value):
            array = np.array(value, dtype=float if kind < 5 else np.asarray(value).dtype, ndmin=0)
            flat = array.reshape(-1)
            if kind == 0:
                flat[:] = 0.0
            elif kind == 1:
                flat[int(rng.integers(flat.size))] = rng.choice(ODD_NUMBERS)
            elif kind == 2:
                flat[:] = rng.choice(ODD_NUMBERS)
            elif kind == 3:
                flat *= rng.choice([1e-320, 1e-3, 1e3, -1.0, 1e300])
            elif kind == 4:
                flat += rng.normal(size=flat.size) * (np.abs(flat) + 1)
            elif kind == 5:
                flat[:] = flat[::-1].copy()
            else:
                flat[: flat.size // 2] = 0
            del file[name]
            file[name] = array
        elif kind < 7 and text:
            words = np.array(data.asstr()[()], dtype=object, ndmin=0)
            odd = str(rng.choice(ODD_WORDS)).replace("\x00", "\x01")
            if words.ndim and words.size:
                words.reshape(-1)[int(rng.integers(words.size))] = odd
            elif not words.ndim:
                whole = str(words.item())
                at = int(rng.integers(len(whole) + 1))
                words = np.array(whole[:at] + odd[:200] + whole[at + int(rng.integers(9)) :], dtype=object)
            del file[name]
            file.create_dataset(name, data=words.tolist(), dtype=h5py.string_dtype())
        elif kind == 7:
            del file[name]
        elif kind == 8 and np.ndim(value):
            del file[name]
            file.create_dataset(
                name,
                data=np.asarray(value).T if not text else value[::-1],
                dtype=data.dtype if text else None,
            )
        elif kind == 9 and np.ndim(value):
            del file[name]
            file.create_dataset(name, data=value[:-1], dtype=h5py.string_dtype() if text else None)
        elif kind == 10:
            del file[name]
            file[name] = "words" if not text else 3.0
        elif kind == 11:
            del file[name]
            file[name] = (
                h5py.SoftLink(f"/{names[0]}")
                if rng.random() < 0.5
                else h5py.ExternalLink("secret.h5", "/secret")
            )
        elif kind == 12:
            del file[name]
            made = h5py.h5p.create(h5py.h5p.DATASET_CREATE)
            made.set_external(b"secret.txt" if rng.random() < 0.7 else b"/dev/zero", 0, 64)
            space = h5py.h5s.create_simple((8,))
            h5py.h5d.create(file.id, name.encode(), h5py.h5t.NATIVE_DOUBLE, space, made)
        elif kind == 13:
            del file[name]
            layout = h5py.VirtualLayout(shape=(4,), dtype="f8")
            layout[:] = h5py.VirtualSource("secret.h5", "secret", shape=(4,))
            file.create_virtual_dataset(name, layout)
        elif kind == 14:
            del file[name]
            odd = int(rng.integers(5))
            if odd == 0:
                file.create_dataset(name, data=file.ref, dtype=h5py.ref_dtype)
            elif odd == 1:
                file[name] = np.zeros(3, dtype=[("a", "f8"), ("b", "i4")])
            elif odd == 2:
                file[name] = np.zeros(3, dtype=complex)
            elif odd == 3:
                file[name] = h5py.Empty("f8")
            else:
                file[name] = np.void(b"opaque bytes")
        elif kind == 15:
            del file[name]
            file.create_dataset(name, shape=(2**33,), dtype="f8", chunks=(2**20,), compression=1)
        elif kind == 16:
            where = file if rng.random() < 0.5 else data
            attributes = list(where.attrs)
            if attributes:
                odd = rng.choice(len(ODD_WORDS))
                where.attrs[str(rng.choice(attributes))] = ODD_WORDS[odd].replace("\x00", "")[:60000]
        else:
            file.attrs["format"] = rng.choice([0, -1, 2, 10**9])
        return f"{name} kind {kind}"


_NUMBER = re.compile(r"(?<![\w.])-?\d+(\.\d+)?")


def mutated(rng: np.random.Generator, text: str) -> str:
    """A text of TOML or CSV with some slips in it."""
    for _ in range(int(rng.integers(1, 4))):
        lines = text.split("\n")
        i = int(rng.integers(len(lines)))
        kind = int(rng.integers(12))
        found = list(_NUMBER.finditer(text))
        if kind < 5 and found:
            hit = found[int(rng.integers(len(found)))]
            value = float(hit[0])
            scale = float(rng.choice([0.5, 0.9, 1.1, 2.0, 0.1, 10.0, 1000.0, 0.0, -1.0, 1e-9]))
            new = (
                f"{value * scale:.6g}"
                if rng.random() < 0.9
                else str(rng.choice(["nan", "inf", "1e400", "9" * 30]))
            )
            text = text[: hit.start()] + new + text[hit.end() :]
            continue
        if kind == 5:
            del lines[i]
        elif kind == 6:
            lines.insert(i, lines[int(rng.integers(len(lines)))])
        elif kind == 7:
            j = int(rng.integers(len(lines)))
            lines[i], lines[j] = lines[j], lines[i]
        elif kind == 8 and lines[i]:
            at = int(rng.integers(len(lines[i])))
            lines[i] = lines[i][:at] + chr(int(rng.integers(32, 1000))) + lines[i][at + 1 :]
        elif kind == 9:
            word = ODD_WORDS[int(rng.integers(len(ODD_WORDS)))]
            lines[i] = re.sub(
                r'"[^"]*"', lambda _, word=word: '"' + word[:300].replace('"', "") + '"', lines[i]
            )
        elif kind == 10 and len(lines[i]) > 2:
            lines[i] = lines[i][: int(rng.integers(len(lines[i])))]
        else:
            depth = int(rng.choice([3, 2000]))
            lines[i] += " = " + "[" * depth
        text = "\n".join(lines)
    return text


def said(*arguments: str) -> tuple[int, str]:
    """Run the command line here; its status, and all that it printed."""
    from solidify.cli import main

    out = io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(out):
        status = main(list(arguments))
    return status, out.getvalue()


_STEERING = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e]")


def checked(*arguments: str) -> str:
    """Run a verb; what is wrong with what it did, or nothing."""
    status, text = said(*arguments)
    if status not in (0, 1, 2, 3):
        return f"{arguments[0]}: status {status}"
    if SECRET in text:
        return f"{arguments[0]}: leak"
    if "unexpected: " in text or "Traceback" in text:
        return f"{arguments[0]}: {text[:300]}"
    if _STEERING.search(text.replace("\r", "")):
        return f"{arguments[0]}: control letters on the terminal"
    if len(text) > 400_000:
        return f"{arguments[0]}: {len(text)} letters"
    return "" if status == 0 else "refused"


def _leak(folder: Path) -> str:
    """Whether what was written holds what stood in another file."""
    for path in folder.rglob("*"):
        if path.suffix in (".html", ".csv", ".svg", ".toml") and SECRET in path.read_text(errors="replace"):
            return f"leak in {path.name}"
    return ""


def _hdf5(seed: int, folder: Path, which: str) -> str:
    rng = np.random.default_rng([seed, 1])
    path = folder / f"{which}.h5"
    path.write_bytes(lzma.decompress((FORMATS / f"{which}-1.h5.xz").read_bytes()))
    (folder / "secret.txt").write_text(SECRET)
    with h5py.File(folder / "secret.h5", "w") as file:
        file["secret"] = SECRET
    if rng.random() < 0.5:
        path.write_bytes(flipped(rng, path.read_bytes()))
    else:
        rewritten(rng, path)
    os.chdir(folder)
    verbs = {
        "result": [
            ("trace", "result.h5"),
            ("compare", "result.h5", "--no-pictures"),
            ("trace", "result.h5", "--depth-mm", "20"),
        ],
        "study": [("report", "study.h5"), ("report", "study.h5", "-o", "runs.csv")],
    }[which]
    if seed % 10 == 0:
        verbs += {
            "result": [("report", "result.h5"), ("plot", "result.h5"), ("compare", "result.h5")],
            "study": [("plot", "study.h5"), ("report", "study.h5", "-o", "page.html")],
        }[which]
    worst = ""
    for verb in verbs:
        found = checked(*verb)
        if found not in ("", "refused"):
            return found
        worst = worst or found
        if found:
            break
    return _leak(folder) or worst


def _case(seed: int, folder: Path) -> str:
    rng = np.random.default_rng([seed, 2])
    name = ("billet", "bloom", "slab")[int(rng.integers(3))]
    text = (CASES / f"{name}.toml").read_text(encoding="utf-8")
    (folder / "case.toml").write_text(mutated(rng, text), encoding="utf-8", errors="surrogatepass")
    os.chdir(folder)
    found = checked("check", "case.toml")
    if found or seed % 4:
        return found
    found = checked("run", "case.toml", "-o", "case.h5", *([] if seed % 80 == 0 else ["--no-pictures"]))
    if found:
        return found
    if seed % 8 == 0:
        return checked("trace", "case.h5")
    return ""


_TEXTS = (
    "operating-window.toml",
    "plant-scatter.toml",
    "speed-ceiling.toml",
    "speed-ceiling.csv",
    "billet-target.toml",
    "points",
    "properties",
)
_POINTS = "distance_m,quantity,value,sd\n3.0,surface_C,1050,15\n0.8,shell_mm,14,1\n5.1,surface_C,990,\n"
_PROPERTIES = """\
temperature_C,enthalpy_kJ_per_kg,conductivity_W_per_mK,solid_fraction,density_kg_per_m3
20,0,45,1,7800
800,530,26,1,7600
1400,950,31,1,7400
1450,990,31,1,7350
1500,1290,33,0,7000
1600,1370,34,0,6950
"""


def _text(seed: int, folder: Path) -> str:
    rng = np.random.default_rng([seed, 3])
    kind = _TEXTS[int(rng.integers(len(_TEXTS)))]
    for path in CASES.iterdir():
        shutil.copy(path, folder / path.name)
    os.chdir(folder)
    if kind == "points":
        (folder / "points.csv").write_text(mutated(rng, _POINTS), encoding="utf-8")
        (folder / "r.h5").write_bytes(lzma.decompress((FORMATS / "result-1.h5.xz").read_bytes()))
        return checked("compare", "r.h5", "--measured", "points.csv", "--no-pictures")
    if kind == "properties":
        (folder / "own.csv").write_text(mutated(rng, _PROPERTIES), encoding="utf-8")
        text = (CASES / "bloom.toml").read_text(encoding="utf-8")
        text = re.sub(r"(?m)^composition = .*$", 'property_file = "own.csv"', text)
        text = re.sub(r"(?ms)^\[steel\.composition\].*?(?=^\[)", '[steel]\nproperty_file = "own.csv"\n', text)
        (folder / "own.toml").write_text(text, encoding="utf-8")
        return checked("steel", "own.toml")
    path = folder / Path(kind).name
    path.write_text(mutated(rng, path.read_text(encoding="utf-8")), encoding="utf-8", errors="replace")
    if "target" in kind:
        from solidify.case import read_case
        from solidify.errors import InputError
        from solidify.tuning.target_file import read_target

        try:
            read_target(path, read_case(folder / "billet.toml"))
        except InputError as error:
            return "refused" if len(str(error)) < 400_000 else "message too long"
        return ""
    from solidify.errors import InputError
    from solidify.study.definition import read_study

    try:
        read_study(path if path.suffix == ".toml" else folder / "speed-ceiling.toml")
    except InputError as error:
        return "refused" if len(str(error)) < 400_000 else "message too long"
    return ""


ATTACKS: dict[str, Callable[[int, Path], str]] = {
    "result": lambda seed, folder: _hdf5(seed, folder, "result"),
    "study": lambda seed, folder: _hdf5(seed, folder, "study"),
    "case": _case,
    "text": _text,
}


def attack(kind: str, seed: int) -> str:
    """Carry out one attack; empty or ``"refused"`` where the program held."""
    before = os.getcwd()
    folder = Path(tempfile.mkdtemp(prefix="attack-"))
    try:
        return ATTACKS[kind](seed, folder)
    except BaseException:
        return f"traceback: {traceback.format_exc()[-1500:]}"
    finally:
        os.chdir(before)
        shutil.rmtree(folder, ignore_errors=True)


def _main(kind: str, first: int, count: int) -> None:
    import time
    import warnings

    warnings.simplefilter("error")
    for seed in range(first, first + count):
        began = time.monotonic()
        found = attack(kind, seed)
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
        print(json.dumps([seed, found, round(time.monotonic() - began, 2), peak]), flush=True)


if __name__ == "__main__":
    _main(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))
