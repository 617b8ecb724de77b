"""What waits between the tank and the jar: approvals, sap that will not keep, syrup to pack, lots, recalls, shares."""

from __future__ import annotations

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from sugarbush.boils import approvals
from sugarbush.boils.keeping import keepings
from sugarbush.desk.today.waiting import Waiting
from sugarbush.lots.models import Lot, LotState, Recall
from sugarbush.lots.packing import to_pack
from sugarbush.parts.wording import volume_words
from sugarbush.seasons.models import Season
from sugarbush.shares import runs
from sugarbush.shares.models import ShareQuery, Taken
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person


def sap_waiting(person: Person, season: Season) -> list[Waiting]:
    """What this person could do about sap and syrup now, the urgent first; a fixed number of queries."""
    found = [*_recalls(person, season), *_tanks(person, season), *_approvals(person, season)]
    return [*found, *_syrup(person, season), *_shares(person, season)]


def _approvals(person: Person, season: Season) -> list[Waiting]:
    count = len(approvals.to_answer(person, season))
    if not count:
        return []
    fact = ngettext(
        "%(n)d correction names you as who approved it.", "%(n)d corrections name you as who approved them.", count
    )
    return [Waiting(fact=fact % {"n": count}, next_text=_("Confirm or contest"), url=reverse("approvals"))]


def _tanks(person: Person, season: Season) -> list[Waiting]:
    """Tanks whose sap is past its boil-by or near it."""
    if not access.holds(person, "delivery.accept"):
        return []
    found = []
    for keeping in sorted(keepings(season).values(), key=lambda keeping: keeping.boil_by_at):
        if keeping.is_late or keeping.is_soon:
            fact = f"{keeping.tank.code}: {keeping.sentence()}"
            url = reverse("tank", args=[keeping.tank.pk])
            found.append(Waiting(fact=fact, next_text=_("See the tank"), url=url, urgent=keeping.is_late))
    return found


def _syrup(person: Person, season: Season) -> list[Waiting]:
    found = []
    if not access.why_not(person, "lot.pack", anywhere=True) and (syrup := to_pack(season)):
        volume = volume_words(sum(ml for _vessel, ml in syrup), person.units)
        fact = _("%(volume)s of syrup waits for its jars.") % {"volume": volume}
        found.append(Waiting(fact=fact, next_text=_("Pack it"), url=reverse("lot-new")))
    if not access.why_not(person, "lot.release", anywhere=True):
        lots = Lot.objects.filter(season=season)
        packed = lots.filter(state=LotState.PACKED).exclude(packed_by=person).count()
        if packed:
            fact = ngettext("%(n)d lot waits for a second person.", "%(n)d lots wait for a second person.", packed)
            url = reverse("lots") + f"?state={LotState.PACKED}"
            found.append(Waiting(fact=fact % {"n": packed}, next_text=_("Look and release"), url=url))
        held = lots.filter(state=LotState.HELD).count()
        if held:
            fact = ngettext("%(n)d lot is held.", "%(n)d lots are held.", held) % {"n": held}
            url = reverse("lots") + f"?state={LotState.HELD}"
            found.append(Waiting(fact=fact, next_text=_("See what mends it"), url=url))
    return found


def _recalls(person: Person, season: Season) -> list[Waiting]:
    if not access.holds(person, "recall.call"):
        return []
    count = Recall.objects.filter(season=season, closed_at=None).count()
    if not count:
        return []
    fact = ngettext("%(n)d recall is open.", "%(n)d recalls are open.", count) % {"n": count}
    return [Waiting(fact=fact, next_text=_("See whom to call"), url=reverse("recalls"), urgent=True)]


def _shares(person: Person, season: Season) -> list[Waiting]:
    if not access.holds(person, "share.run"):
        return []
    found = []
    asked = ShareQuery.objects.filter(share__run__season=season, answered_at=None)
    if count := asked.count():
        fact = ngettext("%(n)d question about a share waits.", "%(n)d questions about shares wait.", count)
        found.append(Waiting(fact=fact % {"n": count}, next_text=_("Answer"), url=reverse("shares")))
    run = runs.final_of(season)
    if run is not None and (left := run.shares.filter(taken=Taken.WAITING, given_ml__gt=0).count()):
        fact = ngettext("%(n)d share waits to be handed out.", "%(n)d shares wait to be handed out.", left)
        found.append(Waiting(fact=fact % {"n": left}, next_text=_("Hand-out list"), url=reverse("hand-out")))
    return found
