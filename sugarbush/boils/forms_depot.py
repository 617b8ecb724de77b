"""What the depot keeper types."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.forms import BaseFormSet, formset_factory
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.boils.actions import Line
from sugarbush.core.sugar import density_kg_m3
from sugarbush.gathering.models import Look
from sugarbush.kit.models import Container, Depot
from sugarbush.parts.forms import BrixField, MomentInput, QuantityField, UnitsForm
from sugarbush.sap.models import Vessel, VesselKind
from sugarbush.seasons.models import Season
from sugarbush.volunteers.models import Membership, Person

LARGEST_ML = 2_000_000
REJECT = [
    ("", gettext_lazy("goes in a tank")),
    ("cloudy", gettext_lazy("cloudy")),
    ("milky or sour", gettext_lazy("milky or sour")),
    ("ropy", gettext_lazy("ropy")),
    ("too warm for too long", gettext_lazy("too warm for too long")),
    ("container not known to be food-safe", gettext_lazy("container not known to be food-safe")),
    ("no room", gettext_lazy("no room in the tanks")),
    ("another reason, see the note", gettext_lazy("another reason, in the note")),
]


class DeliveryForm(UnitsForm):
    """One carrier at one depot; the containers stand in LineForms below."""

    delivery = forms.UUIDField(widget=forms.HiddenInput)
    depot = forms.ModelChoiceField(
        label=gettext_lazy("Depot"), queryset=Depot.objects.all(), empty_label=gettext_lazy("choose a depot")
    )
    person = forms.ModelChoiceField(
        label=gettext_lazy("Who brings it"), queryset=Person.objects.none(), empty_label=gettext_lazy("choose a person")
    )
    all_of_it = forms.BooleanField(
        label=gettext_lazy("That is all they carry"),
        required=False,
        help_text=gettext_lazy("Nothing stays in their hands; the difference to their entries is settled now."),
    )
    explanation = forms.CharField(
        label=gettext_lazy("Why the measures differ"),
        max_length=400,
        required=False,
        help_text=gettext_lazy("Only when the page asks for it: a missed tree, a spill, a wrong mark."),
    )
    ahead = forms.BooleanField(
        label=gettext_lazy("Their entries come later"),
        required=False,
        help_text=gettext_lazy("A phone is dead or the sheet is not typed in: keep the surplus apart until then."),
    )
    approved_by = forms.ModelChoiceField(
        label=gettext_lazy("Approved by"),
        queryset=Person.objects.none(),
        empty_label=gettext_lazy("nobody yet"),
        required=False,
        help_text=gettext_lazy("A coordinator who has seen it; only for a large difference."),
    )
    overfill_reason = forms.CharField(
        label=gettext_lazy("Why the tank holds more than its mark"), max_length=200, required=False
    )
    when = forms.DateTimeField(
        label=gettext_lazy("When"), widget=MomentInput, required=False, help_text=gettext_lazy("Leave empty for now.")
    )
    note = forms.CharField(label=gettext_lazy("Note"), max_length=400, required=False)

    LATER = ("explanation", "ahead", "approved_by", "overfill_reason", "when", "note")

    def __init__(self, *args: Any, season: Season, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        live = Membership.objects.live(timezone.localdate())
        people = Person.objects.filter(is_active=True)
        self.fields["person"].queryset = people.filter(pk__in=live.values("person_id"))  # type: ignore[attr-defined]
        coordinators = people.filter(pk__in=live.filter(role="coordinator").values("person_id"))
        self.fields["approved_by"].queryset = coordinators  # type: ignore[attr-defined]


class LineForm(UnitsForm):
    """One container: measured in volume or weighed, into a tank or turned away."""

    container_text = forms.CharField(label=gettext_lazy("Container"), max_length=40, required=False)
    volume = QuantityField(label=gettext_lazy("Volume"), kind="volume", smallest=1, largest=LARGEST_ML, required=False)
    mass = QuantityField(
        label=gettext_lazy("or weight of the sap"), kind="mass", smallest=1, largest=2_000_000, required=False
    )
    sugar = BrixField(label=gettext_lazy("Sugar"), max_value=Decimal(12), required=False)
    temperature = QuantityField(
        label=gettext_lazy("Temperature"),
        kind="temperature",
        smallest=Decimal(-10),
        largest=Decimal(40),
        required=False,
    )
    look = forms.ChoiceField(label=gettext_lazy("Look"), choices=Look.choices, initial=Look.CLEAR)
    tank = forms.ModelChoiceField(
        label=gettext_lazy("Into tank"),
        queryset=Vessel.objects.none(),
        required=False,
        empty_label=gettext_lazy("no tank"),
    )
    reject_reason = forms.ChoiceField(label=gettext_lazy("or turned away because"), choices=REJECT, required=False)

    def __init__(self, *args: Any, tanks: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["tank"].queryset = tanks  # type: ignore[attr-defined]

    @property
    def is_blank(self) -> bool:
        return not any(
            self.data.get(self.add_prefix(name), "").strip() for name in ("container_text", "volume", "mass")
        )

    def clean_container_text(self) -> str:
        return str(self.cleaned_data.get("container_text", "")).strip()

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if self.is_blank or self.errors:
            return data
        volume, mass = data.get("volume"), data.get("mass")
        if volume is None and mass is None:
            self.add_error("volume", _("Say how much is in it: a volume or a weight."))
        if volume is None and mass is not None:
            data["volume"] = self.litres_of(mass, data.get("sugar"), data.get("temperature"))
        if data.get("tank") and data.get("reject_reason"):
            self.add_error("reject_reason", _("Choose a tank or turn it away, not both."))
        if not data.get("tank") and not data.get("reject_reason"):
            self.add_error("tank", _("Choose a tank, or say why it is turned away."))
        return data

    @staticmethod
    def litres_of(mass_g: int, sugar: Decimal | None, temperature_c: Decimal | None) -> int:
        """Volume of weighed sap by its density; 2 Brix and 4 °C where nobody measured."""
        warm = min(max(float(temperature_c) if temperature_c is not None else 4.0, 0.0), 40.0)
        density = density_kg_m3(float(sugar) if sugar is not None else 2.0, warm)
        return round(mass_g / density * 1000)

    def line(self) -> Line:
        data = self.cleaned_data
        container = Container.objects.filter(code__iexact=data["container_text"]).first()
        return Line(
            volume_ml=data["volume"],
            tank=data["tank"],
            reject_reason=data["reject_reason"],
            container=container,
            container_text=data["container_text"],
            mass_g=data["mass"],
            sugar_brix=data["sugar"],
            temperature_c=data["temperature"],
            look=data["look"],
        )


def filled(lines: BaseFormSet[LineForm]) -> list[LineForm]:
    """The containers somebody wrote something about; blank ones are left out."""
    return [form for form in lines.forms if not form.is_blank]


LineForms = formset_factory(LineForm, extra=0, min_num=4, max_num=40, absolute_max=60)


class TankForm(UnitsForm):
    """A tank at a depot."""

    code = forms.CharField(label=gettext_lazy("Name on the tank"), max_length=40)
    depot = forms.ModelChoiceField(
        label=gettext_lazy("Depot"), queryset=Depot.objects.all(), empty_label=gettext_lazy("choose a depot")
    )
    capacity = QuantityField(label=gettext_lazy("It holds"), kind="volume", smallest=1_000, largest=50_000_000)
    usual_temperature = QuantityField(
        label=gettext_lazy("Usual temperature there"),
        kind="temperature",
        smallest=Decimal(-20),
        largest=Decimal(40),
        required=False,
    )

    def __init__(self, *args: Any, season: Season, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.season = season

    def clean_code(self) -> str:
        code = str(self.cleaned_data["code"]).strip()
        if Vessel.objects.filter(season=self.season, kind=VesselKind.TANK, code__iexact=code).exists():
            raise forms.ValidationError(_("This season has a tank %(code)s already.") % {"code": code})
        return code


class MoveForm(UnitsForm):
    """Sap from this tank to another, or tipped out."""

    volume = QuantityField(label=gettext_lazy("How much"), kind="volume", smallest=1, largest=50_000_000)
    to = forms.ModelChoiceField(
        label=gettext_lazy("To tank"),
        queryset=Vessel.objects.none(),
        required=False,
        empty_label=gettext_lazy("tip it out"),
    )
    reason = forms.CharField(label=gettext_lazy("Why"), max_length=300, required=False)

    def __init__(self, *args: Any, others: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["to"].queryset = others  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if not data.get("to") and not (data.get("reason") or "").strip():
            self.add_error("reason", _("Say why it is tipped out."))
        return data


class AheadForm(forms.Form):
    """Closing a delivery that was ahead of its entries."""

    tank = forms.ModelChoiceField(
        label=gettext_lazy("The surplus went into"),
        queryset=Vessel.objects.none(),
        empty_label=gettext_lazy("choose a tank"),
    )
    explanation = forms.CharField(
        label=gettext_lazy("Why entries are missing"),
        max_length=400,
        required=False,
        help_text=gettext_lazy("Only when not all of them came."),
    )

    def __init__(self, *args: Any, tanks: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["tank"].queryset = tanks  # type: ignore[attr-defined]
