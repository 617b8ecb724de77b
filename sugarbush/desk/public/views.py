"""What anybody may see, and where a coordinator chooses it. The public pages ask nothing about who looks."""

from __future__ import annotations

import hashlib
from typing import Any

import orjson
from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.dateparse import parse_date, parse_datetime
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_safe

from sugarbush.core.areas import LEAST_TREES
from sugarbush.desk.models import PublicPage
from sugarbush.desk.public import counting
from sugarbush.desk.public.choosing import choose, chosen
from sugarbush.desk.public.counting import COUNT, Body
from sugarbush.desk.public.tables import band_words, table
from sugarbush.parts.csvfile import lines
from sugarbush.parts.forms import UnitsForm
from sugarbush.seasons.models import Programme
from sugarbush.volunteers import access
from sugarbush.volunteers.views_help import SignedInRequest, signed_in

KEPT_FOR_S = 300
KINDS = {"totals": "counted", "weeks": "counted", "areas": "areas"}
BAR_WIDTH, BAR_HEIGHT, BARS_HIGH = 46, 30, 120


def _or_404() -> tuple[PublicPage, Programme]:
    """The choice and the programme; 404 while the page is off."""
    page, programme = chosen(), Programme.current()
    if not page.is_on or programme is None:
        raise Http404
    return page, programme


def _bodies(*parts: str) -> dict[str, Body]:
    """The figures of these parts, each read once."""
    season = counting.season_shown()
    if season is None:
        return {}
    return {kind: counting.figures(season, kind) for kind in dict.fromkeys(KINDS[part] for part in parts)}


@require_safe
def public(request: HttpRequest) -> HttpResponse:
    """The page."""
    page, programme = _or_404()
    bodies = _bodies(*(part for part in counting.PARTS if page.shows(part)))
    counted, areas = bodies.get("counted", {}), bodies.get("areas", {})
    weeks = table("weeks", counted).records() if page.shows("weeks") else []
    context: dict[str, Any] = {
        "page": page,
        "name": programme.name,
        "place": programme.place,
        "units": programme.default_units,
        "year": counted.get("year") or areas.get("year"),
        "until": parse_datetime(counted["until"]) if counted else None,
        "totals": counted.get("totals") if page.shows("totals") else None,
        "weeks": [row | {"first": parse_date(row["first"]), "last": parse_date(row["last"])} for row in weeks],
        "bars": _bars(weeks),
        "bars_width": BAR_WIDTH * max(1, len(weeks)),
        "areas": [row | {"words": band_words(row)} for row in areas.get("areas", ())],
        "map": areas.get("map"),
        "week_of": parse_date(areas["week"]) if areas else None,
        "least": LEAST_TREES,
    }
    return _shared(request, render(request, "desk/public/page.html", context))


def _bars(weeks: list[dict[str, Any]]) -> list[dict[str, float]]:
    most = max((row["sap_ml"] for row in weeks), default=0)
    return [
        {
            "x": n * BAR_WIDTH + 6,
            "y": round(BARS_HIGH - BARS_HIGH * row["sap_ml"] / most, 1) if most else BARS_HIGH,
            "height": round(BARS_HIGH * row["sap_ml"] / most, 1) if most else 0,
        }
        for n, row in enumerate(weeks)
    ]


@require_safe
def public_file(request: HttpRequest, part: str, kind: str) -> HttpResponse:
    """The rows of one part, as they stand on the page."""
    page, _programme = _or_404()
    if part not in counting.PARTS or kind not in ("csv", "json") or not page.shows(part):
        raise Http404
    body = _bodies(part).get(KINDS[part], {})
    found = table(part, body)
    as_of = body.get("week") or body.get("until")
    if kind == "json":
        content = orjson.dumps({"part": part, "season": body.get("year"), "as_of": as_of, "rows": found.records()})
        return _shared(request, HttpResponse(content, content_type="application/json"))
    response = HttpResponse("".join(lines(found.names, found.rows)), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{part}.csv"'
    return _shared(request, response)


def _shared(request: HttpRequest, response: HttpResponse) -> HttpResponse:
    """Anybody's cache may keep it for some minutes; asked again, it is sent only where it has changed."""
    tag = f'"{hashlib.blake2b(response.content, digest_size=12).hexdigest()}"'
    if tag in request.headers.get("If-None-Match", ""):
        response = HttpResponse(status=304)
    response["ETag"] = tag
    response["Cache-Control"] = f"public, max-age={KEPT_FOR_S}"
    return response


class ChoiceForm(UnitsForm):
    """What anybody may see."""

    is_on = forms.BooleanField(label=gettext_lazy("The public page is on"), required=False)
    totals = forms.BooleanField(
        label=gettext_lazy("Totals of the season"),
        required=False,
        help_text=gettext_lazy("trees, taps, sap, syrup, people; as of last midnight"),
    )
    weeks = forms.BooleanField(label=gettext_lazy("Sap week by week"), required=False)
    areas = forms.BooleanField(
        label=gettext_lazy("Areas with tapped trees"),
        required=False,
        help_text=gettext_lazy("Squares of a fixed grid, 250 m and more each way, from three trees on; as of Monday"),
    )
    words = forms.CharField(
        label=gettext_lazy("A few words above it"),
        required=False,
        max_length=PublicPage._meta.get_field("words").max_length,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=gettext_lazy("Anybody reads them: name nobody."),
    )


@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def keep(request: SignedInRequest) -> HttpResponse:
    """A coordinator chooses."""
    access.require(request.user, "public.change", anywhere=True)
    page = chosen()
    now = {name: getattr(page, name) for name in ChoiceForm.base_fields}
    form = ChoiceForm(request.POST or None, initial=now)
    status = 422 if form.is_bound else 200
    if form.is_bound and form.is_valid():
        given = form.cleaned_data
        page = choose(by=request.user, **{name: given[name] for name in ChoiceForm.base_fields})
        season = counting.season_shown()
        if season is not None and page.is_on:
            for part in COUNT:
                counting.figures(season, part)  # so that the first to look need not wait
        messages.success(request, _("The public page is on.") if page.is_on else _("The public page is off."))
        return redirect("public-keep")
    return render(request, "desk/public/keep.html", {"form": form, "page": page}, status=status)
