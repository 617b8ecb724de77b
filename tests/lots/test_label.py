"""The label of a lot: its code, and a square that opens whose sap is in it."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from sugarbush.volunteers.models import Person
from tests import make
from tests.lots import syrup
from tests.squares import leads_to

pytestmark = [pytest.mark.django_db, pytest.mark.heavy]


def test_a_lots_label_opens_the_trace_for_those_who_may_and_the_lot_for_others() -> None:
    lot = syrup.packed()

    def signed_in(person: Person) -> Client:
        client = Client()
        client.force_login(person)
        return client

    scan = reverse("lot-scan", args=[lot.pk])
    page = signed_in(make.bob()).get(reverse("lot-label", args=[lot.pk])).content.decode()
    assert leads_to(page, "http://testserver" + scan) == page.count("<article") == 8
    assert page.count(f">{lot.code}<") == 8
    assert "Not to be handed out" in page
    assert signed_in(make.kai()).get(scan)["Location"] == f"{reverse('trace')}?lot={lot.pk}"
    assert signed_in(make.bob()).get(scan)["Location"] == reverse("lot", args=[lot.pk])
    assert signed_in(make.charlie()).get(scan).status_code == 403
    assert "/sign-in/" in Client().get(scan)["Location"]
