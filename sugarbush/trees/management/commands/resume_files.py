"""What each start does before the worker begins: queue files that a stop left waiting or half read."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand

from sugarbush.trees.taking.tasks import resume


class Command(BaseCommand):
    help = "Queue files that a stop left waiting or half read. Run it while no worker is at work. Safe to repeat."

    def handle(self, **options: Any) -> None:
        count = resume()
        if count:
            self.stdout.write(f"Files that go on being taken in: {count}.")
