"""Coming in by a code sent by e-mail.

A code belongs to the browser that asked for it: only there it opens, and only there tries count against it. So nobody
can use up somebody else's tries, nor revoke a code by asking for more. How many mails go to an address is capped; a
browser that has come in as its person before has a cap of its own (known.py), which no stranger can reach.

An address that is nobody's takes the same path to the same answer: the same questions to the database, a row, a task.
"""

from __future__ import annotations

import datetime as dt
import logging
import secrets
import uuid
from collections.abc import Callable
from dataclasses import dataclass

from django.db import transaction
from django.db.models import F
from django.utils.crypto import constant_time_compare, salted_hmac

from sugarbush.audit.models import record
from sugarbush.volunteers import known, limits
from sugarbush.volunteers.models import Person, SignInCode

log = logging.getLogger(__name__)
DIGITS = 8
GOOD_FOR = dt.timedelta(minutes=10)
MOST_TRIES = 5
BY_ADDRESS = limits.Limit(name="code, address", most=20, within=dt.timedelta(minutes=10))
TRIES_BY_ADDRESS = limits.Limit(name="code try, address", most=60, within=dt.timedelta(minutes=10))
BY_ACCOUNT = limits.Limit(name="code, account", most=6, within=dt.timedelta(hours=1))
BY_KNOWN = limits.Limit(name="code, known browser", most=6, within=dt.timedelta(hours=1))

ProgrammeName = Callable[[], str]
_programme_name: list[ProgrammeName] = []


def register_programme_name(ask: ProgrammeName) -> None:
    """Name the function that knows what the programme is called; mails come from it."""
    _programme_name[:] = [ask]


def programme_name() -> str:
    return (_programme_name[0]() if _programme_name else "") or "Sugarbush"


@dataclass(frozen=True)
class Entered:
    """What became of a code that was typed: the person it lets in, or how many tries are left (0: ask anew)."""

    person: Person | None
    tries_left: int


def code_of(asked: SignInCode) -> str:
    """The code of a request: worked out from its seed and the signing key, so a stolen database alone opens nothing."""
    number = int.from_bytes(salted_hmac("sugarbush.mail.code", asked.seed, algorithm="sha256").digest())
    return f"{number % 10**DIGITS:0{DIGITS}}"


def spaced(code: str) -> str:
    """In fours, as it is mailed.

    >>> spaced("12345678")
    '1234 5678'
    """
    return f"{code[:4]} {code[4:]}"


def as_code(typed: str) -> str:
    """What was typed as a code; gaps do not matter. Empty: no code.

    >>> as_code(" 1234-5678 "), as_code("1234567")
    ('12345678', '')
    """
    code = "".join(sign for sign in typed if sign.isascii() and sign.isdigit())
    return code if len(code) == DIGITS else ""


@transaction.atomic
def ask(*, email: str, marks: list[str]) -> SignInCode:
    """Have a code sent to this address, if it is somebody's. The row is made either way, and is told apart by nobody.

    marks: what the browser's cookie of known people holds.
    """
    from sugarbush.volunteers import tasks

    email = email.strip().lower()
    # Two rows that differ in capitals only, from before addresses were written small, are nobody's.
    found = list(Person.objects.filter(email__iexact=email)[:2])
    person = found[0] if len(found) == 1 and found[0].is_active else None
    mark = known.mark_of(person)
    if any(constant_time_compare(mark, brought) for brought in marks):
        wait = limits.take(BY_KNOWN, mark)
    else:
        wait = limits.take(BY_ACCOUNT, email)
    if wait is not None:
        log.warning("More codes were asked for in one name than are mailed in an hour; the rest goes nowhere.")
    now = limits.now()
    asked = SignInCode.objects.create(
        person=person if wait is None else None,
        seed=secrets.token_hex(16),
        asked_at=now,
        expires_at=now + GOOD_FOR,
    )
    tasks.queue(asked.pk)
    return asked


@transaction.atomic
def enter(*, code_id: uuid.UUID, typed: str) -> Entered:
    """Try a code on the request it belongs to. The right one lets its person in, once."""
    now = limits.now()
    still = SignInCode.objects.filter(pk=code_id, used_at=None, expires_at__gt=now)
    # One statement, so of many tries at once no more than so many count.
    if not still.filter(tries__lt=MOST_TRIES).update(tries=F("tries") + 1):
        return Entered(None, 0)
    asked = SignInCode.objects.select_related("person").get(pk=code_id)
    right = constant_time_compare(as_code(typed), code_of(asked))
    person = asked.person
    if not right or person is None or not person.is_active or not still.update(used_at=now):
        return Entered(None, MOST_TRIES - asked.tries)
    record(by=person, act="sign in by code", subject=person)
    return Entered(person, 0)


def is_open(code_id: uuid.UUID) -> bool:
    """Whether a code typed for this request might still be right."""
    rows = SignInCode.objects.filter(pk=code_id, used_at=None, expires_at__gt=limits.now(), tries__lt=MOST_TRIES)
    return rows.exists()


def void(person: Person) -> None:
    """No code of this person that waits opens any more."""
    SignInCode.objects.filter(person=person, used_at=None).update(used_at=limits.now())


def sweep() -> None:
    """Throw away codes of yesterday, and the worker's notes of having sent them."""
    from sugarbush.volunteers import tasks

    SignInCode.objects.filter(expires_at__lt=limits.now() - limits.KEPT_FOR).delete()
    tasks.sweep()
