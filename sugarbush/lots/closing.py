"""A season does not close while syrup waits to be packed, a lot to be released, or a recall is open."""

from __future__ import annotations

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from sugarbush.lots import judging
from sugarbush.lots.jars import whole
from sugarbush.lots.models import Lot, LotState, Recall
from sugarbush.lots.packing import to_pack
from sugarbush.parts.reasons import Reason
from sugarbush.parts.wording import both_words
from sugarbush.sap.ledger import balances_ml
from sugarbush.seasons.models import Season
from sugarbush.taps.gate import url


def syrup_not_packed(season: Season) -> list[Reason]:
    waiting = to_pack(season)
    if not waiting:
        return []
    words = {
        "volume": both_words(sum(ml for _vessel, ml in waiting)),
        "where": ", ".join(str(vessel) for vessel, _ml in waiting[:5]),
    }
    return [
        Reason(
            code="syrup",
            fact=_("%(volume)s of syrup is not packed: %(where)s.") % words,
            next_text=_("Pack it, or destroy it with a reason"),
            next_url=url("lots"),
        )
    ]


def lots_not_settled(season: Season) -> list[Reason]:
    """Each lot ends released, all handed out, or destroyed."""
    rows = list(Lot.objects.filter(season=season, state__in=[LotState.HELD, LotState.PACKED]).order_by("code"))
    lots = [lot for lot in rows if judging.OPENED not in lot.held_because]  # those count as syrup not packed
    if not lots:
        return []
    fact = ngettext(
        "Lot %(codes)s is neither released nor destroyed.",
        "%(n)d lots are neither released nor destroyed: %(codes)s.",
        len(lots),
    )
    return [
        Reason(
            code="lots",
            fact=fact % {"n": len(lots), "codes": ", ".join(lot.code for lot in lots[:5])},
            next_text=_("Release it, mend it, or destroy it"),
            next_url=url("lot", lots[0].pk),
        )
    ]


def recalls_open(season: Season) -> list[Reason]:
    recall = Recall.objects.filter(season=season, closed_at=None).order_by("opened_at").first()
    if recall is None:
        return []
    return [
        Reason(
            code="recall",
            fact=_("An open recall keeps the season open: %(recall)s.") % {"recall": recall},
            next_text=_("End the recall"),
            next_url=url("recall", recall.pk),
        )
    ]


def jars_out_of_balance(season: Season) -> list[Reason]:
    return [
        Reason(
            code="jars",
            fact=_("Lot %(lot)s: its vessel holds %(held)s, its whole jars %(jars)s.")
            % {
                "lot": lot.code,
                "held": both_words(held_ml),
                "jars": both_words(jars_ml),
            },
            next_text=_("See the lot"),
            next_url=url("lot", lot.pk),
        )
        for lot, held_ml, jars_ml in jars_that_do_not_add_up(season)
    ]


CHECKS = (syrup_not_packed, lots_not_settled, recalls_open, jars_out_of_balance)


def jars_that_do_not_add_up(season: Season) -> list[tuple[Lot, int, int]]:
    """Lots whose vessel does not hold exactly its whole jars: (lot, vessel mL, jars mL). For the nightly look."""
    lots = list(
        Lot.objects.filter(season=season).exclude(vessel__shut_at=None).select_related("vessel").order_by("code")
    )
    held, stand = balances_ml([lot.vessel for lot in lots]), whole(lots)
    bad = []
    for lot in lots:
        jars_ml = sum(size * count for size, count in stand[lot.pk].items())
        if held[lot.vessel_id] != jars_ml:
            bad.append((lot, held[lot.vessel_id], jars_ml))
    return bad
