"""What a volunteer found at a tree, and how much sap came out of it."""

from __future__ import annotations

import uuid

from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords


class Outcome(models.TextChoices):
    SAP = "sap", _("Sap")
    EMPTY = "empty", _("Empty")
    FROZEN = "frozen", _("Frozen")
    NO_ACCESS = "no_access", _("Can’t get in")
    GONE = "gone", _("Pail gone")
    UNSAFE = "unsafe", _("Not safe")
    REMOVAL = "removal", _("Spout pulled")


class Look(models.TextChoices):
    CLEAR = "clear", _("Clear")
    CLOUDY = "cloudy", _("Cloudy")
    YELLOW = "yellow", _("Yellow")
    MILKY = "milky", _("Milky")
    ROPY = "ropy", _("Ropy")
    DEBRIS = "debris", _("Bits in it")


class DiscardReason(models.TextChoices):
    CLOUDY = "cloudy", _("cloudy")
    MILKY = "milky", _("milky or sour")
    ROPY = "ropy", _("ropy")
    ICE = "ice", _("ice tipped off")
    OVERFLOW = "overflow", _("ran over")
    RAIN = "rain", _("rain got in")
    DEBRIS = "debris", _("bits or insects")
    TAMPERED = "tampered", _("somebody was at it")
    FULL = "full", _("no room to carry or keep it")
    OTHER = "other", _("another reason, in the note")


class Source(models.TextChoices):
    PHONE = "phone", _("phone")
    DESK = "desk", _("desk")
    SHEET = "sheet", _("paper sheet")
    IMPORT = "import", _("file")


class CollectionState(models.TextChoices):
    COUNTED = "counted", _("counted")
    REVIEW = "review", _("to review")
    VOID = "void", _("taken back")


class Collection(models.Model):
    """One visit to a tree. Its litres live in the sap ledger; this says who, when, what it looked like."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    tree = models.ForeignKey("trees.Tree", models.PROTECT, related_name="collections")
    tap = models.ForeignKey("taps.Tap", models.PROTECT, null=True, blank=True, related_name="collections")
    person = models.ForeignKey("volunteers.Person", models.PROTECT, related_name="collections")
    season = models.ForeignKey("seasons.Season", models.PROTECT, related_name="collections")
    group = models.ForeignKey("volunteers.Group", models.PROTECT, null=True, related_name="collections")
    outcome = models.CharField(max_length=10, choices=Outcome.choices)
    volume_ml = models.PositiveIntegerField(_("out of the tree"), default=0)
    discarded_ml = models.PositiveIntegerField(_("of it tipped out"), default=0)
    discard_reason = models.CharField(_("why tipped out"), max_length=10, choices=DiscardReason.choices, blank=True)
    rain_ml = models.PositiveIntegerField(_("rain kept with it"), default=0)
    sugar_brix = models.DecimalField(_("sugar"), max_digits=4, decimal_places=2, null=True, blank=True)
    temperature_c = models.DecimalField(_("sap temperature"), max_digits=4, decimal_places=1, null=True, blank=True)
    look = models.CharField(_("how it looks"), max_length=8, choices=Look.choices, blank=True)
    container = models.ForeignKey("kit.Container", models.PROTECT, null=True, blank=True, related_name="collections")
    source = models.CharField(max_length=6, choices=Source.choices, default=Source.PHONE)
    state = models.CharField(max_length=8, choices=CollectionState.choices, default=CollectionState.COUNTED)
    review_reasons = models.JSONField(default=list)
    settled_by = models.ForeignKey("volunteers.Person", models.PROTECT, null=True, related_name="+")
    settled_note = models.CharField(max_length=300, blank=True)
    note = models.CharField(_("note"), max_length=400, blank=True)
    body_hash = models.CharField(max_length=64, blank=True, editable=False)
    happened_at = models.DateTimeField()
    recorded_at = models.DateTimeField(default=timezone.now)
    edition = models.PositiveIntegerField(default=1, editable=False)
    history = HistoricalRecords(excluded_fields=["body_hash"])

    class Meta:
        ordering = ("-happened_at", "-recorded_at")
        verbose_name = _("collection")
        constraints = (
            models.CheckConstraint(
                condition=Q(discarded_ml__lte=F("volume_ml") + F("rain_ml")), name="tipped_at_most_what_came"
            ),
            models.CheckConstraint(condition=Q(discarded_ml=0) | ~Q(discard_reason=""), name="tipped_out_has_a_reason"),
            models.CheckConstraint(
                condition=Q(outcome="sap") | Q(volume_ml=0, rain_ml=0, discarded_ml=0) | Q(outcome="removal"),
                name="litres_only_with_sap",
            ),
            models.CheckConstraint(
                condition=Q(sugar_brix=None) | Q(sugar_brix__gte=0, sugar_brix__lte=12), name="sap_brix_possible"
            ),
        )
        indexes = (
            models.Index(fields=("tree", "-happened_at"), name="collection_by_tree"),
            models.Index(fields=("person", "-happened_at"), name="collection_by_person"),
            models.Index(fields=("season", "state", "-happened_at"), name="collection_by_state"),
        )

    def __str__(self) -> str:
        return f"{self.tree.code}, {self.happened_at:%Y-%m-%d %H:%M}"

    @property
    def net_ml(self) -> int:
        """What went on in somebody's hands."""
        return self.volume_ml + self.rain_ml - self.discarded_ml


# The rounds on which trees are visited, by noun.
from sugarbush.gathering.models_rounds import Round as Round  # noqa: E402
from sugarbush.gathering.models_rounds import RoundPerson as RoundPerson  # noqa: E402
from sugarbush.gathering.models_rounds import RoundRun as RoundRun  # noqa: E402
from sugarbush.gathering.models_rounds import RoundStop as RoundStop  # noqa: E402
from sugarbush.gathering.models_rounds import RunPerson as RunPerson  # noqa: E402
