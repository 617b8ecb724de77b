"""What can be printed: a table of kinds, each with its layout, its version and the function that gathers its content.

A kind gathers for one person: it finds only what the person may see (Http404, PermissionDenied), so that a page, the
background worker and the fetching of a file ask the same question. What it gathers is plain data; the layout reads it
as JSON, so that no name or note of anybody is ever read as layout.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from django.utils import timezone

from sugarbush.papers.models import Document, PaperSettings
from sugarbush.seasons.models import Programme
from sugarbush.volunteers.models import Person

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

Progress = Callable[[int, int], None]


def _quiet(_done: int, _whole: int) -> None:
    """Nobody waits for the progress of a short document."""


@dataclass(frozen=True, kw_only=True)
class Asked:
    """Who prints, on what, and what: `choices` are plain strings and lists, as a form gave them.

    base: the address of the programme in front of each path, for squares; it ends without a slash.
    """

    person: Person
    programme: Programme
    settings: PaperSettings
    paper: str
    units: str
    base: str
    choices: Mapping[str, Any] = field(default_factory=dict)
    progress: Progress = _quiet

    @property
    def on(self) -> dt.date:
        return timezone.localdate()

    def address(self, path: str) -> str:
        return f"{self.base}{path}"


@dataclass(frozen=True, kw_only=True)
class Part:
    """One document of a print, with its own number and its own count of pages.

    subject: what it is about, by keys, never by name.  content: what the layout reads.
    wording: words somebody will sign, kept with their version.
    """

    subject: str
    title: str
    content: dict[str, Any]
    wording: str = ""
    wording_version: str = ""
    pictures: Mapping[str, bytes] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Kind:
    """One kind of document. layout: the file in typ/. long_above: so many rows and more are left to the worker.

    size: how many rows it will have, told without gathering them.
    form: the name of the form in papers.forms that asks for the choices.  note: what the page says beside it.
    finish: what may happen only when nothing stands in the way of the print any more, such as making a link.
    numbered: what a part says besides, once it has its number: a square that leads to it.
    may: asks only whether this person may, for kinds whose gathering is long or changes something.
    after: called with each part and its document once it has its number, when it is made.
    """

    key: str
    label: StrOrPromise
    layout: str
    version: str
    gather: Callable[[Asked], Sequence[Part]]
    size: Callable[[Asked], int] = lambda _asked: 1
    long_above: int = 120
    file_name: str = ""
    form: str = "PrintForm"
    note: StrOrPromise = ""
    after: Callable[[Asked, Part, Any], None] | None = None
    finish: Callable[[Asked, Sequence[Part]], Sequence[Part]] | None = None
    numbered: Callable[[Asked, Document], Mapping[str, Any]] | None = None
    may: Callable[[Asked], object] | None = None

    def still_may(self, asked: Asked) -> None:
        """Raises what gathering would raise where the person may not see it (any more)."""
        (self.may or self.gather)(asked)


_KINDS: dict[str, Kind] = {}


def register(kind: Kind) -> Kind:
    """Add a kind to the table. A second one under the same key is a mistake in the code."""
    if kind.key in _KINDS and _KINDS[kind.key] is not kind:
        raise ValueError(f"{kind.key!r} is in the table already")
    _KINDS[kind.key] = kind
    return kind


def kind_of(key: str) -> Kind:
    return _KINDS[key]


def kinds() -> list[Kind]:
    return list(_KINDS.values())
