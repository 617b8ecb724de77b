"""What trees show. The answer comes from later apps, which register; the trees keep it for speed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from django.utils import timezone

from sugarbush.trees.models import Shown, Tree

BATCH = 500


@dataclass(frozen=True)
class ShownState:
    """What one tree shows, the last day that is sure to hold, and whether somebody should look at it."""

    state: Shown
    until: dt.date | None
    needs_look: bool


Reader = Callable[[list[int], dt.date], dict[int, ShownState]]
_reader: list[Reader] = []


def register(reader: Reader) -> None:
    """Name the one function that works out states: (tree ids, day) -> {tree id: ShownState}."""
    _reader[:] = [reader]


def refresh(tree_ids: Iterable[int], on: dt.date | None = None) -> None:
    """Work out and keep what these trees show. Every act that touches a tree calls this, in its transaction."""
    on = on or timezone.localdate()
    ids = sorted(set(tree_ids))
    for start in range(0, len(ids), BATCH):
        part = ids[start : start + BATCH]
        states = _reader[0](part, on)
        changed = []
        for tree in Tree.objects.filter(pk__in=part).only("pk", "shown_state", "shown_until", "needs_look"):
            new = states[tree.pk]
            if (tree.shown_state, tree.shown_until, tree.needs_look) != (new.state, new.until, new.needs_look):
                tree.shown_state, tree.shown_until, tree.needs_look = new.state, new.until, new.needs_look
                changed.append(tree)
        Tree.objects.bulk_update(changed, ["shown_state", "shown_until", "needs_look"])


def refresh_lapsed(on: dt.date | None = None) -> int:
    """Refresh every tree whose shown state may have lapsed by the day; the number of trees looked at."""
    on = on or timezone.localdate()
    ids = list(Tree.objects.filter(shown_until__lt=on).values_list("pk", flat=True))
    refresh(ids, on)
    return len(ids)
