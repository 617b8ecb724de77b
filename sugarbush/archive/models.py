"""An archive that was made from the page, kept for a while for who asked."""

from __future__ import annotations

import datetime as dt
import uuid

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

GIVEN_UP = dt.timedelta(hours=6)


class State(models.TextChoices):
    WAITING = "waiting", _("waits for its turn")
    AT_WORK = "at_work", _("is being made")
    DONE = "done", _("ready")
    STOPPED = "stopped", _("stopped")


class Archive(models.Model):
    """One archive asked for, how far it is, and where it lies. It does not go along into an archive."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    by = models.ForeignKey("volunteers.Person", models.CASCADE, related_name="+")
    reason = models.CharField(_("what it is for"), max_length=200)
    state = models.CharField(max_length=8, choices=State.choices, default=State.WAITING)
    done = models.PositiveBigIntegerField(default=0)
    whole = models.PositiveBigIntegerField(default=0)
    size_bytes = models.PositiveBigIntegerField(default=0)
    sha256 = models.CharField(max_length=64, blank=True)
    missing = models.PositiveIntegerField(default=0)
    why_stopped = models.CharField(max_length=300, blank=True)
    file_name = models.CharField(max_length=80, blank=True)
    asked_at = models.DateTimeField(default=timezone.now)
    finished_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ("-asked_at",)
        verbose_name = _("archive")

    def __str__(self) -> str:
        return f"{self.asked_at:%Y-%m-%d %H:%M}"

    def in_history(self) -> str:
        return str(self)

    @property
    def at_work(self) -> bool:
        """Still to come. One that a worker never ended is not waited for all day."""
        return self.state in {State.WAITING, State.AT_WORK} and self.asked_at > timezone.now() - GIVEN_UP
