"""``aerogram convert``: historical records of any kind into station files."""

from __future__ import annotations

import errno
import os
import re
import sys
import time
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import click

from encoder.cli.options import repair_option
from encoder.convert.kinds import KINDS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.convert.run import Plan
    from encoder.convert.work import Settings, Unit

_SIZES = {"k": 1 << 10, "m": 1 << 20, "g": 1 << 30}
_HARMLESS = ("convert-folder-again", "convert-member-link", "convert-own-results")
_SHOWN = 20
"""Sources and stations refused whole that are told by name; the rest are in summary.json."""


class _Size(click.ParamType[int]):
    name = "size"

    def convert(self, value: Any, param: Any, ctx: Any) -> int:
        if isinstance(value, int):
            return value
        match = re.fullmatch(r"(\d+(?:\.\d+)?)\s*([kmg]?)i?b?", str(value).strip().lower())
        if match is None:
            self.fail(f"{value!r} is no size; write for example 500M or 4G", param, ctx)
        return int(float(match.group(1)) * _SIZES.get(match.group(2), 1))


@click.command()
@click.argument("sources", metavar="SOURCE...", nargs=-1, required=True)
@click.option(
    "--to", "destination", metavar="DEST", required=True, help="Folder or URL for results."
)
@click.option(
    "--from",
    "kind",
    type=click.Choice(KINDS),
    help="Kind of all sources, instead of judging by their bytes.",
)
@click.option(
    "--as",
    "formats",
    multiple=True,
    type=click.Choice(("netcdf", "parquet", "igra")),
    help="What to write, may be repeated; netcdf by default.",
)
@click.option("--map", "map_file", metavar="FILE", help="Column map (JSON) of tables.")
@click.option(
    "--stations",
    metavar="FILE",
    help="Station list (CSV or IGRA) that comes before the catalogue, for this run.",
)
@repair_option
@click.option("--month", metavar="YYYY-MM", help="Month of coded text that no file name dates.")
@click.option("--service", metavar="FILE", help="service.json: who makes and publishes the files.")
@click.option(
    "--jobs", metavar="N", type=click.IntRange(1), help="Processes; one a core by default."
)
@click.option("--scheduler", metavar="ADDRESS", help="Dask scheduler to give the work to.")
@click.option(
    "--memory", metavar="SIZE", type=_Size(), help="Bound of all processes together, such as 4G."
)
@click.option(
    "--fast/--no-fast",
    default=None,
    help="Use isal and h5py (extra fast); by default where installed. Same content.",
)
@click.option("--no-read-back", is_flag=True, help="Do not read written files again to compare.")
@click.option(
    "--plan", "only_plan", is_flag=True, help="Show what would be read and why; do nothing."
)
@click.option("--json", "as_json", is_flag=True, help="Write the summary as JSON.")
@click.option("-q", "--quiet", is_flag=True, help="No progress.")
@click.pass_context
def convert(context: click.Context, /, sources: tuple[str, ...], **options: Any) -> None:
    """Convert historical records to CF netCDF.

    One file a station.

    SOURCE is a file, a folder or a URL: IGRA station files, coded traffic (also in zip, gz and
    tar), BUFR, netCDF, tables with a column map, or a mended quarantine.jsonl. What a file is,
    is judged by its bytes.

    DEST receives STATION.nc, summary.json and quarantine.jsonl with all that was refused.
    Stopped at any moment, the same command goes on where it was.

    \b
    Examples:
      aerogram convert archive/ --to station-files --jobs 2
      aerogram convert old-tables/ --map map.json --to station-files
    """
    from encoder.cli.output import NotUsable, Unreadable
    from encoder.convert.run import run_plan
    from encoder.errors import EncoderError, InputError, MissingDependencyError

    settings = _settings(options)
    plan = _plan(sources, settings, options)
    if not options["as_json"] or options["only_plan"]:
        _show_plan(plan, err=not options["only_plan"])
    if options["only_plan"]:
        context.exit(1 if any(item.severity == "error" for item in plan.found) else 0)
    if not plan.units:
        msg = "There is nothing to convert; see above." if plan.found else "There is no source."
        raise NotUsable(msg)
    jobs = options["jobs"] or os.cpu_count() or 1
    if _compiler_pays(plan, settings, jobs):
        settings = replace(settings, compiled=True)
    progress = _progress(options)
    try:
        summary = run_plan(
            plan,
            settings,
            jobs=jobs,
            scheduler=options["scheduler"],
            memory=options["memory"],
            progress=progress,
        )
    except InputError as fault:
        raise NotUsable(fault.message) from fault
    except (MissingDependencyError, EncoderError) as fault:
        raise Unreadable(str(fault)) from fault
    except OSError as fault:
        full = fault.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)
        when = "there is room" if full else "it can be written to"
        words = os.strerror(fault.errno) if full and fault.errno else fault.strerror or fault
        msg = (
            f"Cannot write to {options['destination']}: {words}. What is done "
            f"stays done; give the same command again when {when}."
        )
        raise Unreadable(msg) from fault
    finally:
        progress.close()
    if options["as_json"]:
        from encoder.cli.output import emit_json

        emit_json(summary, None)
    else:
        click.echo(summary_text(summary), nl=False)
    unread = any(item.severity == "error" for item in plan.found)
    size = summary["total"]["bytes"]
    nothing = size["refused"] > 0 and size["written"] == 0
    well = summary["adds_up"] and not unread and not summary["failed"] and not nothing
    context.exit(0 if well else 1)


def _plan(sources: Sequence[str], settings: Settings, options: dict[str, Any]) -> Plan:
    """Return the plan, made once all that would end the run later was looked at."""
    from encoder.cli.output import NotUsable, Unreadable
    from encoder.convert.requirements import check_before
    from encoder.convert.run import plan_run
    from encoder.errors import EncoderError, InputError

    try:
        if not options["only_plan"]:
            check_before(sources, settings, scheduler=options["scheduler"])
    except InputError as fault:
        raise NotUsable(fault.message) from fault
    except EncoderError as fault:
        raise Unreadable(str(fault)) from fault
    except OSError as fault:
        msg = f"Cannot write to {settings.destination}: {fault.strerror or fault}."
        raise Unreadable(msg) from fault
    try:
        return plan_run(sources, settings, kind=options["kind"])
    except InputError as fault:
        raise NotUsable(fault.message) from fault
    except EncoderError as fault:
        raise Unreadable(str(fault)) from fault
    except OSError as fault:
        msg = f"Cannot read {fault.filename or 'a source'}: {fault.strerror or fault}."
        raise Unreadable(msg) from fault


def _settings(options: dict[str, Any]) -> Settings:
    from encoder.cli.output import NotUsable, Unreadable, show
    from encoder.cli.stations import data_folder
    from encoder.convert.work import Settings
    from encoder.formats.netcdf import direct_chunks
    from encoder.formats.station_catalogue import load_catalogue

    month = options["month"]
    if month is not None and not re.fullmatch(r"\d{4}-(0[1-9]|1[0-2])", month):
        msg = f"--month {month!r} is no month; write YYYY-MM."
        raise click.UsageError(msg)
    fast = options["fast"]
    if fast is None:
        fast = direct_chunks.available()
    elif fast and not direct_chunks.available():
        msg = 'Fast conversion needs isal and h5py: install them with pip install "aerogram[fast]".'
        raise Unreadable(msg)
    column_map = service = None
    catalogue = load_catalogue(data_folder(), options["stations"])
    show(catalogue.diagnostics, "warning")
    if any(item.severity == "error" for item in catalogue.diagnostics):
        msg = f"{options['stations']} cannot be used as a station list."
        raise NotUsable(msg)
    if options["map_file"] is not None:
        from encoder.formats.column_map import read_column_map

        read = read_column_map(options["map_file"])
        show(read.diagnostics, "warning")
        if read.value is None:
            msg = f"{options['map_file']} cannot be used as a column map."
            raise NotUsable(msg)
        column_map = read.value
    if options["service"] is not None:
        from encoder.formats.service_json import read_service

        maker = read_service(options["service"])
        show(maker.diagnostics, "warning")
        if maker.value is None:
            msg = f"{options['service']} cannot be used as service.json."
            raise NotUsable(msg)
        service = maker.value
    return Settings(
        options["destination"],
        catalogue.value,
        tuple(sorted(set(options["formats"]) or {"netcdf"})),
        repair=options["repair"],
        month=month,
        column_map=column_map,
        service=service,
        fast=fast,
        read_back=not options["no_read_back"],
    )


def _compiler_pays(plan: Plan, settings: Settings, jobs: int) -> bool:
    """Tell whether there is so much of the IGRA layout that loading the compiler pays."""
    from encoder.formats.igra import compiled

    text = sum(unit.source.size for unit in plan.units if unit.source.kind.startswith("igra"))
    return settings.fast and text >= compiled.WORTH_IT * jobs and compiled.available()


def _show_plan(plan: Plan, *, err: bool) -> None:
    for unit in plan.units:
        click.echo(f"{unit.source.name}: {unit.source.kind} ({unit.source.why})", err=err)
    for item in plan.found:
        click.echo(item.as_text(), err=err)


def summary_text(summary: dict[str, Any]) -> str:
    """Return the summary of a run as text."""
    lines = [f"{'':12}{'read':>15}{'written':>15}{'refused':>12}{'aside':>12}"]
    for name, count in summary["total"].items():
        lines.append(
            f"{name:12}{count['read']:>15,}{count['written']:>15,}{count['refused']:>12,}"
            f"{count['aside']:>12,}"
        )
    flagged = sum(item["flagged"] for item in summary["stations"])
    stations = _several(len(summary["stations"]), "station")
    lines.append(f"{stations}, {_several(flagged, 'sounding')} with findings")
    repaired = sum(item["repaired"] for item in summary["stations"])
    if repaired:
        lines.append(f"{repaired:,} groups read as something else (repairs of conversion_facts)")
    for title, table in (("refused for", summary["refused"]), ("noticed", summary["found"])):
        lines += [f"{title} {code}: {count:,}" for code, count in table.items()]
    lines += _failed(summary)
    if set(summary["refused"]) - {item["code"] for item in summary["failed"]}:
        lines.append(
            "What was refused is in quarantine.jsonl of the destination: mend it in a copy and "
            "convert the copy beside the sources."
        )
    lines += [f"FAULT {item['code']}: {item['message']}" for item in summary["faults"]]
    unread = sum(item["code"] not in _HARMLESS for item in summary["not_read"])
    if unread:
        lines.append(f"Files and members not converted: {unread:,} (not_read of summary.json)")
    lines.append(
        "Everything adds up: read = written + refused + aside."
        if summary["adds_up"]
        else "IT DOES NOT ADD UP; see above."
    )
    return "\n".join(lines) + "\n"


def _several(count: int, name: str) -> str:
    return f"{count:,} {name}{'' if count == 1 else 's'}"


def _failed(summary: dict[str, Any]) -> list[str]:
    """Return what is told of sources and stations that were refused whole."""
    failed = summary["failed"]
    lines = [f"NOT CONVERTED {item['code']}: {item['message']}" for item in failed[:_SHOWN]]
    if len(failed) > _SHOWN:
        lines.append(f"NOT CONVERTED: {len(failed) - _SHOWN:,} more (failed of summary.json)")
    return lines + [f"    -> {hint}" for hint in dict.fromkeys(item["hint"] for item in failed)]


# --- progress ---------------------------------------------------------------------------------


class _Log:
    """Progress as plain lines, no more than one in some seconds."""

    seconds = 10.0

    def __init__(self, *, quiet: bool = False) -> None:
        self.quiet = quiet
        self.begin = self.last = time.monotonic()
        self.total = self.done = self.before = self.soundings = self.refused = 0
        self.stations = self.made = 0

    def planned(self, units: Sequence[Unit], done: Sequence[tuple[Unit, dict[str, Any]]]) -> None:
        """Begin with the sources."""
        self.total = sum(unit.source.size for unit in units)
        self.done = self.before = sum(unit.source.size for unit, _document in done)
        self.refused = sum(document["refused"] for _unit, document in done)
        self.say(f"{_several(len(units), 'source')}, {len(done):,} read before", always=True)

    def unit_done(self, unit: Unit, document: dict[str, Any]) -> None:
        """Count a source."""
        self.done += unit.source.size
        self.soundings += document["account"]["soundings"]["read"]
        self.refused += document["refused"]
        self.say(self.line())

    def stations_planned(self, count: int, done: Sequence[dict[str, Any]]) -> None:
        """Begin with the stations."""
        self.stations, self.made = count, len(done)
        self.refused += sum(document["refused"] for document in done)
        if count:
            stations = _several(count, "station")
            self.say(f"{stations} to put together, {len(done):,} done before", always=True)

    def station_done(self, document: dict[str, Any]) -> None:
        """Count a station."""
        self.made += 1
        self.refused += document["refused"]
        self.say(f"{self.made:,} of {self.stations:,} stations, {self.refused:,} refused")

    def worker_lost(self, count: int) -> None:
        """Say that work is done again."""
        self.say(
            f"A worker process was lost; what it may have died of is tried again alone: {count:,}",
            always=True,
        )

    def line(self) -> str:
        """Return rate, time left and what was refused in words."""
        spent = max(time.monotonic() - self.begin, 1e-3)
        rate = (self.done - self.before) / spent
        left = (self.total - self.done) / rate if rate else 0.0
        return (
            f"{self.done / 1e6:,.0f} of {self.total / 1e6:,.0f} MB, {rate / 1e6:,.0f} MB/s, "
            f"{self.soundings / spent:,.0f} soundings/s, {left:,.0f} s left, "
            f"{self.refused:,} refused"
        )

    def say(self, text: str, *, always: bool = False) -> None:
        """Write a line if it is time for one."""
        now = time.monotonic()
        if not self.quiet and (always or now - self.last >= self.seconds):
            self.last = now
            self.show(text)

    def show(self, text: str) -> None:
        """Write a line."""
        click.echo(text, err=True)

    def close(self) -> None:
        """End the progress."""


class _Terminal(_Log):
    """Progress on one line of a terminal."""

    seconds = 0.2

    def show(self, text: str) -> None:
        """Write over the line before."""
        click.echo(f"\r\x1b[K{text[:110]}", err=True, nl=False)

    def close(self) -> None:
        """Leave the last line standing."""
        if not self.quiet:
            click.echo(err=True)


def _progress(options: dict[str, Any]) -> _Log:
    terminal = sys.stderr.isatty()
    return (_Terminal if terminal else _Log)(quiet=bool(options["quiet"]))
