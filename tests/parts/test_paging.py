"""Long lists: the nearest page, one count, and the rest of the address kept."""

from __future__ import annotations

from typing import Any

import pytest
from django.template import Context, Template
from django.test import RequestFactory

from sugarbush.parts.paging import page_of

pytestmark = pytest.mark.pure


class Trees(list[int]):
    """A list that counts how often it is counted, as a long table would be."""

    counted = 0

    def __len__(self) -> int:
        Trees.counted += 1
        return super().__len__()


def asked(rf: RequestFactory, page: str, rows: Any = range(120)) -> Any:
    return page_of(list(rows), rf.get("/trees/", {"page": page}))


@pytest.mark.parametrize(
    ("page", "shown"),
    [("1", 1), ("2", 2), ("3", 3), ("4", 3), ("0", 1), ("-7", 1), ("", 1), ("last", 1), ("1.5", 1), ("²", 1),
     ("9" * 5000, 3), ("999999999999999999999", 3), (" 2 ", 2)],
)  # fmt: skip
def test_a_page_number_nobody_could_mean_gives_the_nearest_page(rf: RequestFactory, page: str, shown: int) -> None:
    assert asked(rf, page).number == shown


def test_every_row_stands_on_exactly_one_page(rf: RequestFactory) -> None:
    rows = [row for number in (1, 2, 3) for row in asked(rf, str(number))]
    assert rows == list(range(120))


def test_an_empty_list_has_one_page_and_no_ways(rf: RequestFactory) -> None:
    page = asked(rf, "5", [])
    assert page.number == 1
    assert drawn(rf, page).strip() == ""


def test_a_long_list_is_counted_once(rf: RequestFactory) -> None:
    Trees.counted = 0
    page = page_of(Trees(range(700)), rf.get("/trees/", {"page": "99"}))
    drawn(rf, page)
    assert Trees.counted == 1


def drawn(rf: RequestFactory, page: Any, query: str = "") -> str:
    request = rf.get(f"/trees/?{query}")
    return Template("{% load look %}{% paging page %}").render(Context({"page": page, "request": request}))


def test_the_ways_to_other_pages_keep_what_was_asked(rf: RequestFactory) -> None:
    html = drawn(rf, asked(rf, "2"), "page=2&state=tapped&state=ready&street=Larkspur+%26+Heron")
    for number, words in ((1, "Back"), (3, "Next")):
        way = f"?page={number}&amp;state=tapped&amp;state=ready&amp;street=Larkspur+%26+Heron"
        assert way in html, words
    assert "<b>51 to 100</b> of 120" in html
