"""Write ``mould.md`` and its picture: the mould law, its keys, and the surface at mould exit over speeds and products.

Run ``python docs/mould_law.py`` after a change of the mould law; a test compares page and picture with what this
would write.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from scipy.optimize import isotonic_regression

from solidify.analysis.handbook import k_window
from solidify.assessment.judge import Judgement, judge
from solidify.case import Case, demo_case
from solidify.heat import mould
from solidify.sources import EVIDENCE, load_data, sources
from solidify.strand.result import Result
from solidify.strand.solve import solve_many
from solidify.units import MINUTE, MM, MW

PAGE = Path(__file__).with_name("mould.md")
PICTURE = Path(__file__).parent / "pictures" / "mould-law.svg"

LOW = {"C": 0.045, "Si": 0.02, "Mn": 0.25, "P": 0.012, "S": 0.008}
PERITECTIC = {"C": 0.11, "Si": 0.20, "Mn": 0.80, "P": 0.015, "S": 0.010}
MEDIUM = {"C": 0.18, "Si": 0.20, "Mn": 0.80, "P": 0.015, "S": 0.010}
HIGH = {"C": 0.45, "Si": 0.25, "Mn": 0.70, "P": 0.015, "S": 0.012}
NO_FLUX = {
    f"mould.{key}": None
    for key in (
        "mean_heat_flux_MW_per_m2",
        "water_flow_L_per_min",
        "water_rise_K",
        "expected_mean_heat_flux_MW_per_m2",
        "water_gap_mm",
        "water_slot_mm2",
        "copper_wall_mm",
    )
}
ROUND = {"shape": "round", "thickness_mm": None, "width_mm": None, "diameter_mm": 200}


@dataclass(frozen=True)
class Strand:
    """One product of the table: the demo case that it is made from, what is changed, and at which speeds it is cast."""

    label: str
    demo: str
    changes: Mapping[str, Any]
    speeds: tuple[float, ...]


def _section(**keys: Any) -> dict[str, Any]:
    return {f"section.{key}": value for key, value in keys.items()}


STRANDS = (
    *(
        Strand(
            f"slab 230, {carbon} %C",
            "slab",
            NO_FLUX | _section(thickness_mm=230) | {"steel.composition": c},
            v,
        )
        for carbon, c, v in (
            ("0.045", LOW, (0.5, 0.8, 1.2, 1.6, 1.8)),
            ("0.11", PERITECTIC, (0.5, 0.8, 1.2, 1.6, 1.8)),
            ("0.18", MEDIUM, (0.5, 0.8, 1.2, 1.6, 1.8)),
        )
    ),
    Strand(
        "bloom 250 × 300, 0.45 %C", "bloom", NO_FLUX | {"steel.composition": HIGH}, (0.4, 0.6, 0.75, 0.95)
    ),
    Strand(
        "billet 150, oil, 0.18 %C", "billet", NO_FLUX | {"steel.composition": MEDIUM}, (1.6, 2.0, 2.5, 3.0)
    ),
    Strand(
        "round 200, oil, 0.18 %C",
        "billet",
        NO_FLUX | _section(**ROUND) | {"steel.composition": MEDIUM},
        (1.2, 1.6, 2.0, 2.4),
    ),
)
PANEL = demo_case("slab")
CARRIED = (0.4, 0.6, 0.8, 1.0, 1.2, 1.4, 1.6)
"""Speeds to which the panel flux of the demo slab is carried [m/min]."""


def strands() -> Iterator[tuple[str, Case]]:
    """Every strand of the page."""
    for strand in STRANDS:
        for speed in strand.speeds:
            changes = {"casting.speed_m_per_min": speed, "steps.output_step_m": 0.05}
            yield strand.label, demo_case(strand.demo).replace({**strand.changes, **changes})
    for label, profile in (("panel", "decay"), ("panel, older form", "root")):
        for speed in CARRIED:
            changes = {
                "casting.speed_m_per_min": speed,
                "mould.profile": profile,
                "steps.output_step_m": 0.05,
            }
            yield label, PANEL.replace(changes)


@cache
def found() -> dict[str, list[tuple[Result, Judgement]]]:
    """March and judge every strand of the page, by label."""
    labels, cases = zip(*strands(), strict=True)
    made: dict[str, list[tuple[Result, Judgement]]] = {}
    for label, result in zip(labels, solve_many(list(cases)), strict=True):
        made.setdefault(label, []).append((result, judge(result)))
    return made


def _speed(result: Result) -> float:
    return float(result.case.casting.speed_m_per_min)


def _surface(result: Result) -> float:
    return float(result.summary["surface_at_mould_exit"])


def _k(result: Result) -> float:
    return float(result.summary["k_mould_exit"])


def _k_window() -> tuple[float, float]:
    window = k_window("slab", "mould exit")
    return window.low / MM * MINUTE**0.5, window.high / MM * MINUTE**0.5


_HEAD = (
    "| strand | m/min | dwell, s | mean, MW/m² | exit / mean | shell 0.7, mm | K 0.7 | surface at exit, °C "
    "| flux window | K 17 to 23 |\n|---|---|---|---|---|---|---|---|---|---|"
)


def _products() -> Iterator[str]:
    yield _HEAD
    low, high = _k_window()
    for strand in STRANDS:
        for result, judgement in found()[strand.label]:
            m, k = result.mould, _k(result)
            flux = judgement["mould_flux_window"]
            shell = result.summary["shell_at_mould_exit"][result.fraction_index(0.7)] / MM
            off = f"{k - low:+.1f}" if k < low else f"{k - high:+.1f}" if k > high else "inside"
            cells = (
                strand.label,
                f"{_speed(result):.2f}",
                f"{m.dwell:.0f}",
                f"{m.mean_flux / MW:.2f}",
                f"{m.exit_flux / m.mean_flux:.2f}",
                f"{shell:.1f}",
                f"{k:.1f}",
                f"{_surface(result):.0f}",
                "inside" if flux.margin >= 0 else f"off by {-flux.margin:.2f}",
                off,
            )
            yield "| " + " | ".join(cells) + " |"


def _rise(result: Result) -> float:
    """Largest rise of the surface inside the mould [K]."""
    inside = result.distance <= result.mould.working_length * (1 + 1e-9)
    surface = result.surface_temperature.max(axis=0)[inside]
    return float((surface - np.minimum.accumulate(surface)).max())


def _forms() -> Iterator[str]:
    yield "| m/min | mean, MW/m² | surface at exit, °C | rise inside, K | older form: mean | surface | rise |"
    yield "|---|---|---|---|---|---|---|"
    for (now, _), (before, _) in zip(found()["panel"], found()["panel, older form"], strict=True):
        cells = [f"{_speed(now):.1f}"]
        for result in (now, before):
            cells += [f"{result.mould.mean_flux / MW:.2f}", f"{_surface(result):.0f}", f"{_rise(result):.0f}"]
        yield "| " + " | ".join(cells) + " |"


def _relations() -> Iterator[str]:
    yield "| `handbook_relation` | mean heat flux, MW/m² | range | known how |"
    yield "|---|---|---|---|"
    for name, row in sorted(load_data("mould.toml")["mean"].items()):
        if row["form"] == "power":
            text = f"{row['c'] / MW:g} t^{row['n']:g}"
        elif row["form"] == "root":
            text = f"{row['a'] / MW:g} - {row['b'] / MW:.3f} √t"
        elif row["form"] == "joined":
            text = f"integral of {row['a'] / MW:g} - {row['b'] / MW:.4f} t to 1 s, {row['c'] / MW:g} t^{row['n']:g} behind"
        else:
            text = "4630 μ^-0.09 T^-1.19 v^0.47, μ in Pa s at 1300 °C, T in °C, v in m/min"
        ends = row.get("dwell_s") or row["speed_m_per_min"]
        span = f"{ends[0]:g} to {ends[1]:g} {'s' if 'dwell_s' in row else 'm/min'}"
        cells = (
            f"`{name}`",
            text,
            span,
            f"{EVIDENCE[row['evidence']]}: {sources()[row['source']].reference}",
        )
        yield "| " + " | ".join(cells) + " |"


def page() -> str:
    """Return the page as Markdown."""
    d = load_data("mould.toml")
    decay, dip, thin = d["decay"], d["dip"], d["thin_slab"]
    slabs = [_surface(r) for s in STRANDS if s.demo == "slab" for r, _ in found()[s.label]]
    return f"""\
<!-- Written by `python docs/mould_law.py`. Do not edit by hand. -->

# The mould law

Molten steel breaks out where the shell is too thin. What stands here is an estimate for a slice in the middle of a face;
it authorises no action, and local codes and licensed practice come first (see [cautions](cautions.md)).

One law over the age of the steel gives the heat flux in the mould, whatever the speed. With t the time since the
meniscus:

    q(t) = min(q_top, C (1 - n) t^-n)

Published mean fluxes are powers of the dwell time, C t^-n. The law below the cap is their derivative: a slice takes the
same flux at the same age at every speed, until it leaves the mould. So the flux at mould exit is about 1 - n of the mean.
The cap q_top bounds the flux just below the meniscus. It is counted in: the law's mean over the dwell is the mean given,
to round-off. A mean that q_top cannot carry is refused, with the most that it can.

![Local flux over the age of the steel; surface at mould exit and rise inside the mould over the speed](pictures/mould-law.svg)

## Where C and n come from

| what the case gives | C | n |
|---|---|---|
| water flow and rise, or `mean_heat_flux_MW_per_m2` | from the mean at the speed at which it was measured | `decay_exponent`, default {decay["exponent"]:g} |
| `mean_heat_flux_at_speed = [[m/min, MW/m²], ...]` | fitted | fitted, unless `decay_exponent` is given |
| nothing | from the handbook relation of the product at the speed of the case | that of the relation |
| `heat_flux_law` | a - b √t as written | not used; a note says where it falls below {d["exit_flux"]["least_share"]:g} of its own mean |

- A measured mean is carried to other speeds by the same C; the result says so. So are stops and slow-downs in a
  [history](histories.md): the age of the steel decides.
- A handbook mean is taken at the speed of the case, so that with the cap its C moves by some per cent over the speed.
- A measured mean belongs to the steel it was measured on. A study, `case.replace` or a table of casting speeds that
  changes the composition applies the ratio of the carbon factors, and says so. `measured_at_carbon_equivalent_percent`
  names another steel.
- `peak_heat_flux_MW_per_m2` is q_top: {decay["peak_powder"] / MW:g} with powder, {decay["peak_oil"] / MW:g} with oil, {thin["peak"] / MW:g} on slabs thinner than
  {thin["thickness"] / MM:g} mm. Instrumented moulds peak at 1.5 to 3 MW/m² with powder and 3 to 5 with oil (from memory); the figures
  within these ranges are chosen here, {decay["peak_powder"] / MW:g} so that a slab is nearly as hot at mould exit at every speed.
- Peritectic dip: `1 - A exp(-((Cp - {d["carbon"]["peak"]})/{d["carbon"]["width"]})²)` with A = {d["carbon"]["dip_powder"]:g} (powder) or {d["carbon"]["dip_oil"]:g} (oil), from memory. It acts
  on a handbook mean; a measured mean holds it already. Either way it is taken from about the first 10 s: in full until
  {dip["full_until"]:g} s, gone at {dip["gone_at"]:g} s, the mean kept. `peritectic_early_share` takes less of it there and the rest evenly (common
  practice, no source).
- `profile = "root"` is the older form, 2.68 - b √t with powder, for comparison. It takes every shortfall of the mean from
  the lower mould, so that slow strands reheat inside it.
- Error of a mean, one standard deviation: {100 * d["error"]["measured"]:.0f} % measured, {100 * d["error"]["handbook"]:.0f} % from a handbook (common
  practice, no source).

## Handbook relations

Slabs with powder take `{d["default"]["slab"]}` (viscosity {d["mean"]["cicutti_2002"]["viscosity"]:g} Pa s and melting temperature {d["mean"]["cicutti_2002"]["melting_temperature"]:g} °C unless
`powder_viscosity_Pa_s` and `powder_melting_temperature_C` are given), blooms and rounds with powder `{d["default"]["powder"]}`,
oil `{d["default"]["oil"]}`. `handbook_relation` names another. None of the coefficients was read at its source.

{_lines(_relations())}

## Surface at mould exit, handbook flux

Invented strands on the flux of the handbook. Over all slab speeds and steels the surface at mould exit lies between
{min(slabs):.0f} and {max(slabs):.0f} °C; for one steel it moves by less than 10 K. The last two columns say how far the mean flux
lies off the program's own window (fast strands rise above it, slow ones fall below), and K at solid
fraction 0.7 off the practice window of every product (no source). K goes nearly with the flux. Where it lies outside, the
relation does not fit that product, and the plant's mould water decides.

{_lines(_products())}

A surface above 1200 °C at mould exit does not meet the soft limit **surface at mould exit**: the flux is hard to believe.
The relation for blooms and rounds with powder comes out there, and its K below the window: for them the mean flux from the
mould water matters most.

## A panel flux carried to other speeds

The demo slab, {PANEL.section.thickness_mm:g} mm, panel flux at {PANEL.casting.speed_m_per_min:g} m/min, and the same with `profile = "root"`. The soft limit
**reheating inside the mould** allows 50 K.

{_lines(_forms())}

## Not known

Flux of a standing strand (the law goes on over the age); local flux of round moulds; the length of the peritectic dip.
"""


def _lines(rows: Iterator[str]) -> str:
    return "\n".join(rows)


def draw(path: Path) -> None:
    """Draw the picture of the page."""
    import matplotlib

    matplotlib.use("Agg")
    matplotlib.rcParams["svg.hashsalt"] = "mould law"
    from matplotlib import pyplot as plt

    from solidify.plots.palette import GREY, INK, OCHRE_TEXT, PETROL, PLUM, styled

    with styled():
        figure, axes = plt.subplots(2, 2, figsize=(11.0, 8.4), gridspec_kw={"wspace": 0.75, "hspace": 0.35})
        (flux, slabs), (others, rise) = axes
        age, ends = np.linspace(0.0, 60.0, 1201), []
        mean, peak = 1.49 * MW, 2.6 * MW
        for label, color, stroke, law in (
            ("panel slab", PLUM, "-", mould.decay_from_mean(mean, 40.0, peak)),
            (
                "same mean, peritectic",
                PETROL,
                "--",
                mould.decay_from_mean(mean, 40.0, peak, carbon_factor=0.85),
            ),
            ("same mean, older form", GREY, ":", mould.law_from_mean(mean, 40.0, "powder")),
            ("bloom, handbook", OCHRE_TEXT, "-.", mould.decay_from_mean(7.3 * MW / 48.0**0.5, 48.0, peak)),
        ):
            flux.plot(age, law.flux(age) / MW, color=color, linestyle=stroke, linewidth=1.5)
            ends.append((float(law.flux(60.0)) / MW, label, color))
        _bare(flux, "time since the meniscus, s", "local heat flux, MW/m²", (0, 60), (0, 3))
        _name(flux, ends)
        forms = [
            ("panel", "panel, carried", PLUM, "--"),
            ("panel, older form", "panel, older form", GREY, ":"),
        ]
        own = [(s.label, s.label, INK, "-") for s in STRANDS if s.demo == "slab"]
        _bare(slabs, "casting speed, m/min", "surface at mould exit, °C", (0.3, 1.9), (1050, 1380))
        _limit(slabs, 1200.0, "soft limit 1200 °C")
        _name(slabs, _over_speed(slabs, [*own, *forms], _surface))
        rest = [(s.label, s.label, OCHRE_TEXT, "-") for s in STRANDS if s.demo != "slab"]
        _bare(others, "casting speed, m/min", "surface at mould exit, °C", (0.3, 3.1), (1050, 1380))
        _limit(others, 1200.0, "soft limit 1200 °C")
        _name(others, _over_speed(others, rest, _surface))
        _bare(rise, "casting speed, m/min", "rise of the surface inside the mould, K", (0.3, 1.7), (-5, 300))
        _limit(rise, 50.0, "soft limit 50 K")
        _name(rise, _over_speed(rise, forms, _rise))
        figure.savefig(path, metadata={"Date": None, "Creator": None}, bbox_inches="tight")
        plt.close(figure)


def _over_speed(
    ax: Any, lines: Sequence[tuple[str, str, str, str]], value: Callable[[Result], float]
) -> list[tuple[float, str, str]]:
    """Draw a figure of strands over the speed; return the ends of the lines with their names and colours."""
    ends = []
    for key, label, color, stroke in lines:
        speeds, values = zip(*((_speed(r), value(r)) for r, _ in found()[key]), strict=True)
        ax.plot(speeds, values, color=color, linestyle=stroke, linewidth=1.5, marker="o", markersize=3)
        ends.append((values[-1], label, color))
    return ends


def _limit(ax: Any, at: float, words: str) -> None:
    """Draw a limit, named above its right end."""
    ax.axhline(at, color="#111", linewidth=0.8)
    low, high = ax.get_ylim()
    ax.text(ax.get_xlim()[1], at + 0.012 * (high - low), words, ha="right", va="bottom", fontsize=8)


def _bare(ax: Any, x: str, y: str, across: tuple[float, float], up: tuple[float, float]) -> None:
    ax.set(xlabel=x, ylabel=y, xlim=across, ylim=up)
    ax.spines[["top", "right"]].set_visible(False)
    ax.grid(visible=False)


def _name(ax: Any, ends: list[tuple[float, str, str]]) -> None:
    """Name lines in a column at the right, each as near its line as it can stand without touching another."""
    low, high = ax.get_ylim()
    rows, apart = sorted(ends), 0.06 * (high - low) * np.arange(len(ends))
    places = isotonic_regression([y for y, *_ in rows] - apart).x + apart
    for place, (_, label, color) in zip(places, rows, strict=True):
        ax.text(ax.get_xlim()[1], place, "  " + label, color=color, va="center", ha="left", fontsize=8)


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
    draw(PICTURE)
