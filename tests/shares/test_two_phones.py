"""Two phones at once: one share goes out once, and shares are worked out once."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connection

from sugarbush.lots.models import JarIssue
from sugarbush.parts.reasons import Refused
from sugarbush.shares import handouts, runs
from sugarbush.shares.models import ShareRun
from tests import make
from tests.shares import season as small


def at_once(work, times=2):
    """The same thing done by several people at the same moment; what came of each."""

    def one(_n):
        try:
            return work()
        except Refused as refused:
            return refused
        finally:
            connection.close()

    with ThreadPoolExecutor(times) as pool:
        return list(pool.map(one, range(times)))


@pytest.mark.django_db(transaction=True)
def test_two_people_at_once_work_out_the_shares_once_and_hand_out_a_share_once():
    small.publish()
    make.collection(small.tapped())
    small.jars((250, 12))
    season, sol = make.season(), small.sol()
    came = at_once(lambda: runs.make_run(season=season, by=sol))
    assert sorted(isinstance(one, Refused) for one in came) == [False, True]
    run = small.final(ShareRun.objects.get())
    share = small.share_of(run, "Bob")
    came = at_once(lambda: handouts.hand_out(share=share, by=sol))
    assert [one.taken for one in came] == ["collected", "collected"]
    assert sum(JarIssue.objects.values_list("count", flat=True)) == 8
