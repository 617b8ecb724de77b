"""Sap that somebody else carries on: from one pair of hands into another, with its sugar and its age."""

from __future__ import annotations

import datetime as dt
import uuid

from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.sap.ledger import Move, hands_of, lock, post
from sugarbush.sap.models import Act, ActKind, Cause
from sugarbush.sap.tanks import mixture_brix
from sugarbush.seasons.models import Season
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Membership, Person

ORIGIN = "hand_over"
CLOCK_SLIP = dt.timedelta(minutes=10)


def partners(by: Person) -> QuerySet[Person]:
    """Whom this person may name: depot people name anybody, others who shares a group with them or serves them all."""
    live = Membership.objects.live(timezone.localdate())
    people = Person.objects.filter(is_active=True)
    if access.holds(by, "delivery.accept"):
        return people.filter(pk__in=live.values("person_id"))
    mine = live.filter(person=by).values("group_id")
    return people.filter(pk__in=live.filter(Q(group_id__in=mine) | Q(group=None)).values("person_id"))


@transaction.atomic
def hand_over(
    *,
    giver: Person,
    taker: Person,
    volume_ml: int,
    by: Person,
    happened_at: dt.datetime | None = None,
    note: str = "",
    act_id: uuid.UUID | None = None,
) -> Act:
    """Move sap from one person's hands into another's. Either of the two may do it, or a depot keeper.

    The same act_id again gives the act there is.
    """
    season = Season.current()
    if season is None:
        raise Refused([Reason(code="season", fact=_("No season is open."))])
    access.require(by, "delivery.see", anywhere=True)
    if by not in (giver, taker) and not access.holds(by, "delivery.accept"):
        raise PermissionDenied(_("One of the two who hand it over writes it down, or the depot keeper."))
    if giver == taker:
        raise Refused([Reason(code="same", fact=_("Choose two different people."))])
    now = timezone.now()
    happened_at = happened_at or now
    if happened_at > now + CLOCK_SLIP:
        raise Refused([Reason(code="future", fact=_("That time has not come yet."))])
    source, target = hands_of(giver, season), hands_of(taker, season)
    lock([source, target])
    act_id = act_id or uuid.uuid4()
    earlier = Act.objects.filter(origin_kind=ORIGIN, origin_uuid=act_id).first()
    if earlier is not None:
        return earlier
    act = post(
        kind=ActKind.HAND_OVER,
        season=season,
        author=by,
        happened_at=happened_at,
        moves=[
            Move(
                volume_ml=volume_ml,
                cause=Cause.MOVED,
                source=source,
                target=target,
                sugar_brix=mixture_brix(source),
            )
        ],
        reason=note.strip(),
        person=giver,
        origin_kind=ORIGIN,
        origin_uuid=act_id,
    )
    record(
        by=by,
        act="hand over sap",
        subject=act,
        reason=note,
        new={"from": giver.pk, "to": taker.pk, "volume_ml": volume_ml},
    )
    return act
