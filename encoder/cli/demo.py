"""``aerogram demo``: the whole way through on a bundled flight."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from encoder.cli.options import output_option

if TYPE_CHECKING:
    from encoder.profile import Flight


@click.command()
@click.argument("name", metavar="[NAME]", default="harrow-tarn")
@click.option("--copy", metavar="FOLDER", help="Copy the flight into FOLDER to work on.")
@output_option
@click.pass_context
def demo(context: click.Context, /, name: str, copy: str | None, output: str | None) -> None:
    """Go the whole way on a bundled flight.

    Levels, report, decoding and verdict, one after the other.

    NAME is harrow-tarn, halden-dome or saltmere-point, three invented stations.

    \b
    Example:
      aerogram demo
      aerogram demo saltmere-point
    """
    from encoder.cli.output import EXIT_FAULTS, Unreadable, emit, show
    from encoder.formats.flight_folder import read_flight
    from encoder.formats.samples_folder import copy_sample, sample_flight, sample_names

    if name not in sample_names():
        msg = f"There is no sample {name!r}; there are {', '.join(sample_names())}."
        raise click.UsageError(msg)
    folder = sample_flight(name)
    if copy is not None:
        try:
            written = copy_sample(name, copy)
        except OSError as fault:
            msg = f"Cannot copy to {copy}: {fault.strerror or fault}."
            raise Unreadable(msg) from fault
        click.echo("\n".join(f"wrote {path}" for path in written))
        context.exit(0)
    result = read_flight(folder)
    if result.value is None:
        show(result.diagnostics)
        context.exit(EXIT_FAULTS)
    text, good = _story(result.value, str(folder), name)
    emit(text, output)
    context.exit(0 if good else EXIT_FAULTS)


def _story(flight: Flight, folder: str, name: str) -> tuple[str, bool]:
    """Return the whole way as text, and whether the report may be sent."""
    from encoder.levels import select_levels
    from encoder.report import decode_reports, encode_content, encode_report
    from encoder.verify import verdict_text, verify

    table = select_levels(flight).value
    fewest = select_levels(flight, method="fewest-levels").value
    report = encode_report(flight, table).value
    decoded = decode_reports(report.text)
    verdict = verify(flight, decoded.value[0], report_diagnostics=decoded.diagnostics)
    again = encode_content([part.content for part in decoded.value[0].parts]).value
    same = len(decoded.value) == 1 and again == report.text
    lines = [
        *_flight_lines(flight, folder),
        "",
        "2. LEVELS",
        *_level_lines(flight, len(table), len(fewest)),
        "",
        f"3. REPORT (FM 35 TEMP, {len(report.text.split())} groups)",
        report.text.rstrip("\n"),
        "",
        "4. READ BACK",
        (
            f"   {len(decoded.value[0].trace)} groups decoded into {len(decoded.value[0].levels)} "
            "levels without the flight;"
        ),
        f"   coded again they give {'the same characters' if same else 'OTHER characters'}.",
        "",
        "5. VERDICT (report against the flight)",
        *(f"   {line}".rstrip() for line in verdict_text(verdict).splitlines()),
        "",
        "Go on with:",
        f"   aerogram demo {name} --copy my-flight   a copy of this flight to change",
        "   aerogram levels my-flight --reasons          every level and why it was chosen",
        "   aerogram explain my-flight                   the report, figure by figure",
        "   aerogram start new-flight                    an empty flight of your own",
    ]
    return "\n".join(lines) + "\n", verdict.may_be_sent and same


def _flight_lines(flight: Flight, folder: str) -> list[str]:
    ascent = flight.ascent
    pressure, height = ascent["air_pressure"], ascent["geopotential_height"]
    station = flight.station
    return [
        "AEROGRAM: one flight the whole way through (station and flight are invented)",
        "",
        "1. FLIGHT",
        f"   {folder}",
        (
            f"   {station.name}, {station.wmo_index}, {station.elevation:g} m; release "
            f"{flight.release_time:%Y-%m-%d %H:%M} UTC for {flight.nominal_time:%H} UTC"
        ),
        (
            f"   {len(ascent)} rows from {pressure[0]:.1f} hPa at the surface to "
            f"{pressure[-1]:.1f} hPa at {height[-1] / 1000.0:.1f} km, "
            f"{ascent['time'][-1] / 60.0:.0f} min"
        ),
        *(
            f"   computed: {name} ({formula})"
            for name, formula in sorted(ascent.computed.items())
            if name in ("air_pressure", "geopotential_height")
        ),
        *(
            f"   {item.severity}: {item.message}"
            for item in flight.diagnostics
            if item.severity != "note"
        ),
    ]


def _level_lines(flight: Flight, largest: int, fewest: int) -> list[str]:
    return [
        f"   {largest} levels stand for {len(flight.ascent)} rows (largest deviation);",
        (
            f"   {fewest} is the smallest number that keeps every row within its limits "
            "(fewest levels)."
        ),
    ]
