"""What happened to a slip: who, when, why, and each value before and after."""

from __future__ import annotations

import datetime as dt
import itertools
from dataclasses import dataclass, field
from typing import Any

from django.urls import NoReverseMatch, reverse
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.audit.models import AuditEvent
from sugarbush.owners.forms_slip import TERMS
from sugarbush.owners.minding import tags
from sugarbush.owners.models import Owner, Permission
from sugarbush.parts.shown import in_words

MOST = 100
QUANTITIES = {
    "least_diameter_um": "diameter",
    "most_height_mm": "length",
    "largest_bit_um": "bit",
    "most_depth_mm": "length",
}
ACTS = {
    "write permission": gettext_lazy("Brought the slip"),
    "permission asked": gettext_lazy("Asked"),
    "permission no_answer": gettext_lazy("No answer"),
    "permission refused": gettext_lazy("The answer was no"),
    "permission granted": gettext_lazy("Said yes"),
    "permission suspended": gettext_lazy("Suspended"),
    "permission revoked": gettext_lazy("Taken back"),
    "change permission": gettext_lazy("Changed the slip"),
    "add trees to permission": gettext_lazy("Added trees"),
    "keep scan": gettext_lazy("Added the scan"),
    "see scan": gettext_lazy("Opened the scan"),
}


@dataclass
class Happened:
    """One act: when, who, what, why, which values it moved and which trees it touched."""

    at: dt.datetime
    by: str
    act: str
    reason: str = ""
    values: list[tuple[str, str, str]] = field(default_factory=list)
    trees: str = ""


def value_words(name: str, value: Any, units: str) -> str:
    """A value of the slip as people read it; empty for nothing."""
    if value in (None, ""):
        return ""
    if kind := QUANTITIES.get(name):
        return in_words(kind, value, units)
    column: Any = Permission._meta.get_field(name)
    if column.choices:
        return str(dict(column.flatchoices).get(value, value))
    if isinstance(value, str) and name in {"date_from", "date_to", "insurance_to"}:
        value = dt.date.fromisoformat(value)
    return date_format(value, "j F Y") if isinstance(value, dt.date) else str(value)


def history_of(permission: Permission, units: str) -> list[Happened]:
    """The acts on a slip, newest first; who opened the scan is among them.

    The acts come from the history of acts; a saved version that no act explains is listed by itself, so that nothing
    that moved stays unsaid.
    """
    events = list(
        AuditEvent.objects.filter(subject_kind=permission._meta.label_lower, subject_id=str(permission.pk))
        .select_related("by")
        .order_by("-at", "-pk")[:MOST]
    )
    versions = list(permission.history.select_related("history_user").order_by("edition", "history_id"))
    owners = dict(Owner.objects.filter(pk__in={version.owner_id for version in versions}).values_list("pk", "name"))
    moved = _moves(versions, owners, units)
    rows = []
    for event in events:
        edition = event.new.get("edition")
        rows.append(
            Happened(
                at=event.at,
                by=_who(event),
                act=str(ACTS.get(event.act, event.act.capitalize())),
                reason=event.reason,
                values=moved.pop(edition, (None, "", []))[2] if edition is not None else [],
                trees=tags(event.new.get("trees", [])),
            )
        )
    if len(events) < MOST:
        rows += [Happened(at=at, by=by, act=str(_("Saved")), values=values) for at, by, values in moved.values() if at]
    return sorted(rows, key=lambda row: row.at, reverse=True)


def _who(event: AuditEvent) -> str:
    if event.by is not None:
        return event.by.display_name
    return str(_("the owner, by their link") if "link" in event.new else _("the programme itself"))


def _moves(versions: list[Any], owners: dict[int, str], units: str) -> dict[int, tuple[Any, str, list[Any]]]:
    """By edition: when, who, and (label, before, after) of each value that moved."""
    moved: dict[int, tuple[Any, str, list[tuple[str, str, str]]]] = {}
    for before, after in itertools.pairwise(versions):
        values = []
        for name in ["state", *TERMS]:
            old, new = getattr(before, name), getattr(after, name)
            if old != new:
                label = _("State") if name == "state" else str(Permission._meta.get_field(name).verbose_name)  # type: ignore[union-attr]  # plain columns
                values.append((label, value_words(name, old, units), value_words(name, new, units)))
        if before.owner_id != after.owner_id:
            values.append((_("Owner"), owners.get(before.owner_id, ""), owners.get(after.owner_id, "")))
        if values:
            who = after.history_user.display_name if after.history_user else str(_("the programme itself"))
            moved[after.edition] = (after.history_date, who, values)
    return moved


def way_to(name: str) -> str:
    """Where a later page is, or nothing while it is not there."""
    try:
        return reverse(name)
    except NoReverseMatch:
        return ""
