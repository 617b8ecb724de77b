"""A lead writes a message on a small screen; the letters come out one a sheet, and the list says who has it."""

from __future__ import annotations

import pytest

from sugarbush.notices.models import Notice
from tests import make
from tests.browser.conftest import At
from tests.browser.walk.somebody import PHONE

pytestmark = pytest.mark.django_db(transaction=True)
SHEETS = """() => [...document.querySelectorAll(".letter")].map((e) => getComputedStyle(e).breakAfter)"""


@pytest.mark.slow
def test_a_message_is_looked_at_handed_out_and_ticked_off(at: At) -> None:
    make.season()
    make.bob()
    lena = at(make.lena(), PHONE)
    lena.go("/people/")
    lena.press("Write to these")
    lena.press("It is running")
    lena.press("Look at it")
    lena.says("Hello Bob,")
    lena.says("2 get it")
    lena.press("Hand it out: 2 by hand")
    lena.press("Letters to print")
    lena.page.emulate_media(media="print")
    assert lena.page.evaluate(SHEETS) == ["page", "auto"]
    assert not lena.page.get_by_role("link", name="Back to the message").is_visible()
    lena.page.emulate_media(media="screen")
    lena.press("Back to the message")
    lena.press("All 2 have it now")
    lena.says("2 have it now.")
    assert set(Notice.objects.get().recipients.values_list("state", flat=True)) == {"handed"}
