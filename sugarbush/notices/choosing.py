"""The audiences that need to know no more than people, groups, owners and their permissions."""

from __future__ import annotations

import datetime as dt

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils.translation import gettext_lazy as _

from sugarbush.notices.audiences import Audience, Narrowed
from sugarbush.notices.models import To
from sugarbush.owners.models import Owner, Permission, PermissionState, PermissionTree, ShareWish, TreeOwner
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Membership, Person

USUAL_DAYS = 60


def people_with_role(narrowed: Narrowed) -> QuerySet[Person]:
    """People who hold a role today, in the group or anywhere."""
    held = Membership.objects.live(access.today())
    if narrowed.group is not None:
        held = held.filter(group=narrowed.group)
    if narrowed.role:
        held = held.filter(role=narrowed.role)
    return Person.objects.filter(pk__in=held.values("person"))


def owners_within(narrowed: Narrowed) -> QuerySet[Owner]:
    """Owners of a tree of the group, or all."""
    if narrowed.group is None:
        return Owner.objects.all()
    owns = TreeOwner.objects.filter(owner=OuterRef("pk"), tree__group=narrowed.group)
    named = PermissionTree.objects.filter(permission__owner=OuterRef("pk"), tree__group=narrowed.group)
    return Owner.objects.filter(Exists(owns) | Exists(named))


def with_permission(narrowed: Narrowed, which: Q) -> QuerySet[Owner]:
    """Owners with a permission that fits, and names a tree of the group where there is one."""
    slips = Permission.objects.filter(which, owner=OuterRef("pk"))
    if narrowed.group is not None:
        slips = slips.filter(
            Exists(PermissionTree.objects.filter(permission=OuterRef("pk"), tree__group=narrowed.group))
        )
    return Owner.objects.filter(Exists(slips))


def _live() -> Q:
    today = access.today()
    return Q(state=PermissionState.GRANTED, date_from__lte=today, date_to__gte=today)


def owners_new(narrowed: Narrowed) -> QuerySet[Owner]:
    """Owners with a tree and no permission that was more than a draft."""
    asked = Permission.objects.filter(owner=OuterRef("pk")).exclude(state=PermissionState.DRAFT)
    return owners_within(narrowed).exclude(Exists(asked))


def owners_asked(narrowed: Narrowed) -> QuerySet[Owner]:
    """Owners who were asked `days` ago or earlier and have not answered."""
    before = access.today() - dt.timedelta(days=narrowed.days or 0)
    waits = Q(state__in=(PermissionState.ASKED, PermissionState.NO_ANSWER))
    return with_permission(narrowed, waits & (Q(asked_on__lte=before) | Q(asked_on=None)))


def owners_ending(narrowed: Narrowed) -> QuerySet[Owner]:
    """Owners with a permission that ends within `days`, or ended that many days ago, and none that goes on longer."""
    today = access.today()
    span = dt.timedelta(days=USUAL_DAYS if narrowed.days is None else narrowed.days)
    ends = Q(state=PermissionState.GRANTED, date_to__gte=today - span, date_to__lte=today + span)
    on = Permission.objects.filter(owner=OuterRef("pk"), state=PermissionState.GRANTED, date_to__gt=today + span)
    return with_permission(narrowed, ends).exclude(Exists(on))


AUDIENCES = (
    Audience(
        code="role",
        label=_("people of a group, by their role"),
        to=To.PEOPLE,
        needs="people.see",
        find=people_with_role,
        asks=("role",),
    ),
    Audience(
        code="owners-live",
        label=_("owners whose permission counts today"),
        to=To.OWNERS,
        needs="owners.see",
        find=lambda narrowed: with_permission(narrowed, _live()),
    ),
    Audience(
        code="owners-new",
        label=_("owners of trees who were never asked"),
        to=To.OWNERS,
        needs="owners.see",
        find=owners_new,
    ),
    Audience(
        code="owners-asked",
        label=_("owners who were asked and have not answered"),
        to=To.OWNERS,
        needs="owners.see",
        find=owners_asked,
        asks=("days",),
        days_label=_("Asked so many days ago, or earlier"),
    ),
    Audience(
        code="owners-ending",
        label=_("owners whose permission ends within some days, or ended as lately"),
        to=To.OWNERS,
        needs="owners.see",
        find=owners_ending,
        asks=("days",),
        days_label=_("Ends within so many days, or ended within as many"),
    ),
    Audience(
        code="owners-suspended",
        label=_("owners whose permission is suspended"),
        to=To.OWNERS,
        needs="owners.see",
        find=lambda narrowed: with_permission(narrowed, Q(state=PermissionState.SUSPENDED)),
    ),
    Audience(
        code="owners-jar",
        label=_("owners who wish for a jar, and whose permission counts or counted this year"),
        to=To.OWNERS,
        needs="owners.see",
        find=lambda narrowed: with_permission(
            narrowed,
            Q(
                state=PermissionState.GRANTED,
                share_wish=ShareWish.JAR,
                date_to__gte=access.today() - dt.timedelta(days=180),
            ),
        ),
    ),
    Audience(code="owners-trees", label=_("all owners of trees"), to=To.OWNERS, needs="owners.see", find=owners_within),
)
