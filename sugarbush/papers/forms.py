"""What somebody chooses before a print."""

from __future__ import annotations

import re
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.papers.models import Paper
from sugarbush.parts.forms import UnitsForm

MOST_NAMED = 500

__all__ = ["MOST_NAMED", "NumbersField", "PermissionForm", "PrintForm"]


class NumbersField(forms.CharField):
    """Numbers or tags, parted by spaces, commas or lines; cleaned into a list without repeats."""

    widget = forms.Textarea(attrs={"rows": 3})

    def clean(self, value: Any) -> list[str]:
        text = super().clean(value) or ""
        found = list(dict.fromkeys(one.upper() for one in re.split(r"[\s,;]+", text) if one))
        if len(found) > MOST_NAMED:
            raise forms.ValidationError(_("At most %(most)d at once.") % {"most": MOST_NAMED})
        return found

    def prepare_value(self, value: Any) -> Any:
        return ", ".join(value) if isinstance(value, list) else value


class PrintForm(UnitsForm):
    """The paper, and in its children what else a kind asks for."""

    paper = forms.ChoiceField(label=gettext_lazy("Paper"), choices=Paper.choices, widget=forms.RadioSelect)

    def __init__(self, *args: Any, person: Any = None, **kwargs: Any) -> None:
        self.person = person
        super().__init__(*args, **kwargs)
        # The paper is the last thing asked: most never change it.
        self.order_fields([name for name in self.fields if name != "paper"])
        self.for_person()

    def for_person(self) -> None:
        """Narrow the choices to what this person may see."""

    def choices(self) -> dict[str, Any]:
        """What was chosen, as plain values that a job can keep."""
        return {name: value for name, value in self.cleaned_data.items() if name != "paper"}


class PermissionForm(PrintForm):
    """Which slips, and whether each owner gets a new private link with it."""

    numbers = NumbersField(
        label=gettext_lazy("Slips"),
        help_text=gettext_lazy("Their numbers, parted by spaces or commas. Each comes on a page of its own."),
    )
    links = forms.BooleanField(
        label=gettext_lazy("Make a new private link for each owner and print it as the square"),
        help_text=gettext_lazy("The link each of them has now ends with it. Else the square explains the slip."),
        required=False,
    )
