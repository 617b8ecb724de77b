"""What must be settled before a season can close. Each app that knows of something registers its question."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from sugarbush.parts.reasons import Reason
from sugarbush.seasons.models import Season

Check = Callable[[Season], list[Reason]]
Totals = Callable[[Season], dict[str, Any]]
_CHECKS: dict[str, Check] = {}
_TOTALS: list[Totals] = []


def register(name: str, check: Check) -> None:
    _CHECKS[name] = check


def reasons_against(season: Season) -> list[Reason]:
    """Everything that keeps the season from closing; empty means it may close."""
    return [reason for check in _CHECKS.values() for reason in check(season)]


def register_totals(totals: Totals) -> None:
    """Name the one function that works out what a season keeps when it closes (plain values, kept as JSON)."""
    _TOTALS[:] = [totals]


def totals_of(season: Season) -> dict[str, Any] | None:
    """The totals to keep with the closed season; None where nobody works them out."""
    return _TOTALS[0](season) if _TOTALS else None
