"""What a volunteer types at a tree."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.gathering.actions import Visit
from sugarbush.gathering.doubts import Doubt
from sugarbush.gathering.models import Collection, DiscardReason, Look, Outcome
from sugarbush.parts.forms import BrixField, MomentInput, QuantityField, UnitsForm
from sugarbush.parts.shown import in_words

LARGEST_ML = 500_000


class SapForm(UnitsForm):
    """Sap at one tree. `doubts_about` answers with questions about odd numbers."""

    entry = forms.UUIDField(widget=forms.HiddenInput)
    look = forms.ChoiceField(
        label=gettext_lazy("How does it look?"),
        choices=[(look.value, look.label) for look in (Look.CLEAR, Look.CLOUDY, Look.YELLOW, Look.MILKY)],
        widget=forms.RadioSelect,
        initial=Look.CLEAR,
    )
    volume = QuantityField(label=gettext_lazy("Sap in the pail"), kind="volume", smallest=0, largest=LARGEST_ML)
    discarded = QuantityField(
        label=gettext_lazy("Of it tipped out here"), kind="volume", smallest=0, largest=LARGEST_ML, required=False
    )
    discard_reason = forms.ChoiceField(
        label=gettext_lazy("Why tipped out"),
        choices=[("", gettext_lazy("nothing tipped out")), *DiscardReason.choices],
        required=False,
    )
    rain = QuantityField(
        label=gettext_lazy("Rain kept with it"), kind="volume", smallest=0, largest=LARGEST_ML, required=False
    )
    sugar = BrixField(label=gettext_lazy("Sugar"), max_value=Decimal(12), required=False)
    temperature = QuantityField(
        label=gettext_lazy("Sap temperature"),
        kind="temperature",
        smallest=Decimal(-10),
        largest=Decimal(40),
        required=False,
    )
    when = forms.DateTimeField(
        label=gettext_lazy("When"),
        widget=MomentInput,
        required=False,
        input_formats=["%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S"],
        help_text=gettext_lazy("Leave empty for now."),
        error_messages={"invalid": gettext_lazy("Write a day and a time.")},
    )
    note = forms.CharField(label=gettext_lazy("Note"), max_length=400, required=False)
    edition = forms.IntegerField(widget=forms.HiddenInput, required=False)
    reason = forms.CharField(label=gettext_lazy("Why are you changing it?"), max_length=400, required=False)

    MORE = ("discarded", "discard_reason", "rain", "sugar", "temperature", "when", "note")

    def clean_when(self) -> dt.datetime | None:
        when: dt.datetime | None = self.cleaned_data.get("when")
        if when is not None and when > timezone.now() + dt.timedelta(minutes=10):
            raise forms.ValidationError(_("That time has not come yet."))
        return when

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        gone, came = data.get("discarded") or 0, (data.get("volume") or 0) + (data.get("rain") or 0)
        if gone > came and "volume" in data:
            self.add_error("discarded", _("More than came out of the tree."))
        if gone and not data.get("discard_reason"):
            self.add_error("discard_reason", _("Say why it was tipped out."))
        if data.get("discard_reason") and not gone and "discarded" in data:
            self.add_error("discarded", _("Say how much was tipped out."))
        if "volume" in data and came == 0:
            self.add_error("volume", _("Say how much sap, or go back and choose “Empty”."))
        return data

    def put(self, doubts: list[Doubt]) -> None:
        """Ask about odd numbers on this form; with a note and a tick they stand."""
        for doubt in doubts:
            meant = None
            if doubt.meant_ml is not None:
                shown = in_words("volume", doubt.meant_ml, self.units)
                meant = ("volume", shown.replace("\u00a0", " "))
            self.ask(
                doubt.code,
                doubt.sentence,
                about=self.cleaned_data.get("volume"),
                yes=_("It is right; the note says why"),
                instead=meant,
            )

    def let_stand(self, doubts: list[Doubt]) -> bool:
        """Ask, and say whether every question has been answered and explained in the note."""
        self.put(doubts)
        if not all(question.answered for question in self.questions):
            return False
        if not (self.cleaned_data.get("note") or "").strip():
            self.add_error("note", _("Write here why it is right."))
            return False
        return True

    def visit(self) -> Visit:
        data = self.cleaned_data
        return Visit(
            outcome=Outcome.SAP,
            volume_ml=data["volume"],
            discarded_ml=data.get("discarded") or 0,
            discard_reason=data.get("discard_reason") or "",
            rain_ml=data.get("rain") or 0,
            sugar_brix=data.get("sugar"),
            temperature_c=data.get("temperature"),
            look=data["look"],
            note=data.get("note") or "",
        )

    @classmethod
    def start_from(cls, entry: Collection) -> dict[str, Any]:
        """What the form shows of an entry that is there."""
        return {
            "entry": entry.pk,
            "look": entry.look or Look.CLEAR,
            "volume": entry.volume_ml,
            "discarded": entry.discarded_ml or None,
            "discard_reason": entry.discard_reason,
            "rain": entry.rain_ml or None,
            "sugar": entry.sugar_brix,
            "temperature": entry.temperature_c,
            "note": entry.note,
            "edition": entry.edition,
        }


class QuickForm(forms.Form):
    """A visit without litres: one press."""

    entry = forms.UUIDField()
    outcome = forms.ChoiceField(choices=[(o.value, o.label) for o in Outcome if o != Outcome.SAP])
    note = forms.CharField(max_length=400, required=False)


class SettleForm(forms.Form):
    """How an entry to review is settled."""

    verdict = forms.ChoiceField(
        label=gettext_lazy("What is it?"),
        choices=[
            ("counts", gettext_lazy("It counts")),
            ("never", gettext_lazy("It never happened")),
            ("not_ours", gettext_lazy("Real, but not ours: tipped out")),
        ],
        widget=forms.RadioSelect,
    )
    note = forms.CharField(
        label=gettext_lazy("Why"),
        max_length=300,
        help_text=gettext_lazy("One sentence; it stays with the entry."),
        error_messages={"required": gettext_lazy("Write why, in a sentence.")},
    )
