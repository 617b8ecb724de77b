"""The season's jars by size: filled, broken, handed out and come back, and those that are here."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.db.models import Q, Sum

from sugarbush.lots.models import JarCount, JarIssue, LotState
from sugarbush.seasons.models import Season


@dataclass(slots=True, kw_only=True)
class JarRow:
    """Jars of one size. broken: also those opened again or destroyed. held: here, but of a lot that is not released."""

    size_ml: int
    filled: int = 0
    broken: int = 0
    issued: int = 0
    back: int = 0
    held: int = 0

    @property
    def out(self) -> int:
        return self.issued - self.back

    @property
    def here(self) -> int:
        return self.filled - self.broken - self.out

    @property
    def in_store(self) -> int:
        return self.here - self.held

    @property
    def here_ml(self) -> int:
        return self.here * self.size_ml

    @property
    def out_ml(self) -> int:
        return self.out * self.size_ml


def jars(season: Season) -> list[JarRow]:
    """One row a size, the largest first; two queries."""
    rows: dict[int, JarRow] = {}
    free = {LotState.RELEASED, LotState.ISSUED}
    counts: Iterable[Any] = (
        JarCount.objects.filter(lot__season=season)
        .order_by()
        .values_list("size_ml", "lot__state")
        .annotate(filled=Sum("filled"), broken=Sum("broken"))
    )
    for size, state, filled, broken in counts:
        row = rows.setdefault(size, JarRow(size_ml=size))
        row.filled += filled
        row.broken += broken
        if state not in free:
            row.held += filled - broken
    moved: Iterable[Any] = (
        JarIssue.objects.filter(lot__season=season)
        .order_by()
        .values_list("size_ml", "lot__state")
        .annotate(out=Sum("count", filter=Q(returns=None)), back=Sum("count", filter=Q(returns__isnull=False)))
    )
    for size, state, went, back in moved:
        row = rows.setdefault(size, JarRow(size_ml=size))
        row.issued += went or 0
        row.back += back or 0
        if state not in free:
            row.held -= (went or 0) - (back or 0)
    return sorted(rows.values(), key=lambda row: -row.size_ml)
