"""Pages and answers that need nobody signed in."""

from __future__ import annotations

import pytest
from django.db import OperationalError
from django.test import Client

from tests import make

pytestmark = pytest.mark.django_db


def test_the_server_says_it_lives_without_asking_the_database(
    client: Client, django_assert_num_queries: object
) -> None:
    with django_assert_num_queries(0):  # type: ignore[operator]
        answer = client.get("/healthz")
    assert (answer.status_code, answer.content) == (200, b"alive\n")
    assert "no-store" in answer["Cache-Control"]


def test_it_is_ready_when_the_database_is_up_to_date(client: Client) -> None:
    assert client.get("/readyz").status_code == 200


def test_it_is_not_ready_while_the_database_does_not_answer(client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(*_args: object) -> None:
        raise OperationalError("gone")

    monkeypatch.setattr("sugarbush.desk.views_plain.MigrationExecutor", fails)
    answer = client.get("/readyz")
    assert (answer.status_code, answer.content) == (503, b"not ready: the database does not answer\n")


def test_the_cautions_and_the_programmes_own_rules_are_read_by_anybody(client: Client) -> None:
    make.programme(local_rules="Ask the fire hall <first>.", phone="555 0100")
    page = client.get("/cautions/").content.decode()
    # common practice, no source: the hazards a page about tapping and boiling must name
    for hazard in ("no ladder", "traffic", "Carbon monoxide", "Hot syrup", "lead", "licensed", "eye protection"):
        assert hazard in page
    assert "Ask the fire hall &lt;first&gt;." in page
    assert client.get("/about/").status_code == 200


def test_a_page_that_is_not_there_says_what_to_do(client: Client) -> None:
    answer = client.get("/no-such-page/")
    assert answer.status_code == 404
    assert "Check the address" in answer.content.decode()
