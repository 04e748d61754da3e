"""Verbs of a cast: run it on one clock, and find how long the strand may stand."""

from __future__ import annotations

from pathlib import Path

import click

from solidify.cli.options import PATH, example, picture_form
from solidify.cli.terminal import announced_compiling, deliver, note, say

__all__ = ["cast", "stand"]


@click.command(
    epilog=example(
        "solidify cast ladle-change.toml -o ladle-change.h5",
        "solidify cast ladle-change.toml --logics speed --logics age",
        "solidify cast ladle-change.toml --rows",
    )
)
@click.argument("cast_file", metavar="CAST.toml", type=PATH)
@click.option("-o", "--output", metavar="CAST.h5", type=PATH, help="Keep it in an HDF5 file.")
@click.option("--picture", metavar="PICTURE", type=PATH, help="Draw it: PNG, SVG or PDF.")
@click.option(
    "--logics", multiple=True, metavar="LOGIC", help="Spray logics side by side; may be given several times."
)
@click.option("--rows", is_flag=True, help="Print the rows that the events make, and compute nothing.")
def cast(
    cast_file: Path, output: Path | None, picture: Path | None, logics: tuple[str, ...], rows: bool
) -> None:
    """Run a cast: slow-downs, stops, ladle changes, start and tail.

    Every metre of the strand is a slice with its own way through the machine. Prints the signals, each limit at its
    worst slice, and the suspect pieces with metres, reason, place, clock and the event behind it.
    """
    from solidify.cast.cast_file import read_cast
    from solidify.cast.definition import LOGICS
    from solidify.errors import InputError, Problem, closest

    wrong = [
        Problem(f"--logics {name}", "is no logic", ", ".join(LOGICS), closest(name, LOGICS))
        for name in logics
        if name not in LOGICS
    ]
    if wrong:
        raise InputError(wrong)
    if logics and (output or picture):
        raise click.UsageError("--logics compares on the screen: give neither -o nor --picture")
    form = picture_form(picture) if picture else ""
    if output:
        from solidify.storage.cast_file import cast_place

        cast_place(output)
    made = read_cast(cast_file)
    from solidify.report.cast import cast_check_text, cast_text, logics_text

    if rows:
        say(cast_check_text(made))
        return
    from dataclasses import replace

    from solidify.cast.run import run_cast

    with announced_compiling():
        if logics:
            results = {
                name: run_cast(replace(made, water=replace(made.water, logic=name))) for name in logics
            }
            say(logics_text(results))
            return
        result = run_cast(made, progress=_progress)
    contents: dict[Path, bytes | str] = {}
    if output:
        from solidify.cast.file import cast_bytes

        contents[output] = cast_bytes(result)
    if picture:
        from solidify.plots.cast import draw_cast
        from solidify.plots.pictures import picture_bytes

        contents[picture] = picture_bytes(draw_cast(result), form)
    deliver(contents, cast_text(result))


def _progress(done: int, total: int) -> None:
    """Say on standard error how far it has come, where there is more than one second of work."""
    if total > 1500:
        note(f"{done} of {total} slices")


@click.command(epilog=example("solidify stand ladle-change.toml"))
@click.argument("cast_file", metavar="CAST.toml", type=PATH)
def stand(cast_file: Path) -> None:
    """Find how long the strand may stand.

    For each water practice of the table [stand]: the longest stand after which every hard limit is met, what limits
    it, and where the slice stood that it is limited by. The events of the cast are left out.
    """
    from solidify.cast.cast_file import read_cast
    from solidify.cast.stand import longest_stand
    from solidify.report.cast import stand_text

    made = read_cast(cast_file)
    with announced_compiling():
        curves, silent = longest_stand(made)
    say(stand_text(made, curves, silent))
