"""The march of the section of a case: from the case to a `SectionResult`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime
from importlib.metadata import version

import numpy as np

from solidify.assessment.judge import judge
from solidify.case import Case
from solidify.errors import InputError, Notice, Problem
from solidify.section.faces import section_faces
from solidify.section.grid import section_nodes, usual_section_nodes
from solidify.section.march import SectionMarch, march_section
from solidify.section.result import (
    BELOW_MOULD,
    Map,
    PointCheck,
    SectionBalance,
    SectionResult,
    SectionZone,
    SliceComparison,
)
from solidify.section.steel import section_table
from solidify.solver.driver import march_blocks
from solidify.steel import Steel
from solidify.strand.assemble import assemble
from solidify.strand.batch import Batch, batches
from solidify.strand.result import MECHANISMS, Result

__all__ = ["EVEN_COOLING", "solve_section"]

EVEN_COOLING = (
    "the corner is computed as cooled from both faces, without a gap to the copper and with the spray of the faces "
    "reaching it, unless corner factors are given; a real corner shrinks from the mould and is hotter there"
)
"""What even cooling assumes of the corner."""

_VERDICTS = {"kept": "met", "close": "marginal", "breached": "not met"}
"""Verdict of a finding -> its word here."""

_LEAST_RANGE = 4.0
"""Least freezing range of a section [K]: below it every node stops at the front, and the march takes minutes."""

_SHARE = 0.8
"""Nodes of a section over those of a slice, where the case gives them."""


def solve_section(case: Case, *, nodes: int | None = None, tolerance: float | None = None) -> SectionResult:
    """March the quarter section of a case from the meniscus to the cut-off, and its slice beside it.

    Where loose and fixed side differ a half section is marched.

    Parameters
    ----------
    case : Case
        A checked case of a slab or a rectangle.
    nodes : int, optional
        From the wide face to the centre; by default as thickness and steel want.
    tolerance : float, optional
        Error allowed in a step, relative to the default; that of the case without it.

    Returns
    -------
    SectionResult

    Raises
    ------
    InputError
        If the case is of a round, or steel, mould and practice contradict one another.
    MarchError
        If a march does not finish.
    """
    if case.section.shape == "round":
        do = "a round has no corners: solidify run marches it as it is"
        raise InputError(Problem("[section] shape", '"round"', '"slab" or "rectangle"', do=do))
    if nodes is not None and nodes < 8:
        raise InputError(Problem("nodes", f"{nodes}", "8 or more"))
    ready, wrong = batches([case])
    if wrong:
        raise wrong[0]
    batch = ready[0]
    drawn, failed = assemble(batch, march_blocks(batch.slices))
    if failed:
        raise failed[0]
    beside = drawn[0].result(0)
    path, steel = batch.paths[0], batch.steels[0]
    if steel.liquidus - steel.solidus < _LEAST_RANGE:
        given = f"freezes within {steel.liquidus - steel.solidus:.1f} K"
        do = "give the steel the freezing range that it has, or its composition"
        raise InputError(Problem("[steel]", given, f"{_LEAST_RANGE:g} K or more for a section", do=do))
    acting = section_faces(case, path, float(batch.throughputs[0]))
    whole = len(acting.wide) == 2
    if nodes is None:
        nodes = (
            usual_section_nodes(
                case.half_thickness, steel.liquidus - steel.temperature_at_solid_fraction(0.7)
            )
            if case.steps.nodes is None
            else max(round(_SHARE * case.steps.nodes), 8)
        )
    depth, along = section_nodes(case.half_thickness, 0.5 * case.width, nodes, whole)
    places = _places(case)
    marched = march_section(
        section_table(steel),
        acting.wide[0],
        acting.narrow,
        depth,
        along,
        initial=batch.heats[0].pouring,
        times=batch.times[0],
        fixed=acting.wide[1] if whole else None,
        keep=path.travel.age(np.array([*places.values()])),
        tolerance=case.steps.tolerance if tolerance is None else tolerance,
        solid_fractions=batch.fractions,
    )
    return _result(batch, steel, marched, beside, places, acting.notices)


def _places(case: Case) -> dict[str, float]:
    """Return where maps are kept, by name, from the meniscus [m]."""
    found = {"mould exit": case.working_length}
    if case.straightener and case.straightener[0] < case.cutoff:
        found["first straightening point"] = case.straightener[0]
    return found | {"cut-off": case.cutoff}


def _result(
    batch: Batch,
    steel: Steel,
    m: SectionMarch,
    beside: Result,
    places: dict[str, float],
    notices: Sequence[Notice],
) -> SectionResult:
    """Put the march along the machine, with the slice beside it."""
    case, path, z = batch.cases[0], batch.paths[0], batch.distance
    end = float(m.centre_solidified[batch.fractions.index(1.0)])
    length = float(np.interp(end, m.times, z)) if end == end else float("nan")
    said = (*notices, *(n for n in beside.notices if n.where != "section"))  # those are of the slice alone
    return SectionResult(
        case=case,
        sides=batch.sides,
        solid_fractions=np.array(batch.fractions),
        headline=case.shell.solid_fraction,
        distance=z,
        time=m.times,
        wide_temperature=m.wide,
        corner_temperature=m.corner,
        narrow_temperature=m.narrow,
        centre_temperature=m.centre,
        hottest_temperature=m.hottest,
        wide_heat_flux=m.wide_flux,
        narrow_heat_flux=m.narrow_flux,
        wide_shell=m.wide_shell,
        narrow_shell=m.narrow_shell,
        equivalent_solid=m.solid,
        depth=m.depth,
        along=m.along,
        maps=tuple(
            Map(name, place, t, f)
            for (name, place), t, f in zip(places.items(), m.temperature, m.solid_fraction, strict=True)
        ),
        metallurgical_length=length,
        solidification_time=end,
        zones=tuple(SectionZone(s.name, s.kind, s.start, s.end, float(s.water)) for s in path.stretches),
        balance=SectionBalance(
            _heat(m, path.ages),
            m.flux_error,
            m.table_error,
            m.recount_error,
            m.steps,
            m.rejected,
            m.iterations,
            len(m.depth) * len(m.along),
        ),
        comparison=_comparison(case, z, m, beside, length, batch.fractions.index(case.shell.solid_fraction)),
        checks=_checks(m, beside),
        liquidus=steel.liquidus,
        solidus=steel.solidus,
        superheat=batch.heats[0].superheat,
        notices=said,
        created_by=f"solidify {version('solidify')}",
        created_at=datetime.now(UTC).isoformat(timespec="seconds"),
    )


def _heat(m: SectionMarch, ages: np.ndarray) -> np.ndarray:
    """Heat of a metre of the whole strand, (face, stretch, mechanism) [J m-1]."""
    faces = m.booked.shape[1]
    stretch = (ages[:, None] < m.ends * (1 - 1e-12)).sum(axis=0)
    heat = np.zeros((faces, len(ages), len(MECHANISMS)))
    for section, own in enumerate(stretch):
        heat[:, own] += m.booked[section]
    return heat * (4.0 if faces == 2 else 2.0)


def _comparison(
    case: Case, z: np.ndarray, m: SectionMarch, beside: Result, length: float, headline: int
) -> SliceComparison:
    """Put the slice beside the section."""
    off = beside.surface_temperature - m.wide
    below = np.flatnonzero(z >= case.working_length + BELOW_MOULD - 1e-9)
    at = below[np.abs(off[:, below]).max(axis=0).argmax()] if len(below) else len(z) - 1
    side = int(np.abs(off[:, at]).argmax())
    points = case.straightener
    ends = [float(np.interp(p, z, off[0])) for p in (points[0], points[-1])] if points else [float("nan")] * 2
    exit_shell = float(np.interp(case.working_length, z, m.wide_shell[0, headline]))
    own = float(np.interp(case.working_length, z, beside.shell_thickness[0, headline]))
    slice_length = float(beside.summary["metallurgical_length"])
    return SliceComparison(
        slice_length=slice_length,
        slice_shell=own,
        length_percent=100.0 * (slice_length / length - 1.0),
        shell=own - exit_shell,
        straightener_in=ends[0],
        straightener_out=ends[1],
        largest=float(off[side, at]),
        largest_at=float(z[at]),
        slice_surface=beside.surface_temperature,
        slice_centre=beside.centre_temperature,
    )


def _checks(m: SectionMarch, beside: Result) -> tuple[PointCheck, ...]:
    """Judge the surface at the straightener by the criterion that holds for the slice."""
    if not beside.case.straightener:
        return ()
    points = {
        "middle of the wide face": m.wide,
        "middle of the narrow face": np.broadcast_to(m.narrow, m.wide.shape),
        "corner": m.corner,
    }
    checks = []
    for name, surface in points.items():
        f = judge(replace(beside, surface_temperature=surface))["straightener_surface"]
        where = f.where.removesuffix(", loose side") if len(beside.sides) == 1 else f.where
        note = f.note if f.judged else f.reason
        if name == "corner":
            note = "; ".join(text for text in (note, EVEN_COOLING) if text)
        told = "" if not f.judged else f"margin {f.margin:.0f} K"
        if f.judged and f.margin < 0:
            told = f"{'short' if np.isfinite(f.lower) else 'over'} by {-f.margin:.0f} K"
        verdict = _VERDICTS.get(f.verdict, f.verdict)
        checks.append(PointCheck(name, f.value, f.limit_text, f.margin, told, verdict, where, note))
    return tuple(checks)
