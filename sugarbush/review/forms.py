"""What a coordinator writes when an entry is found wrong after closing."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from sugarbush.parts.forms import QuantityField, UnitsForm

LARGEST_ML = 500_000


class LateForm(UnitsForm):
    """The right volume, and why."""

    volume = QuantityField(label=_("What came out of the tree"), kind="volume", smallest=0, largest=LARGEST_ML)
    reason = forms.CharField(
        label=_("Why"), max_length=300, help_text=_("It stands in the season’s report, with your name and the day.")
    )
