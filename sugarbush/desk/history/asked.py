"""Which acts somebody wants to see, as the page's address says it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.audit.models import AuditEvent
from sugarbush.audit.words import ACTS
from sugarbush.parts.forms import DayInput, UnitsForm
from sugarbush.volunteers.models import Person

MANY = 200  # more people than this by one piece of a name are not meant
ALL_OF = "all of: "


def _choices() -> list[tuple[Any, Any]]:
    """Every act under its heading, and before each heading's acts the choice of all of them."""
    rows: list[tuple[Any, Any]] = [("", gettext_lazy("anything"))]
    for key, (head, acts) in ACTS.items():
        everything = (ALL_OF + key, _("All: %(kind)s") % {"kind": head})
        rows.append((head, [everything, *acts.items()]))
    return rows


class HistoryForm(UnitsForm):
    """The filters. What cannot be meant is said beside its field, and then nothing is found."""

    who = forms.CharField(label=gettext_lazy("Who did it"), required=False, max_length=80)
    about = forms.CharField(label=gettext_lazy("About whom"), required=False, max_length=80)
    act = forms.ChoiceField(label=gettext_lazy("What was done"), required=False, choices=_choices)
    first = forms.DateField(label=gettext_lazy("From"), required=False, widget=DayInput)
    last = forms.DateField(label=gettext_lazy("To"), required=False, widget=DayInput)
    kind = forms.CharField(required=False, max_length=60, widget=forms.HiddenInput)
    subject = forms.CharField(required=False, max_length=60, widget=forms.HiddenInput)
    person = forms.IntegerField(required=False, min_value=1, max_value=2**62, widget=forms.HiddenInput)

    def clean_who(self) -> str:
        return self._named("who")

    def clean_about(self) -> str:
        return self._named("about")

    def _named(self, field: str) -> str:
        name = str(self.cleaned_data[field]).strip()
        if name and not Person.objects.filter(display_name__icontains=name).exists():
            raise forms.ValidationError(
                _("Nobody is called “%(name)s”. Write a part of the name.") % {"name": name}, code="nobody"
            )
        return name

    @property
    def is_narrowed(self) -> bool:
        return any(self.data.get(name) for name in self.fields)

    def rows(self) -> QuerySet[AuditEvent]:
        """The acts, the newest first."""
        rows = AuditEvent.objects.all()
        if not self.is_valid():
            return rows.none()
        asked = self.cleaned_data
        if asked["who"]:
            rows = rows.filter(by__in=_people(asked["who"]))
        if asked["about"]:
            rows = rows.filter(about__in=_people(asked["about"]))
        if asked["person"]:
            rows = rows.filter(about=asked["person"])
        if asked["act"].startswith(ALL_OF):
            rows = rows.filter(act__in=list(ACTS[asked["act"].removeprefix(ALL_OF)][1]))
        elif asked["act"]:
            rows = rows.filter(act=asked["act"])
        if asked["kind"] and asked["subject"]:
            rows = rows.filter(subject_kind=asked["kind"], subject_id=asked["subject"])
        zone = timezone.get_current_timezone()
        if asked["first"]:
            rows = rows.filter(at__gte=dt.datetime.combine(asked["first"], dt.time(), zone))
        if asked["last"] and asked["last"] < dt.date(9000, 1, 1):
            rows = rows.filter(at__lt=dt.datetime.combine(asked["last"] + dt.timedelta(days=1), dt.time(), zone))
        return rows


def _people(name: str) -> Iterable[int]:
    found = Person.objects.filter(display_name__icontains=name).order_by("pk")
    return list(found.values_list("pk", flat=True)[:MANY])
