"""BUFR elements used by soundings: BUFR Table B as data.

Source: WMO-No. 306 Volume I.2, BUFR Table B, table version 45 (repository wmo-im/BUFR4, commit
3e4dcd0). The tests compare every line with the tables of an independent decoder.
"""

from __future__ import annotations

from dataclasses import dataclass

TEXT = "CCITT IA5"
TABLE_VERSION = 45
"""Version of the WMO tables the lines were taken from."""


@dataclass(frozen=True, slots=True)
class Element:
    """One line of BUFR Table B.

    Attributes
    ----------
    fxy : str
        Descriptor, six figures.
    name : str
        Name used in this package.
    key : str
        Name of the element in the coding library.
    unit : str
        Unit as the table gives it; ``"CCITT IA5"`` for text.
    scale, reference, bits : int
        A value is stored as ``round(value * 10**scale) - reference`` in that many bits; all bits
        set means missing.
    """

    fxy: str
    name: str
    key: str
    unit: str
    scale: int
    reference: int
    bits: int

    @property
    def is_text(self) -> bool:
        """Tell whether the element holds characters."""
        return self.unit == TEXT

    @property
    def step(self) -> float:
        """Step of the coded value, in the unit of the element."""
        return float(10.0**-self.scale)

    @property
    def lowest(self) -> float:
        """Smallest value that can be coded."""
        return self.reference * self.step

    @property
    def highest(self) -> float:
        """Largest value that can be coded; the code above it means missing."""
        return (self.reference + (1 << self.bits) - 2) * self.step

    @property
    def length(self) -> int:
        """Longest text, in characters."""
        return self.bits // 8


_LONG_WORDS = {
    "missing": "totalNumberOfMissingEntitiesWithRespectToAccumulationOrAverage",
    "own_table": "CODE_TABLE_DEFINED_BY_ORIGINATING/GENERATING_CENTRE",
    "qualifier": "qualifierForNumberOfMissingValuesInCalculationOfStatistic",
}
_LINES = """
001001 block_number blockNumber Numeric 0 0 7
001002 station_number stationNumber Numeric 0 0 10
001003 wmo_region regionNumber CODE_TABLE 0 0 3
001006 aircraft_flight_number aircraftFlightNumber CCITT_IA5 0 0 64
001011 call_sign shipOrMobileLandStationIdentifier CCITT_IA5 0 0 72
001012 platform_course directionOfMotionOfMovingObservingPlatform deg 0 0 9
001013 platform_speed movingObservingPlatformSpeed m/s 0 0 10
001015 station_name stationOrSiteName CCITT_IA5 0 0 160
001018 short_station_name shortStationName CCITT_IA5 0 0 40
001031 quality_centre centre CODE_TABLE 0 0 16
001032 quality_application generatingApplication {own_table} 0 0 8
001081 serial_number radiosondeSerialNumber CCITT_IA5 0 0 160
001082 ascension_number radiosondeAscensionNumber Numeric 0 0 14
001083 release_number radiosondeReleaseNumber Numeric 0 0 3
001095 observer observerIdentification CCITT_IA5 0 0 32
001125 wigos_series wigosIdentifierSeries Numeric 0 0 4
001126 wigos_issuer wigosIssuerOfIdentifier Numeric 0 0 16
001127 wigos_issue wigosIssueNumber Numeric 0 0 16
001128 wigos_local wigosLocalIdentifierCharacter CCITT_IA5 0 0 128
002002 wind_instruments instrumentationForWindMeasurement FLAG_TABLE 0 0 4
002003 measuring_equipment measuringEquipmentType CODE_TABLE 0 0 4
002011 radiosonde_type radiosondeType CODE_TABLE 0 0 8
002012 radiosonde_method radiosondeComputationalMethod CODE_TABLE 0 0 4
002013 radiation_correction solarAndInfraredRadiationCorrection CODE_TABLE 0 0 4
002014 tracking_technique trackingTechniqueOrStatusOfSystem CODE_TABLE 0 0 7
002015 completeness radiosondeCompleteness CODE_TABLE 0 0 4
002016 configuration radiosondeConfiguration FLAG_TABLE 0 0 5
002017 humidity_correction correctionAlgorithmsForHumidityMeasurements CODE_TABLE 0 0 5
002066 ground_system radiosondeGroundReceivingSystem CODE_TABLE 0 0 6
002067 frequency radiosondeOperatingFrequency Hz -5 0 15
002080 balloon_maker balloonManufacturer CODE_TABLE 0 0 6
002081 balloon_type balloonType CODE_TABLE 0 0 5
002082 balloon_mass weightOfBalloon kg 3 0 12
002083 balloon_shelter balloonShelterType CODE_TABLE 0 0 4
002084 gas typeOfGasUsedInBalloon CODE_TABLE 0 0 4
002085 gas_amount amountOfGasUsedInBalloon kg 3 0 13
002086 train_length balloonFlightTrainLength m 1 0 10
002095 pressure_sensor pressureSensorType CODE_TABLE 0 0 5
002096 temperature_sensor temperatureSensorType CODE_TABLE 0 0 5
002097 humidity_sensor humiditySensorType CODE_TABLE 0 0 5
002103 radome radome FLAG_TABLE 0 0 2
002191 height_calculation geopotentialHeightCalculation CODE_TABLE 0 0 4
004001 year year a 0 0 12
004002 month month mon 0 0 4
004003 day day d 0 0 6
004004 hour hour h 0 0 5
004005 minute minute min 0 0 6
004006 second second s 0 0 6
004023 days_in_period timePeriod d 0 -1024 11
004059 times_used timesOfObservationUsedToComputeReportedMeanValues FLAG_TABLE 0 0 6
004086 time timePeriod s 0 -8192 15
005001 latitude latitude deg 5 -9000000 25
005002 coarse_latitude latitude deg 2 -9000 15
005015 latitude_displacement latitudeDisplacement deg 5 -9000000 25
006001 longitude longitude deg 5 -18000000 26
006002 coarse_longitude longitude deg 2 -18000 16
006015 longitude_displacement longitudeDisplacement deg 5 -18000000 26
007001 station_height heightOfStation m 0 -400 15
007004 pressure pressure Pa -1 0 14
007007 release_height height m 0 -1000 17
007009 height_coordinate geopotentialHeight gpm 0 -1000 17
007030 ground_height heightOfStationGroundAboveMeanSeaLevel m 1 -4000 17
007031 barometer_height heightOfBarometerAboveMeanSeaLevel m 1 -4000 17
007032 sensor_height heightOfSensorAboveLocalGroundOrDeckOfMarinePlatform m 2 0 16
008001 old_significance verticalSoundingSignificance FLAG_TABLE 0 0 7
008002 cloud_significance verticalSignificanceSurfaceObservations CODE_TABLE 0 0 6
008020 missing_days {missing} Numeric 0 0 16
008021 time_significance timeSignificance CODE_TABLE 0 0 5
008023 statistics firstOrderStatistics CODE_TABLE 0 0 6
008040 level_reason flightLevelSignificance CODE_TABLE 0 0 6
008042 significance extendedVerticalSoundingSignificance FLAG_TABLE 0 0 18
008050 missing_value_qualifier {qualifier} CODE_TABLE 0 0 4
008091 coordinates_significance coordinatesSignificance CODE_TABLE 0 0 8
010003 geopotential nonCoordinateGeopotential m2/s2 -1 -400 17
010004 station_pressure nonCoordinatePressure Pa -1 0 14
010008 fine_geopotential nonCoordinateGeopotential m2/s2 0 -10000 20
010009 height nonCoordinateGeopotentialHeight gpm 0 -1000 17
011001 wind_direction windDirection deg 0 0 9
011002 wind_speed windSpeed m/s 1 0 12
011019 wind_steadiness steadinessOfWind % 0 0 7
011044 mean_direction_lowest meanWindDirectionForSurfaceTo1500M deg 0 0 9
011045 mean_speed_lowest meanWindSpeedForSurfaceTo1500M m/s 1 0 12
011054 mean_direction_1500_3000 meanWindDirectionFor1500To3000M deg 0 0 9
011055 mean_speed_1500_3000 meanWindSpeedFor1500To3000M m/s 1 0 12
011061 shear_below absoluteWindShearIn1KmLayerBelow m/s 1 0 12
011062 shear_above absoluteWindShearIn1KmLayerAbove m/s 1 0 12
012001 coarse_temperature airTemperature K 1 0 12
012003 coarse_dew_point dewpointTemperature K 1 0 12
012101 temperature airTemperature K 2 0 16
012103 dew_point dewpointTemperature K 2 0 16
013003 coarse_humidity relativeHumidity % 0 0 7
013009 humidity relativeHumidity % 1 -1000 12
013047 showalter_index modifiedShowalterStabilityIndex K 0 -60 6
020003 present_weather presentWeather CODE_TABLE 0 0 9
020010 cloud_cover cloudCoverTotal % 0 0 7
020011 cloud_amount cloudAmount CODE_TABLE 0 0 4
020012 cloud_type cloudType CODE_TABLE 0 0 6
020013 cloud_base heightOfBaseOfCloud m -1 -40 11
022043 sea_temperature oceanographicWaterTemperature K 2 0 15
025061 software softwareVersionNumber CCITT_IA5 0 0 96
031000 short_count shortDelayedDescriptorReplicationFactor Numeric 0 0 1
031001 count delayedDescriptorReplicationFactor Numeric 0 0 8
031002 extended_count extendedDelayedDescriptorReplicationFactor Numeric 0 0 16
031021 associated_significance associatedFieldSignificance CODE_TABLE 0 0 6
031031 data_present dataPresentIndicator FLAG_TABLE 0 0 1
033007 confidence percentConfidence % 0 0 7
033024 elevation_quality stationElevationQualityMarkForMobileStations CODE_TABLE 0 0 4
035035 termination_reason reasonForTermination CODE_TABLE 0 0 5
"""


def _element(line: str) -> Element:
    fxy, name, key, unit, scale, reference, bits = line.format_map(_LONG_WORDS).split()
    return Element(fxy, name, key, unit.replace("_", " "), int(scale), int(reference), int(bits))


ELEMENTS: dict[str, Element] = {
    element.fxy: element for element in map(_element, _LINES.strip().splitlines())
}
"""Elements by descriptor."""

FINE_PRESSURE = Element("007004", "pressure", "pressure", "Pa", 0, 0, 18)
"""Pressure under operator 2 07 001: one more decimal, reference times ten, four more bits."""
FINE_HEIGHT = Element("010009", "height", "nonCoordinateGeopotentialHeight", "gpm", 1, -10000, 21)
"""Height under operator 2 07 001."""
