"""Sap that somebody else carries on keeps its sugar and its age, and its litres are counted once."""

from __future__ import annotations

import uuid

import pytest
from django.core.exceptions import PermissionDenied
from django.test import Client
from django.urls import reverse

from sugarbush.boils.handover import hand_over
from sugarbush.parts.reasons import Refused
from sugarbush.sap.ages import oldest_in
from sugarbush.sap.ledger import balance_ml, chain, hands_of
from sugarbush.sap.models import Act, ActKind, Movement
from sugarbush.sap.tanks import tank_state
from tests import make

pytestmark = pytest.mark.django_db


def at(person) -> Client:
    client = Client()
    client.force_login(person)
    return client


@pytest.fixture
def entry():
    """Bob carries 8 L of 2.4 Brix."""
    return make.collection(litres=8, brix="2.4")


def hands(person):
    return hands_of(person, make.season())


def tam():
    return make.person("Tam", "volunteer", "North Bank")


def test_either_of_the_two_hands_it_over_with_sugar_and_age(entry):
    hand_over(giver=make.bob(), taker=tam(), volume_ml=5_000, by=make.bob())
    hand_over(giver=make.bob(), taker=tam(), volume_ml=3_000, by=tam())
    assert (balance_ml(hands(make.bob())), balance_ml(hands(tam()))) == (0, 8_000)
    assert tank_state(hands(tam())).sugar_brix == pytest.approx(2.4, abs=0.001)
    assert oldest_in([hands(tam())])[hands(tam()).pk].at == entry.happened_at
    assert chain(make.season()).closes


def test_a_depot_keeper_writes_it_down_for_others(entry):
    act = hand_over(giver=make.bob(), taker=make.mira(), volume_ml=8_000, by=make.dora())
    assert (act.kind, act.author, act.person) == (ActKind.HAND_OVER, make.dora(), make.bob())


def test_nobody_hands_over_what_two_others_carry(entry):
    with pytest.raises(PermissionDenied):
        hand_over(giver=make.bob(), taker=make.mira(), volume_ml=1_000, by=tam())


@pytest.mark.parametrize(("ml", "taker", "code"), [(8_001, "Tam", "short"), (1_000, "Bob", "same")])
def test_no_more_than_is_held_and_never_to_oneself(entry, ml, taker, code):
    with pytest.raises(Refused) as refused:
        hand_over(giver=make.bob(), taker=tam() if taker == "Tam" else make.bob(), volume_ml=ml, by=make.bob())
    assert refused.value.reasons[0].code == code
    assert balance_ml(hands(make.bob())) == 8_000


def test_the_form_sent_twice_hands_over_once(entry):
    sent = {
        "act": str(uuid.uuid4()),
        "giver": make.bob().pk,
        "taker": tam().pk,
        "volume": "3",
        "shown_units": "metric",
    }
    bob = at(make.bob())
    assert [bob.post(reverse("hand-over"), sent).status_code for _ in range(2)] == [302, 302]
    assert Act.objects.filter(kind=ActKind.HAND_OVER).count() == 1
    assert balance_ml(hands(tam())) == 3_000
    page = bob.get(reverse("hand-over")).content.decode()
    assert "You carry" in page
    assert "Tam" in page


def test_a_refusal_keeps_what_was_typed(entry):
    sent = {"act": str(uuid.uuid4()), "giver": make.bob().pk, "taker": tam().pk, "volume": "9", "note": "at the gate"}
    answer = at(make.bob()).post(reverse("hand-over"), sent | {"shown_units": "metric"})
    assert answer.status_code == 409
    assert "at the gate" in answer.content.decode()
    assert not Movement.objects.filter(act__kind=ActKind.HAND_OVER).exists()


def test_people_of_another_group_are_not_offered(entry):
    people = at(make.bob()).get(reverse("hand-over")).context["form"].fields["taker"].queryset
    make.mira()
    assert make.mira() not in people
    assert make.dora() in at(make.bob()).get(reverse("hand-over")).context["form"].fields["taker"].queryset


def test_what_was_handed_over_is_delivered_by_the_one_who_carries_it(entry):
    from sugarbush.boils.actions import Line, accept_delivery

    hand_over(giver=make.bob(), taker=tam(), volume_ml=8_000, by=make.bob())
    line = Line(volume_ml=8_000, tank=make.tank(), container=make.container())
    accept_delivery(depot=make.depot(), person=tam(), keeper=make.dora(), lines=[line])
    assert oldest_in([make.tank()])[make.tank().pk].at == entry.happened_at
