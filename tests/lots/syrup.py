"""Syrup for tests about lots: a vessel of it, a packed lot, a released lot. Kai packs, Alice releases."""

from __future__ import annotations

import itertools
from decimal import Decimal
from typing import Any

from django.utils import timezone

from sugarbush.lots import packing, second_look
from sugarbush.lots.models import Lot
from sugarbush.lots.packing import Jars, Pack
from sugarbush.sap.ledger import Move, post
from sugarbush.sap.models import ActKind, Cause, Vessel, VesselKind
from tests import make

_count = itertools.count(1)


def syrup(ml: int = 5_000, code: str = "") -> Vessel:
    """A lot vessel with this much syrup in it, as if it had come straight from a tree."""
    vessel = Vessel.objects.create(
        kind=VesselKind.LOT, season=make.season(), code=code or f"{make.today():%y}-{next(_count):02d}"
    )
    post(
        kind=ActKind.DRAW_OFF,
        season=vessel.season,
        author=make.kai(),
        happened_at=timezone.now(),
        moves=[Move(volume_ml=ml, cause=Cause.OUT_OF_TREE, target=vessel)],
    )
    return vessel


def counted(*jars: tuple[int, int], **fields: Any) -> Pack:
    """What Kai counted: (size, filled) each; 66.4 Brix and 84 °C unless said."""
    defaults: dict[str, Any] = {
        "jars": [Jars(size_ml=size, filled=filled) for size, filled in jars],
        "syrup_brix": Decimal("66.4"),
        "fill_temperature_c": Decimal("84.0"),
        "colour": "amber",
    }
    return Pack(**{**defaults, **fields})


def packed(vessel: Vessel | None = None, *jars: tuple[int, int], **fields: Any) -> Lot:
    vessel = vessel or syrup()
    return packing.pack(vessels=[vessel], by=make.kai(), packing=counted(*(jars or ((250, 20),)), **fields))


def released(vessel: Vessel | None = None, *jars: tuple[int, int], **fields: Any) -> Lot:
    return second_look.release(lot=packed(vessel, *jars, **fields), by=make.alice())
