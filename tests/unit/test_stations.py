"""The station catalogue: lists, periods, merging and look-up."""

from __future__ import annotations

import json
import math
import re
from datetime import date
from pathlib import Path

import jsonschema
import pytest

from encoder.formats.station_catalogue import CATALOGUE_FILE, add_stations, load_catalogue
from encoder.formats.station_list import (
    ALIASES,
    COLUMNS,
    parse_station_list,
    read_station_list,
    station_table,
)
from encoder.schemas_folder import schema
from encoder.stations import NORRELAND, StationCatalogue, StationRecord, merge_stations

HEADER = "wmo_index,name,latitude,longitude,elevation,from,to\n"
SAMPLES = Path(__file__).parents[2] / "samples" / "flights"


def record(begin: str | None, end: str | None, *, elevation: float = 10.0) -> StationRecord:
    """Return a station with a period."""
    return StationRecord(
        "90300",
        "Kestrel Basin",
        52.5,
        -17.25,
        elevation,
        date.fromisoformat(begin) if begin else None,
        date.fromisoformat(end) if end else None,
        "list",
    )


def periods(catalogue: StationCatalogue) -> list[tuple[str, float]]:
    """Return period and elevation of every entry."""
    return [(one.period(), one.elevation) for one in catalogue.records]


@pytest.mark.parametrize("folder", ["harrow-tarn", "halden-dome", "saltmere-point"])
def test_built_in_stations_are_those_of_the_samples(folder: str) -> None:
    """The invented stations stand where the sample flights say."""
    station = json.loads((SAMPLES / folder / "flight.json").read_text())["station"]
    found = NORRELAND.find(station["wmo_index"], date(2031, 1, 1)).value
    assert found is not None
    assert (station["name"], station["latitude"], station["longitude"], station["elevation_m"]) == (
        found.name,
        found.latitude,
        found.longitude,
        found.elevation,
    )


def test_unknown_station() -> None:
    """A station without entry has no position, and the message says how to add one."""
    value, found = NORRELAND.find("90999", date(2031, 1, 1))
    assert (value, [one.code for one in found]) == (None, ["station-not-in-catalogue"])
    assert "aerogram stations add FILE" in found[0].hint
    assert "without a position" in found[0].message


def test_look_up_by_date() -> None:
    """The entry of the day is taken, never that of another period."""
    catalogue = StationCatalogue(
        (record(None, "1999-12-31"), record("2005-01-01", None, elevation=20.0))
    )
    assert catalogue.find("90300", date(1980, 5, 1)).raise_for_errors().elevation == 10.0
    assert catalogue.find("90300", date(2005, 1, 1)).raise_for_errors().elevation == 20.0
    assert catalogue.find("90300").raise_for_errors().elevation == 20.0
    value, found = catalogue.find("90300", date(2001, 1, 1))
    assert (value, [one.code for one in found]) == (None, ["station-not-in-catalogue"])
    assert "the beginning to 1999-12-31" in found[0].message


@pytest.mark.parametrize(
    ("added", "expected"),
    [
        (record("2000-01-01", "2009-12-31"), [("2000-01-01 to 2019-12-31", 10.0)]),
        (record("2020-01-01", None), [("2010-01-01 to now", 10.0)]),
        (
            record("2012-01-01", "2012-12-31", elevation=20.0),
            [
                ("2010-01-01 to 2011-12-31", 10.0),
                ("2012-01-01 to 2012-12-31", 20.0),
                ("2013-01-01 to 2019-12-31", 10.0),
            ],
        ),
        (
            record("2015-06-01", None, elevation=20.0),
            [("2010-01-01 to 2015-05-31", 10.0), ("2015-06-01 to now", 20.0)],
        ),
        (record(None, None, elevation=20.0), [("always", 20.0)]),
        (
            record("2021-01-01", None, elevation=20.0),
            [("2010-01-01 to 2019-12-31", 10.0), ("2021-01-01 to now", 20.0)],
        ),
    ],
)
def test_merging(added: StationRecord, expected: list[tuple[str, float]]) -> None:
    """Equal entries that touch become one; a different one takes its days from the older."""
    before = StationCatalogue((record("2010-01-01", "2019-12-31"),))
    merged, found = merge_stations(before, [added])
    assert expected == periods(merged)
    differs = added.elevation == 20.0 and added.first.year < 2020
    assert (["station-overlap"] if differs else []) == [one.code for one in found]


def test_merging_twice_changes_nothing() -> None:
    """Adding the same list again leaves the catalogue as it is."""
    records = [record("2010-01-01", None, elevation=math.nan), *NORRELAND.records]
    once = merge_stations(StationCatalogue(), records).value
    again, found = merge_stations(once, records)
    assert station_table(once.records) == station_table(again.records)
    assert found == ()


def test_table_with_header() -> None:
    """A CSV with a header is read by its column names, in any order and with known aliases."""
    text = (
        "# stations of a service\n"
        "Name;Lat [degree];Lon;WMO index;elevation;valid from;remark\n"
        "Kestrel Basin;52.5;-17.25;90300;;1990-05;x\n"
    )
    records, found = parse_station_list(text, "mine.csv")
    assert [("90300", "Kestrel Basin", 52.5, -17.25, date(1990, 5, 1), None, "mine.csv")] == [
        (
            one.wmo_index,
            one.name,
            one.latitude,
            one.longitude,
            one.valid_from,
            one.valid_to,
            one.source,
        )
        for one in records
    ]
    assert math.isnan(records[0].elevation)
    assert [one.code for one in found] == ["station-column-unknown"]


@pytest.mark.parametrize(
    "line",
    [
        "9030,Kestrel Basin,52.5,-17.25,10,,",
        "90300,,52.5,-17.25,10,,",
        "90300,Kestrel \x1b[2JBasin,52.5,-17.25,10,,",
        "90300,Kestrel Basin,152.5,-17.25,10,,",
        "90300,Kestrel Basin,52.5,west,10,,",
        "90300,Kestrel Basin,52.5,-17.25,high,,",
        "90300,Kestrel Basin,52.5,-17.25,99999,,",
        "90300,Kestrel Basin,52.5,-17.25,10,1990-13,",
        "90300,Kestrel Basin,52.5,-17.25,10,,1990-02-30",
        "90300,Kestrel Basin,52.5,-17.25,10,last year,",
        "90300,Kestrel Basin,52.5,-17.25,10,2000,1990",
        "90300,Kestrel Basin,52.5,-17.25,nan,0000,",
        "90300,Kestrel Basin,52.5",
    ],
)
def test_malformed_lines(line: str) -> None:
    """A line that cannot be read is told with its number and left out; the others stay."""
    good = "90301,Calder Wren Quay,50.0,-20.0,3,,\n"
    records, found = parse_station_list(HEADER + line + "\n" + good, "mine.csv")
    assert [one.wmo_index for one in records] == ["90301"]
    assert [(one.code, one.line) for one in found] == [("station-line-malformed", 2)]


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("9030,Kestrel Basin,52.5,-17.25,10,,", "a table program may have taken the zero off"),
        ("90300,Kestrel Basin,152.5,-17.25,10,,", "they seem to be the wrong way round"),
        ("90300,Kestrel Basin,52 30N,017 15W,10,,", "Expected decimal degrees"),
    ],
)
def test_usual_mistakes_are_named(line: str, words: str) -> None:
    """A zero lost in a table program, exchanged degrees, degrees with minutes."""
    _records, found = parse_station_list(HEADER + line + "\n", "mine.csv")
    assert words in found[0].message


def test_every_alias_of_a_column() -> None:
    """Each name of a column that stations.schema.json tells is understood, in any case."""
    row = {"wmo_index": "90300", "name": "Kestrel Basin", "latitude": "52.5", "longitude": "-17.25"}
    row |= {"elevation": "10", "from": "1990", "to": "2001"}
    declared = schema("stations")["properties"]
    for name, aliases in ALIASES.items():
        told = declared[name]["description"]
        for alias in (*aliases, *(one.upper().replace("_", " ") for one in aliases)):
            header = ",".join(alias if one == name else one for one in row)
            records, found = parse_station_list(header + "\n" + ",".join(row.values()), "x")
            assert (len(records), found) == (1, ()), alias
            assert alias.lower().replace(" ", "_") in re.split(r"[ ,.;]+", told)


def test_decimal_comma() -> None:
    """Where cells are separated by semicolons, figures may have a comma."""
    text = HEADER.replace(",", ";") + "90300;Kestrel Basin, upper;52,5;-17,25;10,5;;\n"
    records, found = parse_station_list(text, "x")
    assert found == ()
    assert [(one.name, one.latitude, one.longitude, one.elevation) for one in records] == [
        ("Kestrel Basin, upper", 52.5, -17.25, 10.5)
    ]


def test_station_listed_twice() -> None:
    """Two lines that differ for the same days are told; equal ones, and other periods, are not."""
    text = HEADER + (
        "90300,Kestrel Basin,52.5,-17.25,10,2001,2005\n"
        "90300,Kestrel Basin,52.5,-17.25,10,2001,2005\n"
        "90300,Kestrel Basin,52.6,-17.25,10,2006,\n"
        "90300,Kestrel Basin,52.7,-17.25,10,2010,\n"
    )
    records, found = parse_station_list(text, "x")
    merged, told = merge_stations(StationCatalogue(), records)

    assert [(one.code, one.line) for one in found] == [("station-listed-twice", 5)]
    assert told == ()
    assert [(one.period(), one.latitude) for one in merged.periods("90300")] == [
        ("2001-01-01 to 2005-12-31", 52.5),
        ("2006-01-01 to 2009-12-31", 52.6),
        ("2010-01-01 to now", 52.7),
    ]


@pytest.mark.parametrize(
    ("data", "codes"),
    [
        (b"\xef\xbb\xbf" + HEADER.encode() + b"90300,Kestrel Basin,52.5,-17.25,10,,\r\n", []),
        (HEADER.encode() + b"90300,K\xfcste,52.5,-17.25,10,,\n", ["encoding-not-utf-8"]),
        (HEADER.encode("utf-16"), ["encoding-not-utf-8"]),
    ],
)
def test_encodings(tmp_path: Path, data: bytes, codes: list[str]) -> None:
    """A mark of byte order and other line ends are taken; other encodings are told."""
    (tmp_path / "mine.csv").write_bytes(data)
    records, found = read_station_list(tmp_path / "mine.csv")
    assert len(records) == (0 if codes else 1)
    assert [one.code for one in found if one.severity == "error"] == codes


def test_missing_columns() -> None:
    """Without a needed column nothing is read, and every missing one is named."""
    records, found = parse_station_list("wmo_index,name\n90300,Kestrel Basin\n", "mine.csv")
    assert records == ()
    assert [("station-column-missing", one) for one in ("latitude", "longitude", "elevation")] == [
        (one.code, one.expected) for one in found
    ]


@pytest.mark.parametrize("text", ["", "hello world\n", "a,b,c\n1,2,3\n", HEADER, "\n# x\n"])
def test_unknown_kinds_of_list(text: str) -> None:
    """A file that is neither list is refused with what was expected."""
    records, found = parse_station_list(text, "x")
    assert (records, [one.code for one in found]) == ((), ["station-list-not-known"])


def test_saved_lines_follow_the_schema() -> None:
    """What is written validates against stations.schema.json and reads back the same."""
    records = (*NORRELAND.records, record("1990-01-01", "2001-02-03", elevation=math.nan))
    text = station_table(records)
    validator = jsonschema.Draft202012Validator(schema("stations"))
    for line in text.splitlines()[1:]:
        validator.validate(dict(zip(COLUMNS, line.split(","), strict=True)))

    back, found = parse_station_list(text, "x")
    assert found == ()
    assert text == station_table(back)


def test_adding_saves_the_catalogue(tmp_path: Path) -> None:
    """A list is merged into the file in the data folder, which is made if need be."""
    mine = tmp_path / "mine.csv"
    mine.write_text(HEADER + "90300,Kestrel Basin,52.5,-17.25,10,1990,\n")
    folder = tmp_path / "data" / "aerogram"

    added, found = add_stations(mine, folder)

    assert found == ()
    assert added is not None
    assert (1, 0, folder / CATALOGUE_FILE) == (added.read, added.before, added.path)
    assert [one.name for one in folder.iterdir()] == [CATALOGUE_FILE]
    assert len(load_catalogue(folder).value) == 4
    again = add_stations(mine, folder).value
    assert again is not None
    assert (again.before, len(again.catalogue)) == (1, 1)


def test_nothing_is_saved_without_stations(tmp_path: Path) -> None:
    """A list that gives no station, or a broken catalogue, leaves the folder as it was."""
    value, found = add_stations(tmp_path / "none.csv", tmp_path / "data")
    assert (value, [one.code for one in found]) == (None, ["file-not-found"])
    assert not (tmp_path / "data").exists()

    mine = tmp_path / "mine.csv"
    mine.write_text(HEADER + "90300,Kestrel Basin,52.5,-17.25,10,,\n")
    (tmp_path / CATALOGUE_FILE).write_text(HEADER + "broken\n")
    value, found = add_stations(mine, tmp_path)
    assert (value, [one.code for one in found]) == (None, ["station-line-malformed"])
    assert (tmp_path / CATALOGUE_FILE).read_text() == HEADER + "broken\n"


def test_list_for_one_run(tmp_path: Path) -> None:
    """A list for one run comes before the user's own, which comes before what is built in."""
    mine = tmp_path / "mine.csv"
    mine.write_text(HEADER + "90417,Harrow Tarn,53.5,-18.25,400,,\n")
    assert add_stations(mine, tmp_path).value is not None
    run = tmp_path / "run.csv"
    run.write_text(HEADER + "90417,Harrow Tarn,53.75,-18.5,300,2030,\n")

    own, found = load_catalogue(tmp_path)
    both = load_catalogue(tmp_path, run).value

    assert found == ()
    assert own.find("90417").raise_for_errors().elevation == 400.0
    assert both.find("90417", date(2031, 1, 1)).raise_for_errors().elevation == 300.0
    assert both.find("90417", date(2029, 1, 1)).raise_for_errors().elevation == 400.0
    assert load_catalogue().value.find("90417").raise_for_errors().elevation == 412.0


def test_unreadable_list_for_one_run(tmp_path: Path) -> None:
    """A list that is not there is told; the other entries stay."""
    value, found = load_catalogue(None, tmp_path / "none.csv")
    assert (len(value), [one.code for one in found]) == (3, ["file-not-found"])
    assert (
        read_station_list(tmp_path / "none.csv").value,
        [one.code for one in read_station_list(tmp_path / "none.csv").diagnostics],
    ) == ((), ["file-not-found"])
