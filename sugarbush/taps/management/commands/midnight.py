"""What each start does: bring the shown states up to today, and have the nightly work wait for midnight."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand

from sugarbush.taps.tasks import queue_midnight, refresh_states


class Command(BaseCommand):
    help = "Bring what trees show up to today, and queue the work of the coming midnight. Safe to repeat."

    def handle(self, **options: Any) -> None:
        refresh_states()
        queue_midnight()
