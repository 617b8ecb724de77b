"""Labels of a lot: for its cases and shelf, and for every jar of it, with the words the place asks for."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.http import Http404
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.core.units import shown_jar
from sugarbush.lots.models import JarCount, Lot, LotState
from sugarbush.papers.kinds import Asked, Kind, Part, register
from sugarbush.papers.labels import Layout, layout_named
from sugarbush.papers.models import LabelUse
from sugarbush.papers.squares import square_drawn
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.volunteers import access

NEVER = (LotState.RECALLED, LotState.DESTROYED)
MOST = 1_000
NBSP = "\u00a0"


def lot_asked(asked: Asked) -> Lot:
    access.require(asked.person, "lot.see", anywhere=True)
    found = Lot.objects.select_related("season").filter(code=str(asked.choices.get("lot", ""))).first()
    if found is None:
        raise Http404
    return found


def net_words(size_ml: int) -> str:
    """What is in a jar, in both units: "500 mL (16.9 fl oz)"."""
    metric, us = shown_jar(size_ml, "metric"), shown_jar(size_ml, "us")
    return f"{NBSP.join(metric)} ({NBSP.join(us)})"


def counts_asked(asked: Asked, lot: Lot) -> list[tuple[int, int]]:
    """(jar size in mL, labels) as chosen: one size, or every size the lot was filled into."""
    jars = {row.size_ml: row.filled for row in JarCount.objects.filter(lot=lot)}
    size = str(asked.choices.get("size", ""))
    count = str(asked.choices.get("count") or "")
    if not size:
        return sorted(jars.items(), reverse=True)
    if not size.isdecimal() or int(size) not in jars:
        raise Refused([Reason(code="size", fact=_("No jar of lot %(lot)s has this size.") % {"lot": lot.code})])
    wanted = int(count) if count.isdecimal() else jars[int(size)]
    return [(int(size), min(wanted, MOST))]


def on_the_sheet(asked: Asked, layout: Layout, labels: list[dict[str, Any]]) -> list[dict[str, Any] | None]:
    """The labels after those places of the first sheet that are used up already."""
    first = str(asked.choices.get("first") or "1")
    used = min(max(int(first) - 1, 0), layout.a_page - 1) if first.isdecimal() else 0
    return [*([None] * used), *labels]


def bottles(asked: Asked) -> Sequence[Part]:
    """As many labels as there are jars, each with its lot."""
    lot, settings = lot_asked(asked), asked.settings
    layout = layout_named(str(asked.choices.get("layout")), LabelUse.BOTTLE)
    if lot.state in NEVER:
        raise Refused(
            [Reason(code="state", fact=_("Lot %(lot)s is not to be handed out: %(state)s.") % _words_of(lot))]
        )
    counts = counts_asked(asked, lot)
    labels = []
    for size, count in counts:
        labels += [{"net": net_words(size)}] * count
    if not labels:
        raise Refused([Reason(code="none", fact=_("Lot %(lot)s has no jars yet. Pack it first.") % _words_of(lot))])
    content = {
        "layout": layout.as_data(),
        "labels": on_the_sheet(asked, layout, labels),
        "name": settings.product_name or _("Maple syrup"),
        "lot": lot.code,
        "packed": _("Packed %(day)s") % {"day": _day(lot)},
        "by": settings.made_by or f"{asked.programme.name}, {asked.programme.place}",
        "lines": [
            words
            for words in (
                settings.allergen_words or _("Ingredient: maple sap. No known allergen."),
                settings.given_words or _("Given, not for sale."),
                settings.required_words,
                _("Keep cold once opened."),
            )
            if words
        ],
        "lot_word": _("Lot"),
    }
    chosen = "-".join(f"{size}x{count}" for size, count in counts)
    title = _("Bottle labels of lot %(lot)s") % _words_of(lot)
    return [Part(subject=f"bottles:{lot.pk.hex}:{chosen}"[:80], title=title, content=content)]


def lot_labels(asked: Asked) -> Sequence[Part]:
    """Labels for cases, shelves and cans: the code to be read at arm's length, and a square that opens the lot."""
    lot, layout = lot_asked(asked), layout_named(str(asked.choices.get("layout")), LabelUse.LABEL)
    count = str(asked.choices.get("count") or "")
    wanted = min(int(count), MOST) if count.isdecimal() else layout.a_page
    held = lot.state in (*NEVER, LotState.HELD) or lot.released_at is None
    one = {
        "code": lot.code,
        "square": square_drawn(asked.address(reverse("lot-scan", args=[lot.pk]))),
        "lines": [
            asked.settings.product_name or _("Maple syrup"),
            (lot.get_colour_display() if lot.colour else _("Colour not judged"))
            + (f", {lot.syrup_brix}{NBSP}°Brix" if lot.syrup_brix is not None else ""),
            _("Packed %(day)s") % {"day": _day(lot)},
        ],
        "stop": _("Not to be handed out: %(state)s") % _words_of(lot) if held else "",
    }
    content = {
        "layout": layout.as_data(),
        "labels": on_the_sheet(asked, layout, [one] * wanted),
        "call": ", ".join(part for part in (asked.programme.name, asked.programme.phone) if part),
    }
    return [Part(subject=f"lot:{lot.pk.hex}", title=_("Labels of lot %(lot)s") % _words_of(lot), content=content)]


def _words_of(lot: Lot) -> dict[str, str]:
    return {"lot": lot.code, "state": lot.get_state_display()}


def _day(lot: Lot) -> str:
    return date_format(timezone.localdate(lot.packed_at), "j F Y")


def _count(asked: Asked) -> int:
    lot = lot_asked(asked)
    return sum(count for _size, count in counts_asked(asked, lot))


BOTTLES = register(
    Kind(
        key="bottle-labels",
        label=gettext_lazy("Bottle labels"),
        layout="bottles.typ",
        version="1",
        gather=bottles,
        size=_count,
        long_above=400,
        may=lot_asked,
        form="BottlesForm",
        note=gettext_lazy(
            "One label for each jar: name, what is in it, lot, day, and the words local rules ask for, which a "
            "coordinator writes down once. A text that would not fit is never cut off: then nothing is printed."
        ),
    )
)
LOT_LABELS = register(
    Kind(
        key="lot-labels",
        label=gettext_lazy("Labels of a lot"),
        layout="lots.typ",
        version="1",
        gather=lot_labels,
        may=lot_asked,
        form="LotLabelsForm",
        note=gettext_lazy("For cans, cases and shelves. The square opens what is in the lot."),
    )
)
