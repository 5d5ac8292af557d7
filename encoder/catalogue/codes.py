"""Diagnostics of the code forms: encoding, decoding, and merging the parts of a sounding."""

from __future__ import annotations

from encoder.diagnostics import Rule, Severity

ERROR, WARNING, NOTE = Severity.ERROR, Severity.WARNING, Severity.NOTE
_I1 = "WMO-No. 306 Volume I.1"
_LOOK = "Compare with the original message or the flight; correct the group by hand if it is known."

RULES: dict[str, Rule] = {
    "no-report": Rule(
        ERROR,
        "The text holds no part of a known code form.",
        "Give the text of a report that begins with its letters, for example TTAA or PPBB.",
        _I1,
    ),
    "text-outside-report": Rule(
        NOTE,
        "Text outside any report was not read.",
        "Nothing to do if it is a heading or a remark; else look for a damaged beginning (TTAA).",
    ),
    "lower-case": Rule(
        NOTE,
        "The report is written in small letters.",
        "It was read as if in capitals; send reports in capitals.",
    ),
    "report-not-ended": Rule(
        NOTE,
        "The part does not end with an equals sign.",
        "Check that nothing is cut off.",
        "WMO-No. 386",
    ),
    "groups-run-together": Rule(
        WARNING,
        "Groups stand without a blank between them.",
        "They were read as groups of five; compare with the original.",
    ),
    "group-malformed": Rule(
        ERROR,
        "A group is not of five figures or solidi.",
        _LOOK,
        _I1,
    ),
    "group-missing": Rule(ERROR, "A group that must be there is not.", _LOOK, _I1),
    "group-unexpected": Rule(
        ERROR,
        "Groups fit no section at their place.",
        "They are kept as received; look for a missing or extra group just before them.",
        _I1,
    ),
    "letters-wrong": Rule(ERROR, "The part opens with other letters.", _LOOK, _I1),
    "indicator-wrong": Rule(ERROR, "The group has another indicator figure.", _LOOK, _I1),
    "station-unknown": Rule(
        ERROR,
        "The station number is missing or not five figures.",
        "Set station.wmo_index in flight.json, or correct the group.",
        _I1,
    ),
    "call-sign-unknown": Rule(
        ERROR,
        "The call sign is missing.",
        "Set station.call_sign in flight.json, or correct the group.",
        _I1,
    ),
    "position-unknown": Rule(
        ERROR,
        "The position is missing or impossible.",
        "Set station.latitude and station.longitude in flight.json, or correct the groups.",
        _I1,
    ),
    "marsden-square": Rule(
        WARNING,
        "The Marsden square and the position contradict each other.",
        "One of the three groups of the position is wrong; compare with the track of the ship.",
        f"{_I1}, code table 2590",
    ),
    "time-not-codable": Rule(
        ERROR,
        "The time cannot be coded.",
        "Check nominal_time and release_time.",
        _I1,
    ),
    "time-impossible": Rule(ERROR, "The figures are no time.", _LOOK, _I1),
    "figure-not-solidus": Rule(
        NOTE,
        "Part D ends its time group with a solidus.",
        "Nothing is lost; the figure has no meaning there.",
        _I1,
    ),
    "pressure-impossible": Rule(ERROR, "The pressure is impossible.", _LOOK, _I1),
    "figures-impossible": Rule(ERROR, "The figures are impossible.", _LOOK, _I1),
    "figures-partly-missing": Rule(
        ERROR,
        "Some figures of a value are solidi, others not.",
        _LOOK,
        _I1,
    ),
    "depression-unused-figure": Rule(
        ERROR,
        "The figures 51 to 55 of code table 0777 are not used.",
        _LOOK,
        f"{_I1}, code table 0777",
    ),
    "depression-beyond-table": Rule(
        NOTE,
        "The dew-point depression is beyond the end of the code table.",
        "Nothing to do; a reader sees 49 K.",
        "common practice, no source",
    ),
    "depression-negative": Rule(
        NOTE,
        "The dew point lies above the temperature.",
        "Nothing to do if the sensor showed slight supersaturation; else check the humidity.",
        "common practice, no source",
    ),
    "humidity-by-convention": Rule(
        NOTE,
        "A depression stands for any dry air, by a convention of its time.",
        "Do not use it as a measured humidity.",
        "NCAR/TN-404, table 3.1 (1973 and 1993); the depression of 30 K: from memory",
    ),
    "no-edition": Rule(
        ERROR,
        "There is no declaration of the form for the day that was given.",
        "Check the date. If it is right, keep the message as it is: aerogram convert puts it whole "
        "into quarantine.jsonl and aerogram archive writes nothing of it, so that it can be read "
        "when a declaration of that time is found.",
        "dates from memory, uncertain",
    ),
    "flight-without-edition": Rule(
        WARNING,
        "No report can be made of the flight: no edition of the form is known for its day.",
        "Nothing to do if the rows are what is wanted; else check the date of the flight.",
        "dates from memory, uncertain",
    ),
    "edition-from-memory": Rule(
        WARNING,
        "Some of the edition the report was read in is from memory.",
        "Compare with a description of the code of that time before the values are used; the page "
        "of the form says which part has a source.",
        "the page of the form (aerogram explain --form)",
    ),
    "humidity-without-temperature": Rule(
        ERROR,
        "A dew-point depression stands without a temperature.",
        _LOOK,
        _I1,
    ),
    "wind-direction-impossible": Rule(ERROR, "The wind direction is beyond 360.", _LOOK, _I1),
    "wind-calm-direction": Rule(
        WARNING,
        "A calm and a direction or speed contradict each other.",
        _LOOK,
        _I1,
    ),
    "wind-half-missing": Rule(
        WARNING,
        "Only one of direction and speed is known.",
        _LOOK,
        _I1,
    ),
    "not-a-standard-level": Rule(
        ERROR,
        "The figures name no standard level of this part.",
        _LOOK,
        _I1,
    ),
    "level-number": Rule(
        WARNING,
        "A level number is out of turn.",
        "A level may be lost here, or one sent twice; compare with the original.",
        f"{_I1}, 35.3.1",
    ),
    "level-order": Rule(
        ERROR,
        "Pressures do not decrease from level to level.",
        _LOOK,
        f"{_I1}, 35.2.2",
    ),
    "last-wind-figure": Rule(
        WARNING,
        "The figure Id and the wind groups contradict each other.",
        _LOOK,
        f"{_I1}, code table 1734",
    ),
    "height-inconsistent": Rule(
        WARNING,
        "Height and temperature of a layer contradict each other.",
        "Check the height and temperature figures of both levels of the layer.",
        "hypsometric equation; limits are common practice, no source",
    ),
    "record-not-in-section": Rule(
        ERROR,
        "The section holds no such record.",
        "Move the record to the section it belongs to.",
        _I1,
    ),
    "value-not-codable": Rule(
        ERROR,
        "The value is outside what the code can hold.",
        "Check the value in the flight; it is reported missing.",
        _I1,
    ),
    "altitude-like-marker": Rule(
        NOTE,
        "An altitude would read as the marker of another section.",
        "Nothing to do; 10 m are within the accuracy of the altitude.",
        _I1,
    ),
    "no-stability-index": Rule(
        NOTE,
        "The stability index is not computed.",
        "Nothing to do; figure 91 is sent in its place.",
        "WMO-No. 306 Volume I.2, B/C25 annex I",
    ),
    "part-twice": Rule(
        WARNING,
        "The same part of one sounding occurs more than once.",
        "The better one was used; decode the other on its own to compare.",
    ),
    "parts-disagree": Rule(
        WARNING,
        "Two parts of one sounding contradict each other.",
        _LOOK,
        f"{_I1}, 35.3.1",
    ),
    "correction-announced": Rule(
        NOTE,
        "A part says that it corrects an earlier one.",
        "Nothing to do; give it together with the earlier one, and it is used in its place.",
        "national practice, from memory",
    ),
    "standard-level-missing": Rule(
        WARNING,
        "A standard level is missing between two others.",
        "Look for groups lost in the message; a level without data is sent as solidi.",
        f"{_I1}, 35.2.2",
    ),
    "parts-missing": Rule(
        NOTE,
        "A part of the sounding is not in the text.",
        "Add the missing part to the same file, if it was sent.",
    ),
    "levels-not-in-parts": Rule(
        ERROR,
        "A part cannot be made from this flight.",
        "See the diagnostics of the flight.",
    ),
}
