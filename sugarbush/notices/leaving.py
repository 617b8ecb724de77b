"""What messages keep of a person whose name goes: that one was sent to the number, and nothing to reach it by."""

from __future__ import annotations

from sugarbush.notices.models import Notice, Recipient
from sugarbush.volunteers.models import Person


def taken_off(person: Person) -> None:
    """Take the name and addresses of somebody who bears only a number now off every message."""
    rows = Recipient.objects.filter(person=person)
    theirs = set(rows.exclude(address="").values_list("address", flat=True))
    Notice.objects.filter(reply_to__in=theirs).update(reply_to="")
    rows.update(name=person.display_name, address="")
    Notice.objects.filter(written_by=person).update(reply_to="")
