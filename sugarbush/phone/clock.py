"""When something happened, told by a phone whose clock is not trusted. Plain arithmetic in milliseconds since 1970."""

from __future__ import annotations

from dataclasses import dataclass

NOTABLE_MS = 10 * 60 * 1000  # more than ten minutes off is flagged
LEAST_MS, MOST_MS = -62_135_596_800_000, 253_402_300_799_000  # the years 1 to 9999


@dataclass(frozen=True, kw_only=True)
class Contact:
    """The last moment the phone heard from us before it wrote the entry: our clock, and its own."""

    server_ms: int
    phone_ms: int


@dataclass(frozen=True, kw_only=True)
class When:
    """at_ms: the time the entry counts for. off_ms: how far the phone's clock was behind ours (ahead: below nought).

    notable: whether somebody should look: the clock was off by more than ten minutes, or was set meanwhile.
    """

    at_ms: int
    off_ms: int
    notable: bool


def within(ms: int, low: int, high: int) -> int:
    return max(low, min(ms, high))


def when(
    *,
    said_ms: int,
    phone_now_ms: int,
    server_now_ms: int,
    waited_ms: int | None = None,
    contact: Contact | None = None,
) -> When:
    """The likely time of an entry that its phone dates `said_ms`.

    The phone's clock is set right by how far it was off at the last contact before the entry, or where that gives an
    impossible time, by how far it is off now. Impossible is: before that contact, later than now, or later than
    `waited_ms` before now. waited_ms: how long the entry has waited by a clock that cannot be set; that one stands
    still while a phone sleeps, so it has waited at least so long. A clock that agrees with ours to ten minutes, then
    and now, is believed.

    >>> hour = 3_600_000
    >>> when(said_ms=10 * hour, phone_now_ms=12 * hour, server_now_ms=36 * hour).at_ms // hour
    34
    >>> when(said_ms=10 * hour, phone_now_ms=12 * hour, server_now_ms=12 * hour).notable
    False
    """
    off_now_ms = server_now_ms - phone_now_ms
    latest = server_now_ms - max(0, waited_ms or 0)
    earliest = LEAST_MS if contact is None else within(contact.server_ms, LEAST_MS, latest)
    off_then_ms = off_now_ms if contact is None else contact.server_ms - contact.phone_ms
    low, high = earliest - NOTABLE_MS, latest + NOTABLE_MS
    guesses = [said_ms + off_then_ms, said_ms + off_now_ms]
    at_ms = within(next((guess for guess in guesses if low <= guess <= high), guesses[1]), earliest, latest)
    steady = abs(off_then_ms - off_now_ms) <= NOTABLE_MS
    if steady and abs(at_ms - said_ms) <= NOTABLE_MS:
        # Two clocks in town never agree to the second; nothing has happened yet that is still to come.
        return When(at_ms=min(said_ms, server_now_ms), off_ms=at_ms - said_ms, notable=False)
    return When(at_ms=at_ms, off_ms=at_ms - said_ms, notable=True)
