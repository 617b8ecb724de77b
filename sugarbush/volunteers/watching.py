"""What whoever runs the server reads of who came in, who was refused, and from where: one line each, in the log.

People stand there by number, and no line holds a secret (volunteers/hiding.py). The history pages tell what was done;
this tells what was tried.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from typing import Any

from django.contrib.auth.signals import user_logged_in, user_logged_out
from django.http import HttpRequest, HttpResponse

from sugarbush.volunteers.models import Person

log = logging.getLogger("sugarbush.watch")
WAYS_IN = ("/sign-in/", "/join/", "/o/")
REFUSED = {401, 403, 429}


def _who(person: object) -> str:
    return f"person {person.pk}" if isinstance(person, Person) else "nobody signed in"


def _from(request: HttpRequest | None) -> str:
    return request.META.get("REMOTE_ADDR", "unknown") if request else "unknown"


def _path(request: HttpRequest) -> str:
    """The address asked for, with nothing in it that could begin a line of its own."""
    return request.path_info.encode("unicode_escape").decode("ascii")


class WatchMiddleware:
    """Writes a line for each answer that refuses somebody, and for each way in that did not open."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        status = response.status_code
        if status in REFUSED:
            log.warning(
                "refused %d: %s %s, %s, from %s",
                status, request.method, _path(request), _who(getattr(request, "_cached_user", None)), _from(request),
            )  # fmt: skip
        elif 400 <= status < 500 and request.path_info.startswith(WAYS_IN):
            log.warning("did not come in, %d: %s %s, from %s", status, request.method, _path(request), _from(request))
        return response


def _came_in(sender: Any, request: HttpRequest | None, user: Person, **more: Any) -> None:
    log.info("came in: %s by %s, from %s", _who(user), _path(request) if request else "no page", _from(request))


def _went_out(sender: Any, request: HttpRequest | None, user: Person | None, **more: Any) -> None:
    log.info("went out: %s, from %s", _who(user), _from(request))


def listen() -> None:
    user_logged_in.connect(_came_in, dispatch_uid="watch-in")
    user_logged_out.connect(_went_out, dispatch_uid="watch-out")
