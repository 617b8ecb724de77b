"""What is chosen about a file before it is taken in."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.trees.files import ImportRun
from sugarbush.trees.reading.mapping import CHOICES, COLUMN_FIELDS, Mapping
from sugarbush.trees.reading.place import Box
from sugarbush.trees.reading.rows import RawRow

EDGES = ("west", "south", "east", "north")
_SAMPLE_LETTERS = 24

LABELS = {
    "number": gettext_lazy("Number of the tree"),
    "address": gettext_lazy("Address"),
    "street": gettext_lazy("Street"),
    "house": gettext_lazy("House number"),
    "side": gettext_lazy("Side of the street"),
    "botanical": gettext_lazy("Botanical name"),
    "common": gettext_lazy("Common name"),
    "code": gettext_lazy("Species code"),
    "code_list": gettext_lazy("Whose codes"),
    "size": gettext_lazy("Size of the trunk"),
    "size_kind": gettext_lazy("The size is measured"),
    "size_unit": gettext_lazy("Unit where the cell has none"),
    "decimal": gettext_lazy("Decimal mark"),
    "stems": gettext_lazy("Stems"),
    "longitude": gettext_lazy("Longitude"),
    "latitude": gettext_lazy("Latitude"),
    "position": gettext_lazy("Both in one column"),
    "position_order": gettext_lazy("Order in that column"),
    "land": gettext_lazy("Whose land"),
    "status": gettext_lazy("State of the tree"),
    "site": gettext_lazy("Kind of site"),
    "note": gettext_lazy("Note"),
    "surveyed": gettext_lazy("Day of the survey"),
    "date_order": gettext_lazy("Order of the day"),
}
OPTIONS = {
    "size_kind": {"diameter": gettext_lazy("across (diameter)"), "girth": gettext_lazy("around (girth)")},
    "size_unit": {
        "in": gettext_lazy("inches (in)"),
        "cm": gettext_lazy("centimetres (cm)"),
        "mm": gettext_lazy("millimetres (mm)"),
        "m": gettext_lazy("metres (m)"),
    },
    "decimal": {".": gettext_lazy("point: 18.5"), ",": gettext_lazy("comma: 18,5")},
    "position_order": {
        "lon lat": gettext_lazy("longitude first"),
        "lat lon": gettext_lazy("latitude first"),
    },
    "date_order": {
        "ymd": gettext_lazy("year, month, day"),
        "mdy": gettext_lazy("month, day, year"),
        "dmy": gettext_lazy("day, month, year"),
    },
    "code_list": {
        "": gettext_lazy("nobody said"),
        "plants": gettext_lazy("USDA PLANTS symbols (ACSA3 is sugar maple)"),
        "street": gettext_lazy("street tree codes (ACSA1 is silver maple)"),
    },
}
GROUPS = (
    (gettext_lazy("Where it stands"), ("longitude", "latitude", "position", "position_order")),
    (gettext_lazy("Which species"), ("botanical", "common", "code", "code_list")),
    (gettext_lazy("How big"), ("size", "size_kind", "size_unit", "decimal", "stems")),
    (gettext_lazy("Which tree"), ("number", "address", "street", "house", "side")),
    (gettext_lazy("What else"), ("status", "site", "land", "note", "surveyed", "date_order")),
)


class FileField(forms.FileField):
    """A file received by uploads.IntoDataFolder."""

    default_error_messages = {
        "required": gettext_lazy("Choose a file first."),
        "missing": gettext_lazy("Choose a file first."),
        "invalid": gettext_lazy("Choose a file first."),
        "empty": gettext_lazy("This file is empty. Save it again where it came from and bring that one."),
    }


class BringForm(forms.Form):
    """A file to bring."""

    file = FileField(label=gettext_lazy("The file"))

    def __init__(self, *args: Any, kind: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        accepted = {"trees": ".csv,.txt,.tsv,.geojson,.json", "streets": ".geojson,.json", "past": ".csv,.txt,.tsv"}
        self.fields["file"].widget.attrs["accept"] = accepted[ImportRun.Kind(kind).value]


class EdgeField(forms.FloatField):
    """Degrees with a point or a comma, and a minus of any shape."""

    widget = forms.TextInput

    def __init__(self, *, most: int, **kwargs: Any) -> None:
        super().__init__(min_value=-most, max_value=most, required=False, **kwargs)

    def to_python(self, value: Any) -> Any:
        text = value.replace(",", ".").replace("−", "-").replace("°", "") if isinstance(value, str) else value
        return super().to_python(text)


class BoxForm(forms.Form):
    """The box rows have to lie in."""

    west = EdgeField(most=180, label=gettext_lazy("West edge"), help_text=gettext_lazy("longitude in degrees (°)"))
    south = EdgeField(most=90, label=gettext_lazy("South edge"), help_text=gettext_lazy("latitude in degrees (°)"))
    east = EdgeField(most=180, label=gettext_lazy("East edge"), help_text=gettext_lazy("longitude in degrees (°)"))
    north = EdgeField(most=90, label=gettext_lazy("North edge"), help_text=gettext_lazy("latitude in degrees (°)"))

    def clean(self) -> dict[str, Any]:
        given = super().clean() or self.cleaned_data
        edges = [given.get(name) for name in EDGES]
        if any(name in self.errors for name in EDGES) or all(edge is None for edge in edges):
            return given
        for name, edge in zip(EDGES, edges, strict=True):
            if edge is None:
                self.add_error(name, _("Give all four edges, or none."))
        if not self.errors:
            if given["west"] >= given["east"]:
                self.add_error("east", _("The east edge has to lie east of the west edge. Were they swapped?"))
            if given["south"] >= given["north"]:
                self.add_error("north", _("The north edge has to lie north of the south edge. Were they swapped?"))
        return given

    @property
    def box(self) -> Box | None:
        """The box typed; None for none."""
        edges = [edge for name in EDGES if (edge := self.cleaned_data.get(name)) is not None]
        return Box(*edges) if len(edges) == len(EDGES) else None

    @property
    def edges(self) -> list[forms.BoundField]:
        return [self[name] for name in EDGES]

    @property
    def edges_wrong(self) -> bool:
        return any(name in self.errors for name in EDGES)


class ColumnsForm(BoxForm):
    """Which column says what, the list's name, and the box."""

    source = forms.CharField(
        label=gettext_lazy("Name of this list"),
        max_length=60,
        help_text=gettext_lazy(
            "A tree is known again by this name and its number. Keep the name for a newer file of the same list; "
            "give another list another name."
        ),
    )

    field_order = ("source",)

    def __init__(
        self, *args: Any, columns: list[str], sample: list[RawRow], unsure: tuple[str, ...], **kw: Any
    ) -> None:
        super().__init__(*args, **kw)
        choices = [("", _("not in this file")), *((name, _column(name, at, sample)) for at, name in enumerate(columns))]
        for name in COLUMN_FIELDS:
            self.fields[name] = forms.ChoiceField(label=LABELS[name], choices=choices, required=False)
        for name in CHOICES:
            options = list(OPTIONS[name].items())
            self.fields[name] = forms.ChoiceField(label=LABELS[name], choices=options, required=name != "code_list")
        for name in unsure:
            self.fields[name].help_text = gettext_lazy("Please look: this is a guess from the values.")
            self.fields[name].widget.attrs["data-unsure"] = ""

    @property
    def groups(self) -> list[tuple[Any, list[forms.BoundField]]]:
        """The columns by what they tell of the tree."""
        return [(heading, [self[name] for name in names]) for heading, names in GROUPS]

    def clean_source(self) -> str:
        return " ".join(str(self.cleaned_data["source"]).replace("\x00", "").split())

    def changes(self, before: Mapping) -> dict[str, str]:
        """What was chosen otherwise than before."""
        names = [one.name for one in fields(Mapping) if one.name != "unsure"]
        return {name: self.cleaned_data[name] for name in names if self.cleaned_data[name] != getattr(before, name)}


def _column(name: str, at: int, sample: list[RawRow]) -> str:
    """A column by its name and the first thing it says."""
    said = next((text for row in sample if (text := " ".join(row.values[at].split()))), "")
    if not said:
        return name
    short = said if len(said) <= _SAMPLE_LETTERS else said[: _SAMPLE_LETTERS - 1] + "…"
    return f"{name} ({short})"
