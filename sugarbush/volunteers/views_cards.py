"""Cards to join by, for those who look after a group: make a sheet, print it, see who came by it, withdraw."""

from __future__ import annotations

import uuid
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.db.models import Count, F, Prefetch, Q, Sum
from django.http import Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_variables
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from sugarbush.parts.paging import page_of
from sugarbush.parts.qr import opens_only_here, printed_address
from sugarbush.volunteers import access, cards, tables
from sugarbush.volunteers.forms_cards import CardsForm
from sugarbush.volunteers.models import CardSheet, Group, JoinCard, JoinedByCard
from sugarbush.volunteers.taking_home import list_taken, wants_file
from sugarbush.volunteers.views_help import SignedInRequest, signed_in

A_PAGE = 8


def _may(request: SignedInRequest, group_id: int) -> None:
    """404 for somebody of another group, 403 for somebody of this one who makes no cards."""
    if access.scope(request.user, "cards.make").covers(group_id):
        return
    roles = access.roles_of(request.user)
    if any(held in {None, group_id} for _role, held in roles):
        raise PermissionDenied(access.why_not(request.user, "cards.make", group_id=group_id))
    raise Http404


def _sheet(request: SignedInRequest, sheet_id: uuid.UUID) -> CardSheet:
    sheet = get_object_or_404(CardSheet.objects.select_related("group", "made_by"), pk=sheet_id)
    _may(request, sheet.group_id)
    return sheet


@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def group_cards(request: SignedInRequest, group_id: int) -> HttpResponseBase:
    """Make cards for a group, and see those there are, a sheet a line."""
    group = get_object_or_404(Group, pk=group_id)
    _may(request, group.pk)
    form = CardsForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        sheet = cards.make_cards(by=request.user, group=group, **form.cleaned_data)
        made = ngettext(
            "%(n)d card is made. Print it.", "%(n)d cards are made. Print them.", form.cleaned_data["count"]
        )
        messages.success(request, made % {"n": form.cleaned_data["count"]})
        return redirect("card-sheet-print", sheet.pk)
    today = access.today()
    opens = Q(cards__withdrawn_at=None, cards__used__lt=F("cards__most"))
    rows = cards.sheets_of(group).annotate(
        count=Count("cards"), joined=Sum("cards__used"), left=Count("cards", filter=opens & Q(good_to__gte=today))
    )
    if wants_file(request):
        return list_taken(request, f"cards-{group.pk}", tables.card_sheets(), rows.select_related("made_by"))
    context = {
        "group": group,
        "form": form,
        "page": page_of(rows, request, per_page=20),
        "makers": cards.makers(group),
    }
    return render(request, "volunteers/cards/group.html", context, status=422 if form.is_bound else 200)


@signed_in
@require_safe
def card_sheet(request: SignedInRequest, sheet_id: uuid.UUID) -> HttpResponseBase:
    """One sheet: each card, who joined by it and when."""
    sheet = _sheet(request, sheet_id)
    joined = JoinedByCard.objects.select_related("person").order_by("at", "pk")
    rows = sheet.cards.order_by("number").prefetch_related(Prefetch("joined", joined, to_attr="people"))
    maker_may = cards.maker_may(sheet)
    if wants_file(request):
        told = ({"card": card, "word": state_word(card, sheet, maker_may=maker_may)} for card in rows)
        return list_taken(request, "cards", tables.cards(), told)
    page = page_of(rows, request, per_page=24)
    shown = [
        {"card": card, "word": state_word(card, sheet, maker_may=maker_may), "open": _is_open(card)}
        for card in page.object_list
    ]
    context = {
        "sheet": sheet,
        "maker_may": maker_may,
        "page": page,
        "rows": shown,
        "any_open": sheet.cards.filter(withdrawn_at=None, used__lt=F("most")).exists(),
    }
    return render(request, "volunteers/cards/sheet.html", context)


def _is_open(card: JoinCard) -> bool:
    return card.withdrawn_at is None and card.used < card.most


def state_word(card: JoinCard, sheet: CardSheet, *, maker_may: bool) -> str:
    """What becomes of somebody who tries the card today."""
    if card.withdrawn_at is not None:
        return _("withdrawn")
    if card.used >= card.most:
        return _("used up")
    today = access.today()
    if today > sheet.good_to:
        return _("too old")
    if not maker_may:
        return _("does not open")
    return _("opens") if today >= sheet.good_from else _("opens later")


@sensitive_variables("shown", "pairs", "code", "context", "laid")
@never_cache
@signed_in
@require_safe
def card_sheet_print(request: SignedInRequest, sheet_id: uuid.UUID) -> HttpResponse:
    """The cards that may still open, eight on a page, to print and cut. The only page that shows codes."""
    sheet = _sheet(request, sheet_id)
    shown = [_on_paper(request, card, code) for card, code in cards.to_print(by=request.user, sheet=sheet)]
    laid = [shown[at : at + A_PAGE] for at in range(0, len(shown), A_PAGE)]
    address = printed_address(request, reverse("join"))
    context = {
        "sheet": sheet,
        "pages": laid,
        "count": len(shown),
        "join_address": address.removeprefix("https://").removeprefix("http://").rstrip("/"),
        "only_here": opens_only_here(address),
        "maker_may": cards.maker_may(sheet),
        "key_changed": not shown and sheet.cards.filter(cards.still_open(access.today())).exists(),
    }
    return render(request, "volunteers/cards/print.html", context)


@sensitive_variables("code")
def _on_paper(request: SignedInRequest, card: JoinCard, code: str) -> dict[str, Any]:
    address = printed_address(request, reverse("join-card", args=[code]))
    return {"card": card, "code": cards.spaced(code), "address": address, "left": card.most - card.used}


@signed_in
@require_POST
def card_sheet_withdraw(request: SignedInRequest, sheet_id: uuid.UUID) -> HttpResponse:
    """One card, or all of a sheet that are not used up, open nothing any more."""
    sheet = _sheet(request, sheet_id)
    asked = request.POST.get("card", "")
    if asked and not (asked.isascii() and asked.isdigit() and len(asked) < 5):
        raise Http404
    count = cards.withdraw(by=request.user, sheet=sheet, number=int(asked) if asked else None)
    if count:
        said = ngettext("%(n)d card is withdrawn.", "%(n)d cards are withdrawn.", count) % {"n": count}
        messages.success(request, said + " " + _("Who joined before stays."))
    else:
        messages.info(request, _("Nothing to withdraw: it opens nothing already."))
    return redirect("card-sheet", sheet.pk)
