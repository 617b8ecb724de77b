"""Sending in the background, with a few tries where the mail server is away."""

from __future__ import annotations

import datetime as dt

from django.utils import timezone
from django_tasks import task

from sugarbush.notices import sending
from sugarbush.seasons.models import Programme

WAITS = (dt.timedelta(minutes=2), dt.timedelta(minutes=15), dt.timedelta(hours=1))
"""How long to wait before each further try."""


@task()
def send_out(notice_id: int, nth: int = 0, after_pk: int = 0) -> int:
    """Send a slice of what waits of a message, and queue the next; how many wait still."""
    from zoneinfo import ZoneInfo

    programme = Programme.current()
    # Roles and permissions end with the day of the programme's own clock.
    with timezone.override(ZoneInfo(programme.time_zone) if programme else None):
        sent = sending.send_out(notice_id, after_pk)
        if sent.then_after is not None:
            queue(notice_id, nth, sent.then_after)
        elif sent.left and nth < len(WAITS):
            queue(notice_id, nth + 1, after=WAITS[nth])
        elif sent.left:
            sending.give_up(notice_id)
    return sent.left


def queue(notice_id: int, nth: int = 0, after_pk: int = 0, *, after: dt.timedelta | None = None) -> None:
    """Have the background worker send what waits of a message, now or after a while."""
    job = send_out.using(run_after=timezone.now() + after) if after else send_out
    job.enqueue(notice_id, nth, after_pk)
