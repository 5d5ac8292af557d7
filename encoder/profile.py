"""The values a flight is made of: its rows, and who, where, when and with what.

:class:`Profile` holds numpy columns in the units of :mod:`encoder.columns`; the other classes hold
the facts of ``flight.json``. All are immutable. Reading and writing them is the business of
:mod:`encoder.formats`; turning the rows of a file into an ascent that can be coded is the business
of :mod:`encoder.ascent`.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from datetime import datetime

    from encoder.diagnostics import Diagnostic
    from encoder.resolution import WindUnit

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

SURFACE_ROW = 0
"""``source_row`` of a row that comes from the surface observation, not from the profile file."""


def frozen(values: Any, dtype: Any = np.float64) -> NDArray[Any]:
    """Return the values as a new, read-only, one-dimensional array."""
    array = np.array(values, dtype=dtype, copy=True).reshape(-1)
    array.flags.writeable = False
    return array


@dataclass(frozen=True, slots=True, eq=False)
class Profile:
    """Rows of a flight in the order of time.

    Attributes
    ----------
    columns : mapping of str to ndarray, each of shape (row,)
        Values by the names of :data:`encoder.columns.COLUMNS`, in its units, NaN for missing.
    source_row : ndarray of int, shape (row,)
        1-based line of ``profile.csv`` each row was read from; 0 for the surface observation.
    computed : mapping of str to str
        Columns that were computed, not measured, each with the formula used.

    Raises
    ------
    ValueError
        If the columns differ in length.
    """

    columns: Mapping[str, FloatArray]
    source_row: IntArray
    computed: Mapping[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        columns = {name: frozen(values) for name, values in self.columns.items()}
        rows = frozen(self.source_row, np.int64)
        lengths = {name: len(values) for name, values in columns.items()}
        if any(length != len(rows) for length in lengths.values()):
            msg = f"Expected every column to have {len(rows)} rows, got {lengths}."
            raise ValueError(msg)
        object.__setattr__(self, "columns", MappingProxyType(columns))
        object.__setattr__(self, "source_row", rows)
        object.__setattr__(self, "computed", MappingProxyType(dict(self.computed)))

    def __len__(self) -> int:
        return len(self.source_row)

    def __getitem__(self, name: str) -> FloatArray:
        return self.columns[name]

    def __contains__(self, name: str) -> bool:
        return name in self.columns

    def __iter__(self) -> Iterator[str]:
        return iter(self.columns)

    @property
    def by_height(self) -> bool:
        """Whether the rows have heights and not one pressure: winds of a pilot balloon."""
        return bool(
            np.any(np.isfinite(self.columns["geopotential_height"]))
            and not np.any(np.isfinite(self.columns["air_pressure"]))
        )

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Profile):
            return NotImplemented
        return (
            self.columns.keys() == other.columns.keys()
            and all(
                np.array_equal(values, other.columns[name], equal_nan=True)
                for name, values in self.columns.items()
            )
            and np.array_equal(self.source_row, other.source_row)
            and dict(self.computed) == dict(other.computed)
        )

    __hash__ = None  # type: ignore[assignment]  # holds arrays

    def select(self, rows: Any) -> Profile:
        """Return the rows picked by a boolean mask, an index array or a slice."""
        return Profile(
            {name: values[rows] for name, values in self.columns.items()},
            self.source_row[rows],
            self.computed,
        )

    def with_columns(
        self, columns: Mapping[str, FloatArray], computed: Mapping[str, str] | None = None
    ) -> Profile:
        """Return the profile with columns added or replaced, and how they were computed."""
        return Profile(
            {**self.columns, **columns},
            self.source_row,
            {**self.computed, **(computed or {})},
        )


@dataclass(frozen=True, slots=True)
class Station:
    """Where the balloon is released.

    Attributes
    ----------
    name : str
        Name of the station.
    latitude, longitude : float
        Degrees, north and east positive.
    elevation : float
        Height of the release point (barometer) above mean sea level, in m (geometric).
    wmo_index : str or None
        Block and station number, five figures (IIiii).
    wigos_id : str or None
        WIGOS station identifier, for example ``"0-20000-0-90417"``.
    wmo_region : int or None
        WMO Region, 1 to 7 (7 is the Antarctic).
    call_sign : str or None
        Of a ship, a mobile unit or an aircraft.
    """

    name: str
    latitude: float
    longitude: float
    elevation: float
    wmo_index: str | None = None
    wigos_id: str | None = None
    wmo_region: int | None = None
    call_sign: str | None = None


@dataclass(frozen=True, slots=True)
class CloudGroup:
    """Figures of the cloud group Nh CL h CM CH, each one character, ``/`` where not observed."""

    amount: str = "/"
    low: str = "/"
    base: str = "/"
    middle: str = "/"
    high: str = "/"


@dataclass(frozen=True, slots=True, eq=False)
class SurfaceObservation:
    """The observation at the release point at the time of release.

    Attributes
    ----------
    air_pressure : float
        hPa, NaN where not observed (winds alone).
    air_temperature, dew_point_temperature : float
        degC, NaN where not observed.
    relative_humidity : float
        %, over water, NaN where not observed.
    wind_from_direction, wind_speed : float
        degrees and m s-1, NaN where not observed.
    cloud : CloudGroup or None
        None where clouds were not observed.
    """

    air_pressure: float
    air_temperature: float
    relative_humidity: float
    dew_point_temperature: float
    wind_from_direction: float
    wind_speed: float
    cloud: CloudGroup | None = None

    def __eq__(self, other: object) -> bool:
        """Tell whether all values are equal; two that were not observed are."""
        if not isinstance(other, SurfaceObservation):
            return NotImplemented
        return self._known() == other._known()

    def __hash__(self) -> int:
        return hash(self._known())

    def _known(self) -> tuple[float | CloudGroup | None, ...]:
        """Return the values, None for one that was not observed."""
        numbers = (
            self.air_pressure,
            self.air_temperature,
            self.relative_humidity,
            self.dew_point_temperature,
            self.wind_from_direction,
            self.wind_speed,
        )
        return (*(None if np.isnan(value) else value for value in numbers), self.cloud)


@dataclass(frozen=True, slots=True)
class Instrument:
    """With what the sounding was made, in the figures of the common code tables.

    Attributes
    ----------
    radiosonde_type : int or None
        Common code table C-2 (0 to 255); the coded figures rara are its last two figures.
    correction : str
        Solar and infrared radiation correction, code table 3849, one figure or ``/``.
    tracking : int or None
        Tracking technique, common code table C-7 (0 to 127).
    wind_equipment : str
        Type of measuring equipment a4, code table 0265, one figure or ``/``.
    serial : str or None
        Serial number of the radiosonde.
    """

    radiosonde_type: int | None = None
    correction: str = "/"
    tracking: int | None = None
    wind_equipment: str = "/"
    serial: str | None = None


@dataclass(frozen=True, slots=True)
class Reporting:
    """How the station reports; the service's practice, not a property of the flight.

    Attributes
    ----------
    wind_unit : {"kt", "m s-1"}
        Unit of wind speeds in the coded report.
    criteria : str
        Name of the rule set in :mod:`encoder.levels.rules`.
    section_7_parts : tuple of str
        Parts that carry section 7 (31313).
    shear : bool
        Whether the vertical shear group 4vbvbvava is given.
    high_levels : bool
        Whether the standard levels 7, 5, 3, 2 and 1 hPa are given.
    regional_groups, national_groups : tuple of str
        Groups of sections 9 and 10 to append, beginning with their indicator (51515 …, 61616 …).
    regional_from_flight : bool
        Whether section 9 is formed from the flight where no groups for it are given.
    pilot_significant_by : {"altitude", "pressure"}
        In a PILOT, significant winds at altitudes with the fixed levels, or by pressure.
    pilot_standard_by : {"pressure", "altitude"}
        In a PILOT, standard levels by their pressure, or at the altitudes that stand for them.
    pilot_step : {None, 300, 500}
        In a PILOT, unit of altitudes in m; None for the one of the region.
    """

    wind_unit: WindUnit = "kt"
    criteria: str = "wmo"
    section_7_parts: tuple[str, ...] = ("A", "B", "C", "D")
    shear: bool = True
    high_levels: bool = False
    regional_groups: tuple[str, ...] = ()
    national_groups: tuple[str, ...] = ()
    regional_from_flight: bool = False
    pilot_significant_by: Literal["altitude", "pressure"] = "altitude"
    pilot_standard_by: Literal["pressure", "altitude"] = "pressure"
    pilot_step: Literal[300, 500] | None = None


@dataclass(frozen=True, slots=True)
class Flight:
    """One flight: facts, rows as read, and the ascent ready for level selection.

    Attributes
    ----------
    station : Station
    nominal_time, release_time : datetime
        UTC, aware.
    surface : SurfaceObservation
    instrument : Instrument
    reporting : Reporting
    profile : Profile
        Every row of the file, units converted, in the order of the file.
    ascent : Profile
        Prepared rows, pressure strictly decreasing and time strictly increasing; row 0 is the
        surface observation. Has every column of :data:`encoder.columns.PROFILE_COLUMNS`. Winds
        of a pilot balloon have no pressure, and height strictly increasing instead. The rows of
        a sonde that fell stand from the sea upward, time strictly decreasing.
    descent : Profile or None
        Rows after the burst, if any.
    vapour_pressure_formula : str
        Key of :data:`encoder.physics.VAPOUR_PRESSURE_FORMULAS` the dew point was computed with.
    document : mapping
        ``flight.json`` as read, for everything not named above (balloon, gas, remarks, edits).
    diagnostics : tuple of Diagnostic
        Everything found while reading, preparing and checking.
    """

    station: Station
    nominal_time: datetime
    release_time: datetime
    surface: SurfaceObservation
    instrument: Instrument
    reporting: Reporting
    profile: Profile
    ascent: Profile
    descent: Profile | None = None
    vapour_pressure_formula: str = "wmo-49"
    document: Mapping[str, Any] = field(default_factory=dict)
    diagnostics: tuple[Diagnostic, ...] = ()

    def with_reporting(self, **changes: Any) -> Flight:
        """Return the flight with another reporting practice."""
        return replace(self, reporting=replace(self.reporting, **changes))
