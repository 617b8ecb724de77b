"""The private address of a person's calendar."""

from __future__ import annotations

import secrets

from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _


def new_seed() -> str:
    return secrets.token_hex(16)


class CalendarLink(models.Model):
    """One address of one person's calendar. Its token is worked out from the seed and the signing key; only the token's
    hash is kept to find it by, so that a stolen database opens nothing and the address can be shown again.
    """

    person = models.ForeignKey("volunteers.Person", models.CASCADE, related_name="calendar_links")
    seed = models.CharField(max_length=32, default=new_seed, editable=False)
    token_hash = models.CharField(max_length=64, unique=True, editable=False)
    made_at = models.DateTimeField(default=timezone.now)
    withdrawn_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ("-made_at", "-pk")
        verbose_name = _("address of a calendar")
        constraints = (
            models.UniqueConstraint(
                fields=("person",), condition=Q(withdrawn_at=None), name="one_calendar_address_a_person"
            ),
        )

    def __str__(self) -> str:
        return f"calendar address {self.pk}"
