"""The clock of the story: while the demo is written into the books, it is the day on which each act was done.

Only the demo sets it. The acts are the app's own, and they ask `timezone.now()` for the day a permission or a check
counts on, for the history's date and for the moment of recording. Replayed at the real time, forty days of sap would
all stand as entered today.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from operator import itemgetter
from typing import Any
from zoneinfo import ZoneInfo

from django.apps import apps
from django.db import models
from django.utils import timezone

_real_now = timezone.now


def _story_now() -> dt.datetime:
    """What `timezone.now` says at this moment of the story, looked up each time."""
    return timezone.now()


@contextmanager
def story_time() -> Iterator[None]:
    """Let columns that are filled with the time by themselves (recorded_at, at) ask the story's clock too.

    A model keeps the function it was given as its default, so changing `timezone.now` alone would not reach it.
    """
    dated = [
        column
        for model in apps.get_models()
        for column in model._meta.local_fields
        if isinstance(column, models.DateTimeField) and column.default is _real_now
    ]
    _set_defaults(dated, _story_now)
    try:
        yield
    finally:
        _set_defaults(dated, _real_now)


def _set_defaults(columns: list[models.DateTimeField[Any, Any]], now: Callable[[], dt.datetime]) -> None:
    for column in columns:
        column.default = now
        column.__dict__.pop("_get_default", None)  # Django remembers the default it was first asked for


@contextmanager
def at(moment: dt.datetime) -> Iterator[None]:
    """Do an act at this moment of the story."""
    before = timezone.now
    timezone.now = lambda: moment
    try:
        yield
    finally:
        timezone.now = before


class Story:
    """Acts with their moments, done in the order of time whatever the order in which they were written down."""

    def __init__(self, *, first_day: dt.date, zone: ZoneInfo) -> None:
        self.first_day = first_day
        self.zone = zone
        self._acts: list[tuple[dt.datetime, int, Callable[[], object]]] = []

    def day(self, index: int) -> dt.date:
        """The day so many days after the first of the season."""
        return self.first_day + dt.timedelta(days=index)

    def moment(self, day: int | dt.date, hour: int, minute: int = 0) -> dt.datetime:
        """A time on the town's clock, on a day or so many days after the first, as UTC. Minutes may pass the hour."""
        date = self.day(day) if isinstance(day, int) else day
        local = dt.datetime.combine(date, dt.time(hour), self.zone)
        return local.astimezone(dt.UTC) + dt.timedelta(minutes=minute)

    def add(self, moment: dt.datetime, act: Callable[..., object], *given: Any, **named: Any) -> None:
        """Write an act down for its moment."""
        self._acts.append((moment, len(self._acts), partial(act, *given, **named)))

    def tell(self) -> None:
        """Do everything, each at its moment."""
        with timezone.override(self.zone), story_time():
            for moment, _nth, act in sorted(self._acts, key=itemgetter(0, 1)):
                with at(moment):
                    act()
        self._acts.clear()
