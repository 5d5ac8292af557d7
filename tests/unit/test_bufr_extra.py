"""What a message says beyond its template: regional additions, unknown elements, marks."""

from __future__ import annotations

import json

import jsonschema
import numpy as np
import pytest

from encoder.cli.bufr_stream import sounding_text
from encoder.formats.bufr.document import soundings_as_json
from encoder.formats.bufr.explain import explanation_of, meaning_of
from encoder.formats.bufr.read import read_message
from encoder.schemas_folder import schema
from tests.unit.test_bufr_read import built, codes

PRESSURES = [95000.0, 94000.0]
REGION_IV = [
    309052,
    35035,
    204001,
    31021,
    103000,
    31001,
    7004,
    10009,
    12101,
    204000,
    13047,
    11044,
    11045,
    11054,
    11055,
    102000,
    31001,
    8040,
    7004,
    103000,
    31001,
    8040,
    7004,
    10009,
]
"""The template with what Region IV adds to it (WMO-No. 306 Volume I.2, B/C25, annex; the order of
the elements within a group is that of this test)."""


@pytest.fixture(scope="module")
def regional():
    """A sounding of two levels with every addition of Region IV."""
    message = built(
        REGION_IV,
        (2,),
        {
            "pressure": np.array([*PRESSURES, 94000.0, 70000.0, 65000.0, 2000.0]),
            "nonCoordinateGeopotentialHeight": np.array([500, 590, 595, 26500]),
            "reasonForTermination": 1,
            "#3#airTemperature->associatedField->associatedFieldSignificance": 21,
            "modifiedShowalterStabilityIndex": -3,
            "meanWindSpeedForSurfaceTo1500M": 7.5,
            "flightLevelSignificance": np.array([4, 9, 31]),
        },
        shear=(0, 1, 2, 1),
    )
    result = read_message(message)
    assert result.diagnostics[0].code != "bufr-not-decodable", result.diagnostics
    return result


def test_additions_of_region_iv_are_read(regional):
    """Corrected, doubtful and generated levels, the stability index and the mean winds."""
    (sounding,) = regional.value
    extras = {extra.kind: extra for extra in sounding.extra}

    assert sounding.levels["air_pressure"].tolist() == [950.0, 940.0]
    assert list(extras) == ["values", "corrected levels", "doubtful levels", "generated levels"]
    assert sounding.facts["showalter_index"] == -3.0
    assert sounding.facts["mean_speed_lowest"] == 7.5
    assert sounding.facts["termination_reason"] == 1.0
    corrected = dict(extras["corrected levels"].rows[0])
    assert corrected["pressure"] == 94000.0
    assert corrected["height"] == 595.0
    doubtful = [dict(row) for row in extras["doubtful levels"].rows]
    assert [row["pressure"] for row in doubtful] == [70000.0, 65000.0]
    assert [row["level_reason"] for row in doubtful] == [4.0, 9.0]
    assert dict(extras["generated levels"].rows[0])["height"] == 26500.0


def test_additions_are_shown_and_written(regional):
    """They are in the text, in the explanation and in JSON."""
    (sounding,) = regional.value
    document = json.loads(json.dumps(soundings_as_json(regional.value, regional.diagnostics)))

    jsonschema.validate(document, schema("soundings"))
    assert len(document["soundings"][0]["extra"]) == 5
    assert "doubtful levels:\n  level_reason 4, pressure 70000" in sounding_text(sounding)
    assert "doubtful temperature and height begin" in " ".join(explanation_of(sounding).split())
    assert meaning_of("031021", 21.0) == "indicator of correction, 1 bit"
    assert meaning_of("004059", 40.0) == "00 UTC, 12 UTC"


def test_elements_that_are_not_known_are_listed():
    """A local or rare element is kept and named by its descriptor; the others are read."""
    message = built(
        [309052, 2105, 2067],
        (2,),
        {
            "pressure": np.array(PRESSURES),
            "radiosondeOperatingFrequency": 403.0e6,
            "maximumAntennaGain": 12,
        },
    )
    result = read_message(message)
    told = {item.code: item for item in result.diagnostics}

    assert "bufr-element-unknown" in told
    assert "0 02 105" in told["bufr-element-unknown"].message
    assert result.value[0].extra[0].rows == ((("0 02 105", 12.0), ("frequency", 403.0e6)),)
    assert result.value[0].facts["frequency"] == 403.0e6


def test_associated_fields_of_the_levels_are_told():
    """Quality marks are not used, and that is said; the values beside them are read."""
    message = built([204008, 31021, 309052, 204000], (2,), {"pressure": np.array(PRESSURES)})
    result = read_message(message)

    assert "bufr-associated-fields" in codes(result)
    assert "associated field" in explanation_of(result.value[0])


def test_plain_messages_have_no_additions(sample_flights):
    """The templates alone: nothing beyond, nothing unknown."""
    from encoder.formats.bufr.compose import message_content
    from encoder.formats.bufr.write import write_message
    from encoder.levels import select_levels

    flight = sample_flights["halden-dome"]
    content = message_content(flight, select_levels(flight).value, rows="selected").value
    result = read_message(write_message(content).value)

    assert result.value[0].extra == ()
    assert codes(result) == []
