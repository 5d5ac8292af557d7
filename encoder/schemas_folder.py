"""The JSON Schemas: inside an installed package, or beside it in a checkout."""

from __future__ import annotations

import json
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable


def schemas_folder() -> Traversable:
    """Return the folder that holds the schema files.

    A wheel carries them as ``encoder/schemas``; a checkout, and an editable installation of it,
    has them in ``schemas`` next to the package.
    """
    package = files("encoder")
    inside = package / "schemas"
    return inside if inside.is_dir() else Path(str(package)).parent / "schemas"


@cache
def schema_text(name: str) -> str:
    """Return the text of ``NAME.schema.json``.

    Raises
    ------
    FileNotFoundError
        If there is no such schema.
    """
    return (schemas_folder() / f"{name}.schema.json").read_text(encoding="utf-8")


def schema(name: str) -> dict[str, Any]:
    """Return ``NAME.schema.json`` as a new dictionary.

    Raises
    ------
    FileNotFoundError
        If there is no such schema.
    """
    document: dict[str, Any] = json.loads(schema_text(name))
    return document
