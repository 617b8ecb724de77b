"""Short answers to the map's own questions: packed, private to the reader, sent once."""

from __future__ import annotations

import hashlib
from typing import Any

import orjson
from django.http import HttpRequest, HttpResponse
from django.utils.cache import patch_vary_headers


def answer(request: HttpRequest, what: Any, *, mark: str = "") -> HttpResponse:
    """`what` as JSON, or 304 when the browser holds the same already.

    mark: stands for the content when it is dear to make; then `what` may be a function. The answer may be kept by
    this reader's browser only, and must be asked about each time: a spout to pull shows at once.
    """
    body = b"" if mark else orjson.dumps(what)
    tag = f'W/"{hashlib.blake2b(mark.encode() or body, digest_size=12).hexdigest()}"'
    if tag in request.headers.get("If-None-Match", ""):
        response = HttpResponse(status=304)
    else:
        response = HttpResponse(body or orjson.dumps(what()), content_type="application/json")
    response["ETag"] = tag
    response["Cache-Control"] = "private, no-cache"
    patch_vary_headers(response, ["Cookie"])
    return response


def not_understood(why: str) -> HttpResponse:
    """The question itself made no sense."""
    return HttpResponse(orjson.dumps({"why": why}), content_type="application/json", status=400)
