"""May these people be put on one run or one shift together? One home for the rule, asked by every act and every page.

Out at that moment: whoever has left, holds no role on the day, or lacks a yes to the house rules that is needed.
Somebody under 18 also needs a guardian's consent that somebody asked for, and on the same run or shift two adults who
are screened for work with minors and are not out themselves. Nothing of this is stored: it is worked out when asked.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence

from django.urls import reverse
from django.utils.translation import gettext as _

from sugarbush.parts.reasons import Reason
from sugarbush.volunteers import waivers
from sugarbush.volunteers.models import Credential, CredentialKind, Membership, Person

LEAST_ADULTS = 2
KINDS = (CredentialKind.WAIVER, CredentialKind.GUARDIAN, CredentialKind.SCREENING)


class Papers:
    """What some people hold, read once in three queries, and asked for any day and any of them together."""

    def __init__(self, people: Iterable[Person]) -> None:
        ids = {person.pk for person in people}
        self.asked = waivers.asked() if ids else None
        self.held: dict[tuple[int, str], list[Credential]] = defaultdict(list)
        self.roles: dict[int, list[tuple[dt.date, dt.date | None]]] = defaultdict(list)
        if not ids:
            return
        asked_for = Credential.objects.filter(person__in=ids, kind__in=KINDS)
        for row in asked_for.exclude(kind=CredentialKind.GUARDIAN, by_self=True):
            self.held[row.person_id, row.kind].append(row)
        spans = Membership.objects.filter(person__in=ids).values_list("person_id", "date_from", "date_to")
        for person_id, first, last in spans:
            self.roles[person_id].append((first, last))

    def live(self, person: Person, kind: str, on: dt.date) -> list[Credential]:
        """The rows of a kind that count on the day."""
        rows = self.held.get((person.pk, kind), ())
        return [row for row in rows if row.valid_from <= on and (row.valid_to is None or row.valid_to >= on)]

    def alone(self, person: Person, on: dt.date) -> list[Reason]:
        """What keeps this one person off on the day, whoever else is there."""
        who = {"who": person}
        roles = self.roles.get(person.pk, ())
        if not person.is_active or not any(first <= on and (last is None or last >= on) for first, last in roles):
            fact = _("%(who)s is not in the programme on that day.") % who
            return [Reason(code="left", fact=fact, next_text=_("Choose somebody else"))]
        reasons = []
        if self.asked and self.asked.needed:
            yes = max((waivers.number_of(row.version) for row in self.live(person, "waiver", on)), default=0)
            if yes < self.asked.needed:
                fact = _("%(who)s has not said yes to the house rules.") % who
                step = _("They find the house rules on their own page")
                reasons.append(Reason(code="waiver", fact=fact, next_text=step))
        if not person.is_adult and not self.live(person, CredentialKind.GUARDIAN, on):
            fact = _("%(who)s is under 18 and has no guardian’s consent for that day.") % who
            url = reverse("person", args=[person.pk])
            step = _("Ask a coordinator to ring the guardian and record it")
            reasons.append(Reason(code="consent", fact=fact, next_text=step, next_url=url))
        return reasons

    def together(
        self, people: Collection[Person], on: dt.date, there: Collection[Person] | None = None
    ) -> dict[int, list[Reason]]:
        """Who of these is out, and why, by the person's key; empty where everybody may be there.

        there: those who are really there and may stand beside a minor; the same people where nobody only stands by.
        """
        out = {person.pk: reasons for person in people if (reasons := self.alone(person, on))}
        beside = [one for one in (people if there is None else there) if one.is_adult and not self.alone(one, on)]
        screened = [one for one in beside if self.live(one, CredentialKind.SCREENING, on)]
        for person in people:
            if person.is_adult or len({one.pk for one in screened}) >= LEAST_ADULTS:
                continue
            out.setdefault(person.pk, []).append(_adults(person, enough=len({o.pk for o in beside}) >= LEAST_ADULTS))
        return out


def _adults(person: Person, *, enough: bool) -> Reason:
    if enough:
        fact = _("%(who)s is under 18: two adults beside them need a screening for work with minors.")
        return Reason(code="screening", fact=fact % {"who": person}, next_text=_("Choose adults who have one"))
    fact = _("%(who)s is under 18: two screened adults have to be there the whole time.") % {"who": person}
    return Reason(code="adults", fact=fact, next_text=_("Put two adults on it first, or take the young person off"))


def why_not(
    people: Sequence[Person],
    on: dt.date,
    *,
    new: Collection[int] | None = None,
    there: Collection[Person] | None = None,
) -> list[Reason]:
    """Every reason against these people on one run or shift on that day.

    new: whom the act puts on; of the others only those under 18 stand in its way. None: all are new.
    """
    out = Papers(people if there is None else [*people, *there]).together(people, on, there)
    asked = [one for one in people if new is None or one.pk in new or not one.is_adult]
    reasons = [reason for one in asked for reason in out.get(one.pk, ())]
    return list({(reason.code, reason.fact): reason for reason in reasons}.values())
