"""A second person's approval is that person's own word."""

from __future__ import annotations

import pytest
from django.core.exceptions import PermissionDenied
from django.test import Client
from django.urls import reverse

from sugarbush.audit.models import AuditEvent
from sugarbush.boils import approvals
from sugarbush.boils.actions import Differs, Line, accept_delivery
from sugarbush.boils.closing import approvals_open
from sugarbush.parts.reasons import Refused
from tests import make

pytestmark = pytest.mark.django_db


def large(**how):
    make.collection(litres=8)
    line = Line(volume_ml=40_000, tank=make.tank(), container=make.container())
    told = {"explanation": "Five trees never logged.", "approved_by": make.alice(), **how}
    return accept_delivery(depot=make.depot(), person=make.bob(), keeper=make.dora(), lines=[line], **told)


def only_act():
    return approvals.named(make.season()).get()


@pytest.mark.parametrize("who", [None, "dora", "bob"])
def test_neither_nobody_nor_the_keeper_nor_the_carrier_approves(who):
    make.person("Bob", "coordinator", None)
    make.person("Dora", "coordinator", None)
    with pytest.raises(Differs) as differs:
        large(approved_by=getattr(make, who)() if who else None)
    assert differs.value.reasons[0].code == "approve"


def test_the_named_person_is_asked_and_confirms():
    delivery = large()
    alice = Client()
    alice.force_login(make.alice())
    assert "names you" in alice.get(reverse("deliveries")).content.decode()
    assert "Five trees never logged." in alice.get(reverse("approvals")).content.decode()
    assert "not confirmed yet" in alice.get(reverse("delivery", args=[delivery.pk])).content.decode()
    sent = {"act": only_act().pk, "answer": "yes"}
    assert [alice.post(reverse("approvals"), sent).status_code for _ in range(2)] == [302, 302]
    assert "Nothing waits for you." in alice.get(reverse("approvals")).content.decode()
    assert "not confirmed" not in alice.get(reverse("delivery", args=[delivery.pk])).content.decode()
    assert AuditEvent.objects.filter(act=approvals.CONFIRMED).count() == 1
    assert approvals_open(make.season()) == []


def test_what_is_not_so_needs_words_and_stands_on_the_receipt():
    delivery = large()
    with pytest.raises(Refused):
        approvals.answer(act=only_act(), by=make.alice(), confirmed=False)
    approvals.answer(act=only_act(), by=make.alice(), confirmed=False, words="I was not there.")
    keeper = Client()
    keeper.force_login(make.dora())
    assert "I was not there." in keeper.get(reverse("delivery", args=[delivery.pk])).content.decode()
    assert "Alice" in approvals_open(make.season())[0].fact
    approvals.answer(act=only_act(), by=make.alice(), confirmed=True)
    assert approvals_open(make.season()) == []


@pytest.mark.parametrize("who", ["dora", "bob", "lena"])
def test_nobody_answers_for_the_named_person(who):
    large()
    with pytest.raises(PermissionDenied):
        approvals.answer(act=only_act(), by=getattr(make, who)(), confirmed=True)
    other = Client()
    other.force_login(getattr(make, who)())
    assert other.post(reverse("approvals"), {"act": only_act().pk, "answer": "yes"}).status_code == 404


def test_a_season_waits_for_the_named_persons_word():
    large()
    reason = approvals_open(make.season())[0]
    assert reason.code == "approvals"
    assert reason.next_url == reverse("approvals")
