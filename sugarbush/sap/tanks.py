"""What is in a vessel: litres, sugar, pooled Brix, and the oldest sap in it."""

from __future__ import annotations

import datetime as dt
import uuid
from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby

from django.db.models import Avg

from sugarbush.core.sugar import TankFold
from sugarbush.sap.models import Cause, Movement, Vessel
from sugarbush.seasons.models import Season

Row = tuple[uuid.UUID, uuid.UUID | None, int, Decimal | None, dt.datetime, int | None]


@dataclass(frozen=True, kw_only=True)
class TankState:
    """One vessel now. Sugar and Brix include what was assumed; unmeasured_ml says how much that is."""

    volume_ml: int
    sugar_kg: float
    sugar_brix: float | None
    unmeasured_ml: int
    oldest_at: dt.datetime | None


def assumed_brix(season: Season) -> Decimal:
    """Sugar to assume for sap nobody measured: the season's own mean reading, else the season's setting."""
    rows = Movement.objects.filter(season=season, cause=Cause.OUT_OF_TREE, reverses=None, sugar_brix__isnull=False)
    mean = rows.aggregate(mean=Avg("sugar_brix"))["mean"]
    return Decimal(mean).quantize(Decimal("0.01")) if mean is not None else season.assumed_brix


def tank_state(vessel: Vessel, season: Season | None = None) -> TankState:
    """Fold the vessel's movements in the order they were posted. What leaves takes its share of sugar.

    The oldest sap is the earliest arrival since the vessel was last empty.
    """
    fold = TankFold(assumed_brix=float(assumed_brix(season or vessel.season)))
    rows = (
        (Movement.objects.filter(from_vessel=vessel) | Movement.objects.filter(to_vessel=vessel))
        .order_by("seq")
        .values_list("act_id", "to_vessel_id", "volume_ml", "sugar_brix", "happened_at", "reverses_id")
    )
    oldest: dt.datetime | None = None
    for _act, group in groupby(rows.iterator(chunk_size=2_000), key=lambda row: row[0]):
        # Within one act what comes in counts before what goes out: only the balance after the act must hold.
        moves: list[Row] = sorted(group, key=lambda row: row[1] != vessel.pk)
        for _act_id, target, ml, brix, happened, reverses in moves:
            reading = float(brix) if brix is not None else None
            if target == vessel.pk:
                oldest = happened if fold.state().volume_ml == 0 or oldest is None else min(oldest, happened)
                fold.add(ml, reading)
            elif reverses is not None:
                fold.undo_add(ml, reading)
            else:
                fold.take(ml)
    state = fold.state()
    return TankState(
        volume_ml=state.volume_ml,
        sugar_kg=state.sugar_kg,
        sugar_brix=state.sugar_brix if state.volume_ml else None,
        unmeasured_ml=state.unmeasured_ml,
        oldest_at=oldest if state.volume_ml else None,
    )
