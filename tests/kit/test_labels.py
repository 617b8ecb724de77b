"""Labels of pails and drums: the code, a square that opens the page, and on the page what is in it."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from sugarbush.boils.actions import Line, accept_delivery
from sugarbush.kit.models import Container
from sugarbush.volunteers.models import Person
from tests import make
from tests.squares import leads_to

pytestmark = pytest.mark.django_db
HOST = "http://testserver"


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def test_a_label_has_the_code_and_a_square_that_opens_the_page_of_that_pail() -> None:
    pail, tin = make.container("PAIL-07", 11_000), make.container("TIN-1", food_safe="untested")
    bob = signed_in(make.bob())
    page = bob.get(reverse("container-label", args=[pail.pk])).content.decode()
    assert leads_to(page, HOST + reverse("container", args=[pail.pk])) == page.count('class="qr"') == 1
    assert "PAIL-07" in page
    assert "No sap in here" not in page
    both = bob.get(reverse("container-labels")).content.decode()
    assert [leads_to(both, HOST + reverse("container", args=[one.pk])) for one in (pail, tin)] == [1, 1]
    assert "No sap in here" in both
    # What the list was narrowed to goes on to the labels.
    listed = bob.get(reverse("containers"), {"q": "TIN"}).content.decode()
    assert f'href="{reverse("container-labels")}?q=TIN"' in listed
    assert "PAIL-07" not in bob.get(reverse("container-labels"), {"q": "TIN"}).content.decode()
    assert "No pail or drum fits." in bob.get(reverse("container-labels"), {"q": "X"}).content.decode()
    for door in ("container-labels", "container-label"):
        address = reverse(door, args=[] if door == "container-labels" else [pail.pk])
        assert signed_in(make.charlie()).get(address).status_code == 403


def test_many_labels_come_six_sheets_at_a_time_and_ask_no_more_of_the_database() -> None:
    bob = signed_in(make.bob())

    def asked() -> int:
        with CaptureQueriesContext(connection) as held:
            assert bob.get(reverse("container-labels")).status_code == 200
        return len(held)

    make.container()
    one = asked()
    Container.objects.bulk_create(Container(code=f"P-{n:03d}", capacity_ml=8_000) for n in range(60))
    assert asked() == one
    page = bob.get(reverse("container-labels")).content.decode()
    assert (page.count('class="qr"'), page.count('class="cut-page"')) == (48, 6)
    assert "<b>1 to 48</b> of 61" in page


def test_a_scanned_pail_tells_what_is_in_it_to_those_who_may_know() -> None:
    tree = make.given_tree(address="12 Larkspur Street")
    pail = make.container("PAIL-07", 11_000)
    make.tap(tree, container=pail)
    make.collection(tree, litres="6.5", container=pail, happened_at=timezone.now() - make.days(2))
    line = Line(volume_ml=6_500, tank=make.tank(), container=pail, container_text="PAIL-07")
    accept_delivery(
        depot=make.depot(), person=make.bob(), keeper=make.dora(), lines=[line],
        happened_at=timezone.now() - make.days(1),
    )  # fmt: skip
    make.collection(tree, litres="4.25", container=pail)
    here = reverse("container", args=[pail.pk])

    def says(person: Person) -> str:
        return signed_in(person).get(here).content.decode().replace("\u00a0", " ")

    bob, mira, dora = says(make.bob()), says(make.mira()), says(make.dora())
    assert f"{tree.code}, 12 Larkspur Street" in bob
    assert all("4.25 L from 1 visit" in page for page in (bob, dora))
    assert all("6.50 L into A" in page for page in (bob, dora))
    # Of another group: that there is a pail, and when it was last at the depot; no tree, no litres.
    assert "Last brought in" in mira
    assert not any(secret in mira for secret in ("Larkspur", tree.code, "4.25", "6.50"))
    assert "Accept what is in it" not in bob
    accept = f"{reverse('delivery-new')}?container={pail.pk}"
    assert accept in dora
    assert 'value="PAIL-07"' in signed_in(make.dora()).get(accept).content.decode()
    assert signed_in(make.dora()).get(reverse("delivery-new"), {"container": "9" * 30}).status_code == 200
