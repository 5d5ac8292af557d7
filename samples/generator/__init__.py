"""Generator of physically consistent radiosonde flights, reproducible from a seed.

``make_flight`` turns a :class:`FlightSpec` into the facts and rows of a flight; ``random_flight``
draws a plausible specification first. ``python -m samples.generator`` writes the sample flights.
"""

from __future__ import annotations

from samples.generator.climates import CLIMATES, random_flight, random_specification
from samples.generator.files import document_text, profile_text, write_flight
from samples.generator.flight import SampleFlight, make_flight
from samples.generator.norreland import SAMPLES
from samples.generator.specification import Air, FlightSpec, Gap, Place

__all__ = [
    "CLIMATES",
    "SAMPLES",
    "Air",
    "FlightSpec",
    "Gap",
    "Place",
    "SampleFlight",
    "document_text",
    "make_flight",
    "profile_text",
    "random_flight",
    "random_specification",
    "write_flight",
]
