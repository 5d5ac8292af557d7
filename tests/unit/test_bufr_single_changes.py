"""One value changed in a message, or one figure in a text: verification tells every one."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest

from encoder.formats.bufr.compose import message_content
from encoder.formats.bufr.read import read_message
from encoder.formats.bufr.write import write_message
from encoder.levels import select_levels
from encoder.report import decode_reports, encode_report
from encoder.verify import verify
from encoder.verify.bufr import agree


@pytest.fixture(scope="module", params=["309057", "309052"])
def case(request, sample_flights):
    """Flight, content of its message with the selected levels, and its text as decoded."""
    flight = sample_flights["saltmere-point"]
    levels = select_levels(flight).value
    content = message_content(flight, levels, template=request.param, rows="selected").value
    report = decode_reports(encode_report(flight, levels).value.text).value[0]
    return flight, content, report


def grave(case, content):
    """Return the codes of what verification tells of a message, notes aside."""
    flight, _content, report = case
    message = write_message(content).value
    assert message is not None
    agreement = agree(read_message(message).value[0], flight=flight, report=report)
    return [item.code for item in agreement.diagnostics if item.severity != "note"]


def test_unchanged_nothing_is_told(case):
    """Flight, message and text of one flight: no error, no warning."""
    assert grave(case, case[1]) == []


def other_value(element, value):
    """Return a value a step away, another text, or some value where there was none."""
    if isinstance(value, str):
        return value[:-1] + ("X" if value[-1] != "X" else "Y")
    if value is None:
        return "T" if element.is_text else max(element.lowest, 0.0) + element.step
    return value + (element.step if value + element.step <= element.highest else -element.step)


def test_every_fact_before_the_levels(case):
    """Each element of identification, time, place, instrument, cloud and sea, one by one.

    The cloud base is known to the flight by its class alone, so it is moved by a class.
    """
    _flight, content, _report = case
    missed = []
    for place, element in enumerate(content.template.before):
        value = content.before[place]
        other = 650.0 if element.name == "cloud_base" else other_value(element, value)
        before = (*content.before[:place], other, *content.before[place + 1 :])
        if not grave(case, replace(content, before=before)):
            missed.append((element.name, value, other))

    assert missed == []


def test_header(case):
    """Another nominal time, another platform."""
    content = case[1]
    assert grave(case, replace(content, nominal_time=content.nominal_time.replace(hour=6)))
    assert grave(case, replace(content, platform="ship"))


@pytest.mark.parametrize("block", ["levels", "shear"])
def test_every_element_of_the_levels(case, block):
    """Two steps in one value of one level, for three levels spread over the message."""
    content = case[1]
    columns = getattr(content, block)
    elements = content.template.level if block == "levels" else content.template.shear
    missed = []
    for name, values in columns.items():
        element = next(one for one in elements if one.name == name)
        known = np.flatnonzero(np.isfinite(values))
        for row in known[[0, len(known) // 2, -1]]:
            changed = np.array(values)
            if name == "significance":
                changed[row] = float(int(changed[row]) ^ 65536)
            else:
                changed[row] += 2.0 * element.step
            if not grave(case, replace(content, **{block: {**columns, name: changed}})):
                missed.append((name, int(row), float(values[row])))

    assert missed == []


@pytest.mark.parametrize("seed", [3, 4])
def test_every_figure_of_the_text(sample_flights, seed):
    """Thirty figures of the text, each one higher by one: told by the flight or by the message."""
    flight = sample_flights["saltmere-point"]
    levels = select_levels(flight).value
    text = encode_report(flight, levels).value.text
    content = message_content(flight, levels, rows="selected").value
    sounding = read_message(write_message(content).value).value[0]
    figures = [place for place, sign in enumerate(text) if sign.isdigit()]
    missed = []
    for place in random.Random(seed).sample(figures, 30):
        changed = text[:place] + str((int(text[place]) + 1) % 10) + text[place + 1 :]
        reports, found = decode_reports(changed)
        told = [item for item in found if item.severity != "note"]
        if not told and len(reports) == 1:
            agreement = agree(sounding, report=reports[0])
            verdict = verify(flight, reports[0], report_diagnostics=found)
            told = [
                item
                for item in (*agreement.diagnostics, *verdict.diagnostics)
                if item.severity != "note"
            ]
            if not told and len(reports) == 1:
                missed.append((text[place - 5 : place + 6], changed[place - 5 : place + 6]))

    assert missed == []


def test_flags_that_depend_on_the_selection_are_a_warning(case):
    """A significant level more: told, but another way of selection may explain it."""
    flight, content, report = case
    flags = np.array(content.levels["significance"])
    row = int(np.flatnonzero(flags == 2048.0)[0])
    flags[row] = 4096.0
    changed = replace(content, levels={**content.levels, "significance": flags})

    assert grave(case, changed) == ["bufr-flags-unlike-flight"]
    sounding = read_message(write_message(changed).value).value[0]
    assert agree(sounding, flight=flight, report=report).agree


def test_what_only_one_of_both_says_is_a_warning(case):
    """A fact that flight.json does not have, or the message leaves out."""
    content = case[1]
    names = [element.name for element in content.template.before]
    before = list(content.before)
    before[names.index("tracking_technique")] = None

    told = grave(case, replace(content, before=tuple(before)))
    assert set(told) == {"bufr-fact-one-sided"}


def test_first_message_agrees_with_the_whole_flight(sample_flights):
    """The levels above 100 hPa are not there yet; nothing else is told."""
    flight = sample_flights["saltmere-point"]
    content = message_content(flight, select_levels(flight).value, rows="selected", first=True)
    sounding = read_message(write_message(content.value).value).value[0]

    assert agree(sounding, flight=flight).diagnostics == ()
