"""What is typed about people, their roles and what they have shown."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms
from django.conf import settings
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.parts.forms import DayInput, QuantityField, UnitsForm, UnitsModelForm
from sugarbush.volunteers import access, people
from sugarbush.volunteers.changing import EditionMixin
from sugarbush.volunteers.models import CredentialKind, Group, Person, Role

MOST_CARRIED_G = 50_000
GROUP_ROLES_NEED_ONE = (Role.LEAD,)


def _carry_field() -> QuantityField:
    return QuantityField(
        kind="mass",
        label=gettext_lazy("Most to carry"),
        help_text=gettext_lazy("A full 20 L (5 gal) pail weighs about 19 kg (42 lb). Rounds are cut to fit;"),
        smallest=0,
        largest=MOST_CARRIED_G,
        initial=20_000,
    )


class EmailMixin(forms.BaseModelForm):  # type: ignore[type-arg]  # the model comes with Meta
    """An e-mail address is optional, written small, and belongs to one person."""

    def clean_email(self) -> str | None:
        email = str(self.cleaned_data.get("email") or "").strip().lower()
        if not email:
            return None
        if Person.objects.filter(email__iexact=email).exclude(pk=self.instance.pk).exists():
            raise ValidationError(_("Another person has this e-mail address. Leave it empty, or ask a coordinator."))
        return email


class RoleFields(forms.Form):
    """A role and where it is held. Offers only what the giver may give."""

    role = forms.ChoiceField(label=gettext_lazy("Role"))
    group = forms.ModelChoiceField(
        Group.objects.none(), label=gettext_lazy("Group"), required=False, empty_label=gettext_lazy("whole programme")
    )

    def __init__(self, *args: Any, giver: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        everything = access.scope(giver, "people.change").everything
        roles = [(one.value, one.label) for one in (Role if everything else people.LEAD_GIVES)]
        self.fields["role"].choices = roles  # type: ignore[attr-defined]  # a ChoiceField
        self.fields["role"].initial = Role.VOLUNTEER.value
        groups = self.fields["group"]
        groups.queryset = people.groups_within(giver)  # type: ignore[attr-defined]  # a ModelChoiceField
        if not everything:
            groups.required, groups.empty_label = True, None  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if given.get("role") in GROUP_ROLES_NEED_ONE and not given.get("group") and "group" not in self.errors:
            self.add_error("group", _("A group lead leads one group. Choose which."))
        return given


class PersonNewForm(RoleFields, EmailMixin, UnitsModelForm):
    """Somebody joins."""

    carry_limit_g = _carry_field()

    class Meta:
        model = Person
        fields = ["display_name", "email", "units", "age_band", "carry_limit_g"]
        widgets = {"units": forms.RadioSelect, "age_band": forms.RadioSelect}

    field_order = ["display_name", "role", "group", "email", "age_band", "units", "carry_limit_g"]


class PersonForm(EditionMixin, EmailMixin, UnitsModelForm):
    """A person, as their lead or a coordinator keeps them."""

    carry_limit_g = _carry_field()

    class Meta:
        model = Person
        fields = ["display_name", "email", "units", "age_band", "carry_limit_g"]
        widgets = {"units": forms.RadioSelect, "age_band": forms.RadioSelect}


class MeForm(EditionMixin, UnitsModelForm):
    """What everybody sets for themselves."""

    language = forms.ChoiceField(label=gettext_lazy("Language"), choices=settings.LANGUAGES)
    carry_limit_g = _carry_field()

    class Meta:
        model = Person
        fields = ["display_name", "units", "language", "carry_limit_g"]
        widgets = {"units": forms.RadioSelect}

    def clean_display_name(self) -> str:
        """Nobody takes the name of somebody they work with: a list of names would lead to the wrong one."""
        name = str(self.cleaned_data["display_name"])
        groups = [group for _role, group in access.roles_of(self.instance) if group is not None]
        changed = "display_name" in self.changed_data
        if changed and people.is_named(name, groups=groups, but=self.instance.pk):
            raise ValidationError(_("Somebody else here has this name. Add a second name or an initial."))
        return name


class RoleForm(RoleFields, UnitsForm):
    """One more role for a person."""

    date_from = forms.DateField(label=gettext_lazy("From"), widget=DayInput)
    date_to = forms.DateField(
        label=gettext_lazy("Last day"), widget=DayInput, required=False, help_text=gettext_lazy("empty: until ended")
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["date_from"].initial = access.today

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        _in_order(self, given, "date_from", "date_to")
        return given


class EndForm(UnitsForm):
    """The last day of a role or a credential."""

    last_day = forms.DateField(label=gettext_lazy("Last day"), widget=DayInput)
    reason = forms.CharField(label=gettext_lazy("Why"), required=False, max_length=200)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["last_day"].initial = access.today


class StopForm(UnitsForm):
    """Why a person leaves."""

    reason = forms.CharField(label=gettext_lazy("Why"), max_length=200)


class ForgetForm(UnitsForm):
    """That a person’s name goes for good, and why."""

    reason = forms.CharField(
        label=gettext_lazy("Why"),
        max_length=200,
        help_text=gettext_lazy("It stays in the history: write no name."),
    )
    sure = forms.BooleanField(
        label=gettext_lazy("Yes: the name goes for good, nobody can bring it back"),
        error_messages={"required": gettext_lazy("Tick this if it is meant. Nothing has been changed.")},
    )


class CredentialForm(UnitsForm):
    """Something a person has shown to the one who writes it down."""

    kind = forms.ChoiceField(label=gettext_lazy("What"), choices=CredentialKind.choices)
    valid_from = forms.DateField(label=gettext_lazy("Counts from"), widget=DayInput)
    valid_to = forms.DateField(
        label=gettext_lazy("Last day"), widget=DayInput, required=False, help_text=gettext_lazy("empty: no end")
    )
    version = forms.CharField(
        label=gettext_lazy("Version"),
        required=False,
        max_length=40,
        help_text=gettext_lazy("of the paper signed or the course"),
    )
    note = forms.CharField(label=gettext_lazy("Note"), required=False, max_length=200)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["valid_from"].initial = access.today

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        _in_order(self, given, "valid_from", "valid_to")
        return given


class GroupForm(EditionMixin, UnitsModelForm):
    """A neighbourhood."""

    class Meta:
        model = Group
        fields = ["name"]
        error_messages = {"name": {"unique": gettext_lazy("There is a group of this name. Choose another name.")}}


class SearchForm(forms.Form):
    """Narrows the list of people. Whatever cannot be read narrows nothing."""

    q = forms.CharField(label=gettext_lazy("Name"), required=False, max_length=80)
    group = forms.ModelChoiceField(
        Group.objects.all(), label=gettext_lazy("Group"), required=False, empty_label=gettext_lazy("all groups")
    )


def _in_order(form: forms.BaseForm, given: dict[str, Any], first: str, last: str) -> None:
    start, end = given.get(first), given.get(last)
    if isinstance(start, dt.date) and isinstance(end, dt.date) and end < start:
        form.add_error(last, _("The last day comes before the first. Give a later one."))
