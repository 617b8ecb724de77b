"""What is kept about people: said to everybody, with the lengths and roles the programme works with."""

from __future__ import annotations

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse

from sugarbush.desk.privacy import kept
from sugarbush.phone.pack import GOOD_DAYS

pytestmark = pytest.mark.django_db


def test_everybody_reads_what_is_kept_why_how_long_and_who_sees_it():
    page = Client().get(reverse("privacy")).content.decode()
    rows = kept.table()
    assert all(text in page for row in rows for text in (row.what.split("’")[0], row.how_long.split("’")[0]))
    assert all(row.why and row.how_long and row.who for row in rows)
    assert f"put away after {GOOD_DAYS} days without contact" in page
    assert f"{settings.SESSION_COOKIE_AGE // kept.DAY_S} days at most" in page
    assert kept.seen_by("contact.see") == "Coordinator, group lead"
    assert reverse("privacy") in Client().get(reverse("about")).content.decode().split("<footer")[1]
