"""What stands against a person's name going: large differences that wait for their word."""

from __future__ import annotations

from django.urls import reverse
from django.utils.translation import gettext as _

from sugarbush.boils.approvals import answers, named
from sugarbush.parts.reasons import Reason
from sugarbush.volunteers.models import Person


def approvals_waiting(person: Person) -> list[Reason]:
    """One reason when an act names the person as the one who has seen it, and they have not confirmed it."""
    acts = list(named().filter(approver=person))
    said = answers(acts)
    waiting = [act for act in acts if (answer := said.get(str(act.pk))) is None or not answer.confirmed]
    if not waiting:
        return []
    return [
        Reason(
            code="approvals-open",
            fact=_("%(count)d large differences name %(name)s and are not confirmed.")
            % {"count": len(waiting), "name": person},
            next_text=_("See which"),
            next_url=reverse("approvals"),
        )
    ]
