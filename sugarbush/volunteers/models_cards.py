"""Cards that let somebody in: printed by the sheet, one code a card. And how often something was tried in vain."""

from __future__ import annotations

import secrets
import uuid
from typing import ClassVar

from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _


def new_seed() -> str:
    return secrets.token_hex(16)


class CardSheet(models.Model):
    """Cards made at once, for one group. The form made its id, so a form sent twice makes one sheet."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    group = models.ForeignKey("volunteers.Group", models.PROTECT, related_name="card_sheets")
    made_by = models.ForeignKey("volunteers.Person", models.PROTECT, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)
    good_from = models.DateField(_("opens from"))
    good_to = models.DateField(_("opens until"))
    member_to = models.DateField(_("in the group until"))

    class Meta:
        ordering = ("-made_at", "pk")
        verbose_name = _("sheet of cards")
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(good_to__gte=F("good_from"), member_to__gte=F("good_to")), name="card_sheet_days_in_order"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.group}, {timezone.localtime(self.made_at):%Y-%m-%d %H:%M}"


class JoinCard(models.Model):
    """One card. Its code is worked out from the seed and the signing key; only the code's keyed hash is kept."""

    sheet = models.ForeignKey(CardSheet, models.PROTECT, related_name="cards")
    number = models.PositiveSmallIntegerField(_("card"))
    seed = models.CharField(max_length=32, default=new_seed, editable=False)
    code_hash = models.CharField(max_length=64, unique=True, editable=False)
    most = models.PositiveSmallIntegerField(_("people by this card"), default=1)
    used = models.PositiveSmallIntegerField(_("joined by it"), default=0)
    withdrawn_at = models.DateTimeField(null=True)
    withdrawn_by = models.ForeignKey("volunteers.Person", models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ("sheet", "number")
        verbose_name = _("card")
        constraints: ClassVar = [
            models.UniqueConstraint(fields=("sheet", "number"), name="card_number_once_a_sheet"),
            models.CheckConstraint(condition=Q(used__lte=F("most"), most__gte=1), name="card_not_used_too_often"),
        ]

    def __str__(self) -> str:
        return f"{self.sheet}, {self.number}"


class JoinedByCard(models.Model):
    """Who came in by which card, and when; and by which press of the button, so that a second one finds the first."""

    person = models.OneToOneField("volunteers.Person", models.CASCADE, related_name="joined_by")
    card = models.ForeignKey(JoinCard, models.PROTECT, related_name="joined")
    at = models.DateTimeField(default=timezone.now)
    press_hash = models.CharField(max_length=64, unique=True, null=True, editable=False)  # noqa: DJ001  # unique, and often none

    class Meta:
        ordering = ("-at", "pk")

    def __str__(self) -> str:
        return f"{self.person}: {self.card}"


class Tries(models.Model):
    """How often one address or one visitor tried something within a span of time. Names nobody: the key is a hash."""

    key = models.CharField(max_length=64, primary_key=True)
    spent = models.PositiveIntegerField(default=0)
    ends_at = models.DateTimeField(db_index=True)

    class Meta:
        ordering = ("key",)

    def __str__(self) -> str:
        return f"{self.key[:8]}: {self.spent}"
