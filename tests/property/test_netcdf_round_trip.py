"""Whatever a sounding holds, its files give it back."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from encoder.archive import history_of
from encoder.columns import LEVEL_COLUMNS
from encoder.formats.netcdf import read_netcdf, write_netcdf
from encoder.formats.netcdf.packing import PACKINGS, exact, unpacked
from encoder.levels import Levels
from encoder.profile import Station
from encoder.sounding import STATUS_COLUMNS, STATUS_WORDS, Sounding

STEPS = st.sampled_from([1.0, 0.1, 0.01, 1852.0 / 3600.0])
MOMENT = datetime(2031, 7, 9, tzinfo=UTC)


@st.composite
def soundings(draw) -> Sounding:
    """Return a sounding of any levels: on steps, off steps, missing, none at all."""
    count = draw(st.integers(0, 12))
    columns = {}
    for name in LEVEL_COLUMNS:
        if draw(st.booleans()):
            continue
        step = draw(STEPS)
        whole = draw(
            arrays(np.int64, count, elements=st.integers(-3000, 3000).filter(lambda n: n != 0))
        )
        values = whole * step
        if draw(st.booleans()):
            values = values + draw(st.floats(0.0, 1.0))
        holes = draw(arrays(np.bool_, count))
        columns[name] = np.where(holes, np.nan, values)
    kinds = draw(arrays(np.int64, count, elements=st.integers(0, (1 << 18) - 1)))
    status = {
        name: draw(arrays(np.int8, count, elements=st.integers(0, len(STATUS_WORDS) - 1)))
        for name in STATUS_COLUMNS
    }
    text = draw(st.text(st.characters(codec="latin-1", exclude_characters="\0"), max_size=40))
    elevation = draw(st.one_of(st.just(float("nan")), st.floats(-400.0, 9000.0)))
    station = Station("Höhe 1", 53.4127, -18.2751, elevation, wmo_index="90417")
    attributes = {"decoded": True} if text else {}
    return Sounding(
        station,
        MOMENT + timedelta(seconds=draw(st.integers(-3600, 3600))),
        MOMENT,
        Levels(columns, kinds, attributes=attributes),
        status,
        text,
    )


@settings(max_examples=40)
@given(soundings())
def test_a_level_file_gives_back_what_was_written(tmp_path_factory, sounding) -> None:
    """A sounding is equal after a level file, whatever its values, texts and gaps."""
    path = tmp_path_factory.getbasetemp() / "levels.nc"
    write_netcdf(sounding, path)
    assert read_netcdf(path).value == sounding


@settings(max_examples=40)
@given(st.lists(soundings(), min_size=1, max_size=4))
def test_a_history_gives_back_what_was_written(tmp_path_factory, made) -> None:
    """A history is equal after its file, whatever its soundings."""
    path = tmp_path_factory.getbasetemp() / "history.nc"
    history = history_of(made)
    write_netcdf(history, path)
    again = read_netcdf(path)
    assert again.diagnostics == ()
    assert again.value == history


@given(
    st.sampled_from(sorted(name for name, items in PACKINGS.items() if items)),
    arrays(np.float64, st.integers(0, 40), elements=st.floats(-1e5, 1e5) | st.just(np.nan)),
    st.sampled_from([None, 1, 10, 100]),
)
def test_packing_never_changes_a_value(name, values, steps) -> None:
    """What is stored is the value itself, or integers that give it back exactly."""
    values = values if steps is None else np.rint(values) / steps
    figures, packing = exact(name, values)
    again = (
        np.where(figures == 9.969209968386869e36, np.nan, figures)
        if packing is None
        else unpacked(figures, packing)
    )
    assert np.array_equal(again, values, equal_nan=True)
