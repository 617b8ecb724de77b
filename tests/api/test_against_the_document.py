"""Every answer held against the OpenAPI document: asked sensibly and senselessly, in this process."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from typing import Any

import hypothesis
import pytest
import schemathesis
from django.core.signals import request_finished, request_started
from django.db import close_old_connections
from django.test import Client
from django.urls import reverse
from schemathesis.generation import GenerationMode
from schemathesis.specs.openapi.checks import positive_data_acceptance

from sugarbush.api.operations import OPERATIONS
from sugarbush.api.urls import urlpatterns
from sugarbush.volunteers import limits
from sugarbush.wsgi import application
from tests import make
from tests.api.asking import Program

pytestmark = [pytest.mark.django_db, pytest.mark.heavy]
EACH = int(os.environ.get("API_EXAMPLES", "0")) or (60 if os.environ.get("HYPOTHESIS_PROFILE") == "all" else 6)


def test_the_document_and_the_addresses_are_the_same():
    named = {str(pattern.name): "/" + str(pattern.pattern) for pattern in urlpatterns}
    del named["my-tokens"], named["api-nothing"]
    told = {
        one.key: one.path.replace("{featureId}", "<str:code>").replace("{year}", "<int:year>") for one in OPERATIONS
    }
    assert told == named


@contextlib.contextmanager
def as_the_tests_client_does() -> Iterator[None]:
    """At each request's end a server puts the connection away; here it holds the test's own transaction."""
    for signal in (request_started, request_finished):
        signal.disconnect(close_old_connections)
    yield
    for signal in (request_started, request_finished):
        signal.connect(close_old_connections)


@pytest.mark.parametrize("mode", list(GenerationMode), ids=lambda mode: mode.value)
def test_no_answer_differs_from_the_document(mode, monkeypatch):
    make.collection(make.tapped_tree(), litres="2", brix="2.1")
    make.tree(group=make.group())
    program = Program(make.bob())
    monkeypatch.setattr(limits, "take", lambda *_args, **_named: None)
    document = Client().get(reverse("api-openapi")).json()
    if mode == GenerationMode.NEGATIVE:
        for path in document["paths"].values():
            path["get"]["security"] = []  # the token always goes along, so a request without one is not made up
    schema = schemathesis.openapi.from_dict(document)
    schema.app = application
    schema.config.generation.update(modes=[mode])
    asked = 0
    for found in schema.get_all_operations():
        operation = found.ok()
        if mode == GenerationMode.NEGATIVE and not document["paths"][operation.path]["get"]["parameters"]:
            continue  # nothing can be said wrongly where nothing can be said
        cases = operation.as_strategy(generation_mode=mode)

        @hypothesis.settings(
            max_examples=EACH, deadline=None, suppress_health_check=list(hypothesis.HealthCheck), derandomize=True,
            database=None,
        )  # fmt: skip
        @hypothesis.given(case=cases)
        def hold(case: schemathesis.Case) -> None:
            nonlocal asked
            asked += 1
            # That south lies below north, and a time is one, no schema says: test_features asks that by hand.
            but: list[Any] = [positive_data_acceptance] if case.operation.path.endswith("/items") else []
            head = {"Authorization": f"Bearer {program.secret}"}
            case.call_and_validate(headers=head, excluded_checks=but)

        with as_the_tests_client_does():
            hold()
    assert asked >= EACH
