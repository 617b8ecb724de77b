"""Writing a day's weather down."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

from django.db import transaction

from sugarbush.audit.models import record
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person
from sugarbush.weather.models import WeatherDay


@transaction.atomic
def write_day(*, by: Person, day: dt.date, source: str, low_c: Decimal, high_c: Decimal, note: str = "") -> WeatherDay:
    """Keep the coldest and warmest air temperature of a day. What stood there before goes into the history."""
    access.require(by, "weather.change", anywhere=True)
    before = WeatherDay.objects.select_for_update().filter(day=day, source=source).first()
    old = {} if before is None else {"low_c": str(before.low_c), "high_c": str(before.high_c), "note": before.note}
    kept, _made = WeatherDay.objects.update_or_create(
        day=day, source=source, defaults={"low_c": low_c, "high_c": high_c, "note": note, "entered_by": by}
    )
    new = {"low_c": str(low_c), "high_c": str(high_c), "note": note}
    if new != old:
        record(by=by, act="write weather", subject=kept, old=old, new=new)
    return kept
