"""Sums that need not be added again: what was posted stays, so what was added up to a movement holds for good.

Kept in this process only, and looked at before each use: as many movements as then must stand up to that one, and it
must be the same one. Nothing is kept from inside a transaction, whose rows may still vanish.
"""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from typing import Any

from django.db import connection

from sugarbush.sap.models import Movement
from sugarbush.seasons.models import Season


@dataclass(frozen=True, slots=True)
class Mark:
    """How far something was added up: the last movement, and how many there were."""

    seq: int = 0
    uuid: uuid.UUID | None = None
    count: int = 0


_kept: dict[tuple[str, int], tuple[Mark, Any]] = {}


def mark(season: Season) -> Mark:
    """Where the season's movements end now."""
    rows = Movement.objects.filter(season=season)
    last = rows.order_by("-seq").values_list("seq", "uuid").first()
    if last is None:
        return Mark()
    return Mark(seq=last[0], uuid=last[1], count=rows.filter(seq__lte=last[0]).order_by().count())


def _stands(season: Season, until: Mark) -> bool:
    rows = Movement.objects.filter(season=season)
    if rows.filter(seq__lte=until.seq).order_by().count() != until.count:
        return False
    return until.uuid is None or rows.filter(seq=until.seq, uuid=until.uuid).exists()


def recall(name: str, season: Season) -> tuple[Mark, Any]:
    """What was kept under this name, and until where; (Mark(), None) where nothing was or it no longer stands."""
    found = _kept.get((name, season.pk))
    if found is None:
        return Mark(), None
    if not _stands(season, found[0]):
        _kept.pop((name, season.pk), None)
        return Mark(), None
    return found


def may_keep() -> bool:
    return not connection.in_atomic_block


def keep(name: str, season: Season, until: Mark, value: Any) -> None:
    """Keep a value for the next time. It must never be changed afterwards; make a copy and keep that."""
    if may_keep():
        _kept[name, season.pk] = until, value


def forget() -> None:
    _kept.clear()
