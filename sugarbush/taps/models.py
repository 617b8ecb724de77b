"""Which group works which tree, and the holes in it."""

from __future__ import annotations

import uuid
from dataclasses import dataclass

from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords


class AssignmentState(models.TextChoices):
    PROPOSED = "proposed", _("proposed")
    ACTIVE = "active", _("given")
    ENDED = "ended", _("ended")


class Assignment(models.Model):
    """A tree given to a group, and perhaps to one person, for a season."""

    tree = models.ForeignKey("trees.Tree", models.PROTECT, related_name="assignments")
    season = models.ForeignKey("seasons.Season", models.PROTECT, related_name="assignments")
    group = models.ForeignKey("volunteers.Group", models.PROTECT, related_name="assignments")
    person = models.ForeignKey("volunteers.Person", models.PROTECT, null=True, blank=True, related_name="assignments")
    state = models.CharField(max_length=8, choices=AssignmentState.choices, default=AssignmentState.ACTIVE)
    given_by = models.ForeignKey("volunteers.Person", models.PROTECT, related_name="+")
    given_at = models.DateTimeField(default=timezone.now)
    history = HistoricalRecords()

    class Meta:
        ordering = ("pk",)
        constraints = (
            models.UniqueConstraint(
                fields=("tree", "season"), condition=~Q(state="ended"), name="one_live_assignment_a_tree"
            ),
        )

    def __str__(self) -> str:
        return f"{self.tree_id} to {self.group_id}"


class TapState(models.TextChoices):
    IN = "in", _("in")
    TO_SETTLE = "to_settle", _("to settle")
    PULLED = "pulled", _("pulled")
    LOST = "lost", _("lost")


class Shavings(models.TextChoices):
    WHITE = "white", _("white")
    BROWN = "brown", _("brown or yellow")
    UNSEEN = "unseen", _("not looked at")


@dataclass(frozen=True, kw_only=True)
class NewHole:
    """A hole about to be drilled, or just drilled."""

    height_mm: int
    aspect_deg: int
    bit_um: int
    depth_mm: int


class Tap(models.Model):
    """One hole with its spout. A hole that broke a rule is kept all the same, to settle."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    tree = models.ForeignKey("trees.Tree", models.PROTECT, related_name="taps")
    season = models.ForeignKey("seasons.Season", models.PROTECT, related_name="taps")
    position = models.PositiveSmallIntegerField(_("which hole this season"))
    placed_at = models.DateTimeField(_("drilled at"))
    by = models.ForeignKey("volunteers.Person", models.PROTECT, related_name="taps_placed")
    height_mm = models.PositiveIntegerField(_("height above ground"))
    aspect_deg = models.PositiveSmallIntegerField(_("side of the trunk"))
    bit_um = models.PositiveIntegerField(_("bit"))
    depth_mm = models.PositiveIntegerField(_("depth"))
    # How wide the trunk was then: the stained wood stays at that depth while the tree grows round it.
    diameter_um = models.PositiveIntegerField(_("trunk across then"), null=True, editable=False)
    shavings = models.CharField(_("shavings"), max_length=6, choices=Shavings.choices)
    container = models.ForeignKey("kit.Container", models.PROTECT, null=True, blank=True, related_name="taps")
    container_ml = models.PositiveIntegerField(_("the pail holds"), default=8_000)
    state = models.CharField(max_length=9, choices=TapState.choices, default=TapState.IN)
    settle_reasons = models.JSONField(default=list)
    settled_by = models.ForeignKey("volunteers.Person", models.PROTECT, null=True, related_name="+")
    settled_note = models.CharField(max_length=300, blank=True)
    dry = models.BooleanField(_("dry"), default=False)
    leaking = models.BooleanField(_("leaking"), default=False)
    out_at = models.DateTimeField(null=True)
    out_by = models.ForeignKey("volunteers.Person", models.PROTECT, null=True, related_name="+")
    out_reason = models.CharField(_("why it is gone"), max_length=300, blank=True)
    note = models.CharField(_("note"), max_length=300, blank=True)
    recorded_at = models.DateTimeField(default=timezone.now)
    history = HistoricalRecords()

    class Meta:
        ordering = ("season", "tree", "position", "recorded_at")
        constraints = (
            models.UniqueConstraint(
                fields=("tree", "season", "position"),
                condition=Q(position__gt=0),
                name="one_hole_a_position",
            ),
            models.CheckConstraint(condition=Q(position__lte=2), name="never_more_than_two_taps"),
            models.CheckConstraint(
                condition=Q(state="to_settle") | ~Q(position=0) | Q(out_at__isnull=False), name="standing_tap_has_place"
            ),
            models.CheckConstraint(condition=Q(aspect_deg__lt=360), name="aspect_on_the_compass"),
            models.CheckConstraint(
                condition=Q(out_at=None, state__in=("in", "to_settle"))
                | Q(out_at__isnull=False, state__in=("pulled", "lost")),
                name="out_has_its_time",
            ),
            models.CheckConstraint(condition=~Q(state="lost") | ~Q(out_reason=""), name="lost_has_its_reason"),
        )
        indexes = (
            models.Index(fields=("tree", "placed_at"), name="tap_by_tree"),
            models.Index(fields=("season", "state"), name="tap_by_state"),
        )

    def __str__(self) -> str:
        return f"{self.tree.code}, hole {self.position or '?'}"

    @property
    def hole(self) -> NewHole:
        """The hole alone, as the gate asks about it."""
        return NewHole(height_mm=self.height_mm, aspect_deg=self.aspect_deg, bit_um=self.bit_um, depth_mm=self.depth_mm)

    @property
    def spout_in(self) -> bool:
        """Whether a spout is in the wood, whether or not it may be."""
        return self.state in {TapState.IN, TapState.TO_SETTLE}
