"""A season does not close while sap is underway or the ledger does not add up."""

from __future__ import annotations

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from sugarbush.boils import approvals
from sugarbush.boils.models import Batch, BatchState, Delivery, DeliveryState
from sugarbush.parts.reasons import Reason
from sugarbush.parts.wording import both_words
from sugarbush.sap import ledger
from sugarbush.sap.models import VesselKind
from sugarbush.seasons.models import Season
from sugarbush.taps.gate import url


def approvals_open(season: Season) -> list[Reason]:
    """Large differences whose named second person has not confirmed them."""
    waiting = approvals.open_or_contested(season)
    if not waiting:
        return []
    fact = ngettext(
        "%(n)d large difference is not confirmed by the person named for it: %(who)s.",
        "%(n)d large differences are not confirmed by the people named for them: %(who)s.",
        len(waiting),
    )
    who = ", ".join(sorted({str(act.approver) for act, _said in waiting}))
    return [
        Reason(
            code="approvals",
            fact=fact % {"n": len(waiting), "who": who},
            next_text=_("Ask them to confirm it, or to say what is not so"),
            next_url=url("approvals"),
        )
    ]


def deliveries_ahead(season: Season) -> list[Reason]:
    count = Delivery.objects.filter(season=season, state=DeliveryState.AHEAD).count()
    if not count:
        return []
    return [
        Reason(
            code="ahead",
            fact=ngettext("%(n)d delivery waits for its entries.", "%(n)d deliveries wait for their entries.", count)
            % {"n": count},
            next_text=_("Settle them"),
            next_url=url("deliveries"),
        )
    ]


def open_batches(season: Season) -> list[Reason]:
    batch = Batch.objects.filter(boil_day__season=season, state=BatchState.OPEN).first()
    if batch is None:
        return []
    return [
        Reason(
            code="open-batch",
            fact=_("A batch is still in the pan."),
            detail=str(batch),
            next_text=_("Close the batch"),
            next_url=url("batch", batch.pk),
        )
    ]


def sap_underway(season: Season) -> list[Reason]:
    """Sap in hands or tanks has to be boiled, tipped out or explained first."""
    held = ledger.held_by_kind(season)
    reasons = []
    for kind, name, step in (
        (VesselKind.HANDS, "deliveries", _("Accept it at a depot, or explain the difference")),
        (VesselKind.TANK, "tanks", _("Boil it or tip it out")),
    ):
        if held[kind]:
            fact = _("%(volume)s is still %(where)s.") % {
                "volume": both_words(held[kind]),
                "where": _("in people’s hands") if kind == VesselKind.HANDS else _("in tanks"),
            }
            reasons.append(Reason(code=f"in-{kind}", fact=fact, next_text=step, next_url=url(name)))
    return reasons


def ledger_out_of_balance(season: Season) -> list[Reason]:
    chain = ledger.chain(season)
    reasons = []
    if not chain.closes:
        fact = _("The sap ledger does not close: %(volume)s not accounted for.")
        words = both_words(chain.unaccounted_ml)
        reasons.append(
            Reason(
                code="unbalanced",
                fact=fact % {"volume": words},
                next_text=_("See the chain"),
                next_url=url("season-review"),
            )
        )
    for vessel, seq, ml in ledger.below_zero(season):
        reasons.append(
            Reason(
                code="below-zero",
                fact=_("%(vessel)s stood at %(volume)s after movement %(seq)d.")
                % {"vessel": vessel, "volume": both_words(ml), "seq": seq},
                next_text=_("Look at the movement"),
                next_url=f"{url('season-ledger')}?year={season.year}&vessel={vessel.pk}&at={seq}#m{seq}",
            )
        )
    return reasons
