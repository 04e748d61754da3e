"""What the march is verified against and how close it comes: writes docs/accuracy.md from the verification tests.

``python benchmarks/accuracy.py`` runs them all, some minutes on two cores, collects what they measured and writes the
page; it writes nothing if a test fails. The list of cases is tests/verification/cases.toml.
"""

from __future__ import annotations

import platform
import sys
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from fnmatch import fnmatchcase
from importlib.metadata import version
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "accuracy.md"
TESTS = ROOT / "tests" / "verification"

EVIDENCE = {
    "read": "read",
    "recalled": "recalled, re-derived",
    "derived": "derived",
    "computed": "independent program",
}

HEAD = """\
# How close the march comes

<!-- Written by `python benchmarks/accuracy.py`. Do not edit by hand. -->

Every number on this page was measured by a test of `tests/verification` and lies within what that test allows; the
page is written from the same runs. It says how well the equations are solved. It says nothing of how well they
describe a strand: for squares and rectangles see [section-treatment.md](section-treatment.md); mould and spray
relations carry their own evidence; and no complete open data set of a real strand was found to compare with.

Errors are the largest over a hundred instants or more wherever a front moves, since at a lucky instant any error is
small; where the reference has a few instants only, no order is claimed. The order is the slope of the logarithms over
all grids or steps of a test, with the least that the test accepts; where a case has many sets of numbers the worst is
shown and the orders of all. *Recalled* means that the source was not opened: its formula was derived again and
checked, its title may err.
"""

ISOTHERMAL = """\
Alloys that freeze at one temperature are read with a bias of about a ninth of the spacing, at any time: the front's
cell holds the right heat, but its temperature is taken as linear across the front. There the front is of first order
and the heat flux of second; with a freezing range of some cells everything is of second order.
"""


NUMBERS = """\
X01 to X05 are published benchmarks and worked examples. 60 nodes and the default tolerance are about what a run has;
321 nodes show that the march tends to the reference.
"""

CLASS = """\
With the defaults shells at a solid fraction of 0.7 stay within 0.1 mm up to 90 % of the half thickness, and surfaces
within 2 K after the first second, of the same march on 500 nodes with a two-hundredth of the tolerance;
benchmarks/RESULTS.md holds such a march against another program. These strands were tried, all invented. They differ
in flux, sprays and pouring temperature, 250 mm thick or as said, the worst of five, of two where the thickness is said.

Steels of 0.08 %C and less (0.05 % Si, 0.30 % Mn) freeze for the most part within a few kelvin. A front passed on from
node to node wavers there, so that they have more nodes: by the root of 30 K over the fall from the liquidus to a solid
fraction of 0.7. Of the two strands of each, one is sprayed three to five times as hard. At 400 mm their shells are
held to 0.2 mm.

Shells at 0.3 and at 1.0 have larger errors on most strands; those at 0.3 waver in time, since steel is still close to
its liquidus there. They are held to 0.3 mm.
"""

RANDOM = """\
Ten thousand strands from seeded random numbers over every input's range: 40 to 450 mm, 0.2 to 8 m/min, freezing
ranges of 0 to 200 K, compositions over all that a case may name, boiling sprays, water at 0 and 95 °C, emissivity 0
to 1, zones of 3 mm to 30 m, stops of an hour, four shapes. A strand that is refused says why. Steps are those of the
default tolerance or a looser one on up to 120 nodes. Where the cooling only hardens no shell may be lost: the maximum
principle holds it.
"""

ESTIMATE = """\
A second march on 8/3 of the intervals with a fiftieth of the tolerance. The truth is the exact solution, or a march
with 400 nodes and a hundredth of the tolerance.
"""

WEAK = """\
- Isothermal alloys: first order in the front, as above; below 0.2 K a freezing range is widened to it.
- A cold start on a coarse grid lets the hottest node rise above the pouring temperature for the first seconds: by
  less than 0.1 K under mould fluxes on 60 nodes, by 24 K at worst under boiling sprays on 20 nodes.
- In the mould the freezing range is thinner than a cell of the default grid: errors there have a size and no order.
- One density for all: no shrinkage flow, no feeding.
"""


@dataclass
class Recorder:
    """A plugin that keeps what the tests measured, and which failed."""

    rows: list[tuple[str, str, dict[str, Any]]] = field(default_factory=list)
    failed: list[str] = field(default_factory=list)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Collect the properties that the fixtures of tests/verification/conftest.py left."""
        if report.failed:
            self.failed.append(report.nodeid)
        if report.when == "call":
            name = report.nodeid.rpartition("tests/verification/")[2]
            self.rows += [
                (name, kind, seen) for kind, seen in report.user_properties if isinstance(seen, dict)
            ]

    def of(self, kind: str, patterns: Iterable[str]) -> list[tuple[str, dict[str, Any]]]:
        """Return what tests of these names measured."""
        return [(n, s) for n, k, s in self.rows if k == kind and any(fnmatchcase(n, p) for p in patterns)]


def cases() -> dict[str, dict[str, Any]]:
    """Return the list of cases."""
    return tomllib.loads((TESTS / "cases.toml").read_text(encoding="utf-8"))


def table(head: Sequence[str], rows: Iterable[Sequence[str]], align: str) -> list[str]:
    """Return a Markdown table."""
    marks = {"l": "---", "r": "---:"}
    lines = ["| " + " | ".join(head) + " |", "| " + " | ".join(marks[a] for a in align) + " |"]
    return [*lines, *("| " + " | ".join(row) + " |" for row in rows)]


def number(value: float) -> str:
    """Return two digits, powers of ten where shorter."""
    if value == 0.0:
        return "0"
    if 1e-3 <= abs(value) < 1e4:
        return f"{float(f'{value:.2g}'):.10g}"
    mantissa, power = f"{value:.1e}".split("e")
    return f"{mantissa}e{int(power)}"


def unit_of(quantity: str, dimensionless: bool) -> tuple[float, str]:
    """Return factor and unit in which the error of a quantity is printed."""
    words = quantity.replace(":", "").split()
    if dimensionless:
        return 1.0, ""
    if "heat" in words:
        return 1.0, "of it"
    if any(w in words for w in ("shell", "front", "solidus", "fraction")) and "temperature" not in words:
        return 1e3, "mm"
    return 1.0, "K"


def size_of(test: str, quantity: str, size: float, dimensionless: bool) -> str:
    """Return the finest grid or step of a test for print."""
    if "graded" in test:
        return f"{round(1 / size) + 1} nodes"
    if "_in_time" in test or "thin_plate" in test:
        return f"{number(size)} s"
    if dimensionless:
        return f"{'step ' if quantity.endswith('time') else ''}{number(size)}"
    return f"{number(1e3 * size)} mm"


def orders(found: Sequence[Mapping[str, Any]]) -> str:
    """Return observed orders and the least accepted."""
    held = [s for s in found if s["least_order"] is not None]
    if not held:
        return "size only"
    seen, least = sorted(s["order"] for s in held), min(s["least_order"] for s in held)
    shown = f"{seen[0]:.2f}" if seen[-1] - seen[0] < 0.005 else f"{seen[0]:.2f} to {seen[-1]:.2f}"
    return f"{shown} (≥ {least:g})"


def proved_rows(key: str, case: Mapping[str, Any], seen: Recorder) -> list[list[str]]:
    """Return a row for each quantity of a case that was measured on several grids or steps."""
    groups: dict[str, list[tuple[str, dict[str, Any]]]] = {}
    for test, s in seen.of("proved", case["tests"]):
        groups.setdefault(s["quantity"], []).append((test, s))
    rows = []
    small = bool(case.get("dimensionless"))
    for quantity, found in groups.items():
        test, worst = max(found, key=lambda row: row[1]["error"][-1] / row[1]["limit"])
        factor, unit = unit_of(quantity, small)
        rows.append(
            [
                key,
                quantity.replace("_", " "),
                size_of(test, quantity, worst["size"][-1], small),
                f"{number(factor * worst['error'][-1])} {unit}".strip(),
                f"{number(factor * worst['limit'])} {unit}".strip(),
                orders([s for _, s in found]),
            ]
        )
    return rows


def compared_rows(key: str, case: Mapping[str, Any], seen: Recorder) -> list[list[str]]:
    """Return a row for each number of a case that was held against a reference."""
    groups: dict[str, list[dict[str, Any]]] = {}
    for _, s in seen.of("compared", case["tests"]):
        groups.setdefault(s["quantity"], []).append(s)
    rows = []
    for quantity, found in groups.items():
        s = max(found, key=lambda s: abs(s["ours"] - s["reference"]) / s["within"])
        unit = {"1": "", "degC": "°C", "W/m2": "W/m²"}.get(s["unit"], s["unit"])
        off = abs(s["ours"] - s["reference"])
        zero = s["reference"] == 0.0
        rows.append(
            [
                key,
                quantity,
                "–" if zero else f"{s['reference']:.7g} {unit}".strip(),
                "–" if zero else f"{s['ours']:.7g} {unit}".strip(),
                f"{number(off)} {unit}".strip(),
                f"{number(s['within'])} {unit}".strip(),
            ]
        )
    for _, s in seen.of("told", case["tests"]):
        rows.append([key, s["quantity"], "–", s["text"], "–", "–"])
    return rows


def told_rows(seen: Recorder, pattern: str) -> list[list[str]]:
    """Return what tests told."""
    return [[s["quantity"], s["text"]] for _, s in seen.of("told", [pattern])]


def page(seen: Recorder) -> str:
    """Write the page."""
    known = cases()
    proved = [row for key, case in known.items() for row in proved_rows(key, case, seen)]
    compared = [row for key, case in known.items() for row in compared_rows(key, case, seen)]
    missing = set(known) - {row[0] for row in proved + compared}
    if missing:
        raise SystemExit(f"nothing was measured for {', '.join(sorted(missing))}")
    listed = [
        [key, c["title"], c["reference"], EVIDENCE[c["evidence"]] + (f"; {c['note']}" if "note" in c else "")]
        for key, c in known.items()
    ]
    blocks = [
        HEAD.splitlines(),
        ["## The cases", "", *table(["case", "what", "reference", "evidence"], listed, "llll"), ""],
        [
            "## Errors and orders",
            "",
            *table(["case", "quantity", "finest", "largest error", "allowed", "order"], proved, "lllrrl"),
            "",
            *ISOTHERMAL.splitlines(),
        ],
        [
            "## Single numbers and whole strands",
            "",
            NUMBERS,
            *table(["case", "quantity", "reference", "ours", "difference", "allowed"], compared, "llrrrr"),
        ],
        [
            "## Kinds of strand",
            "",
            CLASS,
            *table(["strand", "largest difference", "allowed"], class_rows(seen), "lrr"),
        ],
        [
            "## Random strands",
            "",
            RANDOM,
            *random_rows(seen),
        ],
        [
            "## The estimate of `solidify run --accuracy`",
            "",
            ESTIMATE,
            *table(["figure", "error"], told_rows(seen, "test_accuracy.py::*"), "ll"),
        ],
        [
            "## What is known to be weak",
            "",
            WEAK,
            f"Written {date.today()} from {len(seen.rows)} measurements on {platform.machine()}, Python",
            f"{platform.python_version()}, numpy {version('numpy')}, numba {version('numba')}.",
        ],
    ]
    return "\n\n".join("\n".join(block).rstrip() for block in blocks) + "\n"


def class_rows(seen: Recorder) -> list[list[str]]:
    """Return what every kind of strand is held to."""
    return [
        [s["quantity"], f"{number(s['ours'])} {s['unit']}", f"{number(s['within'])} {s['unit']}"]
        for _, s in seen.of("compared", ["test_class.py::*"])
    ]


SETS = {
    "strands from numbers": ["test_robustness.py::test_a_thousand_random_strands*"],
    "cases": ["test_robustness.py::test_two_thousand_random_cases"],
    "cooling that hardens": ["test_robustness.py::test_no_shell_is_lost_by_a_thousand*"],
}


def random_rows(seen: Recorder) -> list[str]:
    """Return the table of random strands: by the lower door, as cases, and cooled harder and harder."""
    rows = []
    for name, patterns in SETS.items():
        counts = [s["text"].split(" of ") for _, s in seen.of("told", patterns)]
        finished, all_ = (sum(int(c[i]) for c in counts) for i in (0, 1))
        rows.append([name, "finished", f"{finished} of {all_}", "99.9 %"])
        found = compared_rows(name, {"tests": patterns}, seen)
        rows += [[row[0], row[1], row[4], row[5]] for row in found if row[4] != "–"]
    return table(["set", "quantity", "found", "allowed"], rows, "llrr")


def main() -> int:
    """Run the verification tests and write the page."""
    seen = Recorder()
    arguments = [str(TESTS), "-q", "-m", "not browser", "-p", "no:cacheprovider", f"--rootdir={ROOT}"]
    status = pytest.main([*arguments, "--deselect", "tests/verification/test_section.py"], plugins=[seen])
    if status or seen.failed:
        print("tests failed, nothing written", *seen.failed, sep="\n", file=sys.stderr)
        return 1
    PAGE.write_text(page(seen), encoding="utf-8")
    print(f"written: {PAGE.relative_to(ROOT)}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
