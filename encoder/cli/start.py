"""``aerogram start``: a flight to begin from."""

from __future__ import annotations

import click


@click.command()
@click.argument("folder", metavar="FOLDER")
def start(folder: str) -> None:
    """Write a starter flight into FOLDER.

    Both files, every key explained, units shown.

    \b
    Example:
      aerogram start my-flight
      aerogram encode my-flight
    """
    from encoder.cli.output import Unreadable
    from encoder.errors import InputError
    from encoder.formats.starter import write_starter

    try:
        written = write_starter(folder)
    except InputError as fault:
        raise Unreadable(fault.message) from fault
    except OSError as fault:
        msg = f"Cannot write to {folder}: {fault.strerror or fault}."
        raise Unreadable(msg) from fault
    for path in written:
        click.echo(f"wrote {path}")
    click.echo(f"Change the values, then: aerogram encode {folder}")
