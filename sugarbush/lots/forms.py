"""What is typed at the bottling table, over the counter, and at the telephone."""

from __future__ import annotations

import uuid
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.core import instruments
from sugarbush.core.errors import CoreError
from sugarbush.lots.models import Colour, Lot
from sugarbush.lots.packing import HEEL_NEXT, HEEL_TASTED, HEEL_THROWN, Jars, Pack
from sugarbush.lots.sizes import USUAL, size_words
from sugarbush.owners.models import Owner
from sugarbush.parts.forms import BrixField, MomentInput, QuantityField, UnitsForm
from sugarbush.parts.wording import volume_words
from sugarbush.sap.models import Vessel
from sugarbush.volunteers.models import Person

OTHERS = (1, 2)
LARGEST_JAR_ML, MOST_JARS = 20_000, 9_999
AS_READ, REFRACTOMETER, HYDROMETER = "as-read", "refractometer", "hydrometer"
INSTRUMENTS = [
    (AS_READ, gettext_lazy("Refractometer that corrects by itself, or zeroed on water as warm")),
    (REFRACTOMETER, gettext_lazy("Refractometer that does not")),
    (HYDROMETER, gettext_lazy("Hydrometer, hot or cold")),
]
ONE_PLACE = Decimal("0.1")


def _count_input() -> forms.NumberInput:
    return forms.NumberInput(attrs={"inputmode": "numeric", "autocomplete": "off"})


class MeasureMixin(forms.Form):
    """A density with the instrument that read it; `density()` is the true one."""

    instrument = forms.ChoiceField(
        label=gettext_lazy("Density read with"), choices=INSTRUMENTS, initial=AS_READ, required=False
    )
    reading = BrixField(label=gettext_lazy("It read"), required=False)
    reading_c = QuantityField(
        label=gettext_lazy("Syrup in the cup, or drop on the glass, at"),
        kind="temperature",
        smallest=Decimal(0),
        largest=Decimal(110),
        required=False,
        help_text=gettext_lazy("Not needed where it corrects by itself;"),
    )
    fill = QuantityField(
        label=gettext_lazy("Filled at"), kind="temperature", smallest=Decimal(0), largest=Decimal(110), required=False
    )
    off_taste = forms.CharField(
        label=gettext_lazy("Taste, where something is off"),
        max_length=120,
        required=False,
        help_text=gettext_lazy("Leave empty when it tastes right."),
    )

    def density(self) -> Decimal | None:
        """The true density to one place; complains on the form where the instrument cannot say."""
        data = self.cleaned_data
        reading, degrees, kind = data.get("reading"), data.get("reading_c"), data.get("instrument") or AS_READ
        if reading is None or kind == AS_READ:
            return None if reading is None else reading.quantize(ONE_PLACE, rounding=ROUND_HALF_UP)
        if degrees is None:
            self.add_error("reading_c", _("Say how warm it was: the reading means nothing without."))
            return None
        try:
            if kind == HYDROMETER:
                true = instruments.brix_from_hydrometer(reading_brix=float(reading), temperature_c=float(degrees))
            else:
                true = instruments.syrup_brix_from_refractometer(
                    reading_brix=float(reading), temperature_c=float(degrees), compensates=False
                )
        except CoreError as refusal:
            self.add_error("reading", refusal.sentence(_))
            return None
        return Decimal(str(true)).quantize(ONE_PLACE, rounding=ROUND_HALF_UP)

    def reading_kept(self) -> dict[str, Any]:
        data = self.cleaned_data
        if data.get("reading") is None:
            return {}
        degrees = data.get("reading_c")
        return {
            "instrument": data.get("instrument") or AS_READ,
            "brix": str(data["reading"]),
            "temperature_c": None if degrees is None else str(degrees),
        }


class PackForm(UnitsForm, MeasureMixin):
    """One packing: the syrup, the jars, what was left over, and what it measured."""

    entry = forms.UUIDField(widget=forms.HiddenInput)
    vessels = forms.ModelMultipleChoiceField(
        label=gettext_lazy("Syrup to pack"),
        queryset=Vessel.objects.none(),
        widget=forms.CheckboxSelectMultiple,
        help_text=gettext_lazy("Several are poured together into one lot."),
    )
    heel = QuantityField(label=gettext_lazy("Heel"), kind="volume", smallest=0, largest=200_000, required=False)
    heel_to = forms.ChoiceField(
        label=gettext_lazy("The heel went"),
        choices=[
            (HEEL_NEXT, gettext_lazy("into the next lot")),
            (HEEL_TASTED, gettext_lazy("into spoons: tasted")),
            (HEEL_THROWN, gettext_lazy("away")),
        ],
        widget=forms.RadioSelect,
        required=False,
        initial=HEEL_NEXT,
    )
    held_by_filter = QuantityField(
        label=gettext_lazy("Held by the filter"), kind="volume", smallest=0, largest=200_000, required=False
    )
    light = forms.DecimalField(
        label=gettext_lazy("Light through it, %"),
        max_digits=4,
        decimal_places=1,
        min_value=0,
        max_value=100,
        required=False,
        help_text=gettext_lazy("With a grading instrument at 560 nm; it decides the colour."),
    )
    colour = forms.ChoiceField(
        label=gettext_lazy("or colour by eye"),
        choices=[("", gettext_lazy("not judged")), *Colour.choices],
        required=False,
    )
    explanation = forms.CharField(
        label=gettext_lazy("Why jars and syrup differ"),
        max_length=400,
        required=False,
        help_text=gettext_lazy("Only when the page asks for it."),
    )
    when = forms.DateTimeField(
        label=gettext_lazy("When"), widget=MomentInput, required=False, help_text=gettext_lazy("Leave empty for now.")
    )
    note = forms.CharField(label=gettext_lazy("Note"), max_length=400, required=False)

    def __init__(self, *args: Any, waiting: list[tuple[Vessel, int]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.waiting = waiting
        words = {vessel.pk: volume_words(ml, self.units, exact=True) for vessel, ml in waiting}
        field = self.fields["vessels"]
        field.queryset = Vessel.objects.filter(pk__in=list(words))  # type: ignore[attr-defined]
        field.label_from_instance = lambda vessel: f"{vessel}: {words[vessel.pk]}"  # type: ignore[attr-defined]
        if not self.is_bound:
            self.initial.setdefault("entry", uuid.uuid4())
            if len(waiting) == 1:
                self.initial.setdefault("vessels", [waiting[0][0].pk])
        self.sizes = USUAL[self.units]
        for size, _label in self.sizes:
            self._counts(str(size))
        for n in OTHERS:
            self.fields[f"size_{n}"] = QuantityField(
                label=_("Another size"), kind="jar", smallest=10, largest=LARGEST_JAR_ML, required=False
            )
            self.fields[f"size_{n}"].use_units(self.units)  # type: ignore[attr-defined]
            self._counts(f"other_{n}")

    def _counts(self, name: str) -> None:
        for word, label in (("filled", _("filled")), ("broken", _("broken"))):
            self.fields[f"{word}_{name}"] = forms.IntegerField(
                label=label, min_value=0, max_value=MOST_JARS, required=False, widget=_count_input()
            )

    @property
    def jar_rows(self) -> list[dict[str, Any]]:
        """For the page: each usual size with its two counts, then the free lines."""
        rows: list[dict[str, Any]] = [
            {"size": size, "label": label, "counts": [self[f"filled_{size}"], self[f"broken_{size}"]]}
            for size, label in self.sizes
        ]
        rows += [
            {
                "other": self[f"size_{n}"],
                "counts": [self[f"filled_other_{n}"], self[f"broken_other_{n}"]],
            }
            for n in OTHERS
        ]
        return rows

    def jars(self) -> list[Jars]:
        data = self.cleaned_data
        found = []
        for size, _label in self.sizes:
            if data.get(f"filled_{size}"):
                found.append(Jars(size_ml=size, filled=data[f"filled_{size}"], broken=data.get(f"broken_{size}") or 0))
        for n in OTHERS:
            own, filled = data.get(f"size_{n}"), data.get(f"filled_other_{n}")
            if own and filled:
                found.append(Jars(size_ml=own, filled=filled, broken=data.get(f"broken_other_{n}") or 0))
        return found

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        for n in OTHERS:
            if data.get(f"filled_other_{n}") and not data.get(f"size_{n}") and f"size_{n}" not in self.errors:
                self.add_error(f"size_{n}", _("Say how large these jars are."))
        names = [str(size) for size, _label in self.sizes] + [f"other_{n}" for n in OTHERS]
        for name in names:
            if (data.get(f"broken_{name}") or 0) > (data.get(f"filled_{name}") or 0):
                self.add_error(f"broken_{name}", _("Not more jars can break than were filled."))
        data["syrup_brix"] = self.density()
        return data

    def packing(self) -> Pack:
        data = self.cleaned_data
        return Pack(
            jars=self.jars(),
            heel_ml=data["heel"] or 0,
            heel_to=data["heel_to"] or HEEL_NEXT,
            filter_ml=data["held_by_filter"] or 0,
            syrup_brix=data["syrup_brix"],
            reading=self.reading_kept(),
            fill_temperature_c=data["fill"],
            light_pct=data["light"],
            colour=data["colour"],
            off_taste=data["off_taste"],
            explanation=data["explanation"],
            note=data["note"],
        )


class MeasureForm(UnitsForm, MeasureMixin):
    """Another reading of a lot that is not released."""

    reason = forms.CharField(label=gettext_lazy("What was measured again, and why"), max_length=300)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        data["syrup_brix"] = self.density()
        return data


class ReasonForm(UnitsForm):
    reason = forms.CharField(label=gettext_lazy("Why"), max_length=300)


class SizeForm(UnitsForm):
    """Jars of one size of a lot; `sizes` is what stands here."""

    entry = forms.UUIDField(widget=forms.HiddenInput)
    size = forms.TypedChoiceField(label=gettext_lazy("Size"), coerce=int)
    count = forms.IntegerField(label=gettext_lazy("How many"), min_value=1, max_value=MOST_JARS, widget=_count_input())

    def __init__(self, *args: Any, sizes: dict[int, int], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [
            (size, _("%(size)s, %(n)d here") % {"size": size_words(size), "n": n})
            for size, n in sorted(sizes.items(), reverse=True)
            if n
        ]
        self.fields["size"].choices = choices  # type: ignore[attr-defined]
        if not self.is_bound:
            self.initial["entry"] = uuid.uuid4()


class IssueForm(SizeForm):
    """Jars for somebody: a person of the programme, an owner, or anybody named in words."""

    person = forms.ModelChoiceField(
        label=gettext_lazy("To a person"),
        queryset=Person.objects.filter(is_active=True),
        required=False,
        empty_label=gettext_lazy("nobody of the programme"),
    )
    owner = forms.ModelChoiceField(
        label=gettext_lazy("or to an owner"),
        queryset=Owner.objects.none(),
        required=False,
        empty_label=gettext_lazy("no owner"),
    )
    to_text = forms.CharField(
        label=gettext_lazy("or to somebody else"),
        max_length=120,
        required=False,
        help_text=gettext_lazy("Name them so that a recall can find them."),
    )
    purpose = forms.CharField(label=gettext_lazy("As what"), max_length=40, required=False)

    def __init__(self, *args: Any, owners: Any = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if owners is None:
            del self.fields["owner"]
        else:
            self.fields["owner"].queryset = owners  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        named = [bool(data.get(name)) for name in ("person", "owner", "to_text")]
        if sum(named) != 1 and not self.errors:
            self.add_error(None, _("Say who gets the jars: one person, one owner, or one name."))
        return data


class BreakForm(SizeForm):
    reason = forms.CharField(label=gettext_lazy("What happened"), max_length=300)
    destroyed = forms.BooleanField(label=gettext_lazy("Destroyed on purpose"), required=False)


class BackForm(UnitsForm):
    entry = forms.UUIDField(widget=forms.HiddenInput)
    count = forms.IntegerField(
        label=gettext_lazy("How many came back"), min_value=1, max_value=MOST_JARS, widget=_count_input()
    )
    reason = forms.CharField(label=gettext_lazy("Why"), max_length=300, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not self.is_bound:
            self.initial["entry"] = uuid.uuid4()


class RecallForm(UnitsForm):
    """Which lots, and why. Lots come from a trace or are ticked by hand."""

    entry = forms.UUIDField(widget=forms.HiddenInput)
    reason = forms.CharField(label=gettext_lazy("Why they are called back"), max_length=400)
    lots = forms.ModelMultipleChoiceField(
        label=gettext_lazy("Lots"), queryset=Lot.objects.none(), widget=forms.CheckboxSelectMultiple
    )

    def __init__(self, *args: Any, lots: dict[Lot, str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        words = {lot.pk: text for lot, text in lots.items()}
        field = self.fields["lots"]
        field.queryset = Lot.objects.filter(pk__in=list(words))  # type: ignore[attr-defined]
        field.label_from_instance = lambda lot: words[lot.pk]  # type: ignore[attr-defined]
        if not self.is_bound:
            self.initial.setdefault("entry", uuid.uuid4())


class CallForm(UnitsForm):
    reached = forms.ChoiceField(
        choices=[("yes", gettext_lazy("Told them")), ("no", gettext_lazy("Tried, not reached"))],
        label=gettext_lazy("How it went"),
    )
    note = forms.CharField(label=gettext_lazy("What they said, or how you tried"), max_length=200, required=False)


class CloseRecallForm(UnitsForm):
    outcome = forms.CharField(label=gettext_lazy("How it ended"), max_length=400)
    safe = forms.BooleanField(
        label=gettext_lazy("A false alarm: the lots are safe and stand as before"), required=False
    )
