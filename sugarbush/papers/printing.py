"""Making a document: gather, number, set."""

from __future__ import annotations

import json
import unicodedata
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import get_language, get_language_bidi
from django.utils.translation import gettext as _

from sugarbush.papers.kinds import Asked, Kind, Part
from sugarbush.papers.models import Document
from sugarbush.papers.numbers import document_for, edition_for
from sugarbush.papers.press import CannotShow, PressFailed, press
from sugarbush.parts.reasons import Reason, Refused

SHARED = ("base.typ", "labels.typ")
NO_ROOM = "does-not-fit"
"""What a layout says when a text fits its place in no size: it would be cut off, so nothing is printed."""
LAYOUTS = Path(__file__).with_name("typ")
UNSEEN = {"Cc", "Cs", "Co", "Cn"}
"""Categories of characters that paper has no use for: control signs, halves of characters, unassigned places."""
INSTEAD = "\u25a1"


def make(
    kind: Kind,
    asked: Asked,
    *,
    anyway: bool = False,
    longest_s: float = 20.0,
    setting: Callable[[], object] | None = None,
) -> bytes:
    """The document as PDF.

    anyway: print a box for each character no font can show; without it they raise CannotShow before a number is drawn.
    setting: called when all is gathered and the pages are about to be set.
    Raises what the kind's gathering raises, CannotShow, and PressFailed.
    """
    if kind.may is not None:
        kind.may(asked)
    parts = [_cleaned(part) for part in kind.gather(asked)]
    head = _cleaned_value(_head(asked))
    missing = press.cannot_show("".join(_texts([head, *(part.content for part in parts)])))
    if missing:
        if not anyway:
            raise CannotShow(missing)
        swap = str.maketrans(dict.fromkeys(missing, INSTEAD))
        head = _swapped(head, swap)
        parts = [_with_content(part, _swapped(part.content, swap)) for part in parts]
    if kind.finish is not None:
        parts = [_cleaned(part) for part in kind.finish(asked, parts)]
    if setting is not None:
        setting()
    documents = [_document(kind, asked, part) for part in parts]
    laid = [_laid(kind, asked, part, document) for part, document in zip(parts, documents, strict=True)]
    texts = {"data.json": json.dumps({**head, "parts": laid}), **_layouts(kind.layout)}
    pictures = {name: kept for part in parts for name, kept in part.pictures.items()}
    try:
        made = press.print_pdf(texts, pictures, anyway=anyway, longest_s=longest_s)
    except PressFailed as why:
        if NO_ROOM in str(why):
            raise Refused([Reason(code="no-room", fact=_no_room(kind))]) from why
        raise
    if kind.after is not None:
        for part, document in zip(parts, documents, strict=True):
            kind.after(asked, part, document)
    return made


def _head(asked: Asked) -> dict[str, Any]:
    """What every page carries, whatever it is about."""
    return {
        "programme": asked.programme.name,
        "place": asked.programme.place,
        "phone": asked.programme.phone,
        "date": date_format(timezone.localdate(), "j F Y"),
        "paper": asked.paper,
        "language": (get_language() or "en").split("-")[0],
        "from_the_right": get_language_bidi(),
        "square": _("a square to scan"),
        "pages": _("page %(n)s of %(of)s") % {"n": "{n}", "of": "{of}"},
    }


def _no_room(kind: Kind) -> str:
    return _(
        "“%(what)s” was not printed: some words do not fit on a label of this size, even in small letters. "
        "Choose larger labels or shorten the words."
    ) % {"what": kind.label}


def _document(kind: Kind, asked: Asked, part: Part) -> Document:
    return document_for(
        kind=kind.key, subject=part.subject, title=part.title, template_version=kind.version, by=asked.person
    )


def _laid(kind: Kind, asked: Asked, part: Part, document: Document) -> dict[str, Any]:
    edition = edition_for(
        document,
        content=part.content,
        template_version=kind.version,
        wording_version=part.wording_version,
        wording=part.wording,
        by=asked.person,
    )
    shown = document.number
    if edition.nth > 1:
        shown = _("%(number)s, print %(nth)d") % {"number": document.number, "nth": edition.nth}
    more = kind.numbered(asked, document) if kind.numbered is not None else {}
    return {**part.content, **more, "doc": {"number": document.number, "shown": shown, "title": part.title}}


@cache
def _layout(name: str) -> str:
    return (LAYOUTS / name).read_text(encoding="utf-8")


def _layouts(name: str) -> dict[str, str]:
    """The layout and what layouts share."""
    return {**{shared: _layout(shared) for shared in SHARED}, "main.typ": _layout(name)}


# Text on its way to paper ----------------------------------------------------------


def _clean(text: str) -> str:
    """Without what paper cannot carry; line ends stay."""
    return "".join(one for one in text if one == "\n" or unicodedata.category(one) not in UNSEEN)


def _cleaned_value(value: Any) -> Any:
    if isinstance(value, str):
        return _clean(value)
    if isinstance(value, Mapping):
        return {str(name): _cleaned_value(one) for name, one in value.items()}
    if isinstance(value, list | tuple):
        return [_cleaned_value(one) for one in value]
    if value is None or isinstance(value, bool | int | float):
        return value
    return _clean(str(value))  # lazy words, decimals, days


def _cleaned(part: Part) -> Part:
    return _with_content(part, _cleaned_value(part.content))


def _with_content(part: Part, content: dict[str, Any]) -> Part:
    return Part(
        subject=part.subject,
        title=part.title,
        content=content,
        wording=part.wording,
        wording_version=part.wording_version,
        pictures=part.pictures,
    )


def _texts(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for one in value.values():
            yield from _texts(one)
    elif isinstance(value, Sequence):
        for one in value:
            yield from _texts(one)


def _swapped(value: Any, swap: Mapping[int, str]) -> Any:
    if isinstance(value, str):
        return value.translate(swap)
    if isinstance(value, dict):
        return {name: _swapped(one, swap) for name, one in value.items()}
    if isinstance(value, list):
        return [_swapped(one, swap) for one in value]
    return value
