"""Whose request it is behind a web server in front, and why a form may be refused there."""

from __future__ import annotations

import ipaddress
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.http.request import split_domain_port, validate_host
from django.utils.translation import gettext as _

if TYPE_CHECKING:
    from wsgiref.types import StartResponse, WSGIApplication

FORWARDED = ("HTTP_X_FORWARDED_FOR", "HTTP_X_FORWARDED_PROTO", "HTTP_X_FORWARDED_HOST", "HTTP_X_FORWARDED_PORT")


def is_proxy(address: str) -> bool:
    """Whether this address is one of the web servers that are believed."""
    try:
        asked = ipaddress.ip_address(address.strip())
    except ValueError:
        return False
    if isinstance(asked, ipaddress.IPv6Address) and asked.ipv4_mapped is not None:
        asked = asked.ipv4_mapped
    return any(asked in network for network in settings.PROXIES)


def asking_address(remote: str, forwarded_for: str) -> str:
    """The address that asks: the last one told that is no proxy of ours; what a stranger tells is not believed."""
    if not is_proxy(remote):
        return remote
    told = [part.strip() for part in forwarded_for.split(",") if part.strip()]
    return next((one for one in reversed(told) if not is_proxy(one)), remote)


class ProxyMiddleware:
    """Puts the asking address in REMOTE_ADDR, and drops what anybody but a proxy of ours says was forwarded."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        meta = request.META
        remote = meta.get("REMOTE_ADDR", "")
        if is_proxy(remote):
            meta["REMOTE_ADDR"] = asking_address(remote, meta.get("HTTP_X_FORWARDED_FOR", ""))
        else:
            for name in FORWARDED:
                meta.pop(name, None)
        return self.get_response(request)


def under_path(application: WSGIApplication, path: str) -> WSGIApplication:
    """The application under a path such as /sap, whether the web server in front takes the path off or passes it on."""
    if not path:
        return application

    def taken_off(environ: dict[str, Any], start_response: StartResponse) -> Iterable[bytes]:
        asked = environ.get("PATH_INFO", "")
        if asked == path or asked.startswith(f"{path}/"):
            environ["PATH_INFO"] = asked.removeprefix(path) or "/"
        return application(environ, start_response)

    return taken_off


def public_address(path: str, otherwise: str = "") -> str:
    """The whole address of a page for mails and paper, from what reverse() gave.

    otherwise: the origin to take where no public address is set, such as http://127.0.0.1:8000.
    """
    return f"{settings.PUBLIC_URL.removesuffix(settings.PUBLIC_PATH) or otherwise}{path}"


def why_refused(*, host: str, origin: str, is_secure: bool) -> list[str]:
    """What is wrong with the way a form came, in words for whoever runs the server; empty where nothing is.

    host: the Host header.  origin: the Origin header, "" where the browser sent none.  is_secure: came by https.
    """
    scheme = "https" if is_secure else "http"
    wrong = []
    if not validate_host(split_domain_port(host)[0], settings.ALLOWED_HOSTS):
        wrong.append(
            _("The page was asked for as “%(host)s”, which is not the address in SUGARBUSH_PUBLIC_URL.")
            % {"host": host}
        )
    if origin and origin != f"{scheme}://{host}" and origin not in settings.CSRF_TRUSTED_ORIGINS:
        wrong.append(_foreign(origin, f"{scheme}://{host}"))
    if settings.SECURE and not is_secure:
        wrong.append(
            _(
                "It came by plain http, or the web server in front does not say that it came by https: cookies are sent"
                " by https only. Let it set X-Forwarded-Proto, and name its address in SUGARBUSH_PROXIES."
            )
        )
    return wrong


def _foreign(origin: str, here: str) -> str:
    words = {"origin": origin, "here": here}
    if origin == "null":
        return _(
            "The browser hid where the form stood (Origin: null). A page opened from a file, or in a frame, does so."
        )
    if urlsplit(origin).hostname == urlsplit(here).hostname:
        return (
            _(
                "The form stood at %(origin)s, but this server takes itself for %(here)s. Set SUGARBUSH_PUBLIC_URL to"
                " %(origin)s, and let the web server in front pass on Host and X-Forwarded-Proto."
            )
            % words
        )
    return (
        _("The form stood at %(origin)s, which is another site than %(here)s: it was refused as it should be.") % words
    )
