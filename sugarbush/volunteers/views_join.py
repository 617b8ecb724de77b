"""Joining by a card, on a phone: the code, then who you are, then in. Opening an address spends nothing; a press does.

The code is exchanged at once for a note in the visitor's session: it stays in no address, and no other page hears it.
"""

from __future__ import annotations

import datetime as dt
import math
import uuid
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import NoReverseMatch, get_script_prefix, reverse
from django.utils.translation import get_language, ngettext
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_variables
from django.views.decorators.http import require_http_methods, require_safe

from sugarbush.parts.context import units_of
from sugarbush.parts.reasons import Refused
from sugarbush.volunteers import cards, known, limits, rules
from sugarbush.volunteers.forms_cards import CodeForm, JoinForm
from sugarbush.volunteers.models import JoinCard, JoinedByCard
from sugarbush.volunteers.views_signing import come_in, shy

NOTE = "joins"
VISIT = dt.timedelta(hours=12)
BY_VISITOR = limits.Limit(name="card, visitor", most=10, within=dt.timedelta(minutes=10))
# A meeting may join through one address, and mistype. Nine of 25 signs leave room for far more wrong tries than this.
BY_ADDRESS = limits.Limit(name="card, address", most=60, within=dt.timedelta(minutes=10))


@sensitive_variables("code")
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def join(request: HttpRequest) -> HttpResponse:
    """Type the code of a card."""
    if request.user.is_authenticated:
        return _in_already(request)
    form = CodeForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        return _exchange(request, form.cleaned_data["code"], form)
    return shy(render(request, "volunteers/join/code.html", {"form": form}, status=422 if form.is_bound else 200))


@sensitive_variables("code", "read")
@never_cache
@require_safe
def join_card(request: HttpRequest, code: str) -> HttpResponse:
    """What a scanned card opens."""
    if request.user.is_authenticated:
        return _in_already(request)
    read = cards.as_code(code)
    return _exchange(request, read, CodeForm()) if read else _gone(request, CodeForm())


@sensitive_variables("code")
def _exchange(request: HttpRequest, code: str, form: CodeForm) -> HttpResponse:
    """Put the card the code opens into the visitor's session and go on; a wrong one counts against who tries."""
    # The session was read before (who is signed in?), so a key stands here only where there is such a session.
    visitor, (address, shared) = request.session.session_key, limits.address_of(request)
    wait = limits.take(BY_VISITOR, visitor) if visitor else None
    wait = wait or limits.take(BY_ADDRESS, address, times=limits.SHARED if shared else 1)
    if wait is not None:
        return _wait(request, wait)
    card = cards.card_for(code)
    if card is None:
        if visitor is None:  # begun only now, so that an address that has run out fills no table
            limits.take(BY_VISITOR, _begin_visit(request))
        return _gone(request, form)
    if visitor:
        limits.give_back(BY_VISITOR, visitor)
    limits.give_back(BY_ADDRESS, address)
    _begin_visit(request)
    request.session[NOTE] = {"card": card.pk, "press": str(uuid.uuid4())}
    return shy(redirect("join-you"))


def _begin_visit(request: HttpRequest) -> str:
    """The key of the visitor's session, begun and short if there was none."""
    if request.session.session_key is None:
        request.session.set_expiry(VISIT)
        request.session.create()
    return str(request.session.session_key)


def _gone(request: HttpRequest, form: CodeForm) -> HttpResponse:
    """The same answer for a card that never was, is used up, withdrawn, too old or not begun."""
    reasons = cards.gone().reasons
    return shy(render(request, "volunteers/join/code.html", {"form": form, "reasons": reasons}, status=404))


def _wait(request: HttpRequest, wait: dt.timedelta) -> HttpResponse:
    minutes = math.ceil(wait.total_seconds() / 60)
    said = ngettext("Try again in %(n)d minute.", "Try again in %(n)d minutes.", minutes) % {"n": minutes}
    response = render(request, "volunteers/join/wait.html", {"said": said}, status=429)
    response["Retry-After"] = str(math.ceil(wait.total_seconds()))
    return shy(response)


def _in_already(request: HttpRequest) -> HttpResponse:
    status = 409 if request.method == "POST" else 200
    return shy(render(request, "volunteers/join/in_already.html", {"home": home()}, status=status))


def home() -> str:
    """Where somebody who has just joined goes on: the round."""
    try:
        return reverse("round")
    except NoReverseMatch:
        return get_script_prefix()


@sensitive_variables("press")
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def join_you(request: HttpRequest) -> HttpResponse:
    """Say who you are, and press the button that lets you in."""
    press = request.POST.get("press", "")
    if press and (before := cards.joined_by_press(press)) is not None:
        return _let_in(request, before)  # pressed twice, or the first answer was lost on the way
    if request.user.is_authenticated:
        return _in_already(request)
    note = request.session.get(NOTE) or {}
    card = cards.open_card(note["card"]) if note else None
    if card is None:
        request.session.pop(NOTE, None)
        if note:
            return _gone(request, CodeForm())
        messages.info(request, _("Begin with your card: scan it, or type its code."))
        return redirect("join")
    if request.method != "POST":
        return _you(request, card, note["press"], JoinForm(initial={"units": units_of(request)}, **_shown()))
    form = JoinForm(request.POST, **_shown())
    if not form.is_valid():
        return _you(request, card, note["press"], form, status=422)
    try:
        joined = cards.join(card=card, press=note["press"], **form.cleaned_data)
    except cards.NameTaken as refusal:
        return _you(request, card, note["press"], form, status=409, reasons=refusal.reasons)
    except rules.MovedOn as refusal:
        return _you(request, card, note["press"], _read_again(request), status=409, reasons=refusal.reasons)
    except Refused:
        request.session.pop(NOTE, None)
        return _gone(request, CodeForm())
    return _let_in(request, joined)


def _shown() -> dict[str, Any]:
    """What the form goes by: the reader's language, and the house rules that stand."""
    shown = rules.latest()
    return {"language": (get_language() or "en").split("-")[0], "rules": shown.number if shown else 0}


def _read_again(request: HttpRequest) -> JoinForm:
    """The form with all that was typed, but no yes: that was for other words."""
    typed = {name: value for name, value in request.POST.items() if name not in ("rules", "rules_yes")}
    return JoinForm(initial=typed, **_shown())


def _you(
    request: HttpRequest, card: JoinCard, press: str, form: JoinForm, *, status: int = 200, **more: Any
) -> HttpResponse:
    context = {"form": form, "group": card.sheet.group, "press": press, "until": card.sheet.member_to, **more}
    context["rules"] = rules.latest()
    return shy(render(request, "volunteers/join/you.html", context, status=status))


def _let_in(request: HttpRequest, joined: JoinedByCard) -> HttpResponse:
    if request.user.is_authenticated and request.user.pk == joined.person_id:
        return redirect(home())
    request.session.pop(NOTE, None)
    come_in(request, joined.person, until=cards.signed_in_until(joined.card.sheet))
    return known.remember(redirect(home()), request, joined.person)
