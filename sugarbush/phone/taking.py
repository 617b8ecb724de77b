"""Taking what a phone sends, entry by entry. What happened in the field is kept; what is doubtful is put to review."""

from __future__ import annotations

import contextlib
import datetime as dt
import hashlib
import json
import logging
import threading
import uuid
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, OperationalError, connection, transaction
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from sugarbush.parts.reasons import Reason, Refused
from sugarbush.phone import clock
from sugarbush.phone.forms import FORMS, EntryForm
from sugarbush.phone.keeping import TOGETHER, Entry, Known, keep
from sugarbush.phone.models import Sent
from sugarbush.volunteers.models import Person

log = logging.getLogger(__name__)

FORMATS = {1}  # every version ever released; tests/phone/data holds a batch of each
MOST_ENTRIES = 100
AT_ONCE = 25  # as many as the script sends; others who write wait for no more than these
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


@dataclass(frozen=True, kw_only=True)
class Sender:
    """What is the same for all entries of a batch: who sends it, in which format, and the phone's clock meanwhile."""

    by: Person
    format_: int
    phone_now_ms: int
    server_now_ms: Callable[[], int]
    known: Known
    earlier: dict[uuid.UUID, Sent]


def take_batch(
    batch: Sequence[Any], *, by: Person, format_: int, phone_now_ms: int, server_now_ms: Callable[[], int]
) -> list[Answer]:
    """Take the entries in order and give the word on each, after the transaction it was written in has ended.

    Visits that follow each other share a transaction, and with it one wait for the disk; where that does not go
    through, each goes in one of its own. Sending an entry again changes nothing. What is the same for all is read once.
    """
    shaped = [raw for raw in batch if isinstance(raw, dict)]
    sender = Sender(
        by=by,
        format_=format_,
        phone_now_ms=phone_now_ms,
        server_now_ms=server_now_ms,
        known=Known(str(raw.get("tree", ""))[:16] for raw in shaped),
        earlier=Sent.objects.in_bulk([name for raw in shaped if (name := _name(raw)) is not None]),
    )
    answers: list[Answer] = []
    for part in _together(batch):
        answers += _as_one(part, sender) or [_safely(raw, sender) for raw in part]
    return answers


def _together(batch: Sequence[Any]) -> Iterator[list[Any]]:
    """The batch in its order, cut into what is written at once: visits of different names, anything else alone."""
    part: list[Any] = []
    names: set[uuid.UUID | None] = set()
    for raw in batch:
        name = _name(raw) if isinstance(raw, dict) and str(raw.get("kind")) in TOGETHER else None
        if part and (name is None or None in names or name in names or len(part) == AT_ONCE):
            yield part
            part, names = [], set()
        part.append(raw)
        names.add(name)
    if part:
        yield part


def _as_one(part: Sequence[Any], sender: Sender) -> list[Answer]:
    """All of a part in one transaction; an empty list where they have to be looked at one by one."""
    if len(part) == 1:
        return []
    try:
        return _take(part, sender)
    except (Refused, PermissionDenied, IntegrityError, OperationalError):
        return []
    except Exception:
        log.exception("entries of a phone could not be written together")
        return []


def _safely(raw: Any, sender: Sender) -> Answer:
    name = str(raw.get("id", ""))[:40] if isinstance(raw, dict) else ""
    try:
        return _take([raw], sender)[0]
    except Refused as refused:
        word = Answer(id=name, state="refused", reasons=[str(reason) for reason in refused.reasons])
        return _come_meanwhile(raw, sender.by) or word
    except PermissionDenied as denied:
        return Answer(id=name, state="refused", reasons=[str(denied)])
    except IntegrityError:
        return _come_meanwhile(raw, sender.by) or Answer(id=name, state="later")
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


def _take(part: Sequence[Any], sender: Sender) -> list[Answer]:
    """The words on entries of one kind, written in one transaction; those that were here already are left out of it."""
    read = [_read(raw, sender) for raw in part]
    fresh = [one for one in read if one.entry.id not in sender.earlier]
    if fresh:
        with one_writer(), transaction.atomic():
            keep(fresh[0].entry.kind, [one.entry for one in fresh])
            receipts = Sent.objects.bulk_create(one.receipt(sender) for one in fresh)
        sender.earlier.update({receipt.pk: receipt for receipt in receipts})
    new = {one.entry.id for one in fresh}
    return [one.word() if one.entry.id in new else one.again(sender) for one in read]


@dataclass(frozen=True, kw_only=True)
class Read:
    """An entry as it arrived, and what is made of it."""

    raw: dict[str, Any]
    digest: str
    said_ms: int
    told: clock.When
    entry: Entry

    def receipt(self, sender: Sender) -> Sent:
        return Sent(
            id=self.entry.id,
            person=sender.by,
            kind=self.entry.kind,
            format=sender.format_,
            tree_code=self.entry.form.cleaned_data["tree"],
            body=_as_sent(self.raw, self.entry.form),
            body_hash=self.digest,
            to_review=self.entry.to_review,
            reasons=self.entry.reasons,
            said_at=_moment(self.said_ms),
            taken_at=self.entry.at,
            clock_off_s=self.told.off_ms // 1000,
        )

    def again(self, sender: Sender) -> Answer:
        return _again(sender.earlier[self.entry.id], sender.by, self.digest)

    def word(self) -> Answer:
        entry = self.entry
        state: State = "review" if entry.to_review else "saved"
        reasons = entry.reasons if entry.to_review else [*entry.reasons, *_late_words(entry.at)]
        return Answer(id=str(entry.id), state=state, reasons=reasons, to_review=entry.to_review, at_ms=self.told.at_ms)


def _read(raw: Any, sender: Sender) -> Read:
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
    told = clock.when(
        said_ms=said_ms,
        phone_now_ms=sender.phone_now_ms,
        server_now_ms=sender.server_now_ms(),
        waited_ms=_whole(raw.get("waited_ms")),
        contact=_contact(raw.get("contact")),
    )
    at = _moment(told.at_ms)
    doubts = [_clock_words(_moment(said_ms), at)] if told.notable else []
    entry = Entry(id=entry_id, kind=kind, form=form, by=sender.by, at=at, doubts=doubts, known=sender.known)
    return Read(raw=raw, digest=body_hash(raw), said_ms=said_ms, told=told, entry=entry)


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
