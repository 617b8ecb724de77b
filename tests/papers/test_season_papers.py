"""The season on paper: its sums are the page's, to the millilitre; everybody's report tells of no place or person."""

from __future__ import annotations

import pytest
from django.core.exceptions import PermissionDenied
from django.test import Client
from django.urls import reverse

from sugarbush.papers import jobs
from sugarbush.papers.kinds import Asked
from sugarbush.papers.models import JobState, PrintJob
from sugarbush.parts.reasons import Refused
from sugarbush.review import chain, totals
from sugarbush.shares.models import Share
from tests import make
from tests.papers import reading
from tests.shares import season as small

pytestmark = pytest.mark.django_db


def exact(ml: int) -> str:
    return f"{ml / 1000:.3f} L"


def test_the_report_says_the_sums_of_the_page_and_that_the_account_closes(printed, readers, tmp_path):
    make.collection(litres="6.505", happened_at=make.timezone.now() - make.days(2))
    make.collection(litres="3.2", discarded_ml=200, discard_reason="ice", happened_at=make.timezone.now())
    kept, _counted = totals.totals_of(make.season())
    for paper in ("a4", "us-letter"):
        pdf = printed("season-report", paper)
        said = reading.words(pdf, tmp_path)
        assert f"Sap out of trees {exact(kept.sums.out_ml)}" in said
        assert kept.sums.out_ml == 9_705
        assert "Closes to the millilitre." in said
        for line in chain.whole(kept).lines:
            assert f"{line.label} {exact(line.ml)}" in said
        assert f"Together {exact(200)}" in said
        assert f"North Bank {exact(9_705)}" in said
        assert reading.outside(pdf, tmp_path, paper) == []


def test_everybodys_report_tells_of_no_place_or_person_and_of_nothing_since_midnight(
    printed, readers, tmp_path, monkeypatch
):
    trees = [make.tapped_tree(address="19 Larkspur Street") for _ in range(3)]
    make.collection(trees[0], litres="6.5", happened_at=make.timezone.now() - make.days(3))
    make.collection(trees[1], litres="1.25", happened_at=make.timezone.now())
    today = reading.words(printed("season-public"), tmp_path)
    assert "Sap out of trees 0.000 L" in today  # what was written down since midnight is told tomorrow
    tomorrow = make.today() + make.days(1)
    monkeypatch.setattr(Asked, "on", property(lambda _asked: tomorrow))
    said = reading.words(printed("season-public"), tmp_path)
    assert "Sap out of trees 7.750 L" in said
    for private in ("Larkspur", "North Bank", "Bob", "sugar maple", "Parks and", *(tree.code for tree in trees)):
        assert private not in said


def test_few_trees_tell_nothing_to_everybody(printed, readers, tmp_path):
    make.collection(litres="6.5", happened_at=make.timezone.now() - make.days(3))
    said = reading.words(printed("season-public"), tmp_path)
    assert "Too few trees" in said
    assert "6.5" not in said


def test_statements_say_each_share_and_the_list_has_a_line_to_sign(printed, readers, tmp_path):
    make.season()
    with pytest.raises(Refused, match="not final"):
        printed("share-statements")
    client = Client()
    client.force_login(make.alice())
    early = client.post(reverse("paper-print", args=["share-statements"]), {"paper": "a4", "year": make.season().year})
    assert early.status_code == 422
    assert "not final" in early.content.decode()
    run = small.final()
    pages = reading.pages(printed("share-statements"), tmp_path)
    shares = list(run.shares.filter(party="person").order_by("name"))
    assert len(pages) == len(shares)
    for share, page in zip(shares, pages, strict=True):
        assert share.name in page
        assert exact(share.given_ml) in page
        assert exact(share.entitled_ml) in page
        assert [other.name for other in shares if other.name in page] == [share.name]
    listed = reading.words(printed("hand-out-list"), tmp_path)
    assert all(share.name in listed for share in Share.objects.filter(run=run, given_ml__gt=0))
    for stranger in (make.bob(), make.lena()):
        with pytest.raises(PermissionDenied):
            printed("share-statements", person=stranger)


def test_the_binder_is_made_in_the_background_for_coordinators_alone(client, printed, readers, tmp_path):
    make.tapped_tree()
    make.lena()
    client.force_login(make.lena())
    ask = {"paper": "a4", "year": str(make.season().year)}
    assert client.post("/paper/print/binder/", ask).status_code == 403
    client.force_login(make.alice())
    assert client.post("/paper/print/binder/", ask).status_code == 302
    job = PrintJob.objects.get()
    jobs.print_in_background.func(str(job.pk))
    job.refresh_from_db()
    assert (job.state, job.done, job.whole) == (JobState.DONE, 9, 9)
    made = jobs.file_of(job)
    assert made is not None
    said = reading.words(made.read_bytes(), tmp_path)
    for words in ("Lena", "group lead", "1 spout is in a tree.", "Two people should hold the keys", "page 1 of"):
        assert words in said
    assert "555-0199" not in said
