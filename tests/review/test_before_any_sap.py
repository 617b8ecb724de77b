"""The season's page before there is anything on it."""

from __future__ import annotations

import pytest
from django.urls import reverse

from tests import make
from tests.review.test_small_season import in_as, page, table

pytestmark = pytest.mark.django_db


def test_no_season_says_so():
    make.programme()
    answer = in_as(make.alice()).get(reverse("season-review"))
    assert answer.status_code == 200
    assert "No season yet." in answer.content.decode()
    assert in_as(make.alice()).get(reverse("season-csv", args=["by-day"])).status_code == 404


def test_an_empty_season_says_what_will_gather_here():
    make.season()
    assert "No sap yet." in page(make.alice())
    assert table(make.alice(), "by-day") == []


@pytest.mark.parametrize("year", ["1999", "abc", "-1", "99999999999999999999", "２０２５"])
def test_a_year_nobody_knows_is_not_found(year):
    make.season()
    assert in_as(make.alice()).get(reverse("season-review"), {"year": year}).status_code == 404
