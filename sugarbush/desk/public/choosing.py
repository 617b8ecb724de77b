"""What the public page shows is chosen here, and each change of it written down."""

from __future__ import annotations

from django.db import transaction
from django.utils import timezone

from sugarbush.audit.models import record
from sugarbush.desk.models import PublicPage
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

SWITCHES = ("is_on", "totals", "weeks", "areas")


def chosen() -> PublicPage:
    """What is chosen now; nothing, before anybody chose."""
    return PublicPage.objects.first() or PublicPage()


@transaction.atomic
def choose(*, by: Person, is_on: bool, totals: bool, weeks: bool, areas: bool, words: str = "") -> PublicPage:
    """Switch the page and its parts on or off. The same choice again changes nothing."""
    access.require(by, "public.change", anywhere=True)
    PublicPage.objects.get_or_create(pk=1)
    held = PublicPage.objects.select_for_update().get(pk=1)
    given = {"is_on": is_on, "totals": totals, "weeks": weeks, "areas": areas, "words": words.strip()}
    old = {name: getattr(held, name) for name in given if getattr(held, name) != given[name]}
    if not old:
        return held
    for name, value in given.items():
        setattr(held, name, value)
    held.changed_at = timezone.now()
    held.save()
    record(by=by, act="choose public page", subject=held, old=old, new={name: given[name] for name in old})
    return held
