"""Personal tokens of programs. What is kept opens nothing: the token itself is shown once and not stored."""

from __future__ import annotations

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _


class Token(models.Model):
    """What one program of a person may read, until when, and when it last did."""

    person = models.ForeignKey("volunteers.Person", models.CASCADE, related_name="+")
    name = models.CharField(_("what it is for"), max_length=60)
    scopes = models.JSONField(default=list)
    token_hash = models.CharField(max_length=64, unique=True, editable=False)
    made_at = models.DateTimeField(default=timezone.now)
    good_until = models.DateTimeField()
    last_used_at = models.DateTimeField(null=True)
    withdrawn_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ("-made_at", "-pk")
        verbose_name = _("token of a program")

    def __str__(self) -> str:
        return f"token {self.pk}"
