"""Tables of other services through a column map."""

from __future__ import annotations

import json

import numpy as np
import pytest

from encoder.convert.run import plan_run, run_plan
from encoder.convert.work import Settings
from encoder.formats.column_map import read_column_map, read_mapped_table
from encoder.formats.netcdf import read_netcdf
from encoder.stations import NORRELAND

TABLE = (
    "# old tables of the service\n"
    "Stn;Date;P;T;Td;FF\n"
    "90417;1961-03-04 11:00;1000,0;-2,5;-4,0;10\n"
    "90417;1961-03-04 11:00;850,0;-9,9;-;12\n"
    "\n"
    "90417;1961-03-04 23:00;1000,0;-1,5;-3,0;9\n"
)


def document(**changes):
    made = {
        "dialect": {"delimiter": ";", "decimalChar": ",", "commentPrefix": "#"},
        "null": ["-"],
        "tableSchema": {
            "columns": [
                {"titles": "Stn", "quantity": "station"},
                {"titles": "Date", "quantity": "nominal_time", "format": "yyyy-MM-dd HH:mm"},
                {"titles": "P", "quantity": "air_pressure"},
                {"titles": "T", "quantity": "air_temperature", "unit": "degC"},
                {"titles": "Td", "quantity": "dew_point_temperature", "unit": "degC"},
                {"titles": "FF", "quantity": "wind_speed", "unit": "knot"},
            ]
        },
    }
    made.update(changes)
    return made


def mapped(tmp_path, changed):
    path = tmp_path / "map.json"
    path.write_text(json.dumps(changed))
    return read_column_map(path)


def test_values_units_and_missing_are_as_the_map_says():
    """A decimal comma, knots and a dash for missing; the two dates are two soundings."""
    soundings, aside = read_mapped_table(TABLE.encode(), document())
    assert [len(item.columns["air_pressure"]) for item in soundings] == [2, 1]
    first = soundings[0]
    assert first.columns["air_temperature"].tolist() == [-2.5, -9.9]
    assert np.array_equal(first.columns["dew_point_temperature"], [-4.0, np.nan], equal_nan=True)
    assert first.columns["wind_speed"] == pytest.approx([10 * 1852 / 3600, 12 * 1852 / 3600])
    assert first.facts["nominal_time"] == np.datetime64("1961-03-04T11:00", "s").astype(int)
    joined = b"".join(item.data for item in soundings) + b"".join(data for _at, data in aside)
    assert len(joined) == len(TABLE)


def test_a_table_becomes_a_station_history(tmp_path):
    """Position and elevation come from the catalogue, the account adds up."""
    (tmp_path / "a.csv").write_text(TABLE)
    settings = Settings(str(tmp_path / "out"), NORRELAND, column_map=document())
    summary = run_plan(plan_run([str(tmp_path / "a.csv")], settings), settings)
    assert summary["adds_up"]
    history = read_netcdf(tmp_path / "out" / "90417.nc").value
    assert history is not None
    assert history.columns["air_pressure"].tolist() == [1000.0, 850.0, 1000.0]
    assert history.elevation.tolist() == [412.0, 412.0]


def test_columns_by_number_and_dates_in_parts(tmp_path):
    """A table without header, with year, month, day and hour, a constant station and a factor."""
    changed = {
        "dialect": {"header": False},
        "tableSchema": {
            "columns": [
                {"number": 1, "quantity": "year"},
                {"number": 2, "quantity": "month"},
                {"number": 3, "quantity": "day"},
                {"number": 4, "quantity": "hour"},
                {"number": 5, "quantity": "geopotential_height", "factor": 10},
            ]
        },
        "constants": {"station": "90731", "station_latitude": 56.0, "station_longitude": -20.5},
    }
    assert mapped(tmp_path, changed).diagnostics == ()
    (sounding,), _aside = read_mapped_table(b"1950,7,1,12,290\n1950,7,1,12,310\n", changed)
    assert sounding.columns["geopotential_height"].tolist() == [2900.0, 3100.0]
    assert (sounding.station, sounding.facts["latitude"]) == ("90731", 56.0)


@pytest.mark.parametrize("cell", ["x", "1e999", "nan"])
def test_a_cell_that_is_no_number_refuses_its_sounding(cell):
    """The rows of the sounding are kept, with the line and the cell in the message."""
    soundings, _aside = read_mapped_table(TABLE.replace("-9,9", cell).encode(), document())
    assert [item.code for item in soundings[0].diagnostics] == ["table-cell-malformed"]
    assert "Line 4" in soundings[0].diagnostics[0].message
    assert soundings[1].diagnostics == ()


@pytest.mark.parametrize("date", ["1961-02-30 11:00", "", "yesterday"])
def test_a_date_that_is_none_refuses_its_sounding(date):
    """No date is guessed."""
    text = TABLE.replace("1961-03-04 11:00", date)
    soundings, _aside = read_mapped_table(text.encode(), document())
    assert soundings[0].diagnostics[0].code == "table-cell-malformed"


def test_a_column_that_is_not_there_refuses_the_table():
    """A header without a column of the map: all rows are refused."""
    (table,), _aside = read_mapped_table(TABLE.replace(";FF", ";WS").encode(), document())
    assert [item.code for item in table.diagnostics] == ["table-column-missing"]


def test_a_table_of_an_unknown_station_is_refused(tmp_path):
    """Neither map nor catalogue has its position."""
    (tmp_path / "a.csv").write_text(TABLE.replace("90417", "11111"))
    settings = Settings(str(tmp_path / "out"), NORRELAND, column_map=document())
    summary = run_plan(plan_run([str(tmp_path / "a.csv")], settings), settings)
    assert summary["refused"] == {"convert-position-unknown": 2}
    assert summary["adds_up"]


@pytest.mark.parametrize(
    "changed",
    [
        {"tableSchema": {"columns": []}},
        {"unknown": 1},
        {"tableSchema": {"columns": [{"titles": "P", "quantity": "air_pressure"}]}},
        document(null=3),
        document(dialect={"delimiter": ";;"}),
        document(dialect={"header": False}),
    ],
)
def test_a_map_that_is_none_is_told(tmp_path, changed):
    """Schema, station, time and vertical coordinate are checked before any table is read."""
    result = mapped(tmp_path, changed)
    assert result.value is None
    assert [item.code for item in result.diagnostics] == ["column-map-malformed"]


def test_a_unit_that_does_not_measure_the_quantity_is_told(tmp_path):
    """Pressure in knots is a fault of the map."""
    changed = document()
    changed["tableSchema"]["columns"][3]["unit"] = "knot"
    result = mapped(tmp_path, changed)
    assert [item.code for item in result.diagnostics] == ["column-map-malformed"]
    (tmp_path / "map.json").write_text("{")
    assert read_column_map(tmp_path / "map.json").value is None
