"""The rows somebody may want to look at, as a list and as a table to take away."""

from __future__ import annotations

import uuid
from collections.abc import Iterator

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from sugarbush.parts.csvfile import Cell
from sugarbush.trees.files import ImportProblem
from sugarbush.trees.taking.words import CHANGED, GONE, reason_words, sentence_of


def what_came_of(problem: ImportProblem) -> str:
    """In a word: not taken, changed, or gone."""
    return {CHANGED: _("changed"), GONE: _("gone")}.get(problem.reason, _("not taken"))


def csv_header() -> list[str]:
    return [_("row"), _("line"), _("number in the town’s list"), _("what"), _("reason"), _("sentence")]


def narrowed(rows: QuerySet[ImportProblem], only: str) -> QuerySet[ImportProblem]:
    """The rows of one kind: "changed", "gone" or "not-taken"; any other word leaves them all."""
    choices = {"changed": [CHANGED], "gone": [GONE]}
    if only in choices:
        return rows.filter(reason__in=choices[only])
    return rows.exclude(reason__in=[CHANGED, GONE]) if only == "not-taken" else rows


def csv_rows(run_id: uuid.UUID, units: str, only: str = "") -> Iterator[list[Cell]]:
    """Read in pieces along the primary key, so that memory stays flat and no row is left out."""
    last = 0
    rows = narrowed(ImportProblem.objects.filter(run_id=run_id), only)
    while part := list(rows.filter(pk__gt=last).order_by("pk")[:2000]):
        for problem in part:
            yield [
                problem.row_number or None,
                problem.line or None,
                problem.number,
                what_came_of(problem),
                reason_words(problem.reason),
                sentence_of(problem, units),
            ]
        last = part[-1].pk
