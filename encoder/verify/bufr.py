"""Agreement of a BUFR message with its flight and with the text report of the same sounding.

Every value is compared within half a step of each of the two codes that hold it: the message may
differ from the flight by half its own step, from the text by half a step of both.

Source of the steps: WMO-No. 306 Volume I.2, BUFR Table B (template of the message); Volume I.1,
code tables 3931 and 0777 and the symbolic letters of FM 35.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from encoder.verify.agreement import Agreement, Disagreement, Tally, agreement_text
from encoder.verify.bufr_flight import compare_with_flight
from encoder.verify.bufr_text import compare_with_text

if TYPE_CHECKING:
    from encoder.diagnostics import Diagnostic
    from encoder.formats.bufr.sounding import BufrSounding
    from encoder.profile import Flight
    from encoder.report import Report

__all__ = ["Agreement", "Disagreement", "agree", "agreement_text"]


def agree(
    sounding: BufrSounding,
    *,
    flight: Flight | None = None,
    report: Report | None = None,
    diagnostics: tuple[Diagnostic, ...] = (),
) -> Agreement:
    """Compare a message with its flight, with the text of the same sounding, or with both.

    Parameters
    ----------
    sounding : BufrSounding
        The message, as read.
    flight : Flight, optional
    report : Report, optional
        The text, as decoded; any of its parts.
    diagnostics : tuple of Diagnostic
        What reading the message found; its errors stand against sending.

    Returns
    -------
    Agreement
        Element by element, each within the combined resolution.
    """
    tally = Tally()
    if flight is not None:
        compare_with_flight(sounding, flight, tally)
    if report is not None:
        compare_with_text(sounding, report, tally)
    return tally.result(diagnostics)
