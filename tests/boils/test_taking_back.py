"""What was written of an open batch by mistake goes back; both lines stay on the record."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.core.management import call_command
from django.urls import reverse

from sugarbush.boils import pan, taking_back
from sugarbush.boils.batches import close_batch
from sugarbush.boils.draw_offs import draw_off, lose
from sugarbush.boils.models import BatchState
from sugarbush.boils.models_pan import DrawOff
from sugarbush.parts.reasons import Refused
from sugarbush.sap.ledger import balance_ml, chain
from sugarbush.sap.models import Act, ActKind, Movement
from tests import make
from tests.boils.cast import at, open_pan, token

pytestmark = pytest.mark.django_db


def drawn(batch, ml=9_000):
    return draw_off(batch=batch, by=make.kai(), syrup_ml=ml, syrup_brix=Decimal("66.0"))


def test_nine_litres_typed_for_nine_tenths_go_back_and_the_batch_closes_on_the_right_ones():
    batch = open_pan(40, "2.0")
    wrong = drawn(batch)
    lead, back = at(make.kai()), reverse("pan-back", args=[batch.pk, wrong.act_id])
    assert "9.000" in lead.get(back).content.decode()
    assert lead.post(back, {"reason": "", "token": token()}).status_code == 422
    sent = {"reason": "0.9 L, not 9", "token": token()}
    assert [lead.post(back, sent).status_code for _ in range(2)] == [302, 302]
    assert (balance_ml(batch.pan), balance_ml(wrong.lot)) == (40_000, 0)
    assert lead.post(back, {**sent, "token": token()}).status_code == 409
    right = draw_off(batch=batch, by=make.kai(), syrup_ml=900, syrup_brix=Decimal("66.4"), lot=wrong.lot)
    page = lead.get(reverse("batch", args=[batch.pk])).content.decode()
    assert "0.9 L, not 9" in page
    assert "taken back" in page
    assert list(DrawOff.objects.standing()) == [right]
    batch = close_batch(batch=batch, by=make.kai(), syrup_ml=0)
    assert (batch.state, batch.syrup_brix) == (BatchState.CLOSED, Decimal("66.4"))
    assert chain(batch.pan.season).closes
    # In the books: 9 L out of the pan, 9 L back, 0.9 L out, and the rest as steam; nothing was deleted.
    out = Movement.objects.filter(from_vessel=batch.pan).order_by("seq").values_list("volume_ml", flat=True)
    assert list(out) == [9_000, 900, 39_100]
    call_command("check_ledger")


def test_sap_of_the_wrong_tank_goes_back_and_the_sugar_forgets_it():
    batch = open_pan(40, "2.0")
    put_in = Act.objects.get(kind=ActKind.BOIL)
    lost = lose(batch=batch, by=make.kai(), volume_ml=500, cause="boil-over")
    with pytest.raises(Refused, match=r"holds 39\.500"):
        taking_back.take_back(batch=batch, act=put_in, by=make.kai(), reason="the other tank")
    spilled = Act.objects.get(kind=ActKind.DRAW_OFF)
    taking_back.take_back(batch=batch, act=spilled, by=make.kai(), reason="it was foam only")
    taking_back.take_back(batch=batch, act=put_in, by=make.kai(), reason="the other tank")
    assert (balance_ml(batch.pan), balance_ml(make.tank())) == (0, 40_000)
    assert pan.sugar_in(batch) == (0, 0.0, 0)
    assert pan.sugar_promise(batch) == 0
    assert lost.pk in batch.readings.values_list("pk", flat=True)


def test_packed_syrup_closed_batches_and_other_peoples_acts_stay():
    batch = open_pan(40, "2.0")
    first = drawn(batch, 900)
    first.lot.shut_at = first.happened_at
    first.lot.save()
    with pytest.raises(Refused, match="is packed"):
        taking_back.take_back(batch=batch, act=first.act, by=make.kai(), reason="wrong")
    collected = Act.objects.filter(kind=ActKind.COLLECT).first()
    assert at(make.kai()).get(reverse("pan-back", args=[batch.pk, collected.pk])).status_code == 404
    assert at(make.bob()).get(reverse("pan-back", args=[batch.pk, first.act_id])).status_code == 403
    close_batch(batch=batch, by=make.kai(), syrup_ml=0)
    with pytest.raises(Refused, match="This batch is closed"):
        taking_back.take_back(batch=batch, act=first.act, by=make.kai(), reason="wrong")
