"""The program: its verbs, and what becomes of the errors that it expects."""

from __future__ import annotations

import sys
from collections.abc import Sequence

import click

from solidify import __version__
from solidify.cli.cast import cast, stand
from solidify.cli.results import compare, plot, report, trace
from solidify.cli.strand import check, new, run, steel
from solidify.cli.study import ceiling, sweep, tune
from solidify.cli.terminal import BAD_INPUT, FAILED, close_output, say
from solidify.errors import InputError, SolidifyError

__all__ = ["commands", "main"]

CAUTION = "Results are estimates from a simplified slice: no measurement, no detector and no permission."


@click.group(
    commands=[run, check, steel, new, plot, report, compare, trace, sweep, ceiling, tune, cast, stand],
    context_settings={"help_option_names": ["-h", "--help"]},
    epilog=f"Start with: solidify run   (a case shipped with the program).  {CAUTION}",
)
@click.version_option(__version__, prog_name="solidify")
def commands() -> None:
    """Solidification of a continuously cast strand of steel.

    A case file in; shell, surface temperature, end of solidification and the limits of the trade out.
    """


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
        say("", end="")
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
            close_output()
        print(f"solidify: {path_problem(error.filename or 'standard output', error)}", file=sys.stderr)
        return BAD_INPUT
