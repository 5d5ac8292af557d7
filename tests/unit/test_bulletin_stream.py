"""The stream splitter on traffic as it is met: reports, framing, and what is unread."""

from __future__ import annotations

import pytest

from encoder.bulletin.pieces import Kind, Piece, Tally, reports, tally
from encoder.bulletin.stream import LONGEST_PIECE, split_bytes, split_stream

A = b"TTAA 59001 90417 99968 13850 18004 00089 ///// /////"
B = b"TTBB 5900/ 90417 00968 13850 11850 05656"
HEADING = b"USXX01 XNOR 090000"


def found(data: bytes) -> list[tuple[str, bytes]]:
    """Return kind and text of every piece that is not framing."""
    return [(str(one.kind), one.text) for one in split_bytes(data) if one.kind is not Kind.FRAMING]


def texts(data: bytes) -> list[bytes]:
    """Return the text of every report."""
    return [piece.text for piece in reports(split_bytes(data))]


def test_one_message() -> None:
    """A message gives its report, with heading, offset and letters; all the rest is framing."""
    data = b"\x01\r\r\n123\r\r\n" + HEADING + b" RRA\r\r\n" + A + b"=\r\r\n\x03"
    pieces = split_bytes(data)

    assert [piece.kind for piece in pieces] == [Kind.FRAMING, Kind.REPORT, Kind.FRAMING]
    report = pieces[1]
    assert (data.index(A), A + b"=", "TTAA", True) == (
        report.offset,
        report.text,
        report.letters,
        report.ended,
    )
    assert report.heading is not None
    assert (report.heading.offset, report.heading.text) == (10, HEADING + b" RRA")


def test_five_figure_channel_number() -> None:
    """The starting line may have a channel number of five figures."""
    data = b"\x01\r\r\n12345\r\r\n" + HEADING + b"\r\r\n" + A + b"=\r\r\n\x03"
    assert found(data) == [("report", A + b"=")]


def test_tape() -> None:
    """Tapes frame messages with ZCZC and NNNN."""
    data = b"ZCZC 042\r\r\n" + HEADING + b"\r\r\n" + A + b"=\r\r\n\n\n\nNNNN\r\r\nZCZC 043\r\r\n"
    assert found(data) == [("report", A + b"=")]


def test_tape_end_without_terminator() -> None:
    """NNNN ends a report that has no terminator, on its own line or not."""
    assert texts(b"ZCZC 1\n" + A + b"\r\r\nNNNN\nZCZC 002\n" + A + b" NNNN") == [A, A]


def test_letter_with_quotes() -> None:
    """Text pasted from a letter: greetings are unread, quote marks do not matter."""
    data = (
        b"Dear colleagues,\n\nhere it is:\n\n> "
        + A
        + b"=\n> "
        + B
        + b"=\n\nKind regards,\nQ. Rill\n"
    )
    assert found(data) == [
        ("unread", b"Dear colleagues,\n\nhere it is:"),
        ("report", A + b"="),
        ("report", B + b"="),
        ("unread", b"Kind regards,\nQ. Rill"),
    ]


def test_letter_without_terminator() -> None:
    """A blank line before plain words ends a report that has no terminator."""
    assert found(A + b"\r\n\r\nRegards\r\n") == [("report", A), ("unread", b"Regards")]


def test_blank_lines_between_groups() -> None:
    """Blank lines between lines of groups do not end a report."""
    data = A[:20] + b"\n\n" + A[21:] + b"="
    assert [data] == texts(data)


def test_blank_line_in_free_text() -> None:
    """Blank lines do not end a report that has come to its national text."""
    data = b"XXAA 63183 99256 70775 08057 61616 AF302\n\n62626 EYEWALL 090\n\nSPL 2556N07739W="
    assert [data] == texts(data)


def test_collective_with_nil() -> None:
    """In a collective each report is one piece, NIL reports too."""
    data = HEADING + b"\r\r\n" + A + b"=\r\r\nTTAA 59001 90731 NIL=\r\r\nTTAA 5900/ 90122 NIL="
    assert texts(data) == [A + b"=", b"TTAA 59001 90731 NIL=", b"TTAA 5900/ 90122 NIL="]


def test_empty_bulletin() -> None:
    """The NIL of an empty bulletin is framing with a remark and the heading."""
    data = b"\x01\r\r\n001\r\r\n" + HEADING + b"\r\r\nNIL=\r\r\n\x03"
    nil = [piece for piece in split_bytes(data) if piece.remark == "nil"]
    assert [piece.text for piece in nil] == [b"NIL"]
    assert nil[0].heading is not None
    assert nil[0].heading.text == HEADING


def test_other_bulletins_are_unread() -> None:
    """A bulletin of other reports is unread, under its own heading."""
    synop = b"AAXX 09004\r\r\n90417 11570 62104 11033="
    data = b"\x01\r\r\n001\r\r\nSMXX01 XNOR 090000\r\r\n" + synop + b"\r\r\n\x03"
    pieces = [piece for piece in split_bytes(data) if piece.kind is Kind.UNREAD]
    assert pieces[0].text == b"AAXX 09004\r\r\n90417 11570 62104 11033="
    assert pieces[0].heading is not None
    assert pieces[0].heading.text == b"SMXX01 XNOR 090000"


def test_heading_that_lies() -> None:
    """A report is known by its letters, whatever its heading promises."""
    data = b"SMXX01 XNOR 090000\r\r\n" + B + b"="
    assert found(data) == [("report", B + b"=")]


def test_heading_after_report_without_terminator() -> None:
    """A heading ends a report that has no terminator; a channel number before it is framing."""
    data = A + b"\r\r\n124\r\r\nUKXX01 XNOR 090000\r\r\n" + B + b"="
    assert found(data) == [("report", A), ("report", B + b"=")]


def test_headings_on_one_line() -> None:
    """Lines joined by blanks are split as well."""
    data = HEADING + b" " + A + b"= UKXX01 XNOR 090000 " + B + b"= NNNN"
    assert found(data) == [("report", A + b"="), ("report", B + b"=")]


def test_parts_without_terminator() -> None:
    """Letters with a plausible time group begin the next report."""
    assert texts(A + b" " + B) == [A, B]


def test_parts_run_together() -> None:
    """Letters that touch the terminator or their time group are found."""
    assert texts(A + b"=TTBB5900/ 90417 00968 13850=") == [
        A + b"=",
        b"TTBB5900/ 90417 00968 13850=",
    ]


@pytest.mark.parametrize(
    "text",
    [
        b"62626 TTAA FOLLOWS LATER",
        b"62626 SEE\r\r\nTTAA OF 12 UTC",
        b"61616 AF302 TTBB 99999",
    ],
)
def test_letters_in_free_text(text: bytes) -> None:
    """Letters in national free text begin no report unless a plausible time group follows."""
    data = b"XXBB 63183 99256 70775 08057 00003 " + text + b"="
    assert [data] == texts(data)


def test_letters_with_time_in_free_text() -> None:
    """With a plausible time group they do."""
    data = b"XXBB 63183 99256 70775 08057 62626 REL 2556N07739W 131947 " + A + b"="
    assert [data[: data.index(b" TTAA")], A + b"="] == texts(data)


def test_station_number_before_letters() -> None:
    """A station number in front of the letters is framing where it is repeated behind them."""
    data = A[:-6] + b"\n90731 TTAA 59001 90731 99697="
    assert [A[:-6], b"TTAA 59001 90731 99697="] == texts(data)


def test_product_line() -> None:
    """A product line under a heading is framing."""
    data = b"USXX01 KABC 090000\r\r\nMANABC\r\r\n" + A + b"="
    assert found(data) == [("report", A + b"=")]


def test_small_letters() -> None:
    """Small letters are read as capitals; the text stays as it is."""
    data = b"usxx01 xnor 090000\r\n" + A.lower() + b"="
    pieces = list(reports(split_bytes(data)))
    assert [("TTAA", A.lower() + b"=")] == [(piece.letters, piece.text) for piece in pieces]


def test_padding() -> None:
    """Zero bytes between and inside reports separate like blanks."""
    data = b"\x00" * 100 + A[:30] + b"\x00" * 9 + A[30:] + b"=" + b"\x00" * 3000 + B + b"="
    assert [A[:30] + b"\x00" * 9 + A[30:] + b"=", B + b"="] == texts(data)


@pytest.mark.parametrize("form", [b"00", b"AN", b"BI", b"\x00\x00"])
def test_batch_with_envelope(form: bytes) -> None:
    """Lengths and formats of batch files and sockets are framing."""
    message = b"\x01\r\r\n001\r\r\n" + HEADING + b"\r\r\n" + A + b"\r\r\n\x03"
    one = f"{len(message):08d}".encode() + form + message
    assert found(one * 2 + b"00000000" + form) == [("report", A), ("report", A)]


def test_batch_without_envelope() -> None:
    """Format 01 has neither starting line nor end; the length of the next message is framing."""
    message = b"\r\r\n" + HEADING + b"\r\r\n" + A + b"\r\r\n"
    one = f"{len(message):08d}01".encode() + message
    assert found(one * 2) == [("report", A), ("report", A)]


def test_flag_field() -> None:
    """Flag fields between bulletins are framing."""
    data = (
        b"####018000123####\n" + HEADING + b"\r\r\n" + A + b"\r\r\n####018000123####\n" + B + b"="
    )
    assert found(data) == [("report", A), ("report", B + b"=")]


def test_binary_message() -> None:
    """A binary message is skipped by its length, whatever its bytes look like."""
    body = b"\x00\x00\x00\x04 TTAA 59001 90417 = "
    size = len(body) + 11
    binary = b"BUFR" + size.to_bytes(3, "big") + body + b"7777"
    data = b"\x01\r\r\n001\r\r\nIUSD01 XNOR 090000\r\r\n" + binary + b"\r\r\n\x03" + A + b"="
    pieces = [piece for piece in split_bytes(data) if piece.kind is not Kind.FRAMING]
    assert [(binary, "binary"), (A + b"=", "")] == [(one.text, one.remark) for one in pieces]


def test_long_binary_message_is_one_piece() -> None:
    """However long a binary message is, it is not cut: it would be of no use in pieces."""
    size = 3 * LONGEST_PIECE
    binary = (
        b"BUFR" + size.to_bytes(3, "big") + b"\x04" + b"\x01\x03\n" * ((size - 12) // 3) + b"7777"
    )
    assert len(binary) == size
    data = b"\x01\r\r\n001\r\r\nIUSA01 XNOR 090000\r\r\n" + binary + b"\r\r\n\x03"
    pieces = [one for one in split_stream([data[:9], data[9:]]) if one.kind is Kind.UNREAD]
    assert [(one.text, one.remark) for one in pieces] == [(binary, "binary")]


def test_binary_message_within_a_line() -> None:
    """After words that are nothing, a binary message is found by its beginning and edition."""
    binary = b"BUFR\x00\x00\x12\x04\x01\x03TTAA7777"
    assert len(binary) == 0x12
    data = b"IUSA01XNOR 090000 " + binary + b"\r\r\nTHE BUFR IS GOOD, BUFR, BUFRABCDEF\n" + A + b"="
    pieces = [one for one in split_bytes(data) if one.kind is not Kind.FRAMING]
    assert [(one.text, one.remark) for one in pieces] == [
        (b"IUSA01XNOR 090000", ""),
        (binary, "binary"),
        (b"THE BUFR IS GOOD, BUFR, BUFRABCDEF", ""),
        (A + b"=", ""),
    ]


def test_wide_binary_message() -> None:
    """The second edition of GRIB has its length in eight bytes."""
    body = b"GRIB\x00\x00\x00\x02" + (32).to_bytes(8, "big") + b"TTAA 59001 =" + b"7777"
    assert [("unread", body)] == found(body)


def test_binary_message_with_wrong_length() -> None:
    """A binary message whose length leads nowhere is unread text to the next report."""
    data = b"BUFR\x00\x00\x20\x04 broken\r\r\n" + A + b"="
    assert found(data)[-1] == ("report", A + b"=")


def test_report_without_end() -> None:
    """A report without end is cut at the greatest length; the rest is unread."""
    data = A + b" 85457 12345" * 5000
    pieces = split_bytes(data)
    assert (pieces[0].kind, pieces[0].remark, pieces[0].ended) == (Kind.REPORT, "cut", False)
    assert 1 << 15 >= len(pieces[0].text) > (1 << 15) - 3
    assert Kind.UNREAD is pieces[-1].kind


def test_monthly_reports() -> None:
    """The words of a monthly form stand once; further stations continue them."""
    data = (
        b"CUXX01 XNOR 010000\r\r\nCLIMAT TEMP 57031\r\r\n90417 39684=\r\r\n90731 36976=\r\r\n\x03"
    )
    pieces = list(reports(split_bytes(data)))
    assert [(one.text, one.shared) for one in pieces] == [
        (b"CLIMAT TEMP 57031\r\r\n90417 39684=", b""),
        (b"90731 36976=", b"CLIMAT TEMP 57031"),
    ]
    assert [one.letters for one in pieces] == ["CLIMAT TEMP", "CLIMAT TEMP"]


def test_monthly_report_of_a_ship() -> None:
    """CLIMAT TEMP SHIP is a form of its own."""
    pieces = list(reports(split_bytes(b"CLIMAT TEMP SHIP 57031 99574 70169=")))
    assert [one.letters for one in pieces] == ["CLIMAT TEMP SHIP"]


def test_call_sign_first() -> None:
    """A call sign may stand between the letters and the time group."""
    data = b"UUAA QCW07 59001 99574 70169 14676=UUBB 5900/ 99574="
    assert len(texts(data)) == 2


def test_damaged_time_group() -> None:
    """Where no report is open, something like groups is enough after the letters."""
    assert texts(b"TTAA 9912Z 90417=") == [b"TTAA 9912Z 90417="]
    assert texts(b"TTAA 99999 90417=") == [b"TTAA 99999 90417="]
    assert texts(b"TTAA S6OO1 90417=") == [b"TTAA S6OO1 90417="]
    assert texts(b"TTAA TOQPP 90417=") == [b"TTAA TOQPP 90417="]
    assert texts(b"The TTAA part is late today") == []


def test_letters_for_figures_under_a_heading() -> None:
    """Under an upper-air heading, letters at the beginning of a line open a report."""
    assert texts(HEADING + b"\r\r\nTTAA TOQPP OPRQU=") == [b"TTAA TOQPP OPRQU="]


def test_stream_of_blocks_and_nothing() -> None:
    """An empty stream has no pieces; blocks may come from any iterable."""
    assert split_bytes(b"") == ()
    blocks = [A[:7], b"", A[7:], b"="]
    assert [piece.text for piece in split_stream(blocks)] == [A + b"="]


def test_tally() -> None:
    """The tally has the bytes of each kind and the number of pieces."""
    data = b"hello\r\n" + A + b"="
    assert (
        Tally(len(A) + 1, 2, 5, {"unread": 1, "framing": 1, "TTAA": 1}),
        len(data),
    ) == (tally(split_bytes(data)), tally(split_bytes(data)).total)


def test_memory_stays_flat() -> None:
    """Splitting holds only a few blocks, however long the stream is."""
    import tracemalloc

    message = b"\x01\r\r\n123\r\r\n" + HEADING + b"\r\r\n" + A * 1 + b"=\r\r\n\x03"
    block = message * 500

    def highest(count: int) -> int:
        tracemalloc.start()
        tally(split_stream(block for _ in range(count)))
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return peak

    assert highest(3) * 1.2 > highest(25)


def test_pieces_hold_bytes_verbatim() -> None:
    """Nothing is added or taken: the pieces joined are the stream."""
    data = b"\xff\xfe junk \x01\r\r\n9\r\r\n" + A + b"=\x1a\x00\x7f" + B
    assert data == b"".join(piece.text for piece in split_bytes(data))
    assert all(isinstance(piece, Piece) for piece in split_bytes(data))
