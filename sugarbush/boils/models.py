"""From hands to tank to pan: deliveries, boiling days, batches."""

from __future__ import annotations

import uuid

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords

from sugarbush.gathering.models import Look


class DeliveryState(models.TextChoices):
    ACCEPTED = "accepted", _("accepted")
    AHEAD = "ahead", _("ahead of its entries")
    SETTLED = "settled", _("settled")


class Delivery(models.Model):
    """Sap brought to a depot by one person, container by container; the keeper's measure rules."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    number = models.PositiveIntegerField(_("number"))
    season = models.ForeignKey("seasons.Season", models.PROTECT, related_name="deliveries")
    depot = models.ForeignKey("kit.Depot", models.PROTECT, related_name="deliveries")
    person = models.ForeignKey("volunteers.Person", models.PROTECT, related_name="deliveries")
    keeper = models.ForeignKey("volunteers.Person", models.PROTECT, related_name="+")
    state = models.CharField(max_length=8, choices=DeliveryState.choices, default=DeliveryState.ACCEPTED)
    all_of_it = models.BooleanField(_("that is all they carry"), default=False)
    held_ml = models.PositiveIntegerField(_("held before"), default=0)
    difference_ml = models.IntegerField(_("measured over or under"), default=0)
    explanation = models.CharField(_("why the measures differ"), max_length=400, blank=True)
    approved_by = models.ForeignKey("volunteers.Person", models.PROTECT, null=True, related_name="+")
    note = models.CharField(_("note"), max_length=400, blank=True)
    happened_at = models.DateTimeField()
    recorded_at = models.DateTimeField(default=timezone.now)
    history = HistoricalRecords()

    class Meta:
        ordering = ("-happened_at", "-number")
        verbose_name = _("delivery")
        constraints = (models.UniqueConstraint(fields=("season", "number"), name="delivery_number_once"),)
        indexes = (models.Index(fields=("person", "-happened_at"), name="delivery_by_person"),)

    def __str__(self) -> str:
        return f"D{self.season.year}-{self.number:04d}"


class DeliveryLine(models.Model):
    """One container: poured into a tank, or turned away with a reason."""

    delivery = models.ForeignKey(Delivery, models.PROTECT, related_name="lines")
    container = models.ForeignKey("kit.Container", models.PROTECT, null=True, blank=True, related_name="+")
    container_text = models.CharField(_("container"), max_length=40, blank=True)
    volume_ml = models.PositiveIntegerField(_("volume"))
    mass_g = models.PositiveIntegerField(_("weighed"), null=True, blank=True)
    sugar_brix = models.DecimalField(_("sugar"), max_digits=4, decimal_places=2, null=True, blank=True)
    temperature_c = models.DecimalField(_("temperature"), max_digits=4, decimal_places=1, null=True, blank=True)
    look = models.CharField(_("how it looks"), max_length=8, choices=Look.choices, default=Look.CLEAR)
    tank = models.ForeignKey("sap.Vessel", models.PROTECT, null=True, blank=True, related_name="delivery_lines")
    reject_reason = models.CharField(_("why turned away"), max_length=200, blank=True)

    class Meta:
        ordering = ("pk",)
        constraints = (
            models.CheckConstraint(condition=Q(volume_ml__gt=0), name="line_holds_something"),
            models.CheckConstraint(
                condition=Q(tank__isnull=False, reject_reason="") | (Q(tank=None) & ~Q(reject_reason="")),
                name="line_in_a_tank_or_turned_away",
            ),
        )

    def __str__(self) -> str:
        return f"{self.volume_ml} mL"


class BoilState(models.TextChoices):
    PLANNED = "planned", _("planned")
    CALLED = "called", _("called")
    LIT = "lit", _("fire lit")
    OUT = "out", _("fire out")
    CALLED_OFF = "called_off", _("called off")


class BoilDay(models.Model):
    """A day at the pan: where, when, how large the pan, and who watches it."""

    season = models.ForeignKey("seasons.Season", models.PROTECT, related_name="boil_days")
    day = models.DateField(_("day"))
    site = models.CharField(_("where"), max_length=160)
    elevation_m = models.SmallIntegerField(
        _("height above sea level"), default=0, validators=[MinValueValidator(-430), MaxValueValidator(5000)]
    )
    pan_area_cm2 = models.PositiveIntegerField(_("pan area"), null=True, blank=True)
    pan_ml_h_m2 = models.PositiveIntegerField(_("steam from each square metre"), null=True, blank=True)
    fuel = models.CharField(_("fuel"), max_length=20, blank=True)
    starts_at = models.DateTimeField(_("begins"), null=True, blank=True)
    rain_day = models.DateField(_("rain date"), null=True, blank=True)
    expected_ml = models.PositiveIntegerField(_("sap still expected"), default=0)
    wind = models.CharField(_("wind and smoke"), max_length=200, blank=True)
    water_boils_c = models.DecimalField(
        _("water boils today at"), max_digits=4, decimal_places=1, null=True, blank=True
    )
    water_boils_at = models.DateTimeField(null=True, editable=False)
    state = models.CharField(max_length=10, choices=BoilState.choices, default=BoilState.PLANNED)
    fire_permit = models.CharField(_("fire permission: number, or who gave it"), max_length=120, blank=True)
    clear_mm = models.PositiveIntegerField(_("distance to buildings"), null=True, blank=True)
    dry_wood = models.BooleanField(_("fuel dry and at hand"), default=False)
    children_line = models.BooleanField(_("a line children stay behind"), default=False)
    first_aid = models.BooleanField(_("cold water and first aid for burns"), default=False)
    fire_permission = models.BooleanField(_("fire permission in hand"), default=False)
    extinguisher = models.BooleanField(_("extinguisher or water ready"), default=False)
    two_adults = models.BooleanField(_("two adults at the pan at all times"), default=False)
    outdoors = models.BooleanField(_("outdoors, clear of buildings"), default=False)
    crew = models.ManyToManyField("volunteers.Person", blank=True, related_name="boil_days")
    lead = models.ForeignKey("volunteers.Person", models.PROTECT, related_name="+")
    note = models.CharField(_("note"), max_length=400, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ("-day", "-pk")
        verbose_name = _("boiling day")

    def __str__(self) -> str:
        return f"{self.day}, {self.site}"


class BatchState(models.TextChoices):
    OPEN = "open", _("boiling")
    CLOSED = "closed", _("drawn off")
    LOST = "lost", _("lost")


class Batch(models.Model):
    """One filling of the pan: sap in, syrup out, the rest driven off."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    boil_day = models.ForeignKey(BoilDay, models.PROTECT, related_name="batches")
    number = models.PositiveSmallIntegerField(_("number"))
    state = models.CharField(max_length=6, choices=BatchState.choices, default=BatchState.OPEN)
    pan = models.OneToOneField("sap.Vessel", models.PROTECT, related_name="batch")
    lot = models.OneToOneField("sap.Vessel", models.PROTECT, null=True, related_name="lot_of")
    syrup_brix = models.DecimalField(_("syrup density"), max_digits=4, decimal_places=1, null=True, blank=True)
    opened_at = models.DateTimeField(default=timezone.now)
    opened_by = models.ForeignKey("volunteers.Person", models.PROTECT, related_name="+")
    closed_at = models.DateTimeField(null=True)
    closed_by = models.ForeignKey("volunteers.Person", models.PROTECT, null=True, related_name="+")
    loss_reason = models.CharField(_("why lost"), max_length=300, blank=True)
    note = models.CharField(_("note"), max_length=400, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ("boil_day", "number")
        verbose_name = _("batch")
        constraints = (models.UniqueConstraint(fields=("boil_day", "number"), name="batch_number_once"),)

    def __str__(self) -> str:
        return f"{self.boil_day}, batch {self.number}"


# The rest of this app's records, by noun.
from sugarbush.boils.models_pan import Coming as Coming  # noqa: E402
from sugarbush.boils.models_pan import DrawOff as DrawOff  # noqa: E402
from sugarbush.boils.models_pan import PanReading as PanReading  # noqa: E402
from sugarbush.boils.models_pan import Shift as Shift  # noqa: E402
from sugarbush.boils.models_pan import TankTemperature as TankTemperature  # noqa: E402
