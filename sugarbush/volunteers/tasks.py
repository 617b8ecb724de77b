"""Mails about the way in, plain text, sent by the background worker: the page has answered by then, whoever asked."""

from __future__ import annotations

import datetime as dt
import logging
import uuid
from typing import TYPE_CHECKING

from django.conf import settings
from django.utils import timezone, translation
from django.utils.translation import gettext as _
from django_tasks import task

from sugarbush.volunteers import codes, limits
from sugarbush.volunteers.models import Person, SignInCode

if TYPE_CHECKING:
    from django.core.mail import EmailMessage

WAITS = (dt.timedelta(seconds=5), dt.timedelta(seconds=30), dt.timedelta(minutes=2))
"""How long to wait before each further try. All lie within the time a code is good for."""

log = logging.getLogger(__name__)


@task(priority=100)  # somebody stands at the door
def send_code(code_id: str, nth: int = 0) -> str:
    """Send the mail of one request; "sent", "nobody" or why not. Neither log nor result holds the address."""
    import smtplib

    rows = SignInCode.objects.select_related("person").filter(used_at=None, expires_at__gt=limits.now())
    asked = rows.filter(pk=uuid.UUID(code_id)).first()
    if asked is None or asked.person is None or not asked.person.email or not asked.person.is_active:
        return "nobody"
    try:
        compose(asked, asked.person.email, asked.person.language).send()
    except smtplib.SMTPRecipientsRefused as refused:
        for_now = all(400 <= code < 500 for code, _words in refused.recipients.values())
        return _not_sent(code_id, nth, refused, again=for_now)
    except smtplib.SMTPResponseException as refused:
        return _not_sent(code_id, nth, refused, again=400 <= refused.smtp_code < 500)
    except OSError as away:  # SMTPException is one too: the server is not there, or hung up
        return _not_sent(code_id, nth, away, again=True)
    except ValueError as unwritable:
        return _not_sent(code_id, nth, unwritable, again=False)
    return "sent"


def _not_sent(code_id: str, nth: int, why: Exception, *, again: bool) -> str:
    what = type(why).__name__
    if again and nth < len(WAITS):
        log.warning("A sign-in code was not sent yet (%s); it is tried again in %d s.", what, WAITS[nth].seconds)
        queue(uuid.UUID(code_id), nth + 1, after=WAITS[nth])
        return "later"
    log.error("A sign-in code could not be sent (%s) and is not tried again. See SUGARBUSH_EMAIL_URL.", what)
    return what


def compose(asked: SignInCode, address: str, language: str) -> EmailMessage:
    """The mail as it leaves: no link, nothing that tells whose it is."""
    name = _one_line(codes.programme_name())
    with translation.override(language):
        words = {
            "programme": name,
            "code": codes.spaced(codes.code_of(asked)),
            "minutes": int(codes.GOOD_FOR.total_seconds() // 60),
        }
        lines = [
            _("Your code for %(programme)s:") % words,
            "    " + str(words["code"]),
            _(
                "Type it on the page where you asked for it. It opens there only, once, and for %(minutes)d minutes"
                " from when you asked."
            )
            % words,
            _(
                "You did not ask? Then somebody typed your address, perhaps by mistake. Give the code to nobody, and"
                " nothing happens."
            ),
        ]
        return _plain(address, _("Your sign-in code for %(programme)s") % words, lines)


@task()
def tell_of_passkey(person_id: int, added: bool) -> str:
    """Tell a person by mail that a passkey of theirs was added or removed, so that it is never done unseen."""
    person = Person.objects.filter(pk=person_id, is_active=True).exclude(email=None).first()
    if person is None or not person.email:
        return "nobody"
    words = {"programme": _one_line(codes.programme_name())}
    with translation.override(person.language):
        what = _("A passkey was added to your way into %(programme)s.") if added else ""
        what = what or _("A passkey was removed from your way into %(programme)s.")
        lines = [
            what % words,
            _("If that was you, all is well."),
            _("If not: sign out everywhere on your page, remove what is not yours there, and tell a coordinator."),
        ]
        made = _plain(person.email, _("Your passkeys for %(programme)s") % words, lines)
    try:
        made.send()
    except (OSError, ValueError) as why:  # it also stands in the history and on the person's page
        log.error("A mail about a passkey could not be sent (%s).", type(why).__name__)
        return type(why).__name__
    return "sent"


def _plain(address: str, subject: str, lines: list[str]) -> EmailMessage:
    from email.utils import formataddr

    from django.core.mail import EmailMessage

    return EmailMessage(
        subject=subject,
        body="\n\n".join(lines) + "\n",
        from_email=formataddr((_one_line(codes.programme_name()), settings.DEFAULT_FROM_EMAIL)),
        to=[address],
        headers={"Auto-Submitted": "auto-generated"},
    )


def _one_line(words: str) -> str:
    return " ".join("".join(sign if sign.isprintable() else " " for sign in words).split())


def queue(code_id: uuid.UUID, nth: int = 0, after: dt.timedelta | None = None) -> None:
    """Have the worker send the mail of a request, now or after a while."""
    job = send_code.using(run_after=timezone.now() + after) if after else send_code
    job.enqueue(str(code_id), nth)


def queue_word(person: Person, *, added: bool) -> None:
    """Have the worker tell a person of a passkey, where mails go out and they have an address."""
    if settings.SENDS_MAIL and person.email:
        tell_of_passkey.enqueue(person.pk, added)


def sweep() -> None:
    """Throw away the worker's notes of mails of yesterday: a stranger's asking leaves such rows too."""
    from django_tasks_db.models import DBTaskResult

    over = timezone.now() - limits.KEPT_FOR
    DBTaskResult.objects.filter(task_path=send_code.module_path, finished_at__lt=over).delete()
