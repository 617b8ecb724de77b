"""Files people send: told by their content, drawn anew, kept under names nobody can guess."""

from __future__ import annotations

import io

import pytest
from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from sugarbush.parts import uploads

CAMERA = "Quill Optics 7"
GPS_IFD = 0x8825  # Exif 2.3, section 4.6.3: the pointer to the GPS directory


def picture(kind: str = "JPEG", size: tuple[int, int] = (60, 40), mode: str = "RGB", orientation: int = 1) -> bytes:
    image = Image.new(mode, size, "green" if mode == "RGB" else 0)
    exif = Image.Exif()
    exif[0x0110] = CAMERA
    exif[0x0112] = orientation
    exif.get_ifd(GPS_IFD)[1] = "N"
    exif.get_ifd(GPS_IFD)[2] = (47.0, 3.0, 0.0)
    out = io.BytesIO()
    image.save(out, kind, exif=exif)
    return out.getvalue()


def sent(content: bytes, name: str = "photo.jpg") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, content)


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_picture_loses_camera_and_place(kind: str) -> None:
    content = picture(kind)
    assert CAMERA.encode() in content
    clean = uploads.clean_image(sent(content))
    bytes_now = clean.read()
    assert CAMERA.encode() not in bytes_now
    with Image.open(io.BytesIO(bytes_now)) as image:
        assert image.format == "JPEG"
        assert not dict(image.getexif())
        assert image.size == (60, 40)


def test_what_is_hidden_behind_a_picture_is_dropped() -> None:
    clean = uploads.clean_image(sent(picture() + b"<?php echo 1;"))
    assert b"<?php" not in clean.read()


def test_a_picture_taken_sideways_is_turned_upright() -> None:
    # Exif orientation 6: the row of the file that comes first is the right side (Exif 2.3, tag 274).
    clean = uploads.clean_image(sent(picture(orientation=6)))
    with Image.open(clean) as image:
        assert image.size == (40, 60)


def test_a_large_picture_is_made_small() -> None:
    clean = uploads.clean_image(sent(picture(size=(4000, 1000))))
    with Image.open(clean) as image:
        assert image.size == (1600, 400)


def test_a_see_through_picture_gets_a_white_ground() -> None:
    clean = uploads.clean_image(sent(picture("PNG", mode="RGBA")))
    with Image.open(clean) as image:
        assert image.getpixel((5, 5)) == (255, 255, 255)


def test_names_cannot_be_guessed_and_say_nothing() -> None:
    names = {uploads.clean_image(sent(picture(), "owner-house.jpg")).name for _n in range(2)}
    assert len(names) == 2
    assert all(name and len(name) == 36 and "owner" not in name for name in names)


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"", "empty"),
        (b"hello", "not_a_picture"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "not_a_picture"),
        (b"GIF89a" + b"\0" * 40, "not_a_picture"),
        (b"RIFF\0\0\0\0WAVEfmt ", "not_a_picture"),
        (b"\xff\xd8\xff\xe0" + b"\0" * 50, "broken"),
        (picture()[: len(picture()) // 2], "broken"),
        (b"\0" * (uploads.LARGEST_BYTES + 1), "too_large"),
    ],
)
def test_what_is_no_picture_is_refused_with_a_sentence(content: bytes, code: str) -> None:
    with pytest.raises(ValidationError) as refusal:
        uploads.clean_image(sent(content, "leaf.jpg"))
    assert refusal.value.code == code
    assert refusal.value.messages[0].endswith(".")


def test_a_picture_that_would_unpack_to_too_much_is_refused_unopened() -> None:
    out = io.BytesIO()
    Image.new("1", (6000, 6000)).save(out, "PNG")
    with pytest.raises(ValidationError) as refusal:
        uploads.clean_image(sent(out.getvalue()))
    assert refusal.value.code == "too_many_pixels"


def test_a_scan_is_a_pdf_or_a_photo() -> None:
    pdf = b"%PDF-1.4\n1 0 obj\n<<>>\nendobj\ntrailer\n<<>>\n%%EOF\n"
    kept = uploads.check_document(sent(pdf, "../../slip.pdf"))
    assert kept.read() == pdf
    assert kept.name is not None
    assert len(kept.name) == 36
    assert uploads.kind_of(uploads.check_document(sent(picture("PNG")))) == "JPEG"
    for content, code in ((pdf[:20], "broken"), (b"PK\x03\x04" + b"\0" * 30, "not_a_scan"), (b"", "empty")):
        with pytest.raises(ValidationError) as refusal:
            uploads.check_document(sent(content, "slip.pdf"))
        assert refusal.value.code == code


def test_a_held_file_is_found_by_its_owner_alone_and_only_until_it_is_let_go() -> None:
    token = uploads.hold(ContentFile(b"x", name="a.jpg"), whose=1)
    found = uploads.held(token, whose=1)
    assert found is not None
    assert found.read() == b"x"
    assert uploads.held(token, whose=2) is None
    assert uploads.held(token + "x", whose=1) is None
    assert uploads.held("", whose=1) is None
    uploads.let_go(token)
    assert uploads.held(token, whose=1) is None
    uploads.let_go("nonsense")
