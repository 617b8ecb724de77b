"""How the programme prints: its paper, the words of its labels, its sheets of labels."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from sugarbush.papers.labels import beyond_the_edge
from sugarbush.papers.models import LabelSheet, PaperSettings
from sugarbush.parts.forms import UnitsMixin
from sugarbush.volunteers.changing import EditionMixin


class SettingsForm(EditionMixin, UnitsMixin, forms.ModelForm):  # type: ignore[type-arg]  # of the one row
    class Meta:
        model = PaperSettings
        fields = ["paper", "product_name", "made_by", "required_words", "allergen_words", "given_words"]
        widgets = {"paper": forms.RadioSelect, "required_words": forms.Textarea(attrs={"rows": 3})}
        help_texts = {
            "product_name": gettext_lazy("Empty is “Maple syrup”."),
            "made_by": gettext_lazy("Empty is the programme and its town."),
            "required_words": gettext_lazy("For example: made by volunteers in a kitchen that is not inspected."),
            "allergen_words": gettext_lazy("Empty is “Ingredient: maple sap. No known allergen.”"),
            "given_words": gettext_lazy("Empty is “Given, not for sale.” Write what your rules ask for, if you sell."),
        }


class SheetForm(EditionMixin, UnitsMixin, forms.ModelForm):  # type: ignore[type-arg]  # of a sheet
    class Meta:
        model = LabelSheet
        fields = [
            "name",
            "use",
            "paper",
            "columns",
            "rows",
            "top_mm",
            "left_mm",
            "width_mm",
            "height_mm",
            "gap_across_mm",
            "gap_down_mm",
        ]
        widgets = {"paper": forms.RadioSelect}
        help_texts = dict.fromkeys(
            ("top_mm", "left_mm", "width_mm", "height_mm", "gap_across_mm", "gap_down_mm"),
            gettext_lazy("in millimetres (mm)"),
        )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, start in (("columns", 2), ("rows", 4), ("gap_across_mm", 0), ("gap_down_mm", 0)):
            if self.instance._state.adding:
                self.initial.setdefault(name, start)

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or self.cleaned_data
        if not self.errors:
            for name, sentence in beyond_the_edge(LabelSheet(**{one: data[one] for one in self.Meta.fields})):
                self.add_error(name, sentence)
        return data
