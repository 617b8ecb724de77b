"""Messages as one person may see them."""

from __future__ import annotations

from django.db.models import Count, Q, QuerySet
from django.http import Http404

from sugarbush.notices import audiences
from sugarbush.notices.actions import require
from sugarbush.notices.models import GOT_IT, Notice, NoticeState, Recipient, RecipientState
from sugarbush.volunteers.models import Person


def notices_for(person: Person, act: str = "notices.see") -> QuerySet[Notice]:
    """The messages a person may see: to audiences and groups within reach. Those to everybody need all of it."""
    fits = Q(pk__in=[])
    for audience in audiences.open_to(person, act):
        reach = audiences.groups_open(person, audience, act)
        within = Q(audience=audience.code)
        fits |= within if reach.everything else within & Q(group__in=reach.group_ids)
    return Notice.objects.filter(fits)


def find(person: Person, notice_id: int, act: str = "") -> Notice:
    """A message the person may see (404 otherwise), and may do the act with (403 otherwise)."""
    found = notices_for(person).select_related("group", "written_by", "sent_by").filter(pk=notice_id).first()
    if found is None:
        raise Http404
    if act:
        require(person, found.audience, found.group_id, act)
    return found


def with_counts(notices: QuerySet[Notice]) -> QuerySet[Notice]:
    """The same with how many got it, wait, did not get it."""
    waits = (RecipientState.WAITING, RecipientState.SENDING)
    return notices.annotate(
        got=Count("recipients", filter=Q(recipients__state__in=GOT_IT)),
        waits=Count("recipients", filter=Q(recipients__state__in=waits)),
        failed=Count("recipients", filter=Q(recipients__state=RecipientState.FAILED)),
    )


def counts_of(notice: Notice) -> dict[str, int]:
    """How many of a message's recipients stand where, the codes of RecipientState as keys; one query."""
    rows = notice.recipients.order_by().values("state").annotate(n=Count("pk")).values_list("state", "n")
    return {**dict.fromkeys(RecipientState.values, 0), **dict(rows)}


def got_by(viewer: Person, **whom: int) -> QuerySet[Recipient]:
    """What one person or owner was sent (`person=12` or `owner=7`), the newest first, as far as the viewer sees it."""
    rows = Recipient.objects.filter(**whom, notice__in=notices_for(viewer).values("pk"))
    return rows.select_related("notice", "notice__sent_by").order_by("-notice__sent_at", "-pk")


def drafts_of(person: Person) -> QuerySet[Notice]:
    """Drafts the person could send."""
    return notices_for(person, "notices.send").filter(state=NoticeState.DRAFT)
