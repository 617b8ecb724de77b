"""Giving trees out, placing taps, settling and pulling them."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Sequence
from dataclasses import dataclass, field

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.kit.models import Container, FoodSafe
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.seasons.models import Season
from sugarbush.taps import holes
from sugarbush.taps.facts import read_facts
from sugarbush.taps.gate import NewHole, gate
from sugarbush.taps.models import Assignment, AssignmentState, Tap, TapState
from sugarbush.trees import shown
from sugarbush.trees.models import Life, Tree
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Group, Person


@dataclass
class Given:
    """What came of giving out many trees: each one either done, or refused with its reasons."""

    done: list[Tree] = field(default_factory=list)
    refused: list[tuple[Tree, list[Reason]]] = field(default_factory=list)


def lock_trees(tree_ids: Sequence[int]) -> dict[int, Tree]:
    """Hold these trees until the transaction ends; two people at one tree then come one after the other."""
    rows = Tree.objects.select_for_update().filter(pk__in=tree_ids).order_by("pk")
    return {tree.pk: tree for tree in rows}


def assign_trees(
    *, trees: Sequence[Tree], group: Group, by: Person, person: Person | None = None, on: dt.date | None = None
) -> Given:
    """Give trees to a group (and perhaps one person) for the season. Each stands or falls alone, none half-done."""
    access.require(by, "assign", group_id=group.pk)
    result = Given()
    on = on or timezone.localdate()
    if person is not None and not access.scope(person, "tap.pull", on).covers(group.pk):
        raise Refused([Reason(code="member", fact=_("%(who)s is not in %(group)s.") % {"who": person, "group": group})])
    with transaction.atomic():
        ids = [tree.pk for tree in trees]
        lock_trees(ids)
        facts = read_facts(ids)
        for tree_id in ids:
            known = facts[tree_id]
            tree = known.tree
            reasons = gate(tree, "assign", on, group=group, person=person, facts=known, units=by.units)
            if tree.group_id is not None and not access.scope(by, "assign").covers(tree.group_id):
                reasons.append(Reason(code="other-group", fact=_("It belongs to another group.")))
            if reasons or known.season is None:
                result.refused.append((tree, reasons))
                continue
            _give(known.assignment, tree, known.season, group, person, by)
            result.done.append(tree)
        record(
            by=by,
            act="assign trees",
            subject=group,
            new={"given": [t.code for t in result.done], "refused": [t.code for t, _r in result.refused]},
            group_id=group.pk,
        )
        shown.refresh(ids, on)
    return result


def _give(old: Assignment | None, tree: Tree, season: Season, group: Group, person: Person | None, by: Person) -> None:
    if old is not None:
        old.person, old.state = person, AssignmentState.ACTIVE
        old.save()
    else:
        Assignment.objects.create(tree=tree, season=season, group=group, person=person, given_by=by)
    if tree.group_id != group.pk or tree.life == Life.LISTED:
        tree.group = group
        tree.life = Life.CANDIDATE if tree.life == Life.LISTED else tree.life
        tree.save(update_fields=["group", "life", "t17"])


@transaction.atomic
def end_assignment(*, assignment: Assignment, by: Person, reason: str = "") -> None:
    """Take a tree back. Not while a spout is in it."""
    access.require(by, "assign", group_id=assignment.group_id)
    tree = lock_trees([assignment.tree_id])[assignment.tree_id]
    facts = read_facts([tree.pk])[tree.pk]
    if facts.spouts_in:
        raise Refused([Reason(code="spout-in", fact=_("A spout is still in %(tree)s.") % {"tree": tree.code})])
    assignment.state = AssignmentState.ENDED
    assignment.save()
    record(by=by, act="end assignment", subject=tree, reason=reason, old={"group": assignment.group_id})
    shown.refresh([tree.pk])


@transaction.atomic
def place_tap(
    *,
    tree: Tree,
    by: Person,
    hole: NewHole,
    shavings: str,
    placed_at: dt.datetime | None = None,
    drilled: bool = False,
    confirmed: bool = False,
    container: Container | None = None,
    container_ml: int = 8_000,
    tap_id: uuid.UUID | None = None,
    note: str = "",
) -> Tap:
    """Place one tap, or keep one that has been drilled.

    drilled=False asks first: Refused with every reason, nothing is written. drilled=True says the hole is real: it is
    always kept; what broke a rule is kept to settle with its reasons. confirmed: the warnings (old holes, brown
    shavings) were read. The same tap_id sent again gives the tap that stands. At most one of two people taking the
    last place stands, whichever database is below: the tree's row is held while the gate is asked.
    """
    now = timezone.now()
    placed_at = placed_at or now
    tap_id = tap_id or uuid.uuid4()
    locked = lock_trees([tree.pk])[tree.pk]
    earlier = Tap.objects.filter(pk=tap_id).first()
    if earlier is not None:
        return earlier
    on = timezone.localdate(placed_at)
    facts = read_facts([locked.pk])[locked.pk]
    reasons = gate(locked, "tap", on, hole=hole, by=by, facts=facts, units=by.units)
    if placed_at > now + dt.timedelta(minutes=10):
        reasons.append(Reason(code="time", fact=_("The time lies in the future.")))
    if container is not None and container.food_safe != FoodSafe.YES:
        reasons.append(
            Reason(
                code="food",
                fact=_("%(pail)s is not known to be food-safe.") % {"pail": container.code},
                next_text=_("Use another pail"),
            )
        )
    warned = [] if confirmed else holes.warnings(facts, hole, by.units)
    if not drilled and (reasons or warned):
        raise Refused([*reasons, *warned])
    season = facts.season
    if season is None:
        # A hole needs a season to be counted in; without any there is nowhere to keep it.
        raise Refused(reasons)
    tap = Tap.objects.create(
        id=tap_id,
        tree=locked,
        season=season,
        position=0 if reasons else free_position(facts.holes_this_season),
        placed_at=placed_at,
        by=by,
        height_mm=hole.height_mm,
        aspect_deg=hole.aspect_deg,
        bit_um=hole.bit_um,
        depth_mm=hole.depth_mm,
        shavings=shavings,
        container=container,
        container_ml=container.capacity_ml if container else container_ml,
        state=TapState.TO_SETTLE if reasons else TapState.IN,
        settle_reasons=[str(reason) for reason in reasons],
        note=note,
    )
    record(
        by=by,
        act="place tap" if not reasons else "keep a tap to settle",
        subject=tap,
        new={"reasons": [r.code for r in reasons], "warned": [w.code for w in holes.warnings(facts, hole)]},
        group_id=locked.group_id,
    )
    shown.refresh([locked.pk])
    return tap


def free_position(made: Sequence[Tap]) -> int:
    taken = {tap.position for tap in made}
    return next(n for n in (1, 2, 3) if n not in taken)


@transaction.atomic
def let_stand(*, tap: Tap, by: Person, note: str = "") -> Tap:
    """Let a tap to settle stand, if the gate agrees now. Never one's own."""
    tree = lock_trees([tap.tree_id])[tap.tree_id]
    locked = Tap.objects.select_for_update().get(pk=tap.pk)
    access.require(by, "tap.settle", group_id=tree.group_id)
    if locked.by_id == by.pk:
        raise Refused([Reason(code="own", fact=_("Somebody else has to settle your own tap."))])
    if locked.state != TapState.TO_SETTLE:
        raise Refused([Reason(code="settled", fact=_("This tap is settled already."))])
    facts = read_facts([tree.pk])[tree.pk]
    facts.taps = [other for other in facts.taps if other.pk != locked.pk]
    hole = NewHole(
        height_mm=locked.height_mm, aspect_deg=locked.aspect_deg, bit_um=locked.bit_um, depth_mm=locked.depth_mm
    )
    reasons = gate(tree, "tap", hole=hole, by=locked.by, facts=facts, units=by.units)
    if reasons:
        raise Refused(reasons)
    locked.state, locked.position = TapState.IN, free_position(facts.holes_this_season)
    locked.settled_by, locked.settled_note = by, note
    locked.save()
    record(by=by, act="let tap stand", subject=locked, reason=note, group_id=tree.group_id)
    shown.refresh([tree.pk])
    return locked


@transaction.atomic
def take_out(*, tap: Tap, by: Person, lost: bool = False, reason: str = "", out_at: dt.datetime | None = None) -> Tap:
    """Record that the spout is out: pulled, or lost with a reason. Saying it again changes nothing."""
    locked = Tap.objects.select_for_update().select_related("tree").get(pk=tap.pk)
    access.require(by, "tap.pull", group_id=locked.tree.group_id)
    if not locked.spout_in:
        return locked
    when = out_at or timezone.now()
    if when < locked.placed_at:
        raise Refused([Reason(code="time", fact=_("It went in after that time. Check the day and the hour."))])
    if lost and not reason.strip():
        raise Refused([Reason(code="reason", fact=_("Write how the spout was lost, in a sentence."))])
    old = locked.state
    locked.state = TapState.LOST if lost else TapState.PULLED
    locked.out_at, locked.out_by, locked.out_reason = when, by, reason.strip()
    locked.save()
    record(
        by=by,
        act="lose tap" if lost else "pull tap",
        subject=locked,
        reason=reason,
        old={"state": old},
        group_id=locked.tree.group_id,
    )
    shown.refresh([locked.tree_id])
    return locked


@transaction.atomic
def mark_tap(*, tap: Tap, by: Person, dry: bool, leaking: bool) -> Tap:
    """Note that a tap runs dry or leaks."""
    locked = Tap.objects.select_for_update().select_related("tree").get(pk=tap.pk)
    access.require(by, "tap.pull", group_id=locked.tree.group_id)
    locked.dry, locked.leaking = dry, leaking
    locked.save()
    return locked
