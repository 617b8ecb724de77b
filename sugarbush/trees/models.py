"""Trees and their kinds. What was seen, checked or treated is in records.py, files in files.py."""

from __future__ import annotations

import uuid
from typing import Any

from django.db import models
from django.db.models import Q
from django.urls import NoReverseMatch, reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords

from sugarbush.trees.tiles import t17


class Species(models.Model):
    """A kind of tree, as the town's file and the scouts name it."""

    botanical = models.CharField(_("botanical name"), max_length=80, unique=True)
    common = models.CharField(_("common name"), max_length=80)
    code = models.CharField(max_length=12, blank=True)
    tappable = models.BooleanField(_("may be tapped here"), default=False)
    look_alike = models.CharField(_("what it is mistaken for"), max_length=200, blank=True)

    class Meta:
        ordering = ("common",)
        verbose_name = _("species")

    def __str__(self) -> str:
        return self.common


class SpeciesSure(models.TextChoices):
    UNCONFIRMED = "unconfirmed", _("not sure yet")
    CONFIRMED = "confirmed", _("sure")
    DISPUTED = "disputed", _("in dispute")


class Land(models.TextChoices):
    PRIVATE = "private", _("private")
    PUBLIC = "public", _("public")
    SHARED = "shared", _("shared by several owners")
    UNKNOWN = "unknown", _("nobody knows yet")


class Life(models.TextChoices):
    LISTED = "listed", _("in the town’s list only")
    CANDIDATE = "candidate", _("in the programme’s sights")
    RESTING = "resting", _("resting")
    EXCLUDED = "excluded", _("not for tapping")
    FELLED = "felled", _("felled")


class Shown(models.IntegerChoices):
    """What a tree shows on map and lists; worked out by taps.state, kept for speed."""

    LISTED = 0, _("Listed")
    CONSIDERED = 1, _("Considered")
    ASKED = 2, _("Asked")
    ALLOWED = 3, _("Allowed")
    READY = 4, _("Ready")
    TAPPED = 5, _("Tapped")
    PULL = 6, _("To pull")
    RESTING = 7, _("Resting")
    NOT = 8, _("Not for tapping")
    FELLED = 9, _("Felled")

    @property
    def mark(self) -> str:
        """The name of the state's mark in the sprite and the map."""
        return self.name.lower()


class TreeQuerySet(models.QuerySet["Tree"]):
    def standing_alone(self) -> TreeQuerySet:
        """Without the second entries of trees that were entered twice."""
        return self.filter(merged_into=None)


class Tree(models.Model):
    """One tree of the town. Its place is two degrees and a tile number; its size is the largest single stem."""

    uuid = models.UUIDField(default=None, null=True, unique=True, editable=False)
    code = models.CharField(_("tag"), max_length=16, unique=True)
    longitude = models.FloatField(_("longitude"))
    latitude = models.FloatField(_("latitude"))
    t17 = models.BigIntegerField(editable=False)
    address = models.CharField(_("address"), max_length=200, blank=True)
    side = models.CharField(_("side of the street"), max_length=40, blank=True)
    nth = models.PositiveSmallIntegerField(_("which tree there"), null=True, blank=True)
    species = models.ForeignKey(Species, models.PROTECT, null=True, blank=True, related_name="trees")
    species_sure = models.CharField(max_length=12, choices=SpeciesSure.choices, default=SpeciesSure.UNCONFIRMED)
    stems = models.PositiveSmallIntegerField(_("stems"), default=1)
    diameter_um = models.PositiveIntegerField(_("trunk across"), null=True, blank=True)
    size_as_given = models.CharField(max_length=60, blank=True)
    land = models.CharField(_("whose land"), max_length=8, choices=Land.choices, default=Land.UNKNOWN)
    inventory_source = models.CharField(max_length=60, blank=True)
    inventory_number = models.CharField(_("number in the town’s list"), max_length=64, blank=True)
    inventory_species = models.ForeignKey(Species, models.PROTECT, null=True, blank=True, related_name="+")
    inventory_diameter_um = models.PositiveIntegerField(null=True, blank=True)
    inventory_note = models.TextField(_("note in the town’s list"), blank=True)
    inventory_surveyed = models.DateField(_("day of the town’s survey"), null=True, blank=True)
    # What the town's row said when it was last taken in, as one number: an unchanged row is told without comparing.
    inventory_digest = models.BigIntegerField(null=True, editable=False)
    access_note = models.CharField(_("how to get to it"), max_length=200, blank=True)
    group = models.ForeignKey("volunteers.Group", models.PROTECT, null=True, blank=True, related_name="trees")
    life = models.CharField(max_length=10, choices=Life.choices, default=Life.LISTED)
    life_reason = models.CharField(max_length=200, blank=True)
    shown_state = models.PositiveSmallIntegerField(choices=Shown.choices, default=Shown.LISTED, editable=False)
    shown_until = models.DateField(null=True, editable=False)
    needs_look = models.BooleanField(default=False, editable=False)
    merged_into = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="aliases")
    edition = models.PositiveIntegerField(default=1, editable=False)
    added_at = models.DateTimeField(default=timezone.now, editable=False)
    history = HistoricalRecords(
        excluded_fields=["t17", "shown_state", "shown_until", "needs_look", "edition", "inventory_digest"]
    )

    objects = TreeQuerySet.as_manager()

    class Meta:
        ordering = ("pk",)
        verbose_name = _("tree")
        constraints = (
            models.UniqueConstraint(
                fields=("inventory_source", "inventory_number"),
                condition=~Q(inventory_number=""),
                name="one_tree_a_number",
            ),
            models.CheckConstraint(
                condition=Q(longitude__gte=-180, longitude__lte=180, latitude__gte=-90, latitude__lte=90),
                name="tree_on_the_globe",
            ),
            models.CheckConstraint(condition=Q(diameter_um=None) | Q(diameter_um__gt=0), name="trunk_has_width"),
            models.CheckConstraint(condition=Q(stems__gte=1), name="tree_has_a_stem"),
        )
        indexes = (
            # Covers all a map view reads, the viewer's group walls included: no row of the table is touched.
            models.Index(
                fields=(
                    "t17",
                    "longitude",
                    "latitude",
                    "species",
                    "diameter_um",
                    "shown_state",
                    "needs_look",
                    "group",
                    "merged_into",
                ),
                name="tree_map",
            ),
            models.Index(fields=("group", "shown_state"), name="tree_group_state"),
            models.Index(fields=("shown_state", "id"), name="tree_state"),
            models.Index(fields=("shown_until",), condition=Q(shown_until__isnull=False), name="tree_lapses"),
            models.Index(fields=("address", "id"), name="tree_address"),
            models.Index(fields=("inventory_number",), condition=~Q(inventory_number=""), name="tree_number"),
        )

    def __str__(self) -> str:
        return f"{self.code}, {self.place}" if self.place else self.code

    def save(self, *args: Any, **kwargs: Any) -> None:
        self.t17 = t17(longitude_deg=self.longitude, latitude_deg=self.latitude)
        super().save(*args, **kwargs)

    def get_absolute_url(self) -> str:
        """The tree's own page."""
        try:
            return reverse("tree", args=[self.code])
        except NoReverseMatch:
            return f"/trees/{self.code}/"

    @property
    def all_ids(self) -> list[int]:
        """The tree and every second entry of it: what was recorded at any of them was recorded at this trunk."""
        return [self.pk, *self.aliases.values_list("pk", flat=True)]

    @property
    def place(self) -> str:
        """Address, side and which tree, as people say it."""
        parts = [self.address]
        if self.side:
            parts.append(str(_("%(side)s side") % {"side": self.side}) if " " not in self.side else self.side)
        if self.nth:
            parts.append(str(_("tree %(nth)d") % {"nth": self.nth}))
        return ", ".join(part for part in parts if part)

    @property
    def shown(self) -> Shown:
        return Shown(self.shown_state)

    @property
    def species_in_conflict(self) -> bool:
        """The town's file and the field name different species."""
        return bool(self.inventory_species_id and self.species_id and self.inventory_species_id != self.species_id)


def new_tree_uuid() -> uuid.UUID:
    return uuid.uuid4()


from sugarbush.trees.files import ImportProblem, ImportRun, StreetLine  # noqa: E402
from sugarbush.trees.past import PastYield  # noqa: E402
from sugarbush.trees.records import HealthCheck, SaidApart, Treatment, TreeObservation  # noqa: E402

__all__ = [
    "HealthCheck",
    "ImportProblem",
    "ImportRun",
    "Land",
    "Life",
    "PastYield",
    "SaidApart",
    "Shown",
    "Species",
    "SpeciesSure",
    "StreetLine",
    "Treatment",
    "Tree",
    "TreeObservation",
]
