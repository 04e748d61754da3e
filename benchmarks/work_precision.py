"""Work and precision: every code at several settings, its errors against a reference of another code, its time."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from importlib.util import find_spec
from pathlib import Path

import libraries
import peers
from marched import Marched, compiler
from matplotlib.figure import Figure
from reference_strand import STRAND, Answer, answers, slice_of
from timing import Times, interleaved, three

from solidify.plots.palette import GREY, HEAVY, INK, LIGHT, OCHRE, PETROL, PLUM, SMALL, number, styled
from solidify.solver.grid import usual_nodes

OURS, TWIN = "solidify", "its twin in C++"
USUAL = usual_nodes(STRAND.half)
SHELL, SURFACE = 0.1, 2.0  # the class [mm], [K]
MM = 1 / 25.4


@dataclass(frozen=True)
class Setting:
    """One code at one setting; `answer` gives what `run` computes."""

    code: str
    words: str
    run: Callable[[], object]
    answer: Callable[[], Answer]
    rounds: int

    @property
    def name(self) -> str:
        """Code and setting."""
        return f"{self.code}, {self.words}"


@dataclass(frozen=True)
class Point:
    """What came of a setting: times, errors of the shell [mm] and of the surface [K]."""

    setting: Setting
    times: Times
    shell: float
    surface: float

    def within(self, shell: float, surface: float) -> bool:
        """Whether neither error is larger, to the digits that are printed."""
        return round(self.shell, 3) <= round(shell, 3) and round(self.surface, 2) <= round(surface, 2)


def reference() -> Answer:
    """Explicit peer on 600 and 1200 cells, extrapolated: it shares nothing with the march but the curves of the steel."""
    coarse, fine = (peers.explicit(STRAND, n) for n in (600, 1200))
    return Answer((4 * fine.shell - coarse.shell) / 3, (4 * fine.surface - coarse.surface) / 3)


# code, how it is called, settings (cells or nodes, and tolerance or share of the time), rounds, what it needs
PEERS: tuple[tuple[str, Callable[..., Answer], tuple[tuple[float, ...], ...], int, str], ...] = (
    ("explicit, numba", peers.explicit, ((60,), (100,), (200,), (300,), (400,)), 4, "numba"),
    (
        "scipy LSODA",
        peers.lsoda,
        ((60, 2e-3), (80, 1e-3), (110, 1e-3), (150, 5e-4), (180, 2e-4), (220, 1e-4)),
        6,
        "scipy",
    ),
    ("scipy BDF", peers.bdf, ((60, 2e-3), (100, 1e-3), (150, 2e-4), (180, 2e-4), (220, 1e-4)), 3, "scipy"),
    ("scipy Radau", peers.radau, ((60, 1e-2), (110, 1e-2), (200, 3e-3)), 1, "scipy"),
    (
        "SUNDIALS CVODE",
        peers.cvode,
        ((60, 1e-3), (80, 3e-4), (110, 3e-4), (150, 1e-4), (180, 1e-4), (200, 1e-4), (220, 1e-4)),
        8,
        "sksundae",
    ),
    ("scikit-fem", libraries.scikit_fem, ((60, 0.3), (80, 0.2), (100, 0.12), (120, 0.1)), 2, "skfem"),
    ("FiPy", libraries.fipy, ((60, 0.3), (100, 0.1)), 1, "fipy"),
)
NODES = ((30, 1.0), (40, 1.0), (48, 1.0), (USUAL, 1.0), (80, 1.0), (120, 0.3), (200, 0.1))


def settings(quick: bool) -> list[Setting]:
    """All codes that are installed, at all their settings; the coarsest alone if it must be quick."""
    found = []
    for nodes, tolerance in NODES:
        marched = Marched([slice_of(STRAND, nodes, tolerance)])
        words = f"{nodes} nodes" + ("" if tolerance == 1.0 else f", tolerance {tolerance:g}")
        answer = partial(lambda n, t: answers([STRAND], n, t)[0], nodes, tolerance)
        rounds = 60 if quick else 600
        found.append(Setting(OURS, words, marched.run, answer, rounds))
        if compiler():
            if (nodes, tolerance) == (USUAL, 1.0):
                marched.difference()
            found.append(Setting(TWIN, words, marched.twin, answer, rounds))
    for code, call, given, rounds, needs in PEERS:
        if not find_spec(needs):
            continue
        second = "share" if call in (libraries.fipy, libraries.scikit_fem) else "tolerance"
        for values in given[:1] if quick else given:
            words = f"{values[0]} cells" + "".join(f", {second} {v:g}" for v in values[1:])
            run = partial(call, STRAND, *values)
            found.append(Setting(code, words, run, run, rounds))
    return found


def measure(quick: bool, truth: Answer) -> list[Point]:
    """Time everything in turn."""
    tried = settings(quick)
    times = interleaved({s.name: s.run for s in tried}, {s.name: s.rounds for s in tried})
    return [Point(s, times[s.name], *s.answer().errors(truth)) for s in tried]


def of(points: Sequence[Point], code: str) -> list[Point]:
    """Points of a code."""
    return [p for p in points if p.setting.code == code]


def usual(points: Sequence[Point], code: str = OURS) -> Point:
    """Ours, or the twin's, as a run has it."""
    return next(p for p in of(points, code) if p.setting.words == f"{USUAL} nodes")


def cheapest(points: Sequence[Point], shell: float, surface: float) -> Point | None:
    """Return the point that takes least time of those whose errors are no larger."""
    good = [p for p in points if p.within(shell, surface)]
    return min(good, key=lambda p: p.times.best, default=None)


def ratios(points: Sequence[Point]) -> list[str]:
    """Rows of what the peers take beside ours: both in the class, and as good as ours with its usual nodes."""
    ours, rows = usual(points), []
    in_class = cheapest(of(points, OURS), SHELL, SURFACE) or ours
    for code in dict.fromkeys(p.setting.code for p in points):
        if code in (OURS, TWIN):
            continue
        row = code
        for beside, shell, surface in ((in_class, SHELL, SURFACE), (ours, ours.shell, ours.surface)):
            found = cheapest(of(points, code), shell, surface)
            row += " | " + (
                f"{three(found.times.best / beside.times.best)} | {found.setting.words}: {found.shell:.3f} mm, "
                f"{found.surface:.2f} K"
                if found
                else "– | at no setting tried"
            )
        rows.append(f"| {row} |")
    return rows


LOOKS = {
    TWIN: (PETROL, "s", (0, (4, 2)), 1.0),
    OURS: (PLUM, "o", "-", HEAVY),
    "explicit, numba": (OCHRE, "^", "-", 1.0),
    "scipy LSODA": (GREY, "v", "-", 1.0),
    "scipy BDF": (GREY, "D", (0, (4, 2)), 1.0),
    "scipy Radau": (GREY, "P", (0, (1, 1.5)), 1.0),
    "SUNDIALS CVODE": (PETROL, "X", "-", 1.0),
    "scikit-fem": (OCHRE, "h", (0, (4, 2)), 1.0),
    "FiPy": (OCHRE, "*", (0, (1, 1.5)), 1.0),
}


def draw(points: Sequence[Point], path: Path) -> None:
    """Draw both errors over the time."""
    with styled():
        figure = Figure(figsize=(180 * MM, 88 * MM))
        panels = figure.subplots(1, 2)
        figure.subplots_adjust(left=0.075, right=0.985, bottom=0.26, top=0.93, wspace=0.2)
        for axes, kind, limit, words in (
            (panels[0], "shell", SHELL, "Largest error of the shell, mm"),
            (panels[1], "surface", SURFACE, "Largest error of the surface, K"),
        ):
            axes.axhline(limit, color=INK, linewidth=LIGHT, linestyle=(0, (1, 2)))
            axes.annotate(
                "accuracy class", (0.99, limit), xycoords=("axes fraction", "data"), xytext=(0, 2),
                textcoords="offset points", ha="right", fontsize=SMALL, color=GREY, zorder=9,
                bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.5},
            )  # fmt: skip
            for code, (colour, marker, stroke, width) in LOOKS.items():
                own = sorted(of(points, code), key=lambda p: p.times.best)
                if own:
                    x, y = [1e3 * p.times.best for p in own], [getattr(p, kind) for p in own]
                    axes.plot(
                        x, y, color=colour, marker=marker, linestyle=stroke, linewidth=width,
                        markersize=7.0 if code == TWIN else 4.0, label=code, markerfacecolor=colour if code == OURS else "white",
                        markeredgewidth=0.8,
                    )  # fmt: skip
            axes.set(xscale="log", yscale="log", xlabel="Time of one strand, ms")
            for axis in (axes.xaxis, axes.yaxis):
                axis.set_major_formatter(lambda value, _: number(value))
            axes.set_title(words, loc="left", fontsize=8.0)
            axes.grid(visible=True, which="major", linewidth=0.3, color="#CCCCCC")
            axes.spines[["top", "right"]].set_visible(False)
        handles, labels = panels[0].get_legend_handles_labels()
        figure.legend(handles, labels, loc="lower center", ncols=5, frameon=False, fontsize=SMALL)
        figure.savefig(path, metadata={"Date": None} if path.suffix == ".svg" else None)
