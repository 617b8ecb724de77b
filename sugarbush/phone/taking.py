"""Taking what a phone sends, entry by entry. What happened in the field is kept; what is doubtful is put to review."""

from __future__ import annotations

import contextlib
import datetime as dt
import hashlib
import json
import logging
import threading
import uuid
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import Any, Literal

from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, OperationalError, connection, transaction
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from sugarbush.parts.reasons import Reason, Refused
from sugarbush.phone import clock
from sugarbush.phone.forms import FORMS, EntryForm
from sugarbush.phone.keeping import Entry, Known, keep
from sugarbush.phone.models import Sent
from sugarbush.volunteers.models import Person

log = logging.getLogger(__name__)

FORMATS = {1}  # every version ever released; tests/phone/data holds a batch of each
MOST_ENTRIES = 100
State = Literal["saved", "before", "review", "refused", "later"]
# What only tells how the entry travelled, and may differ when it is sent again.
NOT_THE_BODY = {"waited_ms", "contact"}


@dataclass(kw_only=True)
class Answer:
    """The word on one entry. Only saved, before and review let it leave the phone's outbox."""

    id: str
    state: State
    reasons: list[str] = field(default_factory=list)
    to_review: bool = False
    at_ms: int | None = None

    def as_json(self) -> dict[str, Any]:
        return {
            "id": self.id,
            "state": self.state,
            "reasons": self.reasons,
            "to_review": self.to_review,
            "at_ms": self.at_ms,
        }


def body_hash(raw: dict[str, Any]) -> str:
    body = {name: value for name, value in raw.items() if name not in NOT_THE_BODY}
    return hashlib.sha256(json.dumps(body, sort_keys=True).encode()).hexdigest()


def take_batch(
    batch: Sequence[Any], *, by: Person, format_: int, phone_now_ms: int, server_now_ms: Callable[[], int]
) -> list[Answer]:
    """Take the entries in order, each in a transaction of its own, and give the word on each.

    Sending an entry again changes nothing. What is the same for all is read once.
    """
    shaped = [raw for raw in batch if isinstance(raw, dict)]
    known = Known(str(raw.get("tree", ""))[:16] for raw in shaped)
    earlier = Sent.objects.in_bulk([name for raw in shaped if (name := _name(raw)) is not None])
    answers = []
    for raw in batch:
        one = partial(_take, raw, by=by, format_=format_, phone_now_ms=phone_now_ms, known=known, earlier=earlier)
        answers.append(_safely(one, raw, by, server_now_ms()))
    return answers


def _safely(one: Callable[..., Answer], raw: Any, by: Person, server_now_ms: int) -> Answer:
    name = str(raw.get("id", ""))[:40] if isinstance(raw, dict) else ""
    try:
        return one(server_now_ms=server_now_ms)
    except Refused as refused:
        word = Answer(id=name, state="refused", reasons=[str(reason) for reason in refused.reasons])
        return _come_meanwhile(raw, by) or word
    except PermissionDenied as denied:
        return Answer(id=name, state="refused", reasons=[str(denied)])
    except IntegrityError:
        return _come_meanwhile(raw, by) or Answer(id=name, state="later")
    except OperationalError:
        log.warning("an entry of a phone waits: the database was busy")
        return Answer(id=name, state="later")
    except Exception:
        # One entry nobody foresaw must not keep the others of the batch on the phone.
        log.exception("an entry of a phone could not be written")
        return Answer(id=name, state="later")


def _come_meanwhile(raw: Any, by: Person) -> Answer | None:
    """The word on an entry that has come in by another line since this batch began, or None."""
    name = _name(raw) if isinstance(raw, dict) else None
    receipt = Sent.objects.filter(pk=name).first() if name is not None else None
    return _again(receipt, by, body_hash(raw)) if receipt is not None else None


_writing = threading.Lock()


def one_writer() -> contextlib.AbstractContextManager[Any]:
    """SQLite has one writer at a time, and those that wait for its file look again only now and then.

    Twenty phones that come back at once would spend most of their time asleep; waiting here, each goes on at once.
    """
    return _writing if connection.vendor == "sqlite" else contextlib.nullcontext()


def _name(raw: dict[str, Any]) -> uuid.UUID | None:
    try:
        return uuid.UUID(str(raw.get("id")))
    except ValueError:
        return None


def _take(
    raw: Any,
    *,
    by: Person,
    format_: int,
    phone_now_ms: int,
    server_now_ms: int,
    known: Known,
    earlier: dict[uuid.UUID, Sent],
) -> Answer:
    entry_id, kind, form, said_ms = _read(raw)
    digest = body_hash(raw)
    if entry_id in earlier:
        return _again(earlier[entry_id], by, digest)
    with one_writer(), transaction.atomic():
        told = clock.when(
            said_ms=said_ms,
            phone_now_ms=phone_now_ms,
            server_now_ms=server_now_ms,
            waited_ms=_whole(raw.get("waited_ms")),
            contact=_contact(raw.get("contact")),
        )
        said_at, at = _moment(said_ms), _moment(told.at_ms)
        doubts = [_clock_words(said_at, at)] if told.notable else []
        entry = Entry(id=entry_id, kind=kind, form=form, by=by, at=at, doubts=doubts, known=known)
        keep(entry)
        receipt = Sent.objects.create(
            id=entry_id,
            person=by,
            kind=kind,
            format=format_,
            tree_code=form.cleaned_data["tree"],
            body=_as_sent(raw, form),
            body_hash=digest,
            to_review=entry.to_review,
            reasons=entry.reasons,
            said_at=said_at,
            taken_at=at,
            clock_off_s=told.off_ms // 1000,
        )
    earlier[entry_id] = receipt
    state: State = "review" if entry.to_review else "saved"
    reasons = entry.reasons if entry.to_review else [*entry.reasons, *_late_words(at)]
    return Answer(id=str(entry_id), state=state, reasons=reasons, to_review=entry.to_review, at_ms=told.at_ms)


def _read(raw: Any) -> tuple[uuid.UUID, str, EntryForm, int]:
    """What the entry says of itself, or Refused."""
    if not isinstance(raw, dict):
        raise _not_read(_("It did not arrive whole."))
    entry_id = _name(raw)
    if entry_id is None:
        raise _not_read(_("It has no name of its own."))
    kind = str(raw.get("kind"))
    said_ms = _whole(raw.get("happened_ms"))
    if kind not in FORMS or said_ms is None:
        raise _not_read(_("This version of the programme does not know what it is."))
    form = FORMS[kind](raw)
    if not form.is_valid():
        wrong = [f"{form.fields[name].label}: {' '.join(map(str, errors))}" for name, errors in form.errors.items()]
        raise _not_read(" ".join(wrong))
    return entry_id, kind, form, said_ms


def _as_sent(raw: dict[str, Any], form: EntryForm) -> dict[str, Any]:
    """What of it is kept: the words and numbers that the form has looked at, and the clocks."""
    kept = {name: raw[name] for name in (*form.fields, "happened_ms", "waited_ms") if name in raw}
    contact = _contact(raw.get("contact"))
    clocks = {"contact": {"server_ms": contact.server_ms, "phone_ms": contact.phone_ms}} if contact else {}
    return {name: value for name, value in kept.items() if isinstance(value, str | int | float)} | clocks


def _not_read(why: str) -> Refused:
    return Refused([Reason(code="not-read", fact=why, next_text=_("Write it anew, or show it to your group’s lead"))])


def _again(earlier: Sent, by: Person, digest: str) -> Answer:
    """The entry is here already: the same word once more, or another entry under the same name."""
    if earlier.person_id != by.pk or earlier.body_hash != digest:
        why = _("Another entry was sent under this name already. It stays on this phone; write it anew.")
        return Answer(id=str(earlier.pk), state="refused", reasons=[why])
    at = date_format(timezone.localtime(earlier.recorded_at), "H:i")
    reasons = list(earlier.reasons) or [_("Already saved at %(time)s. It counts once.") % {"time": at}]
    return Answer(
        id=str(earlier.pk),
        state="before",
        reasons=reasons,
        to_review=earlier.to_review,
        at_ms=int(earlier.taken_at.timestamp() * 1000),
    )


def _whole(value: Any) -> int | None:
    return int(value) if isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e16 else None


def _contact(value: Any) -> clock.Contact | None:
    if not isinstance(value, dict):
        return None
    server_ms, phone_ms = _whole(value.get("server_ms")), _whole(value.get("phone_ms"))
    if server_ms is None or phone_ms is None:
        return None
    return clock.Contact(server_ms=server_ms, phone_ms=phone_ms)


def _moment(ms: int) -> dt.datetime:
    inside = clock.within(ms, clock.LEAST_MS + 86_400_000, clock.MOST_MS - 86_400_000)
    return dt.datetime(1970, 1, 1, tzinfo=dt.UTC) + dt.timedelta(milliseconds=inside)


def _clock_words(said_at: dt.datetime, at: dt.datetime) -> str:
    said, took = (date_format(timezone.localtime(moment), "j F Y, H:i") for moment in (said_at, at))
    return _("The phone’s clock was wrong: it said %(said)s, we take it for %(took)s.") % {"said": said, "took": took}


def _late_words(at: dt.datetime) -> list[str]:
    local = timezone.localtime(at)
    days = (timezone.localdate() - local.date()).days
    if days < 1:
        return []
    day = date_format(local, "l j F")
    return [_("From %(day)s. Counted for that day. Thank you for sending it.") % {"day": day}]
