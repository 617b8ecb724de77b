"""The round on paper: in walking order, keyed once, in the walker's name, with odd numbers asked about."""

from __future__ import annotations

import datetime as dt

import pytest
from django.http import Http404
from django.urls import reverse

from sugarbush.audit.models import AuditEvent
from sugarbush.gathering.models import Collection, CollectionState
from sugarbush.gathering.models_rounds import Round, RoundRun, RoundStop, RunPerson
from sugarbush.papers.models import Document, RoundSheet
from sugarbush.papers.sheet_lines import CannotRead, read_line
from sugarbush.sap.totals import totals_by_cause
from sugarbush.trees.models import Tree
from tests import make
from tests.papers import reading

pytestmark = pytest.mark.django_db


def a_run(count: int = 4, day: dt.date | None = None) -> tuple[RoundRun, list[str]]:
    """Bob walks so many tapped trees of North Bank today, the last entered first."""
    season = make.season()
    trees = [make.tapped_tree() for _ in range(count)][::-1]
    found = Round.objects.create(season=season, group=make.group(), name="Around the green")
    RoundStop.objects.bulk_create(
        RoundStop(round=found, season=season, tree=tree, position=n) for n, tree in enumerate(trees)
    )
    run = RoundRun.objects.create(round=found, date=day or make.today())
    RunPerson.objects.create(run=run, person=make.bob())
    return run, [tree.code for tree in trees]


def sheet_of(printed, run, **given) -> RoundSheet:
    printed("round-sheet", runs=[str(run.pk)], **given)
    return RoundSheet.objects.get(run=run, nth=1)


def page_of(sheet: RoundSheet) -> str:
    return reverse("paper-sheet", args=[sheet.document.number])


@pytest.mark.parametrize(
    ("typed", "ml", "outcome", "look"),
    [
        ("6.5", 6500, "sap", "clear"),
        ("6,5 c", 6500, "sap", "cloudy"),
        (" 1 gal y", 3785, "sap", "yellow"),
        ("0", 0, "empty", ""),
        ("E", 0, "empty", ""),
        ("x", 0, "no_access", ""),
    ],
)
def test_a_line_is_an_amount_or_a_letter(typed, ml, outcome, look):
    visit = read_line(typed, units="metric")
    assert (visit.volume_ml, visit.outcome, visit.look) == (ml, outcome, look)


def test_milky_sap_was_tipped_out_and_nonsense_is_told():
    milky = read_line("2 m", units="metric")
    assert (milky.volume_ml, milky.discarded_ml, milky.discard_reason) == (2000, 2000, "milky")
    assert read_line("  ", units="metric") is None
    for nonsense in ("six", "c", "-3", "1e9", "6.5 q", "‮5", "9" * 40):
        with pytest.raises(CannotRead):
            read_line(nonsense, units="metric")


def test_the_sheet_stands_in_walking_order_and_keeps_its_number(printed, readers, tmp_path):
    run, codes = a_run(45)
    for paper in ("a4", "us-letter"):
        pdf = printed("round-sheet", paper, runs=[str(run.pk)])
        said = reading.words(pdf, tmp_path)
        assert [said.index(code) for code in codes] == sorted(said.index(code) for code in codes)
        assert reading.outside(pdf, tmp_path, paper) == []
        assert "sheet 2 of 2" in said
        assert "Walks it: Bob" in said
    sheets = list(RoundSheet.objects.order_by("nth"))
    for dpi in (240, 120):
        seen = reading.squares(pdf, tmp_path, dpi)
        assert seen == {f"https://sap.example.org{page_of(sheets[0])}"}
    assert [len(sheet.codes) for sheet in sheets] == [40, 5]
    assert Document.objects.count() == 2
    assert all(sheet.document.number in said for sheet in sheets)
    RoundStop.objects.filter(tree__code=codes[0]).update(off_at=make.timezone.now())
    printed("round-sheet", runs=[str(run.pk)])
    assert RoundSheet.objects.count() == 4  # another way is another sheet; the one in somebody's hand stays as it is
    assert RoundSheet.objects.get(pk=sheets[0].pk).codes == codes[:40]


def test_a_keyed_sheet_counts_once_in_the_walkers_name(printed, client):
    run, codes = a_run()
    sheet = sheet_of(printed, run)
    client.force_login(make.lena())
    shown = client.get(page_of(sheet)).content.decode()
    assert [shown.index(code) for code in codes] == sorted(shown.index(code) for code in codes)
    typed = {"begun": "08:30", "walker": make.bob().pk, "sap-0": "6.5", "sap-1": "e", "sap-2": "", "sap-3": "2,25 c"}
    answer = client.post(page_of(sheet), {**typed, "act": "key"})
    assert answer.status_code == 302, answer.content.decode()
    rows = Collection.objects.filter(source="sheet").order_by("happened_at")
    assert [(row.tree.code, row.volume_ml, row.person.display_name) for row in rows] == [
        (codes[0], 6500, "Bob"),
        (codes[1], 0, "Bob"),
        (codes[3], 2250, "Bob"),
    ]
    run.refresh_from_db()
    assert run.sheet_number == sheet.document.number
    kept = AuditEvent.objects.get(act="key round sheet")
    assert (kept.by, kept.new["entries"]) == (make.lena(), 3)
    again = client.post(page_of(sheet), {**typed, "sap-2": "9", "act": "key"})
    assert again.status_code == 409
    assert "It counts once" in again.content.decode()
    assert rows.count() == 3


def test_odd_numbers_and_what_cannot_be_read_are_asked_about_and_nothing_typed_is_lost(printed, client):
    run, codes = a_run()
    sheet = sheet_of(printed, run)
    client.force_login(make.bob())
    typed = {"begun": "08:30", "sap-0": "80", "sap-1": "sixish", "sap-2": "3", "sap-3": "f"}
    answer = client.post(page_of(sheet), {**typed, "act": "key"})
    assert answer.status_code == 422
    said = answer.content.decode()
    assert "Please look at 2 lines" in said
    assert "neither an amount" in said
    assert not Collection.objects.exists()
    later = client.get(page_of(sheet)).content.decode()
    assert 'value="sixish"' in later
    typed |= {"sap-1": "6", "agreed-0": "yes"}
    assert client.post(page_of(sheet), {**typed, "act": "key"}).status_code == 422  # a tick alone says no why
    typed |= {"note-0": "Two pails stood full since Sunday"}
    assert client.post(page_of(sheet), {**typed, "act": "key"}).status_code == 302
    assert Collection.objects.get(tree__code=codes[0]).note.startswith("Two pails")
    assert Collection.objects.filter(state=CollectionState.COUNTED).count() == 4


def test_a_tree_already_logged_that_day_is_asked_about(printed, client):
    run, codes = a_run(2)
    sheet = sheet_of(printed, run)
    make.collection(Tree.objects.get(code=codes[0]), litres="4")
    client.force_login(make.bob())
    typed = {"sap-0": "4", "sap-1": "5", "act": "key"}
    answer = client.post(page_of(sheet), typed)
    assert answer.status_code == 422
    assert "Bob already logged 4.00" in answer.content.decode()
    assert client.post(page_of(sheet), {**typed, "sap-0": ""}).status_code == 302
    assert totals_by_cause(make.season())["out_of_tree"] == 9_000


def test_half_a_sheet_is_kept_and_another_goes_on(printed, client):
    run, _codes = a_run()
    sheet = sheet_of(printed, run)
    client.force_login(make.bob())
    quiet = client.post(page_of(sheet), {"sap-0": "6.5", "act": "keep"}, headers={"X-Kept": "quietly"})
    assert quiet.status_code == 204
    client.force_login(make.lena())
    assert 'value="6.5"' in client.get(page_of(sheet)).content.decode()


def test_walls_of_groups_stand_around_sheets(printed, client):
    run, _codes = a_run()
    sheet = sheet_of(printed, run)
    with pytest.raises(Http404):
        printed("round-sheet", runs=[str(run.pk)], person=make.mira())
    client.force_login(make.mira())
    assert client.get(page_of(sheet)).status_code == 404
    assert client.get(reverse("paper-find"), {"number": sheet.document.number}).status_code == 404
    client.force_login(make.rhea())
    assert client.post(page_of(sheet), {"sap-0": "5", "act": "key"}).status_code == 403
    client.force_login(make.bob())
    assert client.get(reverse("paper-find"), {"number": sheet.document.number}).headers["Location"] == page_of(sheet)
    other = make.person("Otto", "volunteer", "North Bank")
    client.force_login(other)
    # A volunteer keys in for themselves alone, whatever the form says.
    client.post(page_of(sheet), {"sap-0": "5", "walker": make.bob().pk, "act": "key"})
    assert Collection.objects.get().person == other


def test_keying_asks_the_database_as_often_for_forty_trees_as_for_four(printed, client, django_assert_max_num_queries):
    run, codes = a_run(40)
    sheet = sheet_of(printed, run)
    client.force_login(make.bob())
    with django_assert_max_num_queries(25):
        client.get(page_of(sheet))
    typed = {f"sap-{n}": "3" for n in range(len(codes))}
    with django_assert_max_num_queries(75):
        assert client.post(page_of(sheet), {**typed, "act": "key"}).status_code == 302
    assert Collection.objects.count() == 40
