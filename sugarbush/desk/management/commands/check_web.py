"""Says how the server sees its own address, and why a form sent in a given way would be refused."""

from __future__ import annotations

import urllib.error
import urllib.request
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils.translation import gettext as _

from sugarbush.parts.proxies import is_proxy, why_refused

PATIENCE_S = 5


class Command(BaseCommand):
    help = "Look at the public address, the cookies and the web server in front; explain a refused form."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--origin", help="where the form stood, as the browser told it: https://sap.example.org")
        parser.add_argument("--host", help="the Host header as it came; else that of the public address")
        parser.add_argument("--proto", choices=["http", "https"], help="X-Forwarded-Proto as it came")
        parser.add_argument("--from", dest="remote", default="127.0.0.1", help="the address the request came from")

    def handle(self, *args: Any, **options: Any) -> None:
        wrong = self.settings_said()
        if options["origin"] or options["host"] or options["proto"]:
            wrong += self.form(options)
        elif settings.PUBLIC_URL:
            wrong += self.open_it()
        if wrong:
            raise CommandError("\n".join(wrong))
        self.stdout.write(_("Nothing is wrong that can be seen from here."))

    def settings_said(self) -> list[str]:
        """Print what is set; what is missing comes back as sentences."""
        proxies = ", ".join(str(network) for network in settings.PROXIES) or _("none")
        for line in (
            _("Public address: %(url)s") % {"url": settings.PUBLIC_URL or _("not set")},
            _("Names it answers to: %(hosts)s") % {"hosts": ", ".join(settings.ALLOWED_HOSTS)},
            _("Cookies by https only: %(yes)s") % {"yes": _("yes") if settings.SECURE else _("no")},
            _("Web servers in front that are believed: %(proxies)s") % {"proxies": proxies},
        ):
            self.stdout.write(line)
        if settings.PUBLIC_URL:
            return []
        return [_("SUGARBUSH_PUBLIC_URL is not set: links and printed squares carry the address of whoever made them.")]

    def form(self, options: dict[str, Any]) -> list[str]:
        host = options["host"] or urlsplit(settings.PUBLIC_URL).netloc or "localhost"
        told = options["proto"] == "https" and is_proxy(options["remote"])
        wrong = why_refused(host=host, origin=options["origin"] or "", is_secure=told)
        if options["proto"] == "https" and not told:
            wrong.append(
                _("X-Forwarded-Proto from %(remote)s is not believed: name that address in SUGARBUSH_PROXIES.")
                % {"remote": options["remote"]}
            )
        return wrong

    def open_it(self) -> list[str]:
        """Ask the public address whether it is alive, as a phone would."""
        address = f"{settings.PUBLIC_URL}/healthz"
        try:
            with urllib.request.urlopen(address, timeout=PATIENCE_S) as answer:  # noqa: S310  # an http address, checked
                said = answer.read(20).decode(errors="replace").strip()
        except urllib.error.HTTPError as refusal:
            return [_("%(address)s answers %(status)d.") % {"address": address, "status": refusal.code}]
        except (OSError, ValueError) as why:
            return [_("%(address)s does not answer: %(why)s") % {"address": address, "why": why}]
        if said != "alive":
            return [_("%(address)s is answered by something else than this programme.") % {"address": address}]
        self.stdout.write(_("%(address)s answers.") % {"address": address})
        return []
