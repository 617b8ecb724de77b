"""What somebody chooses before labels are printed."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.papers.forms import NumbersField, PrintForm
from sugarbush.papers.labels import first_key, layouts, words_of
from sugarbush.papers.models import LabelUse
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Group


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
