"""The weather, day by day."""

from __future__ import annotations

import datetime as dt
from contextlib import suppress

from django.contrib import messages
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from sugarbush.core.weather import CROSSES_ZERO
from sugarbush.parts.paging import page_of
from sugarbush.volunteers import access
from sugarbush.volunteers.taking_home import list_taken, wants_file
from sugarbush.volunteers.views_help import SignedInRequest, signed_in
from sugarbush.weather import actions, outlook, tables
from sugarbush.weather.forms import DayForm
from sugarbush.weather.models import WeatherDay


@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def weather(request: SignedInRequest) -> HttpResponseBase:
    """The days known, the latest first, and a form for one more."""
    access.require(request.user, "weather.see", anywhere=True)
    today = timezone.localdate()
    may_write = access.holds(request.user, "weather.change")
    form = DayForm(request.POST or None, units=request.user.units, initial=_asked(request))
    status = 200
    if request.method == "POST":
        access.require(request.user, "weather.change", anywhere=True)
        if form.is_valid():
            kept = actions.write_day(by=request.user, **form.cleaned_data)
            messages.success(request, _("Saved: %(day)s.") % {"day": date_format(kept.day)})
            return redirect("weather")
        status = 422
    days = WeatherDay.objects.order_by("-day", "source").select_related("entered_by")
    if wants_file(request):
        return list_taken(request, "weather", tables.days(request.user.units), days)
    page = page_of(days, request)
    rows = [
        {"kept": kept, "passes": CROSSES_ZERO.counts(low_c=float(kept.low_c), high_c=float(kept.high_c))}
        for kept in page
    ]
    known = outlook.best_known(today.year, today)
    context = {
        "page": page,
        "rows": rows,
        "form": form if may_write else None,
        "may_write_weather": may_write,
        "tomorrow": outlook.tomorrow(today, request.user.units),
        "endings": outlook.endings(today, known=known),
        "counts": outlook.counts(known),
        "counted_days": len(known),
        "year": today.year,
        "freeze_panel": outlook.freeze_thaw_panel(of=_("passes freezing")),
    }
    return render(request, "weather/weather.html", context, status=status)


def _asked(request: SignedInRequest) -> dict[str, str]:
    """A day and its kind may come with the address; what is not one is left to the form's own start."""
    day, source = request.GET.get("day", ""), request.GET.get("source", "")
    initial = {}
    with suppress(ValueError):
        initial["day"] = dt.date.fromisoformat(day).isoformat()
    if source in WeatherDay.Source.values:
        initial["source"] = source
    return initial
