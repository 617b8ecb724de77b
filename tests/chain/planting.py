"""Faults put into the books behind the programme's back: the triggers that refuse them are lifted for a moment."""

from __future__ import annotations

from typing import Any

from django.db import connection
from django.db.models import QuerySet

from sugarbush.sap import append_only


def change(rows: QuerySet[Any], **values: object) -> None:
    """Change rows that stay as they are posted."""
    with append_only.lifted():
        assert rows.update(**values)


def remove(rows: QuerySet[Any]) -> None:
    """Delete rows that are never deleted."""
    with append_only.lifted():
        rows._raw_delete("default")


def run(*statements: str) -> None:
    """Plain SQL, for what the models themselves forbid."""
    with append_only.lifted(), connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)
