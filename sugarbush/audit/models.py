"""Who did what to what, when and why. Rows are only ever added; the database refuses anything else (append_only)."""

from __future__ import annotations

from typing import Any, NoReturn

from django.conf import settings
from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _


class AuditEvent(models.Model):
    """One act that changed a right, a permission, a counted thing, or looked at a contact."""

    at = models.DateTimeField(default=timezone.now, db_index=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    about = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    act = models.CharField(max_length=60)
    subject_kind = models.CharField(max_length=60)
    subject_id = models.CharField(max_length=60)
    subject_text = models.CharField(max_length=200, blank=True)
    group_id = models.BigIntegerField(null=True)
    reason = models.TextField(blank=True)
    old = models.JSONField(default=dict)
    new = models.JSONField(default=dict)

    class Meta:
        ordering = ("-at", "-pk")
        indexes = (models.Index(fields=("subject_kind", "subject_id"), name="audit_by_subject"),)
        verbose_name = _("act in the history")

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M} {self.act} {self.subject_text}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            self._refuse()
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        self._refuse()

    def _refuse(self) -> NoReturn:
        raise TypeError("The history is only ever added to.")


def record(
    *,
    by: Any,
    act: str,
    subject: models.Model,
    reason: str = "",
    old: dict[str, Any] | None = None,
    new: dict[str, Any] | None = None,
    group_id: int | None = None,
) -> AuditEvent:
    """Add one act to the history. `by` is a Person, or None for the programme itself.

    People are kept by their number: whom the act is about is the subject itself or its `person`. A subject whose words
    hold a name says itself by `in_history`, without it: these rows stay when a person asks for their name to go.
    """
    words = getattr(subject, "in_history", None)
    return AuditEvent.objects.create(
        by=by,
        about_id=_whom(subject),
        act=act,
        subject_kind=subject._meta.label_lower,
        subject_id=str(subject.pk),
        subject_text=(str(subject) if words is None else words())[:200],
        group_id=group_id if group_id is not None else getattr(subject, "group_id", None),
        reason=reason,
        old=old or {},
        new=new or {},
    )


def record_once_a_day(*, by: Any, act: str, subject: models.Model) -> None:
    """Add a look to the history unless the same person's look at the same thing stands there today already.

    So pages opened again and again do not bury the rest. "Today" is the day of the active time zone.
    """
    begins = timezone.localtime().replace(hour=0, minute=0, second=0, microsecond=0)
    kept = AuditEvent.objects.filter(subject_kind=subject._meta.label_lower, subject_id=str(subject.pk))
    if not kept.filter(by=by, act=act, at__gte=begins).exists():
        record(by=by, act=act, subject=subject)


def _whom(subject: models.Model) -> int | None:
    if subject._meta.label == settings.AUTH_USER_MODEL:
        return int(subject.pk)
    person_id: int | None = getattr(subject, "person_id", None)
    return person_id
