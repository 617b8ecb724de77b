"""Receives a large file straight into the data folder: no second copy, no more than a piece in memory."""

from __future__ import annotations

from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.core.files.uploadhandler import FileUploadHandler, StopUpload
from django.http import HttpRequest

from sugarbush.trees.taking.stored import MOST_BYTES, Keeper, Kept, NotKept, too_large

# What a browser sends around the file: the other fields and their headings.
_AROUND_BYTES = 1_000_000
# Up to here the rest of a refused file is read and thrown away, so that the browser shows the answer.
_MOST_DRAINED_BYTES = 2_000_000_000


class KeptUpload(UploadedFile[Any]):
    """A file that is kept already."""

    def __init__(self, kept: Kept, **about: Any) -> None:
        super().__init__(file=None, size=kept.size_bytes, **about)
        self.kept = kept


class IntoDataFolder(FileUploadHandler):
    """The first file of a form, kept as it comes. What stood in the way is in `refusal`."""

    def __init__(self, request: HttpRequest) -> None:
        super().__init__(request)
        self.refusal = ""
        self._keeper: Keeper | None = None
        self._kept: Kept | None = None
        self._announced = 0

    def handle_raw_input(
        self,
        input_data: Any,
        META: dict[str, str],  # noqa: N803  (Django's own name)
        content_length: int,
        boundary: Any,
        encoding: str | None = None,
    ) -> None:
        self._announced = content_length

    def new_file(self, *args: Any, **kwargs: Any) -> None:
        super().new_file(*args, **kwargs)
        try:
            if self._announced > MOST_BYTES + _AROUND_BYTES:
                raise too_large()
            if self._keeper is None:
                self._keeper = Keeper()
        except NotKept as why:
            self._refuse(why)

    def receive_data_chunk(self, raw_data: bytes, start: int) -> None:
        try:
            if self._keeper is not None:
                self._keeper.write(raw_data)
        except NotKept as why:
            self._refuse(why)

    def file_complete(self, file_size: int) -> KeptUpload | None:
        if self._keeper is None or self._kept is not None:
            return None
        try:
            self._kept = self._keeper.finish()
        except NotKept as why:
            self._refuse(why)
            return None
        return KeptUpload(self._kept, name=self.file_name, content_type=self.content_type, charset=self.charset)

    def upload_interrupted(self) -> None:
        self.drop()

    def drop(self) -> None:
        """Leave nothing behind of a file that no run came of."""
        if self._keeper is not None:
            self._keeper.drop()

    def _refuse(self, why: NotKept) -> None:
        self.refusal = why.sentence
        self.drop()
        raise StopUpload(connection_reset=self._announced > _MOST_DRAINED_BYTES) from why
