"""A run of a round as an event of a calendar. Who may read it where is told in DEVELOPERS.md: it names no person."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

from django.urls import reverse
from django.utils.translation import gettext as _

from sugarbush.audit.changes import Change
from sugarbush.gathering.models_rounds import Part, RoundRun, RunState
from sugarbush.gathering.run_state import cut_off
from sugarbush.parts.ics import Event, uid

WALK = dt.timedelta(hours=1)


def run_event(run: RoundRun, where: Callable[[str], str], changed: Change, part: str = "") -> Event:
    """An hour from the time by which the run has to begin. part: of whose calendar it is.

    where: from an address within the programme to one that works from outside.
    """
    words = {"round": run.round.name, "group": run.round.group.name}
    summary = _("Round “%(round)s”, %(group)s") % words
    if part == Part.STANDBY:
        summary = _("Standing by for round “%(round)s”, %(group)s") % words
    begins = cut_off(run.date, run.round.latest_start)
    return Event(
        uid=uid("run", run.pk),
        summary=summary,
        begins=begins,
        ends=begins + WALK,
        sequence=changed[0],
        changed_at=changed[1],
        status="CANCELLED" if run.state == RunState.CALLED_OFF else "CONFIRMED",
        description=_("Begin no later than this."),
        url=where(reverse("run", args=[run.pk])),
        busy=part != Part.STANDBY,
    )
