"""``flight.json`` against its schema: every fault at once, with its path, in plain words."""

from __future__ import annotations

import json

import pytest

from encoder.formats.flight_json import document_faults, flight_document, read_flight_document
from tests.flights import FACTS, codes_of, facts_of, the


def faults(**changes):
    """Return the codes and paths of the faults of a changed document."""
    return [(item.code, item.path) for item in document_faults(facts_of(**changes))]


def test_valid_document_has_no_fault():
    """The facts used in the tests fit the schema."""
    assert document_faults(FACTS) == ()
    assert flight_document(json.dumps(FACTS)) == (FACTS, ())


@pytest.mark.parametrize(
    ("changes", "code", "path", "words"),
    [
        ({"station__lattitude": 5}, "key-unknown", ("station", "lattitude"), '"latitude"'),
        ({"remark": []}, "key-unknown", ("remark",), '"remarks"'),
        ({"xyzzy": 1}, "key-unknown", ("xyzzy",), "known are format,"),
        ({"station__wmo_index": "9041"}, "value-not-allowed", ("station", "wmo_index"), "five"),
        ({"station__wmo_index": 90417}, "value-not-allowed", ("station", "wmo_index"), "text in q"),
        ({"station__latitude": 91}, "value-not-allowed", ("station", "latitude"), "90 degree"),
        ({"station__latitude": True}, "value-not-allowed", ("station", "latitude"), "a number"),
        ({"station__name": ""}, "value-not-allowed", ("station", "name"), "not empty"),
        ({"station__wmo_region": 8}, "value-not-allowed", ("station", "wmo_region"), "at most 7"),
        ({"format": "x"}, "value-not-allowed", ("format",), '"aerogram-flight-1"'),
        ({"release_time": "2031-07-15 17:16"}, "value-not-allowed", ("release_time",), "UTC time"),
        (
            {"surface__air_pressure_hpa": None},
            "value-not-allowed",
            ("surface", "air_pressure_hpa"),
            "",
        ),
        (
            {"surface__air_pressure_hpa": 96480},
            "value-not-allowed",
            ("surface", "air_pressure_hpa"),
            "at most 1100 hPa",
        ),
        (
            {"surface__cloud": {"low": "12"}},
            "value-not-allowed",
            ("surface", "cloud", "low"),
            "one fig",
        ),
        ({"balloon__mass_g": 0}, "value-not-allowed", ("balloon", "mass_g"), "more than 0 g"),
        ({"balloon__gas": "air"}, "value-not-allowed", ("balloon", "gas"), '"hydrogen"'),
        (
            {"reporting__section_7_parts": ["A", "A"]},
            "value-not-allowed",
            ("reporting", "section_7_parts"),
            "without repetitions",
        ),
        ({"profile": "../x.csv"}, "value-not-allowed", ("profile",), "same folder"),
    ],
)
def test_fault_is_named_with_its_path(changes, code, path, words):
    """What was expected and what was found is said in words, at the path of the fault."""
    (found,) = document_faults(facts_of(**changes))
    assert (found.code, found.path) == (code, path)
    assert words in found.message


def test_missing_keys_are_named_one_by_one():
    """Each key that is needed and missing is told once."""
    assert [
        (item.code, item.path) for item in document_faults({"format": "aerogram-flight-1"})
    ] == [
        ("key-missing", ("station",)),
        ("key-missing", ("nominal_time",)),
        ("key-missing", ("release_time",)),
        ("key-missing", ("surface",)),
    ]


def test_all_faults_are_told_at_once():
    """Three faults in three places are three diagnostics."""
    assert faults(station__latitude=91, surface__air_pressure_hpa="x", typo=1) == [
        ("key-unknown", ("typo",)),
        ("value-not-allowed", ("station", "latitude")),
        ("value-not-allowed", ("surface", "air_pressure_hpa")),
    ]


def test_station_needs_an_identifier():
    """WMO index or WIGOS identifier: one of them is needed, null does not count."""
    document = facts_of(station__wmo_index=None)
    assert document_faults(document) == ()
    document["station"]["wigos_id"] = None
    assert [item.code for item in document_faults(document)] == ["station-not-identified"]
    del document["station"]["wigos_id"]
    assert [item.code for item in document_faults(document)] == ["station-not-identified"]


def test_quality_edit_needs_one_range():
    """Times or lines, not both and not neither."""
    edit = {"columns": ["air_temperature"], "action": "missing", "reason": "Icing."}
    for limits in ({}, {"from_time_s": 1, "to_time_s": 2, "from_line": 1, "to_line": 2}):
        assert faults(quality_edits=[{**edit, **limits}]) == [
            ("edit-range-not-given", ("quality_edits", 0))
        ]
    assert faults(quality_edits=[{**edit, "from_line": 1, "to_line": 2}]) == []


def test_comments_are_allowed_in_every_object():
    """JSON has no comments, so ``$comment`` is allowed everywhere and has no effect."""
    assert faults(**{"$comment": "a", "station__$comment": ["b", "c"]}) == []


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "line 1, column 1"),
        ("{", "line 1"),
        ('{"a": 1,\n "b" 2}', "line 2, column 6"),
        ("[1, 2]", "this is none"),
        ("3", "this is none"),
        ('{"a": NaN}', "write null"),
        ('{"a": 1, "a": 2}', 'the key "a" is there twice'),
        ("[" * 200_000, "nested too deeply"),
        ('{"a": ' + "1" * 5000 + "}", "limit"),
        ('{"format": "\\ud800"}', "surrogate"),
    ],
)
def test_text_that_is_no_document(text, words):
    """Everything that is no JSON object is one error with its place."""
    result = flight_document(text)
    assert result.value is None
    assert words in the(result, "json-not-valid").message


def test_hint_of_unknown_key_is_short_whatever_the_key():
    """A key of a million characters does not fill the screen."""
    (found,) = document_faults(facts_of(**{"x" * 1_000_000: 1}))
    assert len(found.as_text()) < 600


def test_diagnostics_of_a_file_name_it(tmp_path):
    """Each diagnostic carries the name of the file; a file that is not there is an error."""
    file = tmp_path / "flight.json"
    file.write_text('{"format": "aerogram-flight-1"}', encoding="utf-8")
    assert {item.file for item in read_flight_document(file).diagnostics} == {str(file)}
    assert codes_of(read_flight_document(tmp_path / "none.json")) == ["file-not-found"]
