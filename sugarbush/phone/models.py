"""What phones have sent: a receipt for each entry, so that sending it again changes nothing."""

from __future__ import annotations

import uuid

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _


class Kind(models.TextChoices):
    VISIT = "visit", _("a visit to a tree")
    TAP = "tap", _("a hole drilled")
    PULL = "pull", _("a spout taken out")
    CHANGE = "change", _("an entry changed")
    UNDO = "undo", _("an entry taken back")


class Sent(models.Model):
    """One entry as a phone sent it, and what became of it. Written in the same act as what it brought about.

    An entry that was refused has no receipt: it stays on the phone, and may be sent again.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    person = models.ForeignKey("volunteers.Person", models.PROTECT, related_name="sent_entries")
    kind = models.CharField(max_length=6, choices=Kind.choices)
    format = models.PositiveSmallIntegerField(_("version of the format"))
    tree_code = models.CharField(max_length=16, blank=True)
    body = models.JSONField(_("as it was sent"))
    body_hash = models.CharField(max_length=64, editable=False)
    to_review = models.BooleanField(default=False)
    reasons = models.JSONField(default=list)
    # The phone's own clock may be years off; ours never goes below the year 1 nor above 9999.
    said_at = models.DateTimeField(_("by the phone’s clock"))
    taken_at = models.DateTimeField(_("the time it counts for"))
    clock_off_s = models.BigIntegerField(_("how far the phone’s clock was behind"), default=0)
    recorded_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ("-recorded_at",)
        indexes = (models.Index(fields=("person", "-recorded_at"), name="sent_by_person"),)

    def __str__(self) -> str:
        return f"{self.kind} {self.id}"


class Photo(models.Model):
    """A picture of what was found at a visit; sent after its entry, drawn anew on the server."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    entry = models.ForeignKey("gathering.Collection", models.PROTECT, related_name="photos")
    person = models.ForeignKey("volunteers.Person", models.PROTECT, related_name="+")
    file = models.FileField(upload_to="visits")
    sent_hash = models.CharField(max_length=64, editable=False)
    recorded_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ("recorded_at", "pk")
        verbose_name = _("photo of a visit")

    def __str__(self) -> str:
        return f"{self.entry}"
