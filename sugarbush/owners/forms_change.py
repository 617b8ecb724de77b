"""A slip that is there: what it says changed, trees added, a scan added."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.owners.actions import MOST_REASON
from sugarbush.owners.forms_slip import ANSWERS, TERMS, ScanForm, TermsForm, split_tags
from sugarbush.owners.models import Capacity, Owner, PermissionState
from sugarbush.owners.queries import owners_for
from sugarbush.parts.forms import UnitsForm
from sugarbush.volunteers.changing import EditionMixin
from sugarbush.volunteers.models import Person


class OnlyScanForm(ScanForm):
    """A scan for a slip that is there already."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["scan"].required = True
        self.fields["scan"].error_messages["required"] = gettext_lazy("Choose the file first.")


class ChangeSlipForm(EditionMixin, TermsForm):
    """What a slip says, changed. Once asked or granted it needs a reason."""

    reason = forms.CharField(
        label=gettext_lazy("Why it changes"), max_length=MOST_REASON, widget=forms.Textarea(attrs={"rows": 2})
    )

    class Meta(TermsForm.Meta):
        fields = ["owner", *TERMS]

    def __init__(self, *args: Any, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.person = person
        if self.instance.state == PermissionState.DRAFT:
            del self.fields["reason"]
        owners: QuerySet[Owner] = owners_for(person)
        waiting = {PermissionState.DRAFT, PermissionState.ASKED, PermissionState.NO_ANSWER}
        if self.instance.state in waiting and owners.exists():
            field = self.fields["owner"]
            assert isinstance(field, forms.ModelChoiceField)  # noqa: S101  # Meta makes one of the model's key
            field.queryset = (owners | Owner.objects.filter(pk=self.instance.owner_id)).distinct()
            field.empty_label = None
        else:
            # A yes is its owner's own; another owner says it on another slip.
            del self.fields["owner"]
            self.columns.remove("owner")
            self.mark_seen()

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if {"date_from", "date_to"} & set(self.changed_data):
            self.ask_about_days(cleaned)
        if cleaned.get("capacity") == Capacity.OCCUPANT and "capacity" in self.changed_data:
            self.ask(
                "occupant",
                _("Whoever lives there but does not own the tree cannot say yes. The owner has to."),
                yes=_("Keep it, it does not count as a yes"),
            )
        return cleaned

    def reopen_with(self) -> dict[str, Any]:
        return {"units": self.units, "person": self.person}


class AddTreesForm(UnitsForm):
    """More trees for a slip that is there."""

    tags = forms.CharField(
        label=gettext_lazy("Tags of the trees"),
        max_length=9000,
        help_text=gettext_lazy("QH-0412, QH-0413"),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    treated = forms.ChoiceField(
        label=gettext_lazy("Given insecticide inside the tree?"),
        required=False,
        choices=ANSWERS,
        widget=forms.RadioSelect,
    )
    evidence = forms.CharField(label=gettext_lazy("How we know that they are theirs"), max_length=200, required=False)
    reason = forms.CharField(label=gettext_lazy("Why they are added"), max_length=MOST_REASON, required=False)

    def clean_tags(self) -> list[str]:
        return split_tags(self.cleaned_data["tags"])
