"""Files taken in: the town's trees and streets, run by run, with every row that was not taken."""

from __future__ import annotations

import uuid

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _


class StreetLine(models.Model):
    """One line of the base map: points as [longitude, latitude] in degrees."""

    name = models.CharField(max_length=120, blank=True)
    kind = models.CharField(max_length=20, default="street")
    points = models.JSONField()
    west = models.FloatField()
    south = models.FloatField()
    east = models.FloatField()
    north = models.FloatField()
    digest = models.CharField(max_length=64, unique=True)

    class Meta:
        ordering = ("pk",)
        indexes = (models.Index(fields=("west", "east", "south", "north"), name="street_box"),)

    def __str__(self) -> str:
        return self.name or self.kind


class ImportRun(models.Model):
    """One taking-in of a file, from upload to report."""

    class Kind(models.TextChoices):
        TREES = "trees", _("trees")
        STREETS = "streets", _("streets")

    class State(models.TextChoices):
        UPLOADED = "uploaded", _("columns to be matched")
        WAITING = "waiting", _("waiting for its turn")
        RUNNING = "running", _("being read")
        DONE = "done", _("done")
        STOPPED = "stopped", _("stopped")

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    kind = models.CharField(max_length=8, choices=Kind.choices, default=Kind.TREES)
    source = models.CharField(_("name of the list"), max_length=60, blank=True)
    file_name = models.CharField(max_length=200)
    path = models.CharField(max_length=400)
    sha256 = models.CharField(max_length=64)
    size_bytes = models.BigIntegerField(default=0)
    mapping = models.JSONField(default=dict)
    state = models.CharField(max_length=8, choices=State.choices, default=State.UPLOADED)
    rows_read = models.PositiveIntegerField(default=0)
    bytes_read = models.BigIntegerField(default=0)
    taken = models.PositiveIntegerField(default=0)
    changed = models.PositiveIntegerField(default=0)
    same = models.PositiveIntegerField(default=0)
    refused = models.PositiveIntegerField(default=0)
    report = models.JSONField(default=dict)
    message = models.TextField(blank=True)
    started_by = models.ForeignKey("volunteers.Person", models.PROTECT, null=True, related_name="+")
    added_at = models.DateTimeField(default=timezone.now)
    started_at = models.DateTimeField(null=True)
    finished_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ("-added_at",)

    def __str__(self) -> str:
        return self.file_name


class ImportProblem(models.Model):
    """A row that was not taken, and why."""

    run = models.ForeignKey(ImportRun, models.CASCADE, related_name="problems")
    row_number = models.PositiveIntegerField()
    reason = models.CharField(max_length=24)
    sentence = models.CharField(max_length=300)
    raw = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ("run", "row_number", "pk")
        indexes = (models.Index(fields=("run", "row_number"), name="problem_by_row"),)

    def __str__(self) -> str:
        return f"{self.row_number}: {self.sentence}"
