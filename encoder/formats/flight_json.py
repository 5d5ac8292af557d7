"""``flight.json``: the facts of a flight, checked against ``flight.schema.json``."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from encoder.diagnostics import Diagnostic, Result, diagnostic, excerpt, in_file
from encoder.formats.text_file import read_text
from encoder.formats.units import nearest
from encoder.schemas_folder import schema

if TYPE_CHECKING:
    import os
    from collections.abc import Iterable, Mapping

MOST_BYTES = 2_000_000
"""Largest facts file read."""

_TYPE_WORDS = {
    "string": "text in quotes",
    "number": "a number",
    "integer": "a whole number",
    "boolean": "true or false",
    "array": "a list in [ ]",
    "object": "keys in { }",
    "null": "null",
}


class _JsonError(ValueError):
    """A thing JSON does not allow although the parser would take it."""


def read_flight_document(path: str | os.PathLike[str]) -> Result[dict[str, Any] | None]:
    """Read and validate the facts of a flight.

    Parameters
    ----------
    path : path-like
        The file.

    Returns
    -------
    Result of dict or None
        The document as read; None when it is no JSON object or breaks the schema. Every fault is
        told at once, each with its path.
    """
    text = read_text(path, most=MOST_BYTES)
    if text.value is None:
        return Result(None, text.diagnostics)
    result = flight_document(text.value)
    return Result(result.value, in_file((*text.diagnostics, *result.diagnostics), str(path)))


def flight_document(text: str) -> Result[dict[str, Any] | None]:
    """Return the facts from their JSON text; see :func:`read_flight_document`."""
    try:
        document = json.loads(
            text, object_pairs_hook=_without_repeated_keys, parse_constant=_no_constant
        )
    except json.JSONDecodeError as fault:
        return _not_json(
            f"the reader stopped at line {fault.lineno}, column {fault.colno}: {fault.msg}",
            fault.lineno,
        )
    except _JsonError as fault:
        return _not_json(str(fault), None)
    except RecursionError:
        return _not_json("lists or objects are nested too deeply", None)
    except ValueError as fault:
        return _not_json(excerpt(str(fault)), None)
    if "\\u" in text and not _is_text(document):
        return _not_json(
            "there is half of a surrogate pair (\\ud800 to \\udfff), which is no character", None
        )
    if not isinstance(document, dict):
        return _not_json(f"this is none: {_shown(document)}", 1)
    faults = document_faults(document)
    return Result(None if faults else document, faults)


def document_faults(document: Mapping[str, Any]) -> tuple[Diagnostic, ...]:
    """Return everything in which a document differs from ``flight.schema.json``.

    Parameters
    ----------
    document : mapping
        The facts of a flight.

    Returns
    -------
    tuple of Diagnostic
        In the order of the document's paths; empty for a valid document.
    """
    from jsonschema import Draft202012Validator

    validator = Draft202012Validator(schema("flight"))
    errors = sorted(
        validator.iter_errors(document), key=lambda error: [str(step) for step in error.path]
    )
    return tuple(item for error in errors for item in _faults_of(error))


def _faults_of(error: Any) -> Iterable[Diagnostic]:
    """Return the diagnostics of one schema error (a ``jsonschema`` validation error)."""
    path = tuple(error.absolute_path)
    if error.validator == "additionalProperties":
        known = error.schema["properties"]
        return [_unknown_key(key, known, path) for key in error.instance if key not in known]
    if error.validator == "required":
        missing = [key for key in error.validator_value if key not in error.instance]
        # jsonschema reports each missing key on its own; its message quotes the key.
        return [_missing_key(key, path) for key in missing if error.message.startswith(repr(key))]
    if error.validator == "anyOf":
        return [
            diagnostic(
                "station-not-identified",
                "Expected wmo_index, wigos_id or both, found neither.",
                path=path,
                expected="wmo_index or wigos_id",
            )
        ]
    if error.validator == "oneOf":
        return [
            diagnostic(
                "edit-range-not-given",
                "Expected either from_time_s with to_time_s or from_line with to_line.",
                path=path,
                value=_shown(error.instance),
                expected="one pair of limits",
            )
        ]
    expected = _expected(error)
    return [
        diagnostic(
            "value-not-allowed",
            f"Expected {expected} for {_name(path)}, found {_shown(error.instance)}.",
            path=path,
            value=_shown(error.instance),
            expected=expected,
        )
    ]


def _unknown_key(key: str, known: Mapping[str, Any], path: tuple[str | int, ...]) -> Diagnostic:
    names = [name for name in known if not name.startswith("$")]
    close = nearest(key, names)
    tail = f'; did you mean "{close}"?' if close else f"; known are {', '.join(names)}."
    return diagnostic(
        "key-unknown",
        f'There is no key "{excerpt(key)}" in {_name(path)}{tail}',
        path=(*path, excerpt(key)),
        value=excerpt(key),
        expected=close,
    )


def _missing_key(key: str, path: tuple[str | int, ...]) -> Diagnostic:
    return diagnostic(
        "key-missing",
        f'Expected the key "{key}" in {_name(path)}, found none.',
        path=(*path, key),
        expected=key,
    )


def _expected(error: Any) -> str:
    """Return in plain words what the schema wants at the place of an error."""
    rule, wanted = error.validator, error.validator_value
    unit = error.schema.get("x-unit", "") if isinstance(error.schema, dict) else ""
    tail = f" {unit}" if unit else ""
    if rule == "type":
        kinds = [wanted] if isinstance(wanted, str) else wanted
        return " or ".join(_TYPE_WORDS[kind] for kind in kinds)
    if rule in ("enum", "const"):
        choices = wanted if rule == "enum" else [wanted]
        return "one of " + ", ".join(_shown(choice) for choice in choices)
    words = {
        "minimum": f"at least {wanted}{tail}",
        "maximum": f"at most {wanted}{tail}",
        "exclusiveMinimum": f"more than {wanted}{tail}",
        "minLength": "text that is not empty",
        "minItems": "a list that is not empty",
        "uniqueItems": "a list without repetitions",
        "not": "a number",
        "pattern": _PATTERNS.get(wanted, f"text of the form {wanted}")
        if isinstance(wanted, str)
        else "",
    }
    return words.get(rule, f"a value that fits the rule {rule}")


_PATTERNS = {
    "^[^/\\\\]+$": "the name of a file in the same folder",
    "^[0-9]{5}$": 'five figures such as "90417"',
    "^0-[0-9]{1,5}-[0-9]{1,5}-[A-Za-z0-9]{1,16}$": 'an identifier such as "0-20000-0-90417"',
    "^[0-9/]$": 'one figure or "/"',
    "^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}(:[0-9]{2})?Z$": (
        'a UTC time such as "2031-07-15T17:16:30Z"'
    ),
    "^[0-9A-Z/]{1,10}$": "a group of figures, capital letters and /",
}
"""Patterns of the schema in words."""


def _name(path: tuple[str | int, ...]) -> str:
    return "/".join(str(step) for step in path) or "the file"


def _shown(value: Any) -> str:
    """Return a value as JSON text, cut to a readable length."""
    return excerpt(json.dumps(value, ensure_ascii=False))


def _not_json(what: str, line: int | None) -> Result[dict[str, Any] | None]:
    return Result(
        None,
        (diagnostic("json-not-valid", f"Expected a JSON object; {what}.", line=line),),
    )


def _is_text(document: Any) -> bool:
    """Tell whether every string of a document can be written as UTF-8."""
    try:
        json.dumps(document, ensure_ascii=False).encode("utf-8")
    except UnicodeEncodeError:
        return False
    return True


def _without_repeated_keys(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in pairs:
        if key in found:
            msg = f'the key "{excerpt(key)}" is there twice in one object'
            raise _JsonError(msg)
        found[key] = value
    return found


def _no_constant(word: str) -> float:
    msg = f"{word} is not JSON (write null where a value was not observed)"
    raise _JsonError(msg)
