"""Pages: one self-contained HTML file to look at, with the data it draws inside.

:func:`flight_page` shows one sounding from all sides.
"""

from __future__ import annotations

from encoder.page.flight import flight_page
from encoder.page.sounding import Sounding, sounding_of_flight, sounding_of_report

__all__ = ["Sounding", "flight_page", "sounding_of_flight", "sounding_of_report"]
