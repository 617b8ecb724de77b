"""What is typed beside the pan: looks, readings, sap in, syrup and losses out."""

from __future__ import annotations

import datetime as dt
import uuid
from decimal import Decimal
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.text import format_lazy
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.boils.forms import LARGEST_ML, MomentField
from sugarbush.parts.forms import QuantityField, UnitsForm
from sugarbush.parts.shown import in_words
from sugarbush.sap.models import Vessel
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Membership, Person

OLDEST_LOOK = dt.timedelta(hours=48)


class BrixOne(forms.DecimalField):
    """°Brix with one decimal, as a hydrometer is read."""

    unit_sign = "°Brix"

    def __init__(self, *, least: int, most: int, **kwargs: Any) -> None:
        said = format_lazy(gettext_lazy("Here it is from {least} to {most} °Brix."), least=least, most=most)
        kwargs["error_messages"] = dict.fromkeys(("min_value", "max_value", "max_digits", "max_whole_digits"), said) | {
            "invalid": gettext_lazy("Write a number, 66.5 for example."),
            "max_decimal_places": gettext_lazy("One decimal is enough, 66.5 for example."),
        }
        super().__init__(
            max_digits=4,
            decimal_places=1,
            min_value=Decimal(least),
            max_value=Decimal(most),
            required=False,
            widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
            **kwargs,
        )

    def to_python(self, value: Any) -> Any:
        return super().to_python(value.replace(",", ".") if isinstance(value, str) else value)


class ActForm(UnitsForm):
    """One act at the pan. `token` is its own number: a form sent twice counts once."""

    token = forms.UUIDField(widget=forms.HiddenInput)
    when = MomentField(label=gettext_lazy("When"), required=False, help_text=gettext_lazy("Leave empty for now."))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial.setdefault("token", uuid.uuid4())

    def clean_when(self) -> dt.datetime | None:
        when: dt.datetime | None = self.cleaned_data["when"]
        if when is not None and when > timezone.now() + dt.timedelta(minutes=2):
            raise forms.ValidationError(_("That is still to come. Leave it empty for now."))
        return when

    def in_sight(self) -> list[forms.BoundField]:
        """The fields, without the one that is folded away."""
        return [bound for bound in self.visible_fields() if bound.name != "when"]


class ReadingForm(ActForm):
    """What thermometer, hydrometer and stick said."""

    temperature = QuantityField(
        label=gettext_lazy("Pan temperature"),
        kind="temperature",
        smallest=Decimal(-10),
        largest=Decimal(150),
        required=False,
    )
    sugar = BrixOne(label=gettext_lazy("Sugar"), least=0, most=90, help_text=gettext_lazy("Corrected for the heat."))
    volume = QuantityField(
        label=gettext_lazy("In the pan, by the stick"), kind="volume", smallest=0, largest=LARGEST_ML, required=False
    )
    note = forms.CharField(label=gettext_lazy("Note"), max_length=200, required=False)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        read = any(data.get(name) is not None for name in ("temperature", "sugar", "volume"))
        if not self.errors and not read and not data.get("note"):
            self.add_error("temperature", _("Write at least one of them. To say that you looked, go back."))
        return data


class LookForm(forms.Form):
    """Somebody looked at the pan. `ago_s`: how long ago, for a look that waited for signal."""

    token = forms.UUIDField()
    ago_s = forms.FloatField(required=False, min_value=0)

    def at(self) -> dt.datetime:
        ago = dt.timedelta(seconds=self.cleaned_data["ago_s"] or 0)
        return timezone.now() - min(ago, OLDEST_LOOK)


class WaterForm(UnitsForm):
    """This morning's boiling water."""

    water = QuantityField(
        label=gettext_lazy("Water boils here today at"),
        kind="temperature",
        smallest=Decimal(86),
        largest=Decimal(104),
        help_text=gettext_lazy("with the thermometer you use at the pan,"),
    )

    def __init__(self, *args: Any, expected_c: float, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.expected_c = expected_c

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        water = data.get("water")
        if water is not None and abs(float(water) - self.expected_c) > 2.0:
            self.ask(
                "water",
                _("At this height water usually boils within 2 °C (3.6 °F) of another temperature."),
                about=water,
                yes=_("Yes, the thermometer shows this"),
            )
        return data


class TakesForm(ActForm):
    """How much of each tank goes into the pan; a tank past its boil-by needs somebody's name and reason."""

    approver = forms.ModelChoiceField(
        label=gettext_lazy("Who says it may be boiled"),
        queryset=Person.objects.none(),
        required=False,
        empty_label=gettext_lazy("choose a person"),
    )
    reason = forms.CharField(
        label=gettext_lazy("Why it may be boiled"),
        max_length=300,
        required=False,
        help_text=gettext_lazy("Looked at, smelled, tasted after a boil. Cloudy, ropy or sour sap is tipped out."),
    )

    def __init__(
        self,
        *args: Any,
        tanks: list[tuple[Vessel, int]],
        late: frozenset[Any] = frozenset(),
        suggest: bool = True,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.tanks, self.late = tanks, late
        for vessel, held_ml in tanks:
            field = QuantityField(
                label=vessel.code,
                kind="volume",
                smallest=0,
                largest=held_ml,
                required=False,
                units=self.units,
                help_text=_("It holds %(held)s;") % {"held": in_words("volume", held_ml, self.units)},
            )
            field.keep(held_ml)
            self.fields[f"tank-{vessel.pk}"] = field
            if suggest and vessel.pk not in late:
                self.initial.setdefault(f"tank-{vessel.pk}", held_ml)
        if not late:
            del self.fields["approver"], self.fields["reason"]
        else:
            self.fields["approver"].queryset = may_approve()  # type: ignore[attr-defined]
        self.order_fields([*(f"tank-{vessel.pk}" for vessel, _held in tanks), "approver", "reason", "when"])

    def takes(self) -> list[tuple[Vessel, int]]:
        return [(vessel, ml) for vessel, _held in self.tanks if (ml := self.cleaned_data.get(f"tank-{vessel.pk}") or 0)]


def may_approve() -> Any:
    """People who may let late sap into a pan."""
    roles = [role for role, _reach in access_reach("boil.plan")]
    live = Membership.objects.live(timezone.localdate()).filter(role__in=roles)
    return Person.objects.filter(pk__in=live.values("person_id"), is_active=True)


def access_reach(act: str) -> list[tuple[str, str]]:
    """Roles that may do an act, by the table of who may do what."""
    return [(str(role), reach) for entry in access.table() if entry.act == act for role, reach in entry.reach.items()]


class DrawForm(ActForm):
    """Syrup out of the pan, into a lot."""

    syrup = QuantityField(label=gettext_lazy("Syrup drawn off"), kind="volume", smallest=1, largest=LARGEST_ML)
    temperature = QuantityField(
        label=gettext_lazy("Drawn off at"),
        kind="temperature",
        smallest=Decimal(20),
        largest=Decimal(150),
        required=False,
    )
    syrup_brix = BrixOne(
        label=gettext_lazy("Density"),
        least=40,
        most=80,
        help_text=gettext_lazy("At 20 °C (68 °F), by hydrometer or refractometer: it decides, not the thermometer."),
    )
    filter = QuantityField(
        label=gettext_lazy("Kept by the filter"), kind="volume", smallest=0, largest=LARGEST_ML, required=False
    )
    lot = forms.ModelChoiceField(
        label=gettext_lazy("Into lot"),
        queryset=Vessel.objects.none(),
        required=False,
        empty_label=gettext_lazy("a new lot"),
    )

    def __init__(self, *args: Any, lots: Any, most_ml: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.most_ml = most_ml
        self.fields["lot"].queryset = lots  # type: ignore[attr-defined]
        self.order_fields(["syrup", "temperature", "syrup_brix", "lot", "filter", "when"])

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        syrup = data.get("syrup")
        if syrup is not None and syrup > self.most_ml:
            words = {
                "typed": in_words("volume", syrup, self.units),
                "most": in_words("volume", self.most_ml, self.units),
            }
            self.ask(
                "more",
                _("%(typed)s is more than the sugar in the pan makes: about %(most)s at most.") % words,
                about=syrup,
                yes=_("%(typed)s is right") % words,
            )
        return data


CAUSES = [
    ("boil-over", gettext_lazy("boiled over")),
    ("scorched", gettext_lazy("scorched")),
    ("spilled", gettext_lazy("spilled")),
    ("sample", gettext_lazy("taken as a sample")),
]


class LossForm(ActForm):
    """What left the pan and is no syrup."""

    volume = QuantityField(label=gettext_lazy("How much"), kind="volume", smallest=1, largest=LARGEST_ML)
    cause = forms.ChoiceField(label=gettext_lazy("What happened"), choices=CAUSES, widget=forms.RadioSelect)
    note = forms.CharField(label=gettext_lazy("Note"), max_length=200, required=False)

    field_order = ["cause", "volume", "note", "when"]


class CloseForm(ActForm):
    """The end of a batch."""

    lost = forms.BooleanField(label=gettext_lazy("Nothing usable came out: the batch is lost"), required=False)
    loss_reason = forms.CharField(label=gettext_lazy("What happened to it"), max_length=300, required=False)
    note = forms.CharField(label=gettext_lazy("Note"), max_length=400, required=False)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if data.get("lost") and not (data.get("loss_reason") or "").strip():
            self.add_error("loss_reason", _("Write what happened: burnt, spilled, sour."))
        return data


class BackForm(ActForm):
    """What was written by mistake, and goes back."""

    reason = forms.CharField(label=gettext_lazy("What was wrong"), max_length=200)

    field_order = ["reason", "when"]
