"""Counts everything again, row by row, and names what does not add up.

The pages trust the ledger's own rules; this trusts nothing. It compares each entry, delivery and batch with the
movements that stand for it, and each vessel with what it may hold.
"""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from itertools import islice
from typing import Any

from django.db.models import Count, F, Q, Sum
from django.utils.translation import gettext as _

from sugarbush.boils.actions import ORIGIN as DELIVERY
from sugarbush.boils.models import Batch, BatchState, Delivery, DeliveryState
from sugarbush.gathering.actions import ORIGIN as COLLECTION
from sugarbush.gathering.models import Collection, CollectionState
from sugarbush.review import counting, totals
from sugarbush.sap import ledger
from sugarbush.sap.models import Act, ActKind, Cause, Movement, Standing, Vessel, VesselKind
from sugarbush.seasons.models import Season

AT_ONCE = 500


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that does not add up, by name."""

    code: str
    sentence: str


Check = Callable[[Season], Iterable[Finding]]


def findings(season: Season) -> Iterator[Finding]:
    """Everything that does not add up in this season; nothing when all is well."""
    for check in CHECKS:
        yield from check(season)


def _ml(volume_ml: int) -> str:
    return f"{volume_ml:,} mL".replace("-", "−")


def _chunks(rows: Iterable[Any]) -> Iterator[list[Any]]:
    steps = iter(rows)
    while chunk := list(islice(steps, AT_ONCE)):
        yield chunk


# The chain -----------------------------------------------------------------------


def the_chain(season: Season) -> Iterator[Finding]:
    """What came in is somewhere, or went for a stated reason."""
    whole = ledger.chain(season)
    if not whole.closes:
        yield Finding(
            "chain",
            _("Season %(year)d: %(ml)s came in and is not accounted for.")
            % {"year": season.year, "ml": _ml(whole.unaccounted_ml)},
        )


def below_zero(season: Season) -> Iterator[Finding]:
    """No vessel gave more than it held."""
    for vessel, seq, ml in ledger.below_zero(season):
        yield Finding(
            "below-zero",
            _("%(vessel)s stood at %(ml)s after movement %(seq)d.") % {"vessel": vessel, "ml": _ml(ml), "seq": seq},
        )


def too_full(season: Season) -> Iterator[Finding]:
    """No vessel held more than it can, unless the act that filled it says why."""
    vessels = {v.pk: v for v in Vessel.objects.filter(season=season, capacity_ml__isnull=False)}
    held: dict[uuid.UUID, int] = defaultdict(int)
    before: dict[uuid.UUID, int] = {}
    told: set[uuid.UUID] = set()
    act, why, last = None, "", 0
    rows = Movement.objects.filter(Q(from_vessel__in=vessels) | Q(to_vessel__in=vessels), season=season).order_by("seq")

    def look() -> Iterator[Finding]:
        for pk, was in before.items():
            room = vessels[pk].capacity_ml or 0
            if held[pk] > room and held[pk] > was and not why and pk not in told:
                told.add(pk)
                yield Finding(
                    "too-full",
                    _("%(vessel)s holds %(room)s and stood at %(ml)s after movement %(seq)d, with no reason given.")
                    % {"vessel": vessels[pk], "room": _ml(room), "ml": _ml(held[pk]), "seq": last},
                )
        before.clear()

    fields = ("seq", "act_id", "act__reason", "from_vessel_id", "to_vessel_id", "volume_ml")
    for seq, act_id, reason, source, target, ml in rows.values_list(*fields).iterator(chunk_size=5_000):
        if act_id != act:
            yield from look()
            act, why = act_id, reason
        last = seq
        for pk, change in ((source, -ml), (target, ml)):
            if pk in vessels:
                before.setdefault(pk, held[pk])
                held[pk] += change
    yield from look()


def reversals(season: Season) -> Iterator[Finding]:
    """What takes a movement back is its mirror: same volume, cause and reason, ends swapped, later."""
    pairs = Movement.objects.filter(season=season, reverses__isnull=False).exclude(
        Q(volume_ml=F("reverses__volume_ml"))
        & Q(cause=F("reverses__cause"))
        & Q(detail=F("reverses__detail"))
        & Q(season=F("reverses__season"))
        & Q(seq__gt=F("reverses__seq"))
        & (Q(from_vessel=F("reverses__to_vessel")) | Q(from_vessel=None, reverses__to_vessel=None))
        & (Q(to_vessel=F("reverses__from_vessel")) | Q(to_vessel=None, reverses__from_vessel=None))
    )
    for seq, ml, taken, taken_ml in pairs.order_by("seq").values_list(
        "seq", "volume_ml", "reverses_id", "reverses__volume_ml"
    ):
        yield Finding(
            "reversal",
            _("Movement %(seq)d (%(ml)s) should take back movement %(taken)d (%(taken_ml)s), but is not its mirror.")
            % {"seq": seq, "ml": _ml(ml), "taken": taken, "taken_ml": _ml(taken_ml)},
        )


def acts_and_movements(season: Season) -> Iterator[Finding]:
    """Each act moves something, and its movements are of its season and its time."""
    for act in Act.objects.filter(season=season, movements=None):
        yield Finding("empty-act", _("The act “%(act)s” (%(id)s) moves nothing.") % {"act": act, "id": act.pk})
    rows = Movement.objects.filter(Q(season=season) | Q(act__season=season))
    fits = Q(season=F("act__season"), happened_at=F("act__happened_at"))
    for seq in rows.exclude(fits).order_by("seq").values_list("seq", flat=True):
        yield Finding(
            "other-act", _("Movement %(seq)d has another season or time than the act it belongs to.") % {"seq": seq}
        )


# Entries -------------------------------------------------------------------------


def _entry_words(entry: Collection) -> dict[str, Any]:
    when = entry.happened_at.astimezone(counting.zone_of())
    return {"tree": entry.tree.code, "when": f"{when:%Y-%m-%d %H:%M}", "who": entry.person, "id": entry.pk}


def entries(season: Season) -> Iterator[Finding]:
    """Each entry says what the movements that stand for it say."""
    rows = Collection.objects.filter(season=season).select_related("tree", "person").order_by("pk")
    late = Q(act__kind=ActKind.CORRECT, act__recorded_at__gt=season.closed_at) if season.closed_at else Q(pk__in=[])
    for chunk in _chunks(rows.iterator(chunk_size=AT_ONCE)):
        ids = [entry.pk for entry in chunk]
        moved = (
            Movement.objects.filter(act__origin_kind=COLLECTION, act__origin_uuid__in=ids)
            .exclude(late)
            .order_by()
            .annotate(ml=counting.signed())
            .values_list("act__origin_uuid", "cause", "detail")
            .annotate(total=Sum("ml"))
        )
        found: dict[uuid.UUID, dict[str, int]] = defaultdict(lambda: defaultdict(int))
        for pk, cause, detail, ml in moved:
            found[pk][f"{cause} not_ours" if detail == "not_ours" else cause] += int(ml)
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
                % {"entry": name, "what": what, "said": _ml(expected), "ledger": _ml(moved.get(str(cause), 0))},
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
    """Acts of entries, deliveries or batches that are not there."""
    there = {COLLECTION: Collection.objects.values("pk"), DELIVERY: Delivery.objects.values("pk")}
    for kind, known in there.items():
        acts = Act.objects.filter(season=season, origin_kind=kind).order_by()
        for act in acts.exclude(Q(origin_uuid__in=known)):
            yield Finding(
                "stray",
                _("The act “%(act)s” (%(id)s) belongs to a %(kind)s that is not there.")
                % {"act": act, "id": act.pk, "kind": kind},
            )


# Deliveries and batches ------------------------------------------------------------


def deliveries(season: Season) -> Iterator[Finding]:
    """What a delivery's containers held is in tanks, turned away or ahead; its difference is one movement."""
    rows = Delivery.objects.filter(season=season).annotate(measured=Sum("lines__volume_ml")).order_by("number")
    for chunk in _chunks(rows.iterator(chunk_size=AT_ONCE)):
        ids = [row.pk for row in chunk]
        moved: dict[uuid.UUID, dict[str, int]] = defaultdict(lambda: defaultdict(int))
        mine = Movement.objects.filter(act__origin_kind=DELIVERY, act__origin_uuid__in=ids).order_by()
        mine = mine.annotate(ml=counting.signed())
        for pk, cause, detail, ml in mine.values_list("act__origin_uuid", "cause", "detail").annotate(total=Sum("ml")):
            if cause in {Cause.MOVED, Cause.REJECTED} or (cause == Cause.MEASURED_OVER and detail == "ahead"):
                moved[pk]["measured"] += int(ml)
                moved[pk]["ahead"] += int(ml) if detail == "ahead" and cause == Cause.MEASURED_OVER else 0
        marked = Movement.objects.filter(cause__in=counting.MEASURED, detail__in=[pk.hex for pk in ids]).order_by()
        apart: dict[str, int] = defaultdict(int)
        for detail, cause, ml in (
            marked.annotate(ml=counting.signed()).values_list("detail", "cause").annotate(total=Sum("ml"))
        ):
            apart[detail] += int(ml) if cause == Cause.MEASURED_OVER else -int(ml)
        for row in chunk:
            yield from _delivery(row, row.measured or 0, moved[row.pk], apart[row.pk.hex])


def _delivery(row: Delivery, measured_ml: int, moved: dict[str, int], difference_ml: int) -> Iterator[Finding]:
    if moved.get("measured", 0) != measured_ml:
        yield Finding(
            "delivery",
            _("Delivery %(name)s: its containers hold %(said)s; the ledger has %(ledger)s.")
            % {"name": row, "said": _ml(measured_ml), "ledger": _ml(moved.get("measured", 0))},
        )
    if difference_ml != row.difference_ml:
        yield Finding(
            "difference",
            _("Delivery %(name)s: its difference is %(said)s; the ledger has %(ledger)s.")
            % {"name": row, "said": _ml(row.difference_ml), "ledger": _ml(difference_ml)},
        )
    if bool(moved.get("ahead", 0)) != (row.state == DeliveryState.AHEAD):
        yield Finding(
            "ahead",
            _("Delivery %(name)s is “%(state)s”, but %(ml)s of it is ahead of its entries.")
            % {"name": row, "state": row.get_state_display(), "ml": _ml(moved.get("ahead", 0))},
        )


def batches(season: Season) -> Iterator[Finding]:
    """A batch that is done left nothing in its pan; one that gave syrup has its lot, of its own or shared."""
    rows = list(
        Batch.objects.filter(boil_day__season=season)
        .select_related("boil_day", "pan", "lot")
        .annotate(drawn=Count("draw_offs"))
    )
    held = ledger.balances_ml([row.pan_id for row in rows] + [row.lot_id for row in rows if row.lot_id])
    for row in rows:
        if row.state != BatchState.OPEN and held[row.pan_id]:
            yield Finding(
                "pan", _("%(batch)s is done, but its pan shows %(ml)s.") % {"batch": row, "ml": _ml(held[row.pan_id])}
            )
        if row.state != BatchState.OPEN and (row.state == BatchState.CLOSED) != bool(row.lot_id or row.drawn):
            yield Finding(
                "lot",
                _("%(batch)s is “%(state)s”, which does not fit its lot.")
                % {"batch": row, "state": row.get_state_display()},
            )
    pans = Vessel.objects.filter(season=season, kind=VesselKind.PAN, batch=None).annotate(n=Count("into"))
    for pan in pans.filter(n__gt=0):
        yield Finding("pan", _("%(pan)s belongs to no batch.") % {"pan": pan})


# What was kept ---------------------------------------------------------------------


def kept_totals(season: Season) -> Iterator[Finding]:
    """A closed season's totals are still what its ledger said on the day it closed."""
    if not season.is_closed or not season.frozen_totals:
        return
    kept, counted = totals.totals_of(season)
    now = counted.totals
    for what, was, now_ml in (
        (_("out of trees"), kept.sums.out_ml, now.sums.out_ml),
        (_("tipped out"), kept.sums.tipped_ml, now.sums.tipped_ml),
        (_("put in the pans"), kept.in_pans_ml, now.in_pans_ml),
        (_("syrup drawn off"), kept.syrup_ml, now.syrup_ml),
    ):
        if was != now_ml:
            yield Finding(
                "kept",
                _("Season %(year)d closed with %(what)s %(was)s; counted again it is %(now)s.")
                % {"year": season.year, "what": what, "was": _ml(was), "now": _ml(now_ml)},
            )


CHECKS: tuple[Check, ...] = (
    the_chain,
    below_zero,
    too_full,
    reversals,
    acts_and_movements,
    entries,
    deliveries,
    batches,
    kept_totals,
)
