"""Accepting at the depot: safe containers, parts turned away, weights, times, and numbers that look odd."""

from __future__ import annotations

import datetime as dt
import uuid
from decimal import Decimal

import iapws
import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from sugarbush.boils.actions import Differs, Line, accept_delivery
from sugarbush.boils.models import Delivery
from sugarbush.boils.weighing import weighed
from sugarbush.parts.reasons import Refused
from sugarbush.sap.ledger import balance_ml, chain, hands_of, totals_by_cause
from sugarbush.sap.models import Act, ActKind, Cause
from tests import make

pytestmark = pytest.mark.django_db
HOUR = dt.timedelta(hours=1)


@pytest.fixture
def keeper():
    client = Client()
    client.force_login(make.dora())
    return client


def carry(litres=8, **how):
    left, tree = Decimal(str(litres)), make.tapped_tree()
    while left > 0:
        make.collection(tree, litres=min(left, Decimal(8)), **how)
        left -= 8


def bring(*lines, **how):
    defaults = {"depot": make.depot(), "person": make.bob(), "keeper": make.dora()}
    return accept_delivery(lines=lines, **{**defaults, **how})


def line(litres, code="P-01", tank=None, food_safe="yes", **more):
    ml = int(Decimal(str(litres)) * 1000)
    return Line(volume_ml=ml, tank=tank or make.tank(), container=make.container(code, food_safe=food_safe), **more)


def sheet(*cans, **changes):
    make.container("P-01")
    rows = [{"container_text": "P-01", **can} for can in cans]
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
        data |= {f"form-{n}-{name}": value for name, value in {"look": "clear", **row}.items()}
    return data


# Containers -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("food_safe", "said"), [("untested", "have the container tested"), ("no", "Turn its sap away")]
)
def test_sap_from_a_container_not_known_to_be_safe_goes_in_no_tank(food_safe, said):
    carry()
    with pytest.raises(Refused) as refused:
        bring(line(8, "P-99", food_safe=food_safe))
    reason = refused.value.reasons[0]
    assert reason.code == "food"
    assert said in reason.next_text
    assert reason.next_url == reverse("container", args=[make.container("P-99").pk])
    assert balance_ml(make.tank()) == 0


def test_an_unknown_code_leads_to_the_list_of_containers(keeper):
    carry()
    answer = keeper.post(
        reverse("delivery-new"), sheet({"container_text": "Z-9", "volume": "8", "tank": make.tank().pk})
    )
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "Z-9 is in no list" in page
    assert reverse("container-new") in page
    assert 'value="Z-9"' in page


def test_its_sap_can_always_be_turned_away():
    carry()
    bring(Line(volume_ml=8_000, reject_reason="container not known to be food-safe", container_text="Z-9"))
    assert totals_by_cause(make.season())[Cause.REJECTED] == 8_000


def test_codes_are_found_however_they_are_typed(keeper):
    carry()
    sent = sheet({"container_text": "p-01", "volume": "8", "tank": make.tank().pk})
    assert keeper.post(reverse("delivery-new"), sent).status_code == 302
    assert Delivery.objects.get().lines.get().container.code == "P-01"


# Part of a container ----------------------------------------------------------------


def test_part_of_a_container_goes_in_the_tank_the_rest_is_turned_away(keeper):
    carry()
    can = {"volume": "8", "tank": make.tank().pk, "reject_reason": "cloudy", "away": "3"}
    answer = keeper.post(reverse("delivery-new"), sheet(can))
    assert answer.status_code == 302
    assert balance_ml(make.tank()) == 5_000
    assert totals_by_cause(make.season())[Cause.REJECTED] == 3_000
    receipt = keeper.get(answer["Location"]).content.decode()
    assert receipt.count("P-01") >= 2
    assert "turned away: cloudy" in receipt
    assert chain(make.season()).closes


@pytest.mark.parametrize(
    ("can", "said"),
    [
        ({"tank": "T", "reject_reason": "cloudy"}, "say how much of it is turned away"),
        ({"tank": "T", "reject_reason": "cloudy", "away": "8"}, "only"),
        ({"tank": "T", "away": "3"}, "say why this part"),
        ({"reject_reason": "cloudy", "away": "3"}, "Choose the tank of the rest"),
    ],
)
def test_half_said_parts_get_a_sentence(keeper, can, said):
    carry()
    can = {name: make.tank().pk if value == "T" else value for name, value in can.items()}
    answer = keeper.post(reverse("delivery-new"), sheet({"volume": "8", **can}))
    assert answer.status_code == 422
    assert said in answer.content.decode()


# Weight ----------------------------------------------------------------------------


def test_water_by_weight_is_its_volume_by_the_steam_tables():
    # IAPWS-95 through the iapws package, outside this project: density of water at 4 °C and one atmosphere.
    density = iapws.IAPWS95(T=277.15, P=0.101325).rho
    found = weighed(20_000, Decimal(0), Decimal("4.0"))
    assert found.density_kg_m3 == pytest.approx(density, abs=0.01)
    assert found.volume_ml == round(20_000 / density * 1000)


def test_sap_by_weight_is_reckoned_at_its_own_sugar():
    # 2 °Brix at 20 °C: 1005.961 kg/m³, table 2.2 of the trade facts [C]; a handbook's 1.00775 SG 20/20 agrees.
    assert weighed(20_000, Decimal(2), Decimal(20)).volume_ml == round(20_000 / 1005.961 * 1000)


def test_the_receipt_says_the_density_that_was_used(keeper):
    carry(16)
    answer = keeper.post(
        reverse("delivery-new"),
        sheet({"mass": "16.1", "sugar": "2.0", "temperature": "4", "tank": make.tank().pk}, all_of_it="on"),
    )
    assert answer.status_code == 302
    receipt = keeper.get(answer["Location"]).content.decode()
    assert "1.0079\u00a0kg/L" in receipt
    assert "How this was worked out" in receipt
    assert "16.100 kg ÷ 1.0079 kg/L" in receipt


# Odd numbers -------------------------------------------------------------------------


def test_gallons_typed_as_litres_are_asked_about(keeper):
    carry(40)
    # 40 L is 10.57 US gal: NIST Special Publication 811, appendix B.
    sent = sheet({"volume": "10.57", "tank": make.tank().pk})
    answer = keeper.post(reverse("delivery-new"), sent)
    page = answer.content.decode()
    assert answer.status_code == 409
    assert "Litres and gallons mixed up?" in page
    assert not Delivery.objects.exists()
    assert keeper.post(reverse("delivery-new"), sent | {"stands": "unit-slip:40000:10570"}).status_code == 302


def test_litres_typed_as_gallons_offer_what_was_probably_meant():
    carry(8)
    pia = make.person("Pia", "depot_keeper", None, units="us")
    client = Client()
    client.force_login(pia)
    sent = sheet({"volume": "8", "tank": make.tank().pk}, shown_units="us") | {"form-0-shown_units": "us"}
    answer = client.post(reverse("delivery-new"), sent)
    assert answer.status_code == 422
    assert "Change it to 8 L" in answer.content.decode()
    assert client.post(reverse("delivery-new"), sent | {"form-0-instead": "volume=8 L"}).status_code == 302
    assert balance_ml(make.tank()) == 8_000


def test_more_than_the_container_holds_is_asked_about(keeper):
    carry(24)
    sent = sheet({"volume": "24", "tank": make.tank().pk})
    answer = keeper.post(reverse("delivery-new"), sent)
    assert answer.status_code == 422
    assert "which holds 20.00\u00a0L" in answer.content.decode()
    assert keeper.post(reverse("delivery-new"), sent | {"form-0-stands": "more-than-it-holds:24000"}).status_code == 302


@pytest.mark.parametrize(("answer_with", "left_ml"), [({"instead": "all_of_it=on"}, 0), ({"stands": "S"}, 200)])
def test_a_small_rest_in_the_hands_is_asked_about(keeper, answer_with, left_ml):
    # Left alone it would make every later delivery of this person as old as its oldest drop.
    carry(8)
    sent = sheet({"volume": "7.8", "tank": make.tank().pk})
    answer = keeper.post(reverse("delivery-new"), sent)
    assert answer.status_code == 409
    assert "Was that all?" in answer.content.decode()
    answers = {name: "small-rest:8000:7800" if value == "S" else value for name, value in answer_with.items()}
    assert keeper.post(reverse("delivery-new"), sent | answers).status_code == 302
    assert balance_ml(hands_of(make.bob(), make.season())) == left_ml


# Times ------------------------------------------------------------------------------


def test_a_delivery_dated_before_its_collection_is_refused_at_the_desk_and_nothing_is_lost(keeper):
    carry(8, happened_at=timezone.now() - HOUR)
    sent = sheet(
        {"volume": "8", "tank": make.tank().pk},
        when=(timezone.now() - 5 * HOUR).strftime("%Y-%m-%dT%H:%M"),
        note="by the gate",
    )
    answer = keeper.post(reverse("delivery-new"), sent)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "was collected after this delivery" in page
    assert "by the gate" in page
    assert not Delivery.objects.exists()
    assert keeper.post(reverse("delivery-new"), sent | {"when": ""}).status_code == 302


def test_a_delivery_typed_in_late_leaves_what_was_collected_since_in_the_hands():
    carry(8, happened_at=timezone.now() - 6 * HOUR)
    carry(5, happened_at=timezone.now() - HOUR)
    delivery = bring(line("7.9"), all_of_it=True, happened_at=timezone.now() - 5 * HOUR)
    assert (delivery.held_ml, delivery.difference_ml) == (8_000, -100)
    assert balance_ml(hands_of(make.bob(), make.season())) == 5_000


def test_a_time_to_come_is_refused():
    carry()
    with pytest.raises(Refused) as refused:
        bring(line(8), happened_at=timezone.now() + HOUR)
    assert refused.value.reasons[0].code == "future"


# Too full, and why the measures differ -------------------------------------------------


def test_the_reason_for_a_full_tank_stands_apart_from_why_the_measures_differ():
    carry(8)
    tank = make.tank("small", capacity_ml=8_000)
    with pytest.raises(Refused) as refused:
        bring(line(9, tank=tank), explanation="Missed tree 12.")
    assert refused.value.reasons[0].code == "full"
    delivery = bring(line(9, tank=tank), explanation="Missed tree 12.", overfill_reason="The mark is low.")
    act = Act.objects.get(kind=ActKind.DELIVER)
    assert (act.reason, act.overfill_reason) == ("Missed tree 12.", "The mark is low.")
    assert delivery.explanation == "Missed tree 12."


def test_a_reason_for_a_tank_that_is_not_full_is_not_kept():
    carry(8)
    bring(line(8), overfill_reason="The mark is low.")
    assert Act.objects.get(kind=ActKind.DELIVER).overfill_reason == ""


def test_explained_or_not_more_than_was_held_is_never_silent():
    carry(8)
    with pytest.raises(Differs):
        bring(line(9))


# The form and the receipt ----------------------------------------------------------------


def test_more_containers_without_script_lose_nothing(keeper):
    carry()
    sent = sheet(
        {"volume": "8 L, I think", "sugar": "2.1", "tank": make.tank().pk}, note="cold", more="1", all_of_it="on"
    )
    answer = keeper.post(reverse("delivery-new"), sent)
    page = answer.content.decode()
    assert answer.status_code == 200
    assert 'value="8 L, I think"' in page
    assert 'value="cold"' in page
    assert sent["delivery"] in page
    assert 'name="form-2-volume"' in page
    assert 'name="form-TOTAL_FORMS" value="3"' in page
    assert "Please look" not in page
    assert answer.context["form"]["all_of_it"].value() == "on"


def test_a_long_delivery_is_one_act(keeper):
    carry(40)
    sent = sheet(*({"volume": "4", "tank": make.tank().pk} for _ in range(10)))
    assert keeper.post(reverse("delivery-new"), sent).status_code == 302
    assert Delivery.objects.get().lines.count() == 10


def test_the_carrier_opens_the_receipt_and_sees_all_of_it(keeper):
    carry(8)
    answer = keeper.post(
        reverse("delivery-new"),
        sheet(
            {"volume": "5", "tank": make.tank().pk}, {"volume": "3", "look": "milky", "reject_reason": "milky or sour"}
        ),
    )
    bob = Client()
    bob.force_login(make.bob())
    page = bob.get(answer["Location"]).content.decode()
    for words in (
        str(Delivery.objects.get()),
        "turned away: milky or sour",
        "tank A",
        "This is your receipt",
        "data-print",
    ):
        assert words in page
    mira = Client()
    mira.force_login(make.mira())
    assert mira.get(answer["Location"]).status_code == 404
