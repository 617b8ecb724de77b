"""The hand-worked season, built once for each file of tests; what a test changes is taken back after it."""

from __future__ import annotations

import copy
from collections.abc import Iterator

import pytest
from django.db import transaction
from pytest_django.plugin import DjangoDbBlocker

from tests.review.small_season import SmallSeason


@pytest.fixture(scope="module")
def built(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[SmallSeason]:
    with django_db_blocker.unblock(), transaction.atomic():
        yield SmallSeason()
        transaction.set_rollback(True)


@pytest.fixture
def small(built: SmallSeason, db: None) -> SmallSeason:
    """The season, read afresh: what an earlier test did to its rows is gone again, so its objects must be too."""
    own = copy.copy(built)
    own.trees, own.seen = dict(built.trees), {}
    people = ("alice", "bob", "lena", "mira", "otto", "dora", "kai", "rhea")
    for name in (*people, "season", "tank", "bobs", "miras", "batch"):
        row = getattr(built, name)
        setattr(own, name, type(row).objects.get(pk=row.pk))
    for key, entry in built.seen.items():
        own.seen[key] = type(entry).objects.get(pk=entry.pk)
    return own
