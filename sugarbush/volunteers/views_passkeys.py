"""Passkeys: coming in by one, and one's own on one's own page."""

from __future__ import annotations

import uuid

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect
from django.urls import get_script_prefix
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from sugarbush.parts.reasons import Refused
from sugarbush.volunteers import known, limits, passkeys
from sugarbush.volunteers.forms_ways import PasskeyForm
from sugarbush.volunteers.views_help import SignedInRequest, signed_in
from sugarbush.volunteers.views_people import me_page
from sugarbush.volunteers.views_signing import come_in, sign_in_page, wait_page, way_on

VISIT_S = 3600


@never_cache
@require_POST
def begin(request: HttpRequest) -> HttpResponse:
    """What the browser is to ask for, as JSON; {"why": ...} where it cannot be."""
    if why := passkeys.site_of(request).why_not:
        return JsonResponse({"why": why}, status=409)
    address, shared = limits.address_of(request)
    if limits.take(passkeys.BY_ADDRESS, address, times=limits.SHARED if shared else 1) is not None:
        return JsonResponse({"why": _("Too many tries from here. Wait ten minutes.")}, status=429)
    if request.session.session_key is None:
        request.session.set_expiry(VISIT_S)
    return JsonResponse(passkeys.ask_to_come_in(request))


@never_cache
@require_POST
def sign_in_passkey(request: HttpRequest) -> HttpResponse:
    """Come in by what the passkey answered."""
    address, shared = limits.address_of(request)
    wait = limits.take(passkeys.BY_ADDRESS, address, times=limits.SHARED if shared else 1)
    if wait is not None:
        return wait_page(request, wait)
    try:
        person = passkeys.come_in_by(request, answer=request.POST.get("answer", ""))
    except Refused as refusal:
        return sign_in_page(request, status=422, reasons=refusal.reasons)
    come_in(request, person)
    return known.remember(redirect(way_on(request) or get_script_prefix()), request, person)


@never_cache
@signed_in
@require_POST
def begin_adding(request: SignedInRequest) -> HttpResponse:
    """What the browser is to make, as JSON; {"why": ...} where it cannot be."""
    if why := passkeys.site_of(request).why_not:
        return JsonResponse({"why": why}, status=409)
    return JsonResponse(passkeys.ask_to_add(request, request.user))


@signed_in
@require_POST
def add(request: SignedInRequest) -> HttpResponse:
    """Keep the passkey the browser has made."""
    form = PasskeyForm(request.POST, prefix="passkey")
    if not form.is_valid():
        return me_page(request, status=422, passkey_form=form)
    try:
        made = passkeys.add(
            request, request.user, name=form.cleaned_data["name"], answer=request.POST.get("answer", "")
        )
    except Refused as refusal:
        return me_page(request, status=422, passkey_form=form, passkey_reasons=refusal.reasons)
    messages.success(request, _("From now on you can come in with “%(name)s”.") % {"name": made.name})
    return redirect("me")


@signed_in
@require_POST
def remove(request: SignedInRequest, passkey_id: uuid.UUID) -> HttpResponse:
    """Let a passkey of one's own open nothing any more."""
    gone = passkeys.remove(person=request.user, passkey_id=passkey_id)
    if gone is None:
        raise Http404
    messages.success(
        request, _("“%(name)s” opens nothing here any more. Delete it on the device too.") % {"name": gone.name}
    )
    return redirect("me")


@signed_in
@require_POST
def later(request: SignedInRequest) -> HttpResponse:
    """Do not ask about a passkey again on this device."""
    request.session[passkeys.LATER] = True
    return redirect("today")
