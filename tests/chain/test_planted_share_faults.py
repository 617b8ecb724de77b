"""Final shares that no longer add up are found, whoever changed them."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from sugarbush.review.recount import findings
from sugarbush.shares.models import Share, ShareRun
from tests.chain.planting import change
from tests.shares import season as shared

pytestmark = pytest.mark.django_db


def codes(run: ShareRun) -> set[str]:
    return {found.code for found in findings(run.season)}


@pytest.fixture
def final(db: None) -> ShareRun:
    return shared.final()


SHARES: dict[str, tuple[Callable[[ShareRun], object], str]] = {
    "inputs": (lambda r: change(ShareRun.objects.filter(pk=r.pk), inputs={**r.inputs, "season": 1}), "inputs"),
    "a jar given twice": (
        lambda r: change(Share.objects.filter(run=r, name="Bob"), jars={"250": 39}, given_ml=39 * 250),
        "share-jars",
    ),
    "jars that are not what they hold": (
        lambda r: change(Share.objects.filter(run=r, name="Bob"), given_ml=9_501),
        "share",
    ),
    "a millilitre more": (lambda r: change(Share.objects.filter(run=r, name="Bob"), entitled_ml=9_999), "share-sum"),
    "ticked off with no jars": (
        lambda r: Share.objects.filter(run=r, name="Bob").update(taken="collected"),
        "handed-out",
    ),
}


@pytest.mark.parametrize("fault", SHARES)
def test_faults_of_final_shares_are_named(final, fault):
    before = codes(final)
    assert not before & {"inputs", "share", "share-jars", "share-sum", "handed-out"}
    plant, expected = SHARES[fault]
    plant(final)
    assert expected in codes(final)
