"""The depot's and the pan's pages, pressed as their people press them."""

from __future__ import annotations

import uuid

import pytest
from django.test import Client
from django.urls import reverse

from sugarbush.boils.models import Delivery
from sugarbush.sap.ledger import balance_ml, hands_of
from sugarbush.sap.models import Vessel
from tests import make

pytestmark = pytest.mark.django_db


def at(person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def sheet(*cans, **changes):
    """The delivery form as the page sends it: four containers at least."""
    for code in ("P-01", "P-07"):
        make.container(code)
    rows = [*cans, *[{}] * (4 - len(cans))]
    data = {
        "delivery": str(uuid.uuid4()),
        "depot": make.depot().pk,
        "person": make.bob().pk,
        "shown_units": "metric",
        "form-TOTAL_FORMS": len(rows),
        "form-INITIAL_FORMS": 0,
        **changes,
    }
    for n, row in enumerate(rows):
        full = {
            "container_text": "P-01" if row else "",
            "away": "",
            "volume": "",
            "mass": "",
            "look": "clear",
            "tank": "",
            "reject_reason": "",
            **row,
        }
        data |= {f"form-{n}-{name}": value for name, value in full.items()}
    return data


def carry(litres=8):
    make.collection(litres=litres)


def test_the_keeper_sees_who_carries_and_accepts_container_by_container():
    carry()
    keeper = at(make.dora())
    assert "8.00" in keeper.get(reverse("deliveries")).content.decode()
    tank = make.tank()
    answer = keeper.post(
        reverse("delivery-new"),
        sheet(
            {"container_text": "P-07", "volume": "5", "sugar": "2.1", "tank": tank.pk},
            {"container_text": "P-08", "volume": "3", "look": "milky", "reject_reason": "milky or sour"},
        ),
    )
    assert answer.status_code == 302
    receipt = keeper.get(answer["Location"]).content.decode()
    assert "P-07" in receipt
    assert "milky or sour" in receipt
    assert balance_ml(tank) == 5_000


def test_a_difference_is_asked_about_and_what_was_typed_stays():
    carry()
    keeper, sent = at(make.dora()), sheet({"volume": "12", "tank": make.tank().pk, "container_text": "P-07"})
    answer = keeper.post(reverse("delivery-new"), sent)
    page = answer.content.decode()
    assert answer.status_code == 409
    assert "Bob holds 8.00" in page
    assert 'value="P-07"' in page
    assert not Delivery.objects.exists()
    assert keeper.post(reverse("delivery-new"), {**sent, "explanation": "Missed tree 12."}).status_code == 302


def test_ahead_of_its_entries_it_is_closed_from_the_receipt():
    carry()
    keeper = at(make.dora())
    answer = keeper.post(reverse("delivery-new"), sheet({"volume": "16", "tank": make.tank().pk}, ahead="on"))
    assert "Keep 8.00" in keeper.get(answer["Location"]).content.decode().replace('<span class="qty">', "").replace(
        "&nbsp;", " "
    )
    carry()
    answer = keeper.post(answer["Location"], {"tank": make.tank().pk})
    assert answer.status_code == 302
    assert Delivery.objects.get().state == "settled"
    assert balance_ml(make.tank()) == 16_000


@pytest.mark.parametrize(
    ("can", "said"),
    [
        ({"volume": "5"}, "Choose a tank"),
        ({"volume": "-5", "tank": "T"}, "Less than nothing"),
        ({"container_text": "P-07", "tank": "T"}, "Say how much is in it"),
        ({"volume": "5", "tank": "T", "reject_reason": "ropy"}, "say how much of it is turned away"),
        ({"volume": "5", "tank": "T", "container_text": ""}, "Write the code of the container"),
        ({"volume": "5", "tank": "T", "sugar": "70"}, "°Brix"),
    ],
)
def test_a_line_that_cannot_be_gets_a_sentence(can, said):
    carry()
    can = {name: make.tank().pk if value == "T" else value for name, value in can.items()}
    answer = at(make.dora()).post(reverse("delivery-new"), sheet(can))
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert not Delivery.objects.exists()


def test_the_same_sheet_sent_twice_is_one_delivery():
    carry()
    keeper, sent = at(make.dora()), sheet({"volume": "8", "tank": make.tank().pk})
    assert keeper.post(reverse("delivery-new"), sent).status_code == 302
    assert keeper.post(reverse("delivery-new"), sent).status_code == 302
    assert Delivery.objects.count() == 1
    assert balance_ml(hands_of(make.bob(), make.season())) == 0


def test_a_volunteer_sees_own_receipts_only_and_accepts_nothing():
    carry()
    at(make.dora()).post(reverse("delivery-new"), sheet({"volume": "8", "tank": make.tank().pk}))
    receipt = reverse("delivery", args=[Delivery.objects.get().pk])
    assert at(make.bob()).get(receipt).status_code == 200
    assert at(make.mira()).get(receipt).status_code == 404
    assert at(make.bob()).get(reverse("delivery-new")).status_code == 403
    assert at(make.charlie()).get(reverse("deliveries")).status_code == 403
    make.bob().memberships.update(date_to=make.today() - make.days(1))
    assert at(make.bob()).get(receipt).status_code == 403


def test_a_tank_is_set_up_once_under_its_name():
    make.season()
    keeper = at(make.dora())
    sent = {"code": "B", "depot": make.depot().pk, "capacity": "200", "shown_units": "metric"}
    assert keeper.post(reverse("tank-new"), sent).status_code == 302
    assert Vessel.objects.get(code="B").capacity_ml == 200_000
    answer = keeper.post(reverse("tank-new"), {**sent, "code": "b"})
    assert answer.status_code == 422
    assert "already" in answer.content.decode()


def test_the_tanks_page_shows_litres_sugar_and_the_syrup_to_expect():
    make.season()
    keeper = at(make.dora())
    keeper.post(
        reverse("delivery-new"),
        sheet(
            {"volume": "20", "sugar": "2.0", "tank": make.tank().pk},
            {"volume": "20", "sugar": "2.0", "tank": make.tank().pk, "container_text": "P-07"},
            explanation="no entries in this test",
            approved_by=make.alice().pk,
        ),
    )
    page = keeper.get(reverse("tanks")).content.decode()
    assert "40.00" in page
    assert "0.92" in page
    assert "43.4" in page


@pytest.mark.parametrize("name", ["deliveries", "tanks", "boil-days", "delivery-new", "boil-day-new", "tank-new"])
def test_before_a_season_the_pages_say_what_comes_first(name):
    make.programme()
    page = at(make.alice()).get(reverse(name))
    assert page.status_code == 200
    assert "No season is open" in page.content.decode()


def test_a_long_list_of_deliveries_asks_no_more_than_a_short_one(django_assert_max_num_queries):
    make.season()
    keeper = at(make.dora())
    for _ in range(8):
        keeper.post(
            reverse("delivery-new"),
            sheet({"volume": "1", "tank": make.tank().pk}, explanation="no entries in this test"),
        )
    with django_assert_max_num_queries(16):
        keeper.get(reverse("deliveries"))
