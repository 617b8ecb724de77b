"""A message is drafted, changed, thrown away or sent; nothing leaves without a person's press."""

from __future__ import annotations

import uuid
from collections import Counter
from collections.abc import Mapping
from typing import Any

from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.notices import audiences, listing, mailing
from sugarbush.notices.audiences import Audience
from sugarbush.notices.models import Notice, NoticeState, Recipient, RecipientState, To, Way
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.volunteers.models import Group, Person

WRITTEN = ("subject", "body", "short", "reply_to", "narrowed", "group")
AT_ONCE = 500


class DraftMoved(Exception):  # noqa: N818  # said as it is: the draft moved
    """Somebody changed the draft, or the list of who gets it, since it was looked at."""


def require(person: Person, audience: str, group_id: int | None, act: str) -> None:
    """Refuse (403) unless the person may do the act with a message to this audience in this group."""
    if not audiences.may(person, audience, group_id, act):
        raise PermissionDenied(_("This message reaches further than your role. Ask a coordinator."))


@transaction.atomic
def draft(
    *, by: Person, token: uuid.UUID, kind: str, audience: Audience, group: Group | None, values: Mapping[str, Any]
) -> Notice:
    """Keep a new draft. The same token again finds the first one."""
    require(by, audience.code, group.pk if group else None, "notices.write")
    fields = {
        "to": audience.to,
        "kind": kind,
        "audience": audience.code,
        "group": group,
        "written_by": by,
        **{name: values[name] for name in WRITTEN if name != "group"},
    }
    notice, made = Notice.objects.get_or_create(uuid=token, defaults=fields)
    if not made:
        require(by, notice.audience, notice.group_id, "notices.write")
        return notice
    record(by=by, act="draft message", subject=notice, new={"kind": kind, "audience": audience.code})
    return notice


def _held(notice: Notice) -> Notice:
    # The group is read apart: PostgreSQL locks no row that may be missing.
    return Notice.objects.select_for_update().get(pk=notice.pk)


def _require_draft(held: Notice) -> None:
    if held.state != NoticeState.DRAFT:
        raise Refused(
            [
                Reason(
                    code="no-draft",
                    fact=_("This message is %(state)s.") % {"state": held.get_state_display()},
                    next_text=_("Write a new one"),
                )
            ]
        )


@transaction.atomic
def change(*, notice: Notice, by: Person, values: Mapping[str, Any], edition: int) -> Notice:
    """Change a draft. Raises DraftMoved when somebody else did meanwhile, Refused when it is no draft any more."""
    require(by, notice.audience, notice.group_id, "notices.write")
    group = values["group"]
    require(by, notice.audience, group.pk if group else None, "notices.write")
    held = _held(notice)
    _require_draft(held)
    if held.edition != edition:
        raise DraftMoved
    changed = [name for name in WRITTEN if getattr(held, name) != values[name]]
    if changed:
        for name in changed:
            setattr(held, name, values[name])
        held.edition += 1
        held.changed_at = timezone.now()
        held.save()
        record(by=by, act="change message", subject=held, new={"changed": changed})
    return held


@transaction.atomic
def drop(*, notice: Notice, by: Person) -> Notice:
    """Throw a draft away. Twice is once."""
    require(by, notice.audience, notice.group_id, "notices.write")
    held = _held(notice)
    if held.state != NoticeState.DROPPED:
        _require_draft(held)
        held.state, held.changed_at = NoticeState.DROPPED, timezone.now()
        held.save()
        record(by=by, act="drop message", subject=held)
    return held


@transaction.atomic
def send(*, notice: Notice, by: Person, seen: str) -> Notice:
    """Freeze who gets the message, and have the mails go out in the background. A second press changes nothing.

    seen: the mark of what was looked at (listing.mark).  Raises DraftMoved when text or list are others by now.
    """
    require(by, notice.audience, notice.group_id, "notices.send")
    held = _held(notice)
    if held.state == NoticeState.SENT:
        return held
    _require_draft(held)
    found = listing.lines(held)
    if seen != listing.mark(held, found):
        raise DraftMoved
    if all(line.why for line in found):
        nobody = Reason(
            code="nobody", fact=_("Nobody is left who gets this message."), next_text=_("Choose others, or drop it")
        )
        raise Refused([nobody])
    now = timezone.now()
    held.state, held.sent_by, held.sent_at, held.changed_at = NoticeState.SENT, by, now, now
    held.save()
    whom = "person_id" if held.to == To.PEOPLE else "owner_id"
    Recipient.objects.bulk_create(
        (
            Recipient(
                notice=held,
                name=line.name,
                way=line.way,
                address=line.address if not line.why else "",
                state=RecipientState.LEFT_OUT if line.why else RecipientState.WAITING,
                why=line.why,
                at=now,
                **{whom: line.pk},
            )
            for line in found
        ),
        batch_size=AT_ONCE,
    )
    counts = Counter("left out" if line.why else line.way for line in found)
    record(by=by, act="send message", subject=held, new=dict(counts))
    if counts[Way.EMAIL]:
        from sugarbush.notices import tasks

        tasks.queue(held.pk)
    return held


@transaction.atomic
def hand_over(*, notice: Notice, by: Person, recipient_ids: list[int] | None) -> int:
    """Say that these (None: all who wait for it by hand) have the message now; how many. Who is out by now is left out.

    Also those a mail did not reach, when they are named.
    """
    require(by, notice.audience, notice.group_id, "notices.send")
    rows = Recipient.objects.select_for_update().filter(notice=notice)
    by_hand = rows.filter(way=Way.HAND, state=RecipientState.WAITING)
    if recipient_ids is not None:
        by_hand = (by_hand | rows.filter(state=RecipientState.FAILED)).filter(pk__in=recipient_ids)
    asked = list(by_hand)
    out = listing.out_now(notice, [one for one in asked if one.way == Way.HAND])
    now = timezone.now()
    for pk, why in out.items():
        leave_out(next(one for one in asked if one.pk == pk), why)
    handed = [one.pk for one in asked if one.pk not in out]
    count = Recipient.objects.filter(pk__in=handed).update(state=RecipientState.HANDED, at=now, handed_by=by, why="")
    if count:
        record(by=by, act="hand message over", subject=notice, new={"count": count})
    return count


def leave_out(recipient: Recipient, why: str) -> None:
    """Take one off a message that was sent: something changed after the press."""
    recipient.state, recipient.why, recipient.at = RecipientState.LEFT_OUT, why, timezone.now()
    recipient.save(update_fields=["state", "why", "at"])
    record(by=None, act="leave out of message", subject=recipient, new={"why": why, "recipient": recipient.pk})


@transaction.atomic
def go_on(*, notice: Notice, by: Person) -> int:
    """Try once more what the mail server did not take; how many. Without a mail server they are to be handed over.

    One whose mail may have arrived is not among them: nobody gets two.
    """
    from sugarbush.notices import sending, tasks

    require(by, notice.audience, notice.group_id, "notices.send")
    _held(notice)
    sending.settle_unsure(notice.pk)
    rows = Recipient.objects.filter(notice=notice, way=Way.EMAIL)
    rows.filter(state=RecipientState.FAILED).exclude(why=sending.UNSURE).update(
        state=RecipientState.WAITING, why="", tries=0
    )
    waiting = rows.filter(state=RecipientState.WAITING)
    count = waiting.count()
    if not count:
        return 0
    if mailing.ready():
        tasks.queue(notice.pk)
    else:
        waiting.update(way=Way.HAND, address="")
    record(by=by, act="send message again", subject=notice, new={"count": count})
    return count
