"""The door every program comes through: a bearer token in the head, never a cookie; the table says what may be asked.

An answer that is none is a problem document (RFC 9457) in words.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable
from functools import wraps
from typing import Any

import orjson
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.debug import sensitive_variables

from sugarbush.api import tokens
from sugarbush.api.operations import BY_KEY, JSON, MOST, PROBLEM, USUAL, Operation
from sugarbush.parts.qr import printed_address
from sugarbush.volunteers import limits
from sugarbush.volunteers.models import Person

# A token has 256 bits, so this is not against guessing; it keeps a guesser from keeping the server busy.
BY_ADDRESS = limits.Limit(name="api, address", most=30, within=dt.timedelta(minutes=10))
BY_TOKEN = limits.Limit(name="api, token", most=1_200, within=dt.timedelta(minutes=10))
View = Callable[..., HttpResponse]


class NotUnderstood(Exception):  # noqa: N818  (named as it is said)
    """What a program asks cannot be answered; `sentence` says why."""

    def __init__(self, sentence: str) -> None:
        self.sentence = sentence
        super().__init__(sentence)


def answer(body: Any, *, media_type: str = JSON, status: int = 200) -> HttpResponse:
    """orjson writes each number as it is: whole millilitres stay whole."""
    response = HttpResponse(orjson.dumps(body), content_type=media_type, status=status)
    response["Cache-Control"] = "private, no-store"
    response["X-Content-Type-Options"] = "nosniff"
    response["Vary"] = "Authorization"
    return response


def problem(status: int, title: str, detail: str = "", **more: Any) -> HttpResponse:
    body = {"type": "about:blank", "title": title, "status": status, **({"detail": detail} if detail else {}), **more}
    return answer(body, media_type=PROBLEM, status=status)


def link(request: HttpRequest, rel: str, name: str, *args: Any, query: str = "", **more: str) -> dict[str, str]:
    """A link with the whole address of a page or of something a program may ask."""
    path = reverse(name, args=args) + (f"?{query}" if query else "")
    return {"href": printed_address(request, path), "rel": rel, **more}


class ProgramRequest(HttpRequest):
    """A request whose token is known; `program` lets no other through where one is needed."""

    person: Person


def program(key: str) -> Callable[[View], View]:
    """A view that answers one operation of the table: GET and HEAD, known words only, and its scope."""
    operation = BY_KEY[key]

    def of(view: View) -> View:
        @csrf_exempt  # nothing is written here, and no cookie is looked at
        @sensitive_variables("request")
        @wraps(view)
        def guarded(request: ProgramRequest, *args: object, **named: object) -> HttpResponse:
            if request.method not in {"GET", "HEAD"}:
                response = problem(405, _("This is only read."), _("Ask with GET or HEAD."))
                response["Allow"] = "GET, HEAD"
                return response
            refused = _come_in(request, operation) if operation.scope else None
            if refused is not None:
                return refused
            try:
                _known_words(request, operation)
                return view(request, *args, **named)
            except NotUnderstood as why:
                return problem(400, _("This was not understood."), why.sentence)
            except PermissionDenied as why:
                return problem(403, _("This is not for you."), str(why))
            except Http404:
                return nothing_here()

        return guarded

    return of


def nothing_here() -> HttpResponse:
    return problem(404, _("There is nothing here that you may see."))


def _come_in(request: ProgramRequest, operation: Operation) -> HttpResponse | None:
    """Find whose token it is, and whether it is for this; None lets it through."""
    address, shared = limits.address_of(request)
    kind, _space, secret = request.headers.get("Authorization", "").partition(" ")
    if kind.lower() != "bearer" or not secret:
        return _unknown(_("Send a token in the head of the request: “Authorization: Bearer …”."))
    wait = limits.take(BY_ADDRESS, address, times=limits.SHARED if shared else 1)
    if wait is not None:
        return _wait(wait)
    token = tokens.token_for(secret.strip())
    if token is None:
        return _unknown(_("This token opens nothing. Make a new one on your own page."), error="invalid_token")
    limits.give_back(BY_ADDRESS, address)
    wait = limits.take(BY_TOKEN, str(token.pk))
    if wait is not None:
        return _wait(wait)
    if operation.scope not in token.scopes:
        response = problem(403, _("This token is for something else."), _("It needs the scope “%(scope)s”.")
                           % {"scope": operation.scope})  # fmt: skip
        response["WWW-Authenticate"] = (
            f'Bearer realm="sugarbush", error="insufficient_scope", scope="{operation.scope}"'
        )
        return response
    request.person = token.person
    return None


def _unknown(sentence: str, error: str = "") -> HttpResponse:
    response = problem(401, _("Who asks is not known."), sentence)
    response["WWW-Authenticate"] = 'Bearer realm="sugarbush"' + (f', error="{error}"' if error else "")
    return response


def _wait(wait: dt.timedelta) -> HttpResponse:
    response = problem(429, _("Too much was asked for."), _("Ask again later."))
    response["Retry-After"] = str(math.ceil(wait.total_seconds()))
    return response


def _known_words(request: HttpRequest, operation: Operation) -> None:
    """A word that is not in the table, or twice, is a mistake somebody wants to hear of."""
    for name in request.GET:
        if name not in operation.query:
            known = ", ".join(operation.query) or _("none")
            raise NotUnderstood(
                _("“%(name)s” is not known here. What may be said: %(known)s.") % {"name": name, "known": known}
            )
        if len(request.GET.getlist(name)) > 1:
            raise NotUnderstood(_("“%(name)s” stands there twice.") % {"name": name})


def limit_of(request: HttpRequest) -> int:
    """How many at once."""
    return _number(request, "limit", least=1, most=MOST, otherwise=USUAL)


def _number(request: HttpRequest, name: str, *, least: int, most: int, otherwise: int) -> int:
    said = request.GET.get(name)
    if said is None:
        return otherwise
    if not (said.isascii() and said.isdigit() and len(said) <= 16 and least <= int(said) <= most):
        raise NotUnderstood(
            _("“%(name)s” is a whole number from %(least)d to %(most)d.") % {"name": name, "least": least, "most": most}
        )
    return int(said)


def after_of(request: HttpRequest) -> int:
    from sugarbush.api.operations import LARGEST_NUMBER

    return _number(request, "after", least=0, most=LARGEST_NUMBER, otherwise=0)
