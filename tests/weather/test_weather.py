"""A day's coldest and warmest, typed in the person's units."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from sugarbush.audit.models import AuditEvent
from sugarbush.volunteers.models import Person
from sugarbush.weather.models import WeatherDay
from tests import make

pytestmark = pytest.mark.django_db
DAY = {"day": "2026-03-02", "source": "measured", "low_c": "-4", "high_c": "6", "note": ""}


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def test_a_day_is_kept_in_celsius_whatever_it_was_typed_in() -> None:
    ulla = make.person("Ulla", "lead", units="us")
    client = signed_in(ulla)
    assert client.post(reverse("weather"), {**DAY, "low_c": "23", "high_c": "41"}).status_code == 302
    kept = WeatherDay.objects.get()
    # 23 °F = (23 - 32) * 5 / 9 = -5.0 °C, 41 °F = 5.0 °C (definition of the Fahrenheit scale)
    assert (kept.low_c, kept.high_c, kept.entered_by) == (Decimal("-5.0"), Decimal("5.0"), ulla)
    assert "23.0" in client.get(reverse("weather")).content.decode()
    assert "−5.0" in signed_in(make.lena()).get(reverse("weather")).content.decode()


@pytest.mark.parametrize(
    ("low", "high", "passes"), [("-0.1", "0.1", "yes"), ("0", "5", "no"), ("-5", "0", "no"), ("-5", "6", "yes")]
)
def test_a_day_passes_freezing_when_it_is_below_and_above_zero(low: str, high: str, passes: str) -> None:
    """Ouranos, freeze-thaw event: lowest below 0 °C and highest above 0 °C on the same day."""
    client = signed_in(make.lena())
    client.post(reverse("weather"), {**DAY, "low_c": low, "high_c": high})
    rows = client.get(reverse("weather")).context["rows"]
    assert [row["passes"] for row in rows] == [passes == "yes"]


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"low_c": "6", "high_c": "-4"}, "Were they swapped?"),
        ({"low_c": "-90"}, "Please look"),
        ({"high_c": "warm"}, "read as a number"),
        ({"day": "2126-03-02"}, "still to come"),
        ({"day": "2126-03-02", "source": "forecast"}, "No forecast reaches"),
        ({"day": ""}, "This answer is needed"),
        ({"day": "1026-03-02"}, "Is the year right?"),
        ({"source": "guessed"}, "Select a valid choice"),
    ],
)
def test_what_cannot_be_is_named_and_the_rest_is_kept(changes: dict[str, str], sentence: str) -> None:
    answer = signed_in(make.lena()).post(reverse("weather"), {**DAY, "note": "north wall", **changes})
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert 'value="north wall"' in answer.content.decode()
    assert not WeatherDay.objects.exists()


def test_a_day_that_is_there_is_replaced_only_when_that_is_meant() -> None:
    client = signed_in(make.lena())
    client.post(reverse("weather"), DAY)
    assert client.post(reverse("weather"), DAY).status_code == 302  # the same again is no question
    answer = client.post(reverse("weather"), {**DAY, "high_c": "9"})
    assert answer.status_code == 422
    (question,) = answer.context["form"].questions
    assert "4.0\u00a0°C to 6.0\u00a0°C" in question.sentence
    assert WeatherDay.objects.get().high_c == 6
    assert client.post(reverse("weather"), {**DAY, "high_c": "9", "stands": question.answer}).status_code == 302
    assert WeatherDay.objects.get().high_c == 9
    event = AuditEvent.objects.filter(act="write weather").first()
    assert event is not None
    assert event.old["high_c"] == "6.0"


def test_a_forecast_stands_beside_what_was_measured() -> None:
    client = signed_in(make.lena())
    client.post(reverse("weather"), DAY)
    assert client.post(reverse("weather"), {**DAY, "source": "forecast", "high_c": "8"}).status_code == 302
    assert WeatherDay.objects.count() == 2


def test_volunteers_read_it_strangers_do_not_and_a_reviewer_writes_nothing() -> None:
    for person, reading in ((make.bob(), 200), (make.rhea(), 200), (make.charlie(), 403)):
        client = signed_in(person)
        assert client.get(reverse("weather")).status_code == reading
        assert client.post(reverse("weather"), DAY).status_code == 403
    assert not WeatherDay.objects.exists()


def test_many_days_ask_no_more_questions_than_few() -> None:
    client = signed_in(make.lena())

    def days(start: int, count: int) -> None:
        first = timezone.localdate() - dt.timedelta(days=start)
        WeatherDay.objects.bulk_create(
            WeatherDay(day=first - dt.timedelta(days=n), low_c=-3, high_c=4, entered_by=make.lena())
            for n in range(count)
        )

    days(0, 2)
    with CaptureQueriesContext(connection) as few:
        client.get(reverse("weather"))
    days(10, 200)
    with CaptureQueriesContext(connection) as many:
        assert client.get(reverse("weather")).status_code == 200
    assert len(many) == len(few)
