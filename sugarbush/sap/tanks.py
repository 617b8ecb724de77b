"""What is in a vessel: litres, sugar, pooled Brix, and the oldest sap in it."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby

from django.db.models import Avg, Q

from sugarbush.core.sugar import TankFold
from sugarbush.sap.ages import oldest_in
from sugarbush.sap.models import Cause, Movement, Vessel
from sugarbush.seasons.models import Season

Row = tuple[uuid.UUID, uuid.UUID | None, uuid.UUID | None, int, Decimal | None, int | None]


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

    The oldest sap is counted from when it left its tree; see sap.ages.
    """
    return tank_states([vessel], season or vessel.season)[vessel.pk]


def tank_states(vessels: Sequence[Vessel], season: Season, *, ages: bool = True) -> dict[uuid.UUID, TankState]:
    """What is in each of these vessels; a fixed number of queries, however many and however long their history.

    ages: False where nobody asks how old it is; oldest_at is None then.
    """
    ids = {vessel.pk for vessel in vessels}
    assumed = float(assumed_brix(season))
    folds = {pk: TankFold(assumed_brix=assumed) for pk in ids}
    rows = (
        Movement.objects.filter(Q(from_vessel_id__in=ids) | Q(to_vessel_id__in=ids))
        .order_by("seq")
        .values_list("act_id", "from_vessel_id", "to_vessel_id", "volume_ml", "sugar_brix", "reverses_id")
    )
    for _act, group in groupby(rows.iterator(chunk_size=2_000), key=lambda row: row[0]):
        moves: list[Row] = list(group)
        # Within one act what comes in counts before what goes out: only the balance after the act must hold.
        for _act_id, _source, target, ml, brix, _reverses in moves:
            if target in ids:
                folds[target].add(ml, float(brix) if brix is not None else None)
        for _act_id, source, _target, ml, brix, reverses in moves:
            if source not in ids:
                continue
            if reverses is not None:
                folds[source].undo_add(ml, float(brix) if brix is not None else None)
            else:
                folds[source].take(ml)
    states = {pk: fold.state() for pk, fold in folds.items()}
    holding = [vessel for vessel in vessels if states[vessel.pk].volume_ml]
    oldest = oldest_in(holding) if ages else {}
    return {
        pk: TankState(
            volume_ml=state.volume_ml,
            sugar_kg=state.sugar_kg,
            sugar_brix=state.sugar_brix if state.volume_ml else None,
            unmeasured_ml=state.unmeasured_ml,
            oldest_at=oldest[pk].at if pk in oldest else None,
        )
        for pk, state in states.items()
    }


def mixture_brix(vessel: Vessel) -> Decimal | None:
    """The pooled sugar of what is in the vessel, to the ledger's two places; None where nothing is known."""
    brix = tank_states([vessel], vessel.season, ages=False)[vessel.pk].sugar_brix
    return None if brix is None else Decimal(str(round(brix, 2)))
