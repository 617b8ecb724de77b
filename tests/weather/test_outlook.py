"""What the weather page says of tomorrow, of freeze-thaw days and of the order in which the species end."""

from __future__ import annotations

import datetime as dt
import html
import re
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from sugarbush.core.weather import DEFINITIONS
from sugarbush.weather import outlook
from sugarbush.weather.models import WeatherDay
from tests import make

pytestmark = pytest.mark.django_db


def day(on: dt.date, low: str, high: str, source: str = "measured") -> WeatherDay:
    return WeatherDay.objects.create(day=on, source=source, low_c=Decimal(low), high_c=Decimal(high))


def said(person, address: str) -> str:
    client = Client()
    client.force_login(person)
    page = html.unescape(re.sub(r"<[^>]+>", " ", client.get(address).content.decode()))
    return re.sub(r"\s+", " ", page.replace("\xa0", " "))


@pytest.mark.parametrize("page", ["weather", "today"])
@pytest.mark.parametrize(
    ("low", "high", "word"),
    # UVM Extension slides [R]: lows in the 20s °F; Ouranos [R]: passes 0 °C; over 4 °C by day, as quoted by Houle [R].
    [("-5", "6", "good"), ("-1", "6", "some"), ("-5", "3", "some"), ("1", "8", "quiet"), ("-8", "-1", "quiet")],
)
def test_tomorrows_run_is_rated_from_the_forecast_with_its_working(page, low, high, word):
    make.programme()
    make.season(state="running")
    day(make.today() + make.days(1), low, high, "forecast")
    # A measured day of the same date would be a slip; only a forecast speaks of tomorrow.
    text = said(make.alice(), reverse(page))
    assert re.search(rf"Tomorrow’s run, [^:]+: {word}\.", text)
    assert "Passes 0 °C: Ouranos, freeze-thaw event" in text
    assert "from −6.7 °C to under −1.1 °C" in text


@pytest.mark.parametrize("page", ["weather", "today"])
def test_without_a_forecast_the_page_says_how_to_enter_one(page):
    make.programme()
    make.season(state="running")
    day(make.today() + make.days(2), "-5", "6", "forecast")
    assert "No forecast for tomorrow" in said(make.alice(), reverse(page))
    client = Client()
    client.force_login(make.alice())
    on = (make.today() + make.days(1)).isoformat()
    way = f"{reverse('weather')}?day={on}&source=forecast"
    assert html.escape(way) in client.get(reverse(page)).content.decode()
    form = client.get(way).context["form"]
    assert (form["day"].value(), form["source"].value()) == (on, "forecast")


def test_a_reader_who_may_not_write_is_told_who_may():
    assert "A group lead can write it down." in said(make.bob(), reverse("weather"))


def test_each_definition_counts_for_itself():
    # Five days by hand: (-5, 6) passes all six; (-1, 3.5) only the two at 0 °C ... see each line.
    rows = [
        day(make.today() - make.days(n), low, high)
        for n, (low, high) in enumerate(
            [
                ("-5", "6"),  # A B B2 C D E
                ("-1", "3.5"),  # A E
                ("-2.5", "2.5"),  # A B2 D
                ("1", "8"),  # E
                ("-9", "-1"),  # none
            ]
        )
    ]
    assert {one.key: one.days for one in outlook.counts(rows)} == {"A": 3, "B": 1, "B2": 2, "C": 1, "D": 2, "E": 3}
    assert set(DEFINITIONS) == {"A", "B", "B2", "C", "D", "E"}


def test_the_species_of_the_programme_stand_in_the_order_in_which_they_end():
    make.season()
    for botanical, common in (("Acer saccharum", "sugar maple"), ("Acer rubrum", "red maple")):
        kind = make.species(botanical=botanical, common=common)
        make.tree(species=kind, shown_state=4)
    today = make.today()
    # (10 + 20) / 2 = 15 °C is 59 °F: 9 °F days over 50 °F each; four of them are 36, within 10 of red maple's 44.
    for n in range(4):
        day(today - make.days(n), "10", "20")
    found = outlook.endings(today)
    assert [row.botanical for row in found.rows] == ["Acer rubrum", "Acer saccharum"]
    assert found.sum_f == pytest.approx(36)
    assert [row.where for row in found.rows] == ["near: look at the buds", "still ahead"]
    text = said(make.alice(), reverse("weather"))
    assert "36 °F days of base 50 °F (10 °C) since 1 January, from the 4 of" in text
    assert "Second-hand, not checked" in text


def test_a_measured_day_comes_before_its_forecast_in_the_sum():
    on = make.today() - make.days(1)
    day(on, "10", "30", "forecast")
    day(on, "0", "5")
    assert [row.source for row in outlook.best_known(on.year, make.today())] == ["measured"]
