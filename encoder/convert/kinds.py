"""What a source of historical records can be. Light, because the command line offers the list."""

from __future__ import annotations

from typing import Literal, get_args

Kind = Literal[
    "igra", "igra-many", "igra-derived", "coded-text", "bufr", "netcdf", "table", "quarantine"
]
KINDS: tuple[Kind, ...] = get_args(Kind)
"""Kinds of source; igra-many is the IGRA layout with several stations in a file."""
