"""The numbers of documents: counted up, with a last figure that tells a slip of the pen."""

from __future__ import annotations

import hashlib
import json
import re
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import Max
from django.utils import timezone

from sugarbush.papers.models import Document, Edition
from sugarbush.volunteers.models import Person

TRIES = 5


def check_figure(seq: int) -> int:
    """The last figure of a number (Luhn): one wrong figure, or two neighbours swapped, is no number of ours.

    >>> check_figure(1)
    8
    >>> check_figure(7992739871)
    3
    """
    total = 0
    for place, figure in enumerate(reversed(str(seq))):
        doubled = int(figure) * 2 if place % 2 == 0 else int(figure)
        total += doubled - 9 if doubled > 9 else doubled
    return -total % 10


def number_of(seq: int) -> str:
    """How the number is written.

    >>> number_of(42)
    'D-0042-2'
    """
    return f"D-{seq:04d}-{check_figure(seq)}"


def seq_of(typed: str) -> int | None:
    """The count in a number as people type it, or None where it is none of ours.

    >>> seq_of(" d 42 2 "), seq_of("0042-2"), seq_of("D-0042-3"), seq_of("")
    (42, 42, None, None)
    """
    found = re.fullmatch(r"d?([0-9]{1,9})([0-9])", re.sub(r"[\s.\-–−]", "", typed.casefold()))
    if found is None or int(found[2]) != check_figure(int(found[1])):
        return None
    return int(found[1])


def document_for(*, kind: str, subject: str, title: str, template_version: str, by: Person) -> Document:
    """The document about this subject, with the number it has or the next free one."""
    for _try in range(TRIES):
        found = Document.objects.filter(kind=kind, subject=subject).first()
        if found is not None:
            return found
        seq = (Document.objects.aggregate(most=Max("seq"))["most"] or 0) + 1
        try:
            with transaction.atomic():
                return Document.objects.create(
                    seq=seq,
                    number=number_of(seq),
                    kind=kind,
                    subject=subject,
                    title=title,
                    template_version=template_version,
                    made_by=by,
                )
        except IntegrityError:
            continue  # somebody took this number, or made this very document, in the same moment
    raise RuntimeError("No number could be drawn: others drew one each time.")


def digest_of(content: Any) -> str:
    return hashlib.sha256(json.dumps(content, sort_keys=True, default=str).encode()).hexdigest()


def edition_for(
    document: Document, *, content: Any, template_version: str, wording_version: str, wording: str, by: Person
) -> Edition:
    """The edition that says this: the newest where it says the same, else one more."""
    digest = digest_of([content, template_version, wording_version, wording])
    with transaction.atomic():
        locked = Document.objects.select_for_update().get(pk=document.pk)
        newest = locked.editions.order_by("-nth").first()
        if newest is None or newest.digest != digest:
            newest = Edition.objects.create(
                document=locked,
                nth=newest.nth + 1 if newest else 1,
                template_version=template_version,
                wording_version=wording_version,
                wording=wording,
                digest=digest,
                made_by=by,
            )
        Document.objects.filter(pk=locked.pk).update(printed_at=timezone.now(), template_version=template_version)
    return newest
