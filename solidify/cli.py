"""The command line: one function a verb, with its imports inside, so that help and a refusal come at once."""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING

import click

from solidify import __version__
from solidify.errors import InputError, Problem, SolidifyError

if TYPE_CHECKING:
    from solidify.study_store import StudyTable

__all__ = ["commands", "main"]

BAD_INPUT, FAILED, BREACHED = 2, 1, 3
"""Exit statuses beside 0."""

ANNOUNCE_AFTER = 1.0
"""A march read from the cache has begun by then [s]."""

CAUTION = "Results are estimates from a simplified slice: no measurement, no detector and no permission."

_PATH = click.Path(path_type=Path)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit status.

    Parameters
    ----------
    arguments : sequence of str, optional
        What stands after the program's name; by default what the shell gave.

    Returns
    -------
    int
        0 done, 1 failed, 2 bad input, 3 a limit is breached and that was asked to count.
    """
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        status = commands.main(args=arguments, prog_name="solidify", standalone_mode=False)
        _say("", end="")
        return status or 0
    except click.ClickException as error:
        error.show()
        return error.exit_code
    except (click.Abort, KeyboardInterrupt):
        print("solidify: stopped", file=sys.stderr)
        return FAILED
    except SolidifyError as error:
        print(f"solidify: {error}", file=sys.stderr)
        return BAD_INPUT if isinstance(error, InputError) else FAILED
    except OSError as error:
        from solidify.files import path_problem

        if not error.filename:
            _close_output()
        print(f"solidify: {path_problem(error.filename or 'standard output', error)}", file=sys.stderr)
        return BAD_INPUT


def _say(text: str, end: str = "\n") -> None:
    """Print to standard output; a reader that went away, as in ``| head``, is no failure."""
    try:
        print(text, end=end, flush=True)
    except BrokenPipeError:
        _close_output()


def _close_output() -> None:
    """Let nothing be left to write at the exit."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _note(text: str) -> None:
    print(text, file=sys.stderr, flush=True)


@contextmanager
def _announced_compiling() -> Iterator[None]:
    """Say on standard error that the march is being compiled, if it is."""
    from solidify import kernels

    def announce() -> None:
        if not kernels.march_batch.signatures:
            _note(
                "preparing the march: compiling for this machine, if it is the first run (some ten seconds) ..."
            )

    timer = threading.Timer(ANNOUNCE_AFTER, announce)
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()


@click.group(
    context_settings={"help_option_names": ["-h", "--help"]},
    epilog=f"Start with: solidify run   (a case shipped with the program).  {CAUTION}",
)
@click.version_option(__version__, prog_name="solidify")
def commands() -> None:
    """Solidification of a continuously cast strand of steel.

    A case file in; shell, surface temperature, end of solidification and the limits of the trade out.
    """


def _example(*lines: str) -> str:
    return "\b\nExample:\n" + "\n".join(f"  {line}" for line in lines)


@commands.command(epilog=_example("solidify run bloom.toml -o tuesday.h5", "solidify run"))
@click.argument("case_file", metavar="[CASE.toml]", required=False, type=_PATH)
@click.option(
    "-o", "--output", metavar="RESULT.h5", type=_PATH, help="Result file [default: case's name, here]."
)
@click.option("--no-pictures", is_flag=True, help="Write the result file only.")
@click.option("--accuracy", is_flag=True, help="Estimate the numerical error by a second, finer march.")
@click.option("--fail-on", type=click.Choice(["breached"]), help="Exit with 3 if a limit is breached.")
def run(
    case_file: Path | None, output: Path | None, no_pictures: bool, accuracy: bool, fail_on: str | None
) -> int:
    """Solve a case, judge it, write the result and pictures.

    Prints a summary to act on. Without a case file it runs a case of an invented plant that is shipped
    with the program.
    """
    from solidify.case import demo_case, read_case

    name = case_file.stem if case_file else "bloom"
    case = read_case(case_file) if case_file else demo_case("bloom")
    output = _result_path(output or Path(f"{name}.h5"))

    from solidify.findings import judge
    from solidify.marching import solve
    from solidify.report import summary_text
    from solidify.store import save
    from solidify.studies.margins import margins

    if not case_file:
        _note("no case file given: this is the case shipped with the program, an invented plant")
    with _announced_compiling():
        result = solve(case)
    errors = ""
    if accuracy:
        from solidify.accuracy_sheet import accuracy_text
        from solidify.studies.accuracy import numerical_errors

        errors = accuracy_text(numerical_errors(case, result))
    try:
        bands = margins(case, result)
    except SolidifyError as error:
        _note(f"no error bands: a strand with the input errors of the plant cannot be marched: {error}")
        bands = {}
    judgement = judge(result, bands)
    save(result, output, judgement)
    written = [output]
    if not no_pictures:
        from solidify.plots import save_pictures

        written += save_pictures(result, judgement, output.parent, output.stem)
    _say(summary_text(result, judgement))
    if errors:
        _say(f"\n{errors}")
    _say("written: " + ", ".join(str(path) for path in written))
    breached = any(f.verdict == "breached" for f in judgement.findings)
    return BREACHED if breached and fail_on == "breached" else 0


@commands.command(epilog=_example("solidify check bloom.toml"))
@click.argument("case_file", metavar="CASE.toml", type=_PATH)
def check(case_file: Path) -> None:
    """Read a case and compute nothing.

    Lists every problem of the file at once, or shows what would be used, zone by zone.
    """
    from solidify.case import read_case

    case = read_case(case_file)
    from solidify.case_sheet import check_text

    _say(check_text(case))


@commands.command(
    epilog=_example(
        "solidify plot tuesday.h5 -o pictures",
        "solidify plot study.h5 --across casting.speed_m_per_min --up casting.superheat_K",
    )
)
@click.argument("file", metavar="FILE.h5", type=_PATH)
@click.option("-o", "--output", metavar="FOLDER", type=_PATH, help="Folder for the pictures [default: here].")
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
def plot(
    file: Path, output: Path | None, of: str | None, across: str | None, up: str | None, cuts: tuple[str, ...]
) -> None:
    """Draw the pictures of a result, or of a study.

    Of a result: the strand, its shell, temperatures and heat. Of a study that was swept: the operating window
    over two of its inputs, the spread of the limit that presses most, what each input does, and Sobol indices
    where it was sampled for them.
    """
    from solidify.files import check_writable
    from solidify.study_store import is_study

    study = is_study(file)
    given = [
        name for name, value in (("--of", of), ("--across", across), ("--up", up), ("--at", cuts)) if value
    ]
    if given and not study:
        raise InputError(
            [Problem(name, f"{file} is no study", "a file made by solidify sweep") for name in given]
        )
    at = _pairs(cuts)
    folder = output or Path()
    if not folder.is_dir():
        check_writable(folder)
    if study:
        from solidify.plots.answers import draw_answers, save_figures
        from solidify.study_store import load_study

        figures = draw_answers(load_study(file), of, across, up, at)
        folder.mkdir(exist_ok=True)
        written = save_figures(figures, folder, file.stem)
    else:
        from solidify.plots import save_pictures
        from solidify.store import load, load_judgement

        result, judgement = load(file), load_judgement(file)
        folder.mkdir(exist_ok=True)
        written = save_pictures(result, judgement, folder, file.stem)
    _say("written: " + ", ".join(str(path) for path in written))


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


@commands.command(
    epilog=_example(
        "solidify report tuesday.h5 -o tuesday.html",
        "solidify report study.h5",
        "solidify report study.h5 -o runs.csv",
    )
)
@click.argument("file", metavar="FILE.h5", type=_PATH)
@click.option(
    "-o",
    "--output",
    metavar="PAGE.html",
    type=_PATH,
    help="Page [default: result's name, here]. Of a study: PAGE.html, or RUNS.csv for a line a run.",
)
def report(file: Path, output: Path | None) -> None:
    """Write the report of a result, or sum up a study.

    The report is one page to hand on. It needs nothing else: pictures, tables, case and sources are in the one
    file. It prints on A4 and reads on a phone. Of a study that was swept it prints what varied, failures,
    figures, how often each limit is breached and what moves what; it writes that as a page where asked, or the
    runs as CSV and beside them what each input does.
    """
    from solidify.files import check_writable, write_whole
    from solidify.study_store import is_study

    if is_study(file):
        _study_report(file, output)
        return
    from solidify.page import report_page
    from solidify.store import load, load_judgement

    output = output or Path(f"{file.stem}.html")
    if output.suffix.lower() not in {".html", ".htm"}:
        raise InputError(Problem(f"-o {output}", "no name for a page", "a name like report.html"))
    check_writable(output)
    result, judgement = load(file), load_judgement(file)
    write_whole(output, report_page(result, judgement))
    _say(f"written: {output}")


def _study_page(table: StudyTable) -> str:
    from solidify.study_page import study_page

    return study_page(table)


def _study_report(file: Path, output: Path | None) -> None:
    """Print what a study says, and write it where asked."""
    from solidify.files import check_writable, write_whole
    from solidify.study_csv import effects_csv, runs_csv
    from solidify.study_store import load_study
    from solidify.sweep_sheet import study_text

    end = output.suffix.lower() if output is not None else ""
    if output is not None and end not in (".csv", ".html", ".htm"):
        raise InputError(
            Problem(f"-o {output}", "no name for the report of a study", "runs.csv or page.html")
        )
    written = [output] if output is not None else []
    if output is not None and end == ".csv":
        written.append(output.with_name(f"{output.stem}-effects.csv"))
    for path in written:
        check_writable(path)
    table = load_study(file)
    for path, text in zip(
        written, (runs_csv, effects_csv) if end == ".csv" else (_study_page,), strict=False
    ):
        write_whole(path, text(table))
    _say(study_text(table))
    if written:
        _say("\nwritten: " + ", ".join(map(str, written)))


@commands.command(
    epilog=_example(
        'solidify steel --composition "C=0.45 Si=0.25 Mn=0.70"', "solidify steel bloom.toml -o steel.png"
    )
)
@click.argument("case_file", metavar="[CASE.toml]", required=False, type=_PATH)
@click.option("--composition", metavar='"C=0.45 Mn=0.70"', help="Elements in mass %, in place of a case.")
@click.option("-o", "--output", metavar="PICTURE", type=_PATH, help="Draw it too: PNG, SVG or PDF.")
def steel(case_file: Path | None, composition: str | None, output: Path | None) -> None:
    """What a composition gives.

    Prints the temperatures of the steel, a table of its properties and the sources they rest on; draws solid
    fraction, enthalpy, conductivity and shrinkage where asked.
    """
    if (case_file is None) == (composition is None):
        raise click.UsageError('give either CASE.toml or --composition "C=0.45 Mn=0.70"')
    from solidify.case import read_case
    from solidify.steel import steel_from_composition
    from solidify.steel_sheet import steel_text
    from solidify.strand import case_steel

    made = (
        case_steel(read_case(case_file)) if case_file else steel_from_composition(_parsed(composition or ""))
    )
    if output:
        from solidify.files import write_whole
        from solidify.plots import plot_steel
        from solidify.plots.pictures import picture_bytes

        write_whole(output, picture_bytes(plot_steel(made), _form(output)))
    _say(steel_text(made))
    if output:
        _say(f"written: {output}")


def _form(picture: Path) -> str:
    """Read the format of a picture from its name."""
    from solidify.files import check_writable
    from solidify.plots.pictures import FORMATS

    form = check_writable(picture).suffix.lower().removeprefix(".")
    if form not in FORMATS:
        raise InputError(
            Problem(f"-o {picture}", "no format of pictures", ", ".join(f".{f}" for f in FORMATS))
        )
    return form


def _parsed(composition: str) -> dict[str, float]:
    """Read ``C=0.45 Si=0.25``; every entry that cannot be read is named."""
    found: dict[str, float] = {}
    problems = []
    for entry in composition.replace(";", " ").split():
        element, _, number = entry.rstrip(",").partition("=")
        where = f"--composition {entry!r}"
        try:
            if element in found:
                problems.append(Problem(where, "stands twice", do="give each element once"))
            found[element] = float(number)
        except ValueError:
            do = "write decimals with a point" if "," in number else "write no blanks around ="
            problems.append(Problem(where, "cannot be read", "Element=mass %, e.g. Mn=0.70", do=do))
    if not found and not problems:
        problems.append(Problem("--composition", "nothing", "Element=mass %, e.g. C=0.45 Mn=0.70"))
    if problems:
        raise InputError(problems)
    return found


@commands.command(epilog=_example("solidify new mine.toml"))
@click.argument("case_file", metavar="FILE.toml", type=_PATH)
def new(case_file: Path) -> None:
    """Write a commented starter case.

    It describes an invented plant and runs as it is; an existing file is never replaced.
    """
    from solidify.case import starter_case
    from solidify.files import write_whole

    if os.path.lexists(case_file):
        raise InputError(Problem(str(case_file), "exists already", do="choose another name or move it away"))
    write_whole(case_file, starter_case())
    _say(f"written: {case_file}; edit it, then: solidify check {case_file}")


@commands.command(
    epilog=_example(
        "solidify sweep study.toml -o study.h5", "solidify sweep study.toml --scheduler tcp://host:8786"
    )
)
@click.argument("study_file", metavar="STUDY.toml", type=_PATH)
@click.option(
    "-o", "--output", metavar="STUDY.h5", type=_PATH, help="Study file [default: study's name, here]."
)
@click.option(
    "--workers", metavar="N", type=click.IntRange(1, 1024), help="Processes that march [default: one a core]."
)
@click.option("--scheduler", metavar="ADDRESS", help="March on the Dask cluster of this scheduler instead.")
def sweep(study_file: Path, output: Path | None, workers: int | None, scheduler: str | None) -> None:
    """March many strands made from one case.

    Every combination of the inputs that vary, a sample of them, or a table. Whatever is finished is on the
    disk: after a stop of any kind the same command goes on where it ended. A run that fails keeps its row, with
    the reason.
    """
    from solidify.studies.study_file import read_study

    if workers and scheduler:
        raise click.UsageError("give either --workers of this machine or the --scheduler of a cluster")
    study = read_study(study_file)
    output = _result_path(output or Path(f"{study_file.stem}.h5"))

    from solidify.progress import Progress
    from solidify.studies.cluster import cluster
    from solidify.studies.sweep import run_study
    from solidify.studies.workers import cores
    from solidify.sweep_sheet import sweep_text

    with cluster(scheduler) if scheduler else nullcontext() as executor:
        if executor:
            _note(f"marching on {executor}")
        with _announced_compiling(), Progress(study.runs) as progress:
            done = run_study(study, output, workers=workers or cores(), executor=executor, progress=progress)
    if done.found:
        _note(f"{done.found} of {done.runs} runs were finished before")
    _say(sweep_text(output))
    _say(f"written: {output}")


@commands.command(epilog=_example("solidify ceiling rows.toml --between 0.4 1.4 -o speeds.html"))
@click.argument("study_file", metavar="ROWS.toml", type=_PATH)
@click.option(
    "-o",
    "--output",
    "outputs",
    metavar="TABLE",
    type=_PATH,
    multiple=True,
    help="CSV or HTML; again for both [default: both, study's name, here].",
)
@click.option(
    "--between",
    metavar="FROM TO",
    type=float,
    nargs=2,
    help="Speeds to look at, m/min [default: half to twice the case's].",
)
@click.option("--step", type=float, default=0.05, show_default=True, help="Of the first look, m/min.")
@click.option("--no-bands", is_flag=True, help="Leave the input errors of the plant out: nine times as fast.")
@click.option(
    "--workers", metavar="N", type=click.IntRange(1, 1024), help="Processes that march [default: one a core]."
)
def ceiling(
    study_file: Path,
    outputs: tuple[Path, ...],
    between: tuple[float, float] | None,
    step: float,
    no_bands: bool,
    workers: int | None,
) -> None:
    """How fast, and how slow, each section may be cast.

    For each row of a study, e.g. section, grade and superheat, every interval of casting speed in which no hard
    limit is breached, the limit that binds at either end, and the part of it that holds with the input errors of
    the plant too; as a table, and as a page to hand to the shift.
    """
    from solidify.files import check_writable, write_whole
    from solidify.studies.study_file import read_study

    study = read_study(study_file)
    outputs = outputs or tuple(Path(f"{study_file.stem}-speeds.{end}") for end in ("csv", "html"))
    allowed = "a name like speeds.csv or speeds.html"
    problems = [
        Problem(f"-o {path}", "no name for a table", allowed)
        for path in outputs
        if path.suffix.lower() not in (".csv", ".html", ".htm")
    ]
    if problems:
        raise InputError(problems)
    for path in outputs:
        check_writable(path)

    from solidify.ceiling_sheet import ceiling_csv, ceiling_page, ceiling_text
    from solidify.progress import Progress
    from solidify.studies.ceiling import inner_speeds, scan_speeds, speed_ceilings, with_bands
    from solidify.studies.workers import cores

    speed = study.case.casting.speed_m_per_min
    low, high = between or (max(0.5 * speed, 0.05), min(2 * speed, 12.0))
    speeds = scan_speeds(study, low, high, step)
    workers = workers or cores()
    with _announced_compiling(), Progress(study.runs * len(speeds)) as progress:
        found = speed_ceilings(study, low, high, step=step, workers=workers, progress=progress)
    if not no_bands:
        inner = len(inner_speeds(found, speeds))
        _note(f"now with the input errors of the plant: {inner} speeds, nine strands each")
        with Progress(inner) as progress:
            found = with_bands(study, found, speeds, workers=workers, progress=progress)
    for path in outputs:
        table = path.suffix.lower() == ".csv"
        write_whole(path, ceiling_csv(found) if table else ceiling_page(found, study.case, speeds))
    _say(ceiling_text(found, study.case))
    _say(f"\nwritten: {', '.join(map(str, outputs))}")


_TUNED = ("water.csv", "tuned.toml", "tuned.png", "tuned.html")


@commands.command(epilog=_example("solidify tune billet.toml billet-target.toml -o table"))
@click.argument("case_file", metavar="CASE.toml", type=_PATH)
@click.argument("target_file", metavar="TARGET.toml", type=_PATH)
@click.option("-o", "--output", metavar="FOLDER", type=_PATH, help="Folder for the files [default: here].")
@click.option("--no-pictures", is_flag=True, help="Write the table and the case only.")
def tune(case_file: Path, target_file: Path, output: Path | None, no_pictures: bool) -> None:
    """Change your spray table; the model stays.

    Finds the water of each zone over the casting speed that meets wanted surface temperatures or the limits
    with least water, marches every row and the speeds between again, and says what holds each row and why a
    water changed. Writes CASE-water.csv, CASE-tuned.toml, CASE-tuned.png and CASE-tuned.html, one page to hand on.
    """
    from solidify.case import read_case
    from solidify.files import check_writable, write_whole
    from solidify.studies.target import read_target

    case = read_case(case_file)
    target = read_target(target_file, case)
    folder = output or Path()
    if not folder.is_dir():
        check_writable(folder).mkdir()
    paths = [folder / f"{case_file.stem}-{end}" for end in _TUNED]
    paths = paths[:2] if no_pictures else paths
    for path in paths:
        check_writable(path)

    from solidify.studies.tune import tune as tuned
    from solidify.tune_sheet import case_text, tune_csv, tune_text

    with _announced_compiling():
        tuning = tuned(case, target)
    contents: list[bytes | str] = [tune_csv(tuning), case_text(tuning, folder)]
    if not no_pictures:
        from solidify.plots.pictures import picture_bytes
        from solidify.plots.tuning import draw_tuning
        from solidify.tune_page import tuning_page

        contents += [picture_bytes(draw_tuning(tuning), "png"), tuning_page(tuning, folder)]
    for path, content in zip(paths, contents, strict=True):
        write_whole(path, content)
    _say(tune_text(tuning))
    _say("written: " + ", ".join(map(str, paths)))


@commands.command(
    epilog=_example(
        "solidify compare before.h5 after.h5", "solidify compare tuesday.h5 --measured points.csv"
    )
)
@click.argument("result_files", metavar="A.h5 [B.h5 ...]", nargs=-1, required=True, type=_PATH)
@click.option("--measured", metavar="POINTS.csv", type=_PATH, help="Measured shells and surfaces.")
@click.option(
    "-o", "--output", metavar="PICTURE", type=_PATH, help="PNG, SVG or PDF [default: names joined, here]."
)
@click.option("--no-pictures", is_flag=True, help="Print only.")
def compare(
    result_files: tuple[Path, ...], measured: Path | None, output: Path | None, no_pictures: bool
) -> None:
    """Lay results side by side, and against measured points.

    Prints which inputs differ, what that did to figures and findings, and how each result stands to the
    handbook; draws shells and surfaces over one ruler. A result alone is laid beside the handbook in full: K,
    fitted laws, what they leave. POINTS.csv has the columns distance_m, quantity (surface_C or shell_mm),
    value, and if known sd, method, solid_fraction, side.
    """
    from solidify.compare_sheet import compare_text
    from solidify.files import write_whole
    from solidify.measured import read_points
    from solidify.plots import plot_handbook
    from solidify.plots.overlay import MOST, draw_overlay
    from solidify.plots.pictures import picture_bytes
    from solidify.store import load, load_judgement

    drawn = not no_pictures
    if drawn and len(result_files) > MOST:
        do = f"compare fewer than {MOST + 1}, or give --no-pictures"
        raise InputError(
            Problem("compare", f"{len(result_files)} results in one picture", f"up to {MOST}", do=do)
        )
    names = _distinct(result_files)
    output = output or Path("-and-".join(names) + ("-measured" if measured else "") + "-compared.png")
    form = _form(output) if drawn else ""
    points = read_points(measured) if measured else ()
    results = [load(path) for path in result_files]
    judgements = [load_judgement(path) for path in result_files]
    _say(compare_text(results, judgements, names, points))
    if drawn:
        alone = len(results) == 1 and not points
        figure = plot_handbook(results[0], judgements[0]) if alone else draw_overlay(results, names, points)
        write_whole(output, picture_bytes(figure, form))
        _say(f"written: {output}")


@commands.command(
    epilog=_example("solidify trace tuesday.h5", "solidify trace tuesday.h5 --depth-mm 22 --depth-mm 30")
)
@click.argument("result_file", metavar="RESULT.h5", type=_PATH)
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
def trace(
    result_file: Path, depths: tuple[float, ...], side: str | None, between: tuple[float, float] | None
) -> None:
    """Where and when a depth of the piece froze.

    For a crack or a band on a print: the zone, the time, and what the surface did meanwhile. Without a depth
    it prints the table of depth, distance, time and zone.
    """
    from solidify.backtrace import FREEZING
    from solidify.store import load
    from solidify.trace_sheet import front_text, trace_text
    from solidify.units import MM

    result = load(result_file)
    if depths:
        _say(trace_text(result, [d * MM for d in depths], between=between or FREEZING, side=side))
    else:
        _say(front_text(result, side=side))


def _distinct(paths: Sequence[Path]) -> list[str]:
    """Short names of files: their stems, or their paths where stems are alike."""
    stems = [path.stem for path in paths]
    names = [p.stem if stems.count(p.stem) == 1 else str(p.with_suffix("")) for p in paths]
    return [n if names.count(n) == 1 else f"{n} ({i})" for i, n in enumerate(names, 1)]


def _result_path(path: Path) -> Path:
    """Refuse, before the march, a place where the result could not be written."""
    from solidify.files import check_writable

    if path.suffix.lower() in {".toml", ".csv", ".py"}:
        raise InputError(Problem(f"-o {path}", "no place for a result", "a name like result.h5"))
    check_writable(path)
    return path
