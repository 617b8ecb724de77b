"""Each entry says what the movements that stand for it say."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Iterable, Iterator
from typing import Any

from django.utils.translation import gettext as _

from sugarbush.boils.models import Batch, Delivery
from sugarbush.gathering.models import Collection, CollectionState
from sugarbush.lots.models import JarIssue, Lot
from sugarbush.review.recount.rows import AT_ONCE, Book, Finding, chunks, ml_words
from sugarbush.sap.models import Act, ActKind, Cause, Movement, Standing
from sugarbush.seasons.models import Programme, Season

COLLECTION = "collection"


def _entry_words(entry: Collection) -> dict[str, Any]:
    when = entry.happened_at.astimezone((Programme.current() or Programme()).zone)
    return {"tree": entry.tree.code, "when": f"{when:%Y-%m-%d %H:%M}", "who": entry.person, "id": entry.pk}


def entries(season: Season, book: Book) -> Iterator[Finding]:
    """Each entry says what the movements that stand for it say."""
    rows = Collection.objects.filter(season=season).select_related("tree", "person").order_by("pk")
    for chunk in chunks(rows.iterator(chunk_size=AT_ONCE)):
        ids = [entry.pk for entry in chunk]
        moved = Movement.objects.filter(act__origin_kind=COLLECTION, act__origin_uuid__in=ids).order_by()
        if season.closed_at is not None:  # a late correction stands beside the entry, which stays as it was
            moved = moved.exclude(act__kind=ActKind.CORRECT, act__recorded_at__gt=season.closed_at)
        found: dict[uuid.UUID, dict[str, int]] = defaultdict(lambda: defaultdict(int))
        lines: Iterable[Any] = moved.values_list("act__origin_uuid", "cause", "detail", "volume_ml", "reverses_id")
        for pk, cause, detail, ml, back in lines:
            key = f"{cause} not_ours" if detail == "not_ours" else cause
            found[pk][key] += ml if back is None else -ml
        acts = Act.objects.filter(origin_kind=COLLECTION, origin_uuid__in=ids).order_by()
        stands: dict[uuid.UUID | None, set[str]] = defaultdict(set)
        whose: dict[uuid.UUID | None, set[tuple[Any, ...]]] = defaultdict(set)
        for pk, standing, *names in acts.values_list("origin_uuid", "standing", "tree_id", "person_id", "group_id"):
            stands[pk].add(standing)
            whose[pk].add(tuple(names))
        for entry in chunk:
            yield from _entry(entry, found[entry.pk], stands[entry.pk], whose[entry.pk])
    yield from _strays(season)


def _entry(
    entry: Collection, moved: dict[str, int], stands: set[str], whose: set[tuple[Any, ...]]
) -> Iterator[Finding]:
    words = _entry_words(entry)
    name = _("The entry at %(tree)s, %(when)s, by %(who)s (%(id)s)") % words
    not_ours = Standing.NOT_OURS in stands
    there = entry.state != CollectionState.VOID or not_ours
    said = {
        Cause.OUT_OF_TREE: (_("out of the tree"), entry.volume_ml),
        Cause.RAIN_KEPT: (_("rain kept"), entry.rain_ml),
        Cause.DISCARDED: (_("tipped out"), entry.discarded_ml),
    }
    for cause, (what, said_ml) in said.items():
        expected = said_ml if there else 0
        if moved.get(str(cause), 0) != expected:
            yield Finding(
                "entry",
                _("%(entry)s says %(what)s %(said)s; the ledger has %(ledger)s.")
                % {
                    "entry": name,
                    "what": what,
                    "said": ml_words(expected),
                    "ledger": ml_words(moved.get(str(cause), 0)),
                },
            )
    if not_ours and moved.get(f"{Cause.DISCARDED} not_ours", 0) != entry.net_ml:
        yield Finding("entry", _("%(entry)s is not ours to use, but not all of it was tipped out.") % {"entry": name})
    expected_standing = {
        CollectionState.COUNTED: {Standing.COUNTED},
        CollectionState.REVIEW: {Standing.REVIEW},
        CollectionState.VOID: {Standing.NOT_OURS} if not_ours else {Standing.COUNTED},
    }[CollectionState(entry.state)]
    if stands - {str(standing) for standing in expected_standing}:
        yield Finding(
            "standing",
            _("%(entry)s is “%(state)s”, but the ledger has it as “%(standing)s”.")
            % {
                "entry": name,
                "state": entry.get_state_display(),
                "standing": ", ".join(str(Standing(s).label) for s in sorted(stands)),
            },
        )
    if whose - {(entry.tree_id, entry.person_id, entry.group_id)}:
        yield Finding("whose", _("%(entry)s names another tree, person or group than the ledger.") % {"entry": name})


def _strays(season: Season) -> Iterator[Finding]:
    """Acts of entries, deliveries, batches, lots or hand-outs that are not there."""
    there = {
        COLLECTION: Collection.objects.values("pk"),
        "delivery": Delivery.objects.values("pk"),
        "batch": Batch.objects.values("pk"),
        "lot": Lot.objects.values("pk"),
        "jars": JarIssue.objects.values("pk"),
    }
    for kind, known in there.items():
        acts = Act.objects.filter(season=season, origin_kind=kind).order_by()
        for act in acts.exclude(origin_uuid__in=known):
            first = act.movements.order_by("seq").first()
            yield Finding(
                "stray",
                _("The act “%(act)s” (%(id)s) belongs to a %(kind)s that is not there.")
                % {"act": act, "id": act.pk, "kind": kind},
                seq=first.seq if first else None,
            )
