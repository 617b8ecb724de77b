"""The rule, the runs, what each party gets, and the questions they ask.

What was published or made final is never changed: the models refuse it, and triggers in the database behind them
(migration 0002).
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from typing import Any, NoReturn

from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _


def _same(one: models.Model, stored: models.Model, names: Iterable[str]) -> bool:
    return all(getattr(one, name) == getattr(stored, name) for name in names)


class ShareRule(models.Model):
    """One version of a season's rule. Versions are only added; the latest published one is in force."""

    season = models.ForeignKey("seasons.Season", models.PROTECT, related_name="share_rules")
    version = models.PositiveSmallIntegerField()
    # Parts (measure, weight, first jars, least), set-asides (jars or mL), owners' jars: see shares.terms.
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

    FROZEN = ("season_id", "version", "terms", "words", "reason", "published_at", "published_by_id")

    def __str__(self) -> str:
        return f"{self.season}, {self.version}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            stored = ShareRule.objects.get(pk=self.pk)
            if stored.published_at is not None and not _same(self, stored, self.FROZEN):
                raise TypeError("A published rule is never changed; add a version.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        if ShareRule.objects.filter(pk=self.pk, published_at__isnull=False).exists():
            raise TypeError("A published rule is never deleted; add a version.")
        return super().delete(*args, **kwargs)


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
    # After it is final: until when to come for the jars, and why some stay when the season closes.
    collect_by = models.DateField(_("jars are kept until"), null=True)
    left_reason = models.CharField(_("why jars stay"), max_length=400, blank=True)
    left_by = models.ForeignKey("volunteers.Person", models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ("season", "-number")
        constraints = (
            models.UniqueConstraint(fields=("season", "number"), name="run_number_once"),
            models.UniqueConstraint(fields=("season",), condition=Q(state="final"), name="one_final_run"),
            models.UniqueConstraint(
                fields=("season",), condition=Q(state__in=["draft", "queries"]), name="one_run_underway"
            ),
        )

    FROZEN = ("season_id", "number", "rule_id", "inputs", "inputs_hash", "pool_ml", "supersedes_id", "final_at")

    def __str__(self) -> str:
        return f"{self.season}, {self.number}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            stored = ShareRun.objects.get(pk=self.pk)
            step = (stored.state, self.state)
            ahead = stored.state == self.state or step == (RunState.FINAL, RunState.SUPERSEDED)
            if stored.is_frozen and not (ahead and _same(self, stored, self.FROZEN)):
                raise TypeError("A final working-out is never changed; make another that replaces it.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise TypeError("A working-out is never deleted; drop it, or make another that replaces it.")

    @property
    def is_frozen(self) -> bool:
        return self.state in {RunState.FINAL, RunState.SUPERSEDED}

    @property
    def is_underway(self) -> bool:
        return self.state in {RunState.DRAFT, RunState.QUERIES}


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
    # The hand-outs that this share was given in; those taken back again are among them.
    issues = models.ManyToManyField("lots.JarIssue", related_name="shares")

    class Meta:
        ordering = ("run", "party", "name", "pk")
        constraints = (
            models.UniqueConstraint(fields=("run", "person"), condition=Q(person__isnull=False), name="one_share_each"),
            models.UniqueConstraint(
                fields=("run", "owner"), condition=Q(owner__isnull=False), name="one_share_each_owner"
            ),
        )

    FROZEN = ("run_id", "party", "person_id", "owner_id", "name", "working", "entitled_ml", "jars", "given_ml")

    def __str__(self) -> str:
        return f"{self.name}: {self.in_history()}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        only = kwargs.get("update_fields")
        if not self._state.adding and (only is None or {*only} & {name.removesuffix("_id") for name in self.FROZEN}):
            stored = Share.objects.select_related("run").get(pk=self.pk)
            if stored.run.is_frozen and not _same(self, stored, self.FROZEN):
                raise TypeError("A share of a final working-out is never changed.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise TypeError("A share is never deleted.")

    @property
    def by_size(self) -> dict[int, int]:
        """Jars by size in millilitres, the largest first."""
        return {size: self.jars[str(size)] for size in sorted(map(int, self.jars), reverse=True)}

    @property
    def count(self) -> int:
        return sum(self.jars.values())

    @property
    def over_ml(self) -> int:
        return self.given_ml - self.entitled_ml

    def in_history(self) -> str:
        return f"{self.given_ml} mL"


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
