"""What DEVELOPERS.md promises is there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

pytestmark = pytest.mark.pure

ROOT = Path(__file__).resolve().parents[2]
NOTES = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_every_test_that_the_security_table_names_is_there() -> None:
    table = NOTES.split("## Security, measured", 1)[1].split("## Sources", 1)[0]
    shown = [row.split("|")[-2] for row in table.splitlines() if row.startswith("|")]
    named = {name.removeprefix("tests/") for cell in shown for name in re.findall(r"`([^`]+)`", cell)}
    assert len(named) > 25
    assert {name for name in named if not (ROOT / "tests" / name).exists()} == set()


def test_every_letter_of_the_table_has_its_reason() -> None:
    table, reasons = NOTES.split("## Security, measured", 1)[1].split("Where we do otherwise, and why:", 1)
    used = set(re.findall(r"\*\*([a-z])\*\*", table))
    told = set(re.findall(r"^- \*\*([a-z])\*\*", reasons, re.MULTILINE))
    assert used == told
