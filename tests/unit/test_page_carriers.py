"""BUFR messages and netCDF files on the page: every row at its level."""

from __future__ import annotations

import numpy as np
import pytest

from encoder.archive import FlightArchive
from encoder.formats.bufr.compose import message_content
from encoder.formats.bufr.read import read_message
from encoder.formats.bufr.write import write_message
from encoder.formats.netcdf import write_netcdf
from encoder.page import flight_page, review_of_flight
from encoder.page.carriers import carrier_of_bufr, carrier_of_netcdf, levels_at
from encoder.page.document import page_document
from encoder.page.links import join_links
from encoder.resolution import coded_pressure


@pytest.fixture(scope="module")
def review(sample_flights):
    return review_of_flight(sample_flights["saltmere-point"])


@pytest.fixture(scope="module")
def message(review):
    content = message_content(review.flight, review.selected).value
    return write_message(content).value


def test_bufr_elements_stand_at_their_levels(review, message):
    """Each flagged level of the message is tied to the level of the same coded pressure."""
    sounding = read_message(message).value[0]
    levels = review.report.levels
    carrier = carrier_of_bufr(sounding, levels, "message.bufr")
    names = [column.name for column in carrier.columns]
    pressure = names.index("0 07 004")

    assert "0 12 101" in names
    for row in carrier.rows:
        if row.level is not None:
            coded = float(coded_pressure(np.array([row.cells[pressure] / 100.0]))[0])
            assert coded == float(levels["air_pressure"][row.level])
    tied = {row.level for row in carrier.rows} - {None}
    assert len(tied) >= 0.9 * len(levels)


def test_bufr_surface_is_told_from_a_standard_level_of_equal_pressure(review):
    """Two levels of one coded pressure are told apart by their kinds."""
    levels = review.report.levels
    surface = int(levels.having(1 << 17)[0])
    pressure = levels["air_pressure"][[surface, surface]]

    assert levels_at(levels, pressure, levels.kinds[[surface, surface]]) == [surface, surface]
    assert levels_at(levels, np.array([123.4])) == [None]


def test_netcdf_rows_stand_at_their_levels(review, tmp_path):
    """Rows of a flight file are found by their line, values equal the profile."""
    path = tmp_path / "flight.nc"
    write_netcdf(FlightArchive(review.flight, review.selected, (review.made,)), path)
    links = join_links(review)

    carrier = carrier_of_netcdf(str(path), review.report.levels, links.levels, "flight.nc")

    names = [column.name for column in carrier.columns]
    line, temperature = names.index("source_row"), names.index("air_temperature")
    profile = review.flight.profile
    own = dict(zip(profile.source_row.tolist(), profile["air_temperature"].tolist(), strict=True))
    seen = 0
    for row in carrier.rows:
        assert int(row.cells[line]) in links.levels[row.level].rows
        if row.cells[line] and row.cells[temperature] is not None:
            assert row.cells[temperature] == pytest.approx(own[int(row.cells[line])], abs=0.006)
            seen += 1
    assert seen > 30


def test_a_file_that_is_no_netcdf_is_no_carrier(review, tmp_path):
    """What cannot be opened gives nothing to show."""
    path = tmp_path / "x.nc"
    path.write_bytes(b"CDF\x01 not really")

    assert carrier_of_netcdf(str(path), review.report.levels, [], "x.nc") is None


def test_carriers_are_on_the_page_and_in_its_data(review, message):
    """The page shows the table, its data hold the same cells."""
    carrier = carrier_of_bufr(read_message(message).value[0], review.report.levels, "m<b>.bufr")

    page = flight_page(review, carriers=[carrier])
    data = page_document(review, carriers=[carrier])

    assert "m&lt;b&gt;.bufr" in page
    assert len(data["carriers"][0]["rows"]) == len(carrier.rows)
    assert data["carriers"][0]["columns"][0]["name"] == carrier.columns[0].name
