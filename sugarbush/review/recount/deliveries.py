"""What a delivery's containers held is in tanks, turned away or ahead; its difference is one movement."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Iterable, Iterator
from typing import Any

from django.db.models import Sum
from django.utils.translation import gettext as _

from sugarbush.boils.models import Delivery, DeliveryState
from sugarbush.review.recount.rows import AT_ONCE, Book, Finding, chunks, ml_words
from sugarbush.sap.models import Act, ActKind, Cause, Movement, Vessel, VesselKind
from sugarbush.seasons.models import Season

MEASURED = ("measured_over", "measured_under")


def deliveries(season: Season, book: Book) -> Iterator[Finding]:
    """Delivery by delivery, from its lines and its movements."""
    rows = Delivery.objects.filter(season=season).annotate(measured=Sum("lines__volume_ml")).order_by("number")
    for chunk in chunks(rows.iterator(chunk_size=AT_ONCE)):
        ids = [row.pk for row in chunk]
        moved: dict[uuid.UUID, dict[str, int]] = defaultdict(lambda: defaultdict(int))
        mine = Movement.objects.filter(act__origin_kind="delivery", act__origin_uuid__in=ids).order_by("seq")
        lines: Iterable[Any] = mine.values_list(
            "act__origin_uuid", "seq", "cause", "detail", "volume_ml", "reverses_id"
        )
        for pk, seq, cause, detail, ml, back in lines:
            counts_ml = ml if back is None else -ml
            ahead = cause == Cause.MEASURED_OVER and detail == "ahead"
            if ahead or cause in {Cause.MOVED, Cause.REJECTED}:
                moved[pk]["measured"] += counts_ml
                moved[pk]["seq"] = seq
            if ahead:
                moved[pk]["ahead"] += counts_ml
        apart: dict[str, int] = defaultdict(int)
        marked = Movement.objects.filter(cause__in=MEASURED, detail__in=[pk.hex for pk in ids]).order_by()
        lines = marked.values_list("detail", "cause", "volume_ml", "reverses_id")
        for detail, cause, ml, back in lines:
            apart[detail] += ml if (cause == Cause.MEASURED_OVER) == (back is None) else -ml
        for row in chunk:
            yield from _delivery(row, row.measured or 0, moved[row.pk], apart[row.pk.hex])


def _delivery(row: Delivery, measured_ml: int, moved: dict[str, int], difference_ml: int) -> Iterator[Finding]:
    seq = moved.get("seq")
    if moved.get("measured", 0) != measured_ml:
        yield Finding(
            "delivery",
            _("Delivery %(name)s: its containers hold %(said)s; the ledger has %(ledger)s.")
            % {"name": row, "said": ml_words(measured_ml), "ledger": ml_words(moved.get("measured", 0))},
            seq=seq,
        )
    if difference_ml != row.difference_ml:
        yield Finding(
            "difference",
            _("Delivery %(name)s: its difference is %(said)s; the ledger has %(ledger)s.")
            % {"name": row, "said": ml_words(row.difference_ml), "ledger": ml_words(difference_ml)},
            seq=seq,
        )
    if bool(moved.get("ahead", 0)) != (row.state == DeliveryState.AHEAD):
        yield Finding(
            "ahead",
            _("Delivery %(name)s is “%(state)s”, but %(ml)s of it is ahead of its entries.")
            % {"name": row, "state": row.get_state_display(), "ml": ml_words(moved.get("ahead", 0))},
            seq=seq,
        )


def hand_overs(season: Season, book: Book) -> Iterator[Finding]:
    """Sap handed over goes from the giver's hands into another's, in one movement."""
    acts = Act.objects.filter(season=season, kind=ActKind.HAND_OVER).order_by("recorded_at")
    rows = Movement.objects.filter(act__in=acts).order_by("seq")
    hands = {pk for pk, vessel in book.vessels.items() if vessel.kind == VesselKind.HANDS}
    lines: Iterable[Any] = rows.values_list("seq", "from_vessel_id", "to_vessel_id", "act__person_id")
    for seq, source, target, person in lines:
        giver: Vessel | None = book.vessels.get(source)
        if source not in hands or target not in hands or (giver is not None and giver.person_id != person):
            yield Finding(
                "hand-over",
                _("Movement %(seq)d was handed over, but not from its giver’s hands into another’s.") % {"seq": seq},
                seq=seq,
            )
