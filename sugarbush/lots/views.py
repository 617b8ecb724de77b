"""The bottling table: syrup to pack, lots, one lot and what is done with it."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from decimal import Decimal
from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.db.models import Sum
from django.http import Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from sugarbush.boils.models import Batch, BatchState
from sugarbush.boils.views_depot import no_season
from sugarbush.lots import jars, judging, opened, packing, second_look, tables
from sugarbush.lots.forms import BackForm, BreakForm, IssueForm, MeasureForm, PackForm, ReasonForm
from sugarbush.lots.models import JarIssue, Lot, LotState
from sugarbush.lots.sizes import size_words
from sugarbush.lots.tracing import holder_words
from sugarbush.owners.queries import owners_for
from sugarbush.parts.forms import UnitsForm
from sugarbush.parts.paging import page_of
from sugarbush.parts.reasons import Refused
from sugarbush.parts.sheets.columns import in_pieces
from sugarbush.parts.shown import in_words
from sugarbush.parts.worked import working
from sugarbush.sap.ledger import balance_ml
from sugarbush.seasons.models import Season
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person
from sugarbush.volunteers.taking_home import list_taken, wants_file
from sugarbush.volunteers.views_help import SignedInRequest, signed_in


def sized(counts: dict[int, int]) -> list[tuple[str, int]]:
    """Jars by size for a page, the largest first."""
    return [(size_words(size), n) for size, n in sorted(counts.items(), reverse=True) if n]


@signed_in
@require_safe
def lots(request: SignedInRequest) -> HttpResponseBase:
    """Syrup that waits for its jars, and every lot of the season."""
    access.require(request.user, "lot.see", anywhere=True)
    season = Season.current()
    if season is None:
        return no_season(request)
    asked = request.GET.get("state", "")
    rows = Lot.objects.filter(season=season).select_related("packed_by", "released_by", "season")
    if asked in LotState.values:
        rows = rows.filter(state=asked)
    rows = rows.order_by("-packed_at", "code")
    if wants_file(request):
        lines = in_pieces(rows, lambda some: tables.lot_rows(some, state_word))
        return list_taken(request, "lots", tables.lots(request.user.units), lines)
    page = page_of(rows, request)
    shown: list[Lot] = list(page.object_list)
    stand, gone = jars.whole(shown), jars.went_out(shown)
    pool = jars.pool(season)
    context = {
        "season": season,
        "waiting": packing.to_pack(season),
        "page": page,
        "rows": [
            {"lot": lot, "here": sized(stand[lot.pk]), "out": gone.get(lot.pk, 0), "word": state_word(lot)}
            for lot in shown
        ],
        "states": LotState.choices,
        "asked": asked,
        "pool": sized(pool.jars),
        "pool_ml": pool.syrup_ml,
        "may_pack": not season.is_closed and not access.why_not(request.user, "lot.pack", anywhere=True),
        "may_trace": access.holds(request.user, "lot.trace"),
        "may_recall": access.holds(request.user, "recall.call"),
    }
    return render(request, "lots/lots.html", context)


def state_word(lot: Lot) -> str:
    if judging.POURED_BACK in lot.held_because:
        return _("poured back")
    if judging.OPENED in lot.held_because:
        return _("held, jars opened")
    return str(lot.get_state_display())


@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def lot_new(request: SignedInRequest) -> HttpResponse:
    """Pack syrup into jars."""
    access.require(request.user, "lot.pack", anywhere=True)
    season = Season.current()
    if season is None:
        return no_season(request)
    waiting = packing.to_pack(season)
    asked = set(request.GET.getlist("vessel"))
    initial = {"vessels": [v.pk for v, _ml in waiting if str(v.pk) in asked]} if asked else {}
    form = PackForm(request.POST or None, waiting=waiting, units=request.user.units, initial=initial)
    status, refused_by = 200, None
    if request.method == "POST":
        entry = _uuid(request.POST.get("entry", ""))
        earlier = Lot.objects.filter(pk=entry).first() if entry else None
        if earlier is not None and earlier.vessel.shut_at is not None:
            messages.success(request, _("Already packed. It counts once."))
            return redirect("lot", earlier.pk)
        status = 422
        if form.is_valid():
            try:
                lot = packing.pack(
                    vessels=_first_opened(list(form.cleaned_data["vessels"])),
                    by=request.user,
                    packing=form.packing(),
                    packed_at=form.cleaned_data["when"],
                    lot_id=form.cleaned_data["entry"],
                )
            except Refused as refused:
                refused_by, status = refused.reasons, 409
            else:
                if lot.state == LotState.HELD:
                    messages.warning(request, _("Lot %(lot)s is packed and held: see what mends it.") % {"lot": lot})
                else:
                    done = _("Lot %(lot)s is packed. A second person looks and releases it.")
                    messages.success(request, done % {"lot": lot})
                return redirect("lot", lot.pk)
    context = {
        "form": form,
        "waiting": waiting,
        "season": season,
        "refused_by": refused_by,
        "amounts": {str(vessel.pk): ml for vessel, ml in waiting},
        "tolerance_pct": season.tolerance_pct,
        "tolerance_ml": packing.LEAST_TOLERANCE_ML,
    }
    return render(request, "lots/pack.html", context, status=status)


def _first_opened(vessels: list[Any]) -> list[Any]:
    """Syrup of opened jars keeps its lot, so its vessel comes first."""
    return sorted(vessels, key=lambda vessel: (not hasattr(vessel, "lot"), vessel.made_at, vessel.code))


def _uuid(text: str) -> uuid.UUID | None:
    try:
        return uuid.UUID(text)
    except ValueError:
        return None


def find_lot(pk: uuid.UUID) -> Lot:
    rows = Lot.objects.select_related("season", "vessel", "packed_by", "released_by")
    return get_object_or_404(rows, pk=pk)


@signed_in
@require_safe
def lot(request: SignedInRequest, pk: uuid.UUID) -> HttpResponseBase:
    """One lot: what it measured, its jars, what holds it, who has the others."""
    access.require(request.user, "lot.see", anywhere=True)
    found = find_lot(pk)
    if wants_file(request):
        access.require(request.user, "lot.holders", anywhere=True)
        return list_taken(request, f"{found.code}-jars", tables.issues(request.user), _issues(found))
    return lot_page(request, found)


def lot_page(request: SignedInRequest, found: Lot, *, status: int = 200, refused_by: Any = None) -> HttpResponse:
    reader: Person = request.user
    is_open = not found.season.is_closed
    stand = jars.whole([found])[found.pk]
    went = jars.out([found])
    counts = [
        {
            "size": size_words(row.size_ml),
            "row": row,
            "here": stand.get(row.size_ml, 0),
            "out": went.get((found.pk, row.size_ml), 0),
        }
        for row in found.jars.all()
    ]
    before = found.state in {LotState.HELD, LotState.PACKED}
    is_opened = judging.is_opened(found)
    may_pack = is_open and not access.why_not(reader, "lot.pack", anywhere=True)
    may_issue = is_open and access.holds(reader, "lot.issue")
    here = sum(stand.values())
    context: dict[str, Any] = {
        "lot": found,
        "word": state_word(found),
        "counts": counts,
        "held_ml": balance_ml(found.vessel),
        "held_by": judging.why_held(found, reader.units),
        "refused_by": refused_by,
        "before": before,
        "is_opened": is_opened,
        "worked": reading_panel(found, reader.units),
        "may_release": before and is_open and access.holds(reader, "lot.release"),
        "against": second_look.why_not_released(found, reader) if before else [],
        "may_pack": may_pack,
        "may_change": may_pack and before and not is_opened,
        "may_pour": may_pack and is_opened,
        "may_issue": may_issue and here and found.state == LotState.RELEASED,
        "may_break": (may_pack or may_issue) and here,
        "may_destroy": may_pack and (here or is_opened) and found.state != LotState.DESTROYED,
        "may_back": may_issue,
        "may_trace": access.holds(reader, "lot.trace"),
        "may_recall": is_open and access.holds(reader, "recall.open") and found.state != LotState.DESTROYED,
        "recalls": found.recalls.select_related("recall__season").order_by("-recall__opened_at")[:5],
        "sees_holders": access.holds(reader, "lot.holders"),
    }
    if context["sees_holders"]:
        page = page_of(_issues(found), request)
        context |= {"page": page, "issues": [(issue, holder_words(issue, reader)) for issue in page.object_list]}
    return render(request, "lots/lot.html", context, status=status)


def _issues(found: Lot) -> Any:
    rows = found.issues.filter(returns=None).select_related("person", "owner", "author")
    return rows.annotate(came_back=Sum("returned_by__count")).order_by("-happened_at", "-recorded_at")


def reading_panel(found: Lot, units: str) -> Any:
    """How the density came from what the instrument read; None where it was taken as read."""
    reading = found.reading or {}
    names = {
        "hydrometer": "instruments.brix_from_hydrometer",
        "refractometer": "instruments.syrup_brix_from_refractometer",
    }
    name = names.get(reading.get("instrument", ""))
    if name is None or found.syrup_brix is None or reading.get("temperature_c") is None:
        return None
    read = in_words("brix", Decimal(reading["brix"]), units)
    true = in_words("brix", found.syrup_brix, units)
    return working(
        name,
        of=_("density"),
        units=units,
        inputs={"temperature_c": Decimal(reading["temperature_c"])},
        rows=[(_("it read"), read)],
        sums=[_("%(read)s on the instrument is %(true)s") % {"read": read, "true": true}],
    )


@signed_in
@require_POST
def lot_release(request: SignedInRequest, pk: uuid.UUID) -> HttpResponse:
    """A second person lets the lot go out."""
    access.require(request.user, "lot.see", anywhere=True)
    found = find_lot(pk)
    access.require(request.user, "lot.release", anywhere=True)
    try:
        second_look.release(lot=found, by=request.user)
    except Refused as refused:
        return lot_page(request, find_lot(pk), status=409, refused_by=refused.reasons)
    messages.success(request, _("Lot %(lot)s is released: its jars may go out.") % {"lot": found})
    return redirect("lot", pk)


def _measure(request: SignedInRequest, found: Lot, data: dict[str, Any], form: Any) -> str:
    off = data["off_taste"] if data["off_taste"] or found.off_taste else None
    lot = second_look.measure_again(
        lot=found,
        by=request.user,
        reason=data["reason"],
        syrup_brix=data["syrup_brix"],
        reading=form.reading_kept(),
        fill_temperature_c=data["fill"],
        off_taste=off,
    )
    return _("Still held: see what mends it.") if lot.held_because else _("In range now. Another person releases it.")


def _open(request: SignedInRequest, found: Lot, data: dict[str, Any], form: Any) -> str:
    opened.open_again(lot=found, by=request.user, reason=data["reason"])
    return _("The jars count as opened. Pack the syrup again when it is mended.")


def _destroy(request: SignedInRequest, found: Lot, data: dict[str, Any], form: Any) -> str:
    jars.destroy_lot(lot=found, by=request.user, reason=data["reason"])
    return _("Destroyed. The reason stands in the history.")


def _issue(request: SignedInRequest, found: Lot, data: dict[str, Any], form: Any) -> str:
    jars.issue_jars(
        lot=found,
        size_ml=data["size"],
        count=data["count"],
        by=request.user,
        person=data["person"],
        owner=data.get("owner"),
        to_text=data["to_text"],
        purpose=data["purpose"],
        uuid=data["entry"],
    )
    n = data["count"]
    return ngettext("%(n)d jar handed out.", "%(n)d jars handed out.", n) % {"n": n}


def _break(request: SignedInRequest, found: Lot, data: dict[str, Any], form: Any) -> str:
    jars.break_jars(
        lot=found,
        size_ml=data["size"],
        count=data["count"],
        by=request.user,
        reason=data["reason"],
        destroyed=data["destroyed"],
        uuid=data["entry"],
    )
    return _("Written down.")


class PourForm(UnitsForm):
    """Which batch the syrup of opened jars is poured back into."""

    def __init__(self, *args: Any, season: Season, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        boiling = Batch.objects.filter(boil_day__season=season, state=BatchState.OPEN).select_related("boil_day")
        self.fields["batch"] = forms.ModelChoiceField(label=_("Into the pan of"), queryset=boiling)


def _pour(request: SignedInRequest, found: Lot, data: dict[str, Any], form: Any) -> str:
    opened.pour_back(lot=found, pan=data["batch"].pan, by=request.user)
    return _("All of it is in the pan again.")


Doing = Callable[[SignedInRequest, Lot, dict[str, Any], Any], str]
ACTS: dict[str, tuple[Doing, type[UnitsForm], str]] = {
    "measure": (_measure, MeasureForm, "lot.pack"),
    "open": (_open, ReasonForm, "lot.pack"),
    "pour": (_pour, PourForm, "lot.pack"),
    "destroy": (_destroy, ReasonForm, "lot.pack"),
    "issue": (_issue, IssueForm, "lot.issue"),
    "break": (_break, BreakForm, ""),
}


def _words(what: str, found: Lot) -> dict[str, str]:
    title, press = {
        "measure": (_("Measure lot %(lot)s again"), _("Keep this reading")),
        "open": (_("Open the jars of lot %(lot)s"), _("Open all jars")),
        "pour": (_("Pour lot %(lot)s back into a pan"), _("Pour all of it back")),
        "destroy": (_("Destroy lot %(lot)s"), _("Destroy all that stands here")),
        "issue": (_("Hand out jars of lot %(lot)s"), _("Hand them out")),
        "break": (_("Jars of lot %(lot)s that broke"), _("Write it down")),
    }[what]
    return {"title": title % {"lot": found.code}, "press": press}


@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def lot_act(request: SignedInRequest, pk: uuid.UUID, what: str) -> HttpResponse:
    """One act at a lot: measure again, open, pour back, destroy, hand out, breakage."""
    access.require(request.user, "lot.see", anywhere=True)
    if what not in ACTS:
        raise Http404
    found = find_lot(pk)
    do, form_class, act = ACTS[what]
    if act:
        access.require(request.user, act, anywhere=True)
    elif access.why_not(request.user, "lot.pack", anywhere=True):
        access.require(request.user, "lot.issue", anywhere=True)
    if found.season.is_closed:
        raise PermissionDenied(_("The season is closed."))
    given: dict[str, Any] = {"units": request.user.units}
    if what in {"issue", "break"}:
        given["sizes"] = jars.whole([found])[found.pk]
    if what == "issue" and access.holds(request.user, "owners.see"):
        given["owners"] = owners_for(request.user)
    if what == "pour":
        given["season"] = found.season
    form = form_class(request.POST or None, **given)
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                said = do(request, found, form.cleaned_data, form)
            except Refused as refused:
                form.add_error(None, [str(reason) for reason in refused.reasons])
                status = 409
            else:
                messages.success(request, said)
                return redirect("lot", found.pk)
    context = {"form": form, "lot": found, "what": what, **_words(what, found)}
    context["is_end"] = what in {"open", "destroy", "pour"}
    context["is_hot"] = what in {"open", "pour", "measure"}
    return render(request, "lots/act.html", context, status=status)


@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def jars_back(request: SignedInRequest, pk: uuid.UUID) -> HttpResponse:
    """Jars of one hand-out come back unopened."""
    access.require(request.user, "lot.issue", anywhere=True)
    issue = get_object_or_404(JarIssue.objects.select_related("lot__season", "person", "owner"), pk=pk, returns=None)
    form = BackForm(request.POST or None, units=request.user.units)
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            data = form.cleaned_data
            try:
                jars.take_back(
                    issue=issue, count=data["count"], by=request.user, reason=data["reason"], uuid=data["entry"]
                )
            except Refused as refused:
                form.add_error(None, [str(reason) for reason in refused.reasons])
                status = 409
            else:
                messages.success(request, _("The jars are back."))
                return redirect("lot", issue.lot_id)
    context = {
        "form": form,
        "lot": issue.lot,
        "title": _("Jars of lot %(lot)s that come back") % {"lot": issue.lot.code},
        "press": _("They are back"),
        "about": _("%(who)s has %(n)d of %(size)s.")
        % {
            "who": holder_words(issue, request.user),
            "n": jars.still_out(issue),
            "size": size_words(issue.size_ml),
        },
    }
    return render(request, "lots/act.html", context, status=status)
