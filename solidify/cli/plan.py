"""Verbs of planning: a heat from ladle to pieces, and the cuts of a strand."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from solidify.cli.options import PATH, example, usable_folder
from solidify.cli.terminal import BREACHED, announced_compiling, deliver

if TYPE_CHECKING:
    from solidify.plan.verdicts import StrandVerdict

__all__ = ["cut", "plan"]

_PLANNED = ("minutes.csv", "plan.html", "sequence.png", "ladle.png", "bores.png")


@click.command(
    epilog=example("solidify plan heat-plan.toml -o tonight", "solidify plan heat-plan.toml --no-files")
)
@click.argument("plan_file", metavar="PLAN.toml", type=PATH)
@click.option("-o", "--output", metavar="FOLDER", type=PATH, help="Folder for the files [default: here].")
@click.option("--no-files", is_flag=True, help="Print only.")
@click.option("--no-strands", is_flag=True, help="Do not solve the strands at their planned speeds.")
@click.option(
    "--fail-on",
    type=click.Choice(["not-met"]),
    help="Exit with 3 if a condition of the plan or a hard limit is not met.",
)
def plan(plan_file: Path, output: Path | None, no_files: bool, no_strands: bool, fail_on: str | None) -> int:
    """Plan a heat from the ladle to the pieces.

    One ladle, one or two tundishes, strands of several sizes. Finds speeds and bores, the ladle temperatures that keep
    the superheat, tundish weight and temperature minute by minute, what a late ladle asks for, how many heats the
    tundish lasts, pieces and yield; solves and judges every strand at its planned speed. Writes PLAN-minutes.csv,
    PLAN-plan.html and three pictures.
    """
    from solidify.files import check_writable
    from solidify.plan.plan_file import read_plan

    given = read_plan(plan_file)
    paths: list[Path] = []
    if not no_files:
        folder = usable_folder(output)
        folder.mkdir(exist_ok=True)
        paths = [folder / f"{plan_file.stem}-{end}" for end in _PLANNED]
        for path in paths:
            check_writable(path)

    from solidify.plan.effects import plan_effects
    from solidify.plan.heat_plan import heat_plan
    from solidify.plan.verdicts import judge_strands, plan_checks
    from solidify.report.plan import plan_csv, plan_page, plan_text

    found = heat_plan(given)
    judged: tuple[StrandVerdict, ...] = ()
    if not no_strands:
        with announced_compiling():
            judged = judge_strands(found)
    effects = plan_effects(found)
    contents: dict[Path, bytes | str] = {}
    if paths:
        from solidify.plots.pictures import picture_bytes
        from solidify.plots.plan import draw_bores, draw_budget, draw_sequence

        contents = {paths[0]: plan_csv(found), paths[1]: plan_page(found, judged, effects)}
        figures = (draw_sequence(found), draw_budget(found), draw_bores(found))
        for path, figure in zip(paths[2:], figures, strict=True):
            if figure is not None:
                contents[path] = picture_bytes(figure, "png")
    deliver(contents, plan_text(found, judged, effects), apart=True)
    bad = any(c.verdict == "not met" and not c.advisory for c in plan_checks(found)) or any(
        v.hard for v in judged
    )
    return BREACHED if bad and fail_on else 0


_CUT = ("pieces.csv", "cuts.png")


@click.command(epilog=example("solidify cut cut-plan.toml -o tonight"))
@click.argument("cut_file", metavar="CUT.toml", type=PATH)
@click.option("-o", "--output", metavar="FOLDER", type=PATH, help="Folder for the files [default: here].")
@click.option("--no-files", is_flag=True, help="Print only.")
def cut(cut_file: Path, output: Path | None, no_files: bool) -> None:
    """Divide a strand into the pieces that lose least.

    The file gives the cast metres, the stretches that are suspect, mixed or about a join, and the lengths wanted. The
    plan is exact: most worth, then fewest cuts, then lengths nearest to the aim. Prints it beside the plain plan and
    writes CUT-pieces.csv and CUT-cuts.png.
    """
    from solidify.files import check_writable
    from solidify.plan.cut_file import plan_cuts, read_cut_file

    request = read_cut_file(cut_file)
    paths: list[Path] = []
    if not no_files:
        folder = usable_folder(output)
        folder.mkdir(exist_ok=True)
        paths = [folder / f"{cut_file.stem}-{end}" for end in _CUT]
        for path in paths:
            check_writable(path)

    from solidify.report.cut import cut_csv, cut_sentence, cut_text

    found = plan_cuts(request)
    contents: dict[Path, bytes | str] = {}
    if paths:
        from solidify.plots.cut import draw_cut
        from solidify.plots.pictures import picture_bytes

        figure = draw_cut(found, request.title, cut_sentence(found))
        contents = {paths[0]: cut_csv(request, found), paths[1]: picture_bytes(figure, "png")}
    deliver(contents, cut_text(request, found), apart=True)
