"""Batches: starting one beside the pan, sap in, syrup and losses out, the end, and the record that stays."""

from __future__ import annotations

import uuid
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from sugarbush.boils import batches, draw_offs, looks, pan, taking_back
from sugarbush.boils.forms_pan import BackForm, CloseForm, DrawForm, LossForm, TakesForm
from sugarbush.boils.keeping import TankKeeping, keepings_of
from sugarbush.boils.models import Batch, BatchState, BoilDay
from sugarbush.boils.pan_moves import pan_moves
from sugarbush.boils.tally import tank_rows
from sugarbush.boils.views_days import day_or_404
from sugarbush.boils.views_pan import act_page, batch_or_404, day_pan_context
from sugarbush.boils.worked import to_go_panel
from sugarbush.parts.reasons import Refused
from sugarbush.sap.ledger import balance_ml
from sugarbush.sap.models import Act, ActKind, Vessel
from sugarbush.volunteers import access
from sugarbush.volunteers.views_help import SignedInRequest, signed_in

# Sugar is conserved, readings are not perfect: this much more syrup than expected is asked about.
MORE_THAN_EXPECTED = 1.25


def _tanks(day: BoilDay) -> tuple[list[tuple[Vessel, int]], dict[uuid.UUID, TankKeeping]]:
    """Tanks that hold something, and those of them that are past their boil-by."""
    holding = [(tank, state.volume_ml) for tank, state in tank_rows(day.season) if state.volume_ml]
    kept = keepings_of([tank for tank, _ml in holding])
    return holding, {pk: found for pk, found in kept.items() if found.is_late}


def _takes_form(request: SignedInRequest, day: BoilDay, *, suggest: bool = True) -> tuple[TakesForm, list[TankKeeping]]:
    holding, late = _tanks(day)
    form = TakesForm(
        request.POST or None,
        tanks=holding,
        late=frozenset(late),
        suggest=suggest,
        units=request.user.units,
        initial={"approver": request.user.pk},
    )
    return form, list(late.values())


def _keeps(request: SignedInRequest, batch: Batch) -> None:
    access.require(request.user, "boil.plan", anywhere=True)
    if batch.boil_day.season.is_closed:
        raise PermissionDenied(_("This season is closed; its batches stay as they are."))


@signed_in
@require_http_methods(["GET", "POST"])
def day_pan(request: SignedInRequest, pk: int) -> HttpResponse:
    """Beside the pan before the first batch, or between two: where to draw off, and starting the next one."""
    access.require(request.user, "delivery.see", anywhere=True)
    day = day_or_404(pk)
    underway = day.batches.filter(state=BatchState.OPEN).first()
    if underway and request.method != "POST":
        return redirect("pan", underway.pk)
    context = day_pan_context(request, day)
    form: TakesForm | None = None
    late: list[TankKeeping] = []
    status, refused_by = 200, None
    if context["may_keep"]:
        form, late = _takes_form(request, day)
    if request.method == "POST":
        access.require(request.user, "boil.plan", anywhere=True)
        status = 422
        # A form sent twice: the tanks may be empty by now, and the batch is there.
        token = _uuid(request.POST.get("token"))
        sent = day.batches.filter(pk=token).first() if token else None
        if sent:
            return redirect("pan", sent.pk)
        if form is not None and form.is_valid():
            given = form.cleaned_data
            try:
                batch = batches.open_batch(
                    day=day,
                    by=request.user,
                    takes=form.takes(),
                    opened_at=given["when"],
                    batch_id=given["token"],
                    approver=given.get("approver") if given.get("reason") else None,
                    reason=given.get("reason") or "",
                )
            except Refused as refused:
                refused_by, status = refused.reasons, 409
            else:
                return redirect("pan", batch.pk)
    context |= {"form": form, "late": late, "refused_by": refused_by}
    return render(request, "boils/pan_day.html", context, status=status)


def _uuid(text: str | None) -> uuid.UUID | None:
    try:
        return uuid.UUID(text or "")
    except ValueError:
        return None


@signed_in
@require_http_methods(["GET", "POST"])
def pan_sap(request: SignedInRequest, pk: uuid.UUID) -> HttpResponse:
    """More sap from the tanks."""
    batch = batch_or_404(pk)
    _keeps(request, batch)
    if _done_before(request, batch):
        return redirect("pan", batch.pk)
    form, late = _takes_form(request, batch.boil_day, suggest=False)
    status, refused_by = (422 if form.is_bound else 200), None
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            batches.add_sap(
                batch=batch,
                by=request.user,
                takes=form.takes(),
                at=given["when"],
                token=given["token"],
                approver=given.get("approver") if given.get("reason") else None,
                reason=given.get("reason") or "",
            )
        except Refused as refused:
            refused_by, status = refused.reasons, 409
        else:
            return redirect("pan", batch.pk)
    return act_page(
        request,
        batch,
        form,
        title=_("Add sap"),
        press=_("Pour it in"),
        status=status,
        reasons=refused_by,
        late=late,
        empty=not form.tanks,
    )


def _done_before(request: SignedInRequest, batch: Batch) -> bool:
    """Whether the form that comes now has done its act already."""
    token = _uuid(request.POST.get("token")) if request.method == "POST" else None
    return token is not None and batch.readings.filter(pk=token).exists()


@signed_in
@require_http_methods(["GET", "POST"])
def pan_draw(request: SignedInRequest, pk: uuid.UUID) -> HttpResponse:
    """Syrup into a lot."""
    batch = batch_or_404(pk)
    _keeps(request, batch)
    if _done_before(request, batch):
        return redirect("pan", batch.pk)
    season = batch.pan.season
    shown = pan.pan_now(batch)
    lots = Vessel.objects.filter(pk__in=[lot.pk for lot in draw_offs.open_lots(season)])
    form = DrawForm(
        request.POST or None,
        lots=lots.order_by("-made_at"),
        most_ml=round(shown.syrup_to_come_ml * MORE_THAN_EXPECTED) + 100,
        units=request.user.units,
    )
    status, refused_by = (422 if form.is_bound else 200), None
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            drawn = draw_offs.draw_off(
                batch=batch,
                by=request.user,
                syrup_ml=given["syrup"],
                syrup_brix=given["syrup_brix"],
                temperature_c=given["temperature"],
                lot=given["lot"],
                filter_ml=given["filter"] or 0,
                at=given["when"],
                token=given["token"],
            )
        except Refused as refused:
            refused_by, status = refused.reasons, 409
        else:
            messages.success(request, _("In lot %(lot)s. Write that on the vessel.") % {"lot": drawn.lot})
            return redirect("pan", batch.pk)
    return act_page(
        request,
        batch,
        form,
        title=_("Draw off"),
        press=_("It is in the lot"),
        status=status,
        reasons=refused_by,
        water=shown.water,
        hot=True,
    )


@signed_in
@require_http_methods(["GET", "POST"])
def pan_loss(request: SignedInRequest, pk: uuid.UUID) -> HttpResponse:
    """What boiled over, scorched or was spilled."""
    batch = batch_or_404(pk)
    _keeps(request, batch)
    form = LossForm(request.POST or None, units=request.user.units)
    status, refused_by = (422 if form.is_bound else 200), None
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            draw_offs.lose(
                batch=batch,
                by=request.user,
                volume_ml=given["volume"],
                cause=given["cause"],
                note=given["note"],
                at=given["when"],
                token=given["token"],
            )
        except Refused as refused:
            refused_by, status = refused.reasons, 409
        else:
            return redirect("pan", batch.pk)
    return act_page(
        request, batch, form, title=_("Something was lost"), press=_("Write it down"), status=status, reasons=refused_by
    )


@signed_in
@require_http_methods(["GET", "POST"])
def pan_close(request: SignedInRequest, pk: uuid.UUID) -> HttpResponse:
    """The end of a batch."""
    batch = batch_or_404(pk)
    _keeps(request, batch)
    form = CloseForm(request.POST or None, units=request.user.units)
    status, refused_by = (422 if form.is_bound else 200), None
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            batches.close_batch(
                batch=batch,
                by=request.user,
                syrup_ml=0,
                closed_at=given["when"],
                note=given["note"],
                loss_reason=given["loss_reason"] if given["lost"] else "",
                token=given["token"],
            )
        except Refused as refused:
            refused_by, status = refused.reasons, 409
        else:
            messages.success(request, _("The batch is closed."))
            return redirect("batch", batch.pk)
    drawn_ml = sum(row.volume_ml for row in batch.draw_offs.standing())
    return act_page(
        request,
        batch,
        form,
        title=_("Close the batch"),
        press=_("Close the batch"),
        status=status,
        reasons=refused_by,
        drawn_ml=drawn_ml,
        left_ml=balance_ml(batch.pan),
        closing=True,
    )


@signed_in
@require_http_methods(["GET", "HEAD"])
def batch(request: SignedInRequest, pk: uuid.UUID) -> HttpResponse:
    """One batch as it is kept: every litre in and out, every look, every draw-off."""
    access.require(request.user, "delivery.see", anywhere=True)
    found = batch_or_404(pk)
    rows = pan_moves(found.pan)
    came = [move for move in rows if move.to_vessel_id == found.pan_id]
    went = [move for move in rows if move.from_vessel_id == found.pan_id]
    shown = pan.pan_now(found)
    syrup_ml = sum(move.volume_ml for move in went if move.to_vessel_id)
    first = pan.sugar_promise(found)
    context: dict[str, Any] = {
        "batch": found,
        "moves": came,
        "gone": went,
        "sap_ml": sum(move.volume_ml for move in came),
        "in_pan_ml": sum(move.volume_ml for move in came) - sum(move.volume_ml for move in went),
        "draws": found.draw_offs.select_related("lot", "author"),
        "readings": found.readings.select_related("author"),
        "syrup_ml": syrup_ml,
        "promised_ml": round(first),
        "kept_pct": round(100 * syrup_ml / first, 1) if first and syrup_ml else None,
        "pan": shown,
        "to_go_panel": to_go_panel(shown, found.boil_day, request.user.units),
        "is_open": found.state == BatchState.OPEN,
        "too_long": looks.open_too_long(found),
        "undone": Act.objects.filter(origin_kind=draw_offs.ORIGIN, origin_uuid=found.pk, kind=ActKind.CORRECT)
        .select_related("author")
        .order_by("recorded_at"),
        "may_keep": access.holds(request.user, "boil.plan") and not found.boil_day.season.is_closed,
    }
    return render(request, "boils/batch.html", context)


@signed_in
@require_http_methods(["GET", "POST"])
def pan_back(request: SignedInRequest, pk: uuid.UUID, act_id: uuid.UUID) -> HttpResponse:
    """Take back what was written of an open batch by mistake."""
    batch = batch_or_404(pk)
    _keeps(request, batch)
    act = get_object_or_404(Act, pk=act_id)
    if not taking_back.may_go_back(act, batch):
        raise Http404
    moves = taking_back.moves_of(act)
    form = BackForm(request.POST or None, units=request.user.units)
    status, refused_by = (422 if form.is_bound else 200), None
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            taking_back.take_back(
                batch=batch,
                act=act,
                by=request.user,
                reason=given["reason"],
                at=given["when"],
                token=given["token"],
                overfill_reason=given["reason"],
            )
        except Refused as refused:
            refused_by, status = refused.reasons, 409
        else:
            messages.success(request, _("Taken back. Write it down again as it was."))
            return redirect("batch", batch.pk)
    return act_page(
        request,
        batch,
        form,
        title=_("Take it back"),
        press=_("Take it back"),
        status=status,
        reasons=refused_by,
        going_back=moves,
    )
