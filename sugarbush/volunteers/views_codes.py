"""Coming in by a code: ask for it, then type it in the same browser. Whose the address is changes no answer."""

from __future__ import annotations

import datetime as dt
import uuid

from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import get_script_prefix
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_variables
from django.views.decorators.http import require_http_methods, require_POST

from sugarbush.volunteers import codes, known, limits
from sugarbush.volunteers.forms_ways import AskForm, MailedCodeForm
from sugarbush.volunteers.views_signing import come_in, sign_in_page, wait_page, way_on

NOTE = "mail_code"
VISIT = dt.timedelta(hours=1)


@never_cache
@require_POST
def ask(request: HttpRequest) -> HttpResponse:
    """Have a code sent; the answer is the same whoever's address it is."""
    if not settings.SENDS_MAIL:
        raise Http404
    form = AskForm(request.POST)
    if not form.is_valid():
        return sign_in_page(request, status=422, ask_form=form)
    address, shared = limits.address_of(request)
    wait = limits.take(codes.BY_ADDRESS, address, times=limits.SHARED if shared else 1)
    if wait is not None:
        return wait_page(request, wait)
    asked = codes.ask(email=form.cleaned_data["email"], marks=known.marks(request))
    if request.session.session_key is None:
        request.session.set_expiry(VISIT)  # a stranger's session fills the table for an hour at most
    request.session[NOTE] = {"id": str(asked.pk), "next": way_on(request)}
    return redirect("sign-in-code")


@sensitive_variables("form", "entered")
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def enter(request: HttpRequest) -> HttpResponse:
    """Type the code that came."""
    if not settings.SENDS_MAIL:
        raise Http404
    note = request.session.get(NOTE)
    if not note:
        messages.info(request, _("Ask for a code first. It opens only in the browser that asked for it."))
        return redirect("sign-in")
    code_id = uuid.UUID(note["id"])
    if request.method != "POST":
        return _page(request, MailedCodeForm(), gone=not codes.is_open(code_id))
    form = MailedCodeForm(request.POST)
    if not form.is_valid():
        return _page(request, form, status=422)
    address, shared = limits.address_of(request)
    wait = limits.take(codes.TRIES_BY_ADDRESS, address, times=limits.SHARED if shared else 1)
    if wait is not None:
        return wait_page(request, wait)
    entered = codes.enter(code_id=code_id, typed=form.cleaned_data["code"])
    if entered.person is not None:
        limits.give_back(codes.TRIES_BY_ADDRESS, address)
        request.session.pop(NOTE)
        come_in(request, entered.person)
        return known.remember(redirect(note["next"] or get_script_prefix()), request, entered.person)
    if entered.tries_left <= 0:
        return _page(request, MailedCodeForm(), gone=True, status=410)
    left = ngettext("%(n)d try is left.", "%(n)d tries are left.", entered.tries_left) % {"n": entered.tries_left}
    form.add_error("code", _("That is not the code of the mail this browser asked for last. %(left)s") % {"left": left})
    return _page(request, form, status=422)


def _page(request: HttpRequest, form: MailedCodeForm, *, gone: bool = False, status: int = 200) -> HttpResponse:
    minutes = int(codes.GOOD_FOR.total_seconds() // 60)
    context = {"form": form, "gone": gone, "minutes": minutes}
    return render(request, "volunteers/ways/code.html", context, status=status)
