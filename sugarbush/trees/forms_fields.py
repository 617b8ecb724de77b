"""What several of the trees' forms ask: a place, the size of each stem, a species with its evidence, a photo."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterator
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.core.errors import CoreError
from sugarbush.core.trunk import LARGEST_GIRTH_UM, Across, size_as_diameter_um
from sugarbush.core.units import from_um, plain
from sugarbush.parts.forms import DayInput, QuantityField, UnitsForm
from sugarbush.parts.shown import in_words
from sugarbush.parts.uploads import clean_image, held, hold, let_go
from sugarbush.seasons.models import Programme
from sugarbush.trees.actions_looks import Seen, Size
from sugarbush.trees.models import Species
from sugarbush.trees.records import Evidence
from sugarbush.volunteers.models import Person

MOST_STEMS = 6
STEM_NAMES = tuple(f"stem_{number}" for number in range(1, MOST_STEMS + 1))
LEAST_STEM_UM = 10_000
GIANT_UM = 1_500_000
OLDEST_YEARS = 20


class DegreesField(forms.FloatField):
    """Longitude or latitude in degrees; a comma will do."""

    unit_sign = "°"

    def __init__(self, *, most: float, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.TextInput(attrs={"inputmode": "text", "autocomplete": "off"}))
        super().__init__(min_value=-most, max_value=most, **kwargs)

    def to_python(self, value: Any) -> Any:
        if isinstance(value, str):
            value = value.replace("\u2212", "-").replace(",", ".").strip(" °\u00a0")
        return super().to_python(value)


class SpeciesField(forms.ModelChoiceField[Species]):
    """All kinds of tree, those that may be tapped first."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("label", gettext_lazy("Species"))
        kwargs.setdefault("empty_label", gettext_lazy("not sure which"))
        super().__init__(Species.objects.order_by("-tappable", "common"), **kwargs)

    def label_from_instance(self, obj: Any) -> str:
        return f"{obj.common} ({obj.botanical})"


class DayField(forms.DateField):
    """A day that has been: today or before, at most some years ago."""

    def __init__(self, *, oldest_days: int = 366 * OLDEST_YEARS, **kwargs: Any) -> None:
        kwargs.setdefault("label", gettext_lazy("Day"))
        super().__init__(widget=DayInput(), initial=timezone.localdate, **kwargs)
        self.oldest_days = oldest_days

    def validate(self, value: dt.date | None) -> None:
        super().validate(value)
        if value is None:
            return
        today = timezone.localdate()
        if value > today:
            raise ValidationError(_("This day is still to come. Choose today or an earlier day."), code="future")
        if value < today - dt.timedelta(days=self.oldest_days):
            raise ValidationError(_("This day is too long ago to count. Check the year."), code="too_old")


class PersonForm(UnitsForm):
    """A form that knows who fills it in."""

    def __init__(self, *args: Any, person: Person, **kwargs: Any) -> None:
        self.person = person
        super().__init__(*args, **kwargs)


class PlaceForm(UnitsForm):
    """Where a tree stands."""

    longitude = DegreesField(label=gettext_lazy("Longitude"), most=180, help_text=gettext_lazy("degrees, west below 0"))
    latitude = DegreesField(label=gettext_lazy("Latitude"), most=90, help_text=gettext_lazy("degrees, north above 0"))
    address = forms.CharField(
        label=gettext_lazy("Address"), max_length=120, required=False, help_text=gettext_lazy("12 Larkspur Street")
    )
    side = forms.CharField(
        label=gettext_lazy("Side of the street"),
        max_length=40,
        required=False,
        help_text=gettext_lazy("east, or back yard"),
    )
    nth = forms.IntegerField(
        label=gettext_lazy("Which tree there"),
        min_value=1,
        max_value=99,
        required=False,
        help_text=gettext_lazy("1 is the first from the corner or the gate"),
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )

    def ask_about_place(self, cleaned: dict[str, Any]) -> None:
        """Question a place outside the programme's box on the map."""
        longitude, latitude = cleaned.get("longitude"), cleaned.get("latitude")
        programme = Programme.current()
        box = programme.box if programme else None
        if box is None or longitude is None or latitude is None or _inside(box, longitude, latitude):
            return
        sentence = _("This place is outside %(town)s.") % {"town": programme.place if programme else ""}
        if _inside(box, latitude, longitude):
            sentence += " " + _("Longitude and latitude may be swapped.")
        self.ask("outside", sentence, about=f"{longitude},{latitude}", yes=_("The tree stands there"))


def _inside(box: tuple[float, float, float, float], longitude: float, latitude: float) -> bool:
    west, south, east, north = box
    return west <= longitude <= east and south <= latitude <= north


def _stem_field(number: int) -> QuantityField:
    return QuantityField(
        kind="diameter",
        smallest=LEAST_STEM_UM,
        largest=LARGEST_GIRTH_UM,
        required=False,
        label=gettext_lazy("Trunk, at chest height") if number == 1 else _("Stem %(number)d") % {"number": number},
    )


class SizeForm(UnitsForm):
    """The size of the trunk, stem by stem. Stems are never added up: the largest one alone judges the tree."""

    measured = forms.ChoiceField(
        label=gettext_lazy("Measured"),
        choices=[("round", gettext_lazy("round the trunk (tape)")), ("across", gettext_lazy("across the trunk"))],
        initial="round",
        widget=forms.RadioSelect,
    )
    stem_1 = _stem_field(1)
    stem_2 = _stem_field(2)
    stem_3 = _stem_field(3)
    stem_4 = _stem_field(4)
    stem_5 = _stem_field(5)
    stem_6 = _stem_field(6)

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        cleaned["size"] = self._size(cleaned)
        return cleaned

    def _size(self, cleaned: dict[str, Any]) -> Size | None:
        measured: Across = "across" if cleaned.get("measured") == "across" else "round"
        stems: list[int] = []
        given: list[int] = []
        for name in STEM_NAMES:
            typed = cleaned.get(name)
            if typed is None:
                continue
            try:
                stems.append(size_as_diameter_um(typed, measured))
                given.append(typed)
            except CoreError as refusal:
                self.add_error(name, refusal.sentence(_))
        if not stems:
            return None
        largest = max(stems)
        if measured == "across" and largest > GIANT_UM:
            self.ask(
                "giant",
                _("%(size)s across would be a giant. Was it measured round the trunk?")
                % {"size": in_words("diameter", largest, self.units)},
                about=largest,
                yes=_("It is this wide"),
                instead=("measured", "round"),
            )
        return Size(stems_um=tuple(stems), as_given=self._as_given(max(given), measured, len(stems)))

    def _as_given(self, largest_um: int, measured: Across, stems: int) -> str:
        unit = "cm" if self.units == "metric" else "in"
        size = f"{plain(round(from_um(largest_um, unit), 2))} {unit}"
        words = _("%(size)s round") if measured == "round" else _("%(size)s across")
        text = words % {"size": size}
        return (_("%(text)s, largest of %(stems)d") % {"text": text, "stems": stems} if stems > 1 else text)[:40]

    def stem_fields(self) -> Iterator[forms.BoundField]:
        """The lines for a second stem and more."""
        yield from (self[name] for name in STEM_NAMES[1:])

    @property
    def has_more_stems(self) -> bool:
        return any(self[name].value() for name in STEM_NAMES[1:])


class PhotoForm(PersonForm):
    """A photo that is not asked for twice when the form comes back with a question."""

    photo = forms.FileField(
        label=gettext_lazy("Photo"),
        required=False,
        widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
        help_text=gettext_lazy("JPEG, PNG or WebP, up to 12 MB. Where and when it was taken is removed from the file."),
    )
    photo_kept = forms.CharField(required=False, widget=forms.HiddenInput)

    def clean_photo(self) -> ContentFile[Any] | None:
        sent = self.cleaned_data.get("photo")
        if sent:
            clean = clean_image(sent)
            # Known at once: whatever else is wrong on the form, the photo is here and stays.
            posted: Any = self.data
            data = posted.copy()
            data[self.add_prefix("photo_kept")] = hold(clean, whose=self.person.pk)
            self.data = data
            return clean
        return held(self.data.get(self.add_prefix("photo_kept")) or "", whose=self.person.pk)

    @property
    def photo_is_here(self) -> bool:
        return bool(self.is_bound and self.data.get(self.add_prefix("photo_kept")))

    def photo_saved(self) -> None:
        """The photo is where it belongs; the held copy may go."""
        let_go(self.data.get(self.add_prefix("photo_kept")) or "")


class SeenForm(SizeForm, PhotoForm):
    """One look at a tree: size, species and what told it, a photo, a note."""

    uuid = forms.UUIDField(initial=uuid.uuid4, widget=forms.HiddenInput)
    date = DayField(label=gettext_lazy("Day of the look"))
    species = SpeciesField(required=False)
    evidence = forms.ChoiceField(
        label=gettext_lazy("What told you"),
        choices=[("", gettext_lazy("choose one")), *Evidence.choices],
        required=False,
        help_text=gettext_lazy("Leaf, fruit, twig or an arborist can make it sure. Bark alone cannot."),
    )
    note = forms.CharField(
        label=gettext_lazy("Note"), max_length=400, required=False, widget=forms.Textarea(attrs={"rows": 3})
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if cleaned.get("species") and not cleaned.get("evidence"):
            self.add_error("evidence", _("Say what told you which species it is."))
        return cleaned

    @property
    def seen(self) -> Seen:
        cleaned = self.cleaned_data
        return Seen(
            date=cleaned["date"],
            size=cleaned["size"],
            species=cleaned["species"],
            evidence=cleaned["evidence"],
            note=cleaned["note"],
            photo=cleaned["photo"],
            uuid=cleaned["uuid"],
        )
