"""Placing taps, settling and pulling them."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NoReturn

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.kit.models import Container, FoodSafe
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.taps import holes
from sugarbush.taps.assigning import Given, assign_trees, end_assignment, lock_trees
from sugarbush.taps.facts import read_facts
from sugarbush.taps.gate import NewHole, gate, names_for
from sugarbush.taps.models import Tap, TapState
from sugarbush.trees import shown
from sugarbush.trees.models import Tree
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

__all__ = [
    "Given",
    "NewHole",
    "TakenOut",
    "assign_trees",
    "end_assignment",
    "let_stand",
    "mark_tap",
    "place_tap",
    "take_out",
    "take_out_many",
]

# Two clocks in town never agree to the second.
CLOCKS_DIFFER = dt.timedelta(minutes=10)


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
    doubted: Sequence[Reason] = (),
) -> Tap:
    """Place one tap, or keep one that has been drilled.

    drilled=False asks first: Refused with every reason, nothing is written. drilled=True says the hole is real: it is
    always kept; what broke a rule is kept to settle with its reasons. confirmed: the warnings (old holes, brown
    shavings) were read. doubted: what else the caller holds against it. The same tap_id sent again gives the tap that
    stands. At most one of two people taking the last place stands, whichever database is below: the tree's row is held
    while the gate is asked.
    """
    now = timezone.now()
    placed_at = placed_at or now
    tap_id = tap_id or uuid.uuid4()
    locked = lock_trees([tree.pk])[tree.pk]
    earlier = Tap.objects.filter(pk=tap_id).first()
    if earlier is not None:
        same = (earlier.tree_id, earlier.by_id, earlier.hole) == (locked.pk, by.pk, hole)
        return earlier if same else _refuse_other()
    on = timezone.localdate(placed_at)
    facts = read_facts([locked.pk])[locked.pk]
    names = names_for(by, locked)
    reasons = gate(locked, "tap", on, hole=hole, by=by, facts=facts, units=by.units, names=names)
    reasons += [*_time(placed_at, now), *_pail(container), *doubted]
    warned = holes.warnings(facts, hole, by.units)
    if not drilled and (reasons or (warned and not confirmed)):
        raise Refused([*reasons, *([] if confirmed else warned)])
    nameless = gate(locked, "tap", on, hole=hole, by=by, facts=facts, units=by.units, names=False) if reasons else []
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
        diameter_um=locked.diameter_um,
        shavings=shavings,
        container=container,
        container_ml=container.capacity_ml if container else container_ml,
        state=TapState.TO_SETTLE if reasons else TapState.IN,
        settle_reasons=_kept_words(reasons, nameless),
        note=note,
    )
    record(
        by=by,
        act="place tap" if not reasons else "keep a tap to settle",
        subject=tap,
        new={"reasons": [r.code for r in reasons], "warned": [w.code for w in warned]},
        group_id=locked.group_id,
    )
    shown.refresh([locked.pk])
    return tap


def _refuse_other() -> NoReturn:
    raise Refused(
        [
            Reason(
                code="other-tap",
                fact=_("Another tap was saved under this entry already."),
                next_text=_("Open the page of the tree again and write this one anew"),
            )
        ]
    )


def _time(at: dt.datetime, now: dt.datetime) -> list[Reason]:
    if at <= now + CLOCKS_DIFFER:
        return []
    return [Reason(code="time", fact=_("The time lies in the future."), next_text=_("Check the day and the hour"))]


def _pail(container: Container | None) -> list[Reason]:
    if container is None or container.food_safe == FoodSafe.YES:
        return []
    return [
        Reason(
            code="food",
            fact=_("%(pail)s is not known to be food-safe.") % {"pail": container.code},
            next_text=_("Use another pail"),
        )
    ]


def _kept_words(reasons: Sequence[Reason], nameless: Sequence[Reason]) -> list[str]:
    """The reasons as they are kept with the tap: everybody of the group reads them, so no owner is named."""
    plain = {reason.code: reason for reason in nameless if reason.code in {"permission", "treated"}}
    return list(dict.fromkeys(f"{r.fact} {r.detail}".strip() for r in (plain.get(r.code, r) for r in reasons)))


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
    hole = locked.hole
    reasons = gate(tree, "tap", hole=hole, by=locked.by, facts=facts, units=by.units, names=names_for(by, tree))
    reasons += _pail(locked.container)
    if reasons:
        raise Refused(reasons)
    locked.state, locked.position = TapState.IN, free_position(facts.holes_this_season)
    locked.settled_by, locked.settled_note = by, note
    _save(locked, by)
    record(by=by, act="let tap stand", subject=locked, reason=note, group_id=tree.group_id)
    shown.refresh([tree.pk])
    return locked


@dataclass
class TakenOut:
    """What came of pulling several spouts: out now, out before, or refused with its reasons."""

    done: list[Tap] = field(default_factory=list)
    before: list[Tap] = field(default_factory=list)
    refused: list[tuple[Tap, list[Reason]]] = field(default_factory=list)


def take_out(*, tap: Tap, by: Person, lost: bool = False, reason: str = "", out_at: dt.datetime | None = None) -> Tap:
    """Record that the spout is out: pulled, or lost with a reason. Saying it again changes nothing."""
    result = take_out_many(taps=[tap], by=by, lost=lost, reason=reason, out_at=out_at)
    if result.refused:
        raise Refused(result.refused[0][1])
    return [*result.done, *result.before][0]


@transaction.atomic
def take_out_many(
    *, taps: Sequence[Tap], by: Person, lost: bool = False, reason: str = "", out_at: dt.datetime | None = None
) -> TakenOut:
    """Record that these spouts are out. Each stands or falls alone, none half-done."""
    now = timezone.now()
    when, reason, result = out_at or now, reason.strip(), TakenOut()
    rows = Tap.objects.select_for_update(of=("self",)).filter(pk__in=[tap.pk for tap in taps]).order_by("pk")
    for locked in rows.select_related("tree", "by"):
        access.require(by, "tap.pull", group_id=locked.tree.group_id)
        if not locked.spout_in:
            result.before.append(locked)
        elif reasons := _why_not_out(locked, when, now, lost=lost, reason=reason):
            result.refused.append((locked, reasons))
        else:
            _out(locked, by, when, lost=lost, reason=reason)
            result.done.append(locked)
    shown.refresh({tap.tree_id for tap in result.done})
    return result


def _why_not_out(tap: Tap, when: dt.datetime, now: dt.datetime, *, lost: bool, reason: str) -> list[Reason]:
    reasons = _time(when, now)
    if when < tap.placed_at:
        reasons.append(
            Reason(
                code="time",
                fact=_("It went in after that time."),
                next_text=_("Check the day and the hour"),
            )
        )
    if lost and not reason:
        reasons.append(Reason(code="reason", fact=_("Write how the spout was lost, in a sentence.")))
    return reasons


def _out(tap: Tap, by: Person, when: dt.datetime, *, lost: bool, reason: str) -> None:
    old = tap.state
    tap.state = TapState.LOST if lost else TapState.PULLED
    tap.out_at, tap.out_by, tap.out_reason = when, by, reason
    _save(tap, by)
    record(
        by=by,
        act="lose tap" if lost else "pull tap",
        subject=tap,
        reason=reason,
        old={"state": old},
        group_id=tap.tree.group_id,
    )


def _save(tap: Tap, by: Person) -> None:
    """Save with the author in the history, also where no request names one."""
    tap._history_user = by  # type: ignore[attr-defined]  # simple-history reads it
    tap.save()


@transaction.atomic
def mark_tap(*, tap: Tap, by: Person, dry: bool, leaking: bool) -> Tap:
    """Note that a tap runs dry or leaks."""
    locked = Tap.objects.select_for_update(of=("self",)).select_related("tree").get(pk=tap.pk)
    access.require(by, "tap.pull", group_id=locked.tree.group_id)
    if (locked.dry, locked.leaking) != (dry, leaking):
        locked.dry, locked.leaking = dry, leaking
        _save(locked, by)
    return locked
