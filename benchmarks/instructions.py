"""How many instructions the march takes, part by part, counted on its twin in C++.

``python benchmarks/instructions.py`` lays out the reference strand, marches it in a program of its own under valgrind's
callgrind and prints the instructions of each part of twin.cpp. Wants valgrind and a C++ compiler. Compiled for AVX2 and
four lanes, twice as many turns as the march takes where registers hold eight: the counter knows no wider ones.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path

import numpy as np
from marched import OPTIONS, SOURCE, Marched, compiler
from reference_strand import STRAND, slice_of
from work_precision import USUAL

FUNCTION = re.compile(r"^(?:static|INLINE|extern .C.) \w+ (\w+)\(")
"""First line of a function of twin.cpp."""

PROGRAM = """
#include <stdio.h>
#include <stdlib.h>
extern "C" void march({types});
int main(int count, char **names) {{
    void *given[{count}];
    for (int i = 0; i < {count}; i++) {{
        FILE *file = fopen(names[i + 1], "rb");
        fseek(file, 0, SEEK_END);
        long size = ftell(file);
        rewind(file);
        given[i] = aligned_alloc(64, size / 64 * 64 + 64);
        if (fread(given[i], 1, size, file) != (size_t)size) return 1;
        fclose(file);
    }}
    march({values});
    return 0;
}}
"""


def counted(folder: Path, given: list[np.ndarray]) -> Counter[int]:
    """Instructions of each line of twin.cpp in one march of the strand laid out."""
    names = []
    for number, values in enumerate(given):
        names.append(str(folder / f"{number}.bin"))
        Path(names[-1]).write_bytes(np.ascontiguousarray(values).tobytes())
    count = len(given)
    program = PROGRAM.format(
        types=", ".join(["void *"] * count),
        count=count,
        values=", ".join(f"given[{i}]" for i in range(count)),
    )
    (folder / "main.cpp").write_text(program)
    options = ["-g", "-DLANES=4", *("-march=x86-64-v3" if o == "-march=native" else o for o in OPTIONS)]
    built = [
        str(compiler()),
        *options,
        str(SOURCE),
        str(folder / "main.cpp"),
        "-o",
        str(folder / "once"),
        "-lm",
    ]
    subprocess.run(built, check=True)
    out = folder / "callgrind.out"
    counter = [
        "valgrind",
        "--tool=callgrind",
        "--dump-line=yes",
        "--compress-strings=no",
        "--compress-pos=no",
    ]
    subprocess.run(
        [*counter, f"--callgrind-out-file={out}", str(folder / "once"), *names],
        check=True,
        capture_output=True,
    )
    lines: Counter[int] = Counter()
    ours = called = False
    for line in out.read_text().splitlines():
        if line.startswith(("fl=", "fi=", "fe=")):
            ours = line.endswith(SOURCE.name)
        elif line.startswith("calls="):
            called = True  # the next line counts what was called, which has lines of its own
        elif line[:1].isdigit():
            if ours and not called:
                at, instructions = map(int, line.split()[:2])
                lines[at] += instructions
            called = False
    return lines


def main() -> None:
    """Print the instructions of each function of the twin, and of each node in a Newton step."""
    if compiler() is None or shutil.which("valgrind") is None:
        sys.exit("wants valgrind and a C++ compiler")
    marched = Marched([slice_of(STRAND, USUAL)])
    marched.run()
    account = marched.arrays["account"][0]
    iterations = int(account[4])
    with tempfile.TemporaryDirectory() as folder:
        lines = counted(Path(folder), marched.twin_arrays())
    parts: Counter[str] = Counter()
    name = ""
    starts = {
        number: found[1]
        for number, line in enumerate(SOURCE.read_text().splitlines(), 1)
        if (found := FUNCTION.match(line))
    }
    for number in range(1, max(lines) + 1):
        name = starts.get(number, name)
        parts[name] += lines[number]
    whole = sum(parts.values())
    print(f"{whole / 1e6:.2f} million instructions, {USUAL} nodes, {iterations} Newton steps")
    for name, instructions in parts.most_common():
        share, each = instructions / whole, instructions / iterations / USUAL
        if share >= 1e-3:
            million = instructions / 1e6
            print(f"{name:<14}{million:8.2f} million {100 * share:5.1f} %  {each:6.1f} a node and step")


if __name__ == "__main__":
    main()
