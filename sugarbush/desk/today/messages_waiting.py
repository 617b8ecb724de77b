"""Messages that wait for a press, or did not arrive."""

from __future__ import annotations

import datetime as dt

from django.db.models import Exists, OuterRef, Q
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from sugarbush.desk.today.waiting import Waiting
from sugarbush.notices import queries
from sugarbush.notices.models import NoticeState, Recipient, RecipientState, Way
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

OLD_AFTER = dt.timedelta(days=1)
STUCK_AFTER = dt.timedelta(hours=3)
"""Longer than all tries at a mail server take."""
RECENT = dt.timedelta(days=14)


def messages_waiting(person: Person) -> list[Waiting]:
    """Drafts of yesterday or before, messages to hand over, mails that did not arrive lately; at most two queries."""
    if not access.holds(person, "notices.send"):
        return []
    found, now = [], timezone.now()
    drafts = queries.drafts_of(person).filter(changed_at__lt=now - OLD_AFTER).count()
    if drafts:
        fact = ngettext("%(n)d message was never sent.", "%(n)d messages were never sent.", drafts) % {"n": drafts}
        url = reverse("notices") + f"?state={NoticeState.DRAFT}"
        found.append(Waiting(fact=fact, next_text=_("Look and send, or drop"), url=url))
    begun = (RecipientState.WAITING, RecipientState.SENDING)
    waits = Q(state=RecipientState.WAITING, way=Way.HAND) | Q(state__in=begun, at__lt=now - STUCK_AFTER)
    stuck = Recipient.objects.filter(Q(state=RecipientState.FAILED) | waits, notice=OuterRef("pk"))
    sent = queries.notices_for(person, "notices.send").filter(state=NoticeState.SENT, sent_at__gte=now - RECENT)
    if count := sent.filter(Exists(stuck)).count():
        fact = ngettext(
            "%(n)d message has not reached everybody.", "%(n)d messages have not reached everybody.", count
        ) % {"n": count}
        found.append(Waiting(fact=fact, next_text=_("See who is left"), url=reverse("notices")))
    return found
