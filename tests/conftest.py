"""Shared set-up of the tests."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, settings

if TYPE_CHECKING:
    from encoder.profile import Flight

ROOT = Path(__file__).resolve().parent.parent
SAMPLES = ROOT / "samples" / "flights"
SAMPLE_NAMES = ("harrow-tarn", "halden-dome", "saltmere-point")

settings.register_profile(
    "default", deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("default")


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add the option that renews golden files."""
    parser.addoption(
        "--update-golden",
        action="store_true",
        help="write the golden files anew instead of comparing with them",
    )


@pytest.fixture
def update_golden(request: pytest.FixtureRequest) -> bool:
    """Whether golden files are renewed in this run."""
    return bool(request.config.getoption("--update-golden"))


@pytest.fixture(scope="session")
def sample_flights() -> dict[str, Flight]:
    """Every bundled flight, read once."""
    from encoder.formats.flight_folder import read_flight

    return {name: read_flight(SAMPLES / name).raise_for_errors() for name in SAMPLE_NAMES}
