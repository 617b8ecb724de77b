"""What the boil lead types: the boiling day, what goes in the pan, what comes out."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.boils.models import BoilDay
from sugarbush.parts.forms import DayInput, QuantityField, UnitsForm, UnitsModelForm
from sugarbush.sap.models import Vessel
from sugarbush.volunteers.models import Membership, Person

LARGEST_ML = 2_000_000
# Exact by definition: NIST Special Publication 811, appendix B.
FOOT_M = Decimal("0.3048")
SQUARE_FOOT_CM2 = Decimal("929.0304")


class BoilDayForm(UnitsModelForm):
    """A boiling day: when, where, who, and the safety lines."""

    class Meta:
        model = BoilDay
        fields = (
            "day",
            "site",
            "crew",
            "fire_permission",
            "extinguisher",
            "two_adults",
            "outdoors",
            "note",
        )
        widgets = {"day": DayInput, "crew": forms.CheckboxSelectMultiple}
        help_texts = {
            "crew": gettext_lazy("At least two adults stay at the pan the whole time."),
        }

    elevation = forms.DecimalField(
        label=gettext_lazy("Height above sea level"), max_digits=5, decimal_places=0, required=False
    )
    pan_area = forms.DecimalField(
        label=gettext_lazy("Pan area"), max_digits=6, decimal_places=2, min_value=Decimal("0.01"), required=False
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        live = Membership.objects.live(timezone.localdate()).values("person_id")
        self.fields["crew"].queryset = Person.objects.filter(pk__in=live, is_active=True)  # type: ignore[attr-defined]
        self.fields["crew"].required = False
        us = self.units == "us"
        self.metres, self.cm2 = (FOOT_M, SQUARE_FOOT_CM2) if us else (Decimal(1), Decimal(10_000))
        self.fields["elevation"].help_text = (
            _("in feet (ft); it sets the temperature at which water boils there")
            if us
            else _("in metres (m); it sets the temperature at which water boils there")
        )
        self.fields["pan_area"].help_text = _("in square feet (sq ft)") if us else _("in square metres (m²)")
        self.initial.setdefault("elevation", round(Decimal(self.instance.elevation_m) / self.metres))
        if self.instance.pan_area_cm2:
            area = Decimal(self.instance.pan_area_cm2) / self.cm2
            self.initial.setdefault("pan_area", area.quantize(Decimal("0.01")))

    def clean_elevation(self) -> int:
        """Whole metres; a number sent back as it was shown stays the one that is kept."""
        if "elevation" not in self.changed_data:
            return int(self.instance.elevation_m)
        metres = round((self.cleaned_data["elevation"] or Decimal(0)) * self.metres)
        if not -430 <= metres <= 5_000:
            raise forms.ValidationError(_("No yard lies that high or that low. Look at the number again."))
        return metres

    def save(self, commit: bool = True) -> BoilDay:
        self.instance.elevation_m = self.cleaned_data["elevation"]
        if "pan_area" in self.changed_data:
            area = self.cleaned_data.get("pan_area")
            self.instance.pan_area_cm2 = round(area * self.cm2) if area else None
        return super().save(commit)  # type: ignore[no-any-return]


class TakesForm(UnitsForm):
    """How much of each tank goes into the pan."""

    def __init__(self, *args: Any, tanks: list[tuple[Vessel, int]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.tanks = tanks
        for vessel, held_ml in tanks:
            field = QuantityField(
                label=vessel.code, kind="volume", smallest=0, largest=held_ml, required=False, units=self.units
            )
            field.keep(held_ml)
            self.fields[f"tank-{vessel.pk}"] = field
            self.initial.setdefault(f"tank-{vessel.pk}", held_ml)

    def takes(self) -> list[tuple[Vessel, int]]:
        return [(vessel, ml) for vessel, _held in self.tanks if (ml := self.cleaned_data.get(f"tank-{vessel.pk}") or 0)]


class CloseForm(UnitsForm):
    """Syrup out of the pan."""

    syrup = QuantityField(label=gettext_lazy("Syrup drawn off"), kind="volume", smallest=0, largest=LARGEST_ML)
    syrup_brix = forms.DecimalField(
        label=gettext_lazy("Syrup density"),
        max_digits=4,
        decimal_places=1,
        min_value=Decimal(40),
        max_value=Decimal(80),
        required=False,
        help_text=gettext_lazy("in °Brix at 20 °C, by hydrometer or refractometer"),
        error_messages={
            "min_value": gettext_lazy("Syrup has 40 to 80 °Brix."),
            "max_value": gettext_lazy("Syrup has 40 to 80 °Brix."),
            "invalid": gettext_lazy("Write a number, 66.5 for example."),
        },
    )
    loss_reason = forms.CharField(
        label=gettext_lazy("If nothing came out: what happened"), max_length=300, required=False
    )
    note = forms.CharField(label=gettext_lazy("Note"), max_length=400, required=False)
