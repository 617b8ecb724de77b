"""What is in a container by the entries, and when it was last brought in."""

from __future__ import annotations

from django.db.models import Count, F, Sum
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from sugarbush.boils.models import DeliveryLine
from sugarbush.gathering.models import Collection, CollectionState
from sugarbush.kit.contents import Known
from sugarbush.kit.models import Container
from sugarbush.parts.shown import in_words
from sugarbush.volunteers.access import holds, scope
from sugarbush.volunteers.models import Person


def what_is_in_it(person: Person, container: Container) -> list[Known]:
    """The sap entered into it since it was last brought to a depot, and that bringing."""
    if not holds(person, "delivery.see"):
        return []
    last = (
        DeliveryLine.objects.filter(container=container)
        .select_related("delivery__season", "tank")
        .order_by("-delivery__happened_at", "-pk")
        .first()
    )
    entries = Collection.objects.filter(container=container).exclude(state=CollectionState.VOID)
    entries = entries.filter(scope(person, "trees.see").filter("group"))
    if last is not None:
        entries = entries.filter(happened_at__gt=last.delivery.happened_at)
    sums = entries.aggregate(visits=Count("pk"), net_ml=Sum(F("volume_ml") + F("rain_ml") - F("discarded_ml")))
    return [_entered(sums["visits"], sums["net_ml"] or 0, person.units), *_brought(person, last)]


def _entered(visits: int, net_ml: int, units: str) -> Known:
    if not visits:
        return Known(word=_("In it by the entries"), text=_("nothing since it was last brought in"))
    said = ngettext("%(volume)s from %(n)d visit", "%(volume)s from %(n)d visits", visits)
    text = said % {"volume": in_words("volume", net_ml, units), "n": visits}
    return Known(word=_("In it by the entries"), text=text)


def _brought(person: Person, last: DeliveryLine | None) -> list[Known]:
    """When it was last at a depot; how much and where it went only to those who may open that delivery."""
    if last is None:
        return []
    delivery = last.delivery
    when = date_format(timezone.localtime(delivery.happened_at), "j F Y, H:i")
    sees = delivery.person_id == person.pk or any(
        scope(person, act).everything for act in ("delivery.accept", "delivery.see")
    )
    if not sees:
        return [Known(word=_("Last brought in"), text=when)]
    volume = in_words("volume", last.volume_ml, person.units)
    said = {"when": when, "volume": volume, "tank": last.tank.code if last.tank else "", "why": last.reject_reason}
    text = _("%(when)s: %(volume)s into %(tank)s") if last.tank else _("%(when)s: %(volume)s turned away, %(why)s")
    return [Known(word=_("Last brought in"), text=text % said, url=reverse("delivery", args=[delivery.pk]))]
