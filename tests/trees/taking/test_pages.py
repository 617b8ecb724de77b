"""The pages of the files brought in: who may see them, what they refuse, what they show."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from sugarbush.seasons.models import Programme
from sugarbush.trees.files import ImportRun
from sugarbush.trees.models import Tree
from sugarbush.trees.taking import acts, stored, uploads
from sugarbush.trees.taking import run as engine
from sugarbush.volunteers.models import Person
from tests import make
from tests.trees.taking.making import HEADING, brought, counts, row, rows, taken, write_csv

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def own_uploads(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path / "uploads"


def client_of(person: Person, **options: Any) -> Client:
    client = Client(**options)
    client.force_login(person)
    return client


def kept_files(tmp_path: Path) -> list[Path]:
    folder = tmp_path / "uploads" / "imports"
    return list(folder.iterdir()) if folder.exists() else []


def sent(path: Path, name: str = "") -> dict[str, Any]:
    return {"file": SimpleUploadedFile(name or path.name, path.read_bytes())}


def chosen(run: ImportRun, **changes: Any) -> dict[str, Any]:
    """The form of the columns as the page shows it."""
    page = client_of(make.alice()).get(reverse("file", args=[run.pk]))
    form = page.context["form"]
    data = {bound.name: bound.value() if bound.value() is not None else "" for bound in form}
    return {**data, "seen": page.context["seen"], **changes}


def test_only_coordinators_bring_files(tmp_path: Path) -> None:
    run = brought(write_csv(tmp_path, rows(3)))
    pages = [reverse("files"), reverse("file-new"), reverse("streets-new")]
    pages += [reverse(name, args=[run.pk]) for name in ("file", "file-progress", "file-problems")]
    for person, status in ((make.alice(), 200), (make.lena(), 403), (make.bob(), 403), (make.charlie(), 403)):
        for page in pages:
            assert client_of(person).get(page).status_code == status, (person, page)
    for page in pages:
        assert Client().get(page).status_code == 302
    before = kept_files(tmp_path)
    for person in (make.lena(), make.charlie()):
        assert client_of(person).post(reverse("file-new"), sent(write_csv(tmp_path, rows(3)))).status_code == 403
        assert client_of(person).post(reverse("file", args=[run.pk]), {"act": "take"}).status_code == 403
    assert kept_files(tmp_path) == before


def test_a_form_from_elsewhere_is_refused_and_its_file_not_kept(tmp_path: Path) -> None:
    make.programme()
    client = client_of(make.alice(), enforce_csrf_checks=True)
    assert client.post(reverse("file-new"), sent(write_csv(tmp_path, rows(3)))).status_code == 403
    assert kept_files(tmp_path) == []
    token = client.get(reverse("file-new")).context["csrf_token"]
    data = {**sent(write_csv(tmp_path, rows(3))), "csrfmiddlewaretoken": str(token)}
    assert client.post(reverse("file-new"), data).status_code == 302
    assert len(kept_files(tmp_path)) == 1


def test_bring_preview_take_in_report(tmp_path: Path) -> None:
    make.programme()
    alice = client_of(make.alice())
    answer = alice.post(reverse("file-new"), sent(write_csv(tmp_path, [*rows(30), row("0099", size="0")])))
    run = ImportRun.objects.get()
    assert answer.status_code == 302
    assert answer["Location"] == reverse("file", args=[run.pk])
    page = alice.get(answer["Location"])
    found = page.context["found"]
    assert (found.read, found.new, found.refused, found.whole) == (31, 30, 1, True)
    assert len(found.shown) == 20
    assert not Tree.objects.exists()
    assert Programme.current().box is None

    answer = alice.post(reverse("file", args=[run.pk]), chosen(run, act="take"))
    assert answer.status_code == 302
    run.refresh_from_db()
    assert run.state == ImportRun.State.WAITING
    assert Programme.current().box == tuple(run.report["box"])
    assert b"Waiting for its turn" in alice.get(reverse("file", args=[run.pk])).content
    assert b'data-state="waiting"' in alice.get(reverse("file-progress", args=[run.pk])).content
    # Pressed twice, it is taken in once.
    assert alice.post(reverse("file", args=[run.pk]), {"act": "take"}).status_code == 302

    engine.take_in(run.pk)
    page = alice.get(reverse("file", args=[run.pk]))
    assert b"The file is taken in as" in page.content
    assert b"adds nothing and reports what changed" in page.content
    table = b"".join(alice.get(reverse("file-problems", args=[run.pk])).streaming_content)  # type: ignore[attr-defined]
    (line,) = csv.DictReader(table.decode("utf-8-sig").splitlines())
    assert (line["row"], line["number in the town’s list"], line["reason"]) == ("31", "0099", "size of nought")
    assert [shown.pk for shown in alice.get(reverse("files")).context["page"]] == [run.pk]


def test_other_columns_are_looked_at_before_they_are_taken(tmp_path: Path) -> None:
    run = brought(write_csv(tmp_path, rows(30)))
    alice = client_of(make.alice())
    answer = alice.post(reverse("file", args=[run.pk]), chosen(run, act="take", size_unit="cm"))
    assert answer["Location"].endswith("#preview")
    run.refresh_from_db()
    assert run.state == ImportRun.State.UPLOADED
    page = alice.get(reverse("file", args=[run.pk]))
    assert page.context["found"].shown[0].diameter_um == 180_000
    alice.post(reverse("file", args=[run.pk]), chosen(run, act="take"))
    engine.take_in(run.pk)
    assert set(Tree.objects.values_list("diameter_um", flat=True)) == {180_000}


def test_columns_that_cannot_be_read_are_said_and_nothing_typed_is_lost(tmp_path: Path) -> None:
    run = brought(write_csv(tmp_path, rows(30)))
    alice = client_of(make.alice())
    data = chosen(run, act="take", source="My list", west="x", east="-87,3")
    answer = alice.post(reverse("file", args=[run.pk]), data)
    assert answer.status_code == 422
    assert answer.context["form"]["source"].value() == "My list"
    alice.post(reverse("file", args=[run.pk]), chosen(run, act="look", botanical=""))
    page = alice.get(reverse("file", args=[run.pk]))
    assert page.context["found"].problems == [
        "Choose the column that names the species: botanical name, common name or code."
    ]
    assert b"Take in these trees" not in page.content
    run.refresh_from_db()
    answer = alice.post(reverse("file", args=[run.pk]), chosen(run, act="take"))
    assert answer.status_code == 409
    assert not Tree.objects.exists()


def test_the_box_follows_the_columns_until_it_is_typed(tmp_path: Path) -> None:
    run = brought(write_csv(tmp_path, rows(30)))
    drawn = run.report["box"]
    alice = client_of(make.alice())
    alice.post(reverse("file", args=[run.pk]), chosen(run, act="look", west="-87,5"))
    run.refresh_from_db()
    assert run.report["box"] == [-87.5, *drawn[1:]]
    # The programme's own box is for another file as it is.
    make.programme(west=-88, south=46, east=-86, north=48)
    assert brought(write_csv(tmp_path, rows(3), "b.csv")).report["box"] == [-88, 46, -86, 48]


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"", "This file is empty"),
        (b"%PDF-1.4", "This is a PDF"),
        (b"x" * 3_000_000, "longer than 1 MB"),
        (b",".join(b"c%d" % n for n in range(100_000)), "more than 500 columns"),
    ],
)
def test_a_file_that_cannot_be_read_is_refused_in_a_sentence(tmp_path: Path, content: bytes, sentence: str) -> None:
    make.programme()
    for name in ("file-new", "streets-new"):
        data = {"file": SimpleUploadedFile("trees.csv", content)}
        answer = client_of(make.alice()).post(reverse(name), data)
        assert answer.status_code == 422
        if name == "file-new" or not content:
            assert sentence in answer.content.decode()
    assert kept_files(tmp_path) == []
    answer = client_of(make.alice()).post(reverse("file-new"), {})
    assert answer.status_code == 422
    assert "Choose a file first." in answer.content.decode()


def test_a_file_beyond_the_limit_is_refused_in_a_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    make.programme()
    path = write_csv(tmp_path, rows(3000))
    for limit in (100_000, 100_000 - uploads._AROUND_BYTES):
        # First while it comes in, then by what the browser announces.
        monkeypatch.setattr(stored, "MOST_BYTES", 100_000)
        monkeypatch.setattr(uploads, "MOST_BYTES", limit)
        answer = client_of(make.alice()).post(reverse("file-new"), sent(path))
        assert answer.status_code == 422
        assert "Leave out columns nobody needs" in answer.content.decode()
        assert kept_files(tmp_path) == []


def test_a_full_disk_is_said_on_the_page(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    make.programme()

    def full(self: stored.Keeper, _piece: bytes) -> None:
        self.drop()
        raise stored.disk_full()

    monkeypatch.setattr(stored.Keeper, "write", full)
    answer = client_of(make.alice()).post(reverse("file-new"), sent(write_csv(tmp_path, rows(3))))
    assert answer.status_code == 422
    assert "no room left" in answer.content.decode()
    assert kept_files(tmp_path) == []


def test_html_in_a_file_is_text_on_every_page(tmp_path: Path) -> None:
    mark = "<script>alert(1)</script>"
    path = tmp_path / "x.csv"
    heading = [name if name != "Note" else f"Note{mark}" for name in HEADING]
    with path.open("w", newline="") as file:
        csv.writer(file).writerows(
            [heading, row("0001", address=mark, note=mark), row(mark, size=mark), row("0003", status=f"stump {mark}")]
        )
    make.programme()
    alice = client_of(make.alice())
    alice.post(reverse("file-new"), sent(path, name=f"{mark}.csv"))
    run = ImportRun.objects.get()
    for _turn in range(2):
        for page in (reverse("file", args=[run.pk]), reverse("files"), reverse("file-progress", args=[run.pk])):
            assert mark not in alice.get(page).content.decode()
        alice.post(reverse("file", args=[run.pk]), chosen(run, act="take") if run.state == "uploaded" else {})
        engine.take_in(run.pk)
        run.refresh_from_db()
    assert run.state == ImportRun.State.DONE
    assert counts(run)[3] == 2


def test_a_file_put_away_leaves_nothing(tmp_path: Path) -> None:
    run = brought(write_csv(tmp_path, rows(3)))
    alice = client_of(make.alice())
    assert alice.post(reverse("file", args=[run.pk]), {"act": "put-away"}).status_code == 302
    assert not ImportRun.objects.exists()
    assert kept_files(tmp_path) == []
    assert alice.get(reverse("file", args=[run.pk])).status_code == 404


def test_the_same_file_again_with_other_columns(tmp_path: Path) -> None:
    run = taken(write_csv(tmp_path, rows(12)))
    alice = client_of(make.alice())
    answer = alice.post(reverse("file", args=[run.pk]), {"act": "again"})
    second = ImportRun.objects.exclude(pk=run.pk).get()
    assert answer["Location"] == reverse("file", args=[second.pk])
    page = alice.get(answer["Location"])
    assert (page.context["found"].new, page.context["found"].listed) == (0, 12)
    assert "This very file was taken in on" in page.content.decode()
    # Putting the second look away leaves the first one's file.
    alice.post(answer["Location"], {"act": "put-away"})
    assert len(kept_files(tmp_path)) == 1


def test_a_file_that_vanished_says_so(tmp_path: Path) -> None:
    run = brought(write_csv(tmp_path, rows(3)))
    kept_files(tmp_path)[0].unlink()
    alice = client_of(make.alice())
    page = alice.get(reverse("file", args=[run.pk]))
    assert page.status_code == 200
    assert "no longer on this machine" in page.content.decode()
    assert alice.post(reverse("file", args=[run.pk]), {"act": "take"}).status_code == 422


def test_stopping_and_going_on_from_the_page(tmp_path: Path) -> None:
    run = acts.start(by=make.alice(), run=brought(write_csv(tmp_path, rows(3))))
    alice = client_of(make.alice())
    alice.post(reverse("file", args=[run.pk]), {"act": "stop"})
    page = alice.get(reverse("file", args=[run.pk]))
    assert b"Stopped by hand." in page.content
    assert b"Go on reading" in page.content
    assert alice.post(reverse("file", args=[run.pk]), {"act": "stop"}).status_code == 409
    alice.post(reverse("file", args=[run.pk]), {"act": "go-on"})
    engine.take_in(run.pk)
    assert b"The file is taken in as" in alice.get(reverse("file", args=[run.pk])).content


def test_the_report_asks_as_few_questions_for_many_rows_as_for_few(
    tmp_path: Path, django_assert_max_num_queries: Any
) -> None:
    few = taken(write_csv(tmp_path, [row("0001"), row("0002", size="0")]), source="few")
    many = taken(
        write_csv(tmp_path, [row("0001"), *(row(f"{n:04d}", size="0") for n in range(2, 300))], "m.csv"), source="many"
    )
    alice = client_of(make.alice())
    for run in (few, many):
        with django_assert_max_num_queries(12):
            alice.get(reverse("file", args=[run.pk]))
    assert len(alice.get(reverse("file", args=[many.pk]), {"page": "6"}).context["problems"]) == 48
