"""What is written down at the tanks and beside the pan, and who comes to the boiling day."""

from __future__ import annotations

import uuid

from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords


class TankTemperature(models.Model):
    """One temperature of the sap in a tank, by hand or from a series somebody pasted in."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    tank = models.ForeignKey("sap.Vessel", models.PROTECT, related_name="temperatures")
    temperature_c = models.DecimalField(_("temperature of the sap"), max_digits=4, decimal_places=1)
    frozen_solid = models.BooleanField(_("frozen right through"), default=False)
    happened_at = models.DateTimeField()
    recorded_at = models.DateTimeField(default=timezone.now)
    author = models.ForeignKey("volunteers.Person", models.PROTECT, related_name="+")
    note = models.CharField(_("note"), max_length=200, blank=True)

    class Meta:
        ordering = ("-happened_at",)
        constraints = (
            models.UniqueConstraint(fields=("tank", "happened_at"), name="one_temperature_a_moment"),
            models.CheckConstraint(
                condition=Q(temperature_c__gte=-40, temperature_c__lte=60), name="tank_temperature_possible"
            ),
        )

    def __str__(self) -> str:
        return f"{self.temperature_c} °C"


class Shift(models.Model):
    """A stretch of a boiling day with the people who stand at the pan."""

    boil_day = models.ForeignKey("boils.BoilDay", models.CASCADE, related_name="shifts")
    begins = models.DateTimeField(_("from"))
    ends = models.DateTimeField(_("to"))
    task = models.CharField(_("what for"), max_length=80, blank=True)
    people = models.ManyToManyField("volunteers.Person", blank=True, related_name="shifts")
    history = HistoricalRecords()

    class Meta:
        ordering = ("begins", "pk")
        constraints = (models.CheckConstraint(condition=Q(ends__gt=F("begins")), name="shift_ends_after_start"),)

    def __str__(self) -> str:
        return f"{self.begins:%H:%M}-{self.ends:%H:%M}"


class Answer(models.TextChoices):
    YES = "yes", _("I come")
    NO = "no", _("I can’t")


class Coming(models.Model):
    """What a person said to a boiling day: they come, or they cannot."""

    boil_day = models.ForeignKey("boils.BoilDay", models.CASCADE, related_name="answers")
    person = models.ForeignKey("volunteers.Person", models.CASCADE, related_name="+")
    answer = models.CharField(max_length=3, choices=Answer.choices)
    note = models.CharField(_("note"), max_length=200, blank=True)
    said_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ("said_at",)
        constraints = (models.UniqueConstraint(fields=("boil_day", "person"), name="one_answer_each"),)

    def __str__(self) -> str:
        return f"{self.person}: {self.in_history()}"

    def in_history(self) -> str:
        return str(self.get_answer_display())


class PanReading(models.Model):
    """Somebody looked at the pan. A look with no number is a look all the same: it stops the clock."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    batch = models.ForeignKey("boils.Batch", models.PROTECT, related_name="readings")
    temperature_c = models.DecimalField(_("pan temperature"), max_digits=4, decimal_places=1, null=True, blank=True)
    sugar_brix = models.DecimalField(_("sugar"), max_digits=4, decimal_places=1, null=True, blank=True)
    volume_ml = models.PositiveIntegerField(_("in the pan, by the stick"), null=True, blank=True)
    note = models.CharField(_("note"), max_length=200, blank=True)
    happened_at = models.DateTimeField()
    recorded_at = models.DateTimeField(default=timezone.now)
    author = models.ForeignKey("volunteers.Person", models.PROTECT, related_name="+")

    class Meta:
        ordering = ("happened_at", "recorded_at")
        constraints = (
            models.CheckConstraint(
                condition=Q(sugar_brix=None) | Q(sugar_brix__gte=0, sugar_brix__lte=90), name="pan_sugar_possible"
            ),
            models.CheckConstraint(
                condition=Q(temperature_c=None) | Q(temperature_c__gte=-10, temperature_c__lte=150),
                name="pan_temperature_possible",
            ),
        )

    def __str__(self) -> str:
        return f"{self.batch}, {self.happened_at:%H:%M}"


class DrawOffQuerySet(models.QuerySet["DrawOff"]):
    def standing(self) -> DrawOffQuerySet:
        """Those that were not taken back."""
        return self.filter(taken_back=None)


class DrawOff(models.Model):
    """Syrup drawn off a batch into a lot: how much, how hot, how dense. Its litres stand in the ledger."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    batch = models.ForeignKey("boils.Batch", models.PROTECT, related_name="draw_offs")
    lot = models.ForeignKey("sap.Vessel", models.PROTECT, related_name="draw_offs")
    act = models.OneToOneField("sap.Act", models.PROTECT, related_name="draw_off")
    volume_ml = models.PositiveIntegerField(_("syrup"))
    temperature_c = models.DecimalField(_("drawn off at"), max_digits=4, decimal_places=1, null=True, blank=True)
    syrup_brix = models.DecimalField(_("density"), max_digits=4, decimal_places=1, null=True, blank=True)
    happened_at = models.DateTimeField()
    recorded_at = models.DateTimeField(default=timezone.now)
    author = models.ForeignKey("volunteers.Person", models.PROTECT, related_name="+")
    # The act that took it back; it stays on the record and counts nowhere.
    taken_back = models.ForeignKey("sap.Act", models.PROTECT, null=True, editable=False, related_name="+")

    objects = DrawOffQuerySet.as_manager()

    class Meta:
        ordering = ("happened_at", "recorded_at")
        constraints = (models.CheckConstraint(condition=Q(volume_ml__gt=0), name="draw_off_is_something"),)

    def __str__(self) -> str:
        return f"{self.batch}, {self.volume_ml} mL"
