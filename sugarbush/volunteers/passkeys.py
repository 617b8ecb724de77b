"""Passkeys (WebAuthn, level 2): adding one to oneself, coming in by one, removing one.

The private half never leaves the phone, computer or stick, and answers only the site it was made for: so it cannot be
given away on a false page. User verification (finger, face, the device's own PIN) is asked for each time.
"""

from __future__ import annotations

import base64
import datetime as dt
import ipaddress
import json
import secrets
import subprocess
import sys
import uuid
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.db import IntegrityError, transaction
from django.http import HttpRequest
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.volunteers import codes, limits, tasks
from sugarbush.volunteers.models import Passkey, Person
from sugarbush.volunteers.signing import hash_of

CHECKER = Path(__file__).with_name("passkey_check.py")
CHECK_S = 20
"""Longest wait for a check, in seconds; it takes a third of one on a small machine."""
ALGORITHMS = (-7, -8, -257)
"""ES256, EdDSA, RS256 of the COSE register: what phones, sticks and Windows make."""
GOOD_FOR = dt.timedelta(minutes=5)
MOST, MOST_ANSWER_BYTES = 10, 20_000
NOTE, LATER = "passkey", "passkey_later"
BY_ADDRESS = limits.Limit(name="passkey, address", most=30, within=dt.timedelta(minutes=10))


@dataclass(frozen=True)
class Site:
    """What a passkey is made for: the host's name and the page's origin; and why none can be used here, if so."""

    rp_id: str
    origin: str
    why_not: str = ""


def site_of(request: HttpRequest) -> Site:
    """The site this page belongs to: the public address, or else the host that was asked for."""
    here = f"{request.scheme}://{request.get_host()}"
    public = urlsplit(settings.PUBLIC_URL)
    origin = f"{public.scheme}://{public.netloc}".lower() if settings.PUBLIC_URL else here
    parts = urlsplit(origin)
    host = parts.hostname or ""
    if origin != here.lower():
        why_not = _("Passkeys work only at the programme’s own address: %(address)s") % {"address": origin}
    elif _is_number(host):
        why_not = _("Passkeys need an address with a name. On this machine itself that is http://localhost.")
    elif parts.scheme != "https" and host != "localhost":
        why_not = _("Passkeys need an address that begins with https. Whoever keeps the server can set that up.")
    else:
        why_not = ""
    return Site(host, origin, why_not)


def _is_number(host: str) -> bool:
    try:
        ipaddress.ip_address(host)
    except ValueError:
        return False
    return True


# The question put to the browser ---------------------------------------------------------


def ask_to_add(request: HttpRequest, person: Person) -> dict[str, Any]:
    """What the browser is asked to make a passkey for this person."""
    site = site_of(request)
    return {
        "rp": {"id": site.rp_id, "name": codes.programme_name()},
        "user": {"id": _text(person.key.bytes), "name": str(person), "displayName": str(person)},
        "challenge": _challenge(request, "add"),
        "pubKeyCredParams": [{"type": "public-key", "alg": number} for number in ALGORITHMS],
        "excludeCredentials": [
            {"type": "public-key", "id": one} for one in person.passkeys.values_list("credential_id", flat=True)
        ],
        "authenticatorSelection": {
            "residentKey": "required",
            "requireResidentKey": True,
            "userVerification": "required",
        },
        "attestation": "none",
        "timeout": int(GOOD_FOR.total_seconds() * 1000),
    }


def ask_to_come_in(request: HttpRequest) -> dict[str, Any]:
    """What the browser is asked to find a passkey of whoever sits there; it names nobody."""
    return {
        "rpId": site_of(request).rp_id,
        "challenge": _challenge(request, "in"),
        "userVerification": "required",
        "allowCredentials": [],
        "timeout": int(GOOD_FOR.total_seconds() * 1000),
    }


def _challenge(request: HttpRequest, what: str) -> str:
    """A new challenge, noted in the session; the one before it is void."""
    challenge = _text(secrets.token_bytes(32))
    ends_at = limits.now() + GOOD_FOR
    request.session[NOTE] = {"what": what, "challenge": challenge, "ends_at": ends_at.timestamp()}
    return challenge


def _spend(request: HttpRequest, what: str) -> str:
    """The challenge of this session, which then is gone. Raises Refused where there is none, or it is too old."""
    note = request.session.pop(NOTE, None) or {}
    if note.get("what") != what or note.get("ends_at", 0) <= limits.now().timestamp():
        raise _refused("old", _("That took too long, or was sent twice."), _("Press the button once more"))
    return str(note["challenge"])


# What it answered ------------------------------------------------------------------------


def add(request: HttpRequest, person: Person, *, name: str, answer: str) -> Passkey:
    """Keep the passkey the browser has made. Raises Refused."""
    challenge = _spend(request, "add")
    told = _checked(request, challenge, _read(answer))
    with transaction.atomic():
        held = Person.objects.select_for_update().get(pk=person.pk)
        if held.passkeys.count() >= MOST:
            raise _refused("many", _("You have ten passkeys already."), _("Remove one you no longer use"))
        try:
            with transaction.atomic():
                passkey = Passkey.objects.create(
                    person=held,
                    name=name,
                    credential_id=told["id"],
                    credential_hash=hash_of(told["id"]),
                    attested=told["attested"],
                    sign_count=told["count"],
                    added_at=limits.now(),
                )
        except IntegrityError:
            raise _refused("there", _("This passkey is kept already."), _("Nothing more is to be done")) from None
        record(by=held, act="add passkey", subject=held)
        tasks.queue_word(held, added=True)
    return passkey


def come_in_by(request: HttpRequest, *, answer: str) -> Person:
    """The person whose passkey has answered. Raises Refused, in the same words whatever was wrong with it."""
    challenge = _spend(request, "in")
    response = _read(answer)
    passkey = (
        Passkey.objects.select_related("person")
        .filter(credential_hash=hash_of(str(response["id"])), person__is_active=True)
        .first()
    )
    if passkey is None:
        raise _wrong()
    person = passkey.person
    if response["response"].get("userHandle") not in (None, "", _text(person.key.bytes)):
        raise _wrong()
    told = _checked(request, challenge, response, attested=passkey.attested)
    with transaction.atomic():
        rows = Passkey.objects.filter(pk=passkey.pk)
        count = int(told["count"])
        # A count that does not rise is what a copy of the key would tell. Many keys count nothing and tell 0.
        rising = rows.filter(sign_count__lt=count) if count else rows.filter(sign_count=0)
        if rising.update(sign_count=count, used_at=limits.now()):
            record(by=person, act="sign in by passkey", subject=person)
            return person
    record(by=person, act="refuse passkey", subject=person)
    raise _refused(
        "copied",
        _("This passkey told an older count than before, as a copy of it would."),
        _("Come in another way, remove the passkey on your page and add a new one"),
    )


@transaction.atomic
def remove(*, person: Person, passkey_id: uuid.UUID) -> Passkey | None:
    """Let a passkey of one's own open nothing any more; None where it is not there (any more)."""
    passkey = Passkey.objects.select_for_update().filter(pk=passkey_id, person=person).first()
    if passkey is None:
        return None
    passkey.delete()
    record(by=person, act="remove passkey", subject=person)
    tasks.queue_word(person, added=False)
    return passkey


def should_ask(request: HttpRequest, person: Person) -> bool:
    """Whether to ask this person to add one: it would work here, they have none, and did not say later."""
    if request.session.get(LATER) or site_of(request).why_not:
        return False
    return not person.passkeys.exists()


def _read(answer: str) -> dict[str, Any]:
    """The browser's answer, as far as its form goes. Raises Refused."""
    try:
        read = json.loads(answer) if len(answer) <= MOST_ANSWER_BYTES else None
    except (ValueError, RecursionError):
        read = None
    if not (isinstance(read, dict) and isinstance(read.get("id"), str) and isinstance(read.get("response"), dict)):
        raise _wrong()
    return read


def _checked(
    request: HttpRequest, challenge: str, response: dict[str, Any], *, attested: str | None = None
) -> dict[str, Any]:
    """What the checker says of the answer. Raises Refused."""
    site = site_of(request)
    question = {
        "rp_id": site.rp_id,
        "rp_name": codes.programme_name(),
        "origin": site.origin,
        "challenge": challenge,
        "algorithms": ALGORITHMS,
        "response": response,
    }
    if attested is not None:
        question["attested"] = attested
    try:
        done = subprocess.run(  # noqa: S603  # our own file, what is typed goes in by its standard input
            [sys.executable, "-I", str(CHECKER)],
            input=json.dumps(question).encode(),
            capture_output=True,
            timeout=CHECK_S,
            check=True,
        )
        told: dict[str, Any] = json.loads(done.stdout)
    except (subprocess.SubprocessError, ValueError):
        raise _refused("busy", _("The server could not check that just now."), _("Try again in a minute")) from None
    if "wrong" in told:
        raise _wrong()
    return told


def _wrong() -> Refused:
    return _refused(
        "wrong",
        _("This passkey opens nothing here."),
        _("Try another one, or come in another way. A passkey is added on your own page"),
    )


def _refused(code: str, fact: str, next_text: str) -> Refused:
    return Refused([Reason(code=code, fact=fact, next_text=next_text)])


def _text(data: bytes) -> str:
    return base64.urlsafe_b64encode(data).rstrip(b"=").decode()
