"""The owner's private link: making it, sending it again, withdrawing it, and which link a token opens.

It lasts as long as it says, whatever becomes of who made it: an owner's way to say stop must not hang on a role. The
token is told once and not kept; a new link withdraws the one before.
"""

from __future__ import annotations

import datetime as dt
import secrets

from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.owners.models import Owner, OwnerLink, PermissionTree, TreeOwner
from sugarbush.owners.queries import owners_for
from sugarbush.seasons.models import Season
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person
from sugarbush.volunteers.signing import hash_of

TOKEN_BYTES = 24
"""192 bits: nobody guesses it, so opening needs no second secret."""
AFTER_SEASON = dt.timedelta(days=60)
LONGEST = dt.timedelta(days=400)


def usual_last_day(today: dt.date) -> dt.date:
    """Sixty days after the taps are out: the jars have found their owners by then."""
    season = Season.current()
    end = season.tapping_to if season is not None and season.tapping_to > today else today
    return min(end + AFTER_SEASON, today + LONGEST)


def why_not_link(person: Person, owner: Owner) -> str:
    """Why this person may not make or withdraw the owner's link, or an empty string.

    Whoever holds a link sees all of the owner's trees, so a lead needs all of them within reach.
    """
    if why := access.why_not(person, "owner.link", anywhere=True):
        return why
    reach = access.scope(person, "owner.link")
    if not owners_for(person, "owner.link").filter(pk=owner.pk).exists():
        return _("This owner is in the care of another group. Ask a coordinator.")
    if reach.everything:
        return ""
    near = reach.filter("tree__group")
    owned = TreeOwner.objects.filter(owner=owner).exclude(near)
    named = PermissionTree.objects.filter(permission__owner=owner).exclude(near)
    if owned.exists() or named.exists():
        return _("This owner also has trees of other groups. Ask a coordinator for the link.")
    return ""


def require_link(person: Person, owner: Owner) -> None:
    """Refuse (403, with the sentence) unless the person may make and withdraw this owner's link."""
    if why := why_not_link(person, owner):
        raise PermissionDenied(why)


@transaction.atomic
def make_link(*, owner: Owner, by: Person, good_to: dt.date) -> str:
    """Make a new link and return its token, which is kept nowhere. The one before opens nothing any more."""
    require_link(by, owner)
    Owner.objects.select_for_update().get(pk=owner.pk)  # of two at once the second withdraws the first's
    replaced = _withdraw(owner, by)
    token = secrets.token_urlsafe(TOKEN_BYTES)
    OwnerLink.objects.create(owner=owner, token_hash=hash_of(token), made_by=by, good_to=good_to)
    record(by=by, act="make owner link", subject=owner, new={"good to": str(good_to), "replaced": replaced})
    return token


@transaction.atomic
def withdraw_link(*, owner: Owner, by: Person) -> bool:
    """Let the owner's link open nothing any more. False where there was none to withdraw."""
    require_link(by, owner)
    Owner.objects.select_for_update().get(pk=owner.pk)
    if not _withdraw(owner, by):
        return False
    record(by=by, act="withdraw owner link", subject=owner)
    return True


def _withdraw(owner: Owner, by: Person) -> bool:
    there = OwnerLink.objects.filter(owner=owner, withdrawn_at=None)
    return bool(there.update(withdrawn_at=timezone.now(), withdrawn_by=by))


def newest_of(owner: Owner) -> OwnerLink | None:
    return OwnerLink.objects.filter(owner=owner).select_related("made_by", "withdrawn_by").first()


def link_for(token: str) -> OwnerLink | None:
    """The link a token opens today. Unknown, replaced, withdrawn and too old are all the same: None."""
    return OwnerLink.objects.open(access.today()).filter(token_hash=hash_of(token)).first()


def open_link(link_id: int) -> OwnerLink | None:
    """The link, if it opens the owner's page today, with its owner."""
    found = OwnerLink.objects.open(access.today()).filter(pk=link_id)
    return found.select_related("owner", "made_by").first()
