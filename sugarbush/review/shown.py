"""What the season's page says, in the reader's units: headline, weeks, lines of the accounts."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from sugarbush.core.units import from_ml
from sugarbush.parts.shown import dressed
from sugarbush.review.counting import Sums
from sugarbush.review.totals import DayRow, Totals

WEEK = 7


@dataclass(slots=True, kw_only=True)
class Week:
    """Seven days, counted from the season's first day with sap."""

    first: dt.date
    last: dt.date
    sums: Sums
    freeze_thaw: int
    weather_days: int
    sap_days: int
    so_far_ml: int = 0


def weeks(days: list[DayRow]) -> list[Week]:
    """The days in sevens."""
    if not days:
        return []
    start = days[0].day
    found: dict[int, Week] = {}
    for row in days:
        n = (row.day - start).days // WEEK
        first = start + dt.timedelta(days=n * WEEK)
        week = found.setdefault(
            n, Week(first=first, last=row.day, sums=Sums(), freeze_thaw=0, weather_days=0, sap_days=0)
        )
        week.last = row.day
        week.sums.add(row.sums)
        week.freeze_thaw += bool(row.crosses)
        week.weather_days += row.crosses is not None
        week.sap_days += row.sums.out_ml > 0
    so_far_ml = 0
    for week in found.values():
        so_far_ml += week.sums.out_ml
        week.so_far_ml = so_far_ml
    return list(found.values())


def _amount(volume_ml: int, units: str) -> str:
    """Rounded for a headline: no decimals from a hundred on, one below, two where a first jar would round to none."""
    amount = from_ml(volume_ml, "gal" if units == "us" else "L")
    step = Decimal(1) if amount >= 100 else Decimal("0.1") if amount >= 1 else Decimal("0.01")
    return dressed(str(amount.quantize(step, ROUND_HALF_UP)))


def headline(totals: Totals, units: str) -> str:
    """The season in one sentence."""
    sap, syrup = _amount(totals.sums.out_ml, units), _amount(totals.syrup_ml, units)
    words = {"sap": sap, "syrup": syrup}
    if not totals.sums.out_ml:
        return _("No sap yet")
    if not totals.syrup_ml:
        return (_("%(sap)s gallons of sap so far") if units == "us" else _("%(sap)s litres of sap so far")) % words
    if units == "us":
        return _("%(sap)s gallons of sap became %(syrup)s gallons of syrup") % words
    return _("%(sap)s litres of sap became %(syrup)s litres of syrup") % words


def span(totals: Totals) -> str:
    """From the first day with sap to the last."""
    if not totals.days:
        return ""
    first, last = totals.days[0].day, totals.days[-1].day
    if first == last:
        return date_format(first, "j F Y")
    return _("%(first)s to %(last)s") % {
        "first": date_format(first, "j F" if first.year == last.year else "j F Y"),
        "last": date_format(last, "j F Y"),
    }
