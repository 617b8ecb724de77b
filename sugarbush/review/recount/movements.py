"""The ledger by itself: does it close, was every vessel possible after each act, is every reversal a mirror."""

from __future__ import annotations

from collections.abc import Iterator

from django.db.models import F, Q
from django.utils.translation import gettext as _

from sugarbush.review.recount.rows import Book, Finding, ml_words
from sugarbush.sap import append_only
from sugarbush.sap.models import Act, Cause, Movement
from sugarbush.seasons.models import Season


def the_chain(season: Season, book: Book) -> Iterator[Finding]:
    """What came in is somewhere, or went for a stated reason; else the movements whose ends do not fit are named."""
    for row in book.odd:
        yield Finding(
            "ends",
            _("Movement %(seq)d (%(ml)s, “%(cause)s”) does not have the ends of its cause.")
            % {"seq": row.seq, "ml": ml_words(row.ml), "cause": _cause(row.cause)},
            seq=row.seq,
        )
    for row in book.strangers:
        yield Finding(
            "other-season",
            _("Movement %(seq)d (%(ml)s) goes from or to a vessel of another season.")
            % {"seq": row.seq, "ml": ml_words(row.ml)},
            seq=row.seq,
        )
    left_ml = book.came_ml - book.gone_ml - book.held_ml
    if left_ml:
        yield Finding(
            "chain",
            _("Season %(year)d: %(ml)s came in and is not accounted for.")
            % {"year": season.year, "ml": ml_words(left_ml)},
            seq=book.odd[0].seq if book.odd else None,
        )


def _cause(value: str) -> str:
    return str(Cause(value).label) if value in Cause.values else value


def vessels(season: Season, book: Book) -> Iterator[Finding]:
    """No vessel gave more than it held; none held more than it can, unless the act that filled it says why."""
    for pk, (seq, ml) in book.below.items():
        yield Finding(
            "below-zero",
            _("%(vessel)s stood at %(ml)s after movement %(seq)d.")
            % {"vessel": book.vessels.get(pk, pk), "ml": ml_words(ml), "seq": seq},
            seq=seq,
            vessel=pk,
        )
    for pk, (seq, ml) in book.full.items():
        vessel = book.vessels[pk]
        yield Finding(
            "too-full",
            _("%(vessel)s holds %(room)s and stood at %(ml)s after movement %(seq)d, with no reason given.")
            % {"vessel": vessel, "room": ml_words(vessel.capacity_ml or 0), "ml": ml_words(ml), "seq": seq},
            seq=seq,
            vessel=pk,
        )


def reversals(season: Season, book: Book) -> Iterator[Finding]:
    """What takes a movement back is its mirror: same volume, cause and reason, ends swapped, later."""
    pairs = Movement.objects.filter(season=season, reverses__isnull=False).exclude(
        Q(volume_ml=F("reverses__volume_ml"))
        & Q(cause=F("reverses__cause"))
        & Q(detail=F("reverses__detail"))
        & Q(season=F("reverses__season"))
        & Q(seq__gt=F("reverses__seq"))
        & (Q(from_vessel=F("reverses__to_vessel")) | Q(from_vessel=None, reverses__to_vessel=None))
        & (Q(to_vessel=F("reverses__from_vessel")) | Q(to_vessel=None, reverses__from_vessel=None))
    )
    for seq, ml, taken, taken_ml in pairs.order_by("seq").values_list(
        "seq", "volume_ml", "reverses_id", "reverses__volume_ml"
    ):
        yield Finding(
            "reversal",
            _("Movement %(seq)d (%(ml)s) should take back movement %(taken)d (%(taken_ml)s), but is not its mirror.")
            % {"seq": seq, "ml": ml_words(ml), "taken": taken, "taken_ml": ml_words(taken_ml)},
            seq=seq,
        )


def acts(season: Season, book: Book) -> Iterator[Finding]:
    """Each act moves something, its movements are of its season and time, and none came after closing in silence."""
    for act in Act.objects.filter(season=season, movements=None):
        yield Finding("empty-act", _("The act “%(act)s” (%(id)s) moves nothing.") % {"act": act, "id": act.pk})
    for seq in book.elsewhere:
        yield Finding(
            "other-act",
            _("Movement %(seq)d has another season or time than the act it belongs to.") % {"seq": seq},
            seq=seq,
        )
    if season.closed_at is None:
        return
    late = Movement.objects.filter(act__season=season, act__recorded_at__gt=season.closed_at)
    for seq in late.exclude(~Q(act__reason=""), act__kind="correct").order_by("seq").values_list("seq", flat=True):
        yield Finding(
            "after-closing",
            _("Movement %(seq)d came after the season had closed, and is no correction with a reason.") % {"seq": seq},
            seq=seq,
        )


def the_hold(season: Season, book: Book) -> Iterator[Finding]:
    """The database still refuses to change what was posted."""
    missing = append_only.missing()
    if missing:
        yield Finding(
            "not-held",
            _("The database no longer holds the ledger fast; these triggers are missing: %(names)s.")
            % {"names": ", ".join(missing)},
        )
