"""Papers that leave the house: their numbers, what stood on them, how the programme likes them, and long prints."""

from __future__ import annotations

import uuid
from decimal import Decimal
from typing import Any

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords


class Paper(models.TextChoices):
    A4 = "a4", _("A4")
    LETTER = "us-letter", _("US Letter")


SIZES_MM = {Paper.A4: (Decimal("210"), Decimal("297")), Paper.LETTER: (Decimal("215.9"), Decimal("279.4"))}
"""Width and height: ISO 216, and 8.5 by 11 inches."""


class PaperSettings(models.Model):
    """How this programme prints: its paper, and the words its labels carry. One row."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1, editable=False)
    paper = models.CharField(_("paper"), max_length=10, choices=Paper.choices, default=Paper.A4)
    product_name = models.CharField(_("name on the bottles"), max_length=60, blank=True)
    made_by = models.CharField(_("who made it, and where"), max_length=160, blank=True)
    required_words = models.CharField(_("words local rules ask for"), max_length=240, blank=True)
    allergen_words = models.CharField(_("ingredients and allergens"), max_length=160, blank=True)
    given_words = models.CharField(_("given, not for sale"), max_length=120, blank=True)
    history = HistoricalRecords()

    class Meta:
        constraints = (models.CheckConstraint(condition=Q(pk=1), name="one_paper_settings"),)
        verbose_name = _("papers")

    def __str__(self) -> str:
        return str(_("how the programme prints"))

    @classmethod
    def current(cls) -> PaperSettings:
        """The settings; those of a new programme until somebody saves some."""
        return cls.objects.first() or cls()


class LabelUse(models.TextChoices):
    TAG = "tag", _("tree tags")
    BOTTLE = "bottle", _("bottle labels")
    LABEL = "label", _("labels for tanks and lots")


def _mm(label: Any, least: str, most: str) -> Any:
    return models.DecimalField(
        label,
        max_digits=5,
        decimal_places=1,
        validators=[MinValueValidator(Decimal(least)), MaxValueValidator(Decimal(most))],
    )


class LabelSheet(models.Model):
    """A sheet of labels as it is bought: how many across and down, and where the first one begins. Millimetres."""

    name = models.CharField(_("name"), max_length=60)
    use = models.CharField(_("for"), max_length=8, choices=LabelUse.choices, default=LabelUse.TAG)
    paper = models.CharField(_("paper"), max_length=10, choices=Paper.choices, default=Paper.A4)
    columns = models.PositiveSmallIntegerField(
        _("labels across"), validators=[MinValueValidator(1), MaxValueValidator(10)]
    )
    rows = models.PositiveSmallIntegerField(_("labels down"), validators=[MinValueValidator(1), MaxValueValidator(30)])
    top_mm = _mm(_("edge above"), "0", "80")
    left_mm = _mm(_("edge at the left"), "0", "80")
    width_mm = _mm(_("label width"), "20", "215")
    height_mm = _mm(_("label height"), "12", "297")
    gap_across_mm = _mm(_("gap between, across"), "0", "40")
    gap_down_mm = _mm(_("gap between, down"), "0", "40")
    history = HistoricalRecords()

    class Meta:
        ordering = ("use", "name", "pk")
        verbose_name = _("sheet of labels")
        constraints = (
            models.CheckConstraint(condition=Q(columns__gte=1, rows__gte=1), name="label_sheet_has_labels"),
            models.UniqueConstraint(fields=("use", "name"), name="label_sheet_name_once"),
        )

    def __str__(self) -> str:
        return self.name

    @property
    def a_page(self) -> int:
        return self.columns * self.rows


class Document(models.Model):
    """One paper of the programme. What it is about keeps its number, however often it is printed."""

    seq = models.PositiveIntegerField(unique=True, editable=False)
    number = models.CharField(_("number"), max_length=20, unique=True)
    kind = models.CharField(_("kind"), max_length=30)
    subject = models.CharField(_("about"), max_length=80)
    title = models.CharField(max_length=160, blank=True)
    template_version = models.CharField(max_length=20)
    made_by = models.ForeignKey("volunteers.Person", models.PROTECT, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)
    printed_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ("-seq",)
        verbose_name = _("document")
        constraints = (models.UniqueConstraint(fields=("kind", "subject"), name="one_document_a_subject"),)

    def __str__(self) -> str:
        return self.number


class Edition(models.Model):
    """What a document said from one print on. A print that says the same makes no new one."""

    document = models.ForeignKey(Document, models.CASCADE, related_name="editions")
    nth = models.PositiveIntegerField()
    template_version = models.CharField(max_length=20)
    wording_version = models.CharField(max_length=20, blank=True)
    wording = models.TextField(blank=True)
    digest = models.CharField(max_length=64)
    made_by = models.ForeignKey("volunteers.Person", models.PROTECT, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ("document", "nth")
        constraints = (models.UniqueConstraint(fields=("document", "nth"), name="edition_counts_once"),)

    def __str__(self) -> str:
        return f"{self.document_id}.{self.nth}"


class JobState(models.TextChoices):
    WAITING = "waiting", _("waits for its turn")
    GATHERING = "gathering", _("gathers what goes on it")
    SETTING = "setting", _("sets the pages")
    DONE = "done", _("ready")
    STOPPED = "stopped", _("stopped")


class PrintJob(models.Model):
    """A long document made by the background worker; its file waits a day for who asked."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    by = models.ForeignKey("volunteers.Person", models.CASCADE, related_name="+")
    kind = models.CharField(max_length=30)
    asked = models.JSONField(default=dict)
    title = models.CharField(max_length=160, blank=True)
    state = models.CharField(max_length=10, choices=JobState.choices, default=JobState.WAITING)
    done = models.PositiveIntegerField(default=0)
    whole = models.PositiveIntegerField(default=0)
    why_stopped = models.CharField(max_length=300, blank=True)
    cannot_show = models.CharField(max_length=400, blank=True)
    file_name = models.CharField(max_length=80, blank=True)
    asked_at = models.DateTimeField(default=timezone.now)
    finished_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ("-asked_at",)
        indexes = (models.Index(fields=("by", "-asked_at"), name="job_by_person"),)

    def __str__(self) -> str:
        return self.title or self.kind

    @property
    def at_work(self) -> bool:
        return self.state in {JobState.WAITING, JobState.GATHERING, JobState.SETTING}


from sugarbush.papers.models_sheets import PrintedTag, RoundSheet  # noqa: E402

__all__ = [
    "Document",
    "Edition",
    "JobState",
    "LabelSheet",
    "LabelUse",
    "Paper",
    "PaperSettings",
    "PrintJob",
    "PrintedTag",
    "RoundSheet",
]
