"""Photos of visits: taken in once, after their entry, and shown to those who may see the entry."""

from __future__ import annotations

import hashlib
import logging
import uuid

from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile
from django.db import DatabaseError, transaction
from django.utils.translation import gettext as _

from sugarbush.gathering.models import Collection
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.parts.uploads import clean_image
from sugarbush.phone.models import Photo
from sugarbush.phone.taking import Answer, one_writer
from sugarbush.volunteers.models import Person

log = logging.getLogger(__name__)

MOST_BYTES = 2_000_000  # as it is sent; the phone shrinks it to a tenth of that
MOST_PHOTOS = 4  # of one entry; design choice


def take(*, photo_id: uuid.UUID, entry_id: uuid.UUID, body: bytes, by: Person) -> Answer:
    """Keep a photo of one's own entry, and give the word on it when it is on the disk.

    Sending it again changes nothing; another picture under the same name is refused. Nothing is half-kept: where the
    row cannot be written the file goes too.
    """
    word = Answer(id=str(photo_id), state="saved")
    digest = hashlib.sha256(body).hexdigest()
    try:
        if (earlier := Photo.objects.filter(pk=photo_id).first()) is not None:
            return _again(earlier, entry_id, digest, by)
        _keep(photo_id, entry_id, body, digest, by)
    except Refused as refused:
        word.state, word.reasons = "refused", [str(reason) for reason in refused.reasons]
    except ValidationError as wrong:
        word.state, word.reasons = "refused", list(wrong.messages)
    except (DatabaseError, OSError):
        log.warning("a photo of a phone waits: it could not be written")
        word.state = "later"
    return word


def _again(earlier: Photo, entry_id: uuid.UUID, digest: str, by: Person) -> Answer:
    if (earlier.person_id, earlier.entry_id, earlier.sent_hash) == (by.pk, entry_id, digest):
        return Answer(id=str(earlier.pk), state="before")
    why = _("Another picture was sent under this name already. Take the photo anew.")
    return Answer(id=str(earlier.pk), state="refused", reasons=[why])


def _keep(photo_id: uuid.UUID, entry_id: uuid.UUID, body: bytes, digest: str, by: Person) -> None:
    # Drawn anew before anything is held: it takes longer than all the rest.
    clean = clean_image(ContentFile(body))
    name = str(clean.name)
    photo = Photo(id=photo_id, person=by, sent_hash=digest)
    try:
        with one_writer(), transaction.atomic():
            entry = Collection.objects.select_for_update().filter(pk=entry_id, person=by).first()
            if entry is None:
                raise _refuse("no-entry", _("The entry it belongs to is not among yours."))
            if entry.photos.count() >= MOST_PHOTOS:
                raise _refuse("enough", _("There are %(n)d photos of this entry already.") % {"n": MOST_PHOTOS})
            photo.entry = entry
            photo.file.save(name, clean, save=False)
            photo.save(force_insert=True)
    except BaseException:
        # Also where the disk was full in the midst of it, before the row knew of its file.
        photo.file.storage.delete(photo.file.field.generate_filename(photo, name))
        raise


def _refuse(code: str, why: str) -> Refused:
    return Refused([Reason(code=code, fact=why)])
