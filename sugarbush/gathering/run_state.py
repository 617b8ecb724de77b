"""How a run stands: worked out from the entries and the clock each time it is looked at, never written down."""

from __future__ import annotations

import datetime as dt

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from sugarbush.gathering.models_rounds import RunState

SOON = dt.timedelta(minutes=60)  # design choice: an hour to find somebody else before the latest start


class Standing(models.TextChoices):
    """In the order in which a coordinator has to know them."""

    LATE = "late", _("Late")
    SOON = "soon", _("Soon late")
    AHEAD = "ahead", _("Not started")
    PART = "part", _("Part done")
    DONE = "done", _("Done")
    ENDED = "ended", _("Finished, not all visited")
    MISSED = "missed", _("Missed")
    OFF = "off", _("Called off")
    UNPLANNED = "unplanned", _("Nobody planned")
    BARE = "bare", _("No tree to visit")


ORDER = {standing: n for n, standing in enumerate(Standing)}
WAITS = frozenset({Standing.LATE, Standing.SOON, Standing.AHEAD})


def cut_off(day: dt.date, latest_start: dt.time) -> dt.datetime:
    """The moment up to which a run of that day may begin, in UTC.

    In the night when clocks go forward a time that does not exist is taken as the clock before the change would
    have had it; of a time that comes twice the first is meant.
    """
    return dt.datetime.combine(day, latest_start, timezone.get_current_timezone()).astimezone(dt.UTC)


def standing(
    *,
    said: str | None,
    day: dt.date,
    latest_start: dt.time,
    now: dt.datetime,
    trees: int,
    visited: int,
) -> Standing:
    """Where a round stands on a day.

    said: the run's own state, None where nobody planned one. trees: on the way that day. visited: of these. now: aware.
    """
    if said == RunState.CALLED_OFF:
        return Standing.OFF
    if trees and visited >= trees:
        return Standing.DONE
    if said == RunState.FINISHED:
        return Standing.ENDED
    if visited:
        return Standing.PART
    if not trees:
        return Standing.BARE
    if said is None:
        return Standing.UNPLANNED
    today = timezone.localdate(now)
    if day < today:
        return Standing.MISSED
    if day > today:
        return Standing.AHEAD
    # In UTC: two times in one zone are compared by the clock on the wall, which is wrong on the day it is changed.
    left = cut_off(day, latest_start) - now.astimezone(dt.UTC)
    if left < dt.timedelta(0):
        return Standing.LATE
    return Standing.SOON if left <= SOON else Standing.AHEAD
