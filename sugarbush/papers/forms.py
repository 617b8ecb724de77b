"""What somebody chooses before a print."""

from __future__ import annotations

import datetime as dt
import re
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.boils.models import BoilDay
from sugarbush.gathering.models_rounds import RoundRun
from sugarbush.owners.queries import owners_for
from sugarbush.papers.documents.rounds import MOST_RUNS, open_runs, runs_for
from sugarbush.papers.models import Paper
from sugarbush.parts.forms import UnitsForm
from sugarbush.seasons.models import Season

MOST_NAMED = 500
MOST_DAYS = 40
MOST_OWNERS = 300
COMING = dt.timedelta(days=7)

# What a page says when there is nothing to choose from.
NOTHING = {
    "year": gettext_lazy("There is no season yet."),
    "runs": gettext_lazy("No run is planned in the next seven days."),
    "day": gettext_lazy("No boiling day is called yet."),
    "owners": gettext_lazy("No owner is written down yet."),
    "lot": gettext_lazy("No lot is packed yet."),
}


class NumbersField(forms.CharField):
    """Numbers or tags, parted by spaces, commas or lines; cleaned into a list without repeats."""

    widget = forms.Textarea(attrs={"rows": 3})

    def clean(self, value: Any) -> list[str]:
        text = super().clean(value) or ""
        found = list(dict.fromkeys(one.upper() for one in re.split(r"[\s,;]+", text) if one))
        if len(found) > MOST_NAMED:
            raise forms.ValidationError(_("At most %(most)d at once.") % {"most": MOST_NAMED})
        return found

    def prepare_value(self, value: Any) -> Any:
        return ", ".join(value) if isinstance(value, list) else value


class PrintForm(UnitsForm):
    """The paper, and in its children what else a kind asks for."""

    paper = forms.ChoiceField(label=gettext_lazy("Paper"), choices=Paper.choices, widget=forms.RadioSelect)

    def __init__(self, *args: Any, person: Any = None, **kwargs: Any) -> None:
        self.person = person
        super().__init__(*args, **kwargs)
        # The paper is the last thing asked: most never change it.
        self.order_fields([name for name in self.fields if name != "paper"])
        self.for_person()

    def for_person(self) -> None:
        """Narrow the choices to what this person may see."""

    @property
    def nothing(self) -> str:
        """Why nothing can be printed: a choice that is needed has nothing in it. Empty when there is something."""
        for name, sentence in NOTHING.items():
            field = self.fields.get(name)
            if isinstance(field, forms.ChoiceField) and field.required and not field.choices:
                return str(sentence)
        return ""

    def choices(self) -> dict[str, Any]:
        """What was chosen, as plain values that a job can keep."""
        return {name: value for name, value in self.cleaned_data.items() if name != "paper"}


class RunsForm(PrintForm):
    """Which runs get a sheet."""

    runs = forms.MultipleChoiceField(label=gettext_lazy("Runs"), widget=forms.CheckboxSelectMultiple)

    def for_person(self) -> None:
        today = timezone.localdate()
        named = self.data.getlist("runs") if hasattr(self.data, "getlist") else []
        asked = str(self.initial.get("runs", ""))
        found = {run.pk: run for run in open_runs(self.person, today, today + COMING)[:MOST_RUNS]}
        keys = [int(key) for key in (*named, *asked.split(",")) if key.isdecimal() and len(key) < 12]
        found |= {run.pk: run for run in runs_for(self.person).filter(pk__in=keys[:MOST_RUNS])}
        field = self.fields["runs"]
        if isinstance(field, forms.MultipleChoiceField):
            field.choices = [(str(run.pk), _run_words(run)) for run in found.values()]
        self.initial["runs"] = [str(key) for key in keys] or [str(key) for key in found]


def _run_words(run: RoundRun) -> str:
    return f"{date_format(run.date, 'l j F')}, {run.round.name} ({run.round.group.name})"


class PermissionForm(PrintForm):
    """Which slips, and whether each owner gets a new private link with it."""

    numbers = NumbersField(
        label=gettext_lazy("Slips"),
        help_text=gettext_lazy("Their numbers, parted by spaces or commas. Each comes on a page of its own."),
    )
    links = forms.BooleanField(
        label=gettext_lazy("Make a new private link for each owner and print it as the square"),
        help_text=gettext_lazy("The link each of them has now ends with it. Else the square explains the slip."),
        required=False,
    )


class PermitForm(PrintForm):
    numbers = NumbersField(
        label=gettext_lazy("Permissions"), help_text=gettext_lazy("Their numbers, parted by spaces.")
    )


class BoilDayForm(PrintForm):
    """Which boiling day."""

    day = forms.ChoiceField(label=gettext_lazy("Boiling day"))

    def for_person(self) -> None:
        field = self.fields["day"]
        if isinstance(field, forms.ChoiceField):
            days = BoilDay.objects.order_by("-day")[:MOST_DAYS]
            field.choices = [(str(day.pk), f"{date_format(day.day, 'l j F Y')}, {day.site}") for day in days]


class NoticeForm(BoilDayForm):
    open_day = forms.BooleanField(label=gettext_lazy("Everybody may come and look"), required=False)


class ScoutForm(PrintForm):
    street = forms.CharField(label=gettext_lazy("Street"), max_length=120)
    tappable = forms.BooleanField(label=gettext_lazy("Only kinds that are tapped"), required=False, initial=True)


class SeasonMixin(PrintForm):
    """Of which season."""

    year = forms.ChoiceField(label=gettext_lazy("Season"))

    def for_person(self) -> None:
        super().for_person()
        field = self.fields["year"]
        if isinstance(field, forms.ChoiceField):
            years = Season.objects.order_by("-year").values_list("year", flat=True)
            field.choices = [(str(year), str(year)) for year in years]
            current = Season.current()
            self.initial.setdefault("year", str(current.year) if current else "")


class ReturnForm(SeasonMixin):
    numbers = NumbersField(label=gettext_lazy("Permits"), help_text=gettext_lazy("Their numbers, parted by spaces."))


class ThanksForm(SeasonMixin):
    owners = forms.MultipleChoiceField(label=gettext_lazy("Owners"), widget=forms.CheckboxSelectMultiple)
    address = forms.BooleanField(
        label=gettext_lazy("With their postal address"),
        help_text=gettext_lazy("Each look at an address is written down with your name."),
        required=False,
    )

    def for_person(self) -> None:
        super().for_person()
        found = owners_for(self.person).order_by("name", "pk")[:MOST_OWNERS]
        field = self.fields["owners"]
        if isinstance(field, forms.MultipleChoiceField):
            field.choices = [(str(owner.pk), owner.name) for owner in found]
        asked = str(self.initial.get("owners", ""))
        self.initial["owners"] = [key for key in asked.split(",") if key.isdecimal()]


class SeasonForm(SeasonMixin):
    """The season alone."""
