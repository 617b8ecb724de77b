"""The weather of a day, measured or forecast."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _


class WeatherDay(models.Model):
    """Lowest and highest air temperature of one local day."""

    class Source(models.TextChoices):
        MEASURED = "measured", _("measured")
        FORECAST = "forecast", _("forecast")

    day = models.DateField(_("day"))
    source = models.CharField(max_length=8, choices=Source.choices, default=Source.MEASURED)
    low_c = models.DecimalField(_("coldest"), max_digits=4, decimal_places=1)
    high_c = models.DecimalField(_("warmest"), max_digits=4, decimal_places=1)
    entered_by = models.ForeignKey("volunteers.Person", models.PROTECT, null=True, related_name="+")
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ("day",)
        constraints = (
            models.UniqueConstraint(fields=("day", "source"), name="one_weather_a_day_and_source"),
            models.CheckConstraint(condition=Q(high_c__gte=F("low_c")), name="warmest_not_below_coldest"),
        )

    def __str__(self) -> str:
        return f"{self.day}: {self.low_c} to {self.high_c} °C"
