"""With scripts off, the same pages do the same: log sap, accept a delivery, give trees from the list."""

from __future__ import annotations

import pytest

from sugarbush.boils.models import Delivery
from sugarbush.gathering.models import Collection
from sugarbush.taps.models import Assignment
from tests import make
from tests.browser.conftest import At
from tests.browser.walk import sap
from tests.browser.walk.somebody import PHONE

pytestmark = pytest.mark.django_db(transaction=True)


def test_sap_is_logged_and_changed_without_script(at: At) -> None:
    tree = make.tapped_tree(address="12 Larkspur Street")
    bob = at(make.bob(), PHONE, java_script_enabled=False)
    bob.go("/log/").press("Next:", exact=False).press("Log sap")
    assert bob.page.locator("[data-step]:visible, [data-ml]:visible").count() == 0
    bob.fill(volume="4.5")
    bob.press("Save")
    bob.says("Saved: 4.50 L, 12 Larkspur Street.")
    bob.press("4.50", exact=False)
    bob.unfold("Change or take back")
    bob.fill(volume="4")
    bob.press("Save the change")
    assert Collection.objects.get(tree=tree).volume_ml == 4_000


def test_a_visit_without_sap_is_one_press_at_the_tree_without_script(at: At) -> None:
    tree = make.tapped_tree()
    bob = at(make.bob(), PHONE, java_script_enabled=False)
    bob.go(f"/log/{tree.code}/").press("Frozen")
    assert Collection.objects.get(tree=tree).outcome == "frozen"


def test_a_delivery_is_accepted_without_script(at: At) -> None:
    make.collection(litres="6.5")
    make.tank("A")
    make.container("P-01")
    dora = at(make.dora(), java_script_enabled=False)
    can = {"container_text": "P-01", "volume": "6.5", "sugar": "2.1", "temperature": "3", "tank": "A"}
    sap.accept(dora, "Bob", "Mill Race yard", can)
    dora.says("is accepted.")
    assert Delivery.objects.get().difference_ml == 0


def test_trees_are_chosen_and_given_from_the_list_without_script(at: At) -> None:
    make.programme(west=-87.36, south=47.04, east=-87.34, north=47.06)
    given, refused = make.ready_tree(longitude=-87.35), make.tree(longitude=-87.3505)
    lena = at(make.lena(), java_script_enabled=False)
    lena.go("/map/")
    for tree in (given, refused):
        lena.page.locator(f"#list input[value='{tree.code}']").check()
    lena.page.select_option("#chosen-group", label="North Bank")
    lena.press("Give trees")
    lena.says("1 tree given to North Bank")
    lena.says("It has no health check.")
    assert [row.tree for row in Assignment.objects.all()] == [given]
