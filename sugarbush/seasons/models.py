"""The programme, its seasons and the rules each season froze."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords

from sugarbush.core.trunk import CONSERVATIVE
from sugarbush.volunteers.models import Units

LEAST_FIRST_UM, LEAST_SECOND_UM = CONSERVATIVE.thresholds_um


class Programme(models.Model):
    """The one programme of this install."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1, editable=False)
    name = models.CharField(_("name of the programme"), max_length=80)
    place = models.CharField(_("town"), max_length=80)
    time_zone = models.CharField(_("time zone"), max_length=60, default="UTC")
    default_units = models.CharField(_("units"), max_length=8, choices=Units.choices, default=Units.METRIC)
    tag_prefix = models.CharField(_("letters on the tags"), max_length=4, default="T")
    next_tag = models.PositiveBigIntegerField(default=1)
    phone = models.CharField(_("telephone"), max_length=40, blank=True)
    west = models.FloatField(null=True, blank=True)
    south = models.FloatField(null=True, blank=True)
    east = models.FloatField(null=True, blank=True)
    north = models.FloatField(null=True, blank=True)
    local_rules = models.TextField(_("what local rules say"), blank=True)
    forget_after_years = models.PositiveSmallIntegerField(
        _("years until the names of those who left go"), null=True, blank=True, validators=[MinValueValidator(1)]
    )
    is_demo = models.BooleanField(default=False)
    states_fresh_on = models.DateField(null=True)
    history = HistoricalRecords(excluded_fields=["next_tag", "states_fresh_on"])

    class Meta:
        constraints = (models.CheckConstraint(condition=Q(pk=1), name="one_programme_only"),)
        verbose_name = _("programme")

    def __str__(self) -> str:
        return self.name

    @classmethod
    def current(cls) -> Programme | None:
        return cls.objects.first()

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.time_zone)

    @property
    def box(self) -> tuple[float, float, float, float] | None:
        """West, south, east, north in degrees; None when not known yet."""
        corners = (self.west, self.south, self.east, self.north)
        return corners if all(c is not None for c in corners) else None  # type: ignore[return-value]

    def local_date(self, at: dt.datetime | None = None) -> dt.date:
        return (at or timezone.now()).astimezone(self.zone).date()


class SeasonState(models.TextChoices):
    DRAFT = "draft", _("being prepared")
    OPEN = "open", _("open for permissions and checks")
    TAPPING = "tapping", _("tapping")
    RUNNING = "running", _("running")
    ENDING = "ending", _("ending: taps come out")
    CLOSED = "closed", _("closed")


class Season(models.Model):
    """One season and its rules. The rules freeze when it opens; a later change asks for a reason."""

    year = models.PositiveSmallIntegerField(_("year"), unique=True)
    state = models.CharField(max_length=8, choices=SeasonState.choices, default=SeasonState.DRAFT)
    tapping_from = models.DateField(_("tapping from"))
    tapping_to = models.DateField(_("taps out by"))
    guideline_name = models.CharField(_("tap guideline"), max_length=80, default=CONSERVATIVE.name)
    first_tap_um = models.PositiveIntegerField(_("a first tap from"), default=LEAST_FIRST_UM)
    second_tap_um = models.PositiveIntegerField(_("a second tap from"), default=LEAST_SECOND_UM, null=True, blank=True)
    check_good_days = models.PositiveSmallIntegerField(
        _("days a health check counts"), default=60, validators=[MinValueValidator(1)]
    )
    keep_side_mm = models.PositiveIntegerField(_("keep from old holes, sideways"), default=100)
    keep_up_mm = models.PositiveIntegerField(_("keep from old holes, up and down"), default=300)
    keep_open_side_mm = models.PositiveIntegerField(_("keep from this season’s holes, sideways"), default=150)
    tolerance_pct = models.DecimalField(
        _("measuring tolerance"), max_digits=4, decimal_places=1, default=Decimal("5.0")
    )
    tolerance_ml = models.PositiveIntegerField(_("and at least"), default=500)
    second_person_ml = models.PositiveIntegerField(_("second person approves above"), default=20_000)
    syrup_brix = models.DecimalField(_("finish syrup at"), max_digits=4, decimal_places=1, default=Decimal("66.0"))
    assumed_brix = models.DecimalField(
        _("sugar to assume until measured"), max_digits=4, decimal_places=2, default=Decimal("2.00")
    )
    # How long sap keeps, and what a lot of syrup must measure; as the trade has it, or stricter.
    keep_limit_h = models.PositiveSmallIntegerField(_("sap keeps at most"), default=168)
    keep_soon_h = models.PositiveSmallIntegerField(_("boil soon after"), default=120)
    keep_warm_h = models.PositiveSmallIntegerField(_("and this long above 10 °C"), default=24)
    syrup_least_brix = models.DecimalField(_("syrup at least"), max_digits=4, decimal_places=1, default=Decimal("66.0"))
    syrup_most_brix = models.DecimalField(_("syrup at most"), max_digits=4, decimal_places=1, default=Decimal("68.9"))
    fill_least_c = models.DecimalField(_("filled at least at"), max_digits=4, decimal_places=1, default=Decimal("82.2"))
    species_keys = models.JSONField(default=list)
    frozen_at = models.DateTimeField(null=True)
    closed_at = models.DateTimeField(null=True)
    closed_by = models.ForeignKey("volunteers.Person", models.PROTECT, null=True, related_name="+")
    frozen_totals = models.JSONField(null=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ("-year",)
        verbose_name = _("season")
        constraints = (
            models.CheckConstraint(condition=Q(tapping_to__gte=F("tapping_from")), name="season_ends_after_start"),
            models.CheckConstraint(condition=Q(first_tap_um__gte=LEAST_FIRST_UM), name="first_tap_not_looser"),
            models.CheckConstraint(
                condition=Q(second_tap_um=None)
                | (Q(second_tap_um__gte=LEAST_SECOND_UM) & Q(second_tap_um__gte=F("first_tap_um"))),
                name="second_tap_not_looser",
            ),
            models.CheckConstraint(condition=Q(tolerance_pct__gte=0, tolerance_pct__lte=20), name="tolerance_modest"),
            models.CheckConstraint(
                condition=Q(keep_limit_h__gte=24, keep_limit_h__lte=168, keep_soon_h__lte=F("keep_limit_h"))
                & Q(keep_warm_h__lte=24),
                name="keeping_not_looser",
            ),
            models.CheckConstraint(
                condition=Q(syrup_least_brix__gte=Decimal("66.0"), syrup_most_brix__gte=F("syrup_least_brix"))
                & Q(syrup_most_brix__lte=Decimal("68.9")),
                name="syrup_density_not_looser",
            ),
            models.CheckConstraint(
                condition=Q(fill_least_c__gte=Decimal("82.0"), fill_least_c__lte=Decimal("90.0")),
                name="fill_temperature_not_looser",
            ),
        )

    def __str__(self) -> str:
        return str(self.year)

    @classmethod
    def current(cls) -> Season | None:
        """The season people work in: the latest that is not closed."""
        return cls.objects.exclude(state=SeasonState.CLOSED).order_by("-year").first()

    @property
    def thresholds_um(self) -> tuple[int, ...]:
        return (self.first_tap_um,) if self.second_tap_um is None else (self.first_tap_um, self.second_tap_um)

    @property
    def is_closed(self) -> bool:
        return self.state == SeasonState.CLOSED

    @property
    def takes_taps(self) -> bool:
        return self.state in {SeasonState.TAPPING, SeasonState.RUNNING}

    def rules(self) -> dict[str, Any]:
        """The rules as plain values, for the history and for comparing."""
        names = [
            "guideline_name",
            "first_tap_um",
            "second_tap_um",
            "check_good_days",
            "keep_side_mm",
            "keep_up_mm",
            "keep_open_side_mm",
            "tolerance_pct",
            "tolerance_ml",
            "second_person_ml",
            "syrup_brix",
            "assumed_brix",
            "keep_limit_h",
            "keep_soon_h",
            "keep_warm_h",
            "syrup_least_brix",
            "syrup_most_brix",
            "fill_least_c",
            "species_keys",
        ]
        return {name: str(value) if isinstance(value := getattr(self, name), Decimal) else value for name in names}
