"""Mails go out one by one. What became of each is written down before and after, so that nobody gets two."""

from __future__ import annotations

import datetime as dt
import logging
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from django.db.models import F, QuerySet
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from sugarbush.notices import listing, mailing
from sugarbush.notices.actions import leave_out
from sugarbush.notices.models import Notice, NoticeState, Recipient, RecipientState, Way

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

log = logging.getLogger("sugarbush.notices")

SLICE = 100
"""So many mails in one go: some seconds, so that other work has its turn and a server that shall stop does soon."""
UNSURE, REFUSED, UNREACHABLE, UNWRITABLE = "unsure", "refused", "unreachable", "unwritable"
WHY: dict[str, StrOrPromise] = {
    UNSURE: _("sending was cut off: it may have arrived, so it is not sent twice"),
    REFUSED: _("the mail server refused the address or the mail"),
    UNREACHABLE: _("the mail server was not to be reached, or put it off each time"),
    UNWRITABLE: _("no mail can be written to this address"),
}
CUT_OFF_AFTER = dt.timedelta(minutes=2)
"""Longer than a mail server may take to answer (EMAIL_TIMEOUT, for each of a mail's few steps)."""


def why_words(code: str) -> str:
    """Why somebody was left out, or did not get it."""
    return str({**listing.WHY, **WHY}.get(code, code))


def settle_unsure(notice_id: int) -> int:
    """Mails given to the server whose answer was never written down: whether they arrived, nobody knows."""
    cut_off = timezone.now() - CUT_OFF_AFTER
    rows = Recipient.objects.filter(notice=notice_id, state=RecipientState.SENDING, at__lt=cut_off)
    return rows.update(state=RecipientState.FAILED, why=UNSURE)


def _waiting(notice_id: int) -> QuerySet[Recipient]:
    return Recipient.objects.filter(notice=notice_id, way=Way.EMAIL, state=RecipientState.WAITING)


@dataclass(frozen=True)
class Sent:
    """left: how many wait still. then_after: the number after which the next slice begins, or None at the end."""

    left: int
    then_after: int | None


def send_out(notice_id: int, after_pk: int = 0) -> Sent:
    """Send the next slice of what waits of a message by mail, from the recipient after this number."""
    from django.core import mail

    settle_unsure(notice_id)
    notice = Notice.objects.filter(pk=notice_id, state=NoticeState.SENT).select_related("group").first()
    if notice is None or not mailing.ready():
        return Sent(0, None)
    rows = _waiting(notice_id).filter(pk__gt=after_pk).order_by("pk")
    waiting = list(rows.values_list("pk", flat=True)[: SLICE + 1])
    more, waiting = len(waiting) > SLICE, waiting[:SLICE]
    if waiting:
        connection = mail.get_connection()
        try:
            connection.open()
            for pk in waiting:
                _deliver(notice, pk, connection)
        except OSError as why:  # the server is away: what was not begun waits
            log.warning("message %s: the mail server is not to be reached (%s)", notice_id, type(why).__name__)
            more = False
        finally:
            connection.close()
    return Sent(_waiting(notice_id).count(), waiting[-1] if more else None)


def _deliver(notice: Notice, pk: int, connection: Any) -> None:
    """Send to one recipient, unless somebody else has begun to. Raises OSError when the server is away."""
    import smtplib

    begun = Recipient.objects.filter(pk=pk, state=RecipientState.WAITING).update(
        state=RecipientState.SENDING, at=timezone.now(), tries=F("tries") + 1
    )
    if not begun:
        return
    recipient = Recipient.objects.get(pk=pk)
    if out := listing.out_now(notice, [recipient]):
        leave_out(recipient, out[pk])
        return
    try:
        connection.send_messages([mailing.compose(notice, recipient)])
    except smtplib.SMTPRecipientsRefused as refused:
        code = next(iter(refused.recipients.values()))[0]
        _not_taken(recipient, for_now=400 <= code < 500)
    except smtplib.SMTPResponseException as refused:
        _not_taken(recipient, for_now=400 <= refused.smtp_code < 500)
        _open_again(connection)
    except OSError:  # cut off on the way: before or after the server had it, nobody knows
        _settle(recipient, RecipientState.FAILED, UNSURE)
        _open_again(connection)
    except ValueError:
        _settle(recipient, RecipientState.FAILED, UNWRITABLE)
    else:
        _settle(recipient, RecipientState.SENT)


def _open_again(connection: Any) -> None:
    connection.close()
    connection.open()


def _not_taken(recipient: Recipient, *, for_now: bool) -> None:
    if for_now:
        _settle(recipient, RecipientState.WAITING)
    else:
        _settle(recipient, RecipientState.FAILED, REFUSED)


def _settle(recipient: Recipient, state: str, why: str = "") -> None:
    Recipient.objects.filter(pk=recipient.pk, state=RecipientState.SENDING).update(
        state=state, why=why, at=timezone.now()
    )


def give_up(notice_id: int) -> int:
    """Let what still waits count as not arrived; a person decides whether to try again."""
    return _waiting(notice_id).update(state=RecipientState.FAILED, why=UNREACHABLE, at=timezone.now())
