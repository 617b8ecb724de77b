"""A day's weather as it is typed."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.parts.forms import DayInput, QuantityField, UnitsForm
from sugarbush.parts.shown import in_words
from sugarbush.weather.models import WeatherDay

COLDEST_C, WARMEST_C = Decimal(-60), Decimal(50)
FURTHEST_AHEAD = dt.timedelta(days=16)


class DayForm(UnitsForm):
    """The coldest and warmest of one day. A day that is there already is replaced only when that is meant."""

    day = forms.DateField(label=gettext_lazy("Day"), widget=DayInput)
    source = forms.ChoiceField(
        label=gettext_lazy("Measured or forecast"), choices=WeatherDay.Source.choices, widget=forms.RadioSelect
    )
    low_c = QuantityField(kind="temperature", label=gettext_lazy("Coldest"), smallest=COLDEST_C, largest=WARMEST_C)
    high_c = QuantityField(kind="temperature", label=gettext_lazy("Warmest"), smallest=COLDEST_C, largest=WARMEST_C)
    note = forms.CharField(label=gettext_lazy("Note"), required=False, max_length=200)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["day"].initial = timezone.localdate
        self.fields["source"].initial = WeatherDay.Source.MEASURED

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        day, source = given.get("day"), given.get("source")
        low_c, high_c = given.get("low_c"), given.get("high_c")
        if isinstance(low_c, Decimal) and isinstance(high_c, Decimal) and high_c < low_c:
            self.add_error("high_c", _("The warmest is below the coldest. Were they swapped?"))
        if isinstance(day, dt.date) and source:
            self._check_day(day, str(source))
            if not self.errors:
                self._ask_before_replacing(given)
        return given

    def _check_day(self, day: dt.date, source: str) -> None:
        ahead = day - timezone.localdate()
        if source == WeatherDay.Source.MEASURED and ahead > dt.timedelta(0):
            self.add_error("day", _("That day is still to come. Was it a forecast?"))
        elif ahead > FURTHEST_AHEAD:
            self.add_error("day", _("No forecast reaches further than 16 days. Is the day right?"))
        elif day.year < 1900:
            self.add_error("day", _("Is the year right?"))

    def _ask_before_replacing(self, given: dict[str, Any]) -> None:
        there = WeatherDay.objects.filter(day=given["day"], source=given["source"]).first()
        if there is None or (there.low_c, there.high_c) == (given["low_c"], given["high_c"]):
            return
        sentence = _("For %(day)s, %(source)s, there is %(low)s to %(high)s already.") % {
            "day": date_format(there.day),
            "source": there.get_source_display(),
            "low": in_words("temperature", there.low_c, self.units),
            "high": in_words("temperature", there.high_c, self.units),
        }
        about = f"{there.pk}/{there.low_c}/{there.high_c}/{given['low_c']}/{given['high_c']}"
        self.ask("replace", sentence, about=about, yes=_("Put mine in its place"))
