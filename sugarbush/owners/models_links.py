"""The owner's private link, and what an owner said by it."""

from __future__ import annotations

import datetime as dt

from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _


class OwnerLinkQuerySet(models.QuerySet["OwnerLink"]):
    def open(self, on: dt.date) -> OwnerLinkQuerySet:
        """Those that open the owner's page on the day."""
        return self.filter(withdrawn_at=None, good_to__gte=on)


class OwnerLink(models.Model):
    """An owner's way to their own page. Only a hash of its token is kept; opening it changes nothing here."""

    owner = models.ForeignKey("owners.Owner", models.PROTECT, related_name="links")
    token_hash = models.CharField(max_length=64, unique=True, editable=False)
    made_by = models.ForeignKey("volunteers.Person", models.PROTECT, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)
    good_to = models.DateField(_("opens until"))
    withdrawn_at = models.DateTimeField(null=True)
    withdrawn_by = models.ForeignKey("volunteers.Person", models.PROTECT, null=True, related_name="+")
    # Programs that look at mail open links too: only a press of the owner tells that it arrived.
    last_pressed_at = models.DateTimeField(null=True)

    objects = OwnerLinkQuerySet.as_manager()

    class Meta:
        ordering = ("-made_at", "-pk")
        constraints = (
            models.UniqueConstraint(
                fields=("owner",), condition=Q(withdrawn_at=None), name="one_link_an_owner_not_withdrawn"
            ),
            models.CheckConstraint(
                condition=Q(withdrawn_at=None, withdrawn_by=None)
                | Q(withdrawn_at__isnull=False, withdrawn_by__isnull=False),
                name="withdrawn_link_names_by_whom",
            ),
        )

    def __str__(self) -> str:
        return f"link {self.pk} of owner {self.owner_id}"

    def opens_on(self, day: dt.date) -> bool:
        return self.withdrawn_at is None and day <= self.good_to


class Said(models.TextChoices):
    YES = "yes", _("said yes")
    NO = "no", _("said no")
    STOP = "stop", _("asked to stop")


class OwnerAnswer(models.Model):
    """What an owner said of a slip by their link, with the very words they had before them."""

    link = models.ForeignKey(OwnerLink, models.PROTECT, related_name="answers")
    permission = models.ForeignKey("owners.Permission", models.PROTECT, related_name="answers_by_link")
    said = models.CharField(max_length=4, choices=Said.choices)
    name = models.CharField(_("name as typed"), max_length=120, blank=True)
    wording_version = models.CharField(max_length=20, blank=True)
    wording = models.TextField(blank=True)
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ("at", "pk")
        constraints = (
            # A second press finds the first one's answer.
            models.UniqueConstraint(fields=("permission", "said"), name="said_once_of_a_slip"),
            models.CheckConstraint(
                condition=~Q(said=Said.YES) | (~Q(wording="") & ~Q(wording_version="") & ~Q(name="")),
                name="a_yes_by_link_keeps_its_words",
            ),
        )

    def __str__(self) -> str:
        return f"{self.permission_id}: {self.said}"

    @property
    def lines(self) -> list[str]:
        return [line for line in self.wording.splitlines() if line.strip()]
