"""``aerogram notification``: the WIS2 notification of a BUFR message, as a file."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from encoder.cli.options import output_option, show_option

if TYPE_CHECKING:
    from datetime import datetime


@click.command()
@click.argument("message", metavar="FILE")
@click.option(
    "--centre-id", required=True, metavar="ID", help="WIS2 identifier of the centre: nr-norreland."
)
@click.option("--url", required=True, help="Where the message can be fetched.")
@click.option(
    "--published",
    required=True,
    type=click.DateTime(("%Y-%m-%dT%H:%M:%SZ",)),
    metavar="YYYY-MM-DDThh:mm:ssZ",
    help="Time of publication, UTC.",
)
@click.option(
    "--policy",
    type=click.Choice(("core", "recommended")),
    default="core",
    show_default=True,
    help="Data policy.",
)
@output_option
@show_option
@click.pass_context
def notification(
    context: click.Context,
    /,
    message: str,
    centre_id: str,
    url: str,
    published: datetime,
    policy: str,
    output: str | None,
    least: str,
) -> None:
    """Write the WIS2 notification of a BUFR message.

    A file is written; nothing is sent.

    FILE holds one message, alone or as a bulletin, whose heading is then given for the gateway
    to the GTS. The topic is shown on standard error.

    \b
    Example:
      aerogram notification harrow-tarn.bufr --centre-id nr-norreland
        --url https://wis.example/harrow-tarn.bufr --published 2031-07-09T01:00:00Z
    """
    from datetime import UTC

    from encoder.bulletin.heading import parse_heading
    from encoder.cli.bufr import holds_bufr
    from encoder.cli.output import NotUsable, emit_json, exit_code, read_input, show
    from encoder.errors import MissingDependencyError
    from encoder.formats.bufr.notification import notify
    from encoder.formats.bufr.read import read_message
    from encoder.formats.bufr.stream import FoundMessage, find_messages_in

    data = read_input(message)
    if not holds_bufr(data):
        msg = f"{message} holds no BUFR message."
        raise NotUsable(msg)
    messages = [item for item in find_messages_in(data) if isinstance(item, FoundMessage)]
    if len(messages) != 1:
        msg = f"A notification is of one message, {message} holds {len(messages)}."
        raise NotUsable(msg)
    one = messages[0]
    try:
        read = read_message(one)
    except MissingDependencyError as fault:
        raise NotUsable(str(fault)) from fault
    found = list(read.diagnostics)
    if len(read.value) != 1:
        show(found, least)
        msg = f"A notification is of one sounding, {message} holds {len(read.value)}."
        raise NotUsable(msg)
    heading = None if one.heading is None else parse_heading(one.heading).value
    made = notify(
        one.data,
        read.value[0],
        centre_id=centre_id,
        url=url,
        published=published.replace(tzinfo=UTC),
        policy="recommended" if policy == "recommended" else "core",
        heading=heading,
    )
    found.extend(made.diagnostics)
    show(found, least)
    if made.value is None:
        msg = "No notification was made; see the errors above."
        raise NotUsable(msg)
    click.echo(f"topic {made.value.topic}", err=True)
    emit_json(made.value.document, output)
    context.exit(exit_code(found))
