"""How often things were changed, and when last: what numbers the versions of a thing for programs that hold copies."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import Any

from django.db.models import Count, Max

from sugarbush.audit.models import AuditEvent

Change = tuple[int, dt.datetime]
EPOCH = dt.datetime(2000, 1, 1, tzinfo=dt.UTC)
"""The last change of what was never changed: the same each time it is asked."""


class Changes:
    """By the history, which is only ever added to: the count of a thing never falls. One query for all of them."""

    def __init__(self, kind: str, keys: Iterable[Any]) -> None:
        """kind: as the history names it, such as "boils.boilday"."""
        rows = AuditEvent.objects.filter(subject_kind=kind, subject_id__in=[str(key) for key in dict.fromkeys(keys)])
        counted = rows.values_list("subject_id").annotate(n=Count("pk"), last=Max("at")).order_by()
        self._by_key: dict[str, Change] = {key: (n, last) for key, n, last in counted}

    def of(self, key: Any) -> Change:
        return self._by_key.get(str(key), (0, EPOCH))


def together(*changes: Change) -> Change:
    """Of a thing that several others make up.

    >>> together((2, EPOCH), (1, EPOCH))[0]
    3
    """
    return sum(n for n, _at in changes), max(at for _n, at in changes)
