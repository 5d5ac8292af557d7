"""The level file: one report with its levels, what is missing in it and how fine it is."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import netCDF4
import numpy as np
import pytest

from encoder.formats.netcdf import PRODUCTS, read_netcdf, write_netcdf
from encoder.formats.netcdf.template import deviations
from encoder.levels import LevelKind, Levels
from encoder.profile import Station
from encoder.report import decode_reports, report_text
from encoder.sounding import (
    COMPUTED,
    NOT_REPORTED,
    REMOVED,
    REPORTED,
    REPORTED_MISSING,
    Sounding,
    moment_of,
    report_as_sent,
    sounding_of,
)
from tests.archives import (
    igra_sounding,
    real_sounding,
    real_texts,
    sample_archive,
    service,
    sounding_of_archive,
)

TEXTS = real_texts()
STATION = Station("Harrow Tarn", 53.4127, -18.2751, 412.0, wmo_index="90417")
MOMENT = datetime(2031, 7, 9, tzinfo=UTC)


def written(tmp_path, sounding):
    """Write a sounding and return the path, after the file was compared with the template."""
    path = tmp_path / "levels.nc"
    write_netcdf(sounding, path, service=service())
    with netCDF4.Dataset(path) as dataset:
        dataset.set_auto_maskandscale(False)
        assert deviations(dataset, PRODUCTS["levels"]) == []
    return path


def sounding_from(text) -> Sounding:
    """Return a decoded text as a sounding of the invented station."""
    decoded = decode_reports(text)
    return sounding_of(
        decoded.value[0], station=STATION, nominal_time=MOMENT, diagnostics=decoded.diagnostics
    )


@pytest.mark.parametrize("name", sorted(TEXTS))
def test_real_reports_come_back(tmp_path, name) -> None:
    """Report, levels, trace and diagnostics are equal; the characters are the received ones."""
    sounding = real_sounding(TEXTS[name])
    again = read_netcdf(written(tmp_path, sounding)).value
    assert again == sounding
    assert again.report.text.encode() == TEXTS[name].encode()
    assert [part.text for part in again.report.parts] == [
        part.text for part in sounding.report.parts
    ]
    assert report_text(again.report) == report_text(sounding.report)


@pytest.mark.parametrize("name", ["harrow-tarn", "halden-dome"])
def test_an_encoded_report_comes_back(tmp_path, name) -> None:
    """The report of a flight keeps its unrounded levels, reasons, rows and rules."""
    archive = sample_archive(name)
    again = read_netcdf(written(tmp_path, sounding_of_archive(archive))).value
    assert again.report == archive.reports[0]
    assert again.report.levels.reasons == archive.levels.reasons


def test_values_are_on_the_steps_of_the_code(tmp_path) -> None:
    """Of an encoded report the file has the values a reader decodes, with their resolution."""
    archive = sample_archive()
    path = written(tmp_path, sounding_of_archive(archive))
    decoded = decode_reports(archive.reports[0].text).value[0].levels
    with netCDF4.Dataset(path) as dataset:
        dataset.set_auto_maskandscale(False)
        tenths = dataset["air_temperature"][...]
        assert dataset["air_temperature"].code_resolution == "0.2 K (code table 3931)"
        assert dataset["wind_from_direction"].code_resolution == "5 degree"
        assert dataset["wind_speed"].units == "knot"
        assert dataset["air_pressure"].units == "Pa"
    known = np.isfinite(decoded["air_temperature"])
    assert np.array_equal(tenths[known], np.rint(decoded["air_temperature"][known] * 10))
    assert len(tenths) == len(decoded)


def test_missing_is_not_absent(tmp_path) -> None:
    """A group of solidi, a group that is not there and a computed value have their own status."""
    text = "TTAA 59001 90417 99968 13827 18004 00140 ///// ///// 92803 15658 19014=\n"
    sounding = read_netcdf(written(tmp_path, sounding_from(text))).value
    at = {float(p): i for i, p in enumerate(sounding.levels["air_pressure"])}
    status = sounding.status
    assert status["air_temperature"][at[925.0]] == REPORTED
    assert status["air_temperature"][at[1000.0]] == REPORTED_MISSING
    assert status["wind_speed"][at[1000.0]] == REPORTED_MISSING
    assert status["geopotential_height"][at[968.0]] == NOT_REPORTED
    assert status["geopotential_height"][at[1000.0]] == REPORTED


def test_removed_values_keep_their_status(tmp_path) -> None:
    """What quality control took out of an archived level is told from what was never there."""
    sounding, _rows = igra_sounding()
    status = {name: values.copy() for name, values in sounding.status.items()}
    absent = np.flatnonzero(status["air_temperature"] == REPORTED_MISSING)
    status["air_temperature"][absent[0]] = REMOVED
    changed = replace(sounding, status=status)
    again = read_netcdf(written(tmp_path, changed)).value
    assert again == changed
    assert again.status["air_temperature"][absent[0]] == REMOVED


def test_a_value_of_no_group_is_computed() -> None:
    """A value that no group of the report holds is called computed."""
    sounding = sounding_from("TTAA 59001 90417 99968 13827 18004 92803 15658 19014=\n")
    height = sounding.levels["geopotential_height"].copy()
    height[0] = 410.0
    levels = Levels(
        {**sounding.levels.columns, "geopotential_height": height}, sounding.levels.kinds
    )
    from encoder.sounding import report_status

    assert report_status(sounding.report, levels)["geopotential_height"][0] == COMPUTED


def test_an_archived_sounding_keeps_its_integers(tmp_path) -> None:
    """Real archived figures are stored as they were: Pa, tenths of degC, tenths of m s-1."""
    sounding, rows = igra_sounding()
    path = written(tmp_path, sounding)
    assert read_netcdf(path).value == sounding
    with netCDF4.Dataset(path) as dataset:
        dataset.set_auto_maskandscale(False)
        assert dataset["air_pressure"].dtype == np.int32
        assert "scale_factor" not in dataset["air_pressure"].ncattrs()
        assert dataset["air_temperature"].dtype == np.int16
        assert dataset["air_temperature"].steps_per_unit == 10
        assert dataset["wind_speed"][0] == int(rows[0][46:51])
        assert dataset["wind_speed"].units == "m s-1"


def test_winds_by_height_keep_their_place(tmp_path) -> None:
    """Without any pressure the height is the vertical coordinate and no pressure is written."""
    with netCDF4.Dataset(written(tmp_path, real_sounding(TEXTS["S1-PP"]))) as dataset:
        assert dataset["geopotential_height"].axis == "Z"
        assert "air_pressure" not in dataset.variables
        assert dataset["wind_speed"].coordinates == "time latitude longitude geopotential_height"
        assert dataset.geospatial_vertical_positive == "up"
        assert dataset.geospatial_vertical_max == dataset["geopotential_height"][...].max()


def test_the_shear_of_a_maximum_wind_is_a_variable(tmp_path) -> None:
    """Shear below and above is stored where there is one; CF has no standard name for it."""
    levels = Levels(
        {
            "air_pressure": [300.0, 200.0],
            "wind_speed": [40.0, 50.0],
            "wind_from_direction": [270.0, 275.0],
            "wind_shear_below": [np.nan, 7.0],
            "wind_shear_above": [np.nan, np.nan],
        },
        [int(LevelKind.STANDARD), int(LevelKind.MAXIMUM_WIND)],
    )
    sounding = Sounding(STATION, MOMENT, MOMENT, levels)
    path = written(tmp_path, sounding)
    assert read_netcdf(path).value == sounding
    with netCDF4.Dataset(path) as dataset:
        below = dataset["wind_shear_below"]
        assert below[...].tolist() == [None, 7.0]
        assert (below.units, below.flag_meanings) == ("m s-1", "not_given")
        assert below.flag_values == below.getncattr("_FillValue")
        assert "standard_name" not in below.ncattrs()
        assert "wind_shear_above" not in dataset.variables
        assert deviations(dataset, PRODUCTS["levels"]) == []


def test_levels_with_drift_and_times(tmp_path) -> None:
    """Positions and times of single levels are kept beside those of the sounding."""
    levels = Levels(
        {
            "time": [0.0, 312.5],
            "air_pressure": [968.4, 850.07],
            "air_temperature": [13.9, 9.13],
            "latitude": [53.4127, 53.41301],
            "longitude": [-18.2751, -18.27],
        },
        [int(LevelKind.SURFACE), int(LevelKind.STANDARD)],
    )
    sounding = Sounding(STATION, MOMENT, MOMENT, levels)
    path = written(tmp_path, sounding)
    assert read_netcdf(path).value == sounding
    with netCDF4.Dataset(path) as dataset:
        assert dataset["elapsed_time"].units == "s"
        assert list(dataset["level_latitude"][...]) == [53.4127, 53.41301]


def test_a_report_that_says_nothing(tmp_path) -> None:
    """A NIL report is archived with no levels and comes back."""
    sounding = sounding_from("TTAA 59001 90417 NIL=\n")
    assert len(sounding.levels) == 0
    assert read_netcdf(written(tmp_path, sounding)).value == sounding


def test_moment_of_a_report() -> None:
    """A report names day and hour; with the month they are a moment, or none."""
    report = decode_reports("TTAA 81121 90417 99968 13827 18004=\n").value[0]
    assert moment_of(report, "2031-07").value == datetime(2031, 7, 31, 12, tzinfo=UTC)
    for month in ("2031-06", "2031", "never"):
        result = moment_of(report, month)
        assert result.value is None
        assert [item.code for item in result.diagnostics] == ["report-without-time"]


def test_parts_of_one_sounding_among_others() -> None:
    """As sent is one stretch where only blanks lie between the parts, else part after part."""
    one, two = "TTAA 59001 90417 99968 13827 18004=", "TTBB 59008 90417 00968 13827="
    other = "TTAA 59001 90731 99697 18479 29007="
    together = decode_reports(f"{one}\r\n\r\n{two}\n").value[0]
    assert report_as_sent(together) == f"{one}\r\n\r\n{two}"
    apart = decode_reports(f"{one}\n{other}\n{two}\n").value[0]
    assert report_as_sent(apart) == f"{one}\n{two}\n"
