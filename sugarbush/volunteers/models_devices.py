"""Devices that are signed in, so that a person can see them and sign one out."""

from __future__ import annotations

import uuid

from django.db import models
from django.utils import timezone


class Device(models.Model):
    """One session of a person. Known by a hash of its key; its words come from what the browser says it is."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    person = models.ForeignKey("volunteers.Person", models.CASCADE, related_name="devices")
    key_hash = models.CharField(max_length=64, unique=True)
    words = models.CharField(max_length=60)
    came_in_at = models.DateTimeField(default=timezone.now)
    seen_at = models.DateTimeField(default=timezone.now, db_index=True)

    class Meta:
        ordering = ("-seen_at", "pk")

    def __str__(self) -> str:
        return self.words
