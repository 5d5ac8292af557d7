"""Pages: one self-contained HTML file to look at, with the data it draws inside.

:func:`flight_page` shows one sounding from all sides.
"""

from __future__ import annotations

from encoder.page.flight import flight_page
from encoder.page.review import Review, review_of_flight, review_of_report

__all__ = ["Review", "flight_page", "review_of_flight", "review_of_report"]
