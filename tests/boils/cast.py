"""Boiling days, full tanks and people at pages, for the tests of the day and the pan."""

from __future__ import annotations

import datetime as dt
import uuid
from decimal import Decimal
from typing import Any

from django.test import Client
from django.utils import timezone

from sugarbush.boils.actions import Line, accept_delivery
from sugarbush.boils.batches import open_batch
from sugarbush.boils.days import CHECKLIST, light
from sugarbush.boils.models import Batch, BoilDay
from sugarbush.sap.ledger import Move, hands_of, post
from sugarbush.sap.models import ActKind, Cause, Vessel
from sugarbush.volunteers.models import Person
from tests import make

SITE = "Mill Race yard"


def at(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def fill(
    litres: int | str, brix: str | None = None, *, tank: Vessel | None = None, when: dt.datetime | None = None
) -> None:
    """A tank with so much sap in it, out of trees and delivered. The ledger has it; no visit says so, to be quick."""
    then: dict[str, Any] = {"happened_at": when} if when else {}
    post(
        kind=ActKind.COLLECT,
        season=make.season(),
        author=make.bob(),
        happened_at=when or timezone.now(),
        moves=[
            Move(
                volume_ml=int(Decimal(litres) * 1000),
                cause=Cause.OUT_OF_TREE,
                target=hands_of(make.bob(), make.season()),
                sugar_brix=Decimal(brix) if brix else None,
            )
        ],
    )
    line = Line(
        volume_ml=int(Decimal(litres) * 1000),
        tank=tank or make.tank(),
        container=make.container(),
        sugar_brix=Decimal(brix) if brix else None,
    )
    accept_delivery(
        depot=make.depot(),
        person=make.bob(),
        keeper=make.dora(),
        lines=[line],
        **then,
    )


def boil_day(**fields: Any) -> BoilDay:
    """A day today with every safety line ticked and two adults on its crew."""
    ticked = dict.fromkeys(CHECKLIST, True)
    fields = {"season": make.season(), "day": make.today(), "site": SITE, "lead": make.kai(), **ticked, **fields}
    day = BoilDay.objects.create(**fields)
    day.crew.set([make.kai(), make.alice()])
    return day


def lit_day(**fields: Any) -> BoilDay:
    return light(day=boil_day(**fields), by=make.kai())


def open_pan(litres: int = 40, brix: str | None = "2.0", **fields: Any) -> Batch:
    """A lit day's batch with so much sap in its pan, begun now."""
    fill(litres, brix)
    return open_batch(day=lit_day(**fields), by=make.kai(), takes=[(make.tank(), litres * 1000)])


def form_of(**changes: Any) -> dict[str, Any]:
    """The boiling day's form as its page sends it, every line ticked."""
    ticks = dict.fromkeys(CHECKLIST, "on")
    sent = {
        "day": make.today().isoformat(),
        "site": SITE,
        "begins": "09:00",
        "elevation_m": "190",
        "pan_area_cm2": "0.6",
        "fire_permit": "No. 14, the fire hall",
        "clear_mm": "12",
        "shown_units": "metric",
        **ticks,
        **changes,
    }
    return {name: value for name, value in sent.items() if value is not None}


def token() -> str:
    return str(uuid.uuid4())


def ago(minutes: float) -> dt.datetime:
    return timezone.now() - dt.timedelta(minutes=minutes)
