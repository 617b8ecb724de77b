"""The paper sheet of a round: what stood on it in which order, and what was keyed of it."""

from __future__ import annotations

from django.db import models
from django.db.models import Q


class RoundSheet(models.Model):
    """Up to forty trees of one run, as they were printed. Keyed once; what is half typed waits here."""

    document = models.OneToOneField("papers.Document", models.PROTECT, related_name="round_sheet")
    run = models.ForeignKey("gathering.RoundRun", models.PROTECT, related_name="sheets")
    nth = models.PositiveSmallIntegerField()
    # Tags in the order printed: a round that is planned anew leaves the paper in somebody's hand as it is.
    codes = models.JSONField(default=list)
    units = models.CharField(max_length=8)
    typed = models.JSONField(default=dict)
    typed_by = models.ForeignKey("volunteers.Person", models.PROTECT, null=True, related_name="+")
    typed_at = models.DateTimeField(null=True)
    walked_by = models.ForeignKey("volunteers.Person", models.PROTECT, null=True, related_name="+")
    keyed_by = models.ForeignKey("volunteers.Person", models.PROTECT, null=True, related_name="+")
    keyed_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ("run", "nth", "pk")
        constraints = (
            models.CheckConstraint(
                condition=Q(keyed_at=None, keyed_by=None) | Q(keyed_at__isnull=False, keyed_by__isnull=False),
                name="keyed_sheet_names_by_whom",
            ),
        )

    def __str__(self) -> str:
        return f"sheet {self.nth} of run {self.run_id}"


class PrintedTag(models.Model):
    """A tree's tag was printed for a season: it is no longer missing."""

    tree = models.ForeignKey("trees.Tree", models.CASCADE, related_name="printed_tags")
    season = models.ForeignKey("seasons.Season", models.CASCADE, related_name="+")
    document = models.ForeignKey("papers.Document", models.PROTECT, related_name="+")

    class Meta:
        constraints = (models.UniqueConstraint(fields=("tree", "season"), name="tag_printed_once_a_season"),)

    def __str__(self) -> str:
        return f"tag of {self.tree_id}"
