"""The page docs/validation.md, written from the data of this folder and nothing else."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from solidify.sources import EVIDENCE
from validation.scatter import FEWEST, SOURCE
from validation.series import DATA, Series, read, steel_series, strand_series

HEAD = """\
# Validation: the model against measurements

<!-- Written by `python docs/validation_page.py`. Do not edit by hand. -->

[accuracy.md](accuracy.md) says how well the equations are solved. This page says how the model stands to what was
measured, as far as measurements could be read in the open. Data, sources and errors stand in `tests/validation/data`,
numbers as their sources print them; nothing here is invented and no relation of the program was fitted to it.
"""

METHOD = """\
## How bias and scatter are formed

For pairs of model M and measurement E of one quantity, counted from a true zero, with r = ln(M/E):

- the scatter of r, squared, is the sum of the squared relative standard deviations of model and measurement,
  σ_M² + σ_E² = Σ(r - mean r)² / (n - 1); σ_E is the root mean square of the errors given, and σ_M is never taken below
  σ_E, since no comparison shows a model to be better than what it is compared with;
- the bias is δ = exp(mean r + (σ_M² - σ_E²)/2): above 1 the model is high. The interval beside it is Student's at
  95 %.

A model value M then stands for a true value of M/δ with a standard deviation of σ_M M/δ. From fewer than {fewest}
points only the bias is given. Where the stated error would explain half the scatter or more, both are given as equal,
marked `≤`: the data cannot tell them apart.

Source: {source}.
"""

EMPTY = """\
**There is no measured strand in this table.** No open document with complete inputs (section, steel, superheat, speed,
mould heat, water by zone) and measured shells, surfaces or pool lengths could be read. The shell, the surface
temperatures and the end of solidification that the program prints are therefore not validated against a real strand;
use your own measurements ([measured-points.md](measured-points.md)) before you rely on them.
"""


def table(head: Sequence[str], rows: Iterable[Sequence[str]], align: str) -> list[str]:
    """Return a Markdown table."""
    marks = {"l": "---", "r": "---:"}
    lines = ["| " + " | ".join(head) + " |", "| " + " | ".join(marks[a] for a in align) + " |"]
    return [*lines, *("| " + " | ".join(row) + " |" for row in rows)]


def figure(value: float) -> str:
    """Return three digits."""
    return "–" if math.isnan(value) else f"{float(f'{value:.3g}'):g}"


def percent(value: float, mark: str = "") -> str:
    """Return a share in percent."""
    return "–" if math.isnan(value) else f"{mark}{100.0 * value:.0f} %"


def scatter_row(series: Series) -> list[str]:
    """Return bias and scatter of a series."""
    s = series.scatter
    interval = "–" if math.isnan(s.low) else f"{s.low:.2f} to {s.high:.2f}"
    mark = "≤ " if s.limited else ""
    return [
        series.quantity,
        str(s.count),
        f"{s.bias:.2f}",
        interval,
        percent(s.model_sd, mark),
        percent(s.measured_sd, mark),
        f"{series.allowed[0]:.2f} to {series.allowed[1]:.2f}: {series.why}",
    ]


SCATTER = ["quantity", "points", "bias δ", "95 %", "σ_M", "σ_E", "bias allowed by the test"]


def section(series: Series) -> list[str]:
    """Return the points of a series and what they show."""
    rows = [
        [
            p.label,
            f"{figure(p.measured)} {series.unit}",
            f"{figure(p.model)} {series.unit}",
            f"{p.ratio:.2f}",
            f"{percent(p.error)} ({EVIDENCE[p.error_evidence] if p.error_evidence != 'practice' else 'assumed'})",
            p.source,
        ]
        for p in series.points
    ]
    lines = [f"### {series.quantity[0].upper()}{series.quantity[1:]}", "", series.says, ""]
    lines += table(["at", "measured", "model", "ratio", "error (1 σ)", "source"], rows, "lrrrll")
    return [*lines, "", *(f"- Not compared: {text}." for text in series.left_out), ""]


def page() -> str:
    """Return the page as Markdown."""
    steel, strands = steel_series(), strand_series()
    sought, sources = read(DATA / "strand.toml")["sought"], read(DATA / "steel.toml")["source"]
    lines = [HEAD, "## Strands", ""]
    if strands:
        lines += [*table(SCATTER, map(scatter_row, strands), "lrrlrrl"), ""]
        lines += [line for series in strands for line in section(series)]
    else:
        lines += [EMPTY]
    lines += ["Open documents that hold such data, whose numbers could not be read here:", ""]
    rows = [[s["holds"], s["reference"], s["read"]] for s in sought]
    lines += [*table(["holds", "reference", "read"], rows, "lll"), "", "## Steel", ""]
    lines += [*table(SCATTER, map(scatter_row, steel), "lrrlrrl"), ""]
    lines += [line for series in steel for line in section(series)]
    lines += ["### Sources", ""]
    rows = [
        [key, s["reference"], s["read"], EVIDENCE[s["evidence"]], s["note"]] for key, s in sources.items()
    ]
    lines += [*table(["key", "reference", "what was read", "known how", "note"], rows, "lllll"), ""]
    lines += [METHOD.format(fewest=FEWEST, source=SOURCE)]
    text = "\n".join(lines)
    while "\n\n\n" in text:
        text = text.replace("\n\n\n", "\n\n")
    return text.rstrip() + "\n"
