"""Verbs of what was computed: draw it, report it, lay it side by side, trace a depth back."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

import click

from solidify.cli.options import PAGES, PATH, check_outputs, example, picture_form, usable_folder
from solidify.cli.replacing import check_replaceable, force_option
from solidify.cli.terminal import deliver, quiet, say, say_written
from solidify.errors import InputError, Problem

__all__ = ["compare", "plot", "report", "trace"]

_LONGEST = 60
"""Letters of a name that is made of others."""


@click.command(
    epilog=example(
        "solidify plot tuesday.h5 -o pictures",
        "solidify plot study.h5 --across casting.speed_m_per_min --up casting.superheat_K",
    )
)
@click.argument("file", metavar="FILE.h5", type=PATH)
@click.option("-o", "--output", metavar="FOLDER", type=PATH, help="Folder for the pictures [default: here].")
@click.option(
    "--of", metavar="NAME", help="Of a study: the figure or finding to draw, e.g. metallurgical_length."
)
@click.option("--across", metavar="KEY", help="Of a study: the input across the operating window.")
@click.option("--up", metavar="KEY", help="Of a study: the input up the operating window.")
@click.option(
    "--at",
    "cuts",
    metavar="KEY=VALUE",
    multiple=True,
    help="Of a grid: where a further input is cut; again for each.",
)
@force_option
@quiet
def plot(
    file: Path,
    output: Path | None,
    of: str | None,
    across: str | None,
    up: str | None,
    cuts: tuple[str, ...],
    force: bool,
) -> None:
    """Draw the pictures of a result, or of a study.

    Of a result: the strand, its shell, temperatures and heat. Of a study that was swept: the operating window
    over two of its inputs, the spread of the limit that presses most, what each input does, and Sobol indices
    where it was sampled for them.
    """
    from solidify.storage.study_file import is_study

    study = is_study(file)
    given = [
        name for name, value in (("--of", of), ("--across", across), ("--up", up), ("--at", cuts)) if value
    ]
    if given and not study:
        raise InputError(
            [Problem(name, f"{file} is no study", "a file made by solidify sweep") for name in given]
        )
    at = _pairs(cuts)
    folder = usable_folder(output)
    if study:
        from solidify.plots.answers import draw_answers, save_figures
        from solidify.storage.study_file import load_study

        figures = draw_answers(load_study(file), of, across, up, at)
        check_replaceable([folder / f"{file.stem}-{name}.png" for name in figures], force)
        folder.mkdir(exist_ok=True)
        written = save_figures(figures, folder, file.stem)
    else:
        from solidify.plots import save_pictures
        from solidify.storage.result_file import load, load_judgement

        result, judgement = load(file), load_judgement(file)
        endings = ("", "-shell", "-temperature", "-heat")
        check_replaceable([folder / f"{file.stem}{end}.png" for end in endings], force)
        folder.mkdir(exist_ok=True)
        written = save_pictures(result, judgement, folder, file.stem)
    say_written(written)


def _pairs(given: Sequence[str]) -> dict[str, float | str]:
    """Read ``key=value`` options; all that cannot be read are named."""
    found: dict[str, float | str] = {}
    problems = []
    for entry in given:
        key, sign, value = entry.rpartition("=")
        if not sign or not key:
            problems.append(
                Problem(f"--at {entry}", "cannot be read", "KEY=VALUE, e.g. section.width_mm=300")
            )
            continue
        try:
            found[key] = float(value)
        except ValueError:
            found[key] = value
    if problems:
        raise InputError(problems)
    return found


@click.command(
    epilog=example(
        "solidify report tuesday.h5 -o tuesday.html",
        "solidify report study.h5",
        "solidify report study.h5 -o runs.csv",
    )
)
@click.argument("file", metavar="FILE.h5", type=PATH)
@click.option(
    "-o",
    "--output",
    metavar="PAGE.html",
    type=PATH,
    help="Page [default: result's name, here]. Of a study: PAGE.html, or RUNS.csv for a line a run.",
)
@force_option
@quiet
def report(file: Path, output: Path | None, force: bool) -> None:
    """Write the report of a result, or sum up a study.

    The report is one page to hand on. It needs nothing else: pictures, tables, case and sources are in the one
    file. It prints on A4 and reads on a phone. Of a study that was swept it prints what varied, failures,
    figures, how often each limit is breached and what moves what; it writes that as a page where asked, or the
    runs as CSV and beside them what each input does.
    """
    from solidify.storage.study_file import is_study

    if is_study(file):
        _study_report(file, output, force)
        return
    from solidify.report.strand_page import report_page
    from solidify.storage.result_file import load, load_judgement

    output = output or Path(f"{file.stem}.html")
    check_outputs([output], PAGES, "a page", "a name like report.html")
    result, judgement = load(file), load_judgement(file)
    check_replaceable([output], force, result.case.title)
    deliver({output: report_page(result, judgement)})


def _study_report(file: Path, output: Path | None, force: bool) -> None:
    """Print what a study says, and write it where asked."""
    from solidify.report.csv_export import effects_csv, runs_csv
    from solidify.report.study_text import study_text
    from solidify.storage.study_file import load_study

    files = [] if output is None else [output]
    as_csv = output is not None and output.suffix.lower() == ".csv"
    if output is not None and as_csv:
        files.append(output.with_name(f"{output.stem}-effects.csv"))
    check_outputs(files, (".csv", *PAGES), "the report of a study", "runs.csv or page.html")
    table = load_study(file)
    check_replaceable(files, force, table.title)
    texts = [runs_csv(table), effects_csv(table)] if as_csv else []
    if files and not as_csv:
        from solidify.report.study_page import study_page

        texts = [study_page(table)]
    deliver(dict(zip(files, texts, strict=True)), study_text(table), apart=True)


@click.command(
    epilog=example("solidify compare before.h5 after.h5", "solidify compare tuesday.h5 --measured points.csv")
)
@click.argument("result_files", metavar="A.h5 [B.h5 ...]", nargs=-1, required=True, type=PATH)
@click.option("--measured", metavar="POINTS.csv", type=PATH, help="Measured shells and surfaces.")
@click.option(
    "-o", "--output", metavar="PICTURE", type=PATH, help="PNG, SVG or PDF [default: names joined, here]."
)
@click.option("--no-pictures", is_flag=True, help="Print only.")
@force_option
@quiet
def compare(
    result_files: tuple[Path, ...],
    measured: Path | None,
    output: Path | None,
    no_pictures: bool,
    force: bool,
) -> None:
    """Lay results side by side, and against measured points.

    Prints which inputs differ, what that did to figures and findings, and how each result stands to
    common practice; draws shells and surfaces over one ruler. A result alone is laid beside practice in full:
    K, fitted laws, what they leave. POINTS.csv has the columns distance_m, quantity (surface_C or shell_mm),
    value, and if known sd, method, solid_fraction, side.
    """
    from solidify.analysis.measured import read_points
    from solidify.plots import plot_handbook
    from solidify.plots.overlay import MOST, draw_overlay
    from solidify.plots.pictures import picture_bytes
    from solidify.report.comparison import compare_text
    from solidify.storage.result_file import load, load_judgement

    drawn = not no_pictures
    if drawn and len(result_files) > MOST:
        do = f"compare fewer than {MOST + 1}, or give --no-pictures"
        raise InputError(
            Problem("compare", f"{len(result_files)} results in one picture", f"up to {MOST}", do=do)
        )
    names = _distinct(result_files)
    joined = "-and-".join(names).replace(os.sep, "-")[:_LONGEST]
    output = output or Path(joined + ("-measured" if measured else "") + "-compared.png")
    form = picture_form(output) if drawn else ""
    if drawn:
        check_replaceable([output], force)
    results = [load(path) for path in result_files]
    points = read_points(measured, results[0].case) if measured else ()
    judgements = [load_judgement(path) for path in result_files]
    say(compare_text(results, judgements, names, points))
    if drawn:
        alone = len(results) == 1 and not points
        figure = plot_handbook(results[0], judgements[0]) if alone else draw_overlay(results, names, points)
        deliver({output: picture_bytes(figure, form)})


def _distinct(paths: Sequence[Path]) -> list[str]:
    """Short names of files: their stems, or their paths where stems are alike."""
    stems = [path.stem for path in paths]
    names = [p.stem if stems.count(p.stem) == 1 else str(p.with_suffix("")) for p in paths]
    return [n if names.count(n) == 1 else f"{n} ({i})" for i, n in enumerate(names, 1)]


@click.command(
    epilog=example("solidify trace tuesday.h5", "solidify trace tuesday.h5 --depth-mm 22 --depth-mm 30")
)
@click.argument("result_file", metavar="RESULT.h5", type=PATH)
@click.option(
    "--depth-mm",
    "depths",
    metavar="MM",
    type=float,
    multiple=True,
    help="Depth of a mark below the surface, as cast; may be given again [default: the table].",
)
@click.option("--side", metavar="SIDE", help='"loose" or "fixed", where the two differ [default: loose].')
@click.option(
    "--between",
    metavar="FROM TO",
    type=float,
    nargs=2,
    help="Solid fractions between which the depth was freezing [default: 0.7 1].",
)
@quiet
def trace(
    result_file: Path, depths: tuple[float, ...], side: str | None, between: tuple[float, float] | None
) -> None:
    """Where and when a depth of the piece froze.

    For a crack or a band on a print: the zone, the time, and what the surface did meanwhile. Without a depth
    it prints the table of depth, distance, time and zone.
    """
    from solidify.analysis.backtrace import FREEZING
    from solidify.report.trace import front_text, trace_text
    from solidify.storage.result_file import load
    from solidify.units import MM

    result = load(result_file)
    if depths:
        say(trace_text(result, [d * MM for d in depths], between=between or FREEZING, side=side))
    else:
        say(front_text(result, side=side))
