"""Pans: sap in from tanks, syrup out into lots, the rest gone for a cause; a batch that is done left nothing."""

from __future__ import annotations

import datetime as dt
import uuid
from collections import defaultdict
from collections.abc import Iterator

from django.utils.translation import gettext as _

from sugarbush.boils.models import Batch, BatchState
from sugarbush.boils.models_pan import DrawOff, TankTemperature
from sugarbush.review.recount.rows import Book, Finding, ml_words
from sugarbush.sap.models import Movement, VesselKind
from sugarbush.seasons.models import Season


def batches(season: Season, book: Book) -> Iterator[Finding]:
    """A batch that is done has an empty pan; one that gave syrup has its lot, of its own or shared."""
    rows = list(Batch.objects.filter(boil_day__season=season).select_related("boil_day").order_by("pk"))
    drawn = set(DrawOff.objects.standing().filter(batch__in=rows).values_list("batch_id", flat=True))
    for row in rows:
        left_ml = book.held.get(row.pan_id, 0)
        if row.state != BatchState.OPEN and left_ml:
            yield Finding(
                "pan",
                _("%(batch)s is done, but its pan shows %(ml)s.") % {"batch": row, "ml": ml_words(left_ml)},
                vessel=row.pan_id,
            )
        gave = bool(row.lot_id) or row.pk in drawn
        if row.state != BatchState.OPEN and (row.state == BatchState.CLOSED) != gave:
            yield Finding(
                "lot",
                _("%(batch)s is “%(state)s”, which does not fit its lot.")
                % {"batch": row, "state": row.get_state_display()},
                vessel=row.pan_id,
            )
    whose = {row.pan_id for row in rows}
    for pk, vessel in book.vessels.items():
        if vessel.kind == VesselKind.PAN and pk not in whose and pk in book.held:
            yield Finding("pan", _("%(pan)s belongs to no batch.") % {"pan": vessel}, vessel=pk)


def draw_offs(season: Season, book: Book) -> Iterator[Finding]:
    """Each draw-off is one movement from its batch's pan into its lot; each loss has its cause or reason."""
    rows = DrawOff.objects.filter(batch__boil_day__season=season).select_related("batch__boil_day", "lot")
    found: dict[uuid.UUID, list[tuple[int, int, uuid.UUID, uuid.UUID]]] = defaultdict(list)
    moved = Movement.objects.filter(season=season, act__kind="draw_off", cause="moved").order_by("seq")
    for seq, act_id, ml, source, target in moved.values_list(
        "seq", "act_id", "volume_ml", "from_vessel_id", "to_vessel_id"
    ):
        found[act_id].append((seq, ml, source, target))
    for row in rows.order_by("recorded_at", "pk"):
        lines = found.pop(row.act_id, [])
        if [line[1:] for line in lines] != [(row.volume_ml, row.batch.pan_id, row.lot_id)]:
            yield Finding(
                "draw-off",
                _("%(batch)s: a draw-off says %(said)s into %(lot)s; the ledger has %(ledger)s.")
                % {
                    "batch": row.batch,
                    "said": ml_words(row.volume_ml),
                    "lot": row.lot,
                    "ledger": ml_words(sum(line[1] for line in lines)),
                },
                seq=lines[0][0] if lines else None,
                vessel=row.lot_id,
            )
    for lines in found.values():
        for seq, ml, _source, target in lines:
            yield Finding(
                "draw-off",
                _("Movement %(seq)d drew off %(ml)s, but no draw-off says so.") % {"seq": seq, "ml": ml_words(ml)},
                seq=seq,
                vessel=target,
            )
    lost = Movement.objects.filter(season=season, cause="lost", detail="", act__reason="", reverses=None)
    for seq, ml in lost.order_by("seq").values_list("seq", "volume_ml"):
        yield Finding(
            "lost",
            _("Movement %(seq)d lost %(ml)s without a reason.") % {"seq": seq, "ml": ml_words(ml)},
            seq=seq,
        )


def past_its_time(season: Season, book: Book) -> Iterator[Finding]:
    """Sap that stood in its tank longer than sap keeps went into a pan only where somebody said why.

    Counted from when it came into the tank, so this names only what is sure; where a tank froze, it says nothing.
    """
    tanks = {pk for pk, vessel in book.vessels.items() if vessel.kind == VesselKind.TANK}
    frozen = set(
        TankTemperature.objects.filter(tank__season=season, frozen_solid=True).values_list("tank_id", flat=True)
    )
    keeps = dt.timedelta(hours=season.keep_limit_h)
    held: dict[uuid.UUID, int] = defaultdict(int)
    since: dict[uuid.UUID, dt.datetime] = {}
    names = ("seq", "from_vessel_id", "to_vessel_id", "volume_ml", "happened_at", "act__kind")
    rows = Movement.objects.filter(season=season).order_by("seq")
    for seq, source, target, ml, at, kind, approver, reason in rows.values_list(
        *names, "act__approver_id", "act__reason"
    ).iterator(chunk_size=5_000):
        if source in tanks:
            said = approver is not None and reason.strip()
            late = source in since and at - since[source] > keeps
            if kind == "boil" and late and not said and source not in frozen:
                yield Finding(
                    "too-old",
                    _("Movement %(seq)d put %(ml)s of %(tank)s in a pan past its time, and nobody said why.")
                    % {"seq": seq, "ml": ml_words(ml), "tank": book.vessels[source]},
                    seq=seq,
                    vessel=source,
                )
            held[source] -= ml
            if held[source] <= 0:
                since.pop(source, None)
        if target in tanks:
            held[target] += ml
            since[target] = min(at, since.get(target, at))
