"""The round itself, the pack it takes along, and the door its entries come in by."""

from __future__ import annotations

import hashlib
import time
import uuid
from collections.abc import Callable
from functools import wraps
from typing import Any, cast

import orjson
from django.core.exceptions import PermissionDenied
from django.db.models import Q
from django.http import Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.middleware.csrf import get_token
from django.shortcuts import get_object_or_404
from django.utils.cache import patch_vary_headers
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.gzip import gzip_page
from django.views.decorators.http import require_GET, require_http_methods, require_POST, require_safe

from sugarbush.parts.uploads import send
from sugarbush.phone import pack as packing
from sugarbush.phone import photos as photo_keeping
from sugarbush.phone import taking
from sugarbush.phone.models import Photo
from sugarbush.phone.views_shell import shell_page
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Membership, Person
from sugarbush.volunteers.views_help import SignedInRequest, signed_in

View = Callable[[SignedInRequest], HttpResponse]
NOW_HEADER = "Sugarbush-Now"


def now_ms() -> int:
    return time.time_ns() // 1_000_000


def json(what: Any, *, status: int = 200) -> HttpResponse:
    response = HttpResponse(orjson.dumps(what), content_type="application/json", status=status)
    response[NOW_HEADER] = str(now_ms())
    response["Cache-Control"] = "private, no-cache"
    return response


def ever_a_member(person: Person) -> bool:
    return Membership.objects.filter(person=person).exists()


def for_a_phone(view: View) -> Callable[[HttpRequest], HttpResponse]:
    """A script asks, so the answer to somebody signed out is a word, not a page to sign in on.

    Somebody whose part has ended may still bring what they wrote before; somebody who never had one may not.
    """

    @wraps(view)
    def asked(request: HttpRequest) -> HttpResponse:
        if not request.user.is_authenticated:
            return json({"code": "signed-out"}, status=403)
        if not ever_a_member(request.user):
            return json({"code": "no-member"}, status=403)
        return view(cast("SignedInRequest", request))

    return asked


@signed_in
@require_safe
@gzip_page
def whole_round(request: SignedInRequest) -> HttpResponse:
    """The round: the same page for everybody, and with it, the first time, this person's own pack."""
    if not ever_a_member(request.user):
        raise PermissionDenied(_("You have no role in the programme. Ask a coordinator to add you."))
    try:
        taken = packing.make(request.user, request.GET.get("group", ""))
    except LookupError:
        raise Http404 from None
    response = shell_page(request, pack={"pack": taken, "tag": tag_of(orjson.dumps(taken)), "now_ms": now_ms()})
    response["Cache-Control"] = "private, no-store"
    return response


def tag_of(body: bytes) -> str:
    return f'W/"{hashlib.blake2b(body, digest_size=12).hexdigest()}"'


@for_a_phone
@require_GET
@gzip_page
def pack(request: SignedInRequest) -> HttpResponse:
    """The pack of one group, or 304 when the phone has it already."""
    try:
        taken = packing.make(request.user, request.GET.get("group", ""))
    except LookupError:
        raise Http404 from None
    body = orjson.dumps(taken)
    tag = tag_of(body)
    same = tag in request.headers.get("If-None-Match", "")
    response = HttpResponse(status=304) if same else HttpResponse(body, content_type="application/json")
    response["ETag"] = tag
    response["Cache-Control"] = "private, no-cache"
    response[NOW_HEADER] = str(now_ms())
    patch_vary_headers(response, ["Cookie"])
    return response


@for_a_phone
@never_cache
@require_http_methods(["GET", "POST"])
def outbox(request: SignedInRequest) -> HttpResponse:
    """GET: who is signed in here, and a fresh secret for sending. POST: a batch; the answer has a word on each entry.

    The words are given after each entry's own transaction has ended, so they may be relied upon.
    """
    if request.method == "GET":
        hello = {"person": str(request.user.key), "name": request.user.display_name, "secret": get_token(request)}
        return json({**hello, "formats": sorted(taking.FORMATS), "now_ms": now_ms()})
    batch, wrong = read_batch(request)
    if wrong:
        return json({"code": wrong}, status=400)
    if batch.get("person") != str(request.user.key):
        return json({"code": "other-person"}, status=409)
    answers = taking.take_batch(
        batch["entries"],
        by=request.user,
        format_=batch["format"],
        phone_now_ms=batch["phone_now_ms"],
        server_now_ms=now_ms,
    )
    return json({"format": 1, "answers": [one.as_json() for one in answers], "now_ms": now_ms()})


@for_a_phone
@never_cache
@require_POST
def photos(request: SignedInRequest) -> HttpResponse:
    """One photo of one's own entry, ?id= and ?entry= by name, the picture as the body; the answer is the word on it."""
    try:
        photo_id, entry_id = (uuid.UUID(request.GET.get(name, "")) for name in ("id", "entry"))
    except ValueError:
        return json({"code": "not-a-photo"}, status=400)
    try:
        size = int(request.headers.get("Content-Length") or 0)
    except ValueError:
        size = 0
    if size > photo_keeping.MOST_BYTES:
        return json({"code": "too-large"}, status=413)
    word = photo_keeping.take(photo_id=photo_id, entry_id=entry_id, body=request.body, by=request.user)
    return json(word.as_json())


@signed_in
@require_safe
def photo(request: SignedInRequest, pk: uuid.UUID) -> HttpResponseBase:
    """A photo, for whoever may see its entry."""
    rows, reach = Photo.objects.select_related("entry__tree"), access.scope(request.user, "collection.see")
    if not reach.everything:
        rows = rows.filter(reach.filter("entry__group") | Q(person=request.user))
    found = get_object_or_404(rows, pk=pk)
    return send(found.file, name=f"{found.entry.tree.code}-{found.entry.happened_at:%Y-%m-%d}")


def read_batch(request: HttpRequest) -> tuple[dict[str, Any], str]:
    """The batch as sent, or what is wrong with it as a whole."""
    try:
        batch = orjson.loads(request.body)
    except orjson.JSONDecodeError:
        return {}, "not-json"
    if not isinstance(batch, dict) or not isinstance(batch.get("entries"), list):
        return {}, "not-a-batch"
    if type(batch.get("format")) is not int or batch["format"] not in taking.FORMATS:
        return {}, "unknown-format"
    if len(batch["entries"]) > taking.MOST_ENTRIES:
        return {}, "too-many"
    phone_now = batch.get("phone_now_ms")
    batch["phone_now_ms"] = phone_now if isinstance(phone_now, int) and abs(phone_now) < 1e16 else now_ms()
    return batch, ""
