"""Files people send: told by what is in them, made small and clean, kept under names nobody can guess.

A picture is drawn anew, so what a camera hides in it (place, owner, serial number) is gone. A file that waits for the
rest of its form is held for a while: the page can be shown again without asking for the picture twice.
"""

from __future__ import annotations

import secrets
import time
import uuid
from io import BytesIO
from typing import IO, Any

from django.core import signing
from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile, File
from django.core.files.storage import default_storage
from django.http import FileResponse, Http404
from django.utils.http import content_disposition_header
from django.utils.translation import gettext as _

LARGEST_BYTES = 12_000_000
LONGEST_SIDE = 1600
_PICTURES = {"JPEG": b"\xff\xd8\xff", "PNG": b"\x89PNG\r\n\x1a\n", "WEBP": b"RIFF"}
# A JPEG is made small while it is read; the others have to be unpacked whole first.
_MOST_PIXELS = {"JPEG": 100_000_000, "PNG": 25_000_000, "WEBP": 25_000_000}
_HELD = "held"
_HELD_SECONDS = 2 * 24 * 3600
_SALT = "sugarbush.held"
_TYPES = {".jpg": "image/jpeg", ".pdf": "application/pdf"}


def _refuse(sentence: str, code: str) -> ValidationError:
    return ValidationError(sentence, code=code)


def _check_size(file: File[Any] | IO[bytes], size: int | None) -> None:
    if size is None:
        file.seek(0, 2)
        size = file.tell()
    file.seek(0)
    if size == 0:
        raise _refuse(_("This file is empty. Choose another one."), "empty")
    if size > LARGEST_BYTES:
        raise _refuse(
            _("This file is %(size)d MB. At most %(most)d MB can be kept: make it smaller and send it again.")
            % {"size": -(-size // 1_000_000), "most": LARGEST_BYTES // 1_000_000},
            "too_large",
        )


def _magic(file: File[Any] | IO[bytes]) -> bytes:
    file.seek(0)
    start = bytes(file.read(16))
    file.seek(0)
    return start


def kind_of(file: File[Any] | IO[bytes]) -> str:
    """ "JPEG", "PNG", "WEBP", "PDF" or nothing, by the first bytes alone; the name says nothing."""
    start = _magic(file)
    if start.startswith(b"%PDF-"):
        return "PDF"
    for kind, magic in _PICTURES.items():
        if start.startswith(magic) and (kind != "WEBP" or start[8:12] == b"WEBP"):
            return kind
    return ""


def clean_image(file: File[Any]) -> ContentFile[bytes]:
    """The picture drawn anew as a JPEG of at most 1600 pixels a side, without anything hidden, under a random name.

    Raises ValidationError with a sentence: empty, too large, no picture, broken, too many pixels.
    """
    from PIL import Image, ImageOps, UnidentifiedImageError  # costs memory, so only where a picture comes in

    _check_size(file, file.size)
    kind = kind_of(file)
    if kind not in _PICTURES:
        raise _refuse(_("This is not a picture that can be read. Send a photo as JPEG, PNG or WebP."), "not_a_picture")
    try:
        with Image.open(file, formats=[kind]) as picture:
            if picture.width * picture.height > _MOST_PIXELS[kind]:
                raise _refuse(_("This picture has too many pixels. Send a smaller one."), "too_many_pixels")
            picture.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
            turned = ImageOps.exif_transpose(picture)
            turned.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
            if turned.mode in {"RGBA", "LA", "PA", "P"}:
                clear = turned.convert("RGBA")
                flat = Image.new("RGB", clear.size, "white")
                flat.paste(clear, mask=clear.getchannel("A"))
            else:
                flat = turned.convert("RGB")
            out = BytesIO()
            flat.info.clear()
            flat.save(out, "JPEG", quality=82, optimize=True)
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, Image.DecompressionBombError) as broken:
        raise _refuse(_("This picture is damaged or only half there. Send it again."), "broken") from broken
    return ContentFile(out.getvalue(), name=f"{uuid.uuid4().hex}.jpg")


def small_image(file: Any, longest: int) -> bytes:
    """A kept picture as a JPEG of at most `longest` pixels a side, to be carried along. Raises Http404 when gone."""
    from PIL import Image

    try:
        with file.open("rb") as kept, Image.open(kept, formats=["JPEG"]) as picture:
            picture.draft("RGB", (longest, longest))
            picture.thumbnail((longest, longest))
            out = BytesIO()
            picture.convert("RGB").save(out, "JPEG", quality=70, optimize=True)
    except (OSError, ValueError) as gone:
        raise Http404 from gone
    return out.getvalue()


def check_document(file: File[Any]) -> File[Any]:
    """A scan as PDF, JPEG or PNG under a random name; pictures are drawn anew. Raises ValidationError.

    A PDF is kept as it came: it is never opened here, and `send` hands it out as something to save, not to run.
    """
    _check_size(file, file.size)
    kind = kind_of(file)
    if kind in {"JPEG", "PNG"}:
        return clean_image(file)
    if kind != "PDF":
        raise _refuse(_("This is not a scan that can be kept. Send a PDF, or a photo as JPEG or PNG."), "not_a_scan")
    file.seek(max(0, (file.size or 0) - 2048))
    if b"%%EOF" not in file.read():
        raise _refuse(_("This PDF is damaged or only half there. Send it again."), "broken")
    file.seek(0)
    file.name = f"{uuid.uuid4().hex}.pdf"
    return file


def hold(content: File[Any], *, whose: int) -> str:
    """Keep a clean file for two days while its form is still being filled in; the token finds it again."""
    _forget_old()
    name = default_storage.save(f"{_HELD}/{secrets.token_hex(16)}{_ending(content.name)}", content)
    return signing.dumps([name, whose], salt=_SALT)


def held(token: str, *, whose: int) -> ContentFile[bytes] | None:
    """The file held for this person under the token, or None when it is not theirs, too old or used."""
    try:
        name, owner = signing.loads(token, salt=_SALT, max_age=_HELD_SECONDS)
    except (signing.BadSignature, ValueError):
        return None
    if owner != whose or not default_storage.exists(name):
        return None
    with default_storage.open(name) as file:
        return ContentFile(file.read(), name=f"{uuid.uuid4().hex}{_ending(name)}")


def _ending(name: str | None) -> str:
    return ".pdf" if (name or "").endswith(".pdf") else ".jpg"


def let_go(token: str) -> None:
    """Forget a held file once it is saved where it belongs."""
    try:
        name, _owner = signing.loads(token, salt=_SALT)
    except (signing.BadSignature, ValueError):
        return
    default_storage.delete(name)


def _forget_old() -> None:
    if not default_storage.exists(_HELD):
        return
    for name in default_storage.listdir(_HELD)[1]:
        path = f"{_HELD}/{name}"
        if time.time() - default_storage.get_modified_time(path).timestamp() > _HELD_SECONDS:
            default_storage.delete(path)


def send(file: Any, *, name: str) -> FileResponse:
    """Hand out a kept file, never as something the browser may run. The view has asked before who may see it.

    file: a model's FileField value.  name: what it is called on the reader's side, without the ending.
    """
    if not file:
        raise Http404
    ending = "." + file.name.rsplit(".", 1)[-1]
    if ending not in _TYPES:
        raise Http404
    try:
        response = FileResponse(file.open("rb"), content_type=_TYPES[ending])
    except FileNotFoundError:
        raise Http404 from None
    is_picture = ending == ".jpg"
    response["Content-Disposition"] = content_disposition_header(not is_picture, f"{name}{ending}") or "attachment"
    response["X-Content-Type-Options"] = "nosniff"
    response["Cache-Control"] = "private, max-age=3600"
    response["Cross-Origin-Resource-Policy"] = "same-origin"
    return response
