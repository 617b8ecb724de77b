"""The main pages by night: nothing that axe finds serious, and no way sideways."""

from __future__ import annotations

import pytest

from sugarbush.desk.public.choosing import choose
from sugarbush.volunteers import rules
from tests import make
from tests.browser.conftest import At
from tests.browser.walk.somebody import PHONE

pytestmark = pytest.mark.django_db(transaction=True)
DESK_PAGES = [
    "/", "/map/", "/trees/", "/trees/{code}/", "/trees/{code}/check/", "/permissions/", "/taps/in/", "/tanks/",
    "/deliveries/new/", "/season/", "/seasons/{year}/", "/people/", "/weather/", "/cautions/", "/audit/", "/privacy/",
    "/people/house-rules/", "/people/house-rules/missing/", "/programme/public/", "/public/",
]  # fmt: skip
PHONE_PAGES = [
    "/log/",
    "/log/{code}/",
    "/log/{code}/sap/",
    "/trees/{code}/tap/",
    "/trees/{code}/",
    "/map/",
    "/house-rules/",
    "/public/",
]


@pytest.mark.slow
@pytest.mark.parametrize(("size", "pages"), [((1280, 800), DESK_PAGES), (PHONE, PHONE_PAGES)])
def test_the_main_pages_are_within_reach_by_night(at: At, size: tuple[int, int], pages: list[str]) -> None:
    tree = make.given_tree(diameter_um=19 * make.INCH_UM)
    make.tap(tree)
    make.collection(tree, litres="6.5", brix="2.1")
    make.tank("A")
    rules.publish(
        by=make.alice(), words="We look out for each other.", after=0, asks_anew=True, needed_from=make.today()
    )
    choose(by=make.alice(), is_on=True, totals=True, weeks=True, areas=True)
    who = at(make.alice(), size, color_scheme="dark")
    for page in pages:
        who.go(page.format(code=tree.code, year=make.season().year))
        assert who.status == 200, page
