"""What the log tells of who came in and who was refused (OWASP ASVS 5.0: 16.2, 16.3, 16.4.1)."""

from __future__ import annotations

import logging
import re
import sys
from typing import Any

import pytest
from django.conf import settings
from django.core.exceptions import PermissionDenied
from django.test import Client
from django.urls import reverse

from sugarbush.parts.logs import Utc, WithoutTraces
from sugarbush.volunteers import signing
from sugarbush.volunteers.hiding import HideLinks
from tests import make

pytestmark = pytest.mark.django_db


def test_coming_in_going_out_and_being_refused_stand_in_the_log(caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.INFO, "sugarbush.watch")
    bob = make.bob()
    token = signing.make_link(person=bob, made_by=None)
    client = Client(REMOTE_ADDR="203.0.113.9")
    client.post(reverse("sign-in-link", args=[token]))
    client.get(reverse("history"))
    client.post(reverse("sign-out"))
    client.post(reverse("sign-in-link", args=["no-such-link-at-all"]))
    hide = HideLinks()
    told = [
        record.getMessage() for record in caplog.records if record.name == "sugarbush.watch" and hide.filter(record)
    ]
    assert told == [
        f"came in: person {bob.pk} by /sign-in/(hidden)/, from 203.0.113.9",
        f"refused 403: GET /audit/, person {bob.pk}, from 203.0.113.9",
        f"went out: person {bob.pk}, from 203.0.113.9",
        "did not come in, 404: POST /sign-in/(hidden)/, from 203.0.113.9",
    ]
    assert bob.display_name not in " ".join(told)


def test_a_line_is_dated_in_utc_and_a_made_up_address_makes_no_second_line(caplog: pytest.LogCaptureFixture) -> None:
    form: Any = settings.LOGGING["formatters"]["plain"]  # type: ignore[index]
    record = logging.LogRecord("sugarbush.watch", logging.INFO, "", 0, "said", None, None)
    record.created = 0.25
    line = Utc(form["format"], style=form["style"]).format(record)
    assert re.match(r"1970-01-01T00:00:00\.\d{3}Z INFO sugarbush\.watch: said", line)
    Client().get("/sign-in/%0AERROR%20made%20up/")
    [told] = [record.getMessage() for record in caplog.records if record.name == "sugarbush.watch"]
    assert "\n" not in told


def test_a_refusal_is_one_line_and_a_fault_keeps_its_trace() -> None:
    for status, kept in ((403, False), (500, True)):
        try:
            raise PermissionDenied
        except PermissionDenied:
            record = logging.LogRecord("django.request", logging.WARNING, "", 0, "said", None, sys.exc_info())
        record.status_code = status
        assert WithoutTraces().filter(record)
        assert (record.exc_info is not None) is kept
