"""A cut plan in words and as CSV: the pieces, the metres lost, and the plain plan beside it."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence

from solidify.plan.cut_file import CutRequest
from solidify.plan.cut_plan import CutPlan, Piece
from solidify.report.strand_text import cautions
from solidify.report.text import columns, listed, page, wrapped
from solidify.units import MINUTE

__all__ = ["cut_csv", "cut_sentence", "cut_text"]


def cut_sentence(plan: CutPlan) -> str:
    """Say in one sentence what the plan gains over the plain one.

    Parameters
    ----------
    plan : CutPlan
        With its plain plan.

    Returns
    -------
    str
    """
    assert plan.plain is not None
    aim = f"{plan.cut.aim:g} m throughout"
    sold = sum(1 for piece in plan.pieces if piece.sold)
    gain = plan.against_plain
    beside = f"{gain:.2f} m more than {aim}" if gain > 0.005 else f"as good as {aim}"
    pieces = f"{sold} piece{'s' * (sold != 1)}"
    return f"{pieces} worth {plan.worth:.2f} m of good length, cold: {beside}"


def cut_text(request: CutRequest, plan: CutPlan) -> str:
    """Write a cut plan for a terminal.

    Parameters
    ----------
    request : CutRequest
        From `solidify.plan.cut_file.read_cut_file`.
    plan : CutPlan
        From `solidify.cut_plan`.

    Returns
    -------
    str
        No line over 100 characters.
    """
    cut = plan.cut
    span = f"{cut.least:g} m" if cut.least == cut.most else f"{cut.least:g} to {cut.most:g} m"
    how = f"{plan.length:g} m cast; pieces of {span} cold, kerf {1e3 * cut.kerf:g} mm, hot factor {cut.hot_factor:.4g}"
    how += f"; {request.basis}" if request.basis else ""
    rows = [_head(request), *(_cells(request, piece, number) for number, piece in _numbered(plan.pieces))]
    alike = "r" * (len(rows[0]) - 2) + "lw"
    notes = [
        f"{s.start:.2f} to {s.end:.2f} m: {s.reason or s.kind}" + (f", {s.kind}" if s.reason else "")
        for s in plan.stretches
    ]
    short = [
        line for entry in cautions() if entry["name"] == "no permission" for line in wrapped(entry["short"])
    ]
    return page(
        [
            [*wrapped(request.title), *wrapped(cut_sentence(plan)), *wrapped(how)],
            columns(rows, alike),
            ["Metres, hot", *columns(_metre_rows(plan), "lr", indent="  ")],
            listed("Stretches with their margins", notes),
            [
                "A plan to cut by, not a release of steel: what is sold is decided by those who answer for it.",
                *short,
            ],
        ]
    )


def _numbered(pieces: Sequence[Piece]) -> list[tuple[str, Piece]]:
    """Number the pieces of good length."""
    found, count = [], 0
    for piece in pieces:
        is_piece = piece.sold or piece.kind == "suspect"
        count += is_piece
        found.append((str(count) if is_piece else "", piece))
    return found


def _head(request: CutRequest) -> tuple[str, ...]:
    head = ["piece", "from m", "to m", "hot m", "cold m"]
    head += ["t"] if request.case is not None else []
    head += ["born min", "cut min"] if not math.isnan(request.speed) and request.case is not None else []
    return (*head, "kind", "reason")


def _cells(request: CutRequest, piece: Piece, number: str) -> tuple[str, ...]:
    hot = piece.end - piece.start
    cells = [number, f"{piece.start:.2f}", f"{piece.end:.2f}", f"{hot:.2f}", f"{piece.cold:.2f}"]
    if request.case is not None:
        cells.append(f"{hot * request.mass_per_metre / 1e3:.2f}")
        cells += [f"{request.born(piece.start) / MINUTE:.1f}", f"{request.cut_at(piece.end) / MINUTE:.1f}"]
    return (*cells, piece.kind + (" (cut)" if piece.made else ""), piece.reason)


def _metre_rows(plan: CutPlan) -> list[tuple[str, ...]]:
    assert plan.plain is not None
    aim = f"{plan.cut.aim:g} m throughout"
    weigh = not math.isnan(plan.mass_per_metre)
    head = ["", "m", *(["t"] if weigh else []), "%", f"{aim}, m"]
    rows = [tuple(head)]
    for name, metres in plan.metres.items():
        own = [name, f"{metres:.2f}"]
        own += [f"{metres * plan.mass_per_metre / 1e3:.2f}"] if weigh else []
        rows.append((*own, f"{100 * metres / plan.length:.1f}", f"{plan.plain.metres[name]:.2f}"))
    return rows


def cut_csv(request: CutRequest, plan: CutPlan) -> str:
    """Write a line a piece.

    Parameters
    ----------
    request, plan
        As for `cut_text`.

    Returns
    -------
    str
        CSV with the units in the header.
    """
    text = io.StringIO()
    rows = csv.writer(text, lineterminator="\n")
    rows.writerow(
        [
            "piece",
            "from_m",
            "to_m",
            "hot_m",
            "cold_m",
            "mass_t",
            "born_min",
            "cut_min",
            "kind",
            "made",
            "worth_m",
            "reason",
        ]
    )
    for number, piece in _numbered(plan.pieces):
        hot = piece.end - piece.start
        clock = ["", ""]
        if request.case is not None:
            clock = [f"{request.born(piece.start) / MINUTE:.3f}", f"{request.cut_at(piece.end) / MINUTE:.3f}"]
        mass = "" if request.case is None else f"{hot * request.mass_per_metre / 1e3:.4f}"
        reason = "'" + piece.reason if piece.reason[:1] in ("=", "+", "-", "@") else piece.reason
        rows.writerow(
            [
                number,
                f"{piece.start:.4f}",
                f"{piece.end:.4f}",
                f"{hot:.4f}",
                f"{piece.cold:.4f}",
                mass,
                *clock,
                piece.kind,
                "yes" if piece.made else "no",
                f"{piece.worth:.4f}",
                reason,
            ]
        )
    return text.getvalue()
