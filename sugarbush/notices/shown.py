"""What the page of a sent message shows, and letters to print."""

from __future__ import annotations

from typing import Any

from django.db.models import Case, IntegerField, Value, When
from django.utils import timezone

from sugarbush.notices import kinds, queries, sending
from sugarbush.notices.models import Notice, Recipient, RecipientState, Way
from sugarbush.parts.paging import page_of
from sugarbush.volunteers.views_help import SignedInRequest

ORDER = (
    RecipientState.FAILED,
    RecipientState.WAITING,
    RecipientState.SENDING,
    RecipientState.LEFT_OUT,
    RecipientState.SENT,
    RecipientState.HANDED,
)


def sent_context(request: SignedInRequest, notice: Notice) -> dict[str, Any]:
    """What became of it: counts, and each recipient by name, those who still need somebody first."""
    rank = Case(*(When(state=state, then=Value(n)) for n, state in enumerate(ORDER)), output_field=IntegerField())
    rows = notice.recipients.select_related("handed_by").order_by(rank, "name", "pk")
    page = page_of(rows, request)
    for one in page:
        one.why_words = sending.why_words(one.why) if one.why else ""
        one.to_hand = _to_hand(one)
    counts = queries.counts_of(notice)
    by_mail = notice.recipients.filter(way=Way.EMAIL)
    cut_off = timezone.now() - sending.CUT_OFF_AFTER
    return {
        "page": page,
        "counts": [(RecipientState(state).label, counts[state]) for state in ORDER if counts[state]],
        "total": sum(counts.values()),
        "hand_waits": notice.recipients.filter(way=Way.HAND, state=RecipientState.WAITING).count(),
        "mail_waits": by_mail.filter(state=RecipientState.WAITING).count(),
        "cut_off": by_mail.filter(state=RecipientState.SENDING, at__lt=cut_off).count(),
        "again": by_mail.filter(state=RecipientState.FAILED).exclude(why=sending.UNSURE).count(),
        "letter_count": letters_of(notice).count(),
        "whole_text": kinds.text_for_all(notice.body),
    }


def _to_hand(one: Recipient) -> bool:
    return one.state == RecipientState.FAILED or (one.state == RecipientState.WAITING and one.way == Way.HAND)


def letters_of(notice: Notice) -> Any:
    """Those who get it on paper: by hand from the start, or because no mail reached them."""
    by_hand = notice.recipients.filter(way=Way.HAND, state__in=(RecipientState.WAITING, RecipientState.HANDED))
    return by_hand | notice.recipients.filter(state=RecipientState.FAILED)
