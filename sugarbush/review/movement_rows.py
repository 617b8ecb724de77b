"""Movements as the ledger's page shows them: signed, with what made them, and the balance of one vessel beside them."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import BigIntegerField, Case, F, Q, QuerySet, Sum, Value, When
from django.utils.translation import gettext as _

from sugarbush.gathering.models import Collection
from sugarbush.lots.models import JarIssue
from sugarbush.review.asked import Asked
from sugarbush.review.chain import reason_words
from sugarbush.sap.models import Cause, Movement, Vessel
from sugarbush.taps.said import url

MEASURED = {Cause.MEASURED_OVER, Cause.MEASURED_UNDER}
OTHER_DETAILS = {"ahead", "stick", "packing", "late"}


@dataclass(slots=True, kw_only=True)
class Shown:
    """One row of the page. balance_ml: what the chosen vessel holds after it. link: what made the movement."""

    move: Movement
    ml: int
    why: str
    link: str
    link_words: str
    taken_back_by: int | None
    balance_ml: int | None = None
    marked: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Together:
    """All that was asked for, added up. into_ml, out_ml: of the vessel or the kind of vessel, where one was asked."""

    count: int
    counts_ml: int
    into_ml: int = 0
    out_ml: int = 0

    @property
    def left_ml(self) -> int:
        return self.into_ml - self.out_ml


def together(asked: Asked) -> Together:
    """One query. What counts against its cause is taken off."""
    into = Q(to_vessel=asked.vessel) if asked.vessel else Q(to_vessel__kind=asked.place)
    out = Q(from_vessel=asked.vessel) if asked.vessel else Q(from_vessel__kind=asked.place)
    signed = Case(When(reverses=None, then=F("volume_ml")), default=-F("volume_ml"), output_field=BigIntegerField())
    sums: dict[str, Any] = {"n": Sum(Value(1)), "ml": Sum(signed)}
    if asked.vessel or asked.place:
        sums |= {"into": Sum("volume_ml", filter=into), "out": Sum("volume_ml", filter=out)}
    found = asked.rows().order_by().aggregate(**sums)
    return Together(
        count=int(found["n"] or 0),
        counts_ml=int(found["ml"] or 0),
        into_ml=int(found.get("into") or 0),
        out_ml=int(found.get("out") or 0),
    )


def with_all(rows: QuerySet[Movement]) -> QuerySet[Movement]:
    """Everything a row shows in one query."""
    return rows.select_related(
        "act__tree",
        "act__person",
        "act__author",
        "act__approver",
        "from_vessel__person",
        "to_vessel__person",
    )


def shown(moves: Sequence[Movement], asked: Asked) -> list[Shown]:
    """The rows of one page; seven more queries, however long the page or the history."""
    jars = _origins(moves, "jars")
    lots: dict[Any, uuid.UUID] = dict(JarIssue.objects.filter(pk__in=jars).values_list("pk", "lot_id"))
    entries = _origins(moves, "collection")
    there = set(Collection.objects.filter(pk__in=entries).values_list("pk", flat=True))
    # Not joined: where hardly anything was taken back, SQLite would look through all movements for each row.
    undone = {back: seq for seq, back in _taken_back(moves)}
    balances = _balances(moves, asked.vessel) if asked.vessel is not None else {}
    rows = []
    for move in moves:
        link, words = _origin(move, lots, there)
        rows.append(
            Shown(
                move=move,
                ml=_signed(move, asked),
                why=why(move),
                link=link,
                link_words=words,
                taken_back_by=undone.get(move.seq),
                balance_ml=balances.get(move.seq),
                marked=move.seq == asked.at,
            )
        )
    return rows


def _taken_back(moves: Sequence[Movement]) -> list[tuple[int, int]]:
    rows = Movement.objects.filter(reverses__in=[move.seq for move in moves]).order_by()
    return list(rows.values_list("seq", "reverses_id"))


def _origins(moves: Sequence[Movement], kind: str) -> set[uuid.UUID]:
    return {pk for move in moves if move.act.origin_kind == kind and (pk := move.act.origin_uuid) is not None}


def _signed(move: Movement, asked: Asked) -> int:
    """Below zero where it leaves what was asked for, or takes another movement back."""
    if asked.vessel is not None:
        return move.volume_ml if move.to_vessel_id == asked.vessel.pk else -move.volume_ml
    if asked.place:
        into = move.to_vessel is not None and move.to_vessel.kind == asked.place
        out = move.from_vessel is not None and move.from_vessel.kind == asked.place
        return move.volume_ml if into and not out else -move.volume_ml if out and not into else 0
    return move.volume_ml if move.reverses_id is None else -move.volume_ml


def why(move: Movement) -> str:
    """The reason beside a cause, as people read it."""
    if move.cause == Cause.MOVED or (move.cause in MEASURED and move.detail not in OTHER_DETAILS):
        return ""
    known = {
        "ahead": _("ahead of its entries"),
        "stick": _("by the stick"),
        "packing": _("when packing"),
        "late": _("after closing"),
    }
    return known.get(move.detail, reason_words(move.detail) if move.detail else "")


def _balances(moves: Sequence[Movement], vessel: Vessel) -> dict[int, int]:
    """What the vessel held after each of these movements, whatever else narrows the list.

    Four queries, each end by its own index: asked together, SQLite would read everything between the two movements.
    """
    if not moves:
        return {}
    first, last = min(m.seq for m in moves), max(m.seq for m in moves)
    ends = ((1, Movement.objects.filter(to_vessel=vessel)), (-1, Movement.objects.filter(from_vessel=vessel)))
    held, steps = 0, []
    for sign, rows in ends:
        before = rows.filter(seq__lt=first).order_by().aggregate(ml=Sum("volume_ml"))["ml"]
        held += sign * int(before or 0)
        between = rows.filter(seq__range=(first, last)).order_by()
        steps += [(seq, sign * ml) for seq, ml in between.values_list("seq", "volume_ml")]
    found: dict[int, int] = {}
    for seq, ml in sorted(steps):
        held += ml
        found[seq] = held
    return found


def _origin(move: Movement, lots: dict[Any, uuid.UUID], entries: set[uuid.UUID]) -> tuple[str, str]:
    """The page of what made this movement, and what to call it."""
    kind, pk = move.act.origin_kind, move.act.origin_uuid
    if kind == "collection" and pk in entries:
        code = move.act.tree.code if move.act.tree else ""
        return url("log-entry", pk), _("entry at %(tree)s") % {"tree": code} if code else _("entry")
    if kind == "delivery":
        return url("delivery", pk), _("delivery")
    if kind == "batch":
        return url("batch", pk), _("batch")
    if kind == "lot":
        return url("lot", pk), _("lot")
    if kind == "jars" and pk in lots:
        return url("lot", lots[pk]), _("jars handed out")
    if kind == "hand_over":
        return url("hand-over"), _("handed over")
    return "", ""
