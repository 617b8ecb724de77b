"""Messages: two that went out by hand, one of them with somebody left out, and a draft that nobody has sent yet."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.conf import settings

from sugarbush.demo.replay.cast import Cast, Plan
from sugarbush.demo.replay.clock import Story
from sugarbush.notices import actions, audiences, kinds, listing, optout
from sugarbush.notices.models import How, Notice

GROUP = "North Bank"
NONE_WANTED, THANKED, RUNNING, DRAFTED = -20, -12, -4, -2
"""Days from the demo's own day."""


def write(story: Story, cast: Cast, plan: Plan, today: dt.date) -> None:
    """What the lead and the coordinator wrote in the last weeks."""
    first = (today - plan.first_day).days
    story.add(story.moment(first + NONE_WANTED, 18, 5), _wants_none, cast)
    story.add(story.moment(first + THANKED, 20, 15), _sent, "thanks", cast)
    story.add(story.moment(first + RUNNING, 7, 40), _sent, "running", cast)
    story.add(story.moment(first + DRAFTED, 21, 10), _draft, "rota-gap", cast)


@contextmanager
def no_mail() -> Iterator[None]:
    """The demo writes to nobody, also where a mail server is set: its addresses go nowhere."""
    kept, settings.SENDS_MAIL = settings.SENDS_MAIL, False
    try:
        yield
    finally:
        settings.SENDS_MAIL = kept


def _wants_none(cast: Cast) -> None:
    optout.opt_out(whom=cast.people["sunniva"], how=How.TOLD_US, by=cast.lead(GROUP))


def _draft(code: str, cast: Cast) -> Notice:
    by, group = cast.lead(GROUP), cast.groups[GROUP]
    kind = kinds.BY_CODE[code]
    audience = audiences.named(kind.audience)
    if audience is None:
        raise LookupError(kind.audience)
    values: dict[str, Any] = {
        **kinds.starting_text(kind),
        "reply_to": by.email or "",
        "narrowed": {},
        "group": group,
    }
    return actions.draft(by=by, token=uuid.uuid4(), kind=code, audience=audience, group=group, values=values)


def _sent(code: str, cast: Cast) -> None:
    by = cast.lead(GROUP)
    with no_mail():
        notice = _draft(code, cast)
        seen = listing.mark(notice, listing.lines(notice))
        actions.hand_over(notice=actions.send(notice=notice, by=by, seen=seen), by=by, recipient_ids=None)
