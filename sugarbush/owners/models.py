"""Whose trees they are, and who said yes."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords


class OwnerKind(models.TextChoices):
    PERSON = "person", _("person")
    PUBLIC = "public", _("public body")
    INSTITUTION = "institution", _("institution")


class Owner(models.Model):
    """A person or body that owns trees. How to reach them is kept apart, in OwnerContact."""

    name = models.CharField(_("name"), max_length=120)
    kind = models.CharField(_("kind"), max_length=12, choices=OwnerKind.choices, default=OwnerKind.PERSON)
    group = models.ForeignKey("volunteers.Group", models.PROTECT, null=True, blank=True, related_name="owners")
    note = models.CharField(_("note"), max_length=400, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ("name", "pk")
        verbose_name = _("owner")

    def __str__(self) -> str:
        return self.name


class OwnerContact(models.Model):
    """How to reach an owner; each look at it is written down."""

    owner = models.OneToOneField(Owner, models.CASCADE, related_name="contact")
    phone = models.CharField(_("telephone"), max_length=40, blank=True)
    email = models.EmailField(_("e-mail"), blank=True)
    address = models.CharField(_("address"), max_length=200, blank=True)
    note = models.CharField(_("note"), max_length=400, blank=True)
    history = HistoricalRecords()

    def __str__(self) -> str:
        return f"how to reach owner {self.owner_id}"


class TreeOwner(models.Model):
    """A tree belongs to an owner, and how we know. A shared tree has two or more."""

    tree = models.ForeignKey("trees.Tree", models.PROTECT, related_name="owned_by")
    owner = models.ForeignKey(Owner, models.PROTECT, related_name="owns")
    evidence = models.CharField(_("how we know"), max_length=200)
    recorded_by = models.ForeignKey("volunteers.Person", models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = (models.UniqueConstraint(fields=("tree", "owner"), name="owner_named_once_a_tree"),)

    def __str__(self) -> str:
        return f"{self.tree_id} belongs to {self.owner_id}"


class PermissionState(models.TextChoices):
    DRAFT = "draft", _("being written")
    ASKED = "asked", _("asked")
    NO_ANSWER = "no_answer", _("no answer")
    REFUSED = "refused", _("said no")
    GRANTED = "granted", _("said yes")
    SUSPENDED = "suspended", _("suspended")
    REVOKED = "revoked", _("taken back")


class Capacity(models.TextChoices):
    OWNER = "owner", _("the owner")
    AGENCY = "agency", _("the public body that owns it")
    TENANT = "tenant", _("a tenant, with the owner’s written consent")
    OCCUPANT = "occupant", _("lives there, but is not the owner")


class ShareWish(models.TextChoices):
    NONE = "none", _("none, with thanks")
    JAR = "jar", _("a jar")
    DONATE = "donate", _("give it to others")


class PermissionQuerySet(models.QuerySet["Permission"]):
    def live(self, on: dt.date) -> PermissionQuerySet:
        """Said yes by somebody who may, and within its days. Computed, never stored."""
        return self.filter(state=PermissionState.GRANTED, date_from__lte=on, date_to__gte=on).exclude(
            capacity=Capacity.OCCUPANT
        )


class Permission(models.Model):
    """The slip: who said yes to which trees, from when to when, within which limits."""

    number = models.CharField(_("number"), max_length=20, unique=True)
    # Made with the form, so that a slip sent twice from a bad line is kept once.
    uuid = models.UUIDField(null=True, unique=True, editable=False)
    owner = models.ForeignKey(Owner, models.PROTECT, related_name="permissions", verbose_name=_("who owns the trees"))
    group = models.ForeignKey("volunteers.Group", models.PROTECT, null=True, blank=True, related_name="permissions")
    capacity = models.CharField(_("who signs"), max_length=10, choices=Capacity.choices, default=Capacity.OWNER)
    signed_by = models.CharField(_("name of who said it"), max_length=120, blank=True)
    trees = models.ManyToManyField("trees.Tree", through="PermissionTree", related_name="permissions")
    state = models.CharField(max_length=10, choices=PermissionState.choices, default=PermissionState.DRAFT)
    date_from = models.DateField(_("from"), null=True, blank=True)
    date_to = models.DateField(_("to"), null=True, blank=True)
    most_taps = models.PositiveSmallIntegerField(_("most taps a tree"), null=True, blank=True)
    least_diameter_um = models.PositiveIntegerField(_("least trunk"), null=True, blank=True)
    most_height_mm = models.PositiveIntegerField(_("hole no higher than"), null=True, blank=True)
    largest_bit_um = models.PositiveIntegerField(_("largest bit"), null=True, blank=True)
    most_depth_mm = models.PositiveIntegerField(_("deepest hole"), null=True, blank=True)
    public_number = models.CharField(_("number of the public permit"), max_length=60, blank=True)
    fee_text = models.CharField(_("fee"), max_length=80, blank=True)
    insurance_to = models.DateField(_("insurance proof until"), null=True, blank=True)
    conditions = models.TextField(_("other conditions"), blank=True)
    share_wish = models.CharField(_("share"), max_length=8, choices=ShareWish.choices, default=ShareWish.NONE)
    # What the bringer says; a lead's word on it becomes a TreeOwner for each tree.
    belongs_because = models.CharField(_("how we know that the trees are theirs"), max_length=200, blank=True)
    evidence = models.FileField(_("scan"), upload_to="permissions", blank=True)
    evidence_note = models.CharField(_("how it was given"), max_length=200, blank=True)
    asked_on = models.DateField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True)
    end_reason = models.CharField(max_length=300, blank=True)
    written_by = models.ForeignKey("volunteers.Person", models.PROTECT, related_name="+")
    edition = models.PositiveIntegerField(default=1, editable=False)
    history = HistoricalRecords()

    objects = PermissionQuerySet.as_manager()

    class Meta:
        ordering = ("-pk",)
        verbose_name = _("permission")
        constraints = (
            models.CheckConstraint(
                condition=Q(date_from=None) | Q(date_to=None) | Q(date_to__gte=F("date_from")),
                name="permission_ends_after_start",
            ),
            models.CheckConstraint(
                condition=~Q(state=PermissionState.GRANTED) | Q(date_from__isnull=False, date_to__isnull=False),
                name="a_yes_has_its_days",
            ),
            models.CheckConstraint(
                condition=Q(most_taps=None) | Q(most_taps__lte=2), name="permission_at_most_two_taps"
            ),
        )

    def __str__(self) -> str:
        return self.number

    @property
    def is_live_kind(self) -> bool:
        return self.state == PermissionState.GRANTED and self.capacity != Capacity.OCCUPANT

    def live_on(self, day: dt.date) -> bool:
        """Whether this permission counts on the day."""
        return bool(self.is_live_kind and self.date_from and self.date_to and self.date_from <= day <= self.date_to)

    def live_at(self, when: dt.datetime, day: dt.date) -> bool:
        """Whether it counted at a moment that may be past: a slip taken back since then counted until it was."""
        if self.state == PermissionState.GRANTED:
            return self.live_on(day)
        if self.state in {PermissionState.REVOKED, PermissionState.SUSPENDED} and self.ended_at:
            inside = bool(self.date_from and self.date_to and self.date_from <= day <= self.date_to)
            return inside and when < self.ended_at and self.capacity != Capacity.OCCUPANT
        return False

    @property
    def label(self) -> str:
        """The number people know it by: the public permit's own, else ours."""
        return self.public_number or self.number


class PermissionTree(models.Model):
    """One tree on a slip."""

    permission = models.ForeignKey(Permission, models.CASCADE, related_name="lines")
    tree = models.ForeignKey("trees.Tree", models.PROTECT, related_name="permission_lines")

    class Meta:
        constraints = (models.UniqueConstraint(fields=("permission", "tree"), name="tree_named_once_a_slip"),)

    def __str__(self) -> str:
        return f"{self.permission_id}: {self.tree_id}"


def by_tree(lines: Iterable[PermissionTree]) -> dict[int, list[Permission]]:
    found: dict[int, list[Permission]] = {}
    for line in lines:
        found.setdefault(line.tree_id, []).append(line.permission)
    return found


from sugarbush.owners.models_links import OwnerAnswer, OwnerLink, Said  # noqa: E402

__all__ = [
    "Capacity",
    "Owner",
    "OwnerAnswer",
    "OwnerContact",
    "OwnerKind",
    "OwnerLink",
    "Permission",
    "PermissionState",
    "PermissionTree",
    "Said",
    "ShareWish",
    "TreeOwner",
    "by_tree",
]
