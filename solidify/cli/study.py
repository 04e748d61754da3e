"""Verbs of many strands: sweep a study, find the speeds that hold, tune a spray table."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from solidify.cli.options import (
    PAGES,
    PATH,
    at_once,
    check_outputs,
    example,
    one_place,
    result_path,
    scheduler_option,
    usable_folder,
    workers_option,
)
from solidify.cli.replacing import check_replaceable, force_option
from solidify.cli.terminal import announced_compiling, deliver, note, say, say_written

if TYPE_CHECKING:
    from solidify.study.cluster import Cluster
    from solidify.study.study import Study

__all__ = ["ceiling", "sweep", "tune"]


@click.command(
    epilog=example(
        "solidify sweep study.toml -o study.h5", "solidify sweep study.toml --scheduler tcp://host:8786"
    )
)
@click.argument("study_file", metavar="STUDY.toml", type=PATH)
@click.option(
    "-o", "--output", metavar="STUDY.h5", type=PATH, help="Study file [default: study's name, here]."
)
@workers_option
@scheduler_option
def sweep(study_file: Path, output: Path | None, workers: int | None, scheduler: str | None) -> None:
    """March many strands made from one case.

    Every combination of the inputs that vary, a sample of them, or a table. Whatever is finished is on the
    disk: after a stop of any kind the same command goes on where it ended. A run that fails keeps its row, with
    the reason.
    """
    from solidify.study.definition import read_study

    one_place(workers, scheduler)
    study = read_study(study_file)
    output = result_path(output or Path(f"{study_file.stem}.h5"))

    from solidify.report.study_text import sweep_text
    from solidify.study.progress import Progress
    from solidify.study.run import run_study
    from solidify.study.workers import cores

    with _cluster_of(scheduler) as executor, announced_compiling(), Progress(study.runs) as progress:
        done = run_study(study, output, workers=workers or cores(), executor=executor, progress=progress)
    if done.found:
        note(f"{done.found} of {done.runs} runs were finished before")
    say(sweep_text(output))
    say_written([output])


@click.command(epilog=example("solidify ceiling rows.toml --between 0.4 1.4 -o speeds.html"))
@click.argument("study_file", metavar="ROWS.toml", type=PATH)
@click.option(
    "-o",
    "--output",
    "outputs",
    metavar="TABLE",
    type=PATH,
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
@click.option("--no-bands", is_flag=True, help="Leave the error bands out: some twenty times as fast.")
@workers_option
@scheduler_option
@force_option
def ceiling(
    study_file: Path,
    outputs: tuple[Path, ...],
    between: tuple[float, float] | None,
    step: float,
    no_bands: bool,
    workers: int | None,
    scheduler: str | None,
    force: bool,
) -> None:
    """How fast, and how slow, each section may be cast.

    For each row of a study, e.g. section, grade and superheat, every interval of casting speed in which no hard
    limit is breached, the limit that binds at either end, and the part of it that holds with the input errors of
    the plant too; as a table, and as a page to hand to the shift.
    """
    from solidify.study.definition import read_study

    def scan() -> tuple[Study, float, float, list[float]]:
        study = read_study(study_file)
        speed = study.case.casting.speed_m_per_min
        low, high = between or (max(0.5 * speed, 0.05), min(2 * speed, 12.0))
        return study, low, high, scan_speeds(study, low, high, step)

    one_place(workers, scheduler)
    outputs = outputs or tuple(Path(f"{study_file.stem}-speeds.{end}") for end in ("csv", "html"))

    from solidify.files import reserved
    from solidify.report.speeds import ceiling_csv, ceiling_page, ceiling_text
    from solidify.study.progress import Progress
    from solidify.study.speed_range import inner_speeds, scan_speeds, speed_ceilings, with_bands
    from solidify.study.workers import cores

    names = "a name like speeds.csv or speeds.html"
    (study, low, high, speeds), _, _ = at_once(
        scan,
        lambda: check_outputs(outputs, (".csv", *PAGES), "a table", names),
        lambda: check_replaceable(outputs, force),
    )
    with reserved(*outputs), _cluster_of(scheduler) as executor:
        there: dict[str, Any] = {"workers": workers or cores(), "executor": executor}
        with announced_compiling(), Progress(study.runs * len(speeds)) as progress:
            found = speed_ceilings(study, low, high, step=step, progress=progress, **there)
        if not no_bands:
            inner = len(inner_speeds(found, speeds))
            note(f"now with the input errors of the plant: {inner} speeds, some twenty strands each")
            with Progress(inner) as progress:
                found = with_bands(study, found, speeds, progress=progress, **there)
        contents: dict[Path, bytes | str] = {}
        for path in outputs:
            table = path.suffix.lower() == ".csv"
            contents[path] = ceiling_csv(found) if table else ceiling_page(found, study.case, speeds)
        deliver(contents, ceiling_text(found, study.case), apart=True)


@contextmanager
def _cluster_of(scheduler: str | None) -> Iterator[Cluster | None]:
    """Give the workers of a cluster, and say so, where its scheduler is named."""
    if scheduler is None:
        yield None
        return
    from solidify.study.cluster import cluster

    with cluster(scheduler) as executor:
        note(f"marching on {executor}")
        yield executor


_TUNED = ("water.csv", "tuned.toml", "tuned.png", "tuned.html")


@click.command(epilog=example("solidify tune billet.toml billet-target.toml -o table"))
@click.argument("case_file", metavar="CASE.toml", type=PATH)
@click.argument("target_file", metavar="TARGET.toml", type=PATH)
@click.option("-o", "--output", metavar="FOLDER", type=PATH, help="Folder for the files [default: here].")
@click.option("--no-pictures", is_flag=True, help="Write the table and the case only.")
@force_option
def tune(case_file: Path, target_file: Path, output: Path | None, no_pictures: bool, force: bool) -> None:
    """Change your spray table; the model stays.

    Finds the water of each zone over the casting speed that meets wanted surface temperatures or the limits
    with least water, marches every row and the speeds between again, and says what holds each row and why a
    water changed. Writes CASE-water.csv, CASE-tuned.toml, CASE-tuned.png and CASE-tuned.html, one page to hand on.
    """
    from solidify.case import read_case
    from solidify.files import check_writable, reserved
    from solidify.tuning.target_file import read_target

    case = read_case(case_file)
    target = read_target(target_file, case)
    folder = usable_folder(output)
    folder.mkdir(exist_ok=True)
    paths = [folder / f"{case_file.stem}-{end}" for end in _TUNED]
    paths = paths[:2] if no_pictures else paths
    for path in paths:
        check_writable(path)
    check_replaceable(paths, force, case.title)

    from solidify.report.tuning_text import case_text, tune_csv, tune_text
    from solidify.tuning.tune import tune as tuned

    with reserved(*paths):
        with announced_compiling():
            tuning = tuned(case, target)
        contents: list[bytes | str] = [tune_csv(tuning), case_text(tuning, folder)]
        if not no_pictures:
            from solidify.plots.pictures import picture_bytes
            from solidify.plots.tuning import draw_tuning
            from solidify.report.tuning_page import tuning_page

            contents += [picture_bytes(draw_tuning(tuning), "png"), tuning_page(tuning, folder)]
        deliver(dict(zip(paths, contents, strict=True)), tune_text(tuning))
