"""What people saw on a tree: sizes and kinds, health, insecticide."""

from __future__ import annotations

import datetime as dt

from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords


class Evidence(models.TextChoices):
    LEAF = "leaf", _("leaf")
    FRUIT = "fruit", _("fruit (keys)")
    TWIG = "twig", _("twig and buds")
    BARK = "bark", _("bark only")
    ARBORIST = "arborist", _("an arborist said so")
    LIST = "list", _("the town’s list only")

    @classmethod
    def proof(cls) -> tuple[str, ...]:
        """What is enough to be sure: bark and a list are not."""
        return (cls.LEAF, cls.FRUIT, cls.TWIG, cls.ARBORIST)


class TreeObservation(models.Model):
    """A dated look: girth, species and what it was told by."""

    uuid = models.UUIDField(null=True, unique=True, editable=False)
    tree = models.ForeignKey("trees.Tree", models.PROTECT, related_name="observations")
    date = models.DateField(_("day"))
    by = models.ForeignKey("volunteers.Person", models.PROTECT, related_name="+")
    diameter_um = models.PositiveIntegerField(null=True, blank=True)
    size_as_given = models.CharField(max_length=40, blank=True)
    stems = models.PositiveSmallIntegerField(default=1)
    stems_um = models.JSONField(_("each stem across"), default=list)
    species = models.ForeignKey("trees.Species", models.PROTECT, null=True, blank=True, related_name="+")
    evidence = models.CharField(_("told by"), max_length=10, choices=Evidence.choices, blank=True)
    second_look = models.BooleanField(default=False)
    photo = models.FileField(upload_to="trees", blank=True)
    note = models.CharField(_("note"), max_length=400, blank=True)
    recorded_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ("-date", "-pk")
        indexes = (models.Index(fields=("tree", "-date"), name="look_by_tree"),)

    def __str__(self) -> str:
        return f"{self.tree.code}, {self.date}"


class TreatmentAnswer(models.TextChoices):
    NO = "no", _("No")
    YES = "yes", _("Yes")
    UNKNOWN = "unknown", _("Nobody knows")


class TreatmentQuerySet(models.QuerySet["Treatment"]):
    def for_trees(self, tree_ids: list[int]) -> dict[int, list[Treatment]]:
        """Answers of many trees at once, newest first."""
        found: dict[int, list[Treatment]] = {tree_id: [] for tree_id in tree_ids}
        for row in self.filter(tree_id__in=tree_ids).order_by("-date", "-pk"):
            found[row.tree_id].append(row)
        return found


class Treatment(models.Model):
    """One answer to: was it given insecticide inside the tree? Any yes stops until cleared in writing."""

    uuid = models.UUIDField(null=True, unique=True, editable=False)
    tree = models.ForeignKey("trees.Tree", models.PROTECT, related_name="treatments")
    answer = models.CharField(_("treated with insecticide inside the tree?"), max_length=8, choices=TreatmentAnswer)
    said_by = models.CharField(_("who said so"), max_length=120)
    date = models.DateField(_("day"))
    recorded_by = models.ForeignKey("volunteers.Person", models.PROTECT, related_name="+")
    note = models.CharField(_("note"), max_length=400, blank=True)
    cleared_at = models.DateTimeField(null=True)
    cleared_by = models.ForeignKey("volunteers.Person", models.PROTECT, null=True, related_name="+")
    cleared_reason = models.TextField(blank=True)
    history = HistoricalRecords()

    objects = TreatmentQuerySet.as_manager()

    class Meta:
        ordering = ("-date", "-pk")
        indexes = (models.Index(fields=("tree", "-date"), name="treatment_by_tree"),)
        constraints = (
            models.CheckConstraint(
                condition=Q(cleared_at=None, cleared_by=None) | (~Q(cleared_reason="") & Q(cleared_by__isnull=False)),
                name="clearing_has_author_and_reason",
            ),
        )

    def __str__(self) -> str:
        return f"{self.tree.code}: {self.get_answer_display()}, {self.date}"


class Verdict(models.TextChoices):
    PASS = "pass", _("pass")
    WATCH = "watch", _("watch: one tap at most")
    FAIL = "fail", _("fail")


class Salt(models.TextChoices):
    NONE = "none", _("none seen")
    SOME = "some", _("some")
    HEAVY = "heavy", _("heavy")


class HoleClosure(models.TextChoices):
    NONE = "none", _("no old holes")
    CLOSED = "closed", _("all closed")
    PART = "part", _("some still open")
    OPEN = "open", _("none closing")


class HealthCheck(models.Model):
    """A dated check from crown to root; the verdict is worked out by core.health and kept with its reasons."""

    uuid = models.UUIDField(null=True, unique=True, editable=False)
    tree = models.ForeignKey("trees.Tree", models.PROTECT, related_name="checks")
    date = models.DateField(_("day"))
    checker = models.ForeignKey("volunteers.Person", models.PROTECT, related_name="+")
    crown_dieback_pct = models.PositiveSmallIntegerField(_("dead crown"))
    large_dead_limbs = models.BooleanField(_("large dead limbs"), default=False)
    topped_or_defoliated = models.BooleanField(_("topped, or lost its leaves last summer"), default=False)
    cavity = models.BooleanField(_("cavity"), default=False)
    conks = models.BooleanField(_("fungus brackets"), default=False)
    cracks = models.BooleanField(_("open seam or crack"), default=False)
    construction = models.BooleanField(_("digging or building over the roots in the last 3 years"), default=False)
    herbicide = models.BooleanField(_("lawn weedkiller near the trunk this season"), default=False)
    no_safe_place = models.BooleanField(_("wires, traffic or no safe place to stand"), default=False)
    salt = models.CharField(_("road salt"), max_length=5, choices=Salt.choices, default=Salt.NONE)
    old_holes = models.CharField(_("old holes"), max_length=6, choices=HoleClosure.choices, default=HoleClosure.NONE)
    verdict = models.CharField(max_length=5, choices=Verdict.choices)
    reasons = models.JSONField(default=list)
    note = models.CharField(_("note"), max_length=400, blank=True)
    recorded_at = models.DateTimeField(default=timezone.now)
    history = HistoricalRecords()

    class Meta:
        ordering = ("-date", "-pk")
        indexes = (models.Index(fields=("tree", "-date"), name="check_by_tree"),)
        constraints = (models.CheckConstraint(condition=Q(crown_dieback_pct__lte=100), name="dieback_is_a_share"),)

    def __str__(self) -> str:
        return f"{self.tree.code}: {self.get_verdict_display()}, {self.date}"

    def counts_until(self, good_days: int) -> dt.date:
        """The last day this check counts."""
        return self.date + dt.timedelta(days=good_days)


class SaidApart(models.Model):
    """Somebody looked at two entries that might be one tree and said they are two. `first` has the lower number."""

    first = models.ForeignKey("trees.Tree", models.CASCADE, related_name="+")
    second = models.ForeignKey("trees.Tree", models.CASCADE, related_name="+")
    by = models.ForeignKey("volunteers.Person", models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("first", "second"), name="said_apart_once"),
            models.CheckConstraint(condition=Q(first__lt=models.F("second")), name="said_apart_in_order"),
        )

    def __str__(self) -> str:
        return f"{self.first_id} is not {self.second_id}"
