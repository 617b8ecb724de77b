"""Files taken in: the town's trees and streets, run by run, with every row that was not taken."""

from __future__ import annotations

import uuid

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _


class StreetLine(models.Model):
    """One line of the base map: points as [longitude, latitude] in degrees."""

    name = models.CharField(max_length=120, blank=True)
    kind = models.CharField(max_length=40, default="street")
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
    """One taking-in of a file, from upload to report.

    report holds, by reason: "reasons" (rows not taken), "remarks" ([rows, first row]), "changes" (rows by what
    changed); "box" (west, south, east, north), "notices" (sentences of the file's reader), "listed_before" (whether
    trees of this list stood here at the start) and "may_go_on" (whether a stopped run can be resumed).
    """

    class Kind(models.TextChoices):
        TREES = "trees", _("trees")
        STREETS = "streets", _("streets")
        PAST = "past", _("past years")

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
    started_by = models.ForeignKey("volunteers.Person", models.PROTECT, null=True, related_name="+")
    added_at = models.DateTimeField(default=timezone.now)
    started_at = models.DateTimeField(null=True)
    finished_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ("-added_at",)

    def __str__(self) -> str:
        return self.file_name

    @property
    def is_at_work(self) -> bool:
        return self.state in {self.State.WAITING, self.State.RUNNING}


class ImportProblem(models.Model):
    """A row of a file somebody may want to look at: not taken, changed since last time, or gone from the file.

    The reason and what its sentence names are kept; the sentence is made when shown (taking.words), in the
    reader's language and units.
    """

    run = models.ForeignKey(ImportRun, models.CASCADE, related_name="problems")
    row_number = models.PositiveIntegerField()
    """Counted as the file's reader counts; 0 for a tree the file no longer lists."""
    line = models.PositiveIntegerField(default=0)
    number = models.CharField(max_length=64, blank=True)
    reason = models.CharField(max_length=24)
    values = models.JSONField(default=dict)

    class Meta:
        ordering = ("run", "row_number", "pk")
        indexes = (models.Index(fields=("run", "row_number"), name="problem_by_row"),)

    def __str__(self) -> str:
        return f"{self.row_number}: {self.reason}"
