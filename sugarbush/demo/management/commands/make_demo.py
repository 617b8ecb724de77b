"""Makes the demo programme: an invented town with a season in full run."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.urls import reverse

from sugarbush.demo import town
from sugarbush.demo.replay import replay
from sugarbush.parts.proxies import public_address
from sugarbush.seasons.models import Programme
from sugarbush.trees.models import Life, Tree
from sugarbush.volunteers.models import Membership, Person


class Command(BaseCommand):
    help = "Make the demo programme: the invented town of Quillhaven, forty days into its season."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--seed", type=int, default=town.SEED, metavar="N", help="another number makes another town (%(default)s)"
        )

    def handle(self, *, seed: int = town.SEED, **options: Any) -> None:
        programme = Programme.current()
        if programme is not None:
            raise CommandError(
                f"The programme “{programme.name}” is in these books already; the demo goes into empty ones only. "
                "Give another folder with SUGARBUSH_DATA, or another database."
            )
        if Person.objects.exists():
            raise CommandError(
                "Somebody has joined already, so these books are not empty; the demo goes into empty ones only. "
                "Give another folder with SUGARBUSH_DATA, or another database."
            )
        made = replay(seed=seed)
        listed = Tree.objects.count()
        ours = Tree.objects.exclude(life=Life.LISTED).count()
        visits = len(made.plan.season.until(made.today).visits)
        self.stdout.write(
            f"{town.PROGRAMME}: {listed} trees listed, {ours} of them in the programme, {visits} visits this season."
        )
        self.tell_people()

    def tell_people(self) -> None:
        """Say where to come in, and who is who. The server itself says its address only once it serves."""
        address = public_address(reverse("sign-in"), otherwise=f"http://127.0.0.1:{settings.PORT}")
        self.stdout.write(f"No passwords: choose one of these people at {address}")
        roles: dict[str, list[str]] = {}
        for held in Membership.objects.select_related("person", "group").order_by("person_id", "pk"):
            where = f" ({held.group})" if held.group else ""
            roles.setdefault(held.person.display_name, []).append(f"{held.get_role_display()}{where}")
        width = max(len(name) for name in roles)
        for name, held_by in roles.items():
            self.stdout.write(f"  {name:<{width}}  {', '.join(held_by)}")
