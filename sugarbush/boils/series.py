"""A pasted or sent series of temperatures, line by line: "2026-03-08 14:30;3.5".

Each line is a time on the programme's clock and a temperature. What cannot be read is listed with its number and why;
nothing is guessed. Times with an offset or a Z are taken as they stand.
"""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal, InvalidOperation
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

MOST_LINES = 20_000
# A logger's line has some twenty signs. One of a hundred thousand blanks would keep the patterns busy for minutes.
LONGEST_LINE = 300
LEAST_C, MOST_C = Decimal(-40), Decimal(60)
_ZONED = re.compile(r"(Z|[+-]\d{2}:?\d{2})$")
_CLOCK = re.compile(r"^(\d{1,2}):(\d{2})(?::(\d{2})(?:\.\d+)?)?\s*([AaPp])?\.?[Mm]?\.?$")
_DAY = re.compile(r"^(\d{1,4})([-./])(\d{1,2})\2(\d{1,4})$")
_DEGREES = re.compile(r"^([+\-−]?\d+(?:[.,]\d+)?)\s*(?:°|deg)?\s*([CcFf])?(?:elsius|ahrenheit)?$")


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """One line that can be kept."""

    line: int
    at: dt.datetime
    temperature_c: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class NotTaken:
    """One line that cannot, with why."""

    line: int
    text: str
    why: str


@dataclass
class Series:
    """What was read: the lines to keep and the lines not to."""

    taken: list[Taken] = field(default_factory=list)
    left: list[NotTaken] = field(default_factory=list)


class _UnreadableError(ValueError):
    """A line that cannot be read; says why."""


def read_series(text: str, *, zone: dt.tzinfo, units: str, now: dt.datetime) -> Series:
    """Read a series.

    units: "us" reads bare numbers as °F and 3/8 as 8 March, "metric" as °C and as 3 August; a sign beside the number,
    or in the heading, goes before that.  now: nothing later is taken.
    """
    found = Series()
    unit = "F" if units == "us" else "C"
    last: dt.datetime | None = None
    seen: dict[dt.datetime, Decimal] = {}
    for number, raw in enumerate(text.lstrip("\ufeff").splitlines(), start=1):
        line = raw.strip().strip('"')
        if not line:
            continue
        if number > MOST_LINES:
            why = _("A series has %(n)d lines at most. Send the rest as another one.") % {"n": MOST_LINES}
            found.left.append(NotTaken(line=number, text="", why=why))
            break
        if not found.taken and not found.left and _is_heading(line):
            unit = _unit_of_heading(line) or unit
            continue
        try:
            when, degrees = _parted(line)
            at = _moment(when, zone=zone, units=units, last=last)
            celsius = _celsius(degrees, unit)
            if at > now:
                raise _UnreadableError(_("That time has not come yet."))
            if now - at > dt.timedelta(days=400):
                raise _UnreadableError(_("That is more than a year ago. Is the year right?"))
            if at in seen:
                same = seen[at] == celsius
                raise _UnreadableError(
                    _("The same moment and temperature stand above.")
                    if same
                    else _("Another temperature of the same moment stands above.")
                )
        except _UnreadableError as unreadable:
            found.left.append(NotTaken(line=number, text=line[:60], why=str(unreadable)))
        else:
            seen[at], last = celsius, at
            found.taken.append(Taken(line=number, at=at, temperature_c=celsius))
    return found


def _is_heading(line: str) -> bool:
    """A first line of words: nothing in it is a day with a clock time."""
    return not re.search(r"\d{1,4}[-./]\d{1,2}[-./]\d{1,4}", line)


def _unit_of_heading(line: str) -> str:
    signs = {sign.upper() for sign in re.findall(r"(?:°\s*|\b)([CFcf])(?:\b|elsius|ahrenheit)", line)}
    return signs.pop() if len(signs) == 1 else ""


def _parted(line: str) -> tuple[str, str]:
    """The time and the temperature of a line, parted by a semicolon, a tab, or the last comma or blank."""
    if len(line) > LONGEST_LINE:
        raise _UnreadableError(_("A line is a time and a temperature, such as 2026-03-08 14:30;3.5"))
    for mark in (";", "\t"):
        if mark in line:
            parts = [part.strip().strip('"') for part in line.split(mark)]
            return (
                (parts[0], parts[1]) if len(parts[0]) > 10 or len(parts) == 2 else (f"{parts[0]} {parts[1]}", parts[2])
            )
    parts = [part.strip().strip('"') for part in line.split(",")]
    if len(parts) == 3 and parts[1].isdigit() and parts[2].isdigit():
        return parts[0], f"{parts[1]}.{parts[2]}"  # a decimal comma beside a comma that parts
    if len(parts) == 3:
        return f"{parts[0]} {parts[1]}", parts[2]
    if len(parts) == 2 and ":" in parts[0]:
        return parts[0], parts[1]
    match = re.match(r"^(.*\d{1,2}:\d{2}(?::\d{2})?(?:\s*[AaPp][Mm])?(?:Z|[+-]\d{2}:?\d{2})?)\s+(\S.*)$", line)
    if not match:
        raise _UnreadableError(_("A line is a time and a temperature, such as 2026-03-08 14:30;3.5"))
    return match[1], match[2]


def _moment(text: str, *, zone: dt.tzinfo, units: str, last: dt.datetime | None) -> dt.datetime:
    text = text.strip().replace("T", " ", 1) if re.match(r"^\d{4}-\d", text) else text.strip()
    zoned = _ZONED.search(text) if ":" in text else None
    if zoned:
        try:
            return dt.datetime.fromisoformat(text.replace("Z", "+00:00")).astimezone(dt.UTC)
        except ValueError:
            raise _UnreadableError(_("This is no time: %(text)s") % {"text": text}) from None
    day, _blank, clock = text.partition(" ")
    local = dt.datetime.combine(_day(day, units), _clock(clock.strip() or ""))
    return _on_the_clock(local, zone, last)


def _day(text: str, units: str) -> dt.date:
    match = _DAY.match(text)
    if not match:
        raise _UnreadableError(_("This is no day: %(text)s. Write 2026-03-08.") % {"text": text})
    first, mark, second, third = int(match[1]), match[2], int(match[3]), int(match[4])
    if len(match[1]) == 4:
        year, month, day = first, second, third
    elif mark == "/" and units == "us":
        month, day, year = first, second, third
    else:
        day, month, year = first, second, third
    try:
        return dt.date(year if year > 99 else 2000 + year, month, day)
    except ValueError:
        raise _UnreadableError(_("This is no day: %(text)s. Write 2026-03-08.") % {"text": text}) from None


def _clock(text: str) -> dt.time:
    match = _CLOCK.match(text)
    if not match:
        raise _UnreadableError(_("The clock time is missing. Write 2026-03-08 14:30."))
    hour, half = int(match[1]), (match[4] or "").upper()
    if half:
        if not 1 <= hour <= 12:
            raise _UnreadableError(_("This is no time: %(text)s") % {"text": text})
        hour = hour % 12 + (12 if half == "P" else 0)
    try:
        return dt.time(hour, int(match[2]), int(match[3] or 0))
    except ValueError:
        raise _UnreadableError(_("This is no time: %(text)s") % {"text": text}) from None


def _on_the_clock(local: dt.datetime, zone: dt.tzinfo, last: dt.datetime | None) -> dt.datetime:
    """A time on the wall as a moment. The hour that was skipped is refused; for one that came twice the order tells."""
    at = local.replace(tzinfo=zone).astimezone(dt.UTC)
    if at.astimezone(zone).replace(tzinfo=None) != local:
        raise _UnreadableError(
            _("The clocks went forward over that time; it was never shown. Is the logger on another clock?")
        )
    again = local.replace(tzinfo=zone, fold=1).astimezone(dt.UTC)
    return again if last is not None and at <= last < again else at


def _celsius(text: str, unit: str) -> Decimal:
    match = _DEGREES.match(text.strip())
    if not match:
        raise _UnreadableError(_("This is no temperature: %(text)s") % {"text": text[:20] or "…"})
    try:
        number = Decimal(match[1].replace(",", ".").replace("−", "-"))
    except InvalidOperation:
        raise _UnreadableError(_("This is no temperature: %(text)s") % {"text": text[:20]}) from None
    celsius = (number - 32) / Decimal("1.8") if (match[2] or unit).upper() == "F" else number
    if not LEAST_C <= celsius <= MOST_C:
        raise _UnreadableError(_("No sap is that cold or that warm. Is the unit right?"))
    return celsius.quantize(Decimal("0.1"), rounding=ROUND_HALF_UP)


def zone_words(zone: dt.tzinfo) -> str:
    return zone.key.replace("_", " ") if isinstance(zone, ZoneInfo) else "UTC"
