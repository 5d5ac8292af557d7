"""Diagnostics of the stage: flight. Reading, preparing and checking what goes in."""

from __future__ import annotations

from encoder.diagnostics import Rule, Severity

ERROR, WARNING, NOTE = Severity.ERROR, Severity.WARNING, Severity.NOTE

_PRACTICE = "common practice, no source"
_LOOK = "Look at these rows; declare them missing with a quality edit if they are wrong."

FILES: dict[str, Rule] = {
    "file-not-found": Rule(
        ERROR, "There is no such file.", "Check the name and the folder it is looked for in."
    ),
    "file-not-readable": Rule(
        ERROR, "The file cannot be opened or read.", "Check that it is a file and its permissions."
    ),
    "file-too-large": Rule(
        ERROR,
        "The file is larger than any flight.",
        "Check that it is the right file; one flight a file.",
    ),
    "file-not-text": Rule(
        ERROR,
        "The file is binary.",
        "Give a text file; export the flight as comma-separated text first.",
    ),
    "file-empty": Rule(ERROR, "The file holds no lines to read.", "Check that it is complete."),
    "file-exists": Rule(
        ERROR,
        "A file that would be written exists already.",
        "Choose another folder, or move the file away first.",
    ),
    "file-not-writable": Rule(
        ERROR, "A file cannot be written.", "Check the folder and its permissions."
    ),
    "encoding-not-utf-8": Rule(
        ERROR,
        "The file is not encoded in UTF-8.",
        "Save it again with the encoding UTF-8.",
    ),
    "byte-order-mark": Rule(
        NOTE,
        "The file begins with a byte order mark.",
        "Nothing needs to be done: the mark is skipped.",
    ),
}
"""Faults of a file as such."""

DOCUMENT: dict[str, Rule] = {
    "json-not-valid": Rule(
        ERROR, "The file is not a JSON object.", "Correct the place named; keys need quotes."
    ),
    "key-unknown": Rule(
        ERROR, "A key is not part of the format.", "Correct the spelling or remove the key."
    ),
    "key-missing": Rule(
        ERROR,
        "A key that is needed is missing.",
        "Add it; write null where a value was not observed and null is allowed.",
    ),
    "value-not-allowed": Rule(
        ERROR,
        "A value is of the wrong kind or outside its range.",
        "Correct the value; the schema flight.schema.json describes every key.",
    ),
    "station-not-identified": Rule(
        ERROR,
        "The station has neither a WMO index nor a WIGOS identifier.",
        "Give wmo_index, wigos_id or both.",
    ),
    "station-identifiers-differ": Rule(
        ERROR,
        "WMO index and WIGOS identifier name different stations.",
        "Correct one of them.",
        "WMO-No. 1160, identifiers of series 0-20000-0, from memory",
    ),
    "time-does-not-exist": Rule(ERROR, "A date or time does not exist.", "Correct the date."),
    "release-far-from-nominal": Rule(
        ERROR,
        "Release and nominal time cannot belong together.",
        "Correct the date of one of them.",
        _PRACTICE,
    ),
    "release-not-usual": Rule(
        WARNING,
        "The release is outside the usual time before the nominal hour.",
        "Check both times; a late or second release is reported as it was.",
        "widest of the published windows: 60 min before to 29 min after",
    ),
    "nominal-time-not-whole-hour": Rule(
        WARNING, "The nominal time is not a whole hour.", "Check that it is not the release time."
    ),
    "surface-given-twice": Rule(
        ERROR, "One surface value is given in two ways.", "Keep the one that was observed."
    ),
    "surface-dew-point-above-temperature": Rule(
        ERROR, "The surface dew point is above the temperature.", "Correct one of them."
    ),
    "surface-wind-incomplete": Rule(
        WARNING,
        "The surface wind lacks direction or speed.",
        "Give both, or null for both.",
    ),
    "groups-without-indicator": Rule(
        ERROR,
        "Groups to append lack the indicator of their section.",
        "Put the indicator of the section first, for example 61616.",
        "WMO-No. 306 Volume I.1, FM 35, sections 9 and 10",
    ),
    "edit-range-not-given": Rule(
        ERROR,
        "A quality edit needs one range: of time or of lines.",
        "Give from_time_s and to_time_s, or from_line and to_line.",
    ),
    "edit-column-unknown": Rule(
        ERROR, "A quality edit names a column the profile lacks.", "Correct the name."
    ),
    "edit-without-rows": Rule(
        WARNING, "A quality edit meets no row.", "Check its limits; nothing was changed."
    ),
    "edit-applied": Rule(
        NOTE,
        "A quality edit took values out of use.",
        "The profile file keeps the values as received.",
    ),
    "edit-doubtful": Rule(
        NOTE, "A quality edit marks values as doubtful.", "The values are used as they are."
    ),
}
"""Faults of ``flight.json``."""

PROFILE: dict[str, Rule] = {
    "header-not-found": Rule(
        ERROR,
        "The first line is not a header of the form name [unit].",
        "Begin with a line such as time [s],air_pressure [hPa],air_temperature [degC].",
    ),
    "separator-not-comma": Rule(
        ERROR,
        "Cells are not separated by commas.",
        "Export with commas between cells and decimal points in numbers.",
    ),
    "column-unknown": Rule(
        ERROR, "A header cell nearly names a quantity.", "Correct the name; case matters."
    ),
    "column-not-used": Rule(
        NOTE,
        "A column names no known quantity.",
        "Rename it if it should be used; otherwise nothing needs to be done.",
    ),
    "column-repeated": Rule(
        ERROR, "Two columns claim the same quantity.", "Remove or rename one of them."
    ),
    "column-missing": Rule(
        ERROR,
        "A quantity that a flight needs has no column.",
        'Add the column. Where winds alone were observed, say "winds_alone": true in '
        "flight.json; temperature is then not needed.",
    ),
    "column-empty": Rule(
        WARNING, "A column holds no value at all.", "Check the export; it counts as missing."
    ),
    "column-empty-but-needed": Rule(
        ERROR,
        "A column that a flight needs holds no value.",
        'Check the export. Where winds alone were observed, say "winds_alone": true in '
        "flight.json; temperature and pressure are then not needed.",
    ),
    "surface-pressure-needed": Rule(
        ERROR,
        "A profile by pressure needs the pressure at the surface.",
        "Give surface.air_pressure_hpa, or leave the pressures of the profile out.",
    ),
    "row-not-falling": Rule(
        NOTE,
        "A row of a dropped sonde is not below every row before it.",
        "Nothing needs to be done for noise; look at the rows named if there are many.",
    ),
    "drop-rises": Rule(
        ERROR,
        "The rows of a dropped sonde must fall as time goes on.",
        "Give the rows in the order of time, or correct station.platform in flight.json.",
    ),
    "splash-time-computed": Rule(
        NOTE,
        "The time a dropped sonde reached the surface was computed.",
        "Give drop.splash_time in flight.json if it is known.",
        "common practice, no source",
    ),
    "splash-before-release": Rule(
        ERROR,
        "A dropped sonde cannot reach the surface before its release.",
        "Correct drop.splash_time or release_time in flight.json.",
    ),
    "column-superseded": Rule(
        NOTE,
        "Two columns give the same quantity in two ways.",
        "Nothing needs to be done: the one named is used.",
    ),
    "humidity-not-given": Rule(
        WARNING,
        "The profile has no humidity.",
        "Add relative_humidity, dew_point_temperature or dew_point_depression if it was measured.",
    ),
    "wind-not-given": Rule(
        WARNING,
        "The profile has no complete wind.",
        "Add direction and speed, or both components, if wind was measured.",
    ),
    "unit-not-given": Rule(
        ERROR, "A header cell has no unit.", "Add the unit in brackets, in UDUNITS spelling."
    ),
    "unit-unknown": Rule(ERROR, "A unit is not known.", "Write it in UDUNITS spelling."),
    "unit-of-other-kind": Rule(
        ERROR, "A unit measures something else.", "Write it in UDUNITS spelling."
    ),
    "time-without-release": Rule(
        ERROR,
        "Times of day cannot be counted from a release that is not known.",
        "Correct release_time in flight.json, or give seconds since release.",
    ),
    "profile-without-rows": Rule(ERROR, "There are no rows.", "Check that the file is complete."),
    "line-not-as-header": Rule(
        ERROR,
        "A line has another number of cells than the header.",
        "Every line needs one cell for each header cell, empty where a value is missing.",
    ),
    "cell-not-readable": Rule(
        ERROR, "A cell is neither a value nor empty.", "Correct the cell or leave it empty."
    ),
}
"""Faults of ``profile.csv``."""

ASCENT: dict[str, Rule] = {
    "ascent-without-rows": Rule(
        ERROR,
        "No row above the surface is left.",
        "Check time, pressure and release point: sonde rows need time above 0 and pressure below "
        "the surface pressure.",
    ),
    "few-rows": Rule(
        WARNING, "The ascent has hardly any rows.", "Check that the profile file is complete."
    ),
    "row-without-time": Rule(
        WARNING, "Rows without a time are left out.", "Give every row its time."
    ),
    "row-before-release": Rule(
        NOTE,
        "Rows up to release are left out.",
        "Nothing needs to be done: the surface observation stands for the release.",
    ),
    "rows-out-of-order": Rule(
        WARNING, "Rows were not in the order of time and were sorted.", "Check the export."
    ),
    "row-repeats-time": Rule(
        WARNING,
        "Rows with the time of an earlier row are left out.",
        "Check the export; the first row of each time is kept.",
    ),
    "row-without-pressure": Rule(
        WARNING,
        "Rows without pressure are left out.",
        "Winds measured after pressure was lost do not belong in TEMP.",
        "WMO-No. 306, 35.1.5",
    ),
    "row-without-height": Rule(
        WARNING,
        "Rows without height and pressure are left out.",
        "Without either the row has no place in the vertical.",
    ),
    "row-not-above-surface": Rule(
        NOTE,
        "Rows not above the surface observation are left out.",
        "Check the surface pressure if there are many.",
    ),
    "pressure-spike": Rule(
        WARNING,
        "Single rows far above their neighbours are left out.",
        _LOOK,
        _PRACTICE,
    ),
    "row-not-rising": Rule(
        NOTE,
        "Rows that repeat the height reached before are left out.",
        "Nothing needs to be done: the resolution of the file is finer in time than in pressure.",
    ),
    "pressure-stuck": Rule(
        WARNING,
        "The pressure stayed the same for longer than its resolution explains.",
        _LOOK,
        _PRACTICE,
    ),
    "row-descending": Rule(
        WARNING,
        "Rows below a height reached before are left out.",
        "Check whether the balloon sank or the sensor failed.",
    ),
    "row-after-burst": Rule(
        NOTE,
        "Rows after the highest point are kept apart as descent.",
        "Nothing needs to be done: only the ascent is reported.",
        "WMO-No. 306, 35.1.6",
    ),
    "pressure-computed": Rule(
        NOTE, "Pressure was computed.", "Nothing needs to be done.", "hypsometric equation"
    ),
    "height-computed": Rule(
        NOTE, "Height was computed.", "Nothing needs to be done.", "hypsometric equation"
    ),
    "height-not-computable": Rule(
        WARNING,
        "Height cannot be computed where temperature is missing up to the top.",
        "Levels there have no height.",
    ),
    "wind-incomplete": Rule(
        WARNING,
        "Wind with only one of direction and speed counts as missing.",
        "Check the export.",
    ),
    "humidity-without-dew-point": Rule(
        NOTE,
        "Air without any moisture has no dew point.",
        "The dew point is missing there.",
    ),
    "humidity-disagrees": Rule(
        WARNING,
        "Relative humidity and dew point of the file do not belong together.",
        "Check the vapour pressure formula; the relative humidity is used.",
    ),
}
"""What was done to turn rows into an ascent."""

CHECKS: dict[str, Rule] = {
    "values-impossible": Rule(
        WARNING,
        "Values outside the gross limits count as missing.",
        "Check the sensor; -9999 and the like must be empty cells.",
        _PRACTICE,
    ),
    "column-impossible": Rule(
        ERROR,
        "So many values of a column are outside the gross limits that it cannot be trusted.",
        "Correct the unit in the header.",
        _PRACTICE,
    ),
    "unit-doubtful": Rule(
        ERROR,
        "The values of a column fit another unit.",
        "Correct the unit in the header, or the surface observation.",
        _PRACTICE,
    ),
    "humidity-above-saturation": Rule(
        NOTE,
        "Relative humidity is above 100 %.",
        "It is used as measured and coded as saturation.",
    ),
    "superadiabatic": Rule(
        WARNING,
        "Temperature falls faster with height than dry air can.",
        _LOOK,
        "Weather and Forecasting 11 (1996), pages 350-359: 1 K, from 50 hPa above the surface",
    ),
    "hydrostatic": Rule(
        WARNING,
        "Height differs from the height pressure and temperature give.",
        "Check pressure, temperature and height from this row on.",
        _PRACTICE,
    ),
    "ascent-rate": Rule(
        WARNING,
        "The balloon rises too slowly or too fast.",
        "Check for icing, a leak, or wrong time or height.",
        _PRACTICE,
    ),
    "time-gap": Rule(
        WARNING,
        "Rows are missing for a while.",
        "Check for loss of signal. A gap of 20 hPa or more (wind: 50 hPa) is coded as a layer "
        "without data.",
        _PRACTICE,
    ),
    "surface-pressure-unusual": Rule(
        WARNING,
        "The surface pressure is unusual for the elevation.",
        "Check pressure and elevation; the pressure must not be reduced to sea level.",
        _PRACTICE,
    ),
    "surface-pressure-contradicted": Rule(
        ERROR,
        "The surface pressure and the first sonde rows contradict each other.",
        "Correct the one that is wrong: the surface pressure is that of the release point, not "
        "reduced to sea level.",
        _PRACTICE,
    ),
    "surface-differs": Rule(
        WARNING,
        "The surface observation and the first rows of the sonde differ.",
        "Check the surface observation and the preparation of the sonde.",
        _PRACTICE,
    ),
}
"""Findings on values that could be read."""

RULES: dict[str, Rule] = {**FILES, **DOCUMENT, **PROFILE, **ASCENT, **CHECKS}
