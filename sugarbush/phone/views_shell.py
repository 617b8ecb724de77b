"""What is the same for everybody: the page of the round without anybody's data, its look, the worker that keeps it."""

from __future__ import annotations

import hashlib
from functools import lru_cache
from pathlib import Path
from typing import Any

import orjson
from django.conf import settings
from django.contrib.staticfiles import finders
from django.contrib.staticfiles.storage import staticfiles_storage
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from django.templatetags.static import static
from django.urls import get_script_prefix, reverse
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.gzip import gzip_page
from django.views.decorators.http import require_safe

from sugarbush.gathering.models import DiscardReason, Look
from sugarbush.phone.words import words
from sugarbush.taps.forms import BITS, COMPASS
from sugarbush.taps.models import Shavings

STYLES = ("tokens", "ground", "parts", "forms", "hand", "log", "phone")
# What the first screen needs; the others come when they are asked for, or with the worker.
FIRST_SCRIPTS = tuple(f"js/phone/{name}.js" for name in ("page", "tree", "sending", "round", "outbox", "disk"))
SCRIPTS = (
    *FIRST_SCRIPTS,
    *(f"js/phone/{name}.js" for name in ("sap", "lists", "entries", "photos", "hole", "find")),
    "js/steps.js",
)
ICON = "img/phone/icon.svg"
ICONS = (
    ("img/phone/icon-192.png", "192x192", "any"),
    ("img/phone/icon-512.png", "512x512", "any"),
    ("img/phone/icon-full-512.png", "512x512", "maskable"),
)
FOR_EVER = "public, max-age=31536000, immutable"


def content(path: str) -> bytes:
    """A static file as it is served: the collected one where there is one, else the source."""
    stored = getattr(staticfiles_storage, "stored_name", None)
    if stored is not None and not settings.DEBUG:
        with staticfiles_storage.open(stored(path)) as file:
            return bytes(file.read())
    found = finders.find(path)
    if not isinstance(found, str):
        raise FileNotFoundError(path)
    return Path(found).read_bytes()


@lru_cache(maxsize=1)
def _kept_look() -> tuple[bytes, str]:
    sheet = b"\n".join(content(f"css/{name}.css") for name in STYLES)
    return sheet, hashlib.blake2b(sheet, digest_size=8).hexdigest()


def style_sheet() -> tuple[bytes, str]:
    """All styles of the round as one file, and its mark: one request on a slow line instead of seven."""
    if settings.DEBUG:
        _kept_look.cache_clear()
    return _kept_look()


def look_url() -> str:
    return f"{reverse('round-look')}?{style_sheet()[1]}"


@require_safe
@gzip_page
def look(request: HttpRequest) -> HttpResponse:
    sheet, mark = style_sheet()
    response = HttpResponse(sheet, content_type="text/css; charset=utf-8")
    response["Cache-Control"] = FOR_EVER if request.GET.keys() == {mark} else "no-cache"
    return response


def shell_context() -> dict[str, Any]:
    """What the script needs to know of this place; nothing of any person."""
    return {
        "look_url": look_url(),
        "scripts": [static(path) for path in FIRST_SCRIPTS],
        "looks": [(look.value, look.label) for look in (Look.CLEAR, Look.CLOUDY, Look.YELLOW, Look.MILKY)],
        "discard_reasons": DiscardReason.choices,
        "compass": COMPASS,
        "bits": BITS[:-1],
        "shavings": Shavings.choices,
        "setup": {
            "words": words(),
            "language": get_language() or "en",
            "urls": {
                "pack": reverse("round-pack"),
                "outbox": reverse("round-outbox"),
                "photos": reverse("round-photos"),
                "tree_photo": reverse("round-tree-photo", args=["TAG-0"]),
                "worker": reverse("service-worker"),
                "round": reverse("round"),
                "root": get_script_prefix(),
                "sign_in": f"{reverse('sign-in')}?next={reverse('round')}",
                "entry": reverse("log-entry", args=["00000000-0000-0000-0000-000000000000"]),
            },
        },
    }


def shell_page(request: HttpRequest, **more: Any) -> HttpResponse:
    return render(request, "phone/round.html", {**shell_context(), **more})


@require_safe
@gzip_page
def shell(request: HttpRequest) -> HttpResponse:
    """The page of the round as the worker keeps it. It looks the same to everybody, so nobody need be signed in."""
    return shell_page(request)


@require_safe
@gzip_page
def no_signal(request: HttpRequest) -> HttpResponse:
    """What stands in place of a page that is not taken along."""
    return render(request, "phone/no_signal.html", {"look_url": look_url()})


def version() -> str:
    """Changes whenever anything that the worker keeps changes."""
    digest = hashlib.blake2b(digest_size=10)
    digest.update(orjson.dumps([look_url(), get_script_prefix()]))
    for path in (*SCRIPTS, ICON, "js/phone/worker.js"):
        digest.update(static(path).encode() + content(path))
    for name in ("phone/round.html", "phone/no_signal.html"):
        digest.update(render_to_string(name, shell_context()).encode())
    return digest.hexdigest()


@require_safe
@never_cache
def worker(request: HttpRequest) -> HttpResponse:
    """The service worker: our file, with the list of what to keep before it.

    ?classic: for browsers whose workers cannot import; they send when the page is open.
    """
    kept = {
        "version": version(),
        "home": settings.PUBLIC_PATH,
        "round": reverse("round"),
        "shell": reverse("round-shell"),
        "no_signal": reverse("round-no-signal"),
        "outbox": reverse("round-outbox"),
        "tag": reverse("tag", args=["T-1"]).removesuffix("T-1/"),
        "tree_photos": reverse("round-tree-photo", args=["TAG-0"]).partition("TAG-0")[0],
        "leaving": [reverse("sign-out")],
        "coming": [reverse("sign-in"), reverse("join")],
        "files": [look_url(), *(static(path) for path in SCRIPTS), static(ICON)],
    }
    lines = [f"const KEPT = {orjson.dumps(kept).decode()};"]
    if "classic" in request.GET:
        lines.append("const outbox = null, disk = null;")
    else:
        lines.insert(0, f'import * as outbox from "{static("js/phone/outbox.js")}";')
        lines.insert(1, f'import * as disk from "{static("js/phone/disk.js")}";')
    lines.append(content("js/phone/worker.js").decode())
    response = HttpResponse("\n".join(lines), content_type="text/javascript; charset=utf-8")
    response["Service-Worker-Allowed"] = get_script_prefix()
    return response


@require_safe
def manifest(request: HttpRequest) -> HttpResponse:
    """How the round looks on a home screen."""
    programme = getattr(request, "programme", None)
    said = {
        "name": str(programme.name) if programme else _("Sugarbush"),
        "short_name": _("My round"),
        "id": reverse("round"),
        "start_url": reverse("round"),
        "scope": get_script_prefix(),
        "display": "standalone",
        "lang": get_language() or "en",
        "background_color": "#f4f8f7",
        "theme_color": "#0d2b23",
        "icons": [
            {"src": static(path), "sizes": sizes, "type": "image/png", "purpose": purpose}
            for path, sizes, purpose in ICONS
        ]
        + [{"src": static(ICON), "sizes": "any", "type": "image/svg+xml"}],
    }
    response = HttpResponse(orjson.dumps(said), content_type="application/manifest+json")
    response["Cache-Control"] = "public, max-age=3600"
    return response
