"""One mail to one recipient, as plain text, with the way out of further ones (RFC 8058)."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.conf import settings
from django.urls import reverse
from django.utils.translation import gettext as _

from sugarbush.notices.kinds import text_for
from sugarbush.notices.models import Notice, Recipient
from sugarbush.notices.optout import token_for
from sugarbush.parts.proxies import public_address
from sugarbush.seasons.models import Programme

if TYPE_CHECKING:
    from django.core.mail import EmailMessage


def why_not_ready() -> str:
    """Why no mail goes out from here, or an empty string."""
    if not settings.SENDS_MAIL:
        return _("No e-mail goes out from here (SUGARBUSH_EMAIL_URL is not set): the text is to copy or to print.")
    if not settings.PUBLIC_URL:
        return _(
            "No e-mail goes out from here: without SUGARBUSH_PUBLIC_URL a mail could not say how to end further ones."
        )
    return ""


def ready() -> bool:
    return not why_not_ready()


def sender_name() -> str:
    programme = Programme.current()
    return programme.name if programme else "Sugarbush"


def foot(address: str) -> str:
    """What stands below each mail."""
    lines = [
        "-- ",
        _("You get this from %(programme)s, because you take part or own a tree.") % {"programme": sender_name()},
        _("No more of these, by one press: %(address)s") % {"address": address},
    ]
    return "\n".join(lines)


def compose(notice: Notice, recipient: Recipient) -> EmailMessage:
    """The mail as it leaves.

    The envelope names the bare address; the name stands in the header only, where its letters cannot end the line or
    add an address.
    """
    from django.core.mail import EmailMessage

    way_out = public_address(reverse("no-messages", args=[token_for(recipient)]))
    domain = settings.DEFAULT_FROM_EMAIL.rpartition("@")[2]
    headers = {
        "To": mailbox(recipient.name, recipient.address),
        "Message-ID": f"<{notice.uuid.hex}.{recipient.pk}@{domain}>",
        "List-Unsubscribe": f"<{way_out}>",
    }
    if way_out.startswith("https://"):  # the one press by a mail program is defined for https only
        headers["List-Unsubscribe-Post"] = "List-Unsubscribe=One-Click"
    return EmailMessage(
        subject=one_line(notice.subject),
        body=f"{text_for(notice.body, recipient.name)}\n\n{foot(way_out)}\n",
        from_email=mailbox(sender_name(), settings.DEFAULT_FROM_EMAIL),
        to=[recipient.address],
        reply_to=[notice.reply_to] if notice.reply_to else None,
        headers=headers,
    )


def one_line(words: str) -> str:
    """Words without line ends and other signs that steer."""
    return " ".join("".join(sign if sign.isprintable() else " " for sign in words).split())


def mailbox(name: str, address: str) -> str:
    """`Name <address>` in ASCII on one line, whatever letters the name has."""
    from email.header import Header
    from email.utils import formataddr

    name = one_line(name)
    if name.isascii() and "=?" not in name:  # what looks encoded already would be read as something else
        return formataddr((name, address))
    return f"{Header(name, 'utf-8').encode(linesep='')} <{address}>"
