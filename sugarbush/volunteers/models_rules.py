"""The house rules and waiver: each published version, as it was shown to people."""

from __future__ import annotations

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

MOST_SIGNS = 6_000


class HouseRules(models.Model):
    """One published version of the programme's own words. It is never changed: a person's yes names its number."""

    number = models.PositiveIntegerField(_("version"), unique=True)
    words = models.TextField(_("the text"), max_length=MOST_SIGNS)
    # Whether an earlier yes ends with it. The first version asks everybody in any case.
    asks_anew = models.BooleanField(_("everybody is asked again"), default=True)
    # Read and asked for at once; until this day an earlier yes, or none before the first version, still counts.
    needed_from = models.DateField(_("needed from"))
    what_changed = models.CharField(_("what is new in it"), max_length=200, blank=True)
    published_at = models.DateTimeField(default=timezone.now)
    published_by = models.ForeignKey("volunteers.Person", models.PROTECT, related_name="+")

    class Meta:
        ordering = ("-number",)
        verbose_name = _("house rules")
        constraints = (
            models.CheckConstraint(condition=models.Q(number__gte=1), name="house_rules_count_from_one"),
            models.CheckConstraint(condition=~models.Q(words=""), name="house_rules_say_something"),
        )

    def __str__(self) -> str:
        return str(_("House rules, version %(n)d") % {"n": self.number})

    @property
    def paragraphs(self) -> list[str]:
        """The text in paragraphs: an empty line parts two of them."""
        return paragraphs(self.words)


def paragraphs(words: str) -> list[str]:
    """Plain text in paragraphs, for a page that shows nothing but text.

    >>> paragraphs("One.\\n\\n  Two,\\nstill two. \\n\\n\\n")
    ['One.', 'Two,\\nstill two.']
    """
    parts = "\n".join(line.rstrip() for line in words.replace("\r\n", "\n").split("\n")).split("\n\n")
    return [part.strip() for part in parts if part.strip()]
