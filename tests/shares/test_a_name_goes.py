"""A final share stands, but for the name of a person who asked for it to go."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, transaction

from sugarbush.shares import runs
from sugarbush.shares.leaving import name_put_right
from sugarbush.shares.models import Share
from sugarbush.volunteers.forgetting import name_of
from sugarbush.volunteers.models import Person
from tests.shares import season as small

pytestmark = pytest.mark.django_db


def test_of_a_final_share_only_a_forgotten_name_goes():
    run = small.final()
    share = run.shares.filter(person__isnull=False).first()
    assert share is not None
    assert share.person_id is not None
    mine = Share.objects.filter(pk=share.pk)
    for change in ({"name": "Somebody Else"}, {"name": name_of(0)}, {"given_ml": share.given_ml + 1}, {"name": ""}):
        with pytest.raises(IntegrityError), transaction.atomic():
            mine.update(**change)
    Person.objects.filter(pk=share.person_id).update(display_name=name_of(share.person_id))
    name_put_right(Person.objects.get(pk=share.person_id))
    assert mine.get().name == f"A former volunteer {share.person_id}"
    assert runs.differs(run) == []
