"""Photos of visits: kept once, after their entry, without what a camera hides in them, for those who see the entry."""

from __future__ import annotations

import uuid
from io import BytesIO
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import OperationalError
from django.test import Client
from django.urls import reverse
from PIL import Image

from sugarbush.phone.models import Photo
from sugarbush.trees.models import TreeObservation
from tests import make
from tests.phone.sending import Phone, quick

pytestmark = pytest.mark.django_db


def picture(colour: str = "orange", size: tuple[int, int] = (1280, 960)) -> bytes:
    """A photo as a phone would have it, with a place hidden in it."""
    out, hidden = BytesIO(), Image.Exif()
    hidden[0x0110] = "A camera with a name"
    hidden.get_ifd(0x8825)[1] = "N"
    Image.new("RGB", size, colour).save(out, "JPEG", exif=hidden)
    return out.getvalue()


def send(phone: Phone, entry: str, body: bytes, name: str = "") -> Any:
    url = f"{reverse('round-photos')}?id={name or uuid.uuid4()}&entry={entry}"
    return phone.client.post(url, body, content_type="image/jpeg")


def test_a_photo_is_kept_once_without_what_the_camera_hid_in_it():
    phone, name = Phone(), str(uuid.uuid4())
    entry = quick(make.tapped_tree(), "gone")
    phone.send(entry)
    states = [send(phone, entry["id"], picture(), name).json()["state"] for _ in range(2)]
    assert states == ["saved", "before"]
    assert send(phone, entry["id"], picture("blue"), name).json()["state"] == "refused"
    (kept,) = Photo.objects.all()
    with kept.file.open() as file, Image.open(file) as seen:
        assert (seen.size, dict(seen.getexif())) == ((1280, 960), {})
    page = phone.client.get(reverse("log-entry", args=[entry["id"]])).content.decode()
    assert reverse("entry-photo", args=[name]) in page


def test_only_those_who_may_see_the_entry_see_its_photo():
    phone, name = Phone(), str(uuid.uuid4())
    entry = quick(make.tapped_tree(), "gone")
    phone.send(entry)
    send(phone, entry["id"], picture(), name)
    found = {}
    for who in (make.bob(), make.lena(), make.alice(), make.mira(), make.charlie()):
        client = Client()
        client.force_login(who)
        found[who.display_name] = client.get(reverse("entry-photo", args=[name])).status_code
    assert found == {"Bob": 200, "Lena": 200, "Alice": 200, "Mira": 404, "Charlie": 404}


def test_what_is_no_photo_of_ones_own_entry_is_refused_with_a_sentence_and_leaves_nothing():
    phone, tree = Phone(), make.tapped_tree()
    entry, other = quick(tree, "gone"), quick(tree, "empty")
    phone.send(entry)
    Phone(make.lena()).send(other)
    for of, body, words in (
        (other["id"], picture(), "not among yours"),
        (str(uuid.uuid4()), picture(), "not among yours"),
        (entry["id"], b"words", "not a picture"),
        (entry["id"], picture()[:900], "damaged"),
    ):
        said = send(phone, of, body).json()
        assert (said["state"], words in " ".join(said["reasons"])) == ("refused", True), said
    assert send(phone, entry["id"], b"x" * 2_000_001).status_code == 413
    assert send(phone, "no-name", picture()).status_code == 400
    for n in range(5):
        said = send(phone, entry["id"], picture(size=(40 + n, 30))).json()
    assert (said["state"], Photo.objects.count()) == ("refused", 4)
    assert not Photo.objects.exclude(entry_id=entry["id"]).exists()


def test_a_photo_that_cannot_be_written_waits_and_leaves_no_file(monkeypatch: pytest.MonkeyPatch):
    phone, entry = Phone(), quick(make.tapped_tree(), "gone")
    phone.send(entry)
    before = default_storage.listdir("visits")[1] if default_storage.exists("visits") else []

    def full(*_args: Any, **_more: Any) -> None:
        raise OperationalError("database or disk is full")

    monkeypatch.setattr(Photo, "save", full)
    assert send(phone, entry["id"], picture()).json()["state"] == "later"
    monkeypatch.undo()
    assert (default_storage.listdir("visits")[1] if default_storage.exists("visits") else []) == before
    assert send(phone, entry["id"], picture()).json()["state"] == "saved"


def test_the_trees_own_newest_photo_comes_along_small_for_those_who_see_the_tree():
    tree = make.tapped_tree()
    for days, colour in ((30, "red"), (3, "green"), (1, "")):
        photo = ContentFile(picture(colour), name=f"{uuid.uuid4().hex}.jpg") if colour else ""
        day = make.today() - make.days(days)
        TreeObservation.objects.create(tree=tree, date=day, by=make.lena(), photo=photo)
    phone = Phone()
    (row,) = phone.client.get(reverse("round-pack")).json()["trees"]
    assert row["photo"] == TreeObservation.objects.order_by("-date")[1].pk
    url = reverse("round-tree-photo", args=[tree.code])
    answer = phone.client.get(url, {row["photo"]: ""})
    with Image.open(BytesIO(answer.content)) as seen:
        assert max(seen.size) == 224
        assert seen.getpixel((100, 80))[1] > 100, "the newest"  # type: ignore[index]
    assert len(answer.content) < 20_000
    assert Phone(make.mira()).client.get(url).status_code == 404
    assert phone.client.get(reverse("round-tree-photo", args=[make.tapped_tree().code])).status_code == 404
