"""A movement is posted at half the rate, at least, of bare inserts in the same transaction. The limit is our own."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.db import transaction
from django.utils import timezone

from sugarbush.sap.ledger import Move, balance_ml, hands_of, post
from sugarbush.sap.models import Act, ActKind, Cause, Movement, Vessel
from tests import make
from tests.bench.test_review_bench import best_of


@pytest.mark.django_db(transaction=True)
def test_posting_goes_at_half_the_rate_of_bare_inserts(capsys):
    season, bob, tank = make.season(), make.bob(), make.tank("P", None)
    hands, now = hands_of(bob, season), timezone.now()

    def bare(*ways: tuple[str, Vessel | None, Vessel | None]) -> Callable[[], None]:
        def go() -> None:
            for cause, source, target in ways:
                with transaction.atomic():
                    act = Act.objects.create(kind="collect", season=season, author=bob, person=bob, happened_at=now)
                    Movement.objects.create(
                        act=act,
                        season=season,
                        happened_at=now,
                        from_vessel=source,
                        to_vessel=target,
                        volume_ml=1_000,
                        cause=cause,
                    )

        return go

    def posted(*ways: tuple[str, Vessel | None, Vessel | None]) -> Callable[[], None]:
        def go() -> None:
            for cause, source, target in ways:
                move = Move(volume_ml=1_000, cause=Cause(cause), source=source, target=target)
                post(kind=ActKind.COLLECT, season=season, author=bob, person=bob, happened_at=now, moves=[move])

        return go

    ways = (("out_of_tree", None, hands), ("moved", hands, tank))
    measured = {}
    for name, make_it in (("bare", bare), ("posted", posted)):
        go = make_it(*ways)
        go()
        measured[name] = best_of(5, lambda go=go: [go() for _ in range(60)])  # type: ignore[misc]
    rate = {name: 120 / took for name, took in measured.items()}
    with capsys.disabled():
        print(f"\n  bare inserts {rate['bare']:,.0f} a second, posted {rate['posted']:,.0f}:", end=" ")
        print(f"{rate['posted'] / rate['bare']:.2f}x")
    assert balance_ml(hands) == 0
    assert rate["posted"] >= 0.5 * rate["bare"]
