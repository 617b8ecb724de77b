"""The mail with a code, sent by the background worker: the page that asked has answered by then, whoever asked."""

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
from sugarbush.volunteers.models import SignInCode

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
    """The mail as it leaves: plain text, no link, nothing that tells whose it is."""
    from email.utils import formataddr

    from django.core.mail import EmailMessage

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
        subject = _("Your sign-in code for %(programme)s") % words
    return EmailMessage(
        subject=subject,
        body="\n\n".join(lines) + "\n",
        from_email=formataddr((name, settings.DEFAULT_FROM_EMAIL)),
        to=[address],
        headers={"Auto-Submitted": "auto-generated"},
    )


def _one_line(words: str) -> str:
    return " ".join("".join(sign if sign.isprintable() else " " for sign in words).split())


def queue(code_id: uuid.UUID, nth: int = 0, after: dt.timedelta | None = None) -> None:
    """Have the worker send the mail of a request, now or after a while."""
    job = send_code.using(run_after=timezone.now() + after) if after else send_code
    job.enqueue(str(code_id), nth)


def sweep() -> None:
    """Throw away the worker's notes of mails of yesterday: a stranger's asking leaves such rows too."""
    from django_tasks_db.models import DBTaskResult

    over = timezone.now() - limits.KEPT_FOR
    DBTaskResult.objects.filter(task_path=send_code.module_path, finished_at__lt=over).delete()
