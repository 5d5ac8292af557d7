"""A bad day of traffic, written by hand, with the truth beside every byte.

Reports stand between ⟦ and ⟧, text that is no report between ‹ and ›; all else is framing. The
marks are taken out before the bytes are split. Every scene names the headings that its reports
stand under, in order. Stations, ships and centres are invented; no line comes from a real circuit.
"""

from __future__ import annotations

import re
from typing import NamedTuple


class Scene(NamedTuple):
    """A stretch of traffic.

    Attributes
    ----------
    title : str
        What is nasty about it.
    marked : str
        The traffic, one character a byte, with the marks.
    headings : tuple of str or None
        Of each report.
    """

    title: str
    marked: str
    headings: tuple[str | None, ...] = ()

    @property
    def data(self) -> bytes:
        """The bytes as they came."""
        return re.sub("[⟦⟧‹›]", "", self.marked).encode("latin-1")

    @property
    def truth(self) -> list[tuple[str, bytes]]:
        """Kind and bytes of the stretches, in order."""
        kinds = {"": "framing", "⟦": "report", "‹": "unread"}
        return [
            (kinds[mark], text.encode("latin-1"))
            for mark, text in re.findall("([⟦‹]?)([^⟦⟧‹›]+)", self.marked)
        ]


A = "TTAA 59001 90417 99968 13850 18004 00089 ///// ///// 92720 11450 19506"
B = "TTBB 5900/ 90417 00968 13850 11850 05656 22700 00261"
C = "TTCC 59003 90417 70842 59163 22007 88999 77999"
SHIP = "UUAA QCW07 59121 99551 70225 19252 99012 11850 24008"
PILOT = "PPBB 59120 90122 90012 24008 24510 25012"
_HIDDEN = f"{A[:36]}\x01\x03ZCZC=\n\n\n7777"
BINARY = f"BUFR\x00\x00{chr(8 + len(_HIDDEN))}\x04{_HIDDEN}"
L = "\r\r\n"

DAY = (
    Scene(
        "nothing nasty", f"\x01{L}001{L}USXX01 XNOR 090000{L}⟦{A}=⟧{L}\x03", ("USXX01 XNOR 090000",)
    ),
    Scene(
        "the text is all in small letters, five figures of number, late",
        f"\x01{L}00002{L}usxx01 xnor 090000 rra{L}⟦{A.lower()}=⟧{L}\x03",
        ("usxx01 xnor 090000 rra",),
    ),
    Scene(
        "a collective with missing reports, one of them without terminator",
        f"\x01{L}003{L}USXX60 XNOR 090000{L}⟦{A}=⟧{L}⟦TTAA 5900/ 90731 NIL=⟧{L}"
        f"⟦TTAA 5900/ 90122 NIL⟧{L}⟦{A.replace('90417', '90731')}=⟧{L}\x03",
        ("USXX60 XNOR 090000",) * 4,
    ),
    Scene(
        "a collective without any terminator, on lines and run together",
        f"\x01{L}004{L}USXX60 XNOR 090000{L}⟦{A}⟧{L}⟦{A}⟧ ⟦{B}⟧{L}\x03",
        ("USXX60 XNOR 090000",) * 3,
    ),
    Scene(
        "parts without a blank between them",
        f"\x01{L}005{L}USXX01 XNOR 090000{L}⟦{A}=⟧⟦{B}=⟧⟦{C}=⟧⟦{A}⟧⟦{B}⟧{L}\x03",
        ("USXX01 XNOR 090000",) * 5,
    ),
    Scene(
        "headings that lie",
        f"\x01{L}006{L}SMXX01 XNOR 090000{L}⟦{A}=⟧{L}\x03\x01{L}007{L}UEXX01 XNOR 090000{L}⟦{B}=⟧"
        f"{L}⟦{PILOT}=⟧{L}\x03",
        ("SMXX01 XNOR 090000", "UEXX01 XNOR 090000", "UEXX01 XNOR 090000"),
    ),
    Scene(
        "the heading twice, and once more as a correction",
        f"\x01{L}008{L}USXX01 XNOR 090000{L}USXX01 XNOR 090000{L}⟦{A}=⟧{L}"
        f"USXX01 XNOR 090000 CCA{L}⟦{A}=⟧{L}\x03",
        ("USXX01 XNOR 090000", "USXX01 XNOR 090000 CCA"),
    ),
    Scene(
        "headings within text, and the headings of another bulletin quoted",
        f"\x01{L}009{L}NOXX01 XNOR 090100{L}‹PLEASE REPEAT USXX01 XNOR 090000 AND TTAA OF 90417.{L}"
        f"TTAA AND TTBB OF 12 UTC WERE GOOD, TTCC WROTE NOTHING.›{L}\x03",
    ),
    Scene(
        "a heading at the end of a report without terminator, on its line",
        f"\x01{L}010{L}USXX01 XNOR 090000{L}⟦{A}⟧ UKXX01 XNOR 090000{L}⟦{B}⟧{L}011{L}"
        f"ULXX01 XNOR 090000{L}⟦{C}⟧{L}\x03",
        ("USXX01 XNOR 090000", "UKXX01 XNOR 090000", "ULXX01 XNOR 090000"),
    ),
    Scene(
        "empty bulletins of every kind",
        f"\x01{L}012{L}USXX01 XNOR 090000{L}\x03\x01{L}013{L}USXX01 XNOR 090000{L}NIL{L}\x03"
        f"\x01{L}014{L}UKXX01 XNOR 090000 NIL={L}\x03\x01{L}015{L}\x03\x01\x03"
        f"ZCZC 016{L}USXX01 XNOR 090000{L}NIL={L}NNNN{L}",
    ),
    Scene(
        "tapes: run-in, no end, no beginning, the end on the line of the report",
        f"ZCZC 042{L}USXX01 XNOR 090000{L}⟦{A}=⟧{L}\n\n\n\n\n\n\nNNNN{L}"
        f"ZCZC ABC043{L}UKXX01 XNOR 090000{L}⟦{B}⟧{L}ZCZC 044{L}ULXX01 XNOR 090000{L}"
        f"⟦{C}⟧ NNNN{L}‹RYRYRYRYRYRYRYRY›{L}zczc 045{L}usxx01 xnor 090000{L}"
        f"⟦{A.lower()}⟧{L}nnnn{L}",
        (
            "USXX01 XNOR 090000",
            "UKXX01 XNOR 090000",
            "ULXX01 XNOR 090000",
            "usxx01 xnor 090000",
        ),
    ),
    Scene(
        "a puncher's mistake: begun anew after letters for rubbing out",
        f"\x01{L}046{L}USXX01 XNOR 090000{L}⟦TTAA 59001 904EEEEEEEE⟧ ⟦{A}=⟧{L}\x03",
        ("USXX01 XNOR 090000",) * 2,
    ),
    Scene(
        "a retransmission from the beginning after a line hit",
        f"\x01{L}047{L}USXX01 XNOR 090000{L}⟦TTAA 59001 90417 99968 138⟧{L}⟦{A}=⟧{L}\x03",
        ("USXX01 XNOR 090000",) * 2,
    ),
    Scene(
        "the end of a message is lost, and the beginning of one",
        f"\x01{L}048{L}USXX01 XNOR 090000{L}⟦{A}=⟧{L}\x01{L}049{L}UKXX01 XNOR 090000{L}⟦{B}⟧{L}"
        f"\x03{L}ULXX01 XNOR 090000{L}⟦{C}=⟧{L}\x03",
        ("USXX01 XNOR 090000", "UKXX01 XNOR 090000", "ULXX01 XNOR 090000"),
    ),
    Scene(
        "surface reports, aerodrome reports and a forecast among the soundings",
        f"\x01{L}050{L}SMXX01 XNOR 090000{L}‹AAXX 09004{L}90417 11570 62104 11033 21072=›{L}"
        f"\x03\x01{L}051{L}SAXX31 XNOR 090000{L}"
        f"‹METAR XNOR 090000Z 24008KT 9999 FEW020 12/08 Q1012=›"
        f"{L}\x03\x01{L}052{L}FTXX31 XNOR 082300{L}"
        f"‹TAF XNOR 082300Z 0900/0924 24008KT CAVOK=›{L}\x03"
        f"\x01{L}053{L}USXX01 XNOR 090000{L}⟦{A}=⟧{L}\x03",
        ("USXX01 XNOR 090000",),
    ),
    Scene(
        "surface and aerodrome reports in the bulletin of a sounding without terminator",
        f"\x01{L}054{L}USXX01 XNOR 090000{L}⟦{A}⟧{L}‹AAXX 09004{L}90417 11570 62104=›{L}⟦{B}⟧{L}"
        f"‹METAR XNOR 090000Z 24008KT CAVOK=›{L}⟦{SHIP}⟧{L}‹BBXX{L}"
        f"QCW07 09004 99551 70225=›{L}\x03",
        ("USXX01 XNOR 090000",) * 3,
    ),
    Scene(
        "binary messages that hold the letters of reports and control characters",
        f"\x01{L}055{L}IUSX01 XNOR 090000{L}‹{BINARY}›{L}"
        f"\x03\x01{L}056{L}USXX01 XNOR 090000{L}⟦{A}=⟧{L}\x03",
        ("USXX01 XNOR 090000",),
    ),
    Scene(
        "a batch for files, the last length wrong",
        f"00000{38 + len(A):03d}00\x01{L}057{L}USXX01 XNOR 090000{L}⟦{A}=⟧{L}\x03"
        f"0000009900\x01{L}058{L}UKXX01 XNOR 090000{L}⟦{B}=⟧{L}\x03",
        ("USXX01 XNOR 090000", "UKXX01 XNOR 090000"),
    ),
    Scene(
        "a batch without envelopes and terminators, and one of a socket",
        f"0000010201{L}USXX01 XNOR 090000{L}⟦{A}⟧{L}0000008801{L}UKXX01 XNOR 090000{L}⟦{B}⟧{L}"
        f"00000120AN\x01{L}059{L}ULXX01 XNOR 090000{L}⟦{C}⟧{L}\x03",
        ("USXX01 XNOR 090000", "UKXX01 XNOR 090000", "ULXX01 XNOR 090000"),
    ),
    Scene(
        "lines wrapped anywhere, blank lines between, line feeds alone and returns alone",
        "\x01\n060\nUSXX01 XNOR 090000\n⟦TTAA\n\n59001\n\n\n90417\r99968\r13850\n18004\n\n00089=⟧\r"
        "⟦TTBB\r5900/\r90417\r00968 1385\n0 11850=⟧\n\x03",
        ("USXX01 XNOR 090000",) * 2,
    ),
    Scene(
        "control characters, padding and a bell",
        f"\x00\x00\x00\x01{L}061{L}USXX01 XNOR 090000{L}\x07\x07⟦TTAA\x0f59001\x0e90417\x00\x00\x00"
        f"99968 13850\x7f\x0818004=⟧\x00\x00{L}\x03\x00\x00\x04\x05\x1b",
        ("USXX01 XNOR 090000",),
    ),
    Scene(
        "two time groups, a time group that is none, and none at all",
        f"\x01{L}062{L}USXX01 XNOR 090000{L}⟦TTAA 59001 59001 90417 99968 13850=⟧{L}"
        f"⟦TTAA 99991 90417 99968 13850=⟧{L}⟦TTAA ///// 90417 99968 13850=⟧{L}"
        f"⟦TTAA 90417 99968 13850 18004=⟧{L}\x03",
        ("USXX01 XNOR 090000",) * 4,
    ),
    Scene(
        "letters for figures, as a teleprinter in the wrong case prints them",
        f"\x01{L}063{L}USXX01 XNOR 090000{L}⟦TTAA TOPPQ OPRQU OOOYI QEITP=⟧{L}\x03",
        ("USXX01 XNOR 090000",),
    ),
    Scene(
        "a letter, quoted twice, without and with terminators",
        "‹From: the duty officer, Saltmere Point\r\nSubject: lost parts of 00 UTC, TTAA and TTBB"
        f"\r\n\r\nGood morning,\r\nhere they are again:›\r\n\r\n⟦{A}⟧\r\n⟦{B}⟧\r\n\r\n"
        f"‹Kind regards,\r\nthe watch›\r\n\r\n>> ⟦TTCC 59003 90417 70842 59163\r\n>> 22007 88999"
        f" 77999=⟧\r\n> ‹On Wednesday you wrote:›\r\n> > ⟦{B}⟧\r\n\r\n‹-- \r\nSaltmere "
        f"Point›\r\n\x03",
        (None,) * 4,
    ),
    Scene(
        "a page of a browser, a mark of byte order, a table of one report a line",
        f"\xef\xbb\xbf‹<pre›>\r\n⟦{A}=⟧\r\n‹</pre›>\r\n\x03‹2031-07-09T00,90417,"
        f'"›⟦{A}=⟧‹"\r\n2031-07-09T00,90417,"›⟦{B}=⟧‹"›\r\n\x03',
        (None,) * 3,
    ),
    Scene(
        "plain words after a report that has none of its own, and after one that has",
        f"\x01{L}064{L}UZXX13 XNOR 090000{L}"
        f"⟦XXAA 59001 99551 70225 19252 99012 11850 24008{L}61616 "
        f"XX001 TRIAL OB 07{L}62626 SPL 5512N02252W 0012 TTAA OF THE SHIP{L}{L}REL 5510N02250W=⟧{L}"
        f"⟦XXBB 59008 99551 70225 19252 00012 11850⟧{L}{L}‹END OF FLIGHT›{L}\x03",
        ("UZXX13 XNOR 090000",) * 2,
    ),
    Scene(
        "call signs before and after the time group, mobile units",
        f"\x01{L}065{L}USVD01 XNOR 091200{L}⟦{SHIP}=⟧{L}⟦UUBB 5912/ 99551 70225 19252 00012 11850=⟧"
        f"{L}⟦II{A[2:]}=⟧{L}⟦EEBB KB1 59120 99551 70225 90012 24008⟧{L}\x03",
        ("USVD01 XNOR 091200",) * 4,
    ),
    Scene(
        "monthly reports: words once for three stations, surface ones not ours",
        f"\x01{L}066{L}CUXX01 XNOR 050000{L}⟦CLIMAT TEMP 07031 90417 11013 10289=⟧{L}⟦90731 11013"
        f" 10289=⟧{L}⟦90122 NIL=⟧{L}\x03\x01{L}067{L}CSXX01 XNOR 050000{L}‹CLIMAT 07031{L}"
        f"90417 111 19680=›{L}\x03",
        ("CUXX01 XNOR 050000",) * 3,
    ),
    Scene(
        "the number before the letters, the word for a correction, terminators in a row",
        f"\x01{L}068{L}USXX01 XNOR 090000 COR{L}90417 ⟦{A}==⟧{L}= ={L}90417{L}⟦{B}⟧{L}"
        f"90417 ⟦TTCC COR "
        f"59003 90417 70842 59163=⟧{L}\x03".replace("==⟧", "=⟧="),
        ("USXX01 XNOR 090000 COR",) * 3,
    ),
    Scene(
        "a heading of one figure, one without blanks, one cut short, each with its report",
        f"\x01{L}069{L}USXX1 XNOR 090000{L}⟦{A}=⟧{L}\x03\x01{L}070{L}‹USXX01XNOR090000›{L}"
        f"⟦{A}=⟧{L}\x03"
        f"\x01{L}071{L}‹USXX01 XNOR›{L}⟦{A}=⟧{L}\x03",
        ("USXX1 XNOR 090000", None, None),
    ),
    Scene(
        "a product line, a flag field, and the sign of another circuit for the end",
        f"####018000123####\nUSXX01 XNOR 090000\r\r\nMANXNR\r\r\n⟦{A}⟧\r\r\n####018000124####\n"
        f"UKXX01 XNOR 090000{L}⟦{B}=⟧{L}‹$$›{L}\x03",
        ("USXX01 XNOR 090000", "UKXX01 XNOR 090000"),
    ),
    Scene(
        "no blank anywhere: after the report comes a heading, the end of a tape, the end",
        f"\x01{L}072{L}USXX01 XNOR 090000{L}⟦{A}⟧UKXX01 XNOR 090000{L}⟦{B}⟧NNNN{L}"
        f"ZCZC 073{L}ULXX01 XNOR 090000{L}⟦{C}⟧ZCZC 074{L}USXX01 XNOR 090000{L}⟦{A}⟧\x03",
        ("USXX01 XNOR 090000", "UKXX01 XNOR 090000", "ULXX01 XNOR 090000", "USXX01 XNOR 090000"),
    ),
    Scene(
        "messages between operators that name parts at the beginning of a line",
        f"\x01{L}075{L}BMAA01 XNOR 090100{L}‹TTAA 12 UTC OF 90417 NOT RECEIVED, PLEASE REPEAT.{L}"
        f"TTBB AND TTCC TOO.{L}THE BUFR MESSAGE AND GRIB AS WELL, NIL RECEIVED.›{L}\x03",
    ),
    Scene(
        "numbers and names before the letters on their line",
        f"‹1:› ⟦{A}=⟧\r\n‹2: Harrow Tarn› ⟦{B}=⟧\r\n‹3) ›⟦{C}=⟧\r\n\x03".replace(") ›", ")› "),
        (None,) * 3,
    ),
    Scene(
        "a printed page without headings, a blank line before each part, no terminator",
        f"‹HARROW TARN 90417›\n\n⟦{A}⟧\n\n⟦{B}⟧\n\n⟦{C}⟧\n\n‹*** END OF LIST ***›\n\x03",
        (None,) * 3,
    ),
    Scene(
        "the next message begins in the middle of a group",
        f"\x01{L}076{L}USXX01 XNOR 090000{L}⟦TTAA 59001 90417 999⟧\x01{L}077{L}"
        f"UKXX01 XNOR 090000{L}"
        f"⟦TTBB 5900/ 90417 0096⟧\x03{L}\x01{L}078{L}ULXX01 XNOR 090000{L}⟦TTCC⟧{L}\x03",
        ("USXX01 XNOR 090000", "UKXX01 XNOR 090000", "ULXX01 XNOR 090000"),
    ),
    Scene(
        "a bulletin in another alphabet, one in a language of marks, a character form",
        f"\x01{L}079{L}WWXX01 XNOR 090000{L}‹\xc2\xc5\xd4\xc5\xd2 TTAA, \xd7 12 UTC›{L}\x03"
        f"\x01{L}080{L}LAXX31 XNOR 090000{L}‹<?xml version='1.0'?><report id='TTAA'/›>{L}\x03"
        f"\x01{L}081{L}KSXX01 XNOR 090000{L}‹CREX++{L}T0003 A000 D07021++{L}"
        f"90417 2031 07 09++{L}7777›"
        f"{L}\x03",
    ),
    Scene(
        "a surface form that is announced but is a sounding of a ship, terminators doubled",
        f"\x01{L}082{L}SMVD01 XNOR 091200{L}⟦{SHIP}=⟧={L}={L}‹BBXX{L}QCW07 09124 99551 70225=›{L}"
        f"⟦{SHIP}=⟧{L}\x03",
        ("SMVD01 XNOR 091200",) * 2,
    ),
    Scene(
        "nothing but noise",
        "‹\xff\xfe\x80\x81 qwerty 12345 12345 TT AA 59001 90417 \xe9\xe8\x9d›\r\n\x03",
    ),
)
