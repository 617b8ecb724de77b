"""iCalendar (RFC 5545) as calendar programs subscribe to it.

Of our own: the `icalendar` library would keep 4 MB of the server's memory for a page of text, and is asked in the tests
whether it reads the same out of it. Times are UTC, so no zone has to be told and no change of the clocks can move them;
whole days are days, wherever they are read.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from sugarbush.parts.contentlines import escaped, joined

MEDIA_TYPE = "text/calendar; charset=utf-8"
PRODUCT = "-//Sugarbush//Sugarbush calendar//EN"
Status = Literal["CONFIRMED", "TENTATIVE", "CANCELLED"]


@dataclass(frozen=True, kw_only=True)
class Event:
    """One thing in a calendar.

    begins, ends: both days, the last day included, or both moments. sequence: how often it was changed, never falling.
    changed_at: when it was changed last; without it a program could not tell which of two copies is the newer.
    busy: whether the time counts as taken.
    """

    uid: str
    summary: str
    begins: dt.date | dt.datetime
    ends: dt.date | dt.datetime
    changed_at: dt.datetime
    sequence: int = 0
    status: Status = "CONFIRMED"
    description: str = ""
    location: str = ""
    url: str = ""
    busy: bool = False

    def lines(self) -> list[str]:
        stamp = utc(self.changed_at)
        lines = ["BEGIN:VEVENT", f"UID:{escaped(self.uid)}", f"DTSTAMP:{stamp}", f"LAST-MODIFIED:{stamp}"]
        lines.append(f"SEQUENCE:{self.sequence}")
        if isinstance(self.begins, dt.datetime) and isinstance(self.ends, dt.datetime):
            lines += [f"DTSTART:{utc(self.begins)}", f"DTEND:{utc(self.ends)}"]
        else:
            last = self.ends + dt.timedelta(days=1)  # the end of whole days is the day after (3.6.1)
            lines += [f"DTSTART;VALUE=DATE:{self.begins:%Y%m%d}", f"DTEND;VALUE=DATE:{last:%Y%m%d}"]
        lines += [f"SUMMARY:{escaped(self.summary)}", f"STATUS:{self.status}"]
        lines.append(f"TRANSP:{'OPAQUE' if self.busy and self.status != 'CANCELLED' else 'TRANSPARENT'}")
        for name, text in (("DESCRIPTION", self.description), ("LOCATION", self.location)):
            if text:
                lines.append(f"{name}:{escaped(text)}")
        if self.url:
            lines.append(f"URL:{self.url}")
        return [*lines, "END:VEVENT"]


def uid(kind: str, key: object) -> str:
    """The same for the same thing for ever, whatever the programme's address becomes.

    >>> uid("run", 12)
    'run-12@sugarbush.invalid'
    """
    return f"{kind}-{key}@sugarbush.invalid"


def utc(moment: dt.datetime) -> str:
    """A moment as UTC, to the second.

    >>> utc(dt.datetime(2026, 3, 8, 7, 30, tzinfo=dt.UTC))
    '20260308T073000Z'
    """
    return moment.astimezone(dt.UTC).strftime("%Y%m%dT%H%M%SZ")


def calendar(name: str, events: Iterable[Event], *, again_after_h: int = 0) -> bytes:
    """A calendar file. again_after_h: how often a program that subscribes should look again (RFC 7986, 5.7)."""
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", f"PRODID:{PRODUCT}", "CALSCALE:GREGORIAN"]
    lines += [f"NAME:{escaped(name)}", f"X-WR-CALNAME:{escaped(name)}"]
    if again_after_h:
        lines += [f"REFRESH-INTERVAL;VALUE=DURATION:PT{again_after_h}H", f"X-PUBLISHED-TTL:PT{again_after_h}H"]
    for event in events:
        lines += event.lines()
    return joined([*lines, "END:VCALENDAR"])
