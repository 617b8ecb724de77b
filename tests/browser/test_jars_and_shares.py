"""Syrup, its trace, a recall, the shares and the hand-out: within reach by day and by night, and quiet on paper."""

from __future__ import annotations

import pytest

from sugarbush.lots.recalls import open_recall
from tests import make
from tests.browser.conftest import At
from tests.browser.walk.somebody import DESK, PHONE
from tests.lots.syrup import released
from tests.shares.season import final

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.slow]


@pytest.mark.parametrize(("size", "scheme"), [(PHONE, "dark"), (DESK, "light")], ids=["phone", "desk"])
def test_from_the_jar_to_the_shares_nothing_keeps_anybody_out(at: At, size: tuple[int, int], scheme: str) -> None:
    run = final()
    lot = released()
    lots = {lot: None}
    recall = open_recall(season=make.season(), lots=lots, by=make.alice(), reason="A splinter of glass in one jar")
    share = run.shares.exclude(person=None).first()
    who = at(make.alice(), size, color_scheme=scheme)
    for page in (
        "/lots/",
        "/lots/new/",
        f"/lots/{lot.pk}/",
        f"/trace/?lot={lot.pk}",
        f"/recalls/{recall.pk}/",
        "/recalls/new/",
        "/shares/",
        f"/shares/runs/{run.pk}/",
        f"/shares/{share.pk}/",
        "/hand-out/",
        "/hand-out/print/",
        "/season/ledger/",
    ):
        who.go(page)
        assert who.status == 200, page
