"""Labels for pails and drums: the code to be read from an arm's length, and a square that opens its page."""

from __future__ import annotations

from django.core.paginator import Page
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from sugarbush.kit.forms import SearchForm
from sugarbush.kit.models import Container
from sugarbush.parts.paging import page_of
from sugarbush.parts.qr import opens_only_here, printed_address
from sugarbush.volunteers import access
from sugarbush.volunteers.views_help import SignedInRequest, signed_in

A_PAGE, AT_ONCE = 8, 48


@signed_in
@require_safe
def container_label(request: SignedInRequest, container_id: int) -> HttpResponse:
    """The label of one."""
    access.require(request.user, "kit.see", anywhere=True)
    found = get_object_or_404(Container, pk=container_id)
    return _paper(request, [found], back=found.get_absolute_url())


@signed_in
@require_safe
def container_labels(request: SignedInRequest) -> HttpResponse:
    """The labels of those the list was narrowed to, six pages of paper at a time."""
    access.require(request.user, "kit.see", anywhere=True)
    rows, _asked = SearchForm(request.GET).narrow(Container.objects.order_by("code"))
    page = page_of(rows, request, per_page=AT_ONCE)
    return _paper(request, list(page.object_list), back=reverse("containers"), page=page)


def _paper(
    request: HttpRequest, containers: list[Container], *, back: str, page: Page[Container] | None = None
) -> HttpResponse:
    labels = [{"container": one, "address": printed_address(request, one.get_absolute_url())} for one in containers]
    context = {
        "sheets": [labels[at : at + A_PAGE] for at in range(0, len(labels), A_PAGE)],
        "count": len(labels),
        "back": back,
        "page": page,
        "only_here": opens_only_here(printed_address(request, back)),
    }
    return render(request, "kit/labels.html", context)
