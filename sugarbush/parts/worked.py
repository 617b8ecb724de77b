"""How a number on a page was worked out: what the panel under it says, from the core's handbook.

A view makes a `Working` beside the number and the page draws it with {% worked panel %}.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.urls import NoReverseMatch, reverse
from django.utils.translation import gettext as _

from sugarbush.core.handbook import STANDINGS, Entry, Input, Tag, entry_for
from sugarbush.parts.shown import dressed, in_words, number_and_unit

# The units of the handbook that readers see in their own; every other unit stands as it is.
KINDS = {
    "mL": "volume",
    "mm": "length",
    "µm": "diameter",
    "°C": "temperature",
    "g": "mass",
    "Brix": "brix",
    "%": "per_cent",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """One thing that went in: its name, its value with the unit, and the range the formula holds for."""

    name: str
    value: str
    limits: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """Where a formula comes from and how far that was checked. title: of the formula, where there are several."""

    title: str
    source: str
    standing: str
    checked: bool
    changes: str = ""
    url: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Working:
    """All a panel says. sums: the sum with its numbers, a line each. words: the formula in words."""

    of: str
    sums: tuple[str, ...]
    words: str
    given: tuple[Given, ...]
    sources: tuple[Source, ...]
    notes: tuple[str, ...]


def working(
    *where: str,
    of: str = "",
    units: str = "metric",
    inputs: Mapping[str, Any] | None = None,
    rows: Iterable[tuple[str, object]] = (),
    sums: Iterable[str] = (),
    notes: Iterable[str] = (),
    words: str = "",
    source: str = "",
    tag: Tag = "C",
) -> Working:
    """The panel of a number.

    where: the functions of the core it came from, "module.function", the main one first; formula, ranges, sources and
    standings are read from their entries in the handbook. of: the number's name, so that two panels on a page differ.
    inputs: by the argument's name in the main entry; a number in the stored unit, or text already in words.
    rows: what else went in or came out on the way, name and words. sums: the sum with its numbers.
    words: the formula, in place of the handbook's. source, tag: for a sum the handbook does not hold.
    """
    entries = list(dict.fromkeys(entry_for(one) for one in where))
    main = entries[0] if entries else None
    given = _given(main, inputs or {}, units) if main else []
    given += [Given(name=name, value=str(value)) for name, value in rows]
    sources = [_source(entry) for entry in entries]
    if source:
        sources.append(Source(title="", source=source, standing=_(STANDINGS[tag]), checked=tag in ("R", "C")))
    return Working(
        of=of,
        sums=tuple(sums),
        words=words or (_(main.words) if main else ""),
        given=tuple(given),
        sources=tuple(sources),
        notes=tuple(notes),
    )


def anchor(entry: Entry) -> str:
    """Where the handbook's page has this entry."""
    return entry.where[0].replace(".", "-")


def limits_in_words(one: Input, units: str) -> str:
    """The range a formula holds for, in the reader's units; "" without one."""
    kind = KINDS.get(one.unit)
    if kind is None:
        return one.limits
    low, high = (None if limit is None else _limit(kind, limit, units) for limit in (one.low, one.high))
    if low and high:
        (least, unit), (most, _unit) = low, high
        return _("%(least)s to %(most)s") % {"least": least, "most": f"{most}\u00a0{unit}"}
    if high:
        return _("up to %(most)s") % {"most": "\u00a0".join(high)}
    return _("from %(least)s") % {"least": "\u00a0".join(low)} if low else ""


def _limit(kind: str, limit: float, units: str) -> tuple[str, str] | None:
    """A limit as the reader sees it; none where it is too small to show: a micrometre stands for "something"."""
    text, unit = number_and_unit(kind, Decimal(str(limit)), units)
    if limit and not any(digit in text for digit in "123456789"):
        return None
    return (text.rstrip("0").rstrip(".") if text.endswith((".0", ".00")) else text), unit


def _given(entry: Entry, inputs: Mapping[str, Any], units: str) -> list[Given]:
    known = {one.name: one for one in entry.inputs}
    unknown = set(inputs) - set(known)
    if unknown:
        raise KeyError(f"{entry.where[0]} has no input {', '.join(sorted(unknown))}")
    return [
        Given(
            name=_(known[name].said),
            value=_value(known[name], value, units),
            limits=limits_in_words(known[name], units),
        )
        for name, value in inputs.items()
    ]


def _value(one: Input, value: Any, units: str) -> str:
    if isinstance(value, str):
        return value
    kind = KINDS.get(one.unit)
    if kind or value is None:
        return in_words(kind or "", value if value is None else Decimal(str(value)), units, exact=kind == "brix")
    return f"{dressed(str(value))}\u00a0{one.unit}".strip("\u00a0")


def _source(entry: Entry) -> Source:
    try:
        url = f"{reverse('handbook')}#{anchor(entry)}"
    except NoReverseMatch:
        url = ""
    return Source(
        title=_(entry.title),
        source=_(entry.source),
        standing=_(entry.standing),
        checked=entry.checked,
        changes=_(entry.changes),
        url=url,
    )
