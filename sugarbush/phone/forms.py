"""What a phone sends, one entry at a time. Numbers come in stored units; each form is one kind of entry."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from sugarbush.gathering.actions import Visit
from sugarbush.gathering.forms import LARGEST_ML
from sugarbush.gathering.models import DiscardReason, Look, Outcome
from sugarbush.phone.models import Kind
from sugarbush.taps.forms import HIGHEST_MM
from sugarbush.taps.models import NewHole, Shavings


class EntryForm(forms.Form):
    """What every kind says of a tree."""

    tree = forms.CharField(label=_("tag"), max_length=16)
    note = forms.CharField(label=_("note"), max_length=400, required=False)


def _ml(label: Any) -> forms.IntegerField:
    return forms.IntegerField(label=label, min_value=0, max_value=LARGEST_ML, required=False)


class VisitForm(EntryForm):
    outcome = forms.ChoiceField(
        label=_("what was found"), choices=[(o.value, o.label) for o in Outcome if o != Outcome.REMOVAL]
    )
    volume_ml = _ml(_("sap"))
    discarded_ml = _ml(_("tipped out"))
    discard_reason = forms.ChoiceField(label=_("why tipped out"), choices=DiscardReason.choices, required=False)
    rain_ml = _ml(_("rain"))
    sugar_brix = forms.DecimalField(
        label=_("sugar"), min_value=0, max_value=12, max_digits=4, decimal_places=2, required=False
    )
    temperature_c = forms.DecimalField(
        label=_("sap temperature"),
        min_value=Decimal(-10),
        max_value=Decimal(40),
        max_digits=4,
        decimal_places=1,
        required=False,
    )
    look = forms.ChoiceField(label=_("how it looks"), choices=Look.choices, required=False)
    sure = forms.BooleanField(label=_("asked and answered"), required=False)

    def visit(self) -> Visit:
        said = self.cleaned_data
        return Visit(
            outcome=said["outcome"],
            volume_ml=said["volume_ml"] or 0,
            discarded_ml=said["discarded_ml"] or 0,
            discard_reason=said["discard_reason"] if said["discarded_ml"] else "",
            rain_ml=said["rain_ml"] or 0,
            sugar_brix=said["sugar_brix"],
            temperature_c=said["temperature_c"],
            look=said["look"],
            note=said["note"],
        )


class TapForm(EntryForm):
    height_mm = forms.IntegerField(label=_("height"), min_value=100, max_value=HIGHEST_MM)
    aspect_deg = forms.IntegerField(label=_("side of the trunk"), min_value=0, max_value=359)
    bit_um = forms.IntegerField(label=_("bit"), min_value=3_000, max_value=20_000)
    depth_mm = forms.IntegerField(label=_("depth"), min_value=10, max_value=150)
    shavings = forms.ChoiceField(label=_("shavings"), choices=Shavings.choices)
    holds_ml = forms.IntegerField(label=_("the pail holds"), min_value=500, max_value=100_000)

    def hole(self) -> NewHole:
        said = self.cleaned_data
        return NewHole(
            height_mm=said["height_mm"],
            aspect_deg=said["aspect_deg"],
            bit_um=said["bit_um"],
            depth_mm=said["depth_mm"],
        )


class PullForm(EntryForm):
    tap = forms.UUIDField(label=_("spout"))
    lost = forms.BooleanField(label=_("lost"), required=False)


class UndoForm(EntryForm):
    of = forms.UUIDField(label=_("entry"))


class ChangeForm(VisitForm):
    of = forms.UUIDField(label=_("entry"))


FORMS: dict[str, type[EntryForm]] = {
    Kind.VISIT: VisitForm,
    Kind.TAP: TapForm,
    Kind.PULL: PullForm,
    Kind.CHANGE: ChangeForm,
    Kind.UNDO: UndoForm,
}


class Shared(dict[str, forms.Field]):
    """The fields of a form, the same for every form made of it: reading an entry changes nothing in them.

    Django copies them for each form, which took four fifths of the time of reading an entry.
    """

    def __deepcopy__(self, _memo: dict[int, Any]) -> Shared:
        return self


for _form in FORMS.values():
    _form.base_fields = Shared(_form.base_fields)
