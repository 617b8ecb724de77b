"""One line of a round sheet as it is keyed: "6.5", "6.5 c", "e"."""

from __future__ import annotations

import re
from decimal import ROUND_HALF_UP, Decimal

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.core.errors import CoreError, NotANumber
from sugarbush.core.typed import parse_quantity
from sugarbush.gathering.models import DiscardReason, Look, Outcome
from sugarbush.gathering.visits import Visit
from sugarbush.parts.shown import system_of

LARGEST_ML = 500_000

OUTCOMES = {
    "e": Outcome.EMPTY,
    "f": Outcome.FROZEN,
    "x": Outcome.NO_ACCESS,
    "p": Outcome.GONE,
    "u": Outcome.UNSAFE,
}
LOOKS = {"c": Look.CLOUDY, "y": Look.YELLOW, "m": Look.MILKY}
LETTERS = {
    "e": gettext_lazy("empty"),
    "f": gettext_lazy("frozen"),
    "x": gettext_lazy("can’t get in"),
    "p": gettext_lazy("pail gone"),
    "u": gettext_lazy("not safe"),
    "c": gettext_lazy("cloudy"),
    "y": gettext_lazy("yellow"),
    "m": gettext_lazy("milky, tipped out"),
}
_LINE = re.compile(r"(?P<sap>.*?)\s*(?P<look>[cym])?", re.IGNORECASE | re.DOTALL)


class CannotRead(ValueError):  # noqa: N818  # as it is said
    """A line that says nothing we know; its words are for the person."""


def read_line(typed: str, *, units: str, note: str = "") -> Visit | None:
    """What a line says; None for an empty one. A bare number is in the sheet's unit. Raises CannotRead.

    Milky sap was tipped out: the sheet says so beside the letter.
    """
    text = " ".join(typed.split())
    if not text:
        return None
    if text.lower() in OUTCOMES:
        return Visit(outcome=OUTCOMES[text.lower()], note=note)
    found = _LINE.fullmatch(text)
    look = LOOKS[found["look"].lower()] if found and found["look"] else Look.CLEAR
    sap = found["sap"] if found else text
    try:
        exact = parse_quantity(sap, kind="volume", system=system_of(units), low=0, high=LARGEST_ML)
    except NotANumber as why:
        raise CannotRead(_("“%(typed)s” is neither an amount nor one of the letters.") % {"typed": text[:40]}) from why
    except (CoreError, ArithmeticError) as why:
        raise CannotRead(_("“%(typed)s” is more than any pail holds, or not clear.") % {"typed": text[:40]}) from why
    ml = int(Decimal(exact).quantize(Decimal(1), rounding=ROUND_HALF_UP))
    if ml == 0:
        return Visit(outcome=Outcome.EMPTY, note=note)
    tipped = ml if look == Look.MILKY else 0
    return Visit(
        outcome=Outcome.SAP,
        volume_ml=ml,
        look=look,
        discarded_ml=tipped,
        discard_reason=DiscardReason.MILKY if tipped else "",
        note=note,
    )
