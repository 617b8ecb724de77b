"""Which devices a person is signed in on: written when they come in, and at most once an hour after that."""

from __future__ import annotations

import datetime as dt
import logging
from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.contrib.auth.signals import user_logged_in, user_logged_out
from django.contrib.sessions.models import Session
from django.db import DatabaseError, transaction
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.volunteers.models import Device, Person
from sugarbush.volunteers.signing import hash_of

HOURLY = dt.timedelta(hours=1)
MOST_KNOWN = 4_000
SHOWN = 50

log = logging.getLogger(__name__)
# What this process has written lately: the hash of a session's key, and when. Spares each request a question.
_written: dict[str, dt.datetime] = {}

_BROWSERS = (
    ("Edg", "Edge"),
    ("OPR/", "Opera"),
    ("SamsungBrowser", "Samsung Internet"),
    ("Firefox/", "Firefox"),
    ("FxiOS", "Firefox"),
    ("CriOS", "Chrome"),
    ("Chromium", "Chromium"),
    ("Chrome/", "Chrome"),
    ("Safari/", "Safari"),
)
_SYSTEMS = (
    ("iPhone", "iPhone"),
    ("iPad", "iPad"),
    ("Android", "Android"),
    ("CrOS", "Chromebook"),
    ("Windows", "Windows"),
    ("Macintosh", "Mac"),
    ("Linux", "Linux"),
)


def words_of(agent: str) -> str:
    """The device in a few words, from what its browser says it is; nothing else of that text is kept."""
    browser = next((name for mark, name in _BROWSERS if mark in agent), "")
    system = next((name for mark, name in _SYSTEMS if mark in agent), "")
    if browser and system:
        return _("%(browser)s on %(system)s") % {"browser": browser, "system": system}
    return browser or system or _("a device that does not say what it is")


def seen(request: HttpRequest, person: Person, *, now: dt.datetime | None = None) -> None:
    """Write that the session of this request was used, unless that was written within the hour."""
    key, now = request.session.session_key, now or timezone.now()
    if not key:
        return
    key_hash = hash_of(key)
    if (before := _written.get(key_hash)) is not None and now - before < HOURLY:
        return
    try:
        with transaction.atomic():
            mine = Device.objects.filter(key_hash=key_hash, person=person)
            if not mine.filter(seen_at__lt=now - HOURLY).update(seen_at=now):
                words = words_of(request.headers.get("User-Agent", "")[:400])[:60]
                Device.objects.get_or_create(
                    key_hash=key_hash,
                    defaults={"person": person, "words": words, "came_in_at": now, "seen_at": now},
                )
    except DatabaseError:
        log.warning("A signed-in device could not be written down.", exc_info=True)
        return
    if len(_written) >= MOST_KNOWN:
        _written.clear()
    _written[key_hash] = now


def of_person(request: HttpRequest, person: Person) -> list[tuple[Device, bool]]:
    """The person's devices, the last seen first, and which is this one."""
    here = hash_of(request.session.session_key or "")
    return [(device, device.key_hash == here) for device in person.devices.all()[:SHOWN]]


def _end_sessions(hashes: set[str]) -> None:
    """Sessions are kept by their key, so those with these hashes are looked for among them."""
    left = set(hashes)
    for key in Session.objects.values_list("session_key", flat=True).iterator():
        if not left:
            break
        if (key_hash := hash_of(key)) in left:
            left.discard(key_hash)
            Session.objects.filter(session_key=key).delete()


@transaction.atomic
def end_one(*, device: Device, by: Person) -> None:
    """Sign one device out."""
    _end_sessions({device.key_hash})
    record(by=by, act="end one session", subject=by, new={"device": device.words})
    device.delete()


@transaction.atomic
def end_others(*, person: Person, here: str) -> int:
    """Sign out all devices of a person but the one with this session key; how many."""
    others = Device.objects.filter(person=person).exclude(key_hash=hash_of(here))
    hashes = set(others.values_list("key_hash", flat=True))
    if not hashes:
        return 0
    _end_sessions(hashes)
    others.delete()
    record(by=person, act="end other sessions", subject=person, new={"devices": len(hashes)})
    return len(hashes)


def sweep(now: dt.datetime | None = None) -> None:
    """Throw away devices whose session has run out."""
    oldest = (now or timezone.now()) - dt.timedelta(seconds=settings.SESSION_COOKIE_AGE)
    Device.objects.filter(seen_at__lt=oldest).delete()


class DevicesMiddleware:
    """Notes the device of each request that asked who its person is."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        # Only where the page itself had to know the person: asking here would cost the open pages a question.
        person = getattr(request, "_cached_user", None)
        if isinstance(person, Person) and request.user.is_authenticated:
            seen(request, person)
        return response


def _came_in(sender: Any, request: HttpRequest, user: Person, **more: Any) -> None:
    seen(request, user)


def _went_out(sender: Any, request: HttpRequest, user: Person | None, **more: Any) -> None:
    if key := request.session.session_key:
        Device.objects.filter(key_hash=hash_of(key)).delete()


def listen() -> None:
    """Hear Django's own coming in and going out, whichever page or test they came by."""
    user_logged_in.connect(_came_in, dispatch_uid="devices")
    user_logged_out.connect(_went_out, dispatch_uid="devices")
