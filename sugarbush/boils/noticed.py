"""Whom a message about a boiling day goes to."""

from __future__ import annotations

from django.db.models import Q, QuerySet
from django.utils.translation import gettext_lazy as _

from sugarbush.boils.models import BoilDay, Coming, Shift
from sugarbush.boils.models_pan import Answer
from sugarbush.notices.audiences import Audience, Narrowed
from sugarbush.notices.models import To
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person


def crew_of_day(narrowed: Narrowed) -> QuerySet[Person]:
    """Those on the shifts of the day's boiling, its lead and crew, and who said that they come. Called off days too."""
    days = BoilDay.objects.filter(day=narrowed.on or access.today()).values("pk")
    return Person.objects.filter(
        Q(pk__in=Shift.people.through.objects.filter(shift__boil_day__in=days).values("person"))
        | Q(pk__in=BoilDay.crew.through.objects.filter(boilday__in=days).values("person"))
        | Q(pk__in=Coming.objects.filter(boil_day__in=days, answer=Answer.YES).values("person"))
        | Q(pk__in=BoilDay.objects.filter(pk__in=days).values("lead"))
    )


AUDIENCES = (
    Audience(
        code="boil-crew",
        label=_("people at the pan of one day"),
        to=To.PEOPLE,
        needs="boil.plan",
        see="delivery.see",
        find=crew_of_day,
        asks=("on",),
        whole=True,
    ),
)
