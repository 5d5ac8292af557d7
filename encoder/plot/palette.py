"""The colours of pages and plots: two grounds, one set of roles, told apart by all eyes.

Text roles keep a contrast of at least 4.5 to 1 on every ground of their set (WCAG 2.2, 1.4.3);
curves that meet in one plot stay apart for readers with any of the three colour deficiencies.
Nothing is told by colour alone: curves differ in stroke, level kinds in shape and letters.
"""

from __future__ import annotations

from typing import Literal

Ground = Literal["light", "dark"]

PALETTE: dict[Ground, dict[str, str]] = {
    "light": {
        "ground": "#f6f4ef",
        "sheet": "#fffefb",
        "well": "#ece8df",
        "ink": "#1b2329",
        "quiet": "#55606a",
        "line": "#cfc9bd",
        "grid": "#e3ded3",
        "temperature": "#a8380b",
        "moisture": "#086a78",
        "speed": "#51409f",
        "direction": "#7c2a63",
        "report": "#1b2329",
        "mark": "#ffe08a",
        "mark-ink": "#1b2329",
        "link": "#0b4f8a",
        "send": "#0c6141",
        "look": "#7d4b00",
        "stop": "#a3112b",
        "verdict-ink": "#ffffff",
    },
    "dark": {
        "ground": "#12171b",
        "sheet": "#1a2126",
        "well": "#242d33",
        "ink": "#ece8df",
        "quiet": "#a9b3ba",
        "line": "#3c474f",
        "grid": "#2b353c",
        "temperature": "#f59a6f",
        "moisture": "#62cbd6",
        "speed": "#b7a9f7",
        "direction": "#ee9fd0",
        "report": "#ece8df",
        "mark": "#5c4a10",
        "mark-ink": "#fff6da",
        "link": "#8cc4f5",
        "send": "#0f7350",
        "look": "#865a0c",
        "stop": "#b5243d",
        "verdict-ink": "#ffffff",
    },
}
"""Colours by role, in sRGB hexadecimal."""

TEXT_ROLES = (
    "ink",
    "quiet",
    "temperature",
    "moisture",
    "speed",
    "direction",
    "report",
    "link",
)
"""Roles that are used for text on ``ground``, ``sheet`` and ``well``."""


def rgb(colour: str) -> tuple[float, float, float]:
    """Return a hexadecimal colour as three shares from 0 to 1."""
    red, green, blue = (int(colour[place : place + 2], 16) / 255.0 for place in (1, 3, 5))
    return red, green, blue


def luminance(colour: str) -> float:
    """Return the relative luminance of a colour, 0 for black and 1 for white (WCAG 2.2)."""
    red, green, blue = (
        share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4
        for share in rgb(colour)
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Return the contrast of two colours, 1 to 21 (WCAG 2.2)."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)
