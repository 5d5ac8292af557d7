"""From received text to the groups of each part; everything outside a part is accounted for."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from encoder.codes import FORMS
from encoder.codes.decode import Token
from encoder.diagnostics import Diagnostic, diagnostic

_WORD = re.compile(r"=|[^\s=\x00-\x20\x7f]+")
_CODE_WORD = re.compile(r"[0-9/]+\Z")
_LETTERS = tuple(part.letters for form in FORMS.values() for part in form.parts)
_GLUED = re.compile(rf"({'|'.join(_LETTERS)})(\d{{4}}[\d/].*)\Z")
_HEADING = re.compile(r"[A-Z]{4}\d{2}[ \t]+[A-Z]{4}[ \t]+\d{6}\b")
_ENDS = ("NNNN", "ZCZC")


@dataclass(slots=True)
class PartText:
    """The groups of one part in the received text."""

    letters: str
    tokens: list[Token] = field(default_factory=list)
    ended: bool = False
    found: list[Diagnostic] = field(default_factory=list)

    @property
    def span(self) -> tuple[int, int]:
        """Offsets of the first and past the last character."""
        return self.tokens[0].start, self.tokens[-1].end


def split_parts(text: str) -> tuple[tuple[PartText, ...], tuple[Diagnostic, ...]]:
    """Find the parts in a text.

    Parameters
    ----------
    text : str
        Received text: one or more parts, with or without headings, line ends and ``=``.

    Returns
    -------
    parts : tuple of PartText
        In the order of the text.
    diagnostics : tuple of Diagnostic
        What stands outside any part.
    """
    parts: list[PartText] = []
    outside: list[Token] = []
    current: PartText | None = None
    lower = text != text.upper()
    capitals = text.upper() if len(text.upper()) == len(text) else text
    for match in _WORD.finditer(capitals):
        heading = _HEADING.match(capitals, match.start()) is not None
        token = Token(match.group(), match.start(), match.end())
        glued = _GLUED.match(token.text)
        letters = glued.group(1) if glued else token.text
        if letters in _LETTERS:
            current = PartText(letters)
            parts.append(current)
            current.tokens.append(Token(letters, token.start, token.start + 4))
            if glued:
                rest = Token(token.text[4:], token.start + 4, token.end)
                current.found.append(_run_together(token))
                _append(current, rest)
        elif current is None or token.text in _ENDS or heading:
            if token.text != "=":
                outside.append(token)
            if token.text != "=":
                current = None
        elif token.text == "=":
            current.ended = True
            current = None
        else:
            _append(current, token)
    found = _outside(outside, text)
    if lower and parts:
        found.append(diagnostic("lower-case", "Small letters were read as capitals."))
    return tuple(parts), tuple(found)


def _append(part: PartText, token: Token) -> None:
    """Add a group, taking apart groups that stand without a blank between them."""
    count, rest = divmod(len(token.text), 5)
    if count < 2 or rest or not _CODE_WORD.match(token.text):
        part.tokens.append(token)
        return
    part.found.append(_run_together(token))
    for place in range(count):
        begin = token.start + 5 * place
        part.tokens.append(Token(token.text[5 * place : 5 * place + 5], begin, begin + 5))


def _run_together(token: Token) -> Diagnostic:
    return diagnostic(
        "groups-run-together",
        f"{token.text!r} was read as groups of five.",
        span=(token.start, token.end),
        value=token.text,
    )


def _outside(outside: list[Token], text: str) -> list[Diagnostic]:
    """Report runs of words outside any part, a run a diagnostic."""
    found: list[Diagnostic] = []
    run: list[Token] = []
    for token in [*outside, None]:
        if token is not None and (
            not run or not text[run[-1].end : token.start].strip("\x00\x01\x03 \r\n\t=")
        ):
            run.append(token)
            continue
        if run:
            words = " ".join(item.text for item in run[:12])
            found.append(
                diagnostic(
                    "text-outside-report",
                    f"Not part of a report: {words}{' ...' if len(run) > 12 else ''}.",
                    span=(run[0].start, run[-1].end),
                    value=words,
                )
            )
        run = [] if token is None else [token]
    return found
