"""A programme that prints, and the programs that read paper back."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from sugarbush.papers import documents
from sugarbush.papers.kinds import Asked, kind_of
from sugarbush.papers.models import PaperSettings
from sugarbush.papers.press import press
from sugarbush.papers.printing import make as make_pdf
from tests import make

READERS = {"pdftotext": "poppler-utils", "pdftoppm": "poppler-utils", "zbarimg": "zbar-tools"}


@pytest.fixture(scope="session")
def readers() -> None:
    """The programs that read a PDF back. Without them the test is left out with a plain line; CI must have them."""
    missing = sorted({package for name, package in READERS.items() if shutil.which(name) is None})
    if missing and os.environ.get("CI"):
        pytest.fail(f"{', '.join(missing)} not found, and CI must read printed papers back.")
    if missing:
        pytest.skip(f"{', '.join(missing)} not found: printed papers are not read back.")


@pytest.fixture(scope="session", autouse=True)
def press_closes() -> Iterator[None]:
    yield
    press.close()


@pytest.fixture
def asked(db: None) -> Callable[..., Asked]:
    """Alice prints in Quillhaven, unless somebody else does."""
    documents.load()

    def ask(paper: str = "a4", *, person: Any = None, units: str = "metric", **choices: Any) -> Asked:
        return Asked(
            person=person or make.alice(),
            programme=make.programme(phone="555-0140"),
            settings=PaperSettings.current(),
            paper=paper,
            units=units,
            base="https://sap.example.org",
            choices=choices,
        )

    return ask


@pytest.fixture
def printed(asked: Callable[..., Asked]) -> Callable[..., bytes]:
    """A document of a kind, as PDF."""

    def print_one(key: str, paper: str = "a4", *, anyway: bool = False, **given: Any) -> bytes:
        return make_pdf(kind_of(key), asked(paper, **given), anyway=anyway)

    return print_one
