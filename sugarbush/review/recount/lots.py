"""Lots: a packed vessel holds its whole jars to the millilitre; every jar that went out is a movement."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Iterable, Iterator
from typing import Any

from django.utils.translation import gettext as _

from sugarbush.lots.models import JarCount, JarIssue, Lot, LotState, Recall, RecallLot
from sugarbush.review.recount.rows import Book, Finding, ml_words
from sugarbush.sap.models import Movement
from sugarbush.seasons.models import Season

Sizes = dict[int, int]


def lots(season: Season, book: Book) -> Iterator[Finding]:
    """Filled, less broken, less what went out and stayed out, by size: that is what the vessel holds."""
    rows = list(Lot.objects.filter(season=season).select_related("vessel").order_by("code"))
    stand: dict[uuid.UUID, Sizes] = {row.pk: defaultdict(int) for row in rows}
    out: dict[uuid.UUID, int] = defaultdict(int)
    for lot_id, size, filled, broken in JarCount.objects.filter(lot__in=rows).values_list(
        "lot_id", "size_ml", "filled", "broken"
    ):
        stand[lot_id][size] += filled - broken
    issues: Iterable[Any] = JarIssue.objects.filter(lot__in=rows).values_list(
        "lot_id", "size_ml", "count", "returns_id"
    )
    for lot_id, size, count, back in issues:
        stand[lot_id][size] += -count if back is None else count
        out[lot_id] += count if back is None else -count
    for row in rows:
        yield from _lot(row, stand[row.pk], out[row.pk], book)


def _lot(row: Lot, stand: Sizes, out: int, book: Book) -> Iterator[Finding]:
    pk = row.vessel_id
    jars_ml, held_ml = sum(size * count for size, count in stand.items()), book.held.get(pk, 0)
    for size, count in stand.items():
        if count < 0:
            yield Finding(
                "jars",
                _("Lot %(lot)s: %(n)d more jars of %(size)s went out or broke than were filled.")
                % {"lot": row.code, "n": -count, "size": ml_words(size)},
                vessel=pk,
            )
    if row.vessel.shut_at is not None and jars_ml != held_ml:
        yield Finding(
            "jars",
            _("Lot %(lot)s: its whole jars hold %(jars)s; its vessel holds %(held)s.")
            % {"lot": row.code, "jars": ml_words(jars_ml), "held": ml_words(held_ml)},
            vessel=pk,
        )
    if row.vessel.shut_at is None and jars_ml:
        yield Finding(
            "shut", _("Lot %(lot)s is packed, but its vessel still takes syrup.") % {"lot": row.code}, vessel=pk
        )
    here = any(stand.values())
    wrong = {
        LotState.RELEASED: not here,
        LotState.ISSUED: here or not out,
        LotState.DESTROYED: bool(held_ml) or out > 0,
    }.get(LotState(row.state), False)
    if wrong:
        yield Finding(
            "lot-state",
            _("Lot %(lot)s is “%(state)s”, which its jars are not.")
            % {"lot": row.code, "state": row.get_state_display()},
            vessel=pk,
        )


def into_packed(season: Season, book: Book) -> Iterator[Finding]:
    """Nothing went into a lot after it was packed, but what a reversal brought back."""
    packed: dict[uuid.UUID, int] = {}
    shut = dict(Lot.objects.filter(season=season, vessel__shut_at__isnull=False).values_list("pk", "vessel_id"))
    rows = Movement.objects.filter(season=season, act__kind="bottle", act__origin_kind="lot").order_by("seq")
    for seq, lot_id in rows.values_list("seq", "act__origin_uuid"):
        if lot_id in shut:
            packed[shut[lot_id]] = seq
    for pk, seq in packed.items():
        later = book.last_into.get(pk, 0)
        if later > seq:
            yield Finding(
                "shut",
                _("Movement %(seq)d went into %(lot)s, which was packed already.")
                % {"seq": later, "lot": book.vessels[pk]},
                seq=later,
                vessel=pk,
            )


def hand_outs(season: Season, book: Book) -> Iterator[Finding]:
    """Each hand-out is issued in the ledger, less what came back of it; nothing is issued that is no hand-out."""
    moved: dict[uuid.UUID | None, dict[uuid.UUID | None, int]] = defaultdict(lambda: defaultdict(int))
    seqs: dict[uuid.UUID | None, int] = {}
    rows: Iterable[Any] = (
        Movement.objects.filter(season=season, cause="issued")
        .order_by("seq")
        .values_list(
            "seq", "act__origin_uuid", "act__origin_kind", "from_vessel_id", "to_vessel_id", "volume_ml", "reverses_id"
        )
    )
    for seq, origin, kind, source, target, ml, back in rows:
        key = origin if kind == "jars" else None
        moved[key][source if back is None else target] += ml if back is None else -ml
        seqs[key] = seq
    issues = list(JarIssue.objects.filter(lot__season=season).select_related("lot").order_by("recorded_at", "pk"))
    back_count: dict[uuid.UUID, int] = defaultdict(int)
    for issue in issues:
        if issue.returns_id is not None:
            back_count[issue.returns_id] += issue.count
    by_id = {issue.pk: issue for issue in issues}
    for issue in issues:
        if issue.returns_id is not None:
            first = by_id.get(issue.returns_id)
            if first is None or (first.lot_id, first.size_ml) != (issue.lot_id, issue.size_ml):
                yield Finding(
                    "came-back",
                    _("Lot %(lot)s: jars came back that are not of the hand-out they belong to.")
                    % {"lot": issue.lot.code},
                    vessel=issue.lot.vessel_id,
                )
            continue
        left = issue.count - back_count[issue.pk]
        said_ml = left * issue.size_ml
        ledger_ml = moved[issue.pk][issue.lot.vessel_id]
        if left < 0 or said_ml != ledger_ml:
            yield Finding(
                "issue",
                _("Lot %(lot)s: %(n)d jars to %(who)s hold %(said)s; the ledger has %(ledger)s.")
                % {
                    "lot": issue.lot.code,
                    "n": left,
                    "who": issue.person or issue.owner or issue.to_text,
                    "said": ml_words(said_ml),
                    "ledger": ml_words(ledger_ml),
                },
                seq=seqs.get(issue.pk),
                vessel=issue.lot.vessel_id,
            )
    stray_ml = sum(ml for key, ends in moved.items() if key not in by_id for ml in ends.values())
    if stray_ml:
        seq = next(seqs[key] for key in seqs if key not in by_id)
        yield Finding(
            "issue",
            _("Movement %(seq)d issued syrup, but no jars were handed out with it.") % {"seq": seq},
            seq=seq,
        )


def recalls(season: Season, book: Book) -> Iterator[Finding]:
    """While a recall is open none of its jars goes out; one that is over says how it ended."""
    for recall in Recall.objects.filter(season=season).order_by("number"):
        inside = RecallLot.objects.filter(recall=recall).select_related("lot")
        for row in inside:
            went = JarIssue.objects.filter(lot=row.lot, returns=None, recorded_at__gt=recall.opened_at)
            if recall.closed_at is not None:
                went = went.filter(recorded_at__lt=recall.closed_at)
            for issue in went:
                yield Finding(
                    "recall",
                    _("Recall %(recall)s: %(n)d jars of lot %(lot)s went out after it was called back.")
                    % {"recall": recall, "n": issue.count, "lot": row.lot.code},
                    vessel=row.lot.vessel_id,
                )
            if recall.closed_at is None and row.lot.state not in {LotState.RECALLED, LotState.DESTROYED}:
                yield Finding(
                    "recall",
                    _("Recall %(recall)s is open, but lot %(lot)s is “%(state)s”.")
                    % {"recall": recall, "lot": row.lot.code, "state": row.lot.get_state_display()},
                    vessel=row.lot.vessel_id,
                )
            if row.part is not None and not 0 <= row.part <= 1:
                yield Finding(
                    "recall",
                    _("Recall %(recall)s: the suspect sap cannot make up %(part)s of lot %(lot)s.")
                    % {"recall": recall, "part": row.part, "lot": row.lot.code},
                    vessel=row.lot.vessel_id,
                )
        if recall.closed_at is not None and not recall.outcome.strip():
            yield Finding("recall", _("Recall %(recall)s is over, but nobody said how it ended.") % {"recall": recall})
