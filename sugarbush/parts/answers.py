"""What every answer is held to, whichever view gave it."""

from __future__ import annotations

from collections.abc import Callable

from django.conf import settings
from django.db import DataError
from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed
from django.utils.cache import patch_cache_control
from django.views.defaults import bad_request

METHODS = ("GET", "HEAD", "POST", "OPTIONS")


class AnswersMiddleware:
    """Only the methods there are; nothing of a signed-in page stays in a browser; no other site embeds anything.

    A view that says itself how long its answer may be kept is left as it is.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request) if request.method in METHODS else HttpResponseNotAllowed(METHODS)
        response.headers.setdefault("Cross-Origin-Resource-Policy", "same-origin")
        if "Cache-Control" not in response and settings.SESSION_COOKIE_NAME in request.COOKIES:
            patch_cache_control(response, private=True, no_store=True)
        return response

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """What no database can look for is a bad question and no fault of ours: nobody of ours asks so.

        A NUL sign in a text (PostgreSQL), a number of more than 64 bits among the keys of a list (both).
        """
        said = str(exception)
        if isinstance(exception, DataError) and ("NUL" in said or "out of range" in said):
            return bad_request(request, exception)
        if isinstance(exception, OverflowError) and "SQLite" in said:
            return bad_request(request, exception)
        return None
