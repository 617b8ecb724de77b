"""What checks say, in the reader's words."""

from __future__ import annotations

from django import template
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from sugarbush.core.health import HealthReason
from sugarbush.trees.models import HealthCheck, Treatment
from sugarbush.trees.queries import check_stands_until, reasons_of
from sugarbush.volunteers import access

register = template.Library()
SOON_DAYS = 14


@register.filter
def said(reason: HealthReason) -> str:
    """A reason of the core as a sentence."""
    return reason.sentence(_)


@register.filter
def standing(reason: HealthReason) -> str:
    """Where the rule behind a reason comes from."""
    return _(reason.standing)


@register.filter
def reasons_of_check(check: HealthCheck) -> list[HealthReason]:
    """The reasons kept with a check."""
    return reasons_of(check)


@register.filter
def counts_until(check: HealthCheck) -> str:
    """The last day the check counts, how long that is, and that it is time for a new one."""
    until = check_stands_until(check)
    if until is None:
        return _("a season is opened: its rules say how long")
    day, left = date_format(until), (until - timezone.localdate()).days
    if left < 0:
        return _("%(day)s: over. Check it again before it is tapped.") % {"day": day}
    words = ngettext("%(day)s, %(left)d day left", "%(day)s, %(left)d days left", left) % {"day": day, "left": left}
    return words + (". " + _("Check it again soon.") if left <= SOON_DAYS else "")


@register.simple_tag(takes_context=True)
def who_said(context: template.Context, answer: Treatment) -> str:
    """Who gave the answer about insecticide. It is often the owner, whose name is for those who may see owners."""
    person = context["request"].user
    if answer.said_by == person.display_name or access.scope(person, "owners.see").covers(answer.tree.group_id):
        return answer.said_by
    return _("somebody the leads know")
