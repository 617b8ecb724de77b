"""What is typed to come in by a code, and the name of a passkey."""

from __future__ import annotations

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.volunteers import codes
from sugarbush.volunteers.models import Passkey, Person


class AskForm(forms.Form):
    """The address a code is to go to."""

    email = forms.EmailField(
        label=gettext_lazy("Your e-mail address"),
        max_length=Person._meta.get_field("email").max_length,
        help_text=gettext_lazy("the one your coordinator has of you"),
        widget=forms.EmailInput(attrs={"autocomplete": "email", "autocapitalize": "none", "spellcheck": "false"}),
    )


class MailedCodeForm(forms.Form):
    """The code that came by mail."""

    code = forms.CharField(
        label=gettext_lazy("The code from the mail"),
        max_length=40,
        help_text=gettext_lazy("eight figures; the gap does not matter"),
        widget=forms.TextInput(
            attrs={"inputmode": "numeric", "autocomplete": "one-time-code", "spellcheck": "false", "class": "code"}
        ),
    )

    def clean_code(self) -> str:
        code = codes.as_code(str(self.cleaned_data["code"]))
        if not code:
            raise ValidationError(_("A code has eight figures, such as 1234 5678. Look at the mail again."))
        return code


class PasskeyForm(forms.Form):
    """A name for a passkey, so that its owner knows it again."""

    name = forms.CharField(
        label=gettext_lazy("What do you call it?"),
        max_length=Passkey._meta.get_field("name").max_length,
        help_text=gettext_lazy("so that you know it again, such as “my phone” or “blue stick”"),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    def clean_name(self) -> str:
        name = " ".join(str(self.cleaned_data["name"]).split())
        if not name.isprintable():
            raise ValidationError(_("Give a name that can be read."))
        return name
