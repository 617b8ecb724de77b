"""Questions about a share: asked by whoever it is of, answered by somebody else, seen by both."""

from __future__ import annotations

import uuid

from django.db import transaction
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.shares.models import RunState, Share, ShareQuery, ShareRun
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person


def may_ask(share: Share, by: Person) -> bool:
    """Whether this person may ask about this share: their own, or any for whoever works the shares out."""
    return share.person_id == by.pk or access.holds(by, "share.run")


def why_not_now(run: ShareRun) -> str:
    """Why no question can be asked now, or an empty string."""
    if run.state in {RunState.FINAL, RunState.SUPERSEDED}:
        return _("This working-out is final. Speak to the share steward: a new one can replace it.")
    if run.state != RunState.QUERIES or run.questions_until is None:
        return _("It is not open for questions.")
    if timezone.localdate() > run.questions_until:
        day = date_format(run.questions_until, "j F Y")
        return _("Questions could be asked until %(day)s. Speak to the share steward.") % {"day": day}
    return ""


@transaction.atomic
def ask(*, share: Share, by: Person, text: str, query_id: uuid.UUID | None = None) -> ShareQuery:
    """Ask about a share; it holds the working-out until it is answered. The same query_id again is one question."""
    access.require(by, "share.own", anywhere=True)
    run = ShareRun.objects.select_for_update().get(pk=share.run_id)
    query_id = query_id or uuid.uuid4()
    earlier = ShareQuery.objects.filter(pk=query_id, asked_by=by, share=share).first()
    if earlier is not None:
        return earlier
    if not may_ask(share, by):
        raise Refused([Reason(code="not-yours", fact=_("This is not your share."))])
    why = why_not_now(run)
    if why:
        raise Refused([Reason(code="closed", fact=why)])
    if not text.strip():
        raise Refused([Reason(code="text", fact=_("Write what looks wrong, in a sentence."))])
    query = ShareQuery.objects.create(id=query_id, share=share, asked_by=by, text=text.strip()[:1000])
    record(by=by, act="ask about share", subject=query)
    return query


@transaction.atomic
def answer(*, query: ShareQuery, by: Person, text: str, changed_something: bool) -> ShareQuery:
    """Answer a question, never one's own. Where something has to change, the shares have to be worked out again."""
    access.require(by, "share.run", anywhere=True)
    held = ShareQuery.objects.select_for_update(of=("self",)).select_related("share__run").get(pk=query.pk)
    if held.answered_at is not None:
        raise Refused([Reason(code="answered", fact=_("This question is answered already."))])
    if held.asked_by_id == by.pk:
        raise Refused(
            [
                Reason(
                    code="own",
                    fact=_("Somebody else has to answer your own question."),
                    next_text=_("Ask another steward or a coordinator"),
                )
            ]
        )
    if not text.strip():
        raise Refused([Reason(code="text", fact=_("Write the answer, in a sentence."))])
    held.answer, held.changed_something = text.strip()[:1000], changed_something
    held.answered_by, held.answered_at = by, timezone.now()
    held.save()
    record(by=by, act="answer about share", subject=held, new={"changed": changed_something})
    return held
