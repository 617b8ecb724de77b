"""Make a link that signs one person in, once."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.urls import reverse

from sugarbush.parts.proxies import public_address
from sugarbush.volunteers import actions, people, signing
from sugarbush.volunteers.models import Person


class Command(BaseCommand):
    help = "Make a sign-in link that works once, for a coordinator or for the person named."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--first", action="store_true", help="where nobody has joined yet, make the first coordinator"
        )
        parser.add_argument(
            "--person", metavar="NAME", default="", help="whom the link is for; a coordinator if not given"
        )

    def handle(self, *, first: bool = False, person: str = "", **options: Any) -> None:
        who = _named(person) if person else _coordinator(first=first)
        token = signing.make_link(person=who, made_by=None)
        here = f"http://127.0.0.1:{settings.PORT}"
        link = public_address(reverse("sign-in-link", args=[token]), otherwise=here)
        self.stdout.write(
            f"Open this link within {signing.GOOD_FOR.days} days to come in as {who}. It works once:\n  {link}"
        )


def _coordinator(*, first: bool) -> Person:
    if not Person.objects.exists():
        if not first:
            raise CommandError("Nobody has joined yet. Make the first coordinator: manage.py sign_in_link --first")
        return actions.make_first_coordinator()
    found = people.coordinators().first()
    if found is None:
        raise CommandError("No coordinator can come in today. Name a person: manage.py sign_in_link --person NAME")
    return found


def _named(name: str) -> Person:
    found = list(Person.objects.filter(display_name__iexact=name.strip(), is_active=True)[:2])
    if len(found) > 1:
        raise CommandError(f"More than one person is called “{name}”. Make the link on the right person's page.")
    if not found:
        known = ", ".join(Person.objects.filter(is_active=True).values_list("display_name", flat=True)[:20])
        raise CommandError(f"Nobody called “{name}” can come in. People here: {known or 'nobody yet'}.")
    return found[0]
