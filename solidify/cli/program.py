"""The program: its verbs, and what becomes of the errors that it expects."""

from __future__ import annotations

import errno
import signal
import sys
import threading
from collections.abc import Sequence
from types import FrameType

import click

from solidify import __version__
from solidify.cli.cast import cast, stand
from solidify.cli.plan import cut, plan
from solidify.cli.results import compare, plot, report, trace
from solidify.cli.section import section
from solidify.cli.strand import check, new, run, steel
from solidify.cli.study import ceiling, sweep, tune
from solidify.cli.terminal import BAD_INPUT, FAILED, OutputError, close_output, note, say
from solidify.errors import InputError, SolidifyError

__all__ = ["commands", "main"]

_OF_WRITING = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EPIPE)
"""Without the name of a file they are of standard output."""

CAUTION = "Results are estimates from a simplified slice: no measurement, no detector and no permission."


@click.group(
    commands=[
        run,
        section,
        check,
        steel,
        new,
        plot,
        report,
        compare,
        trace,
        sweep,
        ceiling,
        tune,
        cast,
        stand,
        plan,
        cut,
    ],
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
    former = None
    if threading.current_thread() is threading.main_thread():
        former = signal.signal(signal.SIGTERM, _ended)
    try:
        status = commands.main(args=arguments, prog_name="solidify", standalone_mode=False)
        say("", end="")
        return status or 0
    except click.UsageError as error:
        usage = error.ctx.get_usage() + "\n\n" if error.ctx else ""
        note(f"{usage}Error: {error.format_message()}")
        return error.exit_code
    except click.ClickException as error:
        note(f"Error: {error.format_message()}")
        return error.exit_code
    except (click.Abort, KeyboardInterrupt):
        note(
            "solidify: stopped; files are as they were, and a sweep keeps its finished runs for the same command"
        )
        return FAILED
    except SolidifyError as error:
        note(f"solidify: {error}")
        return BAD_INPUT if isinstance(error, InputError) else FAILED
    except OutputError as error:
        from solidify.files import path_problem

        close_output()
        note(f"solidify: {path_problem('standard output', error)}")
        return BAD_INPUT
    except OSError as error:
        from solidify.files import path_problem

        here = error.filename or ("standard output" if error.errno in _OF_WRITING else "a file that is read")
        if here == "standard output":
            close_output()
        note(f"solidify: {path_problem(here, error)}")
        return BAD_INPUT
    except MemoryError:
        note("solidify: not enough memory; close other programs, or give fewer workers, nodes or runs")
        return FAILED
    finally:
        if former is not None:
            signal.signal(signal.SIGTERM, former)


def _ended(number: int, frame: FrameType | None) -> None:
    """Answer a request to end as an interrupt from the keyboard."""
    raise KeyboardInterrupt
