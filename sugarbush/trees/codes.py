"""The codes on the tags: letters of the programme, then a running number ("QH-0412")."""

from __future__ import annotations

import re

from django.urls import reverse
from django.utils.translation import gettext as _

from sugarbush.parts.reasons import Reason, Refused
from sugarbush.seasons.models import Programme
from sugarbush.trees.models import Tree

LEAST_DIGITS = 4
_IN_ONE_QUESTION = 500


class TagConverter:
    """A tag in an address; small letters will do."""

    regex = r"[^/\s]{1,8}-[0-9]{1,12}"

    def to_python(self, value: str) -> str:
        return value.upper()

    def to_url(self, value: str) -> str:
        return str(value)


def tag(prefix: str, number: int) -> str:
    """The code of one tag.

    >>> tag("QH", 7), tag("QH", 12345)
    ('QH-0007', 'QH-12345')
    """
    return f"{prefix}-{number:0{LEAST_DIGITS}d}"


def looks_like_tag(text: str) -> bool:
    """Whether somebody typed a tag's code."""
    return re.fullmatch(TagConverter.regex, text.strip()) is not None


def next_codes(count: int) -> list[str]:
    """Allot that many codes, none used before. Call it inside the transaction that saves the trees.

    The programme's row is held until that transaction ends, so two people never get the same code.
    """
    programme = Programme.objects.select_for_update().first()
    if programme is None:
        raise Refused(
            [
                Reason(
                    code="no_programme",
                    fact=_("The programme is not opened yet."),
                    next_text=_("Open the programme"),
                    next_url=reverse("programme-new"),
                )
            ]
        )
    number, codes = programme.next_tag, list[str]()
    while len(codes) < count:
        wanted = min(_IN_ONE_QUESTION, count - len(codes))
        offered = [tag(programme.tag_prefix.upper(), number + step) for step in range(wanted)]
        number += wanted
        # Codes typed by hand or brought in with a file may lie ahead of the running number.
        taken = set(Tree.objects.filter(code__in=offered).values_list("code", flat=True))
        codes += [code for code in offered if code not in taken]
    Programme.objects.filter(pk=programme.pk).update(next_tag=number)
    return codes
