"""The hand-worked season from trunk to jar, built once for each file of tests; what a test changes is taken back."""

from __future__ import annotations

import copy
from collections.abc import Iterator

import pytest
from django.db import transaction
from pytest_django.plugin import DjangoDbBlocker

from tests.chain.jar_season import JarSeason


@pytest.fixture(scope="module")
def built(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[JarSeason]:
    with django_db_blocker.unblock(), transaction.atomic():
        yield JarSeason()
        transaction.set_rollback(True)


@pytest.fixture
def jars(built: JarSeason, db: None) -> JarSeason:
    """The season, its rows read afresh."""
    own = copy.copy(built)
    for name, row in vars(built).items():
        if hasattr(row, "_meta"):
            setattr(own, name, type(row).objects.get(pk=row.pk))
    return own
