"""Whom a message about rounds goes to."""

from __future__ import annotations

from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from sugarbush.gathering.models_rounds import Answer, RunPerson, RunState
from sugarbush.notices.audiences import Audience, Narrowed
from sugarbush.notices.models import To
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person


def people_on_runs(narrowed: Narrowed) -> QuerySet[Person]:
    """People on the day's runs, those who stand by too, unless they said that they cannot."""
    on = RunPerson.objects.filter(run__date=narrowed.on or access.today())
    on = on.exclude(run__state=RunState.CALLED_OFF).exclude(answer=Answer.NO)
    if narrowed.group is not None:
        on = on.filter(run__round__group=narrowed.group)
    return Person.objects.filter(pk__in=on.values("person"))


AUDIENCES = (
    Audience(
        code="runs",
        label=_("people on the rounds of one day"),
        to=To.PEOPLE,
        needs="people.see",
        find=people_on_runs,
        asks=("on",),
    ),
)
