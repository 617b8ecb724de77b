"""What the desk keeps of its own: what the public may see, and the figures counted for it."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _


class PublicPage(models.Model):
    """What the programme shows to anybody: one row; nothing until a coordinator switches it on."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1, editable=False)
    is_on = models.BooleanField(_("the public page is on"), default=False)
    totals = models.BooleanField(_("totals of the season"), default=False)
    weeks = models.BooleanField(_("litres week by week"), default=False)
    areas = models.BooleanField(_("areas with tapped trees"), default=False)
    words = models.CharField(_("a few words above it"), max_length=400, blank=True)
    changed_at = models.DateTimeField(null=True, editable=False)

    class Meta:
        constraints = (models.CheckConstraint(condition=models.Q(pk=1), name="one_public_page_only"),)

    def __str__(self) -> str:
        return str(_("the public page"))

    def shows(self, part: str) -> bool:
        """Whether this part is open to anybody."""
        return self.is_on and bool(getattr(self, part))


class PublicFigures(models.Model):
    """Figures counted for the public, kept so long that neither a crowd nor a clock can draw more out of them."""

    season = models.ForeignKey("seasons.Season", models.CASCADE, related_name="+")
    part = models.CharField(max_length=8)
    body = models.JSONField(default=dict)
    counted_at = models.DateTimeField(null=True)
    good_until = models.DateTimeField(null=True)
    # Who counts holds it for a moment, so that of many readers at once one counts and the others read the last ones.
    held_until = models.DateTimeField(null=True)

    class Meta:
        constraints = (models.UniqueConstraint(fields=("season", "part"), name="public_figures_once"),)

    def __str__(self) -> str:
        return f"{self.part} {self.season_id}"
