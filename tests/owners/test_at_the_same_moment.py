"""Two people at one slip, or at the next number, at the same moment: real threads, on each database."""

from __future__ import annotations

import threading
from collections.abc import Callable

import pytest
from django.db import connection

from sugarbush.owners.actions import decide, write_permission
from sugarbush.owners.models import Permission
from sugarbush.parts.reasons import Refused
from tests import make

pytestmark = pytest.mark.django_db(transaction=True)


def at_once(*acts: Callable[[], object]) -> list[BaseException]:
    """Run the acts in threads that start together; what any of them raised."""
    raised: list[BaseException] = []
    gate = threading.Barrier(len(acts))

    def run(act: Callable[[], object]) -> None:
        try:
            gate.wait(10)
            act()
        except Exception as problem:
            raised.append(problem)
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(act,)) for act in acts]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    return raised


def test_slips_written_at_once_each_get_a_number_of_their_own() -> None:
    make.season()
    owner, lena = make.owner(), make.lena()
    trees = [make.tree() for _n in range(4)]
    slips = [Permission(owner=owner) for _tree in trees]

    def write(slip: Permission, place: int) -> Callable[[], object]:
        return lambda: write_permission(permission=slip, trees=[trees[place]], by=lena)

    assert at_once(*(write(slip, place) for place, slip in enumerate(slips))) == []
    year = make.today().year
    numbers = sorted(Permission.objects.values_list("number", flat=True))
    assert numbers == [f"P{year}-00{n}" for n in (1, 2, 3, 4)]


def test_of_a_yes_and_a_no_given_at_once_exactly_one_stands() -> None:
    make.season()
    tree = make.tree()
    make.treatment(tree)
    slip = make.permission(tree, state="asked")
    lena, alice = make.lena(), make.alice()
    raised = at_once(
        lambda: decide(permission=Permission.objects.get(pk=slip.pk), state="granted", by=lena),
        lambda: decide(permission=Permission.objects.get(pk=slip.pk), state="refused", by=alice),
    )
    assert [type(problem) for problem in raised] == [Refused]
    slip.refresh_from_db()
    assert slip.state in {"granted", "refused"}
    assert slip.edition == 2
