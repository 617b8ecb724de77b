"""What the weather written down says: freeze-thaw days, tomorrow's run, and the order in which the species end."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from sugarbush.core.outlook import (
    GOOD_HIGH_C,
    GOOD_HIGH_TOP_C,
    GOOD_LOW_C,
    GOOD_LOW_TOP_C,
    Rating,
    order_of_endings,
    run_rating,
)
from sugarbush.core.weather import CROSSES_ZERO, DEFINITIONS, degree_day_f, freeze_thaw_days
from sugarbush.parts.shown import dressed, in_words
from sugarbush.parts.worked import Working, working
from sugarbush.weather.models import WeatherDay

Kinds = Callable[[], Iterable[tuple[str, str]]]
_kinds: list[Kinds] = []


def ask_for_kinds(hook: Kinds) -> None:
    """Let a later app say which species the programme works with: botanical and common names."""
    _kinds.append(hook)


@dataclass(frozen=True, kw_only=True)
class Tomorrow:
    """Tomorrow's run. row: None where no forecast is written down, and then nothing else is there either."""

    day: dt.date
    row: WeatherDay | None
    rating: Rating | None = None
    word: str = ""
    reason: str = ""
    panel: Working | None = None


def rating_word(rating: Rating) -> str:
    """The rating as people read it."""
    return {"quiet": _("quiet"), "some": _("some"), "good": _("good")}[rating]


def tomorrow(today: dt.date, units: str, *, rows: Iterable[WeatherDay] | None = None) -> Tomorrow:
    """Tomorrow's run by the forecast that was written down. rows: days read already; else one query."""
    day = today + dt.timedelta(days=1)
    known = WeatherDay.objects.filter(day=day).select_related("entered_by") if rows is None else rows
    row = next((one for one in known if one.day == day and one.source == WeatherDay.Source.FORECAST), None)
    if row is None:
        return Tomorrow(day=day, row=None)
    low_c, high_c = float(row.low_c), float(row.high_c)
    rated = run_rating(low_c=low_c, high_c=high_c)
    return Tomorrow(
        day=day,
        row=row,
        rating=rated.rating,
        word=rating_word(rated.rating),
        reason=_(rated.reason) % rated.values,
        panel=_rating_panel(row, rated.rating, units),
    )


def _rating_panel(row: WeatherDay, rating: Rating, units: str) -> Working:
    zero, low, low_top, high, high_top = (
        in_words("temperature", round(limit, 1), units)
        for limit in (0.0, GOOD_LOW_C, GOOD_LOW_TOP_C, GOOD_HIGH_C, GOOD_HIGH_TOP_C)
    )
    by = f", {row.entered_by}" if row.entered_by else ""
    return working(
        "outlook.run_rating",
        of=_("tomorrow’s run"),
        units=units,
        sums=[
            _("lowest %(low)s, highest %(high)s: %(rating)s")
            % {
                "low": in_words("temperature", row.low_c, units),
                "high": in_words("temperature", row.high_c, units),
                "rating": rating_word(rating),
            }
        ],
        words=_(
            "Quiet is a day that does not pass %(zero)s. Good is one with a frost and a mild day. Some is the rest."
        )
        % {"zero": zero},
        inputs={"low_c": row.low_c, "high_c": row.high_c},
        rows=[
            (_("Good: lowest"), _("from %(low)s to under %(top)s") % {"low": low, "top": low_top}),
            (_("Good: highest"), _("over %(high)s, under %(top)s") % {"high": high, "top": high_top}),
            (
                _("Passes freezing by"),
                _("“%(name)s”, %(source)s") % {"name": CROSSES_ZERO.name, "source": CROSSES_ZERO.source},
            ),
            (_("Forecast"), _("of %(day)s, written down%(by)s") % {"day": date_format(row.day, "j F"), "by": by}),
        ],
    )


@dataclass(frozen=True, kw_only=True)
class Count:
    """Freeze-thaw days by one definition."""

    key: str
    name: str
    days: int
    source: str
    checked: bool


def counts(rows: Iterable[WeatherDay]) -> list[Count]:
    """How many of these days are freeze-thaw days, by each named definition. Two definitions never share a count."""
    days = [(float(row.low_c), float(row.high_c)) for row in rows]
    return [
        Count(
            key=one.key,
            name=one.name,
            days=sum(freeze_thaw_days(days, definition=one)),
            source=one.source,
            checked=one.tag == "R",
        )
        for one in DEFINITIONS.values()
    ]


def freeze_thaw_panel(*, of: str, sums: Iterable[str] = ()) -> Working:
    """The working of a freeze-thaw mark or count by the definition the pages use."""
    return working(
        "weather.freeze_thaw_days",
        of=of,
        sums=sums,
        words=_("A day counts when its lowest is under 0 °C (32 °F) and its highest over 0 °C: “%(name)s”.")
        % {"name": CROSSES_ZERO.name},
        rows=[(_("Definition used here"), f"{CROSSES_ZERO.name}: {CROSSES_ZERO.source}")],
        notes=[_("The definition used here was read in its publisher’s text; of the others, some are from memory.")],
    )


def best_known(year: int, until: dt.date) -> list[WeatherDay]:
    """The days since 1 January up to a day, measured before forecast. One query."""
    rows = WeatherDay.objects.filter(day__gte=dt.date(year, 1, 1), day__lte=until).order_by("day")
    found: dict[dt.date, WeatherDay] = {}
    for row in rows:
        if row.day not in found or row.source == WeatherDay.Source.MEASURED:
            found[row.day] = row
    return list(found.values())


@dataclass(frozen=True, kw_only=True)
class End:
    """One species in the order of endings."""

    botanical: str
    common: str
    where: str
    stage: str


@dataclass(frozen=True, kw_only=True)
class Endings:
    """The order in which the species end, as far as the weather is known. known_days of all_days since 1 January."""

    rows: tuple[End, ...]
    sum_f: float
    known_days: int
    all_days: int
    panel: Working


def endings(today: dt.date, *, known: list[WeatherDay] | None = None) -> Endings | None:
    """None while no species or no weather of this year is known. One query for the days, one for the species."""
    days = best_known(today.year, today) if known is None else known
    kinds = dict(pair for hook in _kinds for pair in hook())
    if not days or not kinds:
        return None
    sum_f = sum(degree_day_f(low_f=float(row.low_c) * 1.8 + 32, high_f=float(row.high_c) * 1.8 + 32) for row in days)
    where = {
        "ahead": _("still ahead"),
        "near": _("near: look at the buds"),
        "past": _("past by its number: taste before you keep"),
        "unknown": _("no published number"),
    }
    rows = tuple(
        End(
            botanical=one.species,
            common=kinds[one.species],
            where=where[one.nearness],
            stage=_ending_words(one.ending.from_f, one.ending.to_f) if one.ending else "",
        )
        for one in order_of_endings(kinds, degree_days_f=sum_f)
    )
    all_days = (today - dt.date(today.year, 1, 1)).days + 1
    written = ngettext("%(n)d day", "%(n)d days", len(days)) % {"n": len(days)}
    panel = working(
        "outlook.order_of_endings",
        "weather.degree_day_f",
        of=_("order of endings"),
        sums=[_("sum of (lowest + highest) ÷ 2 − 50 °F, never under 0 = %(sum)s °F days") % {"sum": _one(sum_f)}],
        inputs={"degree_days_f": f"{_one(sum_f)}\u00a0°F\u00a0days"},
        rows=[
            (_("Base"), "50 °F (10 °C)"),
            (_("Counted from"), date_format(dt.date(today.year, 1, 1), "j F Y")),
            (_("Days written down"), _("%(days)s of %(all)d") % {"days": written, "all": all_days}),
        ],
        notes=[_("The order is the reliable part. Swelling buds, cloudy sap and taste end a tree’s season.")],
    )
    return Endings(rows=rows, sum_f=sum_f, known_days=len(days), all_days=all_days, panel=panel)


def _one(number: float) -> str:
    return dressed(f"{number:.1f}")


def _ending_words(from_f: float, to_f: float) -> str:
    if from_f == to_f:
        return _("about %(sum).0f °F days") % {"sum": from_f}
    return _("%(low).0f to %(high).0f °F days") % {"low": from_f, "high": to_f}
