"""What went into a pan and out of it. What was taken back, and the act that took it back, never happened."""

from __future__ import annotations

from django.db.models import Q

from sugarbush.sap.models import Movement, Vessel


def pan_moves(pan: Vessel) -> list[Movement]:
    """Every movement in or out that stands, in posting order, with its vessels and act; one query."""
    rows = list(
        Movement.objects.filter(Q(from_vessel=pan) | Q(to_vessel=pan))
        .select_related("from_vessel", "to_vessel", "act__approver", "act__author")
        .order_by("seq")
    )
    # A reversal has the same two ends, so it is among these rows.
    undone = {row.reverses_id for row in rows}
    return [row for row in rows if row.reverses_id is None and row.seq not in undone]
