"""Code tables: every row loads, has a source and is used; the conversions agree with them."""

from __future__ import annotations

from datetime import date

import pytest

from encoder.codes import FORMS
from encoder.codes import elements as el
from encoder.codes.declare import Context, Group
from encoder.codes.groups_position import marsden_square
from encoder.codes.last_wind import LOWER, UPPER
from encoder.codes.regional import EXTRA_WINDS, REGION_IV
from encoder.codes.tables import code_table, code_values, meaning, radiosonde_types, table_rows

TABLES = (
    "0265", "0421", "0509", "0513", "0515", "0777", "0877", "1400", "1600", "1734", "1845",
    "2582", "2590", "2700", "3333", "3685", "3845", "3849", "3872", "3931", "C-2", "C-7",
)  # fmt: skip
"""Tables of the alphanumeric forms."""


def groups() -> list[Group]:
    """Return every declared group."""
    found = [
        use.group
        for form in FORMS.values()
        for part in form.parts
        for section in part.sections
        for record in section.records
        for use in record.uses
    ]
    found += [use.group for record in (*REGION_IV, *EXTRA_WINDS) for use in record.uses]
    return found


@pytest.mark.parametrize("number", TABLES)
def test_rows_have_figure_meaning_and_source(number: str) -> None:
    """Every row says what its figure means and where that is from; no figure comes twice."""
    rows = table_rows(number)
    assert rows
    assert all(row["figure"] and row["meaning"] and row["source"] for row in rows)
    figures = [row["figure"] for row in rows]
    assert sorted(set(figures)) == sorted(figures)
    assert len({len(figure) for figure in figures}) == 1


@pytest.mark.parametrize("number", TABLES)
def test_every_row_explains_its_figure(number: str) -> None:
    """The meaning of every figure of a table is found; other figures and solidi are told apart."""
    for row in table_rows(number):
        assert row["meaning"] == meaning(number, row["figure"])
    assert meaning(number, "/") == "not reported"
    assert f"not in code table {number}" in meaning(number, "x")


def test_every_table_of_a_declaration_exists() -> None:
    """Figures that name a table name one that is there, and say its meaning."""
    named = {piece.table for group in groups() for piece in group.figures if piece.table}
    assert named <= set(TABLES)
    for group in groups():
        for piece in group.figures:
            if piece.table is None or piece.table in ("0777", "0877", "3845", "3931"):
                continue
            for row in table_rows(piece.table):
                assert row["meaning"] in piece.say(row["figure"], {}, Context())


def test_groups_say_what_their_figures_sum_to() -> None:
    """The figures of a group fill its width."""
    for group in groups():
        assert group.width == sum(piece.width for piece in group.figures)
        assert group.title
        assert group.source


def test_dew_point_depression() -> None:
    """Every figure of table 0777 decodes to its value and comes back."""
    assert len(table_rows("0777")) == 100
    for figures, value in code_values("0777").items():
        found, faults = el.figures_to_depression(figures)
        assert value == found
        assert (value is None) == bool(faults)
        if value is not None:
            assert (figures, ()) == el.depression_to_figures(value)


def test_sign_of_the_temperature() -> None:
    """Every figure of table 3931 gives tenths and sign."""
    for figure, value in code_values("3931").items():
        assert (value, ()) == el.figures_to_temperature(f"00{figure}")
        assert (f"00{figure}", ()) == el.temperature_to_figures(value)


def test_directions() -> None:
    """Every figure of table 0877 but that of calm is a direction."""
    for figures in code_table("0877"):
        direction, _speed, faults = el.figures_to_wind(f"{figures}010", Context())
        assert (int(figures) * 10.0 or None) == direction
        assert (figures == "00") == bool(faults)


def test_last_wind_figures() -> None:
    """Table 1734 has the figures that the parts use, and no others."""
    assert set(LOWER.values()) | set(UPPER.values()) == set(code_table("1734"))


def test_marsden_squares() -> None:
    """The middle of every square of table 2590 lies in that square."""
    rows = table_rows("2590")
    assert len(rows) == 648
    for row in rows:
        (south, _to, north, side), (west, _to2, east, half) = (
            words.split() for words in row["meaning"].split(", ")
        )
        latitude = (int(south) + int(north)) / 2.0 * (1 if side == "N" else -1)
        longitude = (int(west) + int(east)) / 2.0 * (1 if half == "E" else -1)
        assert int(row["figure"]) == marsden_square(latitude, longitude)


def test_letters() -> None:
    """Table 2582 has the letters of every form in four parts."""
    expected = {
        form.parts[0].letters[:2]: form.name for form in FORMS.values() if len(form.parts) > 1
    }
    assert expected == code_table("2582")


@pytest.mark.parametrize(
    ("figures", "on", "types"),
    [
        ("41", date(2006, 9, 22), (41,)),
        ("41", date(2021, 6, 1), (41, 141)),
        ("41", None, (41, 141)),
        ("85", None, (85,)),
        ("82", date(2012, 11, 1), (82, 182)),
        ("82", date(2012, 10, 31), (82,)),
        ("//", None, ()),
    ],
)
def test_radiosonde_figures_given_out_twice(
    figures: str, on: date | None, types: tuple[int, ...]
) -> None:
    """Common code table C-2: figures re-used from a day on may mean the old or the new type."""
    assert types == radiosonde_types(figures, on)


def test_every_radiosonde_figure() -> None:
    """Table 3685 has a hundred figures; a later type is a hundred more, from a day that exists."""
    assert [f"{number:02d}" for number in range(100)] == [
        row["figure"] for row in table_rows("3685")
    ]
    later = [row for row in table_rows("3685") if row["later_type"]]
    assert len(later) > 40
    for row in later:
        assert int(row["later_type"]) == 100 + int(row["figure"])
        assert date.fromisoformat(row["later_from"]) >= date(2008, 1, 1)


def test_unknown_table() -> None:
    """A table that does not exist is told by its number."""
    with pytest.raises(FileNotFoundError, match="9999"):
        code_table("9999")
