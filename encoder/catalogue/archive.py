"""Diagnostics of the archive: netCDF files of our own and of others, exports, station facts."""

from __future__ import annotations

from encoder.diagnostics import Rule, Severity

ERROR, WARNING, NOTE = Severity.ERROR, Severity.WARNING, Severity.NOTE

RULES: dict[str, Rule] = {
    "archive-too-large": Rule(
        ERROR, "The file is larger than any that is read at once.", "Split the file by time."
    ),
    "archive-not-netcdf": Rule(
        ERROR, "The file is neither classic netCDF nor netCDF-4.", "Check the name of the file."
    ),
    "archive-damaged": Rule(
        ERROR,
        "The file begins like netCDF but cannot be read.",
        "Fetch it again; it is cut off or damaged.",
    ),
    "archive-incomplete": Rule(
        ERROR,
        "A file that calls itself one of ours lacks a part or has a wrong one.",
        "Restore the file; it was changed after it was written.",
    ),
    "archive-other-product": Rule(
        ERROR, "The file is another product than the one wanted.", "Give a file of that product."
    ),
    "archive-other-station": Rule(
        ERROR,
        "A file of one station would hold two.",
        "Keep a file for each station.",
    ),
    "archive-station-unnamed": Rule(
        WARNING,
        "A sounding of an unnamed station is in no history.",
        "Give the station a name or an index; two unnamed stations may be different ones.",
    ),
    "archive-other-formula": Rule(
        ERROR,
        "The humidities of one file would come from two vapour-pressure formulas.",
        "Keep a file for each formula, or archive the flight with the formula of the file.",
    ),
    "archive-already-there": Rule(
        NOTE, "The sounding is in the history already.", "Nothing needs to be done."
    ),
    "archive-flight-differs": Rule(
        ERROR,
        "A flight file of that name says something else, and is left as it is.",
        "Give --replace to put the new one in its place, or another folder.",
    ),
    "archive-corrected": Rule(
        NOTE,
        "A sounding of the same time is replaced.",
        "Nothing needs to be done: the former one is kept, marked as superseded.",
    ),
    "archive-service-unknown": Rule(
        NOTE,
        "Facts for finding the file are not known.",
        "Give them in a file with --service; the conventions recommend them.",
        "Attribute Convention for Data Discovery 1.3",
    ),
    "archive-rows-not-placed": Rule(
        ERROR,
        "Rows of the ascent have no place among the rows of the profile.",
        "Prepare the ascent from the profile of the same flight; of rows without a time archive "
        "the levels alone.",
    ),
    "report-without-time": Rule(
        ERROR,
        "The date of a report is not known.",
        "Give the month with --month YYYY-MM; a report names only day and hour.",
    ),
    "report-without-position": Rule(
        ERROR,
        "The position of a report is not known.",
        "Give it with --position LATITUDE,LONGITUDE[,ELEVATION]; a land report names only the "
        "index of its station.",
    ),
    "netcdf-not-a-sounding": Rule(
        ERROR,
        "No sounding was recognised in a netCDF file.",
        "A sounding needs time, air_temperature and air_pressure or a height, each with its "
        "CF standard_name and units.",
        "CF conventions 1.11, chapters 3, 4 and 9",
    ),
    "netcdf-coordinate-missing": Rule(
        ERROR,
        "A coordinate that a flight needs was not recognised.",
        "Give the variable its CF standard_name, or the facts in a flight.json with --facts.",
        "CF conventions 1.11, chapter 4",
    ),
    "netcdf-variable-not-used": Rule(
        NOTE,
        "A variable was not understood, or is not needed.",
        "Nothing needs to be done unless the quantity is wanted: then give it its CF "
        "standard_name.",
        "CF conventions 1.11, 3.3",
    ),
    "netcdf-quantity-twice": Rule(
        WARNING,
        "Two variables give the same quantity.",
        "Check which one is meant; the first one is used.",
    ),
    "netcdf-unit-wrong": Rule(
        ERROR,
        "The units of a variable do not measure its quantity.",
        "Correct the attribute units.",
        "CF conventions 1.11, 3.1",
    ),
    "netcdf-choose-sounding": Rule(
        ERROR,
        "The file holds several soundings.",
        "Name one: FILE#1 is the first, FILE#2 the second.",
    ),
    "netcdf-ragged-wrong": Rule(
        ERROR,
        "The counts or indexes of a ragged file do not fit its levels.",
        "Restore the file.",
        "CF conventions 1.11, 9.3",
    ),
    "netcdf-rows-reversed": Rule(
        NOTE,
        "The rows of a file run from the end of the flight to its beginning.",
        "Nothing to do: they are read in the order of time and keep their numbers.",
    ),
    "netcdf-fact-assumed": Rule(
        WARNING,
        "A fact of the flight was taken from its rows.",
        "Give the fact in a flight.json with --facts if it is known.",
    ),
}
