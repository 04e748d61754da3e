"""What the datasets of a result must hold beyond their shape: finite, rising, within bounds, and one with its case."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any

import numpy as np

from solidify.assessment.breakout import WEIGHTS, WORDS
from solidify.assessment.judge import VERDICTS
from solidify.case import Case
from solidify.errors import Problem
from solidify.sources import sources
from solidify.strand.result import MECHANISMS

__all__ = ["RULES", "case_faults", "faults"]

_TEMPERATURE = {"finite": True, "within": (-300.0, 5000.0)}
_SHARE = {"finite": True, "within": (-1e-6, 1.0 + 1e-6)}
_AXIS = {"finite": True, "rising": True, "within": (-1e-9, 1e6)}
_FINITE = {"finite": True, "within": (-1e30, 1e30)}
_LENGTH = {"finite": True, "within": (0.0, 1e3)}
_COUNT = {"finite": True, "within": (0.0, 1e9)}
_POSITIVE = {"finite": True, "within": (1e-12, 1e30)}

RULES: dict[str, dict[str, Any]] = {
    "/": {
        **dict.fromkeys(("distance", "section_distance", "depth", "time", "solid_fraction"), _AXIS),
        **dict.fromkeys(("surface_temperature", "centre_temperature", "section_temperature"), _TEMPERATURE),
        **dict.fromkeys(("centre_solid_fraction", "section_solid_fraction"), _SHARE),
        **dict.fromkeys(("shell_thickness", "equivalent_shell"), _LENGTH),
        "heat_flux": _FINITE,
    },
    "/strand": {
        **dict.fromkeys(("thickness", "width", "half_thickness"), _LENGTH),
        **dict.fromkeys(("tundish_temperature", "pouring_temperature"), _TEMPERATURE),
        "superheat": _FINITE,
        "headline": _SHARE,
    },
    "/mould": {
        **dict.fromkeys(("mean_flux", "exit_flux", "face_flux"), _FINITE),
        **dict.fromkeys(("dwell", "working_length"), _POSITIVE),
        "taper_distance": _AXIS,
    },
    "/zone": {
        **dict.fromkeys(("start", "end"), _LENGTH),
        **dict.fromkeys(("surface_in", "surface_out"), _TEMPERATURE),
        **dict.fromkeys(("mean_flux", "heat_removed"), _FINITE),
    },
    "/steel": {
        "temperature": {"finite": True, "rising": True, "within": (-300.0, 5000.0)},
        "enthalpy": {"finite": True, "rising": True, "within": (-1e9, 1e9)},
        **dict.fromkeys(("conductivity", "density", "march_density"), _POSITIVE),
        **dict.fromkeys(("liquidus", "solidus", "kink", "event_temperature"), _TEMPERATURE),
        "latent_heat": _FINITE,
        "solid_fraction": _SHARE,
        "phase_share": _SHARE,
        "count": _COUNT,
    },
    "/warning": {"count": _COUNT},
    "/balance": {
        **dict.fromkeys(("steps", "rejected", "iterations", "nodes"), _COUNT),
        "heat": _FINITE,
    },
}
"""Group -> dataset -> what `solidify.storage.untrusted.numbers` holds it to; NaN elsewhere is what does not exist."""

_WHOLE = {
    "/balance": ("steps", "rejected", "iterations", "nodes"),
    "/steel": ("count",),
    "/warning": ("count",),
}
_SENSES = ("at least", "at most", "within", "outside")
_CHOICES: dict[str, dict[str, Iterable[str]]] = {
    "/": {"side": ("both", "loose", "fixed")},
    "/zone": {"kind": ("mould", "zone", "open")},
    "/mould": {"face": ("loose", "fixed", "left", "right")},
    "/summary": {"breakout_risk": WORDS},
    "/finding": {
        "verdict": VERDICTS,
        "sense": _SENSES,
        "hardness": ("hard", "soft"),
        "bound": ("lower", "upper"),
    },
    "/breakout": {"weight": WEIGHTS},
    "/balance": {"mechanism": MECHANISMS},
}
_ONCE = {"/zone": ("name",), "/steel": ("element", "event", "quantity", "phase")}
_SOME = {
    "/": {"distance": 2, "section_distance": 1, "depth": 2},
    "/zone": {"name": 1},
    "/steel": {"temperature": 2},
}

Fault = Callable[..., None]


def faults(group: str, values: Mapping[str, Any]) -> Iterator[tuple[str, str, str]]:
    """Hold the datasets of one group to one another and to the words that they may be.

    Parameters
    ----------
    group : str
        Its name.
    values : mapping
        What was read, each by itself right.

    Yields
    ------
    tuple of str
        Dataset, what is given, what is allowed.
    """
    for name, allowed in _CHOICES.get(group, {}).items():
        found = values.get(name, ())
        for word in dict.fromkeys([found] if isinstance(found, str) else found):
            if word not in allowed:
                yield name, repr(word[:60]), ", ".join(allowed)
    for name in _ONCE.get(group, ()):
        found = values.get(name, ())
        if len(set(found)) < len(found):
            yield name, "a name twice", "each name once"
    for name, least in _SOME.get(group, {}).items():
        if name in values and len(values[name]) < least:
            yield name, f"{len(values[name])} rows", f"{least} or more"
    for name in _WHOLE.get(group, ()):
        found = np.asarray(values[name])
        if found.size and not np.issubdtype(found.dtype, np.integer):
            yield name, "broken numbers", "whole numbers"
    if group == "/":
        yield from _of_root(values)
    elif group == "/zone":
        yield from _of_zones(values)
    elif group == "/steel":
        yield from _of_steel(values)
    elif group == "/cooling":
        for key in values["source"]:
            if key not in sources():
                yield "source", repr(key[:60]), "a source of the bibliography"


def _of_root(values: Mapping[str, Any]) -> Iterator[tuple[str, str, str]]:
    sides = tuple(values["side"])
    if sides not in (("both",), ("loose", "fixed")):
        yield "side", ", ".join(sides)[:60], "both, or loose and fixed"
    if abs(values["distance"][0]) > 1e-9 or abs(values["time"][0]) > 1e-9:
        yield "distance", "does not begin at 0", "distance and time from the meniscus"
    fractions = np.asarray(values["solid_fraction"])
    if any(abs(fractions - f).min(initial=math.inf) > 1e-9 for f in (0.3, 0.7, 1.0)):
        yield "solid_fraction", f"{fractions.tolist()}"[:60], "0.3, 0.7 and 1 among them"


def _of_zones(values: Mapping[str, Any]) -> Iterator[tuple[str, str, str]]:
    start, end = np.asarray(values["start"]), np.asarray(values["end"])
    if start[0] != 0.0 or (end <= start).any() or (start[1:] != end[:-1]).any():
        yield "start", "stretches that do not follow one another", "each begins where the last one ends"


def _of_steel(values: Mapping[str, Any]) -> Iterator[tuple[str, str, str]]:
    if not values["solidus"] < values["liquidus"]:
        yield "solidus", f"{values['solidus']:g} °C", f"below the liquidus, {values['liquidus']:g} °C"
    for key in values["source"]:
        if key not in sources() and key != "user":
            yield "source", repr(key[:60]), "a source of the bibliography"


def case_faults(groups: Mapping[str, Mapping[str, Any]], case: Case, do: str) -> list[Problem]:
    """Hold what a result says of its strand to the case that stands beside it.

    Parameters
    ----------
    groups : mapping
        Groups as they were read.
    case : Case
        From the text in the file.
    do : str
        What to do.

    Returns
    -------
    list of Problem
    """
    root, strand, zones = groups["/"], groups["/strand"], groups["/zone"]
    fractions = np.asarray(root["solid_fraction"])
    told = [
        ("strand/thickness", strand["thickness"], case.thickness),
        ("strand/width", strand["width"], case.width),
        ("strand/half_thickness", strand["half_thickness"], case.half_thickness),
        ("mould/working_length", groups["/mould"]["working_length"], case.working_length),
        ("distance", root["distance"][-1], case.cutoff),
        ("solid_fraction", fractions[abs(fractions - strand["headline"]).argmin()], strand["headline"]),
    ]
    found = [
        Problem(name, f"{value:.6g}", f"{own:.6g}, as the case beside it says", do=do)
        for name, value, own in told
        if not math.isclose(value, own, rel_tol=1e-6, abs_tol=1e-9)
    ]
    if max(root["shell_thickness"].max(), root["equivalent_shell"].max()) > 1.001 * case.thickness:
        found.append(Problem("shell_thickness", "more than the strand is thick", do=do))
    deepest = float(root["depth"][-1])
    if not any(math.isclose(deepest, own, rel_tol=1e-6) for own in (case.half_thickness, case.thickness)):
        allowed = f"{case.half_thickness:.6g} or {case.thickness:.6g}, as the case beside it says"
        found.append(Problem("depth", f"{deepest:.6g}", allowed, do=do))
    named = {zone.name for zone in case.zone}
    own = [name for name, kind in zip(zones["name"], zones["kind"], strict=True) if kind == "zone"]
    if not named.issuperset(own):
        found.append(Problem("zone/name", "zones that the case beside it does not have", do=do))
    return found
