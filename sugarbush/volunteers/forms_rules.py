"""What is typed about house rules: a new version, and a yes to one."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.parts.forms import DayInput, UnitsForm
from sugarbush.volunteers import access
from sugarbush.volunteers.models import AgeBand, HouseRules
from sugarbush.volunteers.models_rules import MOST_SIGNS
from sugarbush.volunteers.rules import GRACE, first_text

LATEST_NEEDED = dt.timedelta(days=400)


class RulesForm(UnitsForm):
    """A new version, in the programme's own words."""

    words = forms.CharField(
        label=gettext_lazy("The text"),
        max_length=MOST_SIGNS,
        widget=forms.Textarea(attrs={"rows": 16}),
        help_text=gettext_lazy("Plain text; an empty line begins a new paragraph. Short enough that people read it."),
    )
    what_changed = forms.CharField(
        label=gettext_lazy("What is new in it"),
        max_length=HouseRules._meta.get_field("what_changed").max_length,
        required=False,
        help_text=gettext_lazy("Shown above the text to those who said yes to an earlier one."),
    )
    asks_anew = forms.BooleanField(
        label=gettext_lazy("It needs a new yes from everybody"),
        required=False,
        help_text=gettext_lazy("Leave it empty for a slip of the pen put right: an earlier yes then goes on counting."),
    )
    needed_from = forms.DateField(
        label=gettext_lazy("Needed from"),
        widget=DayInput,
        help_text=gettext_lazy(
            "People are asked at once. From this day nobody without this yes is put on a run or shift, or places a tap."
        ),
    )
    after = forms.IntegerField(widget=forms.HiddenInput, min_value=0)

    def __init__(self, *args: Any, latest: HouseRules | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        words = latest.words if latest else first_text()
        usual = {"words": words, "needed_from": access.today() + GRACE, "after": latest.number if latest else 0}
        self.initial = usual | {"asks_anew": True} | dict(self.initial)
        if latest is None:
            del self.fields["what_changed"], self.fields["asks_anew"]

    def clean_needed_from(self) -> dt.date:
        day: dt.date = self.cleaned_data["needed_from"]
        if day < access.today():
            raise ValidationError(_("That day is over. Give today or a later one."))
        if day > access.today() + LATEST_NEEDED:
            raise ValidationError(_("That is more than 400 days ahead. Give an earlier day."))
        return day


class YesFields(forms.Form):
    """A yes to the house rules shown on the same page; beside it, for somebody under 18, who of theirs agrees."""

    rules_yes = forms.BooleanField(
        label=gettext_lazy("I have read the house rules and say yes to them"),
        error_messages={"required": gettext_lazy("Tick this to say yes. Questions first? Ask your group lead.")},
    )
    guardian = forms.CharField(
        label=gettext_lazy("Name of a parent or guardian who is with you and agrees"),
        max_length=80,
        required=False,
        help_text=gettext_lazy(
            "Under 18 only. A coordinator rings them; until then you are in, but not put on a round or at the pan."
        ),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    rules = forms.IntegerField(widget=forms.HiddenInput, min_value=1)

    def clean_guardian(self) -> str:
        name = " ".join(str(self.cleaned_data.get("guardian") or "").split())
        if name and (not any(sign.isalpha() for sign in name) or not name.isprintable()):
            raise ValidationError(_("Give a name that can be read, or leave it empty."))
        return name


class YesForm(YesFields, UnitsForm):
    """The yes of somebody who is in already."""

    field_order = ["rules_yes", "guardian", "rules"]

    def __init__(self, *args: Any, age_band: str, number: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial["rules"] = number
        if age_band == AgeBand.ADULT:
            del self.fields["guardian"]
