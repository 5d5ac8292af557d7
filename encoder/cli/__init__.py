"""The command line: a thin face on the library.

Exit codes: 0 done; 1 the data have errors, or the report must not be sent; 2 wrong use of the
command; 3 a file cannot be read or written; 130 interrupted; 141 the reader of a pipe went away.
"""

from __future__ import annotations

import os
import sys

import click

from encoder.cli.archive import archive
from encoder.cli.bulletin import bulletin
from encoder.cli.climat import climat
from encoder.cli.convert import convert
from encoder.cli.decode import decode
from encoder.cli.demo import demo
from encoder.cli.encode import encode
from encoder.cli.explain import explain
from encoder.cli.export import export
from encoder.cli.levels import levels
from encoder.cli.notification import notification
from encoder.cli.output import EXIT_FAULTS, EXIT_INTERRUPTED, EXIT_PIPE, EXIT_UNREADABLE
from encoder.cli.plot import plot
from encoder.cli.report import report
from encoder.cli.show import show_file
from encoder.cli.split import split
from encoder.cli.start import start
from encoder.cli.stations import stations
from encoder.cli.verify import verify

_EPILOG = (
    "Exit codes: 0 done; 1 the data have errors or the report must not be sent; 2 wrong use; "
    "3 a file cannot be read or written; 130 interrupted; 141 the pipe was closed."
)


@click.group(
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
    epilog=_EPILOG,
)
@click.version_option(package_name="aerogram", prog_name="aerogram")
def cli() -> None:
    """Turn a processed radiosonde flight into levels and coded reports, and prove them.

    A flight is a folder with flight.json and profile.csv. Try: aerogram demo

    An aid, not an authority: the responsible service approves what is sent, and local
    instructions prevail.
    """


for _command in (
    demo,
    start,
    levels,
    encode,
    decode,
    explain,
    verify,
    report,
    plot,
    archive,
    convert,
    show_file,
    export,
    notification,
    bulletin,
    climat,
    split,
    stations,
):
    cli.add_command(_command)


def main() -> None:
    """Run the command line and leave with its exit code."""
    code, stdout = 0, sys.stdout
    try:
        result = cli.main(standalone_mode=False)
        code = result if isinstance(result, int) else 0
        sys.stdout.flush()
    except click.ClickException as fault:
        fault.show()
        code = fault.exit_code
    except (click.Abort, KeyboardInterrupt):
        click.echo("Interrupted; nothing was left half-written.", err=True)
        code = EXIT_INTERRUPTED
    except BrokenPipeError:
        code = EXIT_PIPE
    except SystemExit as left:  # click leaves by itself, with 1, when the pipe was closed
        closed = sys.stdout is not stdout  # click puts a quiet one in its place
        code = EXIT_PIPE if closed else EXIT_FAULTS if left.code else 0
    except OSError as fault:
        click.echo(f"Error: cannot write the output: {fault.strerror or fault}.", err=True)
        code = EXIT_UNREADABLE
    _leave(code)


def _leave(code: int) -> None:
    """Leave without a second complaint about a standard output that cannot be written."""
    if code in (EXIT_PIPE, EXIT_UNREADABLE):
        try:
            sys.stdout.flush()
        except OSError:
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, sys.stdout.fileno())
    sys.exit(code)
