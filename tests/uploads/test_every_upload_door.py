"""Every place where a file can be sent, tried with files that nobody should send (OWASP ASVS 5.0: chapter 5, 1.3.4)."""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from sugarbush.owners.models import Permission
from sugarbush.phone.models import Photo
from sugarbush.trees.models import Tree
from sugarbush.trees.records import TreeObservation
from tests import make
from tests.phone.sending import Phone, quick
from tests.uploads import corpus

pytestmark = pytest.mark.django_db
KEPT_NAME = re.compile(r"^(trees|visits|permissions|held)/[0-9a-f]{32}\.(jpg|pdf)$")
ANSWERED = {200, 302, 400, 409, 413, 422}
# A PDF is never opened here; it is handed out as something to save, so what stands in it cannot run on our pages.
KEPT_AS_IT_CAME = ".pdf"


def kept() -> dict[str, bytes]:
    """Everything under the uploads folder, by its path there."""
    root = Path(settings.MEDIA_ROOT)
    return {str(path.relative_to(root)): path.read_bytes() for path in root.rglob("*") if path.is_file()}


class Doors:
    """Alice at each form that takes a picture or a scan, and her phone."""

    def __init__(self) -> None:
        self.tree: Tree = make.given_tree(land="private")
        self.slip: Permission = self.tree.permissions.get()
        self.client = Client()
        self.client.force_login(make.alice())
        self.phone = Phone(make.alice())
        entry = quick(make.tapped_tree(), "gone")
        self.entry = entry["id"]
        self.phone.send(entry)

    def look(self, file: SimpleUploadedFile) -> Any:
        form = {
            "uuid": str(uuid.uuid4()),
            "date": make.today().isoformat(),
            "measured": "across",
            "photo": file,
            "note": "A look.",
        }
        return self.client.post(reverse("tree-look", args=[self.tree.code]), form)

    def scan(self, file: SimpleUploadedFile) -> Any:
        return self.client.post(reverse("permission-scan", args=[self.slip.number]), {"scan": file})

    def visit(self, file: SimpleUploadedFile) -> Any:
        url = f"{reverse('round-photos')}?id={uuid.uuid4()}&entry={self.entry}"
        return self.phone.client.post(url, file.read(), content_type="image/jpeg")

    def trees(self, file: SimpleUploadedFile) -> Any:
        return self.client.post(reverse("file-new"), {"file": file})

    def temperatures(self, file: SimpleUploadedFile) -> Any:
        return self.client.post(reverse("tank-temperatures", args=[make.tank().pk]), {"do": "series", "file": file})


DOORS: dict[str, Callable[[Doors, SimpleUploadedFile], Any]] = {
    name: getattr(Doors, name) for name in ("look", "scan", "visit", "trees", "temperatures")
}


@pytest.mark.parametrize("door", DOORS)
def test_nothing_that_could_run_is_kept_and_nothing_breaks(door: str) -> None:
    doors = Doors()
    before = kept()
    for name, content in [*corpus.pretenders(), *corpus.polyglots(), *corpus.bombs()]:
        answer = DOORS[door](doors, SimpleUploadedFile(name, content))
        assert answer.status_code in ANSWERED, (name, answer.status_code)
        assert b"Traceback" not in answer.content
    new = {path: content for path, content in kept().items() if path not in before}
    # A photo with something behind it is a photo: it is kept, drawn anew.
    assert any(path.endswith(".jpg") for path in new) is (door in {"look", "scan", "visit"})
    for path, content in new.items():
        assert KEPT_NAME.match(path) or path.startswith("files/"), path
        if not path.startswith("files/") and not path.endswith(KEPT_AS_IT_CAME):
            assert content.startswith(b"\xff\xd8\xff"), path
            assert not [mark for mark in corpus.MARKS if mark in content], path


@pytest.mark.parametrize("door", ["look", "scan", "trees"])
def test_a_name_that_was_sent_is_no_path_here(door: str) -> None:
    doors = Doors()
    before = kept()
    outside = set(Path(settings.MEDIA_ROOT).parent.iterdir())
    for name in corpus.NAMES:
        file = SimpleUploadedFile("x.jpg", corpus.photo() if door != "trees" else b"id,lon,lat\n")
        file._name = name  # type: ignore[attr-defined]  # past Django's own cleaning of names, as a parser with a hole in it would leave it
        assert DOORS[door](doors, file).status_code in ANSWERED, name
    names = [path for path in kept() if path not in before and not path.startswith("files/")]
    assert all(KEPT_NAME.match(path) for path in names), names
    assert set(Path(settings.MEDIA_ROOT).parent.iterdir()) <= outside | {Path(settings.MEDIA_ROOT)}


def test_what_is_handed_out_runs_nowhere() -> None:
    doors = Doors()
    assert doors.look(SimpleUploadedFile("a.html", corpus.photo() + corpus.SCRIPT)).status_code == 302
    assert doors.scan(SimpleUploadedFile("slip.pdf", corpus.pdf(corpus.SCRIPT))).status_code == 302
    assert doors.visit(SimpleUploadedFile("v.jpg", corpus.photo() + corpus.SCRIPT)).json()["state"] == "saved"
    look = TreeObservation.objects.exclude(photo="").get()
    for url, kind, is_saved in (
        (reverse("look-photo", args=[doors.tree.code, look.pk]), "image/jpeg", False),
        (reverse("permission-scan", args=[doors.slip.number]), "application/pdf", True),
        (reverse("entry-photo", args=[Photo.objects.get().pk]), "image/jpeg", False),
    ):
        answer = doors.client.get(url)
        assert (answer["Content-Type"], answer["X-Content-Type-Options"]) == (kind, "nosniff"), url
        assert answer["Content-Disposition"].startswith("attachment") is is_saved, url
        assert "default-src 'none'" in answer["Content-Security-Policy"], url
        body = b"".join(answer.streaming_content)  # type: ignore[attr-defined]
        assert is_saved or corpus.SCRIPT not in body


def test_the_corpus_is_as_bad_as_it_says() -> None:
    """Kept as they came, these files would be found by the checks above."""
    bad = [content for _name, content in [*corpus.pretenders(), *corpus.polyglots()]]
    assert sum(any(mark in content for mark in corpus.MARKS) for content in bad) >= 9
    assert not KEPT_NAME.match("trees/../../etc/cron.d/x.jpg")
    assert max(len(content) for _name, content in corpus.bombs()) < 200_000
