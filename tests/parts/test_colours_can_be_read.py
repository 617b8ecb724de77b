"""Colours keep the contrast WCAG 2.2 asks for: measured here by its own formula, light and dark."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

pytestmark = pytest.mark.pure

TOKENS = (Path(__file__).resolve().parents[2] / "static/css/tokens.css").read_text()
LIGHT_PART, _, REST = TOKENS.partition("@media screen and (prefers-color-scheme: dark)")
DARK_PART = REST.partition("@media")[0]
COLOUR = re.compile(r"--([\w-]+):\s*(#[0-9a-f]{6})\b")
LIGHT = dict(COLOUR.findall(LIGHT_PART))
DARK = LIGHT | dict(COLOUR.findall(DARK_PART))

STATES = ["considered", "asked", "allowed", "ready", "pull", "resting", "not", "attention"]
# Words of volunteer and pan pages 7:1 (SC 1.4.6), other words 4.5:1 (SC 1.4.3), shapes 3:1 (SC 1.4.11).
PAIRS = [
    *((words, paper, 7.0) for words in ("ink", "ink-soft") for paper in ("snow", "sheet", "frost")),
    *((words, paper, 7.0) for words in ("amber-ink", "rowan") for paper in ("snow", "sheet")),
    ("on-amber", "amber", 7.0),
    ("on-rowan", "rowan", 7.0),
    ("on-band", "band", 7.0),
    *(("line", paper, 3.0) for paper in ("snow", "sheet")),
    *((f"m-{state}", paper, 4.5) for state in STATES for paper in ("snow", "sheet")),
    *(("m-listed", paper, 3.0) for paper in ("snow", "sheet")),
]


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    channels = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio as WCAG 2.2 defines it."""
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def test_black_on_white_is_21_to_1() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)


@pytest.mark.parametrize("scheme", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize(("front", "back", "least"), PAIRS)
def test_what_stands_on_a_ground_can_be_told_from_it(
    scheme: dict[str, str], front: str, back: str, least: float
) -> None:
    assert contrast(scheme[front], scheme[back]) >= least


@pytest.mark.parametrize("scheme", [LIGHT, DARK], ids=["light", "dark"])
def test_the_drop_of_a_tapped_tree_shows_by_its_edge_or_its_fill(scheme: dict[str, str]) -> None:
    against = max(contrast(scheme["m-tapped"], scheme["sheet"]), contrast(scheme["m-edge"], scheme["sheet"]))
    assert against >= 3.0
