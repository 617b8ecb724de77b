"""Looks at the pan. Every act there is a look, and carries its form's own number, so that sent twice it counts once."""

from __future__ import annotations

import datetime as dt
import uuid
from decimal import Decimal

from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.boils.models import Batch, BatchState, BoilDay
from sugarbush.boils.models_pan import PanReading
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

LONGEST_OPEN = dt.timedelta(hours=24)


def may_watch(person: Person, day: BoilDay) -> bool:
    """Whoever keeps batches, and whoever is on one of the day's shifts or its crew."""
    if access.holds(person, "boil.plan"):
        return True
    if not access.holds(person, "pan.watch"):
        return False
    return day.shifts.filter(people=person).exists() or day.crew.filter(pk=person.pk).exists()


def require_watch(person: Person, day: BoilDay) -> None:
    if not may_watch(person, day):
        raise PermissionDenied(_("Only who is on a shift of this day looks after its pan. Ask the lead to put you on."))


def closed_reason(batch: Batch) -> Reason:
    return Reason(
        code="closed",
        fact=_("This batch is closed."),
        next_text=_("See what came of it"),
        next_url=reverse("batch", args=[batch.pk]),
    )


def held_open(batch: Batch, token: uuid.UUID) -> Batch | None:
    """The batch held for an act, or None when this very act was done before.  Raises Refused for a closed batch."""
    held = Batch.objects.select_for_update(of=("self",)).select_related("pan__season", "boil_day").get(pk=batch.pk)
    if PanReading.objects.filter(pk=token, batch=held).exists():
        return None
    if held.state != BatchState.OPEN:
        raise Refused([closed_reason(held)])
    return held


def seen_before(batch: Batch, token: uuid.UUID) -> PanReading:
    return PanReading.objects.get(pk=token, batch=batch)


def note_look(
    *,
    batch: Batch,
    by: Person,
    at: dt.datetime,
    token: uuid.UUID,
    temperature_c: Decimal | None = None,
    sugar_brix: Decimal | None = None,
    volume_ml: int | None = None,
    note: str = "",
) -> PanReading:
    """Write a look down. Inside an act that holds the batch."""
    return PanReading.objects.create(
        pk=token,
        batch=batch,
        author=by,
        happened_at=at,
        temperature_c=temperature_c,
        sugar_brix=sugar_brix,
        volume_ml=volume_ml,
        note=note.strip()[:200],
    )


@transaction.atomic
def look(
    *,
    batch: Batch,
    by: Person,
    at: dt.datetime | None = None,
    token: uuid.UUID | None = None,
    temperature_c: Decimal | None = None,
    sugar_brix: Decimal | None = None,
    volume_ml: int | None = None,
    note: str = "",
) -> PanReading:
    """Somebody looked at the pan, with or without a reading. A look from before the batch closed is always kept."""
    require_watch(by, batch.boil_day)
    token = token or uuid.uuid4()
    at = at or timezone.now()
    held = Batch.objects.select_for_update(of=("self",)).select_related("boil_day").get(pk=batch.pk)
    before = PanReading.objects.filter(pk=token, batch=held).first()
    if before:
        return before
    if held.closed_at is not None and at > held.closed_at:
        raise Refused([closed_reason(held)])
    at = max(at, held.opened_at)
    return note_look(
        batch=held,
        by=by,
        at=at,
        token=token,
        temperature_c=temperature_c,
        sugar_brix=sugar_brix,
        volume_ml=volume_ml,
        note=note,
    )


def last_look_at(batch: Batch) -> dt.datetime:
    """When somebody was last at the pan: a look, or the filling."""
    last = batch.readings.order_by("-happened_at").values_list("happened_at", flat=True).first()
    return max(batch.opened_at, last) if last else batch.opened_at


def open_too_long(batch: Batch, now: dt.datetime | None = None) -> bool:
    """A half-boiled pan left standing goes ropy: open for more than a day is called out."""
    return batch.state == BatchState.OPEN and (now or timezone.now()) - batch.opened_at > LONGEST_OPEN
