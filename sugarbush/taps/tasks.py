"""At each local midnight what trees show is worked out anew: permissions and checks lapse with the day."""

from __future__ import annotations

import datetime as dt
import logging
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from zoneinfo import ZoneInfo

from django.db import transaction
from django.utils import timezone
from django_tasks import default_task_backend, task
from django_tasks.base import TaskResultStatus
from django_tasks_db.models import DBTaskResult

from sugarbush.seasons.models import Programme
from sugarbush.trees import shown
from sugarbush.trees.models import Life, Shown, Tree
from sugarbush.volunteers import codes, devices, forgetting, limits

BATCH = 5_000
_BY_NIGHT: dict[str, Callable[[], object]] = {}
log = logging.getLogger(__name__)


@contextmanager
def local_time() -> Iterator[Programme | None]:
    """The programme's own clock, for work that no page asked for."""
    programme = Programme.current()
    with timezone.override(ZoneInfo(programme.time_zone) if programme else None):
        yield programme


def refresh_states(*, everything: bool = False) -> int:
    """Work out anew what trees show; the number of trees looked at.

    everything: all trees in the programme's sights, not only those whose day has passed.
    """
    with local_time() as programme:
        on = timezone.localdate()
        count = _refresh_all(on) if everything else shown.refresh_lapsed(on)
        if programme is not None:
            Programme.objects.filter(pk=programme.pk).update(states_fresh_on=on)
    return count


def _refresh_all(on: dt.date) -> int:
    """Walk along the primary key, so that memory stays flat in a town of 700,000 trees."""
    rows = Tree.objects.exclude(life=Life.LISTED, shown_state=Shown.LISTED).order_by("pk")
    last, count = 0, 0
    while ids := list(rows.filter(pk__gt=last).values_list("pk", flat=True)[:BATCH]):
        shown.refresh(ids, on)
        last, count = ids[-1], count + len(ids)
    return count


def next_midnight(now: dt.datetime | None = None) -> dt.datetime:
    """The start of the next day on the programme's clock."""
    with local_time():
        tomorrow = timezone.localdate(now) + dt.timedelta(days=1)
        # Where the clock jumps over midnight itself, the first minute there is.
        return dt.datetime.combine(tomorrow, dt.time(0), timezone.get_current_timezone())


@task()
def midnight() -> int:
    """The nightly work; it queues itself for the next night first, so that a failed night stops no other."""
    queue_midnight()
    limits.sweep()
    devices.sweep()
    codes.sweep()
    forget_names()
    for name, work in _BY_NIGHT.items():
        try:
            work()
        except Exception:
            log.exception("The nightly work “%s” failed", name)
    return refresh_states()


def by_night(name: str, work: Callable[[], object]) -> None:
    """Have something done each midnight; later apps name theirs as they start. A fault of one stops no other."""
    _BY_NIGHT[name] = work


def forget_names() -> int:
    """Names of those who left long enough ago go, where the programme has set how long that is; how many."""
    programme = Programme.current()
    if programme is None or not programme.forget_after_years:
        return 0
    with local_time():
        return forgetting.forget_long_gone(years=programme.forget_after_years)


def queue_midnight() -> bool:
    """Have the nightly work wait for the next midnight. True when it does now; never two wait."""
    if not default_task_backend.supports_defer:
        return False
    with transaction.atomic():
        # The row is held, so two starts at once queue one.
        Programme.objects.select_for_update().first()
        waiting = DBTaskResult.objects.filter(task_path=midnight.module_path, status=TaskResultStatus.READY)
        rows, when = list(waiting.order_by("run_after", "pk")), next_midnight()
        if not rows:
            midnight.using(run_after=when).enqueue()
            return True
        DBTaskResult.objects.filter(pk__in=[row.pk for row in rows[1:]]).delete()
        if rows[0].run_after > when:
            # The programme moved to another time zone since.
            rows[0].run_after = when
            rows[0].save(update_fields=["run_after"])
    return True
