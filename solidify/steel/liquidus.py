"""Where freezing begins: published liquidus relations and the delta and gamma lines of this project."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from solidify.errors import Notice
from solidify.steel.coefficients import choice, entries, outside

__all__ = ["DEFAULT_LIQUIDUS", "disagreement", "liquidus_relations", "liquidus_temperature", "phase_lines"]

DEFAULT_LIQUIDUS = "phase_lines"
"""Relation used when none is named."""

NOTEWORTHY = 5.0
"""Difference between relations from which a notice is given [K] (common practice, no source)."""


def liquidus_relations() -> tuple[str, ...]:
    """Return the names of the liquidus relations.

    Returns
    -------
    tuple of str
    """
    return tuple(name for name, entry in entries("liquidus").items() if "kind" in entry)


def _lowering(slopes: Mapping[str, float], composition: Mapping[str, Any]) -> Any:
    return sum((slope * composition.get(element, 0.0) for element, slope in slopes.items()), 0.0)


def phase_lines(composition: Mapping[str, Any]) -> tuple[Any, Any]:
    """Return the temperatures at which delta ferrite and austenite begin to freeze from this liquid.

    Parameters
    ----------
    composition : mapping of str to float or ndarray
        Element -> [mass %] of the liquid.

    Returns
    -------
    delta, gamma : float or ndarray
        [degC]; the higher one is the liquidus.

    Notes
    -----
    Quadratic in carbon, linear in the rest; carbon up to 2 %.

    References
    ----------
    Fit of this project to the computed Fe-C system (derived), see the bibliography under
    ``solidify_phase_lines``.

    Examples
    --------
    >>> delta, gamma = phase_lines({"C": 0.2})
    >>> round(delta, 1), round(gamma, 1)
    (1522.2, 1515.6)
    """
    entry = entries("liquidus")["phase_lines"]
    carbon = composition.get("C", 0.0)
    lines = [
        line["base"] - line["carbon_squared"] * carbon**2 - _lowering(line["slopes"], composition)
        for line in (entry["delta"], entry["gamma"])
    ]
    return lines[0], lines[1]


def liquidus_temperature(composition: Mapping[str, float], relation: str = DEFAULT_LIQUIDUS) -> float:
    """Return the liquidus temperature by a named relation.

    Parameters
    ----------
    composition : mapping of str to float
        Element -> [mass %].
    relation : str
        One of `liquidus_relations`.

    Returns
    -------
    float
        [degC]

    Raises
    ------
    InputError
        If there is no such relation.

    References
    ----------
    Each relation's publication, place and evidence stand in ``data/steel/liquidus.toml``.

    Examples
    --------
    >>> round(liquidus_temperature({"C": 0.40}), 1)
    1505.7
    """
    entry = entries("liquidus")[choice(relation, liquidus_relations(), "liquidus relation")]
    if entry["kind"] == "two lines":
        return float(max(phase_lines(composition)))
    carbon = composition.get("C", 0.0)
    lowering = _lowering(entry["slopes"], composition)
    if entry["kind"] == "stepped carbon":
        contents, slopes = zip(*entry["carbon"], strict=True)
        lowering += carbon * float(np.interp(carbon, contents, slopes))
    elif entry["kind"] == "carbon pieces":
        piece = next((p for p in entry["carbon"] if carbon <= p[0]), entry["carbon"][-1])
        lowering += piece[1] + piece[2] * carbon + piece[3] * carbon**2
    return float(entry["base"] - lowering)


def disagreement(composition: Mapping[str, float], relation: str = DEFAULT_LIQUIDUS) -> tuple[Notice, ...]:
    """Say how far the other relations lie from the chosen one, if it is more than a few degrees.

    Parameters
    ----------
    composition : mapping of str to float
        Element -> [mass %].
    relation : str
        The relation in use.

    Returns
    -------
    tuple of Notice
        Empty, or one that lists the relations valid for this steel.
    """
    here = liquidus_temperature(composition, relation)
    others = {
        name: liquidus_temperature(composition, name)
        for name in liquidus_relations()
        if name != relation and not outside(entries("liquidus")[name], composition, "")
    }
    largest = max((abs(t - here) for t in others.values()), default=0.0)
    if largest <= NOTEWORTHY:
        return ()
    listed = ", ".join(f"{name} {t:.0f}" for name, t in others.items())
    text = (
        f"liquidus relations differ by up to {largest:.0f} K: {relation} {here:.0f} is used, {listed} degC;"
        " superheat is off by as much"
    )
    return (Notice(text, "steel composition"),)
