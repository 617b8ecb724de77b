"""What the depot keeper types at the tanks."""

from __future__ import annotations

import uuid
from decimal import Decimal
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.kit.models import Depot
from sugarbush.parts.forms import MomentInput, QuantityField, UnitsForm
from sugarbush.sap.models import Vessel, VesselKind
from sugarbush.seasons.models import Season
from sugarbush.volunteers.models import Membership, Person

MOST_ML = 50_000_000
LARGEST_SERIES_BYTES = 2_000_000


class TankForm(UnitsForm):
    """A tank at a depot. Its number comes with the form, so that sending it twice sets up one tank."""

    vessel = forms.UUIDField(widget=forms.HiddenInput, initial=uuid.uuid4, required=False)
    code = forms.CharField(label=gettext_lazy("Name on the tank"), max_length=40)
    depot = forms.ModelChoiceField(
        label=gettext_lazy("Depot"), queryset=Depot.objects.all(), empty_label=gettext_lazy("choose a depot")
    )
    capacity = QuantityField(label=gettext_lazy("It holds"), kind="volume", smallest=1_000, largest=MOST_ML)
    usual_temperature = QuantityField(
        label=gettext_lazy("Usual temperature there"),
        kind="temperature",
        smallest=Decimal(-20),
        largest=Decimal(40),
        required=False,
        help_text=gettext_lazy("where nobody measures, this stands in; empty: the weather of the day does;"),
    )

    def __init__(self, *args: Any, season: Season, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.season = season

    def clean_code(self) -> str:
        code = str(self.cleaned_data["code"]).strip()
        there = Vessel.objects.filter(season=self.season, kind=VesselKind.TANK, code__iexact=code)
        own = self.cleaned_data.get("vessel")
        if (there.exclude(pk=own) if own else there).exists():
            raise forms.ValidationError(_("This season has a tank %(code)s already.") % {"code": code})
        return code


class _ActForm(UnitsForm):
    """One act at a tank, numbered so that sending it twice changes nothing."""

    act = forms.UUIDField(widget=forms.HiddenInput, initial=uuid.uuid4)


class MoveForm(_ActForm):
    """Sap from this tank into another, or tipped out."""

    volume = QuantityField(label=gettext_lazy("How much"), kind="volume", smallest=1, largest=MOST_ML)
    to = forms.ModelChoiceField(
        label=gettext_lazy("Where it goes"),
        queryset=Vessel.objects.none(),
        required=False,
        empty_label=gettext_lazy("tip it out"),
    )
    reason = forms.CharField(
        label=gettext_lazy("Why"),
        max_length=300,
        required=False,
        help_text=gettext_lazy("needed when it is tipped out"),
    )
    when = forms.DateTimeField(
        label=gettext_lazy("When"), widget=MomentInput, required=False, help_text=gettext_lazy("Leave empty for now.")
    )
    overfill_reason = forms.CharField(
        label=gettext_lazy("Why the other tank holds more than its mark"),
        max_length=200,
        required=False,
        help_text=gettext_lazy("only when the page says that it is too full"),
    )

    def __init__(self, *args: Any, others: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["to"].queryset = others  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if not data.get("to") and not (data.get("reason") or "").strip():
            self.add_error("reason", _("Say why it is tipped out."))
        return data


class DipForm(_ActForm):
    """What the stick in the tank says."""

    measured = QuantityField(label=gettext_lazy("By the stick it holds"), kind="volume", smallest=0, largest=MOST_ML)
    explanation = forms.CharField(
        label=gettext_lazy("Why the books say something else"),
        max_length=300,
        required=False,
        help_text=gettext_lazy("only when they differ much"),
    )
    approved_by = forms.ModelChoiceField(
        label=gettext_lazy("Approved by"),
        queryset=Person.objects.none(),
        empty_label=gettext_lazy("nobody yet"),
        required=False,
        help_text=gettext_lazy("only for a large difference"),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        live = Membership.objects.live(timezone.localdate()).filter(role="coordinator")
        people = Person.objects.filter(is_active=True, pk__in=live.values("person_id"))
        self.fields["approved_by"].queryset = people  # type: ignore[attr-defined]


class TemperatureForm(_ActForm):
    """One temperature of the sap, by hand."""

    temperature = QuantityField(
        label=gettext_lazy("Temperature of the sap"), kind="temperature", smallest=Decimal(-40), largest=Decimal(60)
    )
    when = forms.DateTimeField(
        label=gettext_lazy("When"), widget=MomentInput, required=False, help_text=gettext_lazy("Leave empty for now.")
    )
    frozen_solid = forms.BooleanField(
        label=gettext_lazy("Frozen right through"),
        required=False,
        help_text=gettext_lazy("Only then do the clocks stand still; ice on top is not enough."),
    )
    note = forms.CharField(label=gettext_lazy("Note"), max_length=200, required=False)


class SeriesForm(UnitsForm):
    """A series from a logger: pasted, or sent as a file."""

    lines = forms.CharField(
        label=gettext_lazy("Lines"),
        required=False,
        max_length=LARGEST_SERIES_BYTES,
        widget=forms.Textarea(attrs={"rows": 6, "spellcheck": "false"}),
    )
    file = forms.FileField(label=gettext_lazy("or a file"), required=False, max_length=200)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        sent = data.get("file")
        if sent is not None and sent.size > LARGEST_SERIES_BYTES:
            self.add_error("file", _("That file is larger than 2 MB. Send a shorter stretch of time."))
        elif sent is not None:
            data["lines"] = _text_of(sent.read())
        if not self.errors and not (data.get("lines") or "").strip():
            self.add_error("lines", _("Paste some lines, or choose a file."))
        return data


def _text_of(sent: bytes) -> str:
    for encoding in ("utf-8-sig", "utf-16" if sent[:2] in {b"\xff\xfe", b"\xfe\xff"} else "cp1252"):
        try:
            return sent.decode(encoding)
        except UnicodeDecodeError:
            continue
    return sent.decode("latin-1")
