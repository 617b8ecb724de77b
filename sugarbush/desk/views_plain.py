"""Pages that need nobody signed in: about, the cautions, and two answers for the machine."""

from __future__ import annotations

import logging

from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.csrf import csrf_failure
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from sugarbush.parts.proxies import why_refused

log = logging.getLogger(__name__)


@require_safe
def about(request: HttpRequest) -> HttpResponse:
    """What this is and where to ask."""
    return render(request, "desk/about.html")


@require_safe
def cautions(request: HttpRequest) -> HttpResponse:
    """Where the work can hurt people or trees."""
    return render(request, "desk/cautions.html")


def form_refused(request: HttpRequest, reason: str = "") -> HttpResponse:
    """A form without its secret. The person reads what to do; the log tells whoever runs the server why."""
    host, origin = request.META.get("HTTP_HOST", ""), request.META.get("HTTP_ORIGIN", "")
    why = why_refused(host=host, origin=origin, is_secure=request.is_secure())
    log.warning("a form was refused: %s", " ".join(why) or reason)
    return csrf_failure(request, reason)


@never_cache
@require_safe
def healthz(request: HttpRequest) -> HttpResponse:
    """The server answers. Asks nothing of the database."""
    return HttpResponse("alive\n", content_type="text/plain; charset=utf-8")


@never_cache
@require_safe
def readyz(request: HttpRequest) -> HttpResponse:
    """Whether pages can be served: the database answers and is up to date. 503 with the reason otherwise."""
    try:
        executor = MigrationExecutor(connection)
        waiting = executor.migration_plan(executor.loader.graph.leaf_nodes())
    except DatabaseError as why:
        log.warning("not ready: %s", why)
        return _not_ready("the database does not answer")
    return _not_ready("migrations are waiting") if waiting else HttpResponse("ready\n", content_type="text/plain")


def _not_ready(why: str) -> HttpResponse:
    return HttpResponse(f"not ready: {why}\n", status=503, content_type="text/plain; charset=utf-8")
