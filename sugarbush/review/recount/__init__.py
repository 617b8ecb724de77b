"""Counts everything again, row by row, and names what does not add up.

The pages trust the ledger's own rules; this trusts nothing and shares no code with them. It reads each movement once,
adds up by hand, and compares each entry, delivery, batch, lot, hand-out and share with the movements that stand for it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from sugarbush.review.recount import deliveries, entries, kept, lots, movements, pans, shares
from sugarbush.review.recount.rows import Book, Finding, read
from sugarbush.seasons.models import Season

Check = Callable[[Season, Book], Iterable[Finding]]

CHECKS: tuple[Check, ...] = (
    movements.the_hold,
    movements.the_chain,
    movements.vessels,
    movements.reversals,
    movements.acts,
    entries.entries,
    deliveries.deliveries,
    deliveries.hand_overs,
    pans.batches,
    pans.draw_offs,
    pans.past_its_time,
    lots.lots,
    lots.into_packed,
    lots.hand_outs,
    lots.recalls,
    shares.shares,
    kept.kept_totals,
)


def findings(season: Season) -> Iterator[Finding]:
    """Everything that does not add up in this season; nothing when all is well."""
    book = read(season)
    for check in CHECKS:
        yield from check(season, book)


__all__ = ["CHECKS", "Book", "Check", "Finding", "findings", "read"]
