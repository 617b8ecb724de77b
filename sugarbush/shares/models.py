"""The rule, the runs, what each party gets, and the questions they ask."""

from __future__ import annotations

import uuid

from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _


class ShareRule(models.Model):
    """One version of a season's rule. Versions are only added; the latest published one is in force."""

    season = models.ForeignKey("seasons.Season", models.PROTECT, related_name="share_rules")
    version = models.PositiveSmallIntegerField()
    # Parts (measure, weight, floor, least), set-asides (key, jars or mL), owners' jars: see shares.rules.
    terms = models.JSONField(default=dict)
    words = models.TextField(_("the rule in words"), blank=True)
    reason = models.CharField(_("why it changed"), max_length=400, blank=True)
    published_at = models.DateTimeField(null=True)
    published_by = models.ForeignKey("volunteers.Person", models.PROTECT, null=True, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)
    made_by = models.ForeignKey("volunteers.Person", models.PROTECT, related_name="+")

    class Meta:
        ordering = ("season", "version")
        constraints = (models.UniqueConstraint(fields=("season", "version"), name="rule_version_once"),)

    def __str__(self) -> str:
        return f"{self.season}, {self.version}"


class RunState(models.TextChoices):
    DRAFT = "draft", _("draft")
    QUERIES = "queries", _("open for questions")
    FINAL = "final", _("final")
    SUPERSEDED = "superseded", _("replaced by a later one")
    DROPPED = "dropped", _("dropped")


class ShareRun(models.Model):
    """One working-out. Its inputs are frozen with it and carry a hash; a final one is never changed."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    season = models.ForeignKey("seasons.Season", models.PROTECT, related_name="share_runs")
    number = models.PositiveSmallIntegerField()
    rule = models.ForeignKey(ShareRule, models.PROTECT, related_name="runs")
    state = models.CharField(max_length=10, choices=RunState.choices, default=RunState.DRAFT)
    inputs = models.JSONField()
    inputs_hash = models.CharField(max_length=64)
    pool_ml = models.PositiveIntegerField()
    supersedes = models.OneToOneField("self", models.PROTECT, null=True, related_name="superseded_by")
    reason = models.CharField(_("why again"), max_length=400, blank=True)
    made_at = models.DateTimeField(default=timezone.now)
    made_by = models.ForeignKey("volunteers.Person", models.PROTECT, related_name="+")
    questions_until = models.DateField(null=True)
    final_at = models.DateTimeField(null=True)
    final_by = models.ForeignKey("volunteers.Person", models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ("season", "-number")
        constraints = (
            models.UniqueConstraint(fields=("season", "number"), name="run_number_once"),
            models.UniqueConstraint(fields=("season",), condition=Q(state="final"), name="one_final_run"),
            models.UniqueConstraint(
                fields=("season",), condition=Q(state__in=["draft", "queries"]), name="one_run_underway"
            ),
        )

    def __str__(self) -> str:
        return f"{self.season}, {self.number}"


class Party(models.TextChoices):
    PERSON = "person", _("member")
    OWNER = "owner", _("tree owner")
    ASIDE = "aside", _("set aside")


class Taken(models.TextChoices):
    WAITING = "waiting", _("waiting")
    COLLECTED = "collected", _("handed out")
    DECLINED = "declined", _("declined")
    DONATED = "donated", _("given on")


class Share(models.Model):
    """What one party gets of a run: the exact entitlement, and the jars that make it up."""

    run = models.ForeignKey(ShareRun, models.PROTECT, related_name="shares")
    party = models.CharField(max_length=6, choices=Party.choices)
    person = models.ForeignKey("volunteers.Person", models.PROTECT, null=True, blank=True, related_name="shares")
    owner = models.ForeignKey("owners.Owner", models.PROTECT, null=True, blank=True, related_name="shares")
    name = models.CharField(max_length=120)
    # What it was worked out from: litres, weight, hours, and each part's quota and remainder place.
    working = models.JSONField(default=dict)
    entitled_ml = models.PositiveIntegerField(default=0)
    # Jars by size in millilitres: {"250": 3}; what they hold together is given_ml.
    jars = models.JSONField(default=dict)
    given_ml = models.PositiveIntegerField(default=0)
    taken = models.CharField(max_length=9, choices=Taken.choices, default=Taken.WAITING)
    taken_at = models.DateTimeField(null=True)
    taken_by = models.ForeignKey("volunteers.Person", models.PROTECT, null=True, related_name="+")
    taken_note = models.CharField(_("note"), max_length=200, blank=True)

    class Meta:
        ordering = ("run", "party", "name", "pk")
        constraints = (
            models.UniqueConstraint(fields=("run", "person"), condition=Q(person__isnull=False), name="one_share_each"),
            models.UniqueConstraint(
                fields=("run", "owner"), condition=Q(owner__isnull=False), name="one_share_each_owner"
            ),
        )

    def __str__(self) -> str:
        return f"{self.name}: {self.given_ml} mL"


class ShareQuery(models.Model):
    """A question about a share. It holds the run from becoming final until it is answered."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    share = models.ForeignKey(Share, models.PROTECT, related_name="queries")
    asked_by = models.ForeignKey("volunteers.Person", models.PROTECT, related_name="+")
    asked_at = models.DateTimeField(default=timezone.now)
    text = models.TextField(_("question"), max_length=1000)
    answer = models.TextField(_("answer"), max_length=1000, blank=True)
    changed_something = models.BooleanField(_("the working-out has to be made again"), default=False)
    answered_by = models.ForeignKey("volunteers.Person", models.PROTECT, null=True, related_name="+")
    answered_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ("asked_at",)
        constraints = (
            models.CheckConstraint(
                condition=Q(answered_at=None) | (~Q(answer="") & ~Q(answered_by=F("asked_by"))),
                name="answered_by_another",
            ),
        )

    def __str__(self) -> str:
        return self.text[:60]
