"""Coming in and going out. Opening a link spends nothing: mail scanners open links too; the button spends it."""

from __future__ import annotations

import datetime as dt
import math
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import login, logout
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import get_script_prefix
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_variables
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from sugarbush.volunteers import known, passkeys, people, signing
from sugarbush.volunteers.forms_ways import AskForm
from sugarbush.volunteers.models import Person, SignInLink

BACKEND = "sugarbush.volunteers.signing.LinkBackend"


def _is_demo(request: HttpRequest) -> bool:
    return bool(getattr(getattr(request, "programme", None), "is_demo", False))


def way_on(request: HttpRequest) -> str:
    """Where the person wanted to go, if that is a page of ours."""
    wanted = request.POST.get("next") or request.GET.get("next") or ""
    ours = url_has_allowed_host_and_scheme(wanted, {request.get_host()}, require_https=request.is_secure())
    return wanted if ours else ""


def come_in(request: HttpRequest, person: Person, *, until: dt.datetime | None = None) -> None:
    """Sign a person in on this device, for as long as the settings say or until the moment given."""
    # Only the time of the last sign-in is saved; it is no change of the person worth a row in their history.
    person.skip_history_when_saving = True  # type: ignore[attr-defined]
    login(request, person, backend=BACKEND)
    request.session.set_expiry(until)  # a visitor's session is short, and login keeps what was in it


@never_cache
@require_safe
def sign_in(request: HttpRequest) -> HttpResponse:
    """How to come in; in a demo programme also the demo people, a button each."""
    return sign_in_page(request)


def sign_in_page(request: HttpRequest, *, status: int = 200, **given: Any) -> HttpResponse:
    """The page with all ways in; `given` replaces a form by one that needs a look, or says why one did not go."""
    cast = people.with_roles(Person.objects.filter(is_active=True)) if _is_demo(request) else []
    context = {
        "cast": cast,
        "next": way_on(request),
        "ask_form": AskForm() if settings.SENDS_MAIL else None,
        "no_passkeys": passkeys.site_of(request).why_not,
        **given,
    }
    return render(request, "volunteers/sign_in.html", context, status=status)


def wait_page(request: HttpRequest, wait: dt.timedelta) -> HttpResponse:
    """Too many tries from there: when to come again, and that nobody's way in is shut by it."""
    minutes = math.ceil(wait.total_seconds() / 60)
    said = ngettext("Try again in %(n)d minute.", "Try again in %(n)d minutes.", minutes) % {"n": minutes}
    response = render(request, "volunteers/ways/wait.html", {"said": said}, status=429)
    response["Retry-After"] = str(math.ceil(wait.total_seconds()))
    return response


@never_cache
@require_POST
def sign_in_demo(request: HttpRequest) -> HttpResponse:
    """Come in as one of the demo people. There is no such page outside a demo programme."""
    if not _is_demo(request):
        raise Http404
    person_id = request.POST.get("person", "")
    if not (person_id.isascii() and person_id.isdigit() and len(person_id) < 18):
        raise Http404
    come_in(request, get_object_or_404(Person, pk=int(person_id), is_active=True))
    return redirect(way_on(request) or get_script_prefix())


@sensitive_variables("token")
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def sign_in_link(request: HttpRequest, token: str) -> HttpResponse:
    """The page a sign-in link opens: one button, which spends the link."""
    if request.method == "POST":
        person = signing.use_link(token)
        if person is not None:
            come_in(request, person)
            return known.remember(redirect(get_script_prefix()), request, person)
    link = signing.link_for(token)
    if link is None:
        return _gone(request, token)
    return shy(render(request, "volunteers/sign_in_link.html", {"person": link.person}))


@sensitive_variables("token")
def _gone(request: HttpRequest, token: str) -> HttpResponse:
    """A link that does not open: used or too old (410), or never made (404)."""
    known = SignInLink.objects.filter(token_hash=signing.hash_of(token)).select_related("person").first()
    if known is None:
        state, status = "unknown", 404
    else:
        state, status = ("used" if known.used_at else "old"), 410
        if not known.person.is_active:
            state = "stopped"
    return shy(render(request, "volunteers/sign_in_gone.html", {"state": state}, status=status))


def shy(response: HttpResponse) -> HttpResponse:
    """The address carries the secret, so no other page hears of it: only where it came from, never the path."""
    response["Referrer-Policy"] = "strict-origin"
    return response


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    """Go out on this device."""
    logout(request)
    messages.success(request, _("You are signed out on this device."))
    return redirect("sign-in")
