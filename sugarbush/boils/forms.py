"""What the boil lead types before the fire: the boiling day, its shifts, and what people answer."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.boils.models import BoilDay
from sugarbush.boils.models_pan import Coming, Shift
from sugarbush.boils.plan import FUEL_NAMES
from sugarbush.parts.forms import DayInput, MomentInput, QuantityField, UnitsForm, UnitsModelForm
from sugarbush.volunteers.changing import EditionMixin
from sugarbush.volunteers.models import Membership, Person

LARGEST_ML = 2_000_000
Words = Any  # text, or text that is translated when a page is drawn


@dataclass(frozen=True, kw_only=True)
class Scale:
    """How a number is typed: stored units in one typed unit, decimals, the sign behind the field."""

    stored: Decimal
    places: int
    sign: Words


class ScaledField(forms.DecimalField):
    """A whole number kept in one unit and typed in the reader's. What comes back as it was shown stays the same."""

    def __init__(self, *, metric: Scale, us: Scale, least: int, most: int, **kwargs: Any) -> None:
        self.scales, self.least, self.most = {"metric": metric, "us": us}, least, most
        self.scale = metric
        self.kept: int | None = None
        kwargs.setdefault("widget", forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}))
        kwargs["error_messages"] = {"invalid": gettext_lazy("Write a number.")} | kwargs.get("error_messages", {})
        super().__init__(required=False, **kwargs)

    @property
    def unit_sign(self) -> str:
        return str(self.scale.sign)

    def use_units(self, name: str) -> None:
        self.scale = self.scales["us" if name == "us" else "metric"]

    def typed_form(self, stored: int) -> str:
        quantum = Decimal(1).scaleb(-self.scale.places)
        return str((Decimal(stored) / self.scale.stored).quantize(quantum, rounding=ROUND_HALF_UP))

    def prepare_value(self, value: Any) -> Any:
        return self.typed_form(value) if isinstance(value, int) and not isinstance(value, bool) else value

    def clean(self, value: Any) -> int | None:
        text = str(value or "").strip().replace(",", ".")
        if not text:
            return None
        if self.kept is not None and text == self.typed_form(self.kept):
            return self.kept
        exact = Decimal(str(super().clean(text))) * self.scale.stored
        # Held near the bounds first: a number of very many figures cannot be rounded.
        exact = max(Decimal(self.least - 1), min(exact, Decimal(self.most + 1)))
        stored = int(exact.quantize(Decimal(1), ROUND_HALF_UP))
        if not self.least <= stored <= self.most:
            raise forms.ValidationError(
                _("Here it is from %(least)s to %(most)s %(sign)s. Look at the number and its unit again.")
                % {"least": self.typed_form(self.least), "most": self.typed_form(self.most), "sign": self.unit_sign}
            )
        return stored


# Exact by definition: NIST Special Publication 811, appendix B.
FOOT_M, FOOT_MM = Decimal("0.3048"), Decimal("304.8")
SQUARE_FOOT_CM2 = Decimal("929.0304")
GAL_H_SQFT_ML_H_M2 = Decimal("3785.411784") / Decimal("0.09290304")
M, FT = gettext_lazy("m"), gettext_lazy("ft")


class BoilDayForm(EditionMixin, UnitsModelForm):
    """A boiling day: when, where, the pan, the fuel, the sap, and the safety lines."""

    more_columns = ("starts_at",)

    class Meta:
        model = BoilDay
        fields = (
            "day",
            "rain_day",
            "site",
            "elevation_m",
            "pan_area_cm2",
            "pan_ml_h_m2",
            "fuel",
            "expected_ml",
            "fire_permission",
            "fire_permit",
            "outdoors",
            "clear_mm",
            "extinguisher",
            "dry_wood",
            "children_line",
            "first_aid",
            "two_adults",
            "wind",
            "note",
        )
        widgets = {"day": DayInput, "rain_day": DayInput}
        labels = {
            "fire_permission": gettext_lazy("Fire permission is in hand"),
            "fire_permit": gettext_lazy("Its number, or who gave it"),
            "outdoors": gettext_lazy("Outdoors, clear of buildings"),
            "extinguisher": gettext_lazy("Extinguisher or water ready"),
            "dry_wood": gettext_lazy("Fuel dry and at hand"),
            "children_line": gettext_lazy("A line that children stay behind"),
            "first_aid": gettext_lazy("Cold water and first aid for burns"),
            "two_adults": gettext_lazy("Two adults stay at the pan at all times"),
        }
        help_texts = {
            "rain_day": gettext_lazy("If wind, rain or a fire ban comes between."),
            "wind": gettext_lazy("Where the smoke will go, who has been told, when you would stop."),
            "site": gettext_lazy("The yard, and how to find it."),
        }

    begins = forms.TimeField(
        label=gettext_lazy("Fire lit at"),
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        required=False,
    )
    elevation_m = ScaledField(
        label=gettext_lazy("Height above sea level"),
        metric=Scale(stored=Decimal(1), places=0, sign=M),
        us=Scale(stored=FOOT_M, places=0, sign=FT),
        least=-430,
        most=5_000,
        help_text=gettext_lazy("It sets where water boils until somebody measures it that morning."),
    )
    pan_area_cm2 = ScaledField(
        label=gettext_lazy("Pan area"),
        metric=Scale(stored=Decimal(10_000), places=2, sign=gettext_lazy("m²")),
        us=Scale(stored=SQUARE_FOOT_CM2, places=2, sign=gettext_lazy("sq ft")),
        least=100,
        most=1_000_000,
        help_text=gettext_lazy("Length times width of the bottom, all pans together."),
    )
    pan_ml_h_m2 = ScaledField(
        label=gettext_lazy("Water it drives off, if you know"),
        metric=Scale(stored=Decimal(1000), places=1, sign=gettext_lazy("L/h per m²")),
        us=Scale(stored=GAL_H_SQFT_ML_H_M2, places=2, sign=gettext_lazy("gal/h per sq ft")),
        least=5_000,
        most=200_000,
        help_text=gettext_lazy("Left empty, our own batches say it; until there are some, the usual flat pan."),
    )
    clear_mm = ScaledField(
        label=gettext_lazy("Nearest building, fence or tree"),
        metric=Scale(stored=Decimal(1000), places=1, sign=M),
        us=Scale(stored=FOOT_MM, places=1, sign=FT),
        least=0,
        most=1_000_000,
        help_text=gettext_lazy("How far it is; your fire rules say how far it must be."),
    )
    fuel = forms.ChoiceField(
        label=gettext_lazy("Fuel"), choices=[("", gettext_lazy("not chosen yet")), *FUEL_NAMES.items()], required=False
    )
    expected_ml = QuantityField(
        label=gettext_lazy("Sap still expected by then"),
        kind="volume",
        smallest=0,
        largest=LARGEST_ML * 10,
        required=False,
        help_text=gettext_lazy("Besides what is in the tanks now;"),
    )

    BEFORE = ("site", "day", "begins", "rain_day")
    PAN = ("pan_area_cm2", "elevation_m", "fuel", "pan_ml_h_m2", "expected_ml")
    SAFE = (
        "fire_permission",
        "fire_permit",
        "outdoors",
        "clear_mm",
        "extinguisher",
        "dry_wood",
        "children_line",
        "first_aid",
        "two_adults",
        "wind",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, field in self.fields.items():
            if isinstance(field, ScaledField):
                field.use_units(self.units)
                held = self.get_initial_for_field(field, name)
                field.kept = held if isinstance(held, int) else None
        if self.instance.starts_at:
            self.initial.setdefault("begins", timezone.localtime(self.instance.starts_at).time())

    def _part(self, names: Sequence[str]) -> list[forms.BoundField]:
        return [self[name] for name in names]

    def before(self) -> list[forms.BoundField]:
        return self._part(self.BEFORE)

    def pan(self) -> list[forms.BoundField]:
        return self._part(self.PAN)

    def safe(self) -> list[forms.BoundField]:
        return self._part(self.SAFE)

    def clean_elevation_m(self) -> int:
        return int(self.cleaned_data["elevation_m"] or 0)

    def clean_expected_ml(self) -> int:
        return int(self.cleaned_data["expected_ml"] or 0)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if data.get("fire_permission") and not data.get("fire_permit"):
            self.add_error("fire_permit", _("Write the number, or who gave it."))
        if data.get("outdoors") and data.get("clear_mm") is None and "clear_mm" not in self.errors:
            self.add_error("clear_mm", _("Write how far the nearest building is."))
        day, rain_day, begins = data.get("day"), data.get("rain_day"), data.get("begins")
        if day and rain_day and rain_day <= day:
            self.add_error("rain_day", _("The rain date comes after the day."))
        data["starts_at"] = self.instance.starts_at = None
        if day and begins:
            moment = timezone.make_aware(dt.datetime.combine(day, begins))
            if timezone.localtime(moment.astimezone(dt.UTC)).time() != begins:
                self.add_error("begins", _("The clocks go forward then: choose another time."))
            data["starts_at"] = self.instance.starts_at = moment
        return data


class MomentField(forms.DateTimeField):
    """A time of the programme's clock; an hour that the clocks skip or repeat is said in words."""

    widget = MomentInput

    def to_python(self, value: Any) -> Any:
        try:
            return super().to_python(value)
        except forms.ValidationError as refused:
            if refused.code == "ambiguous_timezone":
                raise forms.ValidationError(
                    _("The clocks change then, so that time comes twice or not at all. Choose one an hour on.")
                ) from refused
            raise


class ShiftForm(UnitsForm):
    """A stretch of the day and who stands at the pan."""

    begins = MomentField(label=gettext_lazy("From"))
    ends = MomentField(label=gettext_lazy("To"))
    task = forms.CharField(label=gettext_lazy("What for"), max_length=80, required=False)
    people = forms.ModelMultipleChoiceField(
        label=gettext_lazy("Who"),
        queryset=Person.objects.none(),
        widget=forms.CheckboxSelectMultiple,
        required=False,
        help_text=gettext_lazy("Two adults at least. Those who said “I come” stand here."),
    )
    more = forms.ModelMultipleChoiceField(
        label=gettext_lazy("and others"),
        queryset=Person.objects.none(),
        widget=forms.SelectMultiple(attrs={"size": "6"}),
        required=False,
        help_text=gettext_lazy("Anybody with a role today, whether they have answered or not."),
    )

    def __init__(self, *args: Any, day: BoilDay, shift: Shift | None = None, **kwargs: Any) -> None:
        if shift is not None:
            kwargs["initial"] = {"begins": shift.begins, "ends": shift.ends, "task": shift.task}
        super().__init__(*args, **kwargs)
        on = set(shift.people.values_list("pk", flat=True)) if shift else set()
        come = Coming.objects.filter(boil_day=day, answer="yes").values_list("person_id", flat=True)
        first = {*come, *on, *day.crew.values_list("pk", flat=True), day.lead_id}
        live = Membership.objects.live(timezone.localdate()).values("person_id")
        self.fields["people"].queryset = Person.objects.filter(pk__in=first, is_active=True)  # type: ignore[attr-defined]
        others = Person.objects.filter(pk__in=live, is_active=True).exclude(pk__in=first)
        self.fields["more"].queryset = others  # type: ignore[attr-defined]
        self.initial.setdefault("people", list(on))

    def chosen(self) -> list[Person]:
        return [*self.cleaned_data["people"], *self.cleaned_data["more"]]


class AnswerForm(forms.Form):
    """ "I come" or "I can't"."""

    answer = forms.ChoiceField(choices=[("yes", ""), ("no", "")])
    note = forms.CharField(label=gettext_lazy("Which hours, or what you bring"), max_length=200, required=False)
