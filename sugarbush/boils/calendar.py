"""Boiling days and shifts as events of a calendar. A place is told only where it is a depot's: others are yards."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Collection

from django.urls import reverse
from django.utils.translation import gettext as _

from sugarbush.audit.changes import Change
from sugarbush.boils.models import BoilDay, BoilState
from sugarbush.boils.models_pan import Shift
from sugarbush.kit.models import Depot
from sugarbush.parts.ics import Event, Status, uid

USUAL = dt.timedelta(hours=8)
"""How long a boiling day is said to take."""
STATUS: dict[str, Status] = {BoilState.PLANNED: "TENTATIVE", BoilState.CALLED_OFF: "CANCELLED"}


def depot_names() -> set[str]:
    return set(Depot.objects.values_list("name", flat=True))


def boil_event(day: BoilDay, where: Callable[[str], str], changed: Change, depots: Collection[str]) -> Event:
    """From the fire on where its hour is known, else the whole day. depots: the names a place may be told by.

    where: from an address within the programme to one that works from outside.
    """
    begins: dt.date = day.starts_at or day.day
    return Event(
        uid=uid("boil", day.pk),
        summary=_("Boiling day"),
        begins=begins,
        ends=begins + USUAL if isinstance(begins, dt.datetime) else begins,
        sequence=changed[0],
        changed_at=changed[1],
        status=STATUS.get(day.state, "CONFIRMED"),
        location=day.site if day.site in depots else "",
        url=where(reverse("boil-day", args=[day.pk])),
    )


def shift_event(shift: Shift, where: Callable[[str], str], changed: Change, depots: Collection[str]) -> Event:
    """A stretch at the pan. Not what for: that is typed."""
    day = shift.boil_day
    return Event(
        uid=uid("shift", shift.pk),
        summary=_("Shift at the pan"),
        begins=shift.begins,
        ends=shift.ends,
        sequence=changed[0],
        changed_at=changed[1],
        status=STATUS.get(day.state, "CONFIRMED"),
        location=day.site if day.site in depots else "",
        url=where(reverse("boil-day", args=[day.pk])),
        busy=True,
    )
