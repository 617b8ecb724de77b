"""What is typed about cards: how many to make, and by whoever joins with one."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

from django import forms
from django.conf import settings
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.parts.forms import DayInput, UnitsForm
from sugarbush.volunteers import access, cards
from sugarbush.volunteers.forms_rules import YesFields
from sugarbush.volunteers.models import AgeBand, Person, Units


def _whole(label: Any, most: int, help_text: Any) -> forms.IntegerField:
    digits = forms.TextInput(attrs={"inputmode": "numeric"})
    return forms.IntegerField(label=label, min_value=1, max_value=most, help_text=help_text, widget=digits)


class CardsForm(UnitsForm):
    """A sheet of cards."""

    count = _whole(gettext_lazy("How many cards"), cards.MOST_CARDS, gettext_lazy("eight fit on a page"))
    most = _whole(
        gettext_lazy("People by each card"),
        cards.MOST_BY_ONE,
        gettext_lazy("One for a card to give away; more for one that hangs on a wall."),
    )
    good_from = forms.DateField(label=gettext_lazy("Opens from"), widget=DayInput)
    good_to = forms.DateField(label=gettext_lazy("Opens until"), widget=DayInput)
    member_to = forms.DateField(
        label=gettext_lazy("In the group until"),
        widget=DayInput,
        help_text=gettext_lazy("the last day of those who join; the phone stays signed in as long"),
    )
    sheet_id = forms.UUIDField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        today = access.today()
        good_to, member_to = cards.usual_days(today)
        usual = {"count": 24, "most": 1, "good_from": today, "good_to": good_to, "member_to": member_to}
        self.initial = usual | {"sheet_id": uuid.uuid4()} | dict(self.initial)

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        first, last, member_to = (given.get(name) for name in ("good_from", "good_to", "member_to"))
        today = access.today()
        if isinstance(last, dt.date) and last < today:
            self.add_error("good_to", _("That day is over. Give a later one."))
        elif isinstance(last, dt.date) and last > today + cards.LONGEST:
            self.add_error("good_to", _("That is more than 400 days ahead. Give an earlier day."))
        elif isinstance(first, dt.date) and isinstance(last, dt.date) and last < first:
            self.add_error("good_to", _("The last day comes before the first. Give a later one."))
        if isinstance(last, dt.date) and isinstance(member_to, dt.date):
            if member_to < last:
                self.add_error("member_to", _("Cards open longer than that. Give a later day, or let them end sooner."))
            elif member_to - last > cards.LONGEST:
                self.add_error("member_to", _("That is more than 400 days after the cards end. Give an earlier day."))
        return given


class CodeForm(forms.Form):
    """The code on a card, typed."""

    code = forms.CharField(
        label=gettext_lazy("The code on the card"),
        max_length=40,
        help_text=gettext_lazy("Nine letters and figures. Gaps and small letters do not matter."),
        widget=forms.TextInput(
            attrs={"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false", "class": "code"}
        ),
    )

    def clean_code(self) -> str:
        code = cards.as_code(str(self.cleaned_data["code"]))
        if not code:
            raise ValidationError(
                _("A code has nine letters and figures, such as K7M QR4 XW9. Look at the card again.")
            )
        return code


class JoinForm(YesFields, UnitsForm):
    """Who joins. Asks for no more than the round needs. rules: the version shown on the page; 0 while there is none."""

    display_name = forms.CharField(
        label=gettext_lazy("What shall we call you?"),
        max_length=Person._meta.get_field("display_name").max_length,
        help_text=gettext_lazy("Your group sees this name."),
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )
    age_band = forms.ChoiceField(
        label=gettext_lazy("Your age"),
        choices=AgeBand.choices,
        widget=forms.RadioSelect,
        help_text=gettext_lazy(
            "Under 18? Join all the same. A parent or guardian has to agree, and drilling and the fire are for adults."
        ),
    )
    units = forms.ChoiceField(  # type: ignore[assignment]  # the form's own `units` is set beside it
        label=gettext_lazy("Units"), choices=Units.choices, widget=forms.RadioSelect
    )
    language = forms.ChoiceField(label=gettext_lazy("Language"), choices=settings.LANGUAGES, widget=forms.RadioSelect)

    field_order = ["display_name", "age_band", "guardian", "units", "language", "rules_yes", "rules"]

    def __init__(self, *args: Any, language: str = "en", rules: int = 0, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial["rules"] = rules
        if not rules:
            for name in ("guardian", "rules_yes", "rules"):
                del self.fields[name]
        self.fields["language"].initial = language
        if len(settings.LANGUAGES) < 2:
            del self.fields["language"]

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        given.pop("rules_yes", None)
        if given.get("age_band") == AgeBand.ADULT:
            given.pop("guardian", None)
        return given

    def clean_display_name(self) -> str:
        name = " ".join(str(self.cleaned_data["display_name"]).split())
        if not any(sign.isalpha() for sign in name) or not name.isprintable():
            raise ValidationError(_("Give a name that can be read."))
        return name
