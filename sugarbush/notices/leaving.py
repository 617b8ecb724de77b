"""What messages keep of a person whose name goes: that one was sent to the number, and nothing to reach it by."""

from __future__ import annotations

from django.db.models import Q

from sugarbush.notices.models import Notice, Recipient
from sugarbush.volunteers.models import Person


def taken_off(person: Person, addresses: frozenset[str]) -> None:
    """Take the name and addresses of somebody who bears only a number now off every message, whoever wrote it."""
    rows = Recipient.objects.filter(person=person)
    theirs = addresses | set(rows.exclude(address="").values_list("address", flat=True))
    answers_to = Q(written_by=person)
    for address in theirs:
        answers_to |= Q(reply_to__iexact=address)
    Notice.objects.filter(answers_to).update(reply_to="")
    rows.update(name=person.display_name, address="")
