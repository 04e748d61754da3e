"""Verbs of one strand: solve a case, check it, look at its steel, write one to start from."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import click

from solidify.cli.options import PATH, example, picture_form, result_path, set_keys, settings_option
from solidify.cli.replacing import check_replaceable, force_option
from solidify.cli.terminal import BREACHED, announced_compiling, deliver, note, say
from solidify.errors import InputError, Problem, SolidifyError

if TYPE_CHECKING:
    from solidify.case import Case

__all__ = ["check", "new", "run", "steel"]


@click.command(epilog=example("solidify run bloom.toml -o tuesday.h5", "solidify run"))
@click.argument("case_file", metavar="[CASE.toml]", required=False, type=PATH)
@click.option(
    "-o", "--output", metavar="RESULT.h5", type=PATH, help="Result file [default: case's name, here]."
)
@click.option("--no-pictures", is_flag=True, help="Write the result file only.")
@settings_option
@click.option("--full", is_flag=True, help="Print the whole summary after the card and the checks.")
@click.option("--accuracy", is_flag=True, help="Estimate the numerical error by a second, finer march.")
@click.option("--fail-on", type=click.Choice(["breached"]), help="Exit with 3 if a limit is breached.")
@force_option
def run(
    case_file: Path | None,
    output: Path | None,
    no_pictures: bool,
    settings: tuple[str, ...],
    full: bool,
    accuracy: bool,
    fail_on: str | None,
    force: bool,
) -> int:
    """Solve a case, judge it, write the result and pictures.

    Prints a summary to act on. Without a case file it runs a case of an invented plant that is shipped
    with the program.
    """
    from solidify.case import demo_case, read_case
    from solidify.files import reserved
    from solidify.storage.result_file import result_place

    name = case_file.stem if case_file else "bloom"
    case = set_keys(read_case(case_file) if case_file else demo_case("bloom"), settings)
    output = result_path(output or Path(f"{name}.h5"))
    result_place(output, None if force else case)
    endings = () if no_pictures else ("", "-shell", "-temperature", "-heat")
    check_replaceable([output.with_name(f"{output.stem}{end}.png") for end in endings], force)

    if not case_file:
        note("no case file given: this is the case shipped with the program, an invented plant")
    with reserved(output):
        return _run(case, output, not no_pictures, full, accuracy, fail_on)


def _run(case: Case, output: Path, drawn: bool, full: bool, accuracy: bool, fail_on: str | None) -> int:
    """Solve, judge, write and print."""
    from solidify.assessment.error_bands import error_bands
    from solidify.assessment.judge import judge
    from solidify.report.card import card_text
    from solidify.report.strand_text import checks_text, summary_text
    from solidify.storage.result_file import result_bytes
    from solidify.strand.solve import solve

    with announced_compiling():
        result = solve(case)
    errors = ""
    if accuracy:
        from solidify.analysis.accuracy import numerical_errors
        from solidify.report.accuracy import accuracy_text

        errors = accuracy_text(numerical_errors(case, result))
    try:
        bands = error_bands(case, result)
    except SolidifyError as error:
        note(f"no error bands: a strand with the input errors of the plant cannot be marched: {error}")
        bands = {}
    judgement = judge(result, bands)
    contents: dict[Path, bytes | str] = {output: result_bytes(result, judgement)}
    if drawn:
        from solidify.plots.pictures import picture_set

        contents |= picture_set(result, judgement, output.parent, output.stem)
    rest = summary_text(result, judgement) if full else checks_text(judgement)
    text = f"{card_text(result, judgement)}\n\n{rest}"
    deliver(contents, f"{text}\n\n{errors}" if errors else text)
    breached = any(f.verdict == "breached" for f in judgement.findings)
    return BREACHED if breached and fail_on == "breached" else 0


@click.command(epilog=example("solidify check bloom.toml"))
@click.argument("case_file", metavar="CASE.toml", type=PATH)
@settings_option
def check(case_file: Path, settings: tuple[str, ...]) -> None:
    """Read a case and compute nothing.

    Lists every problem of the file at once, or shows what would be used, zone by zone.
    """
    from solidify.case import read_case

    case = set_keys(read_case(case_file), settings)
    from solidify.report.case import check_text

    say(check_text(case))


@click.command(
    epilog=example(
        'solidify steel --composition "C=0.45 Si=0.25 Mn=0.70"', "solidify steel bloom.toml -o steel.png"
    )
)
@click.argument("case_file", metavar="[CASE.toml]", required=False, type=PATH)
@click.option("--composition", metavar='"C=0.45 Mn=0.70"', help="Elements in mass %, in place of a case.")
@click.option("-o", "--output", metavar="PICTURE", type=PATH, help="Draw it too: PNG, SVG or PDF.")
@force_option
def steel(case_file: Path | None, composition: str | None, output: Path | None, force: bool) -> None:
    """What a composition gives.

    Prints the temperatures of the steel, a table of its properties and the sources they rest on; draws solid
    fraction, enthalpy, conductivity and shrinkage where asked.
    """
    if (case_file is None) == (composition is None):
        raise click.UsageError('give either CASE.toml or --composition "C=0.45 Mn=0.70"')
    from solidify.case import read_case
    from solidify.report.steel import steel_text
    from solidify.steel import steel_from_composition
    from solidify.strand.setup import case_steel

    made = (
        case_steel(read_case(case_file))
        if case_file
        else steel_from_composition(_composition(composition or ""))
    )
    contents: dict[Path, bytes | str] = {}
    if output:
        from solidify.plots import plot_steel
        from solidify.plots.pictures import picture_bytes

        form = picture_form(output)
        check_replaceable([output], force)
        contents[output] = picture_bytes(plot_steel(made), form)
    deliver(contents, steel_text(made))


def _composition(text: str) -> dict[str, float]:
    """Read ``C=0.45 Si=0.25``; every entry that cannot be read is named."""
    found: dict[str, float] = {}
    problems = []
    for entry in text.replace(";", " ").split():
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


@click.command(epilog=example("solidify new mine.toml"))
@click.argument("case_file", metavar="FILE.toml", type=PATH)
def new(case_file: Path) -> None:
    """Write a commented starter case.

    It describes an invented plant and runs as it is; an existing file is never replaced.
    """
    from solidify.case import starter_case
    from solidify.files import write_whole

    if os.path.lexists(case_file):
        raise InputError(Problem(str(case_file), "exists already", do="choose another name or move it away"))
    write_whole(case_file, starter_case())
    say(f"written: {case_file}; edit it, then: solidify check {case_file}")
