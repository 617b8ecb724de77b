"""Times are kept in UTC and shown in the programme's own zone."""

from __future__ import annotations

from collections.abc import Callable
from zoneinfo import ZoneInfo

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from sugarbush.seasons.models import Programme


class LocalTimeMiddleware:
    """Activates the programme's time zone for the request and gives `request.programme`."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.path_info.startswith(("/static/", "/healthz", "/readyz")):
            return self.get_response(request)
        programme = Programme.current()
        request.programme = programme  # type: ignore[attr-defined]
        with timezone.override(ZoneInfo(programme.time_zone) if programme else None):
            return self.get_response(request)
