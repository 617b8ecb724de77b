"""Owners and their slips: asked, answered, granted, taken back."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.utils import timezone

from sugarbush.demo.people import owners
from sugarbush.demo.programme import DemoPermission, DemoTree
from sugarbush.demo.replay.cast import LEADS, Cast, Plan
from sugarbush.demo.replay.clock import Story
from sugarbush.owners.actions import decide
from sugarbush.owners.actions_owners import add_owner
from sugarbush.owners.actions_slips import Brought, bring_slip, change_slip
from sugarbush.owners.links import make_link, usual_last_day
from sugarbush.owners.models import Permission, PermissionState
from sugarbush.volunteers.changing import edition_of

OWNERS_DAY = -509
LAST_ASKED, LAST_GRANTED = -425, -380
_ANSWERED_DAYS, _NO_ANSWER_DAYS, _REFUSED_DAYS = 30, 20, 12
"""So many days after the asking."""
LINK_DAY, LINK_OWNER = 3, "starke"
"""Her private link, on the fourth day. Its token is told to nobody: make a new one on her page to see hers."""
_BELONGS = {
    "public": "the town's own list of street and park trees",
    "institution": "inside the school's fence",
    "person": "in the front yard, inside the lot line",
}


def write(story: Story, cast: Cast, plan: Plan) -> None:
    """Owners, last year's permits and this year's slips."""
    story.add(story.moment(OWNERS_DAY, 18), _know_owners, cast, plan)
    for nth, (group, trees) in enumerate(_by_group(plan.last_trees).items()):
        story.add(
            story.moment(LAST_ASKED, 17, 10 * nth), _bring, cast, _last_years_slip(plan, nth, group, trees), trees
        )
        story.add(story.moment(LAST_GRANTED, 17, 10 * nth), _grant, cast, _last_years_slip(plan, nth, group, trees))
    for nth, slip in enumerate(plan.slips):
        _write_slip(story, cast, plan, slip, nth)
    story.add(story.moment(LINK_DAY, 18), _hand_link, cast)


def _by_group(trees: list[DemoTree]) -> dict[str, list[DemoTree]]:
    found: dict[str, list[DemoTree]] = {}
    for tree in trees:
        found.setdefault(tree.group, []).append(tree)
    return found


def _know_owners(cast: Cast, plan: Plan) -> None:
    used: dict[str, set[str]] = {}
    for tree in plan.trees:
        used.setdefault(tree.owner, set()).add(tree.group)
    for told in owners():
        cast.owners[told.key] = add_owner(
            by=cast.coordinator,
            name=told.name,
            kind=told.kind,
            # Whoever has trees in one group only is that group's to know.
            group=cast.groups[min(theirs)] if len(theirs := used.get(told.key, set())) == 1 else None,
            reach={"phone": told.phone, "note": "" if told.kind == "person" else f"ask for {told.contact_name}"},
        )


def _hand_link(cast: Cast) -> None:
    make_link(owner=cast.owners[LINK_OWNER], by=cast.coordinator, good_to=usual_last_day(timezone.localdate()))


def _last_years_slip(plan: Plan, nth: int, group: str, trees: list[DemoTree]) -> DemoPermission:
    first = plan.last_first_day
    return DemoPermission(
        number=f"QPS-{plan.year - 1}-{nth + 4:03d}",
        owner="town",
        group=group,
        capacity="agency",
        signed_by=next(told.contact_name for told in owners() if told.key == "town"),
        tree_nos=tuple(tree.tree_no for tree in trees),
        state="granted",
        asked_on=first,
        date_from=first - dt.timedelta(days=3),
        date_to=first + dt.timedelta(days=58),
        most_taps=1,
        least_diameter_um=304_800,
        most_height_mm=1200,
        largest_bit_um=8000,
        share_wish="none",
        conditions="Keep pails off the walk.",
    )


def _write_slip(story: Story, cast: Cast, plan: Plan, slip: DemoPermission, nth: int) -> None:
    trees = [tree for tree in plan.trees if tree.tree_no in slip.tree_nos]
    asked = slip.asked_on

    def days_on(days: int) -> dt.datetime:
        return story.moment(asked + dt.timedelta(days=days), 18, 5 * nth)

    story.add(days_on(0), _bring, cast, slip, trees)
    if slip.state in ("granted", "revoked"):
        story.add(days_on(_ANSWERED_DAYS), _grant, cast, slip)
    elif slip.state == "no_answer":
        story.add(days_on(_NO_ANSWER_DAYS), _decide, cast, slip, PermissionState.NO_ANSWER, "rang twice, left a card")
    elif slip.state == "refused":
        story.add(days_on(_REFUSED_DAYS), _decide, cast, slip, PermissionState.REFUSED, "would rather not, for good")
    if slip.ended_on is not None:
        story.add(story.moment(slip.ended_on, 12), _decide, cast, slip, PermissionState.REVOKED, slip.end_reason)


def _bring(cast: Cast, slip: DemoPermission, trees: list[DemoTree]) -> None:
    """The group's lead writes the slip down and asks the owner; what is known of insecticide comes with it."""
    owner = cast.owners[slip.owner]
    rows = cast.trees_of(trees)
    answered = slip.state in ("granted", "revoked")
    cast.slips[slip.number] = bring_slip(
        slip=Permission(
            owner=owner,
            capacity=slip.capacity,
            public_number=slip.number if slip.capacity == "agency" else "",
            most_taps=slip.most_taps,
            least_diameter_um=slip.least_diameter_um,
            most_height_mm=slip.most_height_mm,
            largest_bit_um=slip.largest_bit_um,
            conditions=slip.conditions,
            share_wish=slip.share_wish,
            belongs_because=_BELONGS[owner.kind],
        ),
        trees=rows,
        by=cast.lead(slip.group),
        brought=Brought(
            answers={row.pk: "no" for row in rows} if answered else {},
            said_on=timezone.localdate(),
            then=PermissionState.ASKED,
        ),
    )


def _grant(cast: Cast, slip: DemoPermission) -> None:
    """The signed slip came back: its days and who signed are written in, then it counts as a yes."""
    lead = cast.lead(slip.group)
    values: dict[str, Any] = {
        "date_from": slip.date_from,
        "date_to": slip.date_to,
        "signed_by": slip.signed_by,
        "evidence_note": f"signed slip handed to {lead.display_name}",
    }
    row = Permission.objects.get(pk=cast.slips[slip.number].pk)
    changed = change_slip(
        permission=row, by=lead, values=values, seen=edition_of(row, list(values)), reason="The signed slip came back."
    )
    decide(permission=changed, state=PermissionState.GRANTED, by=lead)


def _decide(cast: Cast, slip: DemoPermission, state: str, reason: str) -> None:
    row = Permission.objects.get(pk=cast.slips[slip.number].pk)
    decide(permission=row, state=state, by=cast.people[LEADS[slip.group]], reason=reason)
