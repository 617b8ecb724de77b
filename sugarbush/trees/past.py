"""What older lists say of trees: litres of years before the programme kept its own entries."""

from __future__ import annotations

from django.core.validators import MinValueValidator
from django.db import models
from django.utils import timezone


class PastYield(models.Model):
    """One tree in one past year, as an older list has it.

    No part of the ledger and of no season: the list knows no hands, tanks or jars, so there is no chain to close.
    """

    tree = models.ForeignKey("trees.Tree", models.PROTECT, related_name="past_yields")
    year = models.PositiveSmallIntegerField()
    taps = models.PositiveSmallIntegerField(validators=[MinValueValidator(1)])
    volume_ml = models.PositiveIntegerField()
    sugar_brix = models.DecimalField(max_digits=4, decimal_places=2, null=True)
    note = models.CharField(max_length=200, blank=True)
    run = models.ForeignKey("trees.ImportRun", models.PROTECT, related_name="past_yields")
    row_number = models.PositiveIntegerField()
    taken_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ("-year", "tree", "pk")
        constraints = (models.UniqueConstraint(fields=("tree", "year"), name="past_yield_once"),)
        indexes = (models.Index(fields=("year",), name="past_yield_year"),)

    def __str__(self) -> str:
        return f"{self.tree} {self.year}"

    def says(self) -> tuple[int, int, str]:
        """The figures two lists are compared by."""
        return self.taps, self.volume_ml, "" if self.sugar_brix is None else f"{self.sugar_brix:.2f}"
