"""No messages any more, and messages again: by a link that needs no account, on one's own page, or told to somebody.

The link holds whom it is for and our signature, nothing else: no row, no sign-in, and good as long as the signing key,
since a mail of long ago must still have its way out.
"""

from __future__ import annotations

from django.core import signing
from django.db import transaction
from django.utils import timezone

from sugarbush.audit.models import record
from sugarbush.notices.models import How, NoMessages, Recipient
from sugarbush.owners.models import Owner
from sugarbush.volunteers.models import Person

Whom = Person | Owner
_SIGNER = signing.Signer(salt="sugarbush.no-messages", sep=".")


def token_for(recipient: Recipient) -> str:
    """The token of a recipient's own way out."""
    return _SIGNER.sign(f"p{recipient.person_id}" if recipient.person_id else f"o{recipient.owner_id}")


def token_of_owner(owner: Owner) -> str:
    """The same token, for the owner's own page."""
    return _SIGNER.sign(f"o{owner.pk}")


def whom_of(token: str) -> Whom | None:
    """Whom a token is for; None for one that is not whole or not ours."""
    try:
        said = _SIGNER.unsign(token)
    except signing.BadSignature:
        return None
    number = int(said[1:])
    return (Person.objects if said[0] == "p" else Owner.objects).filter(pk=number).first()


def _named(whom: Whom) -> dict[str, Whom]:
    return {"person": whom} if isinstance(whom, Person) else {"owner": whom}


def standing_of(whom: Whom) -> NoMessages | None:
    """Since when and how they want none; None while they take messages."""
    return NoMessages.objects.filter(**_named(whom), ended_at=None).select_related("written_by").first()


@transaction.atomic
def opt_out(*, whom: Whom, how: str, by: Person | None = None) -> bool:
    """Send them nothing from now on. False where it stood so already. The caller has asked for the right to do so."""
    type(whom)._default_manager.select_for_update().get(pk=whom.pk)  # of two presses at once one is written down
    if standing_of(whom) is not None:
        return False
    row = NoMessages.objects.create(**_named(whom), how=how, written_by=by)
    record(by=by, act="opt out of messages", subject=row, new={"how": str(How(how).value)})
    return True


@transaction.atomic
def opt_in(*, whom: Whom, how: str, by: Person | None = None) -> bool:
    """They take messages again. False where they did already."""
    type(whom)._default_manager.select_for_update().get(pk=whom.pk)
    row = standing_of(whom)
    if row is None:
        return False
    row.ended_at = timezone.now()
    row.save(update_fields=["ended_at"])
    record(by=by, act="opt into messages", subject=row, new={"how": str(How(how).value)})
    return True
