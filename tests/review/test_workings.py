"""The season's figures open their working: the sum, where it comes from, how sure it is."""

from __future__ import annotations

import html
import re

import pytest
from django.test import Client
from django.urls import reverse

from sugarbush.review import chart
from sugarbush.review.counting import Sums
from sugarbush.review.totals import DayRow
from sugarbush.weather.models import WeatherDay
from tests import make

pytestmark = pytest.mark.django_db


@pytest.fixture
def page(small) -> str:
    client = Client()
    client.force_login(small.alice)
    answer = client.get(reverse("season-review"))
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", answer.content.decode())).replace("\xa0", " "))


def test_each_figure_at_the_head_opens_its_working(page):
    for name in (
        "sap for each tap",
        "sap for one of syrup",
        "lost on the way",
        "syrup against what its sugar promised",
    ):
        assert f"How this was worked out: {name}" in page


def test_the_ratio_is_named_measured_and_the_promise_second_hand(page):
    assert "Measured, not reckoned" in page
    # The density's coefficients are second-hand, so the promise may not be shown as checked.
    assert "Sap for one volume of syrup" in page
    assert "Second-hand, not checked" in page


def test_the_programmes_own_litres_come_before_the_published_ones(page):
    assert "measured by this programme" in page
    # 5 to 15 US gallons are 18.93 to 56.78 L (231 cubic inches each); the core keeps them as 19 to 57.
    assert "19.00 L to 57.00 L a season, second-hand" in page


def test_a_freeze_thaw_count_never_stands_without_its_definition(page):
    assert "Passes 0 °C: Ouranos, freeze-thaw event" in page


def test_without_weather_no_count_is_shown(small):
    WeatherDay.objects.all().delete()
    client = Client()
    client.force_login(small.alice)
    page = client.get(reverse("season-review")).content.decode()
    assert "No weather of these days is written down." in page
    assert "Passes 0 °C" not in page


def test_a_chart_without_weather_has_no_empty_band():
    row = DayRow(day=make.today(), sums=Sums(out_ml=5_000))
    bare = chart.draw([row], "metric")
    assert bare is not None
    assert bare.height < chart.WARM
    row.low_c, row.high_c, row.crosses = -5.0, 6.0, True
    drawn = chart.draw([row], "metric")
    assert drawn is not None
    assert drawn.height == chart.HEIGHT
