"""From a printed card to the first tree of the round: on a phone, without an e-mail address."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from sugarbush.volunteers import cards, rules
from sugarbush.volunteers.models import Person
from tests import make
from tests.browser.conftest import At
from tests.browser.walk import measuring
from tests.browser.walk.somebody import PHONE, Somebody

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = pytest.mark.django_db(transaction=True)
TARGET_PX, GAP_PX = 56, 12


def test_a_newcomer_scans_a_card_says_a_name_and_stands_at_the_first_tree(browser: Browser, live_server: Any) -> None:
    _first, second = (make.tapped_tree(address=f"{n} Larkspur Street", nth=n) for n in (12, 31))
    code = cards.code_of(make.cards_of(1).cards.get())
    rules.publish(
        by=make.alice(), words="We look out for each other.", after=0, asks_anew=True, needed_from=make.today()
    )
    tove = Somebody(browser, live_server.url, "Tove", PHONE)
    tove.go("/join/")
    assert measuring.too_small(measuring.controls(tove.page), TARGET_PX) == []
    tove.go(f"/join/{code}/")
    assert (code in tove.page.url, code in tove.page.content()) == (False, False)
    boxes = measuring.controls(tove.page)
    assert (measuring.too_small(boxes, TARGET_PX), measuring.too_close(boxes, GAP_PX)) == ([], [])
    guardian = tove.page.get_by_label("Name of a parent or guardian")
    assert not guardian.is_visible()  # asked of those under 18 alone, and no script is needed for it
    tove.fill(display_name="Tove Aspengren", age_band="child")
    guardian.wait_for()
    boxes = measuring.controls(tove.page)
    assert (measuring.too_small(boxes, TARGET_PX), measuring.too_close(boxes, GAP_PX)) == ([], [])
    tove.fill(age_band="adult", units="us")
    tove.page.get_by_text("I have read the house rules").click()
    tove.page.get_by_role("button", name="I am in").click()
    tove.page.wait_for_url("**/round/")
    tove.page.get_by_role("heading", name="12 Larkspur Street").wait_for()
    assert Person.objects.get(display_name="Tove Aspengren").units == "us"
    # Signed in for the season, not for the visit: 90 days in the group and four weeks more, to the end of the day.
    [cookie] = [one for one in tove.context.cookies() if one["name"] == "sugarbush"]
    assert round((cookie["expires"] - tove.page.evaluate("Date.now() / 1000")) / 86_400) in {118, 119}
    # A tag scanned with signal and without opens its tree; what the phone took along is enough.
    tove.page.goto(f"/t/{second.code}/")
    tove.page.get_by_text("31 Larkspur Street").first.wait_for()
    tove.page.goto("/round/")
    tove.page.wait_for_function("() => navigator.serviceWorker.controller !== null")
    tove.context.set_offline(True)
    tove.page.goto(f"/t/{second.code.lower()}/")
    tove.page.get_by_role("heading", name="31 Larkspur Street").wait_for()
    assert tove.page.url.endswith(f"/round/#{second.code}")
    tove.close()
    assert tove.said == []


@pytest.mark.slow
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_printed_cards_are_read_by_another_program_eight_on_a_page(at: At, tmp_path: Path, paper: str) -> None:
    drawn, reader = shutil.which("pdftoppm"), shutil.which("zbarimg")
    if drawn is None or reader is None:
        pytest.skip("pdftoppm or zbarimg was not found: no other program reads the printed cards.")
    made, lena = make.cards_of(10), at(make.lena())
    lena.go(f"/cards/{made.pk}/print/")
    lena.page.pdf(path=tmp_path / "cards.pdf", format=paper)
    subprocess.run([drawn, "-r", "150", "-gray", str(tmp_path / "cards.pdf"), str(tmp_path / "page")], check=True)
    pages = sorted(tmp_path.glob("page*.pgm"))
    read = [
        subprocess.run([reader, "-q", "--raw", str(page)], capture_output=True, text=True, check=True).stdout.split()
        for page in pages
    ]
    assert [len(codes) for codes in read] == [8, 2]
    wanted = {f"{lena.address}/join/{cards.code_of(card)}/" for card in made.cards.all()}
    assert {code for codes in read for code in codes} == wanted
