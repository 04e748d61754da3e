"""What a page of HTML rests on: assumptions of the slice, sources with how well they are known, what is recalled."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from solidify.assessment.ductility import LIMIT
from solidify.assessment.judge import Judgement, setting_of
from solidify.report.ductility import result_ductility, trough_text
from solidify.report.strand_text import cautions, fraction_text
from solidify.sources import EVIDENCE, sources
from solidify.strand.result import Result

__all__ = ["TREATMENTS", "assumptions", "basis", "ductility", "recalled"]

TREATMENTS = {
    "flat (one-way)": "heat leaves through the two wide faces alone; the narrow faces are not counted",
    "rectangle, mid-face": "a slice through the middle of the wide face, the narrow faces counted by a weight "
    "over the depth; corners are not represented",
    "round": "cooled alike all round",
}
"""What each section treatment leaves out, for print."""


def assumptions(result: Result) -> list[str]:
    """Return what a strand was taken to be.

    Parameters
    ----------
    result : Result
        A marched strand.

    Returns
    -------
    list of str
    """
    headline = fraction_text(result.headline)
    treatment = TREATMENTS.get(result.shape_treatment, "")
    return [
        f"Section treatment: {result.shape_treatment}" + (f": {treatment}." if treatment else "."),
        "Sizes are hot, at mould exit; shrinkage of the strand is not followed.",
        f"“Shell” is what is at least {headline} solid. A drained breakout shell looks more like 0.3.",
        "End of solidification is where the centre is wholly solid (solid fraction 1.0).",
        "The strand is cast at one speed, with the same steel temperature and water throughout.",
        "Water of a zone is spread evenly over its sprayed area; single nozzles and rolls are not seen.",
        "Stirring of the liquid is taken as a better conduction of the pool, factor "
        f"{result.case.steel.liquid_conductivity_factor:g}.",
        "All distances are counted from the meniscus along the strand.",
    ]


def ductility(result: Result) -> str:
    """Say what is asked of the surface at the straightener, and by what."""
    if not result.case.straightener:
        return ""
    said = trough_text(result_ductility(result), setting_of(result), result.case.limits)
    return f"{said[:1].upper()}{said[1:]}."


def _rests_on(result: Result, judgement: Judgement) -> Iterator[tuple[str, str, str]]:
    """Yield what rests on a source, its key, and how well it is known."""
    for quantity, (key, known) in result.steel.evidence.items():
        yield f"steel: {quantity}", key, known
    for key in result.sources:
        yield "cooling", key, EVIDENCE[sources()[key].evidence] if key in sources() else "not known"
    for finding in judgement.findings:
        yield f"limit: {finding.label}", finding.source, EVIDENCE[finding.evidence]
    counts = result.case.straightener and LIMIT not in result.case.limits
    for part in result_ductility(result).parts if counts else ():
        if part.source in sources():
            yield f"ductility trough: {part.words}", part.source, EVIDENCE[part.evidence]
    for caution in cautions():
        for key in caution.get("source", ()):
            yield f"caution: {caution['name']}", key, EVIDENCE[sources()[key].evidence]


def basis(result: Result, judgement: Judgement) -> list[tuple[str, str, str]]:
    """Return the sources used, how well they are known, and what rests on them; what has none stands together.

    Parameters
    ----------
    result : Result
        A marched strand.
    judgement : Judgement
        Its findings.

    Returns
    -------
    list of (reference, known, use)
    """
    found: dict[str, tuple[dict[str, None], list[str]]] = {}
    for what, key, known in _rests_on(result, judgement):
        entry = sources().get(key)
        reference = "No source"
        if entry is not None and entry.evidence != "practice":
            reference = f"{entry.reference} ({entry.note})" if entry.note else entry.reference
        grades, whats = found.setdefault(reference, ({}, []))
        grades[known] = None
        whats.append(what)
    rows = [(reference, _once(grades), _listed(whats)) for reference, (grades, whats) in found.items()]
    return sorted(rows, key=lambda row: (row[0] == "No source", "memory" not in row[1]))


def _once(grades: Iterable[str]) -> str:
    """Join how well things are known, each part of it once."""
    return "; ".join(dict.fromkeys(part for known in grades for part in known.split("; ")))


def _listed(whats: Sequence[str]) -> str:
    """Join entries ``kind: name`` with each kind said once."""
    kinds: dict[str, dict[str, None]] = {}
    for what in whats:
        kind, _, name = what.partition(": ")
        kinds.setdefault(kind, {})[name] = None
    return "; ".join(
        f"{kind}: {', '.join(n for n in names if n)}".removesuffix(": ") for kind, names in kinds.items()
    )


def recalled(result: Result, judgement: Judgement) -> str:
    """Return what rests on memory alone, as `basis`; empty where nothing does."""
    whats = [what for what, _, known in _rests_on(result, judgement) if "memory" in known]
    return _listed(list(dict.fromkeys(whats)))
