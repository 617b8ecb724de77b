"""Long lists, a page at a time. A page number nobody could mean gives the nearest page."""

from __future__ import annotations

from typing import Any

from django.core.paginator import Page, Paginator
from django.db.models import QuerySet
from django.http import HttpRequest

PAGE_KEY = "page"
_MANY_DIGITS = 18  # more than any list has pages; int() itself refuses some thousands of digits


def asked_number(request: HttpRequest, key: str = PAGE_KEY) -> int:
    """The page number in the address. Words count as the first page, absurdly long numbers as a very late one."""
    text = request.GET.get(key, "1").strip()
    digits = text.removeprefix("-")
    if not (digits.isascii() and digits.isdigit()):
        return 1
    if text.startswith("-"):
        return 1
    return int(digits) if len(digits) <= _MANY_DIGITS else 10**_MANY_DIGITS


def page_of(
    rows: QuerySet[Any] | list[Any], request: HttpRequest, per_page: int = 50, key: str = PAGE_KEY
) -> Page[Any]:
    """The page of `rows` the address asks for, or the nearest there is.

    Rows are counted once for each request: on a list of 700,000 trees the count costs more than the page.
    `key` names the part of the address, for a page with two lists.
    """
    paginator = Paginator(rows, per_page)
    number = min(max(1, asked_number(request, key)), paginator.num_pages)
    return paginator.page(number)
