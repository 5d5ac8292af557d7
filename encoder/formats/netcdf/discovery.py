"""Global attributes: what the file is, where and when it is from, who made it (ACDD 1.3)."""

from __future__ import annotations

from dataclasses import asdict
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.formats.netcdf.declare import CONVENTIONS, SOFTWARE, STANDARD_NAMES, VERSION

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from encoder.archive import Service
    from encoder.formats.netcdf.declare import Product
    from encoder.profile import FloatArray, Station

STATION_VOCABULARY = "WMO OSCAR/Surface, WIGOS station identifiers"
INSTRUMENT_VOCABULARY = "WMO-No. 306 Volume I.2, common code tables C-2 and C-7"
HORIZONTAL_CRS = "EPSG:4326"
"""World Geodetic System 1984, latitude before longitude."""
VERTICAL_NAMES = {
    "air_pressure": ("down", "air pressure, no height system"),
    "geopotential_height": ("up", "geopotential height above mean sea level, EPSG:5714"),
    "altitude": ("up", "EPSG:5714"),
}
"""Direction and reference of each vertical coordinate (EPSG:5714 is mean sea level height)."""


def iso(moment: datetime) -> str:
    """Return a UTC time in ISO 8601, with fractions of a second only where there are any."""
    return moment.astimezone(UTC).replace(tzinfo=None).isoformat() + "Z"


def moment(seconds: float) -> datetime:
    """Return seconds since 1970 as a UTC time."""
    return datetime.fromtimestamp(seconds, UTC)


def extents(
    latitude: FloatArray, longitude: FloatArray, vertical: FloatArray, axis: str, unit: str
) -> dict[str, Any]:
    """Return the extents in space, exactly as the data have them.

    Parameters
    ----------
    latitude, longitude : ndarray
        Degrees.
    vertical : ndarray
        The vertical coordinate in the unit of the file, NaN where missing.
    axis : str
        Its name.
    unit : str
        Its unit in the file.
    """
    south, north = float(np.nanmin(latitude)), float(np.nanmax(latitude))
    west, east = float(np.nanmin(longitude)), float(np.nanmax(longitude))
    if (south, west) == (north, east):
        bounds = f"POINT ({south!r} {west!r})"
    else:
        corners = ((south, west), (north, west), (north, east), (south, east), (south, west))
        bounds = f"POLYGON (({', '.join(f'{lat!r} {lon!r}' for lat, lon in corners)}))"
    positive, reference = VERTICAL_NAMES[axis]
    known = bool(np.isfinite(vertical).any())
    return {
        "geospatial_lat_min": south,
        "geospatial_lat_max": north,
        "geospatial_lat_units": "degrees_north",
        "geospatial_lat_resolution": "irregular",
        "geospatial_lon_min": west,
        "geospatial_lon_max": east,
        "geospatial_lon_units": "degrees_east",
        "geospatial_lon_resolution": "irregular",
        "geospatial_vertical_min": float(np.nanmin(vertical)) if known else None,
        "geospatial_vertical_max": float(np.nanmax(vertical)) if known else None,
        "geospatial_vertical_units": unit,
        "geospatial_vertical_resolution": "irregular",
        "geospatial_vertical_positive": positive,
        "geospatial_bounds": bounds,
        "geospatial_bounds_crs": HORIZONTAL_CRS,
        "geospatial_bounds_vertical_crs": reference,
    }


def coverage(start: datetime, end: datetime, step: float) -> dict[str, str]:
    """Return the extent in time.

    Parameters
    ----------
    start, end : datetime
        UTC.
    step : float
        Usual distance of two values in seconds.
    """
    return {
        "time_coverage_start": iso(start),
        "time_coverage_end": iso(end),
        "time_coverage_duration": f"PT{(end - start).total_seconds():g}S",
        "time_coverage_resolution": f"PT{step:g}S",
    }


def discovery(
    product: Product,
    *,
    title: str,
    summary: str,
    identifier: str,
    station: Station,
    service: Service,
    created: datetime,
    history: Sequence[str],
    source: str,
    level: str,
    keywords: Sequence[str],
    instrument: str,
    comment: str,
    extent: Mapping[str, Any],
) -> dict[str, Any]:
    """Return the global attributes of a file in their order; None where nothing is known.

    Parameters
    ----------
    product : Product
    title, summary, identifier, source, level, instrument, comment : str
    station : Station
    service : Service
    created : datetime
        When the values were last changed.
    history : sequence of str
        One line a change.
    keywords : sequence of str
        Standard names in the file.
    extent : mapping
        From :func:`extents` and :func:`coverage`.
    """
    known = asdict(service)
    references = known.pop("references")
    stamp = iso(created)
    return {
        "Conventions": CONVENTIONS,
        "featureType": product.feature_type,
        "product_format": product.format,
        "title": title,
        "summary": summary,
        "keywords": ", ".join(keywords),
        "keywords_vocabulary": f"CF:{STANDARD_NAMES}",
        "id": identifier.replace(" ", "_"),
        **known,
        "source": source,
        "processing_level": level,
        "history": "\n".join(history),
        "comment": comment,
        "references": references,
        "standard_name_vocabulary": STANDARD_NAMES,
        "date_created": stamp,
        "date_modified": stamp,
        "date_issued": stamp,
        "date_metadata_modified": stamp,
        **extent,
        "platform": _platform(station),
        "platform_vocabulary": STATION_VOCABULARY,
        "instrument": instrument,
        "instrument_vocabulary": INSTRUMENT_VOCABULARY,
        "wmo_index": station.wmo_index,
        "wigos_station_identifier": station.wigos_id,
        "software": SOFTWARE,
        "software_version": VERSION,
        "product_version": "1",
    }


def _platform(station: Station) -> str:
    identifier = station.wigos_id or station.wmo_index or station.call_sign
    return " ".join(dict.fromkeys(word for word in (identifier, station.name) if word))
