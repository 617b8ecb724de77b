"""What the depot keeper types when sap comes in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

from django import forms
from django.forms import BaseFormSet, formset_factory
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.boils.actions import Line
from sugarbush.boils.weighing import weighed
from sugarbush.core.units import ML_PER
from sugarbush.gathering.models import Look
from sugarbush.kit.models import Container, Depot
from sugarbush.parts.forms import BrixField, MomentInput, QuantityField, UnitsForm
from sugarbush.parts.shown import in_words
from sugarbush.sap.models import Vessel
from sugarbush.seasons.models import Season
from sugarbush.volunteers.models import Membership, Person

LARGEST_ML = 2_000_000
FIRST_LINES, MORE_LINES, MOST_LINES = 2, 2, 40
LITRES_PER_GALLON = float(ML_PER["gal"]) / 1000
REJECT = [
    ("", gettext_lazy("nothing turned away")),
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
        help_text=gettext_lazy(
            "Only for a large difference: a coordinator who has seen it. They are asked to confirm it themselves."
        ),
    )
    overfill_reason = forms.CharField(
        label=gettext_lazy("Why the tank holds more than its mark"),
        max_length=200,
        required=False,
        help_text=gettext_lazy("Only when the page says that a tank is too full."),
    )
    when = forms.DateTimeField(
        label=gettext_lazy("When it came"),
        widget=MomentInput,
        required=False,
        help_text=gettext_lazy("Leave empty for now."),
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

    def ask_about(self, *, held_ml: int, measured_ml: int, tolerance_ml: int) -> bool:
        """Put the questions that only all containers together raise. True when nothing stands open."""
        data = self.cleaned_data
        about = f"{held_ml}:{measured_ml}"
        explained = data["explanation"].strip() or data["ahead"]
        ratio = measured_ml / held_ml if held_ml else 0
        slip = 0.93 < ratio / LITRES_PER_GALLON < 1.07 or 0.93 < ratio * LITRES_PER_GALLON < 1.07
        words = {
            "who": data["person"],
            "held": in_words("volume", held_ml, self.units),
            "measured": in_words("volume", measured_ml, self.units),
        }
        if slip and not explained:
            other = in_words("volume", measured_ml, "metric" if self.units == "us" else "us")
            self.ask(
                "unit-slip",
                _("%(who)s holds %(held)s; this says %(measured)s. Litres and gallons mixed up?") % words,
                about=about,
                yes=_("No, %(measured)s is right (%(other)s)") % {**words, "other": other},
            )
        elif 0 < held_ml - measured_ml <= tolerance_ml and not data["all_of_it"]:
            rest = in_words("volume", held_ml - measured_ml, self.units, exact=True)
            self.ask(
                "small-rest",
                _("By their entries %(who)s would still carry %(rest)s. Was that all?") % {**words, "rest": rest},
                about=about,
                yes=_("No, they still carry %(rest)s") % {"rest": rest},
                instead=("all_of_it", "on"),
                instead_words=_("Yes, that was all"),
            )
        return all(question.answered for question in self.questions)

    def ask(self, code: str, sentence: str, *, instead_words: str = "", **more: Any) -> bool:
        """As every form asks, with the words of the other answer where its value has none."""
        answered = super().ask(code, sentence, **more)
        if instead_words:
            self.questions[-1] = replace(self.questions[-1], instead_words=instead_words)
        return answered


class LineForm(UnitsForm):
    """One container: measured in volume or weighed, into a tank, turned away, or part of each."""

    container_text = forms.CharField(
        label=gettext_lazy("Container"),
        max_length=40,
        required=False,
        widget=forms.TextInput(attrs={"list": "containers", "autocomplete": "off", "autocapitalize": "characters"}),
        help_text=gettext_lazy("its code, as it is written on it"),
    )
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
    away = QuantityField(
        label=gettext_lazy("Only this much turned away"),
        kind="volume",
        smallest=1,
        largest=LARGEST_ML,
        required=False,
        help_text=gettext_lazy("when part of it goes in the tank;"),
    )

    def __init__(self, *args: Any, tanks: Any, known: Mapping[str, Container] | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.known = known
        self.fields["tank"].queryset = tanks  # type: ignore[attr-defined]

    @property
    def is_blank(self) -> bool:
        return not any(
            self.data.get(self.add_prefix(name), "").strip() for name in ("container_text", "volume", "mass")
        )

    @property
    def container(self) -> Container | None:
        code = str(self.cleaned_data.get("container_text", ""))
        if self.known is not None:
            return self.known.get(code.casefold())
        return Container.objects.filter(code__iexact=code).first() if code else None

    def clean_container_text(self) -> str:
        return str(self.cleaned_data.get("container_text", "")).strip()

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if self.is_blank or self.errors:
            return data
        volume, mass = data.get("volume"), data.get("mass")
        if volume is None and mass is None:
            self.add_error("volume", _("Say how much is in it: a volume or a weight."))
            return data
        if mass is not None:
            by_weight = weighed(mass, data.get("sugar"), data.get("temperature")).volume_ml
            if volume is None:
                data["volume"] = volume = by_weight
            elif abs(volume - by_weight) > max(250, by_weight * 0.05):
                self.add_error(
                    "mass",
                    _("That weight is %(litres)s. Give the weight or the volume, not both.")
                    % {"litres": in_words("volume", by_weight, self.units)},
                )
        self._check_where(data, int(volume or 0))
        if not self.errors:
            self._ask_about_size(int(volume or 0))
        return data

    def _check_where(self, data: dict[str, Any], volume_ml: int) -> None:
        tank, reason, away = data.get("tank"), data.get("reject_reason"), data.get("away")
        if not data["container_text"]:
            self.add_error("container_text", _("Write the code of the container, or what it is if it has none."))
        if not tank and not reason:
            self.add_error("tank", _("Choose a tank, or say why it is turned away."))
        elif tank and reason and away is None:
            self.add_error(
                "away", _("A tank and a reason: say how much of it is turned away, or take one of them away.")
            )
        elif away is not None and not (tank and reason):
            self.add_error("away", _("Choose the tank of the rest, and say why this part is turned away."))
        elif away is not None and away >= volume_ml:
            self.add_error(
                "away",
                _("There is only %(volume)s in it. If all of it is turned away, choose no tank.")
                % {"volume": in_words("volume", volume_ml, self.units)},
            )

    def _ask_about_size(self, volume_ml: int) -> None:
        """More than the container holds is asked about; with the other unit named where that would fit."""
        container = self.container
        if container is None or volume_ml <= container.capacity_ml * 1.05:
            return
        meant_ml = round(volume_ml / LITRES_PER_GALLON) if self.units == "us" else 0
        fits = 0 < meant_ml <= container.capacity_ml
        self.ask(
            "more-than-it-holds",
            _("%(volume)s from %(code)s, which holds %(most)s.")
            % {
                "volume": in_words("volume", volume_ml, self.units),
                "code": container.code,
                "most": in_words("volume", container.capacity_ml, self.units),
            },
            about=volume_ml,
            yes=_("It is right: it was filled more than once"),
            instead=("volume", f"{meant_ml / 1000:g} L") if fits else None,
        )

    def lines(self) -> list[Line]:
        """The container as one line, or as two where part of it was turned away."""
        data = self.cleaned_data
        volume_ml, away_ml, mass_g = data["volume"], data.get("away"), data["mass"]
        more = {
            "container": self.container,
            "container_text": data["container_text"],
            "sugar_brix": data["sugar"],
            "temperature_c": data["temperature"],
            "look": data["look"],
        }
        if away_ml is None:
            return [
                Line(volume_ml=volume_ml, mass_g=mass_g, tank=data["tank"], reject_reason=data["reject_reason"], **more)
            ]
        away_g = None if mass_g is None else round(mass_g * away_ml / volume_ml)
        kept_g = None if away_g is None else mass_g - away_g
        return [
            Line(volume_ml=volume_ml - away_ml, mass_g=kept_g, tank=data["tank"], **more),
            Line(volume_ml=away_ml, mass_g=away_g, reject_reason=data["reject_reason"], **more),
        ]


def filled(lines: BaseFormSet[LineForm]) -> list[LineForm]:
    """The containers somebody wrote something about; blank ones are left out."""
    return [form for form in lines.forms if not form.is_blank]


LineForms = formset_factory(LineForm, extra=0, min_num=FIRST_LINES, max_num=MOST_LINES, absolute_max=60)


def as_typed(fields: Sequence[str], data: Mapping[str, Any], prefix: str = "") -> dict[str, Any]:
    """What was typed so far, for a form that is only made longer and not judged yet."""
    return {name: data.get(f"{prefix}{name}", "") for name in fields}


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


class HandOverForm(UnitsForm):
    """Sap from one pair of hands into another."""

    act = forms.UUIDField(widget=forms.HiddenInput)
    giver = forms.ModelChoiceField(
        label=gettext_lazy("Who carried it"),
        queryset=Person.objects.none(),
        empty_label=gettext_lazy("choose a person"),
    )
    taker = forms.ModelChoiceField(
        label=gettext_lazy("Who carries it on"),
        queryset=Person.objects.none(),
        empty_label=gettext_lazy("choose a person"),
    )
    volume = QuantityField(label=gettext_lazy("How much"), kind="volume", smallest=1, largest=LARGEST_ML)
    when = forms.DateTimeField(
        label=gettext_lazy("When"), widget=MomentInput, required=False, help_text=gettext_lazy("Leave empty for now.")
    )
    note = forms.CharField(label=gettext_lazy("Note"), max_length=300, required=False)

    def __init__(self, *args: Any, people: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("giver", "taker"):
            self.fields[name].queryset = people  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if data.get("giver") and data.get("giver") == data.get("taker"):
            self.add_error("taker", _("Choose somebody else than the one who carried it."))
        return data
