"""After the press: letters to print, what was handed over, and what did not arrive."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from sugarbush.notices import actions, kinds, listing, mailing, queries
from sugarbush.notices.looks import addresses_seen
from sugarbush.notices.models import NoticeState, RecipientState, To
from sugarbush.notices.shown import letters_of
from sugarbush.parts.paging import page_of
from sugarbush.volunteers import access
from sugarbush.volunteers.views_help import SignedInRequest, signed_in


@signed_in
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def notice_letters(request: SignedInRequest, notice_id: int) -> HttpResponse:
    """One letter a sheet, a page of fifty at a time. A press adds where owners live, and is written down as a look."""
    found = queries.find(request.user, notice_id, "notices.send")
    if found.state != NoticeState.SENT:
        return redirect("notice", found.pk)
    page = page_of(letters_of(found).order_by("name", "pk"), request)
    out = listing.out_now(found, [one for one in page if one.state == RecipientState.WAITING])
    letters: list[Any] = [one for one in page if one.pk not in out]
    with_addresses = request.method == "POST" and found.to == To.OWNERS
    live_at = addresses_seen(request.user, [one.owner_id for one in letters]) if with_addresses else {}
    for one in letters:
        one.letter = kinds.text_for(found.body, one.name)
        one.lives_at = live_at.get(one.owner_id, "")
    context = {
        "notice": found,
        "page": page,
        "letters": letters,
        "left_out": len(out),
        "sender": mailing.sender_name(),
        "may_reach": found.to == To.OWNERS and access.holds(request.user, "contact.see"),
        "with_addresses": with_addresses,
    }
    return render(request, "notices/letters.html", context)


@signed_in
@require_POST
def notice_handed(request: SignedInRequest, notice_id: int) -> HttpResponse:
    """These have it now: `recipient` names some, none names all who wait for it by hand."""
    found = queries.find(request.user, notice_id, "notices.send")
    named = [int(one) for one in request.POST.getlist("recipient") if one.isdecimal() and len(one) < 16]
    if not named and request.POST.get("all") != "yes":
        messages.error(request, _("Choose who has it now."))
        return redirect("notice", found.pk)
    count = actions.hand_over(notice=found, by=request.user, recipient_ids=named or None)
    words = ngettext("%(n)d has it now.", "%(n)d have it now.", count)
    messages.success(request, words % {"n": count} if count else _("Nobody was waiting for it."))
    return redirect("notice", found.pk)


@signed_in
@require_POST
def notice_again(request: SignedInRequest, notice_id: int) -> HttpResponse:
    """Try the mails once more that the server did not take."""
    found = queries.find(request.user, notice_id, "notices.send")
    count = actions.go_on(notice=found, by=request.user)
    words = ngettext("%(n)d goes out once more.", "%(n)d go out once more.", count) % {"n": count}
    if not count:
        words = _("Nothing waits for the mail server.")
    elif why := mailing.why_not_ready():
        words = why
    messages.info(request, words)
    return redirect("notice", found.pk)
