"""Ask the gate about one tree, in the same words as the pages."""

from __future__ import annotations

import sys
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from sugarbush.taps.facts import read_facts
from sugarbush.taps.gate import gate, names_for
from sugarbush.taps.said import closed_title, open_title
from sugarbush.taps.tasks import local_time
from sugarbush.trees.models import Tree
from sugarbush.volunteers.models import Person

NO, UNKNOWN = 1, 2


class Command(BaseCommand):
    help = "May this tree be tapped today, or be given out? Ends with 0 for yes, 1 for no, 2 for an unknown tag."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("code", metavar="TAG", help="the tag of the tree, QH-0412 for example")
        parser.add_argument("--by", metavar="NAME", default="", help="the person who would do it")
        parser.add_argument("--act", choices=("tap", "assign"), default="tap", help="place a tap, or give the tree out")

    def handle(self, *, code: str, by: str = "", act: Any = "tap", **options: Any) -> None:
        tree = Tree.objects.select_related("merged_into").filter(code=code.strip().upper()).first()
        if tree is None:
            raise CommandError(f"No tree has the tag {code.strip().upper()}.", returncode=UNKNOWN)
        tree = tree.merged_into or tree
        person = _person(by) if by else None
        with local_time():
            facts = read_facts([tree.pk])[tree.pk]
            reasons = gate(
                tree,
                act,
                by=person,
                facts=facts,
                units=person.units if person else "metric",
                names=names_for(person, tree) if person else True,
            )
            if not reasons:
                self.stdout.write(f"{tree.code}: {open_title(act, facts.allowance(timezone.localdate()).left)}.")
                return
            self.stdout.write(closed_title(tree.code, act, len(reasons)))
            for number, reason in enumerate(reasons, 1):
                self.stdout.write(f"{number} {reason}")
        sys.exit(NO)


def _person(name: str) -> Person:
    found = list(Person.objects.filter(display_name__iexact=name.strip(), is_active=True)[:2])
    if not found:
        raise CommandError(f"Nobody here is called “{name}”.", returncode=UNKNOWN)
    if len(found) > 1:
        raise CommandError(f"More than one person is called “{name}”.", returncode=UNKNOWN)
    return found[0]
