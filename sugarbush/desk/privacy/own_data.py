"""A person's own data, as a file: what is kept about them, each field named, with units in the names."""

from __future__ import annotations

import datetime as dt
import io
import zipfile
from collections.abc import Callable, Iterable, Iterator
from decimal import Decimal
from typing import TYPE_CHECKING, Any

import orjson
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush import __version__
from sugarbush.audit.models import AuditEvent
from sugarbush.audit.words import words_for
from sugarbush.boils.models import Delivery
from sugarbush.gathering.models import Collection
from sugarbush.gathering.models_rounds import RunPerson
from sugarbush.lots.models import JarIssue
from sugarbush.notices.models import NoMessages, Recipient
from sugarbush.papers.models import Edition, RoundSheet
from sugarbush.parts.csvfile import BYTE_ORDER_MARK, lines
from sugarbush.shares.models import Share
from sugarbush.taps.models import Assignment
from sugarbush.volunteers.models import Person

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

Row = dict[str, Any]
_more: dict[str, tuple[StrOrPromise, Callable[[Person], list[Row]]]] = {}


def register(name: str, *, means: StrOrPromise, rows: Callable[[Person], list[Row]]) -> None:
    """Have a later app put what it keeps about a person into the file, under this name."""
    _more[name] = (means, rows)


ENTRY_COLUMNS = (
    "happened_at",
    "recorded_at",
    "tree__code",
    "group__name",
    "outcome",
    "volume_ml",
    "discarded_ml",
    "discard_reason",
    "rain_ml",
    "sugar_brix",
    "temperature_c",
    "look",
    "state",
    "source",
    "note",
)


def fields() -> dict[str, str]:
    """What the names in the file mean."""
    return {
        "person": _("who you are: name, e-mail, language, units, most to carry (g), age band, when you joined"),
        "roles": _("each role, its group (empty: the whole programme), from when to when"),
        "credentials": _(
            "trainings, waivers, consents: what, version, from when to when, who vouched, said on your own phone, note"
        ),
        "passkeys": _("passkeys you come in by: what you call each, when it was added and last used"),
        "trees_given": _("trees given to you, and the year of the season"),
        "runs": _("runs of rounds: the day, the round, your part, what you answered"),
        "entries": _("what you entered at trees; the same rows as entries.csv. Names say the unit: mL, °C, °Brix"),
        "deliveries": _("sap you brought to a depot; difference_ml is what was measured over or under"),
        "shares": _("your share of each working-out: entitled_ml, given_ml, jars by size in mL, whether handed out"),
        "calendar": _("private addresses of your calendar: when made, when taken away; not the address itself"),
        "jars": _("jars that went to you; came_back says which rows are returns"),
        "papers": _("papers you printed: number, kind, which print of it, when"),
        "sheets": _("round sheets you walked or keyed in: number, when it was keyed in"),
        "messages": _("what was sent to you: when, by which way, to which address, what became of it, its words"),
        "no_messages": _("since when, how and until when you wanted no messages"),
        "history": _("acts about you: when (UTC), what, by whom, old and new values, why"),
        **{name: str(means) for name, (means, _rows_of) in _more.items()},
    }


def collected(person: Person) -> Row:
    """Everything, ready for JSON. Times are UTC; nothing of others but the names of those who vouched or acted."""
    return {
        "made_at": timezone.now(),
        "programme": f"Sugarbush {__version__}",
        "fields": fields(),
        "person": {
            "number": person.pk,
            "display_name": person.display_name,
            "email": person.email,
            "language": person.language,
            "units": person.units,
            "carry_limit_g": person.carry_limit_g,
            "age_band": person.age_band,
            "is_active": person.is_active,
            "joined_at": person.joined_at,
            "last_came_in_at": person.last_login,
        },
        "roles": _rows(person.memberships.all(), "role", "group__name", "date_from", "date_to"),
        "credentials": _rows(
            person.credentials.all(),
            "kind",
            "version",
            "valid_from",
            "valid_to",
            "vouched_by__display_name",
            "by_self",
            "note",
        ),
        "passkeys": _rows(person.passkeys.all(), "name", "added_at", "used_at"),
        "trees_given": _rows(_of(Assignment, person), "tree__code", "season__year", "state", "given_at"),
        "runs": _rows(_of(RunPerson, person), "run__date", "run__round__name", "part", "answer", "said_at"),
        "entries": _rows(_entries(person), *ENTRY_COLUMNS),
        "deliveries": _rows(
            _of(Delivery, person),
            *("season__year", "number", "happened_at", "depot__name", "state", "held_ml", "difference_ml"),
            *("explanation", "note"),
        ),
        "shares": _rows(
            _of(Share, person),
            *("run__season__year", "run__number", "run__state", "entitled_ml", "given_ml", "jars", "taken", "taken_at"),
        ),
        "calendar": _rows(person.calendar_links.all(), "made_at", "withdrawn_at"),
        "jars": [
            {**row, "came_back": row.pop("returns_id") is not None}
            for row in _rows(_of(JarIssue, person), "lot__code", "size_ml", "count", "happened_at", "returns_id")
        ],
        "papers": _rows(
            Edition.objects.filter(made_by=person).order_by("pk"),
            "document__number",
            "document__kind",
            "nth",
            "made_at",
        ),
        "sheets": _rows(
            RoundSheet.objects.filter(Q(walked_by=person) | Q(keyed_by=person)).order_by("pk"),
            *("document__number", "run__date", "keyed_at"),
        ),
        "messages": _rows(
            _of(Recipient, person).order_by("pk"),
            *("notice__sent_at", "notice__subject", "notice__body", "way", "address", "state", "why", "at"),
        ),
        "no_messages": _rows(_of(NoMessages, person).order_by("pk"), "since", "how", "ended_at"),
        "history": [
            {
                "at": event.at,
                "act": event.act,
                "what": words_for(event.act),
                "by": event.by.display_name if event.by else None,
                "thing": event.subject_text,
                "old": event.old,
                "new": event.new,
                "reason": event.reason,
            }
            for event in AuditEvent.objects.filter(about=person).select_related("by").order_by("at", "pk")
        ],
        **{name: rows_of(person) for name, (_means, rows_of) in _more.items()},
    }


def as_zip(person: Person) -> bytes:
    """A ZIP file with my-data.json and entries.csv; a season of one person's entries is some ten kilobytes."""
    data = collected(person)
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("my-data.json", orjson.dumps(data, default=_plain, option=orjson.OPT_INDENT_2))
        names = [_name(column) for column in ENTRY_COLUMNS]
        table = lines(names, ([row[name] for name in names] for row in data["entries"]))
        archive.writestr("entries.csv", BYTE_ORDER_MARK + "".join(table))
    return held.getvalue()


def _of(model: type[models.Model], person: Person) -> models.QuerySet[Any]:
    return model._default_manager.filter(person=person)


def _entries(person: Person) -> models.QuerySet[Any]:
    return _of(Collection, person).order_by("happened_at", "pk")


def _name(column: str) -> str:
    """The name in the file: `tree__code` is `tree`, `run__date` is `date`."""
    first, _gap, last = column.rpartition("__")
    if not first:
        return column
    return first.rpartition("__")[2] if last in {"code", "name", "display_name"} else last


def _rows(rows: models.QuerySet[Any], *columns: str) -> list[Row]:
    return [dict(zip(map(_name, columns), values, strict=True)) for values in _values(rows, columns)]


def _values(rows: models.QuerySet[Any], columns: Iterable[str]) -> Iterator[tuple[Any, ...]]:
    yield from rows.values_list(*columns)


def _plain(value: Any) -> Any:
    if isinstance(value, Decimal):
        return float(value)
    if isinstance(value, dt.timedelta):
        return value.total_seconds()
    return str(value)
