"""What people write about rounds: a new one, a split, runs for a span of days, how a run ended."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms
from django.db.models import Q, QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.gathering.access import MEMBERS
from sugarbush.gathering.models_rounds import Part, Round
from sugarbush.gathering.round_acts import MOST_ROUNDS
from sugarbush.gathering.rounds import Stop
from sugarbush.parts.forms import DayInput, UnitsForm
from sugarbush.trees.models import Tree
from sugarbush.volunteers.models import Group, Membership, Person

USUAL_START = dt.time(16)
EVERY = (
    (1, gettext_lazy("every day")),
    (2, gettext_lazy("every second day")),
    (3, gettext_lazy("every third day")),
    (7, gettext_lazy("once a week")),
)
WHY_NOT = (
    ("", gettext_lazy("choose")),
    ("can’t get in", gettext_lazy("can’t get in")),
    ("not safe", gettext_lazy("not safe")),
    ("frozen", gettext_lazy("frozen")),
    ("no time left", gettext_lazy("no time left")),
    ("no room to carry more", gettext_lazy("no room to carry more")),
    ("another reason, in the note", gettext_lazy("another reason, in the note")),
)


class ClockInput(forms.TimeInput):
    """A time of the day, by the browser's own clock where it has one."""

    input_type = "time"

    def __init__(self) -> None:
        super().__init__(format="%H:%M")


def clock_field() -> forms.TimeField:
    return forms.TimeField(
        label=gettext_lazy("Latest start"),
        widget=ClockInput(),
        initial=USUAL_START,
        help_text=gettext_lazy("After that time a round nobody has started is late."),
    )


def members_of(group: Group) -> QuerySet[Person]:
    """People who may walk a round of the group today."""
    live = Membership.objects.live(timezone.localdate()).filter(role__in=MEMBERS)
    live = live.filter(Q(group=group) | Q(group=None))
    return Person.objects.filter(pk__in=live.values("person"), is_active=True)


class RoundForm(UnitsForm):
    """A name and a latest start."""

    name = forms.CharField(
        label=gettext_lazy("Name"), max_length=60, help_text=gettext_lazy("What people call it: “River side”.")
    )
    latest_start = clock_field()


class NewRoundForm(RoundForm):
    """A new round with its trees."""

    trees = forms.ModelMultipleChoiceField(queryset=Tree.objects.none(), required=False)
    start = forms.ModelChoiceField(
        label=gettext_lazy("Begins at"),
        queryset=Tree.objects.none(),
        required=False,
        empty_label=gettext_lazy("the first by street"),
        to_field_name="code",
    )

    def __init__(self, *args: Any, trees: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("trees", "start"):
            self.fields[name].queryset = trees  # type: ignore[attr-defined]
        self.fields["start"].label_from_instance = lambda tree: f"{tree.code}, {tree.place}"  # type: ignore[attr-defined]

    def clean_trees(self) -> list[Tree]:
        chosen = list(self.cleaned_data["trees"])
        if not chosen:
            raise forms.ValidationError(_("No tree was chosen. Tick at least one."))
        return chosen


class SplitForm(UnitsForm):
    """Into how many rounds."""

    rounds = forms.IntegerField(label=gettext_lazy("How many rounds"), min_value=1, max_value=MOST_ROUNDS)
    latest_start = clock_field()
    anew = forms.BooleanField(
        label=gettext_lazy("End the rounds there are, and split all trees"),
        required=False,
        help_text=gettext_lazy("What is planned on them is called off; what was walked stays in the books."),
    )


class PeopleForm(UnitsForm):
    """Who walks, and who stands by."""

    walks = forms.ModelMultipleChoiceField(
        label=gettext_lazy("Who walks"),
        queryset=Person.objects.none(),
        widget=forms.CheckboxSelectMultiple,
        required=False,
    )
    standby = forms.ModelMultipleChoiceField(
        label=gettext_lazy("Who stands by"),
        queryset=Person.objects.none(),
        widget=forms.CheckboxSelectMultiple,
        required=False,
        help_text=gettext_lazy("Called when a run is late or somebody can’t come; the first of the list first."),
    )

    def __init__(self, *args: Any, found: Round, **kwargs: Any) -> None:
        usual = list(found.usual.all())
        kwargs["initial"] = {
            "walks": [one.person_id for one in usual if one.part == Part.WALKS],
            "standby": [one.person_id for one in usual if one.part == Part.STANDBY],
            **kwargs.get("initial", {}),
        }
        super().__init__(*args, **kwargs)
        people = members_of(found.group)
        for name in ("walks", "standby"):
            self.fields[name].queryset = people  # type: ignore[attr-defined]


class RunsForm(PeopleForm):
    """Runs for a span of days."""

    first = forms.DateField(label=gettext_lazy("From"), widget=DayInput())
    last = forms.DateField(label=gettext_lazy("To"), widget=DayInput())
    every = forms.TypedChoiceField(label=gettext_lazy("How often"), choices=EVERY, coerce=int, initial=1)
    usual = forms.BooleanField(
        label=gettext_lazy("These are its usual people from now on"), required=False, initial=True
    )
    field_order = ("first", "last", "every", "walks", "standby", "usual")


class FinishForm(UnitsForm):
    """Why nobody came to the trees that are left."""

    why_all = forms.ChoiceField(
        label=gettext_lazy("For all of them"),
        choices=WHY_NOT,
        required=False,
        help_text=gettext_lazy("Or say it tree by tree below."),
    )
    note = forms.CharField(label=gettext_lazy("Note"), max_length=300, required=False)

    def __init__(self, *args: Any, left: list[Stop], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.left = left
        for stop in left:
            self.fields[f"why_{stop.pk}"] = forms.ChoiceField(
                label=f"{stop.code}, {stop.address}" if stop.address else stop.code,
                choices=WHY_NOT,
                required=False,
            )
        self.order_fields(["why_all", *(f"why_{stop.pk}" for stop in left), "note"])

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        for stop in self.left:
            if not said.get("why_all") and not said.get(f"why_{stop.pk}"):
                self.add_error(f"why_{stop.pk}", _("Say why nobody came to this tree."))
        return said

    @property
    def left_out(self) -> dict[str, str]:
        """The reason of each tree that is left: its own, else the one for all."""
        said = self.cleaned_data
        return {stop.code: said[f"why_{stop.pk}"] or said["why_all"] for stop in self.left}
