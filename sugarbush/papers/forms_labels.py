"""What somebody chooses before labels are printed."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.lots.models import JarCount, Lot
from sugarbush.lots.sizes import size_words
from sugarbush.papers.forms import NumbersField, PrintForm
from sugarbush.papers.labels import first_key, layouts, words_of
from sugarbush.papers.models import LabelUse
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Group

MOST_LOTS = 100


class LabelForm(PrintForm):
    """On which sheet of labels; the sheet says the paper."""

    use = LabelUse.LABEL
    layout = forms.ChoiceField(label=gettext_lazy("Sheet of labels"))

    def for_person(self) -> None:
        there = layouts(self.use)
        field = self.fields["layout"]
        if isinstance(field, forms.ChoiceField):
            field.choices = [(one.key, words_of(one)) for one in there]
        paper = self.initial.get("paper") or "a4"
        field.initial = first_key(paper, self.use)
        # A sheet of labels is A4 or Letter by itself.
        self.papers = {one.key: one.paper for one in there}
        del self.fields["paper"]

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or self.cleaned_data
        data["paper"] = self.papers.get(data.get("layout", ""), "a4")
        return data


class TagsForm(LabelForm):
    """Which trees get a tag."""

    use = LabelUse.TAG
    which = forms.ChoiceField(
        label=gettext_lazy("Which trees"),
        choices=[
            ("missing", gettext_lazy("those given out that have no tag yet")),
            ("all", gettext_lazy("all that are given out, once more")),
            ("these", gettext_lazy("these:")),
        ],
        widget=forms.RadioSelect,
        initial="missing",
    )
    codes = NumbersField(label=gettext_lazy("Tags"), required=False, help_text=gettext_lazy("Parted by spaces."))
    group = forms.ChoiceField(label=gettext_lazy("Group"), required=False)

    def for_person(self) -> None:
        super().for_person()
        reach = access.scope(self.person, "assign")
        groups = Group.objects.all() if reach.everything else Group.objects.filter(pk__in=reach.group_ids)
        field = self.fields["group"]
        if isinstance(field, forms.ChoiceField):
            field.choices = [("", _("all of them")), *((str(one.pk), one.name) for one in groups)]

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if data.get("which") == "these" and not data.get("codes") and "codes" not in self.errors:
            self.add_error("codes", _("Write which trees, by their tags."))
        return data


class LotForm(LabelForm):
    """Labels of one lot."""

    lot = forms.ChoiceField(label=gettext_lazy("Lot"))
    first = forms.IntegerField(
        label=gettext_lazy("Begin at label"),
        min_value=1,
        max_value=300,
        initial=1,
        help_text=gettext_lazy("Counted along the rows, for a sheet that is half used."),
    )

    def for_person(self) -> None:
        super().for_person()
        field = self.fields["lot"]
        if isinstance(field, forms.ChoiceField):
            lots = Lot.objects.order_by("-packed_at")[:MOST_LOTS]
            field.choices = [(lot.code, f"{lot.code}, {lot.get_state_display()}") for lot in lots]
            asked = str(self.initial.get("lot", ""))
            if asked and asked not in dict(field.choices) and Lot.objects.filter(code=asked).exists():
                field.choices = [(asked, asked), *field.choices]


class LotLabelsForm(LotForm):
    count = forms.IntegerField(
        label=gettext_lazy("How many"),
        min_value=1,
        max_value=500,
        required=False,
        help_text=gettext_lazy("Empty is one sheet full."),
    )


class BottlesForm(LotForm):
    """One label a jar, of every size or of one."""

    use = LabelUse.BOTTLE
    size = forms.ChoiceField(label=gettext_lazy("Jars"), required=False)
    count = forms.IntegerField(
        label=gettext_lazy("How many"),
        min_value=1,
        max_value=1_000,
        required=False,
        help_text=gettext_lazy("Empty is one for each jar filled."),
    )

    def for_person(self) -> None:
        super().for_person()
        field = self.fields["size"]
        if isinstance(field, forms.ChoiceField):
            sizes = JarCount.objects.order_by("-size_ml").values_list("size_ml", flat=True).distinct()
            field.choices = [
                ("", _("every size of the lot")),
                *((str(size), size_words(size)) for size in sizes),
            ]

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if data.get("count") and not data.get("size"):
            self.add_error("size", _("Say of which jars."))
        return data
