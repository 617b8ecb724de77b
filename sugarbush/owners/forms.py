"""What is typed about owners, how lists are narrowed, and the reason for an act."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.owners.actions import MOST_REASON
from sugarbush.owners.links import LONGEST
from sugarbush.owners.models import Owner, OwnerContact, OwnerKind, PermissionState
from sugarbush.parts.forms import DayInput, UnitsForm, UnitsModelForm
from sugarbush.volunteers import access
from sugarbush.volunteers.changing import EditionMixin
from sugarbush.volunteers.models import Group, Person
from sugarbush.volunteers.people import groups_within

ENDS = (("60", gettext_lazy("60 days")), ("30", gettext_lazy("30 days")), ("7", gettext_lazy("7 days")))


class OwnerFields(forms.BaseModelForm):  # type: ignore[type-arg]  # the model comes with Meta
    """A lead keeps owners in the lead's own groups; a coordinator also where no group is named."""

    def __init__(self, *args: Any, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.person = person
        everything = access.scope(person, "owners.change").everything
        groups = self.fields["group"]
        assert isinstance(groups, forms.ModelChoiceField)  # noqa: S101  # tells the type checker what Meta makes of it
        within = groups_within(person, "owners.change")
        kept = self.instance.group_id
        # An owner seen through a tree may be in the care of another group, and stays there.
        groups.queryset = Group.objects.filter(pk__in=[*within.values_list("pk", flat=True), kept or 0])
        groups.empty_label = str(gettext_lazy("whole programme")) if everything or kept is None else None
        groups.required = not everything and not (self.instance.pk and kept is None)
        if groups.required and len(within) == 1:
            groups.initial = within[0]


class OwnerForm(EditionMixin, OwnerFields, UnitsModelForm):
    """An owner's name and kind."""

    class Meta:
        model = Owner
        fields = ["name", "kind", "group", "note"]
        widgets = {"kind": forms.RadioSelect, "note": forms.Textarea(attrs={"rows": 3})}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["note"].help_text = gettext_lazy("Not how to reach them: that has its own page.")

    def reopen_with(self) -> dict[str, Any]:
        return {"units": self.units, "person": self.person}


class ContactForm(EditionMixin, UnitsModelForm):
    """How to reach an owner."""

    class Meta:
        model = OwnerContact
        fields = ["phone", "email", "address", "note"]
        widgets = {"note": forms.Textarea(attrs={"rows": 3})}


class LinkForm(UnitsForm):
    """Until when an owner's private link opens."""

    good_to = forms.DateField(
        label=gettext_lazy("It opens until"),
        widget=DayInput,
        help_text=gettext_lazy("Usually 60 days after the taps are out."),
    )

    def clean_good_to(self) -> dt.date:
        day: dt.date = self.cleaned_data["good_to"]
        today = access.today()
        if day < today:
            raise ValidationError(_("That day has passed. Choose a later one."))
        if day > today + LONGEST:
            raise ValidationError(_("At most %(n)d days from today.") % {"n": LONGEST.days})
        return day


class OwnerNewForm(OwnerFields, UnitsModelForm):
    """An owner with how to reach them, on one page."""

    phone = forms.CharField(label=gettext_lazy("Telephone"), max_length=40, required=False)
    email = forms.EmailField(label=gettext_lazy("E-mail"), required=False)
    address = forms.CharField(label=gettext_lazy("Address"), max_length=200, required=False)

    class Meta:
        model = Owner
        fields = ["name", "kind", "group", "note"]
        widgets = {"kind": forms.RadioSelect, "note": forms.Textarea(attrs={"rows": 3})}

    field_order = ["name", "kind", "group", "phone", "email", "address", "note"]

    @property
    def reach(self) -> dict[str, str]:
        return {name: self.cleaned_data[name] for name in ("phone", "email", "address")}


def _search_field(label: Any) -> forms.CharField:
    widget = forms.TextInput(attrs={"type": "search", "autocomplete": "off"})
    return forms.CharField(label=label, required=False, max_length=120, widget=widget)


class NarrowForm(forms.Form):
    """How a list is narrowed. What cannot be meant narrows nothing."""

    act = ""

    q = _search_field(gettext_lazy("Name, tag or street"))
    group = forms.ModelChoiceField(
        Group.objects.none(), label=gettext_lazy("Group"), required=False, empty_label=gettext_lazy("all groups")
    )

    def __init__(self, *args: Any, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        groups = self.fields["group"]
        assert isinstance(groups, forms.ModelChoiceField)  # noqa: S101  # it stands above
        groups.queryset = groups_within(person, self.act)
        self.is_valid()

    def chosen(self, name: str) -> Any:
        """What was asked for under this name, or None."""
        return self.cleaned_data.get(name) or None

    @property
    def is_narrowed(self) -> bool:
        return any(self.cleaned_data.values())


class OwnerListForm(NarrowForm):
    """How the list of owners is narrowed."""

    act = "owners.see"

    kind = forms.ChoiceField(
        label=gettext_lazy("Kind"), required=False, choices=[("", gettext_lazy("any kind")), *OwnerKind.choices]
    )


class PermissionListForm(NarrowForm):
    """How the list of permissions is narrowed."""

    act = "permission.see"

    q = _search_field(gettext_lazy("Number, owner, tag or street"))
    state = forms.MultipleChoiceField(
        label=gettext_lazy("State"),
        required=False,
        choices=PermissionState.choices,
        widget=forms.CheckboxSelectMultiple,
    )
    ends = forms.ChoiceField(
        label=gettext_lazy("Ends within"), required=False, choices=[("", gettext_lazy("any day")), *ENDS]
    )

    @property
    def filters(self) -> dict[str, Any]:
        """What permissions_found takes."""
        group = self.chosen("group")
        return {
            "q": self.cleaned_data.get("q", ""),
            "states": self.cleaned_data.get("state", []),
            "ends_within_days": int(self.cleaned_data["ends"]) if self.chosen("ends") else None,
            "group": group.pk if group else None,
        }


class ReasonForm(UnitsForm):
    """Why, in a sentence."""

    reason = forms.CharField(
        label=gettext_lazy("Why"), max_length=MOST_REASON, widget=forms.Textarea(attrs={"rows": 2})
    )
