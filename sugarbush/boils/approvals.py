"""A second person's approval, said by that person.

Who explains a large difference names the coordinator who has seen it; the delivery is then accepted, and the named one
is asked on a page of their own to confirm it or to say that it is not so. Both answers stay in the history for good.
A season does not close while an approval is unanswered or was not given.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.db.models import F, QuerySet
from django.utils.translation import gettext as _

from sugarbush.audit.models import AuditEvent, record
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.sap.models import Act
from sugarbush.seasons.models import Season
from sugarbush.volunteers.models import Person

CONFIRMED, CONTESTED = "confirm approval", "contest approval"
_KIND = "sap.act"


@dataclass(frozen=True, kw_only=True)
class Answer:
    """What the named person said last."""

    confirmed: bool
    words: str


def named(season: Season | None = None) -> QuerySet[Act]:
    """Acts that name somebody else than their author as the one who approved."""
    rows = Act.objects.exclude(approver=None).exclude(approver=F("author"))
    return rows.filter(season=season) if season else rows


def answers(acts: Sequence[Act]) -> dict[str, Answer]:
    """What was said about these acts, by the act's id as text; one query."""
    events = AuditEvent.objects.filter(
        subject_kind=_KIND, subject_id__in=[str(act.pk) for act in acts], act__in=(CONFIRMED, CONTESTED)
    ).order_by("at", "pk")
    return {event.subject_id: Answer(confirmed=event.act == CONFIRMED, words=event.reason) for event in events}


def to_answer(person: Person, season: Season) -> list[Act]:
    """Acts that name this person and wait for their word."""
    acts = list(named(season).filter(approver=person).select_related("author", "person", "season").order_by("pk"))
    said = answers(acts)
    return sorted((act for act in acts if str(act.pk) not in said), key=lambda act: act.happened_at)


def open_or_contested(season: Season) -> list[tuple[Act, Answer | None]]:
    """Every approval of the season that is not confirmed."""
    acts = list(named(season).select_related("author", "approver", "person").order_by("happened_at", "pk"))
    said = answers(acts)
    return [(act, answer) for act in acts if (answer := said.get(str(act.pk))) is None or not answer.confirmed]


@transaction.atomic
def answer(*, act: Act, by: Person, confirmed: bool, words: str = "") -> None:
    """The named person's own word; only theirs. Contesting needs words. They may confirm later what they contested."""
    locked = Act.objects.select_for_update().get(pk=act.pk)
    if locked.approver_id != by.pk or locked.author_id == by.pk:
        raise PermissionDenied(_("Only the person who was named can say this."))
    if not confirmed and not words.strip():
        raise Refused([Reason(code="words", fact=_("Write what is not so, in a sentence."))])
    said = answers([locked]).get(str(locked.pk))
    if said is not None and said.confirmed:
        return
    if said is not None and not confirmed and said.words == words.strip():
        return
    record(by=by, act=CONFIRMED if confirmed else CONTESTED, subject=locked, reason=words.strip())
