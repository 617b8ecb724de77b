"""The handbook page: every formula, and how far each source was checked."""

from __future__ import annotations

import html

import pytest
from django.test import Client
from django.urls import reverse

from sugarbush.core.handbook import ENTRIES

pytestmark = pytest.mark.django_db


@pytest.fixture
def page() -> str:
    return html.unescape(Client().get(reverse("handbook")).content.decode())


def test_every_formula_of_the_core_is_on_the_page(page):
    for entry in ENTRIES:
        assert f'id="{entry.where[0].replace(".", "-")}"' in page
        assert entry.title in page
        assert entry.standing in page


def test_what_is_second_hand_or_from_memory_carries_no_tick(page):
    assert page.count("✓") == sum(entry.checked for entry in ENTRIES)
    assert 0 < page.count("✓") < len(ENTRIES)


def test_a_panel_leads_to_an_entry_that_is_there(page):
    assert 'id="sugar-pool"' in page
