"""The palette: readable on every ground, told apart by all eyes."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from encoder.plot.palette import PALETTE, TEXT_ROLES, contrast, luminance, rgb

GROUNDS = ("ground", "sheet", "well")
TOGETHER = ("temperature", "moisture", "report"), ("speed", "direction", "report")

# Machado, Oliveira and Fernandes (2009), IEEE TVCG 15, severity 1.0 (from memory)
DEFICIENCIES = {
    "protanopia": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deuteranopia": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "tritanopia": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}


def linear(colour):
    return np.array(
        [s / 12.92 if s <= 0.04045 else ((s + 0.055) / 1.055) ** 2.4 for s in rgb(colour)]
    )


def lab(values):
    """CIE L*a*b* of linear sRGB (D65)."""
    xyz = np.array(
        [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
    ) @ np.clip(values, 0, 1)
    t = xyz / np.array([0.9505, 1.0, 1.089])
    f = np.where(t > (6 / 29) ** 3, np.cbrt(t), t / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def test_contrast_of_black_and_white():
    """Black on white is 21 to 1, a colour on itself 1 to 1 (WCAG 2.2)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#123456", "#123456") == 1.0
    assert luminance("#ffffff") == pytest.approx(1.0)


@pytest.mark.parametrize("ground", ["light", "dark"])
def test_text_keeps_its_contrast(ground):
    """Every text role reaches 4.5 to 1 on every ground of its set (WCAG 2.2, 1.4.3)."""
    colours = PALETTE[ground]
    low = {
        (role, under): contrast(colours[role], colours[under])
        for role in TEXT_ROLES
        for under in GROUNDS
    }
    low |= {
        ("verdict-ink", role): contrast(colours["verdict-ink"], colours[role])
        for role in ("send", "look", "stop")
    }
    low["mark-ink", "mark"] = contrast(colours["mark-ink"], colours["mark"])

    assert {pair: value for pair, value in low.items() if value < 4.5} == {}


@pytest.mark.parametrize("ground", ["light", "dark"])
@pytest.mark.parametrize("eyes", ["all colours", *DEFICIENCIES])
def test_curves_that_meet_stay_apart(ground, eyes):
    """Curves of one plot differ by at least 15 in CIE L*a*b* for every kind of eye."""
    matrix = np.array(DEFICIENCIES.get(eyes, np.eye(3)))
    for group in TOGETHER:
        seen = {role: lab(matrix @ linear(PALETTE[ground][role])) for role in group}
        for one, other in itertools.combinations(group, 2):
            assert np.linalg.norm(seen[one] - seen[other]) > 15.0, (one, other)
