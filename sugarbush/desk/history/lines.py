"""The acts of one page as people read them: the act in words, the thing with its page, each value before and after."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.apps import apps
from django.core.exceptions import FieldDoesNotExist
from django.db import models
from django.urls import reverse
from django.utils.text import capfirst
from django.utils.translation import gettext as _

from sugarbush.audit.models import AuditEvent
from sugarbush.audit.words import words_for
from sugarbush.parts.shown import in_words
from sugarbush.volunteers.models import Person

MOST_NAMED = 12

# A kind's page, and the column its address is made of; "pk" needs no look into the table.
PAGES = {
    "trees.tree": ("tree", "code"),
    "owners.permission": ("permission", "number"),
    "owners.owner": ("owner", "pk"),
    "notices.notice": ("notice", "pk"),
    "volunteers.person": ("person", "pk"),
    "volunteers.group": ("group", "pk"),
    "volunteers.cardsheet": ("card-sheet", "pk"),
    "seasons.season": ("season", "year"),
    "kit.container": ("container", "pk"),
    "kit.depot": ("depot", "pk"),
    "gathering.round": ("round-plan", "pk"),
    "gathering.roundrun": ("run", "pk"),
    "boils.delivery": ("delivery", "pk"),
    "boils.boilday": ("boil-day", "pk"),
    "boils.batch": ("batch", "pk"),
    "lots.lot": ("lot", "pk"),
    "lots.recall": ("recall", "pk"),
    "shares.sharerule": ("share-rule", "pk"),
    "shares.sharerun": ("share-run", "pk"),
    "shares.share": ("share", "pk"),
    "taps.tap": ("tap", "pk"),
}
QUANTITIES = {"ml": "volume", "mm": "length", "um": "diameter", "g": "mass", "c": "temperature", "brix": "brix"}

OF_PEOPLE = ("person", "people")


@dataclass
class Line:
    """One act. values: (what, before, after), in words."""

    event: AuditEvent
    what: str
    kind: str
    thing: str
    url: str = ""
    values: list[tuple[str, str, str]] = field(default_factory=list)


def lines(events: Sequence[AuditEvent], units: str) -> list[Line]:
    """The page's acts. One query for each kind whose address is made of more than its number."""
    pages, people = _addresses(events), _people(events)
    made = []
    for event in events:
        model = _model(event.subject_kind)
        of_people = event.subject_kind.startswith("volunteers.")
        whom = event.about if event.about_id and (of_people or event.about_id != event.by_id) else None
        thing = ", ".join(str(part) for part in (whom, event.subject_text) if part)
        url = pages.get((event.subject_kind, event.subject_id), "")
        if not url and of_people and event.about_id:
            url = reverse("person", args=[event.about_id])
        made.append(
            Line(
                event=event,
                what=words_for(event.act),
                kind=capfirst(str(model._meta.verbose_name)) if model else event.subject_kind,
                thing=thing,
                url=url,
                values=values_of(event, model, units, people),
            )
        )
    return made


def values_of(
    event: AuditEvent, model: type[models.Model] | None, units: str, people: dict[int, str]
) -> list[tuple[str, str, str]]:
    """Each value that the act kept, by its name on the pages where it has one; people: names by number."""
    rows = []
    for name in dict.fromkeys([*event.old, *event.new]):
        before, after = event.old.get(name), event.new.get(name)
        if name in OF_PEOPLE:
            before, after = _named(before, people), _named(after, people)
        said = _value(name, before, model, units), _value(name, after, model, units)
        if any(said):
            rows.append((_label(name, model), *said))
    return rows


def _named(value: Any, people: dict[int, str]) -> Any:
    if isinstance(value, list | tuple):
        return [_named(one, people) for one in value]
    return people.get(value, value) if type(value) is int else value


def _numbers(value: Any) -> set[int]:
    if isinstance(value, list | tuple):
        return {number for one in value for number in _numbers(one)}
    return {value} if type(value) is int else set()


def _people(events: Iterable[AuditEvent]) -> dict[int, str]:
    """The names of people whom the values of these acts mention by number."""
    numbers = {
        n for event in events for kept in (event.old, event.new) for key in OF_PEOPLE for n in _numbers(kept.get(key))
    }
    return dict(Person.objects.filter(pk__in=numbers).values_list("pk", "display_name")) if numbers else {}


def _model(kind: str) -> type[models.Model] | None:
    try:
        return apps.get_model(kind)
    except (LookupError, ValueError):
        return None


def _column(name: str, model: type[models.Model] | None) -> Any:
    if model is None:
        return None
    try:
        return model._meta.get_field(name)
    except FieldDoesNotExist:
        return None


def _label(name: str, model: type[models.Model] | None) -> str:
    said = getattr(_column(name, model), "verbose_name", None)
    stem, _gap, unit = name.rpartition("_")
    return str(said) if said else (stem if unit in QUANTITIES and stem else name).replace("_", " ")


def _value(name: str, value: Any, model: type[models.Model] | None, units: str) -> str:
    """A stored value in words and in the reader's units; empty for nothing."""
    if value is None or value == "":
        return ""
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if isinstance(value, list):
        more = len(value) - MOST_NAMED
        shown = [_value("", one, None, units) for one in value[:MOST_NAMED]]
        return ", ".join([*shown, _("and %(count)d more") % {"count": more}] if more > 0 else shown)
    if isinstance(value, dict):
        return ", ".join(f"{_label(str(key), None)} {_value(str(key), one, None, units)}" for key, one in value.items())
    choices = dict(getattr(_column(name, model), "flatchoices", None) or ())
    if value in choices:
        return str(choices[value])
    unit = QUANTITIES.get(name.rpartition("_")[2]) if "_" in name or name == "ml" else None
    if unit:
        try:
            return str(in_words(unit, value, units))
        except (ValueError, TypeError, ArithmeticError):
            return str(value)
    return str(value)


def _addresses(events: Iterable[AuditEvent]) -> dict[tuple[str, str], str]:
    """(kind, id) to the address of the thing's page, where it has one and is still there."""
    asked: dict[str, set[str]] = {}
    found: dict[tuple[str, str], str] = {}
    for event in events:
        if event.subject_kind in PAGES:
            asked.setdefault(event.subject_kind, set()).add(event.subject_id)
    for kind, ids in asked.items():
        page, column = PAGES[kind]
        if column == "pk":
            found |= {(kind, one): reverse(page, args=[one]) for one in ids}
        elif model := _model(kind):
            rows = model._default_manager.filter(pk__in=ids).values_list("pk", column)
            found |= {(kind, str(pk)): reverse(page, args=[value]) for pk, value in rows}
    return found
