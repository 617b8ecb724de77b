"""Lots of syrup, the jars they fill, who has them, and calling them back."""

from __future__ import annotations

import uuid

from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords


class LotState(models.TextChoices):
    HELD = "held", _("held")
    PACKED = "packed", _("packed, not released yet")
    RELEASED = "released", _("released")
    ISSUED = "issued", _("all handed out")
    RECALLED = "recalled", _("called back")
    DESTROYED = "destroyed", _("destroyed")


class Colour(models.TextChoices):
    GOLDEN = "golden", _("Golden")
    AMBER = "amber", _("Amber")
    DARK = "dark", _("Dark")
    VERY_DARK = "very dark", _("Very dark")


class Lot(models.Model):
    """One packing of one vessel of syrup. Until it is packed a lot is only its vessel."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    vessel = models.OneToOneField("sap.Vessel", models.PROTECT, related_name="lot")
    season = models.ForeignKey("seasons.Season", models.PROTECT, related_name="lots")
    code = models.CharField(_("lot code"), max_length=20, unique=True)
    state = models.CharField(max_length=9, choices=LotState.choices, default=LotState.PACKED)
    drawn_ml = models.PositiveIntegerField(_("syrup to pack"))
    syrup_brix = models.DecimalField(_("density"), max_digits=4, decimal_places=1, null=True, blank=True)
    fill_temperature_c = models.DecimalField(_("filled at"), max_digits=4, decimal_places=1, null=True, blank=True)
    light_pct = models.DecimalField(_("light through it"), max_digits=4, decimal_places=1, null=True, blank=True)
    colour = models.CharField(_("colour"), max_length=9, choices=Colour.choices, blank=True)
    by_eye = models.BooleanField(_("colour judged by eye"), default=True)
    off_taste = models.CharField(_("taste, where something is off"), max_length=120, blank=True)
    # How the density was found: the instrument, what it read, and how warm the syrup was.
    reading = models.JSONField(default=dict, editable=False)
    held_because = models.JSONField(default=list)
    packed_at = models.DateTimeField()
    packed_by = models.ForeignKey("volunteers.Person", models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField(default=timezone.now)
    released_at = models.DateTimeField(null=True)
    released_by = models.ForeignKey("volunteers.Person", models.PROTECT, null=True, related_name="+")
    note = models.CharField(_("note"), max_length=400, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ("-packed_at", "code")
        verbose_name = _("lot")
        constraints = (
            models.CheckConstraint(
                condition=Q(released_by=None) | ~Q(released_by=F("packed_by")), name="released_by_another"
            ),
            models.CheckConstraint(
                condition=~Q(state__in=["released", "issued"])
                | (
                    Q(released_by__isnull=False, released_at__isnull=False)
                    & Q(syrup_brix__isnull=False, fill_temperature_c__isnull=False)
                    & ~Q(code="")
                ),
                name="released_lot_is_measured",
            ),
        )

    def __str__(self) -> str:
        return self.code


class JarCount(models.Model):
    """Jars of one size in a lot: how many were filled, and how many of those broke or were opened."""

    lot = models.ForeignKey(Lot, models.PROTECT, related_name="jars")
    size_ml = models.PositiveIntegerField(_("jar size"))
    filled = models.PositiveIntegerField(_("filled"))
    broken = models.PositiveIntegerField(_("broken"), default=0)

    class Meta:
        ordering = ("-size_ml",)
        constraints = (
            models.UniqueConstraint(fields=("lot", "size_ml"), name="one_count_a_size"),
            models.CheckConstraint(
                condition=Q(size_ml__gt=0, filled__gt=0, broken__lte=F("filled")), name="jars_possible"
            ),
        )

    def __str__(self) -> str:
        return f"{self.filled} x {self.size_ml} mL"


class JarIssue(models.Model):
    """Jars of one lot and size that went to somebody. Coming back is a row of its own (returns)."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    lot = models.ForeignKey(Lot, models.PROTECT, related_name="issues")
    size_ml = models.PositiveIntegerField(_("jar size"))
    count = models.PositiveIntegerField(_("jars"))
    person = models.ForeignKey("volunteers.Person", models.PROTECT, null=True, blank=True, related_name="jars")
    owner = models.ForeignKey("owners.Owner", models.PROTECT, null=True, blank=True, related_name="jars")
    to_text = models.CharField(_("to whom"), max_length=120, blank=True)
    purpose = models.CharField(_("as what"), max_length=40, blank=True)
    act = models.ForeignKey("sap.Act", models.PROTECT, related_name="jar_issues")
    returns = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="returned_by")
    happened_at = models.DateTimeField()
    recorded_at = models.DateTimeField(default=timezone.now)
    author = models.ForeignKey("volunteers.Person", models.PROTECT, related_name="+")

    class Meta:
        ordering = ("happened_at", "recorded_at")
        constraints = (
            models.CheckConstraint(condition=Q(count__gt=0, size_ml__gt=0), name="issue_is_something"),
            models.CheckConstraint(
                condition=Q(person__isnull=False) | Q(owner__isnull=False) | ~Q(to_text=""), name="issue_names_somebody"
            ),
        )

    def __str__(self) -> str:
        return f"{self.count} x {self.size_ml} mL"


class Recall(models.Model):
    """Jars called back: where it began, why, which lots, whom to ring, and when it was over."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    number = models.PositiveIntegerField()
    season = models.ForeignKey("seasons.Season", models.PROTECT, related_name="recalls")
    reason = models.CharField(_("why"), max_length=400)
    collection = models.ForeignKey("gathering.Collection", models.PROTECT, null=True, blank=True, related_name="+")
    opened_at = models.DateTimeField(default=timezone.now)
    opened_by = models.ForeignKey("volunteers.Person", models.PROTECT, related_name="+")
    closed_at = models.DateTimeField(null=True)
    closed_by = models.ForeignKey("volunteers.Person", models.PROTECT, null=True, related_name="+")
    outcome = models.CharField(_("how it ended"), max_length=400, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ("-opened_at",)
        constraints = (models.UniqueConstraint(fields=("season", "number"), name="recall_number_once"),)

    def __str__(self) -> str:
        return f"R{self.season.year}-{self.number:02d}"


class RecallLot(models.Model):
    """A lot within a recall, and how much of it the suspect sap makes up."""

    recall = models.ForeignKey(Recall, models.PROTECT, related_name="lots")
    lot = models.ForeignKey(Lot, models.PROTECT, related_name="recalls")
    part = models.DecimalField(_("share of the lot"), max_digits=7, decimal_places=6, null=True)

    class Meta:
        ordering = ("lot__code",)
        constraints = (models.UniqueConstraint(fields=("recall", "lot"), name="lot_once_a_recall"),)

    def __str__(self) -> str:
        return f"{self.recall}: {self.lot}"


class RecallCall(models.Model):
    """Somebody who holds jars was told, or was tried."""

    recall = models.ForeignKey(Recall, models.PROTECT, related_name="calls")
    issue = models.ForeignKey(JarIssue, models.PROTECT, related_name="+")
    reached = models.BooleanField(_("reached"), default=False)
    note = models.CharField(_("what they said"), max_length=200, blank=True)
    author = models.ForeignKey("volunteers.Person", models.PROTECT, related_name="+")
    called_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ("called_at",)

    def __str__(self) -> str:
        return f"{self.recall}, {self.called_at:%Y-%m-%d}"
