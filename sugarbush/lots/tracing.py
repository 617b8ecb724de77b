"""One page both ways: from a lot to trees and days, and from sap to lots, jars and holders."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.boils.models import Batch, Delivery
from sugarbush.lots.jars import out, whole
from sugarbush.lots.models import JarIssue, Lot
from sugarbush.owners.models import Permission, PermissionTree
from sugarbush.sap import trace
from sugarbush.sap.models import Act, Movement, Vessel, VesselKind
from sugarbush.seasons.models import Season
from sugarbush.trees.models import Tree
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

IDS_AT_ONCE = 900  # what SQLite takes in one question


@dataclass
class Step:
    """A stop on the way of some sap: a delivery, a tank, a batch."""

    kind: str
    label: str
    key: Any


@dataclass
class Entry:
    """One collection within a lot."""

    act: Act
    ml: float
    share: float
    came_ml: int
    way: list[Step]
    permissions: list[Permission] = field(default_factory=list)

    @property
    def pct(self) -> str:
        return per_cent_words(self.share)


@dataclass
class Sum:
    """A tree, delivery, tank or batch within a lot: how much of the lot came from or through there."""

    label: str
    key: Any
    ml: float
    share: float
    detail: str = ""
    count: int = 0

    @property
    def pct(self) -> str:
        return per_cent_words(self.share)


def per_cent_words(share: float) -> str:
    """A share in words a person can use.

    >>> per_cent_words(0.034), per_cent_words(0.00001), per_cent_words(1.0)
    ('3.4 %', 'less than 0.01 %', '100 %')
    """
    pct = share * 100
    if pct == 0:
        return "0\u00a0%"
    if pct < 0.01:
        return _("less than 0.01\u00a0%")
    places = 0 if pct >= 99.95 else 1 if pct >= 1 else 2
    return f"{pct:.{places}f}\u00a0%"


@dataclass
class LotTrace:
    """A lot traced back, as one viewer may see it."""

    lot: Lot
    back: trace.Back
    parts: list[trace.Part]  # those the viewer may see one by one
    hidden_share: float  # of other groups
    trees: dict[int, tuple[int | None, int | None]]  # seq -> (tree, group), filled where it was needed

    @property
    def unknown_share(self) -> float:
        return self.back.share(self.back.unknown_ml)

    @property
    def unknown_pct(self) -> str:
        return per_cent_words(self.unknown_share)

    @property
    def hidden_pct(self) -> str:
        return per_cent_words(self.hidden_share)


def back_from(lot: Lot, viewer: Person, *, by_tree: bool = False) -> LotTrace:
    """Every collection in the lot, the largest first; those of other groups are one sum."""
    found = trace.back(lot.vessel, lot.season)
    reach = access.scope(viewer, "lot.trace")
    known = [part for part in found.parts if part.is_known]
    facts = _trees_of(lot.season, known) if by_tree or not reach.everything else {}
    seen, hidden = known, 0.0
    if not reach.everything:
        seen = [part for part in known if reach.covers(facts.get(part.seq, (None, -1))[1])]
        hidden = sum(part.share for part in known) - sum(part.share for part in seen)
    return LotTrace(lot=lot, back=found, parts=seen, hidden_share=max(0.0, hidden), trees=facts)


def _trees_of(season: Season, parts: Sequence[trace.Part]) -> dict[int, tuple[int | None, int | None]]:
    """Tree and group of the collections behind these parts; one query over the season where they are many."""
    rows = Movement.objects.filter(season=season, from_vessel=None)
    if len(parts) <= IDS_AT_ONCE:
        rows = rows.filter(seq__in=[part.seq for part in parts])
    wanted = {part.seq for part in parts}
    named = rows.values_list("seq", "act__tree", "act__group").order_by().iterator(chunk_size=2_000)
    return {seq: (tree, group) for seq, tree, group in named if seq in wanted}


def entries(traced: LotTrace, parts: Sequence[trace.Part]) -> list[Entry]:
    """A page of collections with tree, person, way and the permission of that day; a fixed number of queries."""
    moves = {
        m.seq: m
        for m in Movement.objects.filter(seq__in=[part.seq for part in parts]).select_related(
            "act__tree", "act__person", "act__group"
        )
    }
    ways = {part.seq: trace.way_of(traced.back, part) for part in parts}
    steps = _steps({seq for way in ways.values() for seq in way})
    slips = _slips({m.act.tree_id for m in moves.values() if m.act.tree_id})
    found = []
    for part in parts:
        act = moves[part.seq].act
        at = act.happened_at
        day = timezone.localdate(at)
        way: list[Step] = []
        for seq in ways[part.seq]:
            way += [step for step in steps.get(seq, ()) if step not in way]
        found.append(
            Entry(
                act=act,
                ml=part.ml,
                share=part.share,
                came_ml=moves[part.seq].volume_ml,
                way=way,
                permissions=[slip for slip in slips.get(act.tree_id or 0, ()) if slip.live_at(at, day)],
            )
        )
    return found


def _slips(tree_ids: set[int]) -> dict[int, list[Permission]]:
    found: dict[int, list[Permission]] = defaultdict(list)
    for line in PermissionTree.objects.filter(tree__in=tree_ids).select_related("permission"):
        found[line.tree_id].append(line.permission)
    return found


def _chunks(ids: Iterable[Any]) -> Iterable[list[Any]]:
    listed = list(ids)
    for start in range(0, len(listed), IDS_AT_ONCE):
        yield listed[start : start + IDS_AT_ONCE]


def _steps(seqs: set[int]) -> dict[int, list[Step]]:
    """What each movement stands for on the way: the delivery it belongs to, and the tank or batch it went into."""
    rows: list[Movement] = []
    for some in _chunks(seqs):
        rows += Movement.objects.filter(seq__in=some).select_related("act", "to_vessel")
    numbers = {m.act.origin_uuid for m in rows if m.act.origin_kind == "delivery"}
    deliveries = Delivery.objects.select_related("season").in_bulk([pk for pk in numbers if pk])
    pans = {m.to_vessel_id for m in rows if m.to_vessel and m.to_vessel.kind == VesselKind.PAN}
    batches = {b.pan_id: b for b in Batch.objects.filter(pan__in=pans).select_related("boil_day")}
    found: dict[int, list[Step]] = {}
    for m in rows:
        steps = []
        delivery = deliveries.get(m.act.origin_uuid) if m.act.origin_kind == "delivery" else None
        if delivery is not None:
            steps.append(Step("delivery", str(delivery), delivery.pk))
        if m.to_vessel is not None and m.to_vessel.kind == VesselKind.TANK:
            steps.append(Step("tank", _("tank %(code)s") % {"code": m.to_vessel.code}, m.to_vessel_id))
        elif m.to_vessel_id in batches:
            batch = batches[m.to_vessel_id]
            steps.append(Step("batch", batch_label(batch), batch.pk))
        found[m.seq] = steps
    return found


def batch_label(batch: Batch) -> str:
    return _("batch %(n)d of %(day)s") % {"n": batch.number, "day": f"{batch.boil_day.day:%Y-%m-%d}"}


def by_tree(traced: LotTrace) -> list[Sum]:
    """The trees of a lot, the largest share first."""
    sums: dict[int, list[float]] = defaultdict(lambda: [0.0, 0.0])
    for part in traced.parts:
        tree = traced.trees.get(part.seq, (None, None))[0]
        if tree is not None:
            sums[tree][0] += part.ml
            sums[tree][1] += 1
    ranked = sorted(sums.items(), key=lambda one: -one[1][0])
    return [
        Sum(label="", key=tree, ml=ml, share=traced.back.share(ml), count=int(count)) for tree, (ml, count) in ranked
    ]


def name_trees(rows: Sequence[Sum]) -> None:
    """Code and address for a page of trees; one query."""
    trees = Tree.objects.in_bulk([row.key for row in rows])
    for row in rows:
        row.label, row.detail = trees[row.key].code, trees[row.key].address


def by_delivery(traced: LotTrace) -> list[Sum]:
    """The deliveries of a lot; those of other groups' carriers too, since they name no tree."""
    sums: dict[uuid.UUID, float] = defaultdict(float)
    for some in _chunks(traced.back.poured):
        rows = Movement.objects.filter(seq__in=some, act__origin_kind="delivery", to_vessel__kind=VesselKind.TANK)
        for seq, delivery in rows.values_list("seq", "act__origin_uuid").order_by():
            if delivery is not None:
                sums[delivery] += traced.back.poured[seq]
    ranked = sorted(sums.items(), key=lambda one: -one[1])
    return [Sum(label="", key=key, ml=ml, share=min(1.0, traced.back.share(ml))) for key, ml in ranked]


def name_deliveries(rows: Sequence[Sum], *, everything: bool) -> None:
    """Number, depot and moment for a page of deliveries; who brought it only for those who see every group."""
    found = Delivery.objects.select_related("season", "person", "depot").in_bulk([row.key for row in rows])
    for row in rows:
        delivery = found.get(row.key)
        if delivery is not None:
            when = timezone.localtime(delivery.happened_at)
            row.label = str(delivery)
            who = f"{delivery.person}, " if everything else ""
            row.detail = f"{who}{delivery.depot}, {when:%Y-%m-%d %H:%M}"


def by_vessel(traced: LotTrace, kind: str) -> list[Sum]:
    """The tanks, or the batches, that the sap of a lot came through."""
    vessels = Vessel.objects.filter(pk__in=traced.back.passed, kind=kind)
    batches = {b.pan_id: b for b in Batch.objects.filter(pan__in=vessels).select_related("boil_day")}
    rows = []
    for vessel in vessels:
        ml = traced.back.passed[vessel.pk]
        batch = batches.get(vessel.pk)
        rows.append(
            Sum(
                label=batch_label(batch) if batch else vessel.code,
                key=batch.pk if batch else vessel.pk,
                ml=ml,
                share=min(1.0, traced.back.share(ml)),
                detail=batch.boil_day.site if batch else "",
            )
        )
    return sorted(rows, key=lambda row: -row.share)


# Forward -------------------------------------------------------------------------


@dataclass
class Beginning:
    """Where a trace forward starts: some collections, a delivery, a tank, a batch."""

    kind: str
    label: str
    season: Season
    came: list[uuid.UUID] = field(default_factory=list)
    poured: list[uuid.UUID] = field(default_factory=list)
    vessels: list[uuid.UUID] = field(default_factory=list)
    subject: Any = None


def from_tree(tree: Tree, season: Season) -> Beginning:
    acts = Act.objects.filter(tree=tree, season=season).values_list("pk", flat=True)
    return Beginning("tree", tree.code, season, came=list(acts), subject=tree)


def from_collection(entry: Any) -> Beginning:
    acts = Act.objects.filter(origin_kind="collection", origin_uuid=entry.pk).values_list("pk", flat=True)
    when = timezone.localtime(entry.happened_at)
    return Beginning(
        "collection", f"{entry.tree.code}, {when:%Y-%m-%d %H:%M}", entry.season, came=list(acts), subject=entry
    )


def from_delivery(delivery: Delivery) -> Beginning:
    acts = Act.objects.filter(origin_kind="delivery", origin_uuid=delivery.pk).values_list("pk", flat=True)
    return Beginning("delivery", str(delivery), delivery.season, poured=list(acts), subject=delivery)


def from_vessel(vessel: Vessel) -> Beginning:
    return Beginning("tank", str(vessel), vessel.season, vessels=[vessel.pk], subject=vessel)


def from_batch(batch: Batch) -> Beginning:
    return Beginning("batch", batch_label(batch), batch.pan.season, vessels=[batch.pan_id], subject=batch)


@dataclass
class LotShare:
    """A lot that holds some of the sap, its jars here and out, and who has them (where the viewer may know)."""

    lot: Lot
    share: float
    here: dict[int, int]
    out: dict[int, int]
    holders: list[JarIssue]

    @property
    def pct(self) -> str:
        return per_cent_words(self.share)


@dataclass
class Onward:
    """Where the sap went: lots, syrup not packed yet, and what is still underway."""

    begin: Beginning
    forth: trace.Forth
    lots: list[LotShare]
    unpacked: list[tuple[Vessel, float]]
    now: list[tuple[Vessel, float]]


def forward(begin: Beginning, viewer: Person) -> Onward:
    """Every lot with some of this sap, the largest share first; a fixed number of queries."""
    found = trace.forth(begin.season, came=begin.came, poured=begin.poured, vessels=begin.vessels)
    lots = [
        lot
        for some in _chunks(found.lots)
        for lot in Lot.objects.filter(vessel__in=some).select_related("vessel", "season")
    ]
    stand, gone = whole(lots), out(lots)
    holders: dict[uuid.UUID, list[JarIssue]] = defaultdict(list)
    if access.holds(viewer, "lot.holders"):
        for issue in issues_out(lots):
            holders[issue.lot_id].append(issue)
    rows = [
        LotShare(
            lot=lot,
            share=found.lots[lot.vessel_id].share,
            here={size: n for size, n in stand[lot.pk].items() if n},
            out={size: n for (pk, size), n in gone.items() if pk == lot.pk and n},
            holders=holders[lot.pk],
        )
        for lot in lots
    ]
    rows.sort(key=lambda row: (-row.share, row.lot.code))
    vessels = Vessel.objects.select_related("person").in_bulk(list(found.now))
    now = sorted(((vessels[pk], ml) for pk, ml in found.now.items()), key=lambda one: -one[1])
    packed = {lot.vessel_id for lot in lots}
    return Onward(
        begin=begin,
        forth=found,
        lots=rows,
        unpacked=[(v, found.lots[v.pk].share) for v, _ml in now if v.kind == VesselKind.LOT and v.pk not in packed],
        now=[(v, ml) for v, ml in now if v.kind != VesselKind.LOT],
    )


def issues_out(lots: Sequence[Lot]) -> list[JarIssue]:
    """Hand-outs of these lots of which jars are still out, each with `left`; two queries."""
    rows = (
        JarIssue.objects.filter(lot__in=lots, returns=None)
        .select_related("person", "owner", "lot")
        .prefetch_related("returned_by")
        .order_by("happened_at")
    )
    found = []
    for issue in rows:
        left = issue.count - sum(one.count for one in issue.returned_by.all())
        issue.left = left  # type: ignore[attr-defined]  # for the page
        if left:
            found.append(issue)
    return found


def holder_words(issue: JarIssue, viewer: Person) -> str:
    """Who has the jars; an owner's name only for those who may see owners."""
    if issue.person is not None:
        return str(issue.person)
    if issue.owner is not None:
        reach = access.scope(viewer, "owners.see")
        return str(issue.owner) if reach.covers(issue.owner.group_id) else _("an owner of trees")
    return issue.to_text


def find_by_words(words: str, season: Season | None) -> dict[str, str]:
    """What somebody typed into the search: a lot code, a tree's code, a delivery's number. {} when it is none."""
    text = words.strip()
    if not text:
        return {}
    lot = Lot.objects.filter(code__iexact=text).values_list("pk", flat=True).first()
    if lot is not None:
        return {"lot": str(lot)}
    tree = Tree.objects.filter(code__iexact=text).values_list("code", flat=True).first()
    if tree is not None:
        return {"tree": tree}
    digits = text.upper().removeprefix("D")
    year, _dash, number = digits.rpartition("-")
    if number.isascii() and number.isdigit() and len(number) <= 9:
        rows = Delivery.objects.filter(number=int(number))
        if year.isascii() and year.isdigit() and len(year) <= 4:
            rows = rows.filter(season__year=int(year))
        elif season is not None:
            rows = rows.filter(season=season)
        delivery = rows.order_by("-season__year").values_list("pk", flat=True).first()
        if delivery is not None:
            return {"delivery": str(delivery)}
    return {}


def lots_of_batch(batch: Batch) -> list[Lot]:
    """Lots that syrup of this batch was drawn into, for the batch's page."""
    drawn = Q(vessel__into__from_vessel=batch.pan)
    return list(Lot.objects.filter(drawn).distinct().order_by("code"))
