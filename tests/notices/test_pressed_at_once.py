"""Two who press at the same moment send one message."""

from __future__ import annotations

import threading

import pytest
from django.db import connection

from sugarbush.notices import actions, listing
from sugarbush.notices.models import Notice
from tests import make
from tests.notices.test_sending import drafted

pytestmark = pytest.mark.django_db(transaction=True)


def test_two_presses_at_once_send_it_once():
    make.bob()
    lena, alice = make.lena(), make.alice()
    notice = drafted(lena)
    seen = listing.mark(notice, listing.lines(notice))
    wrong: list[BaseException] = []
    ready = threading.Barrier(2)

    def press(by):
        try:
            ready.wait()
            actions.send(notice=Notice.objects.get(pk=notice.pk), by=by, seen=seen)
        except BaseException as why:
            wrong.append(why)
        finally:
            connection.close()

    threads = [threading.Thread(target=press, args=[by]) for by in (lena, alice)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert wrong == []
    assert notice.recipients.count() == 2
