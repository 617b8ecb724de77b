"""At which tree a pail hangs."""

from __future__ import annotations

from django.utils.translation import gettext as _

from sugarbush.kit.contents import Known
from sugarbush.kit.models import Container
from sugarbush.taps.models import Tap, TapState
from sugarbush.volunteers.access import scope
from sugarbush.volunteers.models import Person

MOST = 4


def where_it_hangs(person: Person, container: Container) -> list[Known]:
    """The trees under whose spouts it hangs now, of those the person may see."""
    taps = Tap.objects.filter(container=container, state__in=(TapState.IN, TapState.TO_SETTLE), out_at=None)
    seen = taps.filter(scope(person, "trees.see").filter("tree__group")).select_related("tree").order_by("-placed_at")
    return [
        Known(
            word=_("Hangs at"),
            text=", ".join(part for part in (tap.tree.code, tap.tree.address) if part),
            url=tap.tree.get_absolute_url(),
        )
        for tap in seen[:MOST]
    ]
