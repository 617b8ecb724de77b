"""Rounds: the trees of a group that one person walks, and the days on which somebody does."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from django.db import models
from django.db.models import Q
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords

from sugarbush.parts.reasons import Reason


class Round(models.Model):
    """Some trees of a group, in the order in which they are walked."""

    season = models.ForeignKey("seasons.Season", models.PROTECT, related_name="rounds")
    group = models.ForeignKey("volunteers.Group", models.PROTECT, related_name="rounds")
    name = models.CharField(_("name"), max_length=60)
    # A time of the clock, not a moment: the round has to begin by four whatever the clocks did last night.
    latest_start = models.TimeField(_("latest start"), default=dt.time(16))
    made_at = models.DateTimeField(default=timezone.now)
    ended_at = models.DateTimeField(null=True, editable=False)
    history = HistoricalRecords()

    class Meta:
        ordering = ("group__name", "name", "pk")
        verbose_name = _("round")
        constraints = (
            models.UniqueConstraint(
                fields=("season", "group", "name"), condition=Q(ended_at=None), name="round_name_once"
            ),
            models.CheckConstraint(condition=~Q(name=""), name="round_has_a_name"),
        )

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("round-plan", args=[self.pk])


class RoundStop(models.Model):
    """One tree on a round, from one moment to another. A stop that ended stays as history."""

    round = models.ForeignKey(Round, models.CASCADE, related_name="stops")
    # The round's own season, kept here too: without it no constraint could see that a tree is on one round only.
    season = models.ForeignKey("seasons.Season", models.PROTECT, related_name="+")
    tree = models.ForeignKey("trees.Tree", models.PROTECT, related_name="round_stops")
    position = models.PositiveIntegerField(_("place on the way"))
    on_at = models.DateTimeField(default=timezone.now)
    off_at = models.DateTimeField(null=True)
    off_reason = models.CharField(_("why it is off"), max_length=120, blank=True)

    class Meta:
        ordering = ("round", "position", "pk")
        constraints = (
            models.UniqueConstraint(
                fields=("tree", "season"), condition=Q(off_at=None), name="tree_on_one_round_a_season"
            ),
        )

    def __str__(self) -> str:
        return f"{self.tree_id} on {self.round_id}"


class Part(models.TextChoices):
    WALKS = "walks", _("walks it")
    STANDBY = "standby", _("stands by")


class RoundPerson(models.Model):
    """Who usually walks a round, and who may be called when nobody comes. nth: in which order."""

    round = models.ForeignKey(Round, models.CASCADE, related_name="usual")
    person = models.ForeignKey("volunteers.Person", models.PROTECT, related_name="+")
    part = models.CharField(max_length=8, choices=Part.choices, default=Part.WALKS)
    nth = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ("part", "nth", "pk")
        constraints = (models.UniqueConstraint(fields=("round", "person"), name="one_part_each_on_a_round"),)

    def __str__(self) -> str:
        return f"{self.person}: {self.get_part_display()}"


class RunState(models.TextChoices):
    """What people have said of a run. That it was started, done, late or missed is read from the entries themselves.

    Entries come in days late from phones without signal, and are taken back or settled; a state written down when one
    arrived would have to be mended each time, and each entry would cost a write more.
    """

    PLANNED = "planned", _("planned")
    FINISHED = "finished", _("finished")
    CALLED_OFF = "called_off", _("called off")


class RoundRun(models.Model):
    """One round on one day."""

    round = models.ForeignKey(Round, models.PROTECT, related_name="runs")
    date = models.DateField(_("day"))
    state = models.CharField(max_length=10, choices=RunState.choices, default=RunState.PLANNED)
    sheet_number = models.CharField(_("number of the paper sheet"), max_length=20, null=True, blank=True, unique=True)
    # Trees nobody came to although the run was finished: [{"code": ..., "why": ...}].
    left_out = models.JSONField(default=list)
    finished_at = models.DateTimeField(null=True)
    finished_by = models.ForeignKey("volunteers.Person", models.PROTECT, null=True, related_name="+")
    note = models.CharField(_("note"), max_length=300, blank=True)
    off_reason = models.CharField(_("why it is called off"), max_length=200, blank=True)

    class Meta:
        ordering = ("date", "round")
        verbose_name = _("run")
        constraints = (
            models.UniqueConstraint(fields=("round", "date"), name="one_run_a_round_and_day"),
            models.CheckConstraint(
                condition=~Q(state="called_off") | ~Q(off_reason=""), name="called_off_run_has_a_reason"
            ),
            models.CheckConstraint(
                condition=Q(state="finished", finished_at__isnull=False) | (~Q(state="finished") & Q(finished_at=None)),
                name="finished_run_has_its_time",
            ),
        )
        indexes = (models.Index(fields=("date", "round"), name="run_by_day"),)

    def __str__(self) -> str:
        return f"{self.round}, {self.date}"


class Answer(models.TextChoices):
    NONE = "", _("has not answered")
    YES = "yes", _("I come")
    NO = "no", _("I can’t")


class RunPerson(models.Model):
    """One person on one run: walks it, or stands by until somebody calls.

    out: why they may not be on it by now. Not kept: `crew.people_of` works it out for the pages that look ahead.
    """

    out: Sequence[Reason] = ()
    run = models.ForeignKey(RoundRun, models.CASCADE, related_name="people")
    person = models.ForeignKey("volunteers.Person", models.PROTECT, related_name="+")
    part = models.CharField(max_length=8, choices=Part.choices, default=Part.WALKS)
    nth = models.PositiveSmallIntegerField(default=0)
    answer = models.CharField(max_length=3, choices=Answer.choices, default=Answer.NONE, blank=True)
    said_at = models.DateTimeField(null=True)
    called_at = models.DateTimeField(null=True)
    called_by = models.ForeignKey("volunteers.Person", models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ("part", "nth", "pk")
        constraints = (models.UniqueConstraint(fields=("run", "person"), name="one_part_each_on_a_run"),)
        indexes = (models.Index(fields=("person", "run"), name="run_by_person"),)

    def __str__(self) -> str:
        return f"{self.person}: {self.get_part_display()}"

    @property
    def comes(self) -> bool:
        """Whether they are counted on."""
        return self.part == Part.WALKS and self.answer != Answer.NO and not self.out
