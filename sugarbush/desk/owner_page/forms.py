"""What an owner types or presses on their own page."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.owners.models import ShareWish
from sugarbush.parts.forms import UnitsForm
from sugarbush.trees.records import TreatmentAnswer

WISHES = (
    (ShareWish.JAR, gettext_lazy("A jar of it, please")),
    (ShareWish.DONATE, gettext_lazy("Give mine to others")),
    (ShareWish.NONE, gettext_lazy("Nothing, thank you")),
)
TREATED = (
    (TreatmentAnswer.NO, gettext_lazy("No")),
    (TreatmentAnswer.YES, gettext_lazy("Yes")),
    (TreatmentAnswer.UNKNOWN, gettext_lazy("I don’t know")),
)


class WishForm(UnitsForm):
    """What the owner would like of the syrup."""

    share_wish = forms.ChoiceField(
        label=gettext_lazy("What would you like of the syrup?"), choices=WISHES, widget=forms.RadioSelect
    )


class TreatedForm(UnitsForm):
    """The question about insecticide for one tree."""

    treated = forms.ChoiceField(
        label=gettext_lazy("Was this tree ever given insecticide inside the trunk?"),
        choices=TREATED,
        widget=forms.RadioSelect,
    )


class AnswerForm(UnitsForm):
    """Yes or no to a permission. A no needs nothing but the press."""

    name = forms.CharField(
        label=gettext_lazy("Your name"),
        max_length=120,
        help_text=gettext_lazy("It stands for your signature."),
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
        error_messages={"required": gettext_lazy("Type your name: it stands for your signature.")},
    )
    treated = forms.ChoiceField(
        label=gettext_lazy("Were these trees ever given insecticide inside the trunk?"),
        choices=TREATED,
        widget=forms.RadioSelect,
        error_messages={"required": gettext_lazy("This answer is needed; “I don’t know” is one too.")},
    )
    share_wish = forms.ChoiceField(
        label=gettext_lazy("What would you like of the syrup?"), choices=WISHES, widget=forms.RadioSelect
    )
    agree = forms.BooleanField(
        label=gettext_lazy("I have read the words above and agree to them."),
        error_messages={"required": gettext_lazy("Tick this to agree, or press “No”.")},
    )

    def __init__(self, *args: Any, asks_treated: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not asks_treated:
            del self.fields["treated"]
        if self.is_bound and not self.yes:
            for field in self.fields.values():
                field.required = False

    @property
    def yes(self) -> bool:
        return self.data.get("answer") == "yes"

    def clean_name(self) -> str:
        name = " ".join(str(self.cleaned_data["name"]).split())
        if self.yes and not any(sign.isalpha() for sign in name):
            raise ValidationError(_("Type your name: it stands for your signature."))
        return name

    def clean(self) -> dict[str, Any]:
        if self.data.get("answer") not in {"yes", "no"}:
            raise ValidationError(_("Press “I agree” or “No”."))
        return super().clean() or self.cleaned_data
